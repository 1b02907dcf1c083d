"""What a flight was: energy, charge, power and voltage out of a log or a slip, each with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workbook.flightlog.faults import GAP_S, GAP_STEPS, middle_of_five
from workbook.flightlog.log import FlightLog, LogFinding
from workbook.flightlog.pack_fit import PackFit, counted_as_one, fit_pack
from workbook.flightlog.phases import Phases
from workbook.flightlog.slip import ChargerSlip
from workbook.numbers import FloatArray
from workbook.sizing.calibration import COVERAGE, Readings
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design

ZERO_A = 0.5
"""How far off the zero of a current sensor may be, 95 times in 100. Common practice, no source."""
STEADY = ("hover", "cruise")
LEAST_STEADY_S = 60.0
"""Of hover, or of a wing's cruise, that are enough for steady flight by themselves."""
LAST_S = 10.0
"""Before landing: over which the voltage at the end of the flight is averaged."""
FAST_HZ = 5.0
"""From this rate on a peak is the median of five rows."""


@dataclass(frozen=True)
class Measured:
    """One figure as measured.

    Attributes:
        value: the figure.
        uncertainty: half of the interval that holds the truth 95 times in 100.
    """

    value: float
    uncertainty: float


UNKNOWN = Measured(np.nan, np.nan)


@dataclass(frozen=True, eq=False)
class FlightMeasures:
    """What a flight was.

    Attributes:
        minutes: in the air.
        energy_wh, charge_ah: taken from the pack in the air.
        mean_power_w, peak_power_w, steady_power_w: of the pack in the air; steady in hover or cruise.
        peak_a: highest current of the pack.
        rest_power_w: on the ground, as read.
        landing_cell_v: under load, just before landing.
        rest_cell_v: of a cell at rest, after the flight.
        lowest_cell_v: under load, anywhere in flight.
        full_cell_v: highest, before take-off.
        temperature_c: highest.
        gain_pct: how far off all power may be by the instruments' scale, percent, 95 times in 100.
        alone_pct: how far off the steady power may be by this flight alone.
        speed_m_s: in steady flight, where logged.
        fit: resistance and charge of the pack; None from a slip, or where there is too little.
        capacity: charge over the plan's and one standard deviation, where a slip has it.
        log: with the zero of its current taken out; None from a slip.
    """

    minutes: Measured
    energy_wh: Measured
    charge_ah: Measured
    mean_power_w: Measured
    steady_power_w: Measured
    gain_pct: float
    alone_pct: float
    peak_power_w: Measured = UNKNOWN
    peak_a: Measured = UNKNOWN
    rest_power_w: Measured = UNKNOWN
    landing_cell_v: Measured = UNKNOWN
    rest_cell_v: Measured = UNKNOWN
    lowest_cell_v: Measured = UNKNOWN
    full_cell_v: Measured = UNKNOWN
    temperature_c: float = np.nan
    speed_m_s: float = np.nan
    fit: PackFit | None = None
    capacity: tuple[float, float] | None = None
    log: FlightLog | None = None

    @property
    def pack_factors(self) -> tuple[FloatArray, FloatArray]:
        """Resistance and charge of the cells over the plan's, and their covariance; NaN where they are not known."""
        factors, covariance = np.full(2, np.nan), np.full((2, 2), np.nan)
        if self.fit is not None:
            return np.array(
                [self.fit.resistance_factor, self.fit.capacity_factor]
            ), self.fit.covariance
        if self.capacity is not None:
            factors[1], covariance[1, 1] = self.capacity[0], self.capacity[1] ** 2
        return factors, covariance


def measure_log(
    log: FlightLog, phases: Phases, design: Design[Any], readings: Readings
) -> FlightMeasures:
    """Measure a flight from its log.

    Args:
        log: as read.
        phases: of it.
        design: as flown.
        readings: how far off they may be.

    Source: trapezoid rule; first-order propagation of independent errors, JCGM 100:2008, 5.1.2.
    """
    log, zero, rest = _zeroed(log, phases, design, readings)
    start, end = phases.flight
    air = log.between(start, end)
    known = np.isfinite(air.power_w)
    time_s, power, amps = air.time_s[known], air.power_w[known], air.current_a[known]
    volts = float(np.median(air.voltage_v[known]))
    hours = (end - start) / 3600.0
    gain_pct = float(np.hypot(readings.current_pct, readings.voltage_pct))
    bridged = _bridged(time_s, power)
    energy = float(np.trapezoid(power, time_s)) / 3600.0
    charge = float(np.trapezoid(amps, time_s)) / 3600.0
    energy_off = math.hypot(energy * gain_pct / 100.0, zero.uncertainty * volts * hours, bridged)
    charge_off = math.hypot(
        charge * readings.current_pct / 100.0, zero.uncertainty * hours, bridged / volts
    )
    steady, alone_w, rows = _steady(log, phases, craft_type_of(design).steady)
    steady_off = math.hypot(steady * gain_pct / 100.0, zero.uncertainty * volts, alone_w)
    edge_s = max(2.0, 2.0 * log.step_s)
    peak_a, peak_w = (float(np.max(_calmed(x, log.step_s))) for x in (amps, power))
    series = float(design.pack.series)
    low_v = float(np.min(_calmed(air.voltage_v[known], log.step_s))) / series
    full_v = float(np.max(_calmed(_known(log.voltage_v), log.step_s))) / series
    fit = fit_pack(log, (start, end), design, steady, readings)
    speed_m_s = _known(None if log.speed_m_s is None else log.speed_m_s[rows])
    temperature_c = _known(log.temperature_c)
    flown_h = hours or np.nan
    alone_pct = 100.0 * math.hypot(alone_w, zero.uncertainty * volts) / steady
    return FlightMeasures(
        minutes=Measured((end - start) / 60.0, edge_s / 60.0),
        energy_wh=Measured(energy, energy_off),
        charge_ah=Measured(charge, charge_off),
        mean_power_w=Measured(energy / flown_h, energy_off / flown_h),
        steady_power_w=Measured(steady, steady_off),
        gain_pct=gain_pct,
        alone_pct=math.hypot(alone_pct, readings.steadiness_pct),
        peak_power_w=Measured(peak_w, peak_w * gain_pct / 100.0),
        peak_a=Measured(
            peak_a, math.hypot(peak_a * readings.current_pct / 100.0, zero.uncertainty)
        ),
        rest_power_w=rest,
        landing_cell_v=_landing(log, phases, design, readings),
        rest_cell_v=_at_rest(log, phases, design, readings, fit),
        lowest_cell_v=Measured(low_v, low_v * readings.voltage_pct / 100.0),
        full_cell_v=Measured(full_v, full_v * readings.voltage_pct / 100.0),
        temperature_c=float(np.max(temperature_c)) if temperature_c.size else np.nan,
        speed_m_s=float(np.mean(speed_m_s)) if speed_m_s.size else np.nan,
        fit=fit,
        log=log,
    )


def _known(values: FloatArray | None) -> FloatArray:
    """What is known of a column."""
    return np.zeros(0) if values is None else values[np.isfinite(values)]


def _calmed(values: FloatArray, step_s: float) -> FloatArray:
    return middle_of_five(values) if step_s <= 1.0 / FAST_HZ else values


def _zeroed(
    log: FlightLog, phases: Phases, design: Design[Any], readings: Readings
) -> tuple[FlightLog, Measured, Measured]:
    """The log with the zero of its current taken out, that zero, and the power at rest as read."""
    ground = phases.rows(log.time_s, "ground") & np.isfinite(log.power_w)
    air = phases.flight
    ground &= (log.time_s < air[0] - 2.0) | (log.time_s > air[1] + 3.0)
    if np.count_nonzero(ground) < 5:
        return log, Measured(0.0, ZERO_A), UNKNOWN
    amps, volts = log.current_a[ground], float(np.mean(log.voltage_v[ground]))
    read = float(np.mean(amps))
    own_a = float(design.craft.avionics_w) / volts
    steps = np.diff(np.unique(amps))
    step_a = float(steps.min()) if steps.size else 2.0 * abs(read) / max(1.0, np.sqrt(len(amps)))
    coarse = step_a / np.sqrt(12.0) if float(np.std(amps)) < 0.5 * step_a else 0.0
    own_off = own_a * readings.avionics_pct / 100.0 / COVERAGE
    noise = float(np.hypot(coarse, np.std(amps) / np.sqrt(len(amps))))
    reading_off = float(np.hypot(own_off, noise))
    prior = ZERO_A / COVERAGE
    zero_off = COVERAGE * prior * reading_off / max(float(np.hypot(prior, reading_off)), 1e-12)
    rest = Measured(read * volts, volts * float(np.hypot(ZERO_A, COVERAGE * noise)))
    away = read - own_a
    if abs(away) < max(2.0 * reading_off, 0.05):
        return log, Measured(0.0, zero_off), rest
    text = (
        f"At rest the current reads {read:.2f} A, and the electronics take {own_a:.2f} A by the plan: {away:+.2f} A was "
        "taken for the sensor's zero and left out. Check that zero with no load on the pack."
    )
    ground_s = log.time_s[ground]
    finding = LogFinding(
        "zero offset", text, 0, "current_a", float(ground_s[0]), float(ground_s[-1])
    )
    fixed = replace(log, current_a=log.current_a - away, findings=(*log.findings, finding))
    return fixed, Measured(away, zero_off), UNKNOWN


def _bridged(time_s: FloatArray, power: FloatArray) -> float:
    """How far off the energy may be by what was not logged, Wh: power read straight across a gap is off by its usual
    swing, more so the longer the gap."""
    steps = np.diff(time_s)
    long = steps > max(GAP_STEPS * float(np.median(steps)), GAP_S)
    swing = float(np.std(power))
    return COVERAGE * swing * float(np.sqrt(np.sum(steps[long] ** 2))) / 3600.0 / 2.0


def steady_rows(log: FlightLog, phases: Phases, own: str) -> NDArray[np.bool_]:
    """Which rows with a known power are of steady flight.

    Steady is what the plan means by it, where there is enough of it; hover and cruise together else, or all.

    Args:
        log: of the flight.
        phases: of the flight.
        own: the phase that the plan means: hover or cruise.
    """
    known = np.isfinite(log.power_w)
    every = (*STEADY, "climb", "descent", "take-off", "landing")
    for kinds, least_s in (((own,), LEAST_STEADY_S), (STEADY, 10.0), (every, 0.0)):
        rows = phases.rows(log.time_s, *kinds) & known
        if np.count_nonzero(rows) * log.step_s >= least_s and np.count_nonzero(rows) >= 10:
            break
    return rows


def _steady(log: FlightLog, phases: Phases, own: str) -> tuple[float, float, NDArray[np.bool_]]:
    """Power in steady flight, how far off it may be by the flight's own swing (95 times in 100), and its rows."""
    rows = steady_rows(log, phases, own)
    power, time_s = log.power_w[rows], log.time_s[rows]
    place = np.unique((time_s // max(1.0, log.step_s)).astype(int), return_inverse=True)[1]
    count = np.bincount(place)
    means = np.bincount(place, weights=power) / count
    swing = float(np.std(means)) * np.sqrt(counted_as_one(means) / len(means))
    return float(np.mean(power)), COVERAGE * float(swing), rows


def _landing(log: FlightLog, phases: Phases, design: Design[Any], readings: Readings) -> Measured:
    """Voltage of a cell under load, just before landing."""
    steady = [part for part in phases.parts if part.kind in (*STEADY, "climb")]
    end = steady[-1].end_s if steady else phases.flight[1]
    rows = (log.time_s > end - LAST_S) & (log.time_s <= end) & np.isfinite(log.voltage_v)
    if not rows.any():
        return UNKNOWN
    volts = log.voltage_v[rows] / float(design.pack.series)
    value = float(np.mean(volts))
    noise = COVERAGE * float(np.std(volts)) / np.sqrt(len(volts))
    return Measured(value, float(np.hypot(value * readings.voltage_pct / 100.0, noise)))


def _at_rest(
    log: FlightLog, phases: Phases, design: Design[Any], readings: Readings, fit: PackFit | None
) -> Measured:
    """Voltage of a cell at rest after the flight, by the fit; as read where the log goes on long enough."""
    after = log.time_s > phases.flight[1] + 60.0
    volts = log.voltage_v[after & np.isfinite(log.voltage_v)] / float(design.pack.series)
    if volts.size >= 5:
        value = float(np.mean(volts[-max(5, volts.size // 4) :]))
        return Measured(value, float(np.hypot(value * readings.voltage_pct / 100.0, 0.01)))
    if fit is None:
        return UNKNOWN
    model = design.pack.cell.model
    value = float(model.open_circuit_at(min(fit.end_depth, 1.0))) + fit.shift_v + fit.end_off_v
    return Measured(value, float(np.hypot(value * readings.voltage_pct / 100.0, 0.015)))


def measure_slip(slip: ChargerSlip, design: Design[Any], readings: Readings) -> FlightMeasures:
    """Measure a flight from a charger's slip: its mean power is taken for the steady one.

    Args:
        slip: as written down.
        design: as flown.
        readings: how far off they may be.

    Raises:
        InputError: as `ChargerSlip.mean_power_w`.

    Source: energy of a charge by the pack's own voltage under that power; JCGM 100:2008, 5.1.2.
    """
    power = slip.mean_power_w(design)
    hours = slip.minutes / 60.0
    charge_pct = slip.charge_off_pct(readings)
    time_pct = 100.0 * readings.time_s / (60.0 * slip.minutes)
    gain_pct = float(np.hypot(charge_pct, readings.energy_pct))
    alone_pct = float(np.hypot(time_pct, readings.steadiness_pct))
    power_pct = float(np.hypot(gain_pct, time_pct))
    series = float(design.pack.series)
    full, rest = (
        UNKNOWN if pack_v is None else Measured(pack_v / series, pack_v / series * 0.005)
        for pack_v in (slip.before_v, slip.after_v)
    )
    mean = Measured(power, power * power_pct / 100.0)
    return FlightMeasures(
        Measured(slip.minutes, readings.time_s / 60.0),
        Measured(power * hours, power * hours * gain_pct / 100.0),
        Measured(slip.taken_ah, slip.taken_ah * charge_pct / 100.0),
        mean,
        Measured(power, power * float(np.hypot(gain_pct, alone_pct)) / 100.0),
        gain_pct,
        alone_pct,
        rest_cell_v=rest,
        full_cell_v=full,
        temperature_c=np.nan if slip.felt_c is None else slip.felt_c,
        capacity=slip.capacity_factor(design, power, readings),
    )
