"""What voltage against current says of a pack in flight: its resistance and its charge, against the plan's.

The plan's cell has a voltage at rest U and a resistance R over depth of discharge z. Of the pack as flown

    v = U(z) + shift + drift(z) - d + s (d - late d) - joints i,    d = f R(z) i,    z = z0 + charge / (capacity c)

where f and c are the factors looked for, s is the share of the resistance that comes late, as one RC branch
has it, and "late d" what that branch shows of the drop d. The shift is the voltmeter's, the drift is what the datasheet's
curve of this cell is off, a random walk over depth: so what depth does to the voltage is not taken for resistance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

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
LATE_S, LATE_S_OFF = 12.0, 0.9
"""Time constant of what comes late, and how far off its logarithm may be. Common practice, no source."""
LATE_SHARE, LATE_SHARE_OFF = 0.3, 0.2
"""Share of the resistance that comes late, and how far off that may be (one standard deviation). Common practice, no
source; simulated cells have 0.2 to 0.6."""
DRIFT_STEP, DRIFT_MV, DRIFT_NO_CURVE_MV = 0.1, 5.0, 15.0
"""Knots of the drift over depth; standard deviation from knot to knot, with datasheet curves and without. Common
practice, no source; tried on electrochemical cells in tests/published."""
FULL_MV, FULL_DEPTH = 8.0, 0.01
"""How far the voltage and the charge of a full pack may be off (one standard deviation). Common practice, no source."""
WIDE_F, WIDE_C = 0.6, 0.1
"""Standard deviations of the two factors before the flight is looked at: next to nothing is known."""
LEAST_MV = 1.0
"""No model of a cell is nearer than this."""
FAR = 5.0
"""Bins further off than so many standard deviations are left out."""


@dataclass(frozen=True, eq=False)
class PackFit:
    """What a flight says of its pack.

    Attributes:
        resistance_factor, capacity_factor: of the cells over the plan's, as its temperature and age have them.
        covariance: of the two, shape (2, 2): of this flight alone, the instruments' gain left out.
        start_depth: depth of discharge of the first row.
        end_depth: at the end of the flight.
        late_share, late_s: share of the resistance that comes late, and its time constant.
        shift_v: of the voltage of a cell against the plan's.
        drift_v: more of that at the end of the flight.
        miss_mv: what is left unexplained of a cell's voltage, root mean square.
        rested: whether rows at rest before take-off were there.
    """

    resistance_factor: float
    capacity_factor: float
    covariance: FloatArray
    start_depth: float
    end_depth: float
    late_share: float
    late_s: float
    shift_v: float
    drift_v: float
    miss_mv: float
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
    may: Readings,
) -> PackFit | None:
    """Fit a pack's resistance and charge to a flight.

    Args:
        log: with the zero of its current taken out.
        flight_s: beginning and end of the time in the air.
        design: as flown.
        power_w: usual power in the air.
        may: how far off the readings may be; its `voltage_pct` counts.

    Returns:
        The fit; None where there is too little to fit.

    Source: least squares with prior (Gauss-Markov, JCGM 102:2011); one RC branch, Thevenin's theorem; correlated
        residuals by their lag-one correlation r, counted as (1 - r) / (1 + r) of their number (Bayley and Hammersley, 1946).
    """
    bins = _bins(log, flight_s, design)
    if bins is None:
        return None
    return _fit(bins, flight_s, design, power_w, may)


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
    charge = _charge_ah(time_s, amps)
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


def _charge_ah(time_s: FloatArray, amps: FloatArray) -> FloatArray:
    from scipy.integrate import cumulative_trapezoid

    return np.asarray(cumulative_trapezoid(amps, time_s, initial=0.0)) / 3600.0


def late(drop_v: FloatArray, step_s: float, late_s: float) -> FloatArray:
    """What an RC branch shows of a drop of voltage, settled at the first row; rows at even times.

    Example:
        >>> late(np.array([0.0, 1.0, 1.0]), 1.0, 1e9).round(3)
        array([0., 0., 0.])
    """
    from scipy.signal import lfilter

    kept = np.exp(-step_s / late_s)
    mean = np.concatenate([drop_v[:1], 0.5 * (drop_v[1:] + drop_v[:-1])])
    shown, _ = lfilter([1.0 - kept], [1.0, -kept], mean, zi=[kept * drop_v[0]])
    return np.asarray(shown)


def _fit(
    bins: _Bins,
    flight_s: tuple[float, float],
    design: Design[Any],
    power_w: float,
    may: Readings,
) -> PackFit:
    from scipy.optimize import least_squares

    model, state = design.pack.cell.model, flown_state(design, power_w)
    capacity_ah = float(model.capacity_ah * state.capacity_factor)
    joints_ohm = float(design.pack.joint_mohm_per_cell) / 1000.0
    start = _start_depth(bins, flight_s, model.open_circuit_at)
    even_s = np.arange(bins.time_s[0], bins.time_s[-1] + bins.step_s, bins.step_s)
    reach = start + bins.charge_ah[-1] / capacity_ah
    knots = np.arange(start, max(reach, start + DRIFT_STEP) + DRIFT_STEP, DRIFT_STEP)
    drift_mv = DRIFT_MV if np.isfinite(model.highest_a) else DRIFT_NO_CURVE_MV
    shift_mv = np.hypot(10.0 * may.voltage_pct / COVERAGE * float(np.median(bins.cell_v)), FULL_MV)
    # f, c, share, start depth, shift, time constant over the usual as a logarithm, drift from knot to knot
    drifts = np.zeros(len(knots) - 1)
    middle = np.concatenate([[1.0, 1.0, LATE_SHARE, start, 0.0, 0.0], drifts])
    offs = (WIDE_F, WIDE_C, LATE_SHARE_OFF, FULL_DEPTH, shift_mv / 1000.0, LATE_S_OFF)
    width = np.concatenate([offs, drifts + 1.0])

    def voltage(at: FloatArray) -> FloatArray:
        depth = np.clip(at[3] + bins.charge_ah / (capacity_ah * at[1]), 0.0, 1.0)
        own_ohm = model.resistance_at(depth) * float(state.resistance_factor) / 1000.0 * at[0]
        drop_v = own_ohm * bins.cell_a
        late_s = LATE_S * float(np.exp(np.clip(at[5], -3.0, 3.0)))
        late_v = late(np.interp(even_s, bins.time_s, drop_v), bins.step_s, late_s)
        drop_v -= at[2] * (drop_v - np.interp(bins.time_s, even_s, late_v))
        drift = np.interp(
            depth, knots, np.concatenate([[0.0], np.cumsum(at[6:])]) * drift_mv / 1000.0
        )
        return np.asarray(
            model.open_circuit_at(depth) + at[4] + drift - drop_v - joints_ohm * bins.cell_a
        )

    used = np.ones(len(bins.time_s), dtype=bool)
    noise_v, counted, found = 0.01, 1.0, None
    for _ in range(3):
        weight = used / (noise_v * np.sqrt(counted))

        def residual(at: FloatArray, weight: FloatArray = weight) -> FloatArray:
            return np.concatenate([(bins.cell_v - voltage(at)) * weight, (at - middle) / width])

        found = least_squares(
            residual, middle if found is None else found.x, x_scale=width, method="trf"
        )
        left = bins.cell_v - voltage(found.x)
        noise_v = max(1.4826 * float(np.median(np.abs(left[used]))), LEAST_MV / 1000.0)
        used = np.abs(left) < FAR * max(noise_v, 0.002)
        counted = counted_as_one(left[used])
    assert found is not None
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    at = found.x
    end_depth = float(at[3] + bins.charge_ah[-1] / (capacity_ah * at[1]))
    drift_v = float(np.sum(at[6:]) * drift_mv / 1000.0)
    rested = bool(np.count_nonzero(bins.time_s < flight_s[0]) >= 3)
    return PackFit(
        float(at[0]),
        float(at[1]),
        covariance[:2, :2],
        float(at[3]),
        end_depth,
        float(at[2]),
        LATE_S * float(np.exp(at[5])),
        float(at[4]),
        drift_v,
        1000.0 * float(np.sqrt(np.mean(left[used] ** 2))),
        rested,
    )


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


def counted_as_one(left: FloatArray) -> float:
    """How many correlated rows count as one."""
    if len(left) < 10:
        return 1.0
    away = left - left.mean()
    r = float(np.sum(away[1:] * away[:-1]) / max(np.sum(away**2), 1e-30))
    r = min(max(r, 0.0), 0.98)
    return (1.0 + r) / (1.0 - r)
