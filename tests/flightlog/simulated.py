"""Flights with known answers: the project's own stepped cell, and sensors with noise of an independent generator.

All invented. The pack is flown by power, phase by phase, in air that moves; what a logger would write of it is
made from voltage and current by gain, offset, noise and steps.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from workbook.battery.simulate import RcBranch, Segment, Until, simulate
from workbook.flightlog.log import FlightLog
from workbook.numbers import FloatArray
from workbook.sizing.design import Design

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
        wind_pct, wind_s: standard deviation of power in the air and how long a gust lasts.
    """

    steady_w: FloatArray
    avionics_w: FloatArray
    resistance_factor: FloatArray
    capacity_factor: FloatArray
    hover_s: float = 900.0
    delayed_share: float = 0.3
    time_constant_s: float = 12.0
    wind_pct: float = 5.0
    wind_s: float = 4.0


@dataclass(frozen=True)
class Sensor:
    """What a logger makes of voltage and current; one figure a seed, or one for all."""

    rate_hz: float = 5.0
    current_gain: FloatArray | float = 1.0
    voltage_gain: FloatArray | float = 1.0
    offset_a: float = 0.0
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
        gain_a, gain_v = (
            np.ravel(g)[seed % np.size(g)] for g in (sensor.current_gain, sensor.voltage_gain)
        )
        amps = gain_a * np.interp(time_s, self.time_s, self.current_a[:, seed]) + sensor.offset_a
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
    begin, end = GROUND_S, float(trace.time_s[-1, 0]) - AFTER_S
    inside = (trace.time_s[:, 0] >= begin) & (trace.time_s[:, 0] <= end)
    charge = np.trapezoid(amps[inside], trace.time_s[inside], axis=0) / 3600.0
    return Flown(
        truth,
        trace.time_s[:, 0],
        trace.voltage_v * pack.series,
        amps,
        (begin, end),
        np.sum(air, axis=0) * SEGMENT_S / 3600.0,
        charge,
        np.mean(hover, axis=0),
        trace.depth_of_discharge[-1],
    )


def truths(
    seeds: int, rng: np.random.Generator, design: Design[Any], steady_w: float, **others: Any
) -> Truth:
    """Crafts and packs that differ from the plan as crafts and packs do."""
    return replace(
        Truth(
            steady_w * rng.normal(1.0, 0.08, seeds),
            design.craft.avionics_w * rng.normal(1.0, 0.05, seeds),
            rng.uniform(0.85, 1.45, seeds),
            rng.normal(1.0, 0.02, seeds),
        ),
        **others,
    )
