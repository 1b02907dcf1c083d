"""Reading a datasheet: voltages off the curves at one charge, resistance, and a curve at one's own current."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from workbook.battery.cell import Cell
from workbook.battery.discharge import DischargeRun, constant_current
from workbook.battery.model import CellModel
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.working import Step


@dataclass(frozen=True, eq=False)
class Reading:
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


def read_at(cell: Cell, charge_ah: float) -> Reading:
    """Read every discharge curve of a cell at one charge, and the resistance from two of them.

    Args:
        cell: with two curves or more that reach the charge.
        charge_ah: delivered charge, 0 or more.

    Raises:
        InputError: fewer than two curves reach it.

    Source: R = (V1 - V2) / (I2 - I1) at equal charge, Ohm's law; between points of a curve a
        monotone cubic (Fritsch and Carlson, SIAM J. Numer. Anal. 17, 238, 1980).

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> reading = read_at(find_cell("Bittern 50E"), 2.5)
        >>> reading.voltage_v.round(2), round(reading.resistance_mohm, 2)
        (array([3.69, 3.65, 3.58, 3.44]), 27.78)
    """
    reached = [
        c
        for c in sorted(cell.curves, key=lambda c: c.current_a)
        if c.capacity_ah[0] <= charge_ah <= c.capacity_ah[-1]
    ]
    if len(reached) < 2:
        told = f"{len(reached)} discharge curves reach {charge_ah:.2f} Ah; two are needed for a resistance."
        raise InputError(Problem(told, cell.name))
    volts = np.array(
        [float(PchipInterpolator(c.capacity_ah, c.voltage_v)(charge_ah)) for c in reached]
    )
    amps = np.array([c.current_a for c in reached])
    ohm = float((volts[0] - volts[-1]) / (amps[-1] - amps[0]))
    return Reading(charge_ah, amps, volts, 1000.0 * ohm, float(volts[0] + amps[0] * ohm))


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


def own_curve(cell: Cell, current_a: float, landing_v: float, points: int = 120) -> OwnCurve:
    """A cell at a current that its datasheet need not show, down to a landing voltage.

    Args:
        cell: the cell.
        current_a: above 0.
        landing_v: voltage under that current at which to stop.
        points: of the curve.

    Source: V = U - I R with U and R identified from the datasheet's curves.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> curve = own_curve(find_cell("Bittern 50E"), 5.0, 2.5)
        >>> print(
        ...     curve.run.charge_ah.round(2), curve.voltage_v[-1].round(2), round(curve.mean_v, 2)
        ... )
        4.95 2.5 3.57
    """
    model = cell.model
    run = constant_current(model, current_a, landing_v)
    charge = np.linspace(0.0, float(run.charge_ah), points)
    depth = charge / model.capacity_ah
    volts = model.open_circuit_at(depth) - current_a * model.resistance_at(depth) / 1000.0
    label_wh = cell.nominal_v * cell.rated_capacity_ah
    with np.errstate(invalid="ignore"):
        mean_v = float(np.divide(run.energy_wh, run.charge_ah))
    return OwnCurve(
        current_a, landing_v, charge, volts, run,
        float(run.charge_ah) / cell.rated_capacity_ah, float(run.energy_wh) / label_wh, mean_v,
    )  # fmt: skip


def model_at(model: CellModel, charge_ah: float) -> tuple[float, float]:
    """Open-circuit voltage and resistance in mohm that the model has at a delivered charge."""
    depth = charge_ah / model.capacity_ah
    return float(model.open_circuit_at(depth)), float(model.resistance_at(depth))


def reading_steps(cell: Cell, reading: Reading, curve: OwnCurve) -> tuple[Step, ...]:
    """The working of a reading and of a curve at one's own current."""
    amps, volts, run = reading.current_a, reading.voltage_v, curve.run
    rest_v, r_mohm = model_at(cell.model, reading.charge_ah)
    charge, energy = float(run.charge_ah), float(run.energy_wh)
    return (
        Step(
            "resistance_two_curves_mohm", f"resistance at {reading.charge_ah:.2f} Ah, from two curves",
            "(voltage at the lower current - at the higher) / (higher current - lower)",
            f"({volts[0]:.3f} V - {volts[-1]:.3f} V) / ({amps[-1]:g} A - {amps[0]:g} A)",
            reading.resistance_mohm, "mohm", "Ohm's law at equal charge, the cell's datasheet",
        ),
        Step(
            "resistance_mohm", "resistance there, from all curves", "slope of the line through all curves' points",
            f"{len(amps)} points, {amps[0]:g} to {amps[-1]:g} A", r_mohm, "mohm", "least squares",
        ),
        Step(
            "own_v", f"voltage there at {curve.current_a:g} A", "voltage at rest - current x resistance",
            f"{rest_v:.3f} V - {curve.current_a:g} A x {r_mohm:.1f} mohm",
            rest_v - curve.current_a * r_mohm / 1000.0, "V", "Ohm's law",
        ),
        Step(
            "charge_ah", "charge down to the landing voltage", "where the voltage under load meets the landing voltage",
            f"{curve.landing_v:g} V at {curve.current_a:g} A", charge, "Ah", "V = U - I R",
        ),
        Step(
            "energy_wh", "energy down to it", "charge x mean voltage (the area under the curve)",
            f"{charge:.3f} Ah x {curve.mean_v:.3f} V", energy, "Wh", "trapezoid rule",
        ),
        Step(
            "of_label_energy_pct", "of what the label promises", "energy / (nominal voltage x rated capacity)",
            f"100 x {energy:.2f} Wh / ({cell.nominal_v:g} V x {cell.rated_capacity_ah:g} Ah)",
            100.0 * curve.of_label_energy, "%", "arithmetic",
        ),
    )  # fmt: skip
