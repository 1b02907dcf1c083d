"""Flights with known answers: the project's own stepped cell, and sensors with noise of an independent generator.

All invented. The pack is flown by power, phase by phase, in air that moves; what a logger would write of it is
made from voltage and current by gain, offset, noise and steps.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from tests.reference.simulate import RcBranch, Segment, Until, simulate
from workbook.flightlog.log import FlightLog
from workbook.flightlog.pack_fit import CURVE_MV, FULL_MV
from workbook.numbers import FloatArray
from workbook.sizing.budget_lines import apply
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.origins import lines_of

KNOTS = np.array([0.0, 0.04, *np.arange(0.14, 1.05, 0.1)])
"""Depths at which a cell may differ from its datasheet; near full it differs most."""
SEGMENT_S = 2.0
"""Power is held for so long."""
GROUND_S, TAKE_OFF_S, CLIMB_S, DESCENT_S, AFTER_S = 40.0, 4.0, 20.0, 12.0, 30.0


@dataclass(frozen=True)
class Truth:
    """What a simulated flight really was; one figure a seed, shape (n,).

    Attributes:
        steady_w, avionics_w: power in hover and at rest.
        resistance_factor, capacity_factor: of the cells over the design's.
        hover_s: time in hover.
        delayed_share, time_constant_s: of the cells' resistance.
        curve_off_v: of the cell's voltage from its datasheet, at `KNOTS`, shape (knots, n); none where left out.
        wind_pct, wind_s: standard deviation of power in the air and how long a gust lasts.
    """

    steady_w: FloatArray
    avionics_w: FloatArray
    resistance_factor: FloatArray
    capacity_factor: FloatArray
    hover_s: float = 900.0
    delayed_share: float = 0.3
    time_constant_s: float = 12.0
    curve_off_v: FloatArray | None = None
    wind_pct: float = 5.0
    wind_s: float = 4.0


@dataclass(frozen=True)
class Sensor:
    """What a logger makes of voltage and current; one figure a seed, or one for all."""

    rate_hz: float = 5.0
    current_gain: FloatArray | float = 1.0
    voltage_gain: FloatArray | float = 1.0
    offset_a: FloatArray | float = 0.0
    noise_a: float = 0.3
    noise_v: float = 0.03
    step_a: float = 0.1
    step_v: float = 0.01
    gaps: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Flown:
    """A simulated flight of each seed, and what was true of it."""

    truth: Truth
    time_s: FloatArray
    voltage_v: FloatArray = field(repr=False)
    current_a: FloatArray = field(repr=False)
    air: tuple[float, float]
    energy_wh: FloatArray
    charge_ah: FloatArray
    hover_w: FloatArray
    depth: FloatArray

    def log(self, seed: int, sensor: Sensor, rng: np.random.Generator) -> FlightLog:
        """What a logger writes of one seed."""
        time_s = np.arange(0.0, self.time_s[-1], 1.0 / sensor.rate_hz)
        for start, end in sensor.gaps:
            time_s = time_s[(time_s < start) | (time_s > end)]
        gain_a, gain_v, offset_a = (
            np.ravel(figure)[seed % np.size(figure)]
            for figure in (sensor.current_gain, sensor.voltage_gain, sensor.offset_a)
        )
        amps = gain_a * np.interp(time_s, self.time_s, self.current_a[:, seed]) + offset_a
        volts = gain_v * np.interp(time_s, self.time_s, self.voltage_v[:, seed])
        amps += rng.normal(0.0, sensor.noise_a, len(time_s))
        volts += rng.normal(0.0, sensor.noise_v, len(time_s))
        return FlightLog(
            "simulated",
            time_s,
            np.round(volts / sensor.step_v) * sensor.step_v,
            np.round(amps / sensor.step_a) * sensor.step_a,
        )


def fly(design: Design[Any], truth: Truth, rng: np.random.Generator) -> Flown:
    """Fly a design's pack as it truly is, all seeds at once."""
    pack, seeds = design.pack, len(truth.steady_w)
    plan: list[tuple[float, FloatArray]] = [(GROUND_S, truth.avionics_w)]
    air: list[FloatArray] = []
    hover: list[FloatArray] = []
    gust = np.zeros(seeds)
    keep = np.exp(-SEGMENT_S / truth.wind_s)
    for duration, share in (
        (TAKE_OFF_S, 1.7),
        (CLIMB_S, 1.35),
        (0.4 * truth.hover_s, 1.0),
        (CLIMB_S, 1.35),
        (0.3 * truth.hover_s, 1.0),
        (DESCENT_S, 0.7),
        (0.3 * truth.hover_s, 1.0),
        (DESCENT_S, 0.7),
    ):
        for _ in range(round(duration / SEGMENT_S)):
            gust = keep * gust + np.sqrt(1 - keep**2) * rng.normal(0.0, truth.wind_pct / 100, seeds)
            power = truth.steady_w * (share + gust)
            plan.append((SEGMENT_S, power))
            air.append(power)
            if share == 1.0:
                hover.append(power)
    plan.append((AFTER_S, truth.avionics_w))
    run = simulate(
        pack.cell.model,
        [Segment(s, "power", w / pack.cells) for s, w in plan],
        Until(last_depth_of_discharge=1.0),
        branch=RcBranch(truth.delayed_share, truth.time_constant_s)
        if truth.delayed_share
        else None,
        extra_mohm=pack.joint_mohm_per_cell,
        resistance_factor=truth.resistance_factor,
        capacity_factor=truth.capacity_factor,
        cold=False,
        step_s=1.0,
    )
    assert run.trace is not None
    assert not np.any(run.end), "the pack was flown empty"
    trace = run.trace
    amps = trace.current_a * pack.parallel
    volts = trace.voltage_v * pack.series
    if truth.curve_off_v is not None:
        for k in range(seeds):
            off = np.interp(trace.depth_of_discharge[:, k], KNOTS, truth.curve_off_v[:, k])
            volts[:, k] += pack.series * off
    begin, end = GROUND_S, float(trace.time_s[-1, 0]) - AFTER_S
    inside = (trace.time_s[:, 0] >= begin) & (trace.time_s[:, 0] <= end)
    charge = np.trapezoid(amps[inside], trace.time_s[inside], axis=0) / 3600.0
    return Flown(
        truth,
        trace.time_s[:, 0],
        volts,
        amps,
        (begin, end),
        np.trapezoid((volts * amps)[inside], trace.time_s[inside], axis=0) / 3600.0,
        charge,
        np.mean(hover, axis=0),
        trace.depth_of_discharge[-1],
    )


def truths(seeds: int, rng: np.random.Generator, design: Design[Any], **others: Any) -> Truth:
    """Crafts and packs as the design's own margin budget has them; cells of 0.85 to 1.3 times their resistance.

    A cell's voltage differs from its datasheet's as `workbook.flightlog.pack_fit` takes it. Each line of the budget is drawn from its triangle by an independent generator; those for cold are left out, for
    the stepped cell is flown at 25 C.
    """
    lines = [line for line in lines_of(design) if not line.key.startswith("cold")]
    values = np.array([rng.triangular(line.low, line.expected, line.high, seeds) for line in lines])
    applied = apply(design, lines, values)
    load = craft_type_of(design).load(applied.design, applied.allowances)
    cell = design.pack.cell
    half = 0.5 * (cell.charge_v - float(cell.model.open_circuit_at(0.0)))
    curve_off = rng.normal(0.0, CURVE_MV / 1000.0, (len(KNOTS), seeds))
    curve_off[0] = rng.normal(half, np.hypot(half, FULL_MV / 1000.0), seeds)
    return replace(
        Truth(
            np.array(load.power_w),
            np.array(np.broadcast_to(load.avionics_w, seeds)),
            applied.allowances.resistance_factor * rng.uniform(0.85, 1.3, seeds),
            np.array(applied.allowances.capacity_factor),
            curve_off_v=curve_off,
        ),
        **others,
    )
