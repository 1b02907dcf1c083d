"""Resistance and charge of a pack in flight against the plan's, fitted to its voltage and current.

The plan's cell has a voltage at rest U and a resistance R over depth of discharge z. Of the pack as flown

    v = U(z) + shift + off(z) - f R(z) slow - r1 (late - slow) - r0 (i - late) - joints i,   z = z0 + charge / (capacity c)

where f and c are the factors looked for. `late` and `slow` are the current as an RC branch of some seconds and one of a
minute have it, so that f is the resistance that the plan means, that of steady flight, and what answers faster is left to
r0 and r1. The shift is the voltmeter's; off(z) is how far the curve of the datasheet is off, more near full: what depth
does to the voltage is not taken for resistance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from workbook.battery.model import CellModel
from workbook.errors import InputError
from workbook.flightlog.log import FlightLog
from workbook.numbers import FloatArray
from workbook.sizing.calibration import COVERAGE, Readings
from workbook.sizing.conditions import flown_state
from workbook.sizing.design import Design

BIN_S, BIN_ROWS = 1.0, 4
"""Rows are averaged over this or so many rows: the steps of the current sensor average out, its noise too, and a
regression on what is left is not pulled towards 0 (errors in variables)."""
MOST_BINS = 3000
BEFORE_S = 90.0
"""On the ground before take-off, as far as it is used."""
SLOW_S = 60.0
LATE_S, LATE_S_OFF = 10.0, 0.7
"""Time constants: what answers later is steady; of the faster branch, and how far off its logarithm may be (one standard
deviation). Common practice, no source."""
FAST_SHARE, FAST_OFF = (0.6, 1.0), 0.5
"""Of the steady resistance: what answers at once, and within a minute; and how far off each may be."""
KNOT_STEP, CURVE_MV, NO_CURVE_MV = 0.1, 5.0, 20.0
"""Knots of how far the datasheet's curve may be off, over depth; one standard deviation, with curves and without. Tried
on electrochemical cells in tests/published."""
NEAR_FULL = 0.04
"""Depth from which on the datasheet's curve is as sure as elsewhere."""
FULL_MV, FULL_DEPTH = 8.0, 0.005
"""How far the voltage at rest and the charge of a full pack may be off (one standard deviation). Common practice, no
source."""
UNSETTLED_SHARE = 0.2
"""Bins whose current is further than this share from that of the slow branch are left out: take-off, and after climbs."""
WIDE_F, WIDE_C = 0.6, 0.1
"""Standard deviations of the two factors before the flight is looked at: next to nothing is known."""
LEAST_MV, LEAST_LASTS_S = 3.0, 10.0
"""No model of a cell is nearer than this from moment to moment, and what it misses lasts for so long: what gusts
show of the steady resistance counts little beside the voltage's level. Tried on electrochemical cells."""
FAR_DEVIATIONS = 5.0
"""Bins further off than so many standard deviations are left out."""


@dataclass(frozen=True, eq=False)
class PackFit:
    """Resistance and charge of a flight's pack.

    Attributes:
        resistance_factor, capacity_factor: of the cells over the plan's, as its temperature and age have them.
        covariance: of the two, shape (2, 2): of this flight alone, the instruments' gain left out.
        start_depth: depth of discharge of the first row.
        end_depth: at the end of the flight.
        shift_v: of the voltage of a cell against the plan's, by the voltmeter.
        end_off_v: of the datasheet's curve, at the end of the flight.
        rested: whether rows at rest before take-off were there.
    """

    resistance_factor: float
    capacity_factor: float
    covariance: FloatArray
    start_depth: float
    end_depth: float
    shift_v: float
    end_off_v: float
    rested: bool


@dataclass(frozen=True, eq=False)
class _Bins:
    """Means of a cell's current and voltage over even times, and the charge of a cell taken by then."""

    time_s: FloatArray
    cell_a: FloatArray
    cell_v: FloatArray
    charge_ah: FloatArray
    step_s: float


def fit_pack(
    log: FlightLog,
    flight_s: tuple[float, float],
    design: Design[Any],
    power_w: float,
    readings: Readings,
) -> PackFit | None:
    """Fit a pack's resistance and charge to a flight.

    Args:
        log: with the zero of its current taken out.
        flight_s: beginning and end of the time in the air.
        design: as flown.
        power_w: usual power in the air.
        readings: how far off they may be; its `voltage_pct` counts.

    Returns:
        The fit; None where there is too little to fit.

    Source: least squares with prior (Gauss-Markov, JCGM 102:2011); one RC branch, Thevenin's theorem; correlated
        residuals by their lag-one correlation r, counted as (1 - r) / (1 + r) of their number (Bayley and Hammersley, 1946).
    """
    bins = _bins(log, flight_s, design)
    return None if bins is None else _fit(bins, flight_s, design, power_w, readings)


def _bins(log: FlightLog, flight_s: tuple[float, float], design: Design[Any]) -> _Bins | None:
    known = np.isfinite(log.voltage_v) & np.isfinite(log.current_a)
    known &= (log.time_s >= flight_s[0] - BEFORE_S) & (log.time_s <= flight_s[1])
    if np.count_nonzero(known) < 40:
        return None
    time_s, amps, volts = log.time_s[known], log.current_a[known], log.voltage_v[known]
    length_s = float(time_s[-1] - time_s[0])
    step_s = max(BIN_S, BIN_ROWS * float(np.median(np.diff(time_s))), length_s / MOST_BINS)
    place = ((time_s - time_s[0]) // step_s).astype(int)
    rows = np.bincount(place)
    if np.count_nonzero(rows) < 25:
        return None
    each_as = np.diff(time_s) * (amps[1:] + amps[:-1]) / 2.0
    charge = np.concatenate([[0.0], np.cumsum(each_as)]) / 3600.0
    kept = rows >= 0.5 * np.median(rows[rows > 0])

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(place, weights=values)[kept] / rows[kept])

    pack = design.pack
    return _Bins(
        mean(time_s),
        mean(amps) / pack.parallel,
        mean(volts) / pack.series,
        mean(charge) / pack.parallel,
        step_s,
    )


def rc_response(drop_v: FloatArray, step_s: float, late_s: float) -> FloatArray:
    """What an RC branch shows of a drop of voltage, settled at the first row; rows at even times.

    Example:
        >>> rc_response(np.array([0.0, 1.0, 1.0]), 1.0, 1e9).round(3)
        array([0., 0., 0.])
    """
    from scipy.linalg import solve_banded  # `scipy.signal` takes half a second to load

    kept = np.exp(-step_s / late_s)
    share = (1.0 - kept) * np.concatenate([drop_v[:1], 0.5 * (drop_v[1:] + drop_v[:-1])])
    share[0] += kept * drop_v[0]
    # shown[k] - kept x shown[k - 1] = share[k]
    bands = np.array([[1.0], [-kept]]).repeat(len(share), axis=1)
    return np.asarray(solve_banded((1, 0), bands, share))


@dataclass(frozen=True, eq=False)
class _Circuit:
    """The pack as flown over its bins: the voltage of a cell by f, c, start depth, shift, logarithm of the time
    constant over the usual, r0 and r1 over the usual, and the knots of how far the curve is off."""

    bins: _Bins
    cell: CellModel
    capacity_ah: float
    resistance_factor: float
    joints_ohm: float
    knots: FloatArray

    @cached_property
    def _even(self) -> tuple[FloatArray, FloatArray]:
        """Even times, and the current then."""
        bins = self.bins
        even_s = np.arange(bins.time_s[0], bins.time_s[-1] + bins.step_s, bins.step_s)
        return even_s, np.interp(even_s, bins.time_s, bins.cell_a)

    def late_a(self, late_s: float) -> FloatArray:
        """The current as an RC branch has it."""
        even_s, even_a = self._even
        return np.interp(self.bins.time_s, even_s, rc_response(even_a, self.bins.step_s, late_s))

    @cached_property
    def slow_a(self) -> FloatArray:
        """The current as a branch of a minute has it."""
        return self.late_a(SLOW_S)

    def depth(self, unknowns: FloatArray, charge_ah: FloatArray) -> FloatArray:
        """Depth of discharge once a charge is taken."""
        return np.asarray(unknowns[2] + charge_ah / (self.capacity_ah * unknowns[1]))

    def voltage(self, unknowns: FloatArray) -> FloatArray:
        """Of a cell, at each bin."""
        bins = self.bins
        depth = np.clip(self.depth(unknowns, bins.charge_ah), 0.0, 1.0)
        own_ohm = self.cell.resistance_at(depth) * self.resistance_factor / 1000.0 * unknowns[0]
        usual_ohm = float(self.cell.resistance_at(0.5)) * self.resistance_factor / 1000.0
        late_a = self.late_a(LATE_S * float(np.exp(np.clip(unknowns[4], -2.0, 1.5))))
        fast_v = usual_ohm * (
            unknowns[6] * (late_a - self.slow_a) + unknowns[5] * (bins.cell_a - late_a)
        )
        off = np.interp(depth, self.knots, unknowns[7:])
        rest_v = self.cell.open_circuit_at(depth) + unknowns[3] + off
        return np.asarray(rest_v - own_ohm * self.slow_a - fast_v - self.joints_ohm * bins.cell_a)


def _fit(
    bins: _Bins,
    flight_s: tuple[float, float],
    design: Design[Any],
    power_w: float,
    readings: Readings,
) -> PackFit:
    model, state = design.pack.cell.model, flown_state(design, power_w)
    capacity_ah = float(model.capacity_ah * state.capacity_factor)
    if not capacity_ah > 0.0:
        raise InputError(
            "by the plan's figures its pack gives no charge at this power and temperature; a log cannot be compared with it."
        )
    joints_ohm = float(design.pack.joint_mohm_per_cell) / 1000.0
    start = _start_depth(bins, flight_s, model.open_circuit_at)
    knots, off_v, off_width = _curve_off(design, start, start + bins.charge_ah[-1] / capacity_ah)
    shift_v = readings.voltage_pct / COVERAGE / 100.0 * float(np.median(bins.cell_v)) + 1e-4
    middle = np.concatenate([[1.0, 1.0, start, 0.0, 0.0, *FAST_SHARE], off_v])
    width = np.concatenate(
        [[WIDE_F, WIDE_C, FULL_DEPTH, shift_v, LATE_S_OFF, FAST_OFF, FAST_OFF], off_width]
    )
    factor = float(state.resistance_factor)
    circuit = _Circuit(bins, model, capacity_ah, factor, joints_ohm, knots)
    unknowns, covariance = _nearest(circuit, middle, width)
    end_depth = float(circuit.depth(unknowns, bins.charge_ah[-1]))
    return PackFit(
        resistance_factor=float(unknowns[0]),
        capacity_factor=float(unknowns[1]),
        covariance=covariance[:2, :2],
        start_depth=float(unknowns[2]),
        end_depth=end_depth,
        shift_v=float(unknowns[3]),
        end_off_v=float(np.interp(end_depth, knots, unknowns[7:])),
        rested=bool(np.count_nonzero(bins.time_s < flight_s[0]) >= 3),
    )


def _nearest(
    circuit: _Circuit, middle: FloatArray, width: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What is nearest to the bins and to what was thought before, and its covariance; bins far off are left out."""
    from scipy.optimize import least_squares

    bins, slow_a = circuit.bins, circuit.slow_a
    usual_a = np.maximum(slow_a, float(np.median(bins.cell_a)))
    used = settled = np.abs(bins.cell_a - slow_a) < UNSETTLED_SHARE * usual_a
    noise_v, counted, unknowns = 0.01, 1.0, middle
    for _ in range(3):
        weight = used / (noise_v * np.sqrt(counted))

        def residual(unknowns: FloatArray, weight: FloatArray = weight) -> FloatArray:
            off_v = bins.cell_v - circuit.voltage(unknowns)
            return np.concatenate([off_v * weight, (unknowns - middle) / width])

        found = least_squares(
            residual, unknowns, x_scale=width, method="lm", ftol=1e-12, xtol=1e-12
        )
        unknowns = found.x
        missed_v = bins.cell_v - circuit.voltage(unknowns)
        noise_v = max(1.4826 * float(np.median(np.abs(missed_v[used]))), LEAST_MV / 1000.0)
        used = settled & (np.abs(missed_v) < FAR_DEVIATIONS * max(noise_v, 0.002))
        counted = max(counted_as_one(missed_v[used]), LEAST_LASTS_S / bins.step_s)
    return unknowns, np.linalg.inv(found.jac.T @ found.jac)


def _curve_off(
    design: Design[Any], start: float, reach: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Knots over depth, how far the datasheet's curve is thought to be off at each, and how far it may be, V.

    A full cell rests between its charge voltage and what the curves, taken under load, have at depth 0.
    """
    cell = design.pack.cell
    model = cell.model
    knots = np.arange(start, max(reach, start + KNOT_STEP) + KNOT_STEP, KNOT_STEP)
    usual = CURVE_MV if np.isfinite(model.highest_a) else NO_CURVE_MV
    off, width = np.zeros(len(knots)), np.full(len(knots), usual / 1000.0)
    if start < 0.02:
        half = 0.5 * (cell.charge_v - float(model.open_circuit_at(0.0)))
        off[0], width[0] = half, np.hypot(half, FULL_MV / 1000.0)
        knots[1:] += NEAR_FULL - KNOT_STEP
    return knots, off, width


def _start_depth(
    bins: _Bins, flight_s: tuple[float, float], rest_v: Callable[[FloatArray], FloatArray]
) -> float:
    """Depth of discharge of the first rows, where their voltage at rest lies plainly below a full pack's; 0 else."""
    before = bins.time_s < flight_s[0] - 2.0
    if np.count_nonzero(before) < 3:
        return 0.0
    depth = np.linspace(0.0, 1.0, 401)
    curve = rest_v(depth)
    seen = float(np.median(bins.cell_v[before]))
    if seen > curve[0] - 0.06:
        return 0.0
    return float(np.interp(-seen, -curve, depth))


def counted_as_one(residuals: FloatArray) -> float:
    """How many correlated rows count as one."""
    if len(residuals) < 10:
        return 1.0
    away = residuals - residuals.mean()
    r = float(np.sum(away[1:] * away[:-1]) / max(np.sum(away**2), 1e-30))
    r = min(max(r, 0.0), 0.98)
    return (1.0 + r) / (1.0 - r)
