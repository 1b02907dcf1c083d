"""A plan laid over a flight: hover power and resistance are moved until the plan meets what was logged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workbook.errors import InputError
from workbook.flightlog.log import FlightLog
from workbook.flightlog.measures import STEADY, steady_rows
from workbook.flightlog.phases import Phases
from workbook.numbers import FloatArray, rounded
from workbook.quantities import RESULTS
from workbook.sizing.conditions import flown_state
from workbook.sizing.constant_power_flight import FlightTrace, power_trace
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.working import Step, step

MEAN_S = 10.0
"""The flight is looked at in means of this: gusts and corrections even out."""
LEAST_PARTS = 12
MEETS_MV, MEETS_PCT = 15.0, 2.0
"""So near is near enough: of a cell's voltage, of the power. The resolution of a careful log; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Overlay:
    """A plan beside a flight. Voltages are of the pack.

    Attributes:
        design: of the craft that was flown.
        power_w, resistance_factor: of the plan as it was moved; the factor is on the cells' own resistance.
        plan: the plan in time, of one cell.
        time_min, flown_v, flown_a: the flight in means of ten seconds, since take-off.
        steady: which of them are of steady flight.
        steady_w: mean power of the pack in steady flight.
        charge_ah: taken by each of those times.
    """

    design: Design[Any]
    power_w: float
    resistance_factor: float
    plan: FlightTrace
    time_min: FloatArray
    flown_v: FloatArray
    flown_a: FloatArray
    steady: NDArray[np.bool_]
    steady_w: float
    charge_ah: FloatArray

    @property
    def series(self) -> float:
        """Cells in series."""
        return float(self.design.pack.series)

    @property
    def plan_v(self) -> FloatArray:
        """The plan's pack voltage at the times of the flight; NaN after the plan's end."""
        plan_min, cell_v = self.plan.time_min, self.plan.cell_v
        return np.asarray(self.series * np.interp(self.time_min, plan_min, cell_v, right=np.nan))

    @property
    def off_mv(self) -> tuple[float, float]:
        """Plan less flight, of a cell, in the first and in the last third of steady flight."""
        off = 1000.0 * (self.plan_v - self.flown_v)[self.steady] / self.series
        third = max(len(off) // 3, 1)
        return float(np.mean(off[:third])), float(np.mean(off[-third:]))

    @property
    def power_off_pct(self) -> float:
        """Plan less flight, of the power in steady flight."""
        return 100.0 * (self.power_w / self.steady_w - 1.0)

    @property
    def near_in_power(self) -> bool:
        """Whether the plan's power is that of the flight."""
        return abs(self.power_off_pct) <= MEETS_PCT

    @property
    def meets(self) -> bool:
        """Whether the plan meets the flight, in power and from first to last in voltage."""
        return self.near_in_power and all(abs(off) <= MEETS_MV for off in self.off_mv)

    def text(self) -> str:
        """How far it is off, and what that points to."""
        early, late = self.off_mv
        if not np.isfinite(late):
            return "The plan's pack is empty, or collapses, before the flight ends: less power, or less resistance."
        if self.meets:
            return (
                f"The plan meets the flight: {self.power_w:.0f} W against "
                f"{RESULTS['flown_power_w'].text(self.steady_w)} flown, and within "
                f"{rounded(max(abs(early), abs(late)), 0, 'up'):.0f} mV per cell from first to last."
            )
        if not self.near_in_power:
            more = "more" if self.power_off_pct > 0 else "less"
            return f"The plan takes {abs(self.power_off_pct):.0f} % {more} power than was flown. Set the power first."
        where = "above" if early + late > 0 else "below"
        return (
            f"The plan lies {where} the flight: {early:+.0f} mV per cell early, {late:+.0f} mV late. At the same power "
            f"that is resistance: {'more' if where == 'above' else 'less'} of it."
        )

    def working(self) -> tuple[Step, ...]:
        """From the log's own figures to power and resistance, in the middle of steady flight."""
        rows = np.flatnonzero(self.steady)
        middle = int(rows[len(rows) // 2])
        pack, model = self.design.pack, self.design.pack.cell.model
        taken_ah, volts = float(self.charge_ah[middle]), float(self.flown_v[middle])
        amps = float(self.flown_a[middle])
        depth = taken_ah / (float(model.capacity_ah * pack.parallel) * self.capacity_factor)
        rest_v = self.series * float(model.open_circuit_at(depth))
        mohm = 1000.0 * (rest_v - volts) / amps
        return (
            step("flown_power_w", self.steady_w, parts=int(self.steady.sum()), mean_s=MEAN_S),
            step(
                "rest_pack_v", rest_v, flight=self, cell_v=rest_v / self.series, taken_ah=taken_ah
            ),
            step("flown_pack_mohm", mohm, rest_v=rest_v, volts=volts, amps=amps),
        )

    @property
    def capacity_factor(self) -> float:
        """On the charge of the pack, by its temperature and age as the design states them."""
        return float(flown_state(self.design, self.power_w).capacity_factor)


def lay_over(
    design: Design[Any],
    log: FlightLog,
    phases: Phases,
    power_w: float,
    resistance_factor: float = 1.0,
) -> Overlay:
    """Lay a plan at constant power over a flight; both begin at take-off, with a full pack.

    Args:
        design: of the craft that was flown.
        log: of the flight, as read.
        phases: of the flight, as found or moved.
        power_w: of the plan, above 0.
        resistance_factor: on the cells' own resistance.

    Raises:
        InputError: less than two minutes of steady flight with voltage and current.

    Source: the plan is `workbook.sizing.constant_power_flight.power_trace`.
    """
    start_s, end_s = phases.flight
    air = log.between(start_s, end_s)
    part = ((air.time_s - start_s) // MEAN_S).astype(int)
    known = np.isfinite(air.voltage_v) & np.isfinite(air.current_a)
    still = steady_rows(air, phases, craft_type_of(design).steady) & phases.rows(
        air.time_s, *STEADY
    )
    count = int(part[-1]) + 1 if len(part) else 0
    rows = np.bincount(part[known], minlength=count)
    full = rows > 0

    def mean(values: FloatArray) -> FloatArray:
        total = np.bincount(part[known], weights=values[known], minlength=count)
        return np.asarray(total[full] / rows[full])

    time_min = mean((air.time_s - start_s) / 60.0) if full.any() else np.empty(0)
    steady = mean(still.astype(float)) > 0.99 if full.any() else np.zeros(0, bool)
    if steady.sum() < LEAST_PARTS:
        message = f"less than {LEAST_PARTS * MEAN_S:.0f} s of steady flight with voltage and current are in it."
        raise InputError(message, log.name)
    flown_a = mean(air.current_a)
    taken_ah = np.concatenate([[0.0], np.cumsum(flown_a[:-1] * np.diff(time_min) / 60.0)])
    taken = flown_state(design, power_w)
    trace = power_trace(
        design.pack,
        power_w,
        resistance_factor=resistance_factor,
        capacity_factor=float(taken.capacity_factor),
    )
    return Overlay(
        design=design,
        power_w=power_w,
        resistance_factor=resistance_factor,
        plan=trace,
        time_min=time_min,
        flown_v=mean(air.voltage_v),
        flown_a=flown_a,
        steady=steady,
        steady_w=float(np.mean(mean(air.power_w)[steady])),
        charge_ah=taken_ah,
    )
