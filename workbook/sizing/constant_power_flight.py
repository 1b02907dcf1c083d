"""A pack under constant power from full to its landing: minutes by the sag, and the flight in time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from workbook.battery.discharge import (
    PowerRun,
    SagCurve,
    constant_power,
    most_power_w,
    naive_minutes,
    sag_curve,
    voltage_under_power,
)
from workbook.battery.pack import Pack
from workbook.battery.thresholds import Thresholds, landing_ranges, thresholds
from workbook.errors import refuse
from workbook.numbers import FloatArray, range_problems
from workbook.quantities import RESULTS
from workbook.sizing.conditions import flown_state
from workbook.sizing.design import Design
from workbook.working import Step, step


@dataclass(frozen=True, eq=False)
class ConstantPowerFlight:
    """One pack under one load. Currents are the pack's, voltages a cell's.

    Attributes:
        pack, power_w, landing_v, reserve_pct, factor: what was asked; factor is on the resistance.
        run: the discharge of one cell down to the end of the flight.
        curve: the whole sag curve of one cell.
    """

    pack: Pack
    power_w: float
    landing_v: float
    reserve_pct: float
    factor: float
    run: PowerRun
    curve: SagCurve

    @cached_property
    def fresh(self) -> SagCurve:
        """The same with a factor of 1."""
        return sag_curve(
            self.pack.cell.model,
            self.power_w / float(self.pack.cells),
            extra_mohm=float(self.pack.joint_mohm_per_cell),
        )

    @cached_property
    def thresholds(self) -> Thresholds:
        """Alarm, return, land and cut."""
        return thresholds(
            self.pack,
            self.power_w,
            landing_v=self.landing_v,
            land_depth_of_discharge=1.0 - self.reserve_pct / 100.0,
            resistance_factor=self.factor,
        )

    @property
    def flight_min(self) -> float:
        """Minutes by the sag."""
        return float(self.run.time_s) / 60.0

    @property
    def naive_min(self) -> float:
        """Minutes by the rough estimate, Ah / A: rated charge less the reserve over the current at take-off."""
        usable_ah = (1.0 - self.reserve_pct / 100.0) * float(self.pack.capacity_ah)
        return float(naive_minutes(usable_ah, self.start_a))

    @property
    def start_a(self) -> float:
        """Current at take-off."""
        return float(self.run.start_a * self.pack.parallel)

    @property
    def end_a(self) -> float:
        """Current at the end."""
        return float(self.run.end_a * self.pack.parallel)

    @property
    def end_mohm(self) -> float:
        """Resistance of one cell at the end, with its share of the joints."""
        own = self.pack.cell.model.resistance_at(self.run.end_depth_of_discharge) * self.factor
        return float(own + self.pack.joint_mohm_per_cell)

    @property
    def most_w(self) -> float:
        """The most power that the pack could give at the end of the flight."""
        cell_w = most_power_w(self.run.end_open_circuit_v, self.end_mohm)
        return float(cell_w * self.pack.cells)

    @property
    def ends_by(self) -> str:
        """Which end came first."""
        if not self.run.time_s > 0:
            return "no take-off"
        return "landing voltage" if self.run.landed else "reserve"

    @property
    def collapses(self) -> bool:
        """Whether the pack can no longer give the power before it is empty."""
        return bool(np.isfinite(self.curve.collapse_depth_of_discharge))

    @property
    def collapse_ah(self) -> float:
        """Charge taken from the pack when it can no longer give the power; NaN where it always can."""
        return float(self.curve.collapse_depth_of_discharge * self._whole_ah)

    @property
    def reserve_from_ah(self) -> float:
        """Charge taken from the pack when its reserve begins."""
        return (1.0 - self.reserve_pct / 100.0) * self._whole_ah

    @property
    def _whole_ah(self) -> float:
        return float(self.pack.cell.model.capacity_ah * self.pack.parallel)

    def cautions(self) -> tuple[str, ...]:
        """What must be known before flying so, in words; empty where nothing must."""
        cell, end_a = self.pack.cell, float(self.run.end_a)
        found = [str(notice) for notice in self.thresholds.notices]
        if end_a > cell.continuous_a:
            found.append(
                f"each cell carries {end_a:.1f} A at the end; its maker allows "
                f"{cell.continuous_a:g} A continuous. It can overheat, vent and burn."
            )
        return tuple(f"{sentence[0].upper()}{sentence[1:]}" for sentence in found)

    def text(self) -> str:
        """What happens, in words."""
        run = self.run
        if not run.time_s > 0:
            return (
                f"Even full the pack cannot carry {self.power_w:.0f} W above {self.landing_v:g} V "
                "a cell: no take-off."
            )
        sag_v = run.end_open_circuit_v - run.end_v
        lands = (
            f"Lands after {RESULTS['flight_min'].text(self.flight_min)} at {run.end_v:.2f} V loaded, which is "
            f"{run.end_open_circuit_v:.2f} V at rest: {sag_v:.2f} V of sag at "
            f"{run.end_a:.1f} A per cell. The {self.ends_by} came first."
        )
        if not self.collapses:
            return lands
        return (
            f"{lands} After {self.collapse_ah:.1f} Ah no voltage gives "
            f"{self.power_w / self.pack.cells:.1f} W per cell: it collapses."
        )

    def working(self) -> tuple[Step, ...]:
        """The working; where there is no take-off, why not."""
        run, cells = self.run, float(self.pack.cells)
        cell_w, end_v = self.power_w / cells, float(run.end_v)
        rest, ohm = float(run.end_open_circuit_v), self.end_mohm / 1000.0
        power = step("cell_power_w", cell_w, flight=self, cells=cells)
        most = step("most_w", self.most_w, cells=cells, rest=rest, ohm=ohm)
        if not np.isfinite(run.start_v):  # the power cannot be had at any voltage
            return power, most
        return (
            power,
            step("end_v", end_v, rest=rest, cell_w=cell_w, ohm=ohm),
            step("end_a", float(run.end_a), cell_w=cell_w, end_v=end_v),
            step("flight_min", self.flight_min, energy_wh=run.energy_wh * cells, flight=self),
            step("naive_min", self.naive_min, flight=self, share=1 - self.reserve_pct / 100),
            most,
        )


def constant_power_flight(
    pack: Pack,
    power_w: float,
    landing_v: float,
    reserve_pct: float,
    resistance_factor: float = 1.0,
) -> ConstantPowerFlight:
    """Fly a single pack at constant power down to its landing voltage or its reserve.

    Args:
        pack: one pack, S and P plain numbers.
        power_w: of the whole pack, above 0.
        landing_v: cell voltage under load, 2.5 to 4.0.
        reserve_pct: share of the charge that stays, 0 to below 100.
        resistance_factor: on the cells' own resistance (cold, age), above 0.

    Raises:
        InputError: a figure that cannot be.

    Source: `workbook.battery.discharge.constant_power`.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> flight = constant_power_flight(Pack(find_cell("Bittern"), 4, 2), 250.0, 3.1, 15.0)
        >>> flight.flight_min < flight.naive_min, flight.start_a < flight.end_a
        (True, True)
    """
    model, cell_w = pack.cell.model, power_w / float(pack.cells)
    extra_mohm, last = float(pack.joint_mohm_per_cell), 1.0 - reserve_pct / 100.0
    refuse(range_problems(landing_ranges(power_w, landing_v, last)))
    return ConstantPowerFlight(
        pack,
        power_w,
        landing_v,
        reserve_pct,
        resistance_factor,
        constant_power(
            model,
            cell_w,
            landing_v,
            last,
            extra_mohm=extra_mohm,
            resistance_factor=resistance_factor,
        ),
        sag_curve(model, cell_w, extra_mohm=extra_mohm, resistance_factor=resistance_factor),
    )


@dataclass(frozen=True)
class FlightTrace:
    """A cell through steady flight, arrays of shape (K,), from full to the end of the flight.

    Attributes:
        time_min: since take-off.
        cell_v, cell_a: voltage under load and current of one cell.
        rest_v: what the voltage would be at rest.
    """

    time_min: FloatArray
    cell_v: FloatArray
    cell_a: FloatArray
    rest_v: FloatArray


def flight_trace(design: Design[Any], point: Any) -> FlightTrace:
    """The steady flight of a single design in time; its end is that of `point.run`.

    Args:
        design: a single design.
        point: its operating point; with no flight in it (outside the thrust table) all is NaN.
    """
    taken = flown_state(design, point.power_w)
    return power_trace(
        design.pack,
        float(point.power_w),
        resistance_factor=float(taken.resistance_factor),
        capacity_factor=float(taken.capacity_factor),
        end_depth=np.nan_to_num(point.run.end_depth_of_discharge).item(),
    )


def power_trace(
    pack: Pack,
    power_w: float,
    *,
    resistance_factor: float = 1.0,
    capacity_factor: float = 1.0,
    end_depth: float = 1.0,
) -> FlightTrace:
    """A pack under constant power in time, from full to a depth of discharge.

    Args:
        pack: one pack.
        power_w: of the whole pack, above 0.
        resistance_factor: on the cells' own resistance.
        capacity_factor: on their charge.
        end_depth: where it ends, above 0 to 1; NaN from where the power cannot be had any more.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> trace = power_trace(Pack(find_cell("Bittern"), 4, 2), 100.0, end_depth=0.8)
        >>> bool(trace.cell_v[0] > trace.cell_v[-1]), bool((np.diff(trace.time_min) > 0).all())
        (True, True)
    """
    model = pack.cell.model
    depth_of_discharge = np.linspace(0.0, end_depth, 80)
    rest_v = model.open_circuit_at(depth_of_discharge)
    own_mohm = model.resistance_at(depth_of_discharge) * resistance_factor
    cell_w = power_w / float(pack.cells)
    cell_v = voltage_under_power(rest_v, own_mohm + pack.joint_mohm_per_cell, cell_w)
    charge_ah = model.capacity_ah * capacity_factor
    hours_per_depth = charge_ah * cell_v / cell_w
    steps = np.diff(depth_of_discharge) * (hours_per_depth[1:] + hours_per_depth[:-1]) / 2.0
    hours = np.concatenate([[0.0], np.cumsum(steps)])
    return FlightTrace(60.0 * hours, cell_v, np.asarray(cell_w / cell_v), rest_v)
