"""A cylindrical cell as its datasheet states it, and its discharge curves read, those of cold cells too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from workbook.battery.derating import REFERENCE_C, TemperatureFit
from workbook.battery.discharge import DischargeRun, constant_current
from workbook.battery.model import (
    CellModel,
    CurveFit,
    DischargeCurve,
    identify_curves,
    published_shape,
)
from workbook.errors import InputError
from workbook.fitting import least_squares
from workbook.numbers import FloatArray
from workbook.working import Step, step

HARD_FLOOR_V = 2.8
"""Loaded voltage of a cell under which nothing is planned, set or flown. Common practice, no source."""
OVERCHARGE_V = 0.05
"""Above its charge voltage, where a cell at rest is overcharged: chargers end within it. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class FitReport:
    """How well a cell's model gives back the curves that it was made from.

    Attributes:
        model: the model.
        curves: one entry a datasheet curve, lowest current first, room temperature before the others.
        held_out_rms_mv: how far a model made without the highest curve lies from that curve: what
            reaching beyond the curves costs. NaN with fewer than three curves.
    """

    model: CellModel
    curves: tuple[CurveFit, ...]
    held_out_rms_mv: float


@dataclass(frozen=True, eq=False)
class CurveReading:
    """The curves of a datasheet read at one charge.

    Attributes:
        charge_ah: delivered charge at which they were read.
        current_a, voltage_v: current of each curve that reaches it, lowest first, and its voltage there.
        resistance_mohm: from the lowest and the highest of them: less voltage over more current.
        rest_v: the voltage at no current on the straight line through those two.
    """

    charge_ah: float
    current_a: FloatArray
    voltage_v: FloatArray
    resistance_mohm: float
    rest_v: float


@dataclass(frozen=True, eq=False)
class OwnCurve:
    """A discharge at one's own current down to one's own landing voltage.

    Attributes:
        current_a, landing_v: asked for.
        charge_ah, voltage_v: the curve, shape (K,), ending at the landing voltage.
        run: what it delivers.
        of_rated: charge over the rated capacity.
        of_label_energy: energy over nominal voltage x rated capacity.
        mean_v: energy over charge.
    """

    current_a: float
    landing_v: float
    charge_ah: FloatArray
    voltage_v: FloatArray
    run: DischargeRun
    of_rated: float
    of_label_energy: float
    mean_v: float


@dataclass(frozen=True)
class Cell:
    """What the datasheet gives for one cell. Limits are for one cell; the maker's sheet takes precedence.

    Attributes:
        name: invented name, or the builder's own.
        cell_format: "18650", "21700", or "pouch" for the pack flown today.
        kind: "energy" or "power" in the trade's use, or "lithium-polymer".
        rated_capacity_ah: the maker's minimum at 0.2 It to the cutoff (IEC 61960-3).
        typical_capacity_ah: what a fresh cell typically gives.
        charge_v: full-charge voltage; cutoff_v: the datasheet's end-of-discharge voltage.
        burst_s: how long the burst current may last.
        resistance_mohm: the stated direct-current resistance (used when the curves cannot give it).
        curves: the discharge family, lowest current first, at any temperature; may be empty.
        max_temperature_c: highest cell surface temperature in discharge.
    """

    name: str
    cell_format: str
    kind: str
    mass_g: float
    diameter_mm: float
    height_mm: float
    rated_capacity_ah: float
    typical_capacity_ah: float
    nominal_v: float
    charge_v: float
    cutoff_v: float
    continuous_a: float
    burst_a: float
    burst_s: float
    standard_charge_a: float
    max_charge_a: float
    resistance_mohm: float
    curves: tuple[DischargeCurve, ...] = ()
    min_charge_temperature_c: float = 0.0
    max_charge_temperature_c: float = 45.0
    min_temperature_c: float = -20.0
    max_temperature_c: float = 60.0
    price: float | None = None
    note: str = ""

    @property
    def floor_v(self) -> float:
        """Loaded voltage under which nothing is planned, set or flown: the cutoff, but never under 2.8 V."""
        return max(HARD_FLOOR_V, self.cutoff_v)

    @property
    def room_curves(self) -> tuple[DischargeCurve, ...]:
        """The curves taken at room temperature, lowest current first."""
        room = (curve for curve in self.curves if curve.at_room_temperature)
        return tuple(sorted(room, key=lambda c: c.current_a))

    @cached_property
    def datasheet_model(self) -> CellModel:
        """Open-circuit voltage and resistance over depth of discharge, as the curves have them.

        Its capacity is that of the cell whose curves the maker printed: a typical one. Curves at other
        temperatures say what cold does to it. Without curves a published shape is used, with a caution.

        Raises:
            InputError: curves that cannot be read, or a resistance that comes out as zero or less.
        """
        if not self.curves:
            return published_shape(
                self.typical_capacity_ah, self.resistance_mohm, self.charge_v, self.cutoff_v
            )
        model = identify_curves(self.room_curves, self.resistance_mohm, self.charge_v)
        model = with_temperatures(model, self.curves)
        beyond = self.continuous_a > 1.5 * model.highest_a
        if model.basis != "curves" or model.caution or not beyond:
            return model
        caution = (
            f"The datasheet curves end at {model.highest_a:g} A and the cell's continuous current "
            f"is {self.continuous_a:g} A; above {model.highest_a:g} A the model reaches beyond them."
        )
        return replace(model, caution=caution)

    @cached_property
    def model(self) -> CellModel:
        """The cell that every plan counts on: the datasheet's, over the rated capacity.

        Curves are of a typical cell, and the rated capacity is the least that the maker answers for.
        So the charge of the curves is scaled by rated over typical capacity (or over the charge at
        which the curves end, where that is more); voltage and resistance over depth stay.

        Raises:
            InputError: as `datasheet_model`.

        Source: IEC 61960-3: rated capacity, the minimum declared by the maker at 0.2 It.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> cell = find_cell("Bittern")
            >>> cell.datasheet_model.capacity_ah, cell.model.capacity_ah
            (5.17, 5.04)
        """
        typical = self.datasheet_model
        share = self.rated_capacity_ah / max(self.typical_capacity_ah, typical.capacity_ah)
        return replace(typical, capacity_ah=typical.capacity_ah * min(share, 1.0))

    def as_measured(
        self, capacity_ah: float | None = None, resistance_mohm: float | None = None
    ) -> Cell:
        """The cell with the charge and the resistance of those in hand, in place of its datasheet's.

        Args:
            capacity_ah: measured as the datasheet rates it, above 0; the rated one where left out.
            resistance_mohm: by direct current, at half charge and room temperature, above 0; that of the
                curves where left out.

        Returns:
            A cell whose curves lie lower by the current times the resistance that is new, so that what they
            say of voltage at rest stays.

        Raises:
            InputError: a resistance that leaves no voltage at the current of one of the curves.

        Source: V = U - I R at every depth.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> worn = find_cell("Bittern").as_measured(4.8, 45.0)
            >>> worn.model.capacity_ah, float(worn.model.resistance_at(0.5).round(1))
            (4.8, 45.0)
        """
        changed = self
        if resistance_mohm is not None:
            model = self.datasheet_model
            more = resistance_mohm / float(model.resistance_at(0.5)) - 1.0
            curves = tuple(_with_resistance(curve, model, more) for curve in self.curves)
            without_voltage = [curve.current_a for curve in curves if min(curve.voltage_v) <= 0.0]
            if without_voltage:
                message = (
                    f"{resistance_mohm:g} mΩ in one cell leaves no voltage at {min(without_voltage):g} A, at which its datasheet "
                    "has a curve; that of one cell, in milliohm and as measured by direct current, is needed."
                )
                raise InputError(message)
            changed = replace(changed, curves=curves, resistance_mohm=resistance_mohm)
        if capacity_ah is not None:
            typical_ah = max(capacity_ah, self.typical_capacity_ah)
            changed = replace(
                changed, rated_capacity_ah=capacity_ah, typical_capacity_ah=typical_ah
            )
        return changed

    def fit_report(self) -> FitReport:
        """The model beside the curves that it was made from; without curves the report has none.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> report = find_cell("Bittern").fit_report()
            >>> (
            ...     len(report.curves),
            ...     report.model.residual_rms_mv < 5.0,
            ...     report.held_out_rms_mv < 20.0,
            ... )
            (4, True, True)
        """
        room = self.room_curves
        held_out = np.nan
        if len(room) > 2:
            without = identify_curves(room[:-1], charge_v=self.charge_v)
            held_out = without.fit(room[-1]).rms_mv
        away = [c for c in self.curves if not c.at_room_temperature]
        away.sort(key=lambda c: (-c.temperature_c, c.current_a))
        model = self.datasheet_model
        return FitReport(model, tuple(model.fit(c) for c in (*room, *away)), held_out)

    def read_at(self, charge_ah: float) -> CurveReading:
        """Every discharge curve at room temperature read at one charge, and the resistance from two of them.

        Args:
            charge_ah: delivered charge, 0 or more.

        Raises:
            InputError: fewer than two curves reach it.

        Source: R = (V1 - V2) / (I2 - I1) at equal charge, Ohm's law; between points of a curve a
            monotone cubic (Fritsch and Carlson, SIAM J. Numer. Anal. 17, 238, 1980).

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> reading = find_cell("Bittern").read_at(2.5)
            >>> reading.voltage_v.round(2), round(reading.resistance_mohm, 2)
            (array([3.7 , 3.67, 3.61, 3.48]), 30.0)
        """
        reached = [
            c for c in self.room_curves if c.capacity_ah[0] <= charge_ah <= c.capacity_ah[-1]
        ]
        if len(reached) < 2:
            few = f"{len(reached)} discharge curves reach {charge_ah:.2f} Ah; two are needed for a resistance."
            raise InputError(few, self.name)
        amps = [c.current_a for c in reached]
        volts = [c.joined(charge_ah).item() for c in reached]
        ohm = (volts[0] - volts[-1]) / (amps[-1] - amps[0])
        rest_v = volts[0] + amps[0] * ohm
        return CurveReading(charge_ah, np.array(amps), np.array(volts), 1000.0 * ohm, rest_v)

    def curve_at(self, current_a: float, landing_v: float) -> OwnCurve:
        """The discharge at a current that the datasheet need not show, down to a landing voltage.

        Args:
            current_a: above 0.
            landing_v: voltage under that current at which to stop.

        Source: V = U - I R with U and R identified from the datasheet's curves.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> curve = find_cell("Bittern").curve_at(5.0, 2.5)
            >>> print(
            ...     curve.run.charge_ah.round(2),
            ...     curve.voltage_v[-1].round(2),
            ...     round(curve.mean_v, 2),
            ... )
            5.12 2.5 3.56
        """
        run = constant_current(self.datasheet_model, current_a, landing_v)
        charge_ah, energy_wh = run.charge_ah.item(), run.energy_wh.item()
        charge = np.linspace(0.0, charge_ah, CURVE_POINTS)
        depth = charge / self.datasheet_model.capacity_ah
        drop_v = current_a * self.datasheet_model.resistance_at(depth) / 1000.0
        return OwnCurve(
            current_a,
            landing_v,
            charge,
            self.datasheet_model.open_circuit_at(depth) - drop_v,
            run,
            charge_ah / self.rated_capacity_ah,
            energy_wh / (self.nominal_v * self.rated_capacity_ah),
            energy_wh / charge_ah if charge_ah else np.nan,
        )

    def model_at(self, charge_ah: float) -> tuple[float, float]:
        """Open-circuit voltage and resistance in mohm that the model has at a delivered charge."""
        depth = charge_ah / self.datasheet_model.capacity_ah
        return (
            self.datasheet_model.open_circuit_at(depth).item(),
            self.datasheet_model.resistance_at(depth).item(),
        )

    def reading_steps(self, reading: CurveReading, curve: OwnCurve) -> tuple[Step, ...]:
        """The working of a reading and of a curve at one's own current."""
        amps, volts, run = reading.current_a, reading.voltage_v, curve.run
        rest_v, r_mohm = self.model_at(reading.charge_ah)
        own_a, rated_ah = curve.current_a, self.rated_capacity_ah
        return (
            step(
                "resistance_two_curves_mohm",
                reading.resistance_mohm,
                reading=reading,
                lower_v=volts[0],
                higher_v=volts[-1],
                higher_a=amps[-1],
                lower_a=amps[0],
            ),
            step("curves_mohm", r_mohm, points=len(amps), lower_a=amps[0], higher_a=amps[-1]),
            step(
                "own_v", rest_v - own_a * r_mohm / 1000.0, own_a=own_a, rest_v=rest_v, r_mohm=r_mohm
            ),
            step("charge_ah", run.charge_ah.item(), curve=curve, own_a=own_a),
            step("energy_wh", run.energy_wh.item(), run=run, curve=curve),
            step(
                "of_label_energy_pct",
                100.0 * curve.of_label_energy,
                run=run,
                cell=self,
                rated_ah=rated_ah,
            ),
        )


def _with_resistance(curve: DischargeCurve, model: CellModel, more: float) -> DischargeCurve:
    """A curve as a cell draws it whose resistance is larger by that share."""
    charge = np.asarray(curve.capacity_ah)
    own = 1.0 if curve.at_room_temperature else model.resistance_factor_at(curve.temperature_c)
    more_mohm = more * own * model.resistance_at(np.minimum(charge / model.capacity_ah, 1.0))
    volts = np.asarray(curve.voltage_v) - curve.current_a * more_mohm / 1000.0
    return replace(curve, voltage_v=tuple(volts.tolist()))


CURVE_POINTS = 120
"""Of a drawn discharge curve."""


RESISTANCE_RANGE = (0.2, 50.0)
CHARGE_RANGE = (0.05, 1.1)
"""Factors are looked for within these."""

PAST_EMPTY_V = 3.0
"""Volts that the model falls for each capacity past its last node, so that a fit can turn back from there."""


def with_temperatures(model: CellModel, curves: Sequence[DischargeCurve]) -> CellModel:
    """A model made at room temperature, with what curves at other temperatures say of it.

    At each of those temperatures one factor on the resistance and, for each curve, one on the charge are
    fitted, so that the model gives the curves back.

    Args:
        model: made from the curves at room temperature.
        curves: all of them; those at room temperature are left out here.

    Source: least squares over delivered charge.

    Example:
        >>> depth = np.linspace(0.0, 1.0, 11)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(11, 30.0), 5.0, "curves")
        >>> cold = DischargeCurve(5.0, (0.0, 2.0, 4.0), (3.9, 3.3667, 2.8333), 0.0)
        >>> law = with_temperatures(model, [cold]).temperature
        >>> print(law.resistance_factor.round(2), law.capacity_factor[0].round(2))
        [2. 1.] [0.9]
    """
    away = [curve for curve in curves if not curve.at_room_temperature]
    if not away:
        return model
    temperatures = sorted({curve.temperature_c for curve in away})
    amps = np.array(sorted({curve.current_a for curve in away}))
    found: list[tuple[float, float, FloatArray, float, float]] = []
    for temperature_c in temperatures:
        here = sorted(
            (c for c in away if c.temperature_c == temperature_c), key=lambda c: c.current_a
        )
        of_resistance, of_charge, missed_mv = _fit_factors(model, here)
        # more current never gives more charge
        shared = np.minimum.accumulate(np.interp(amps, [c.current_a for c in here], of_charge))
        found.append((temperature_c, of_resistance, shared, here[-1].current_a, missed_mv))
    highest_a = model.highest_a if np.isfinite(model.highest_a) else float(amps[-1])
    found.append((REFERENCE_C, 1.0, np.ones(amps.size), highest_a, 0.0))
    found.sort(key=lambda row: row[0])
    at_c, factor, charge, highest, miss_mv = (np.array(part) for part in zip(*found, strict=True))
    law = TemperatureFit(at_c, factor, amps, charge, highest, miss_mv)
    return replace(model, temperature=law)


def _fit_factors(model: CellModel, curves: list[DischargeCurve]) -> tuple[float, FloatArray, float]:
    """Factor on resistance, one on charge for each curve, and how far they miss in mV, root mean square."""

    def misses(factors: FloatArray) -> FloatArray:
        out = []
        for curve, of_charge in zip(curves, factors[1:], strict=True):
            charge, volts = np.array(curve.capacity_ah), np.array(curve.voltage_v)
            depth = charge / (model.capacity_ah * of_charge)
            drop_v = curve.current_a * factors[0] * model.resistance_at(depth) / 1000.0
            past = PAST_EMPTY_V * np.maximum(depth - 1.0, 0.0)
            missed = volts - (model.open_circuit_at(depth) - drop_v - past)
            out.append(missed * np.sqrt(np.gradient(charge) / (charge[-1] - charge[0])))
        return np.concatenate(out)

    low, high = (
        [r, *[q] * len(curves)] for r, q in zip(RESISTANCE_RANGE, CHARGE_RANGE, strict=True)
    )
    found = least_squares(misses, [1.5, *[0.98] * len(curves)], low, high)
    miss_mv = 1000.0 * float(np.sqrt(np.sum(misses(found) ** 2) / len(curves)))
    return float(found[0]), found[1:], miss_mv
