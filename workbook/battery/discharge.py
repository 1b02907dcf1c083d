"""A cell under constant power or constant current: voltage, current and time until an end is reached.

The model's open-circuit voltage U and resistance R run straight between its nodes, so the place where
the landing voltage is met has a closed form in each part; no time step is involved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any, Self, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from workbook.battery.model import CellModel
from workbook.battery.whole_discharges import WholeDischarges, shared_depth, whole_discharges
from workbook.errors import refuse
from workbook.numbers import FINITE, FloatArray, Number, flat, range_problems

CHUNK = 2048
"""Designs worked at a time: few enough for their nodes to stay in the processor's cache."""

CHUNK_OF_WHOLE = 8192
"""The same where nodes are summed beforehand (`WholeDischarges`)."""

MANY = 4096
"""Designs of one landing voltage from which `WholeDischarges` pays: its grid takes as long as some
thousand discharges do."""

BoolArray: TypeAlias = NDArray[np.bool_]
_R = TypeVar("_R", bound="DischargeRun")
_RunFields: TypeAlias = dict[str, Any]
"""The fields of a `PowerRun`."""


def voltage_under_power(
    open_circuit_v: Number, resistance_mohm: Number, power_w: Number
) -> FloatArray:
    """Terminal voltage at constant power: V = (U + sqrt(U^2 - 4 P R)) / 2; NaN when U^2 < 4 P R.

    Args:
        open_circuit_v: voltage at rest, V.
        resistance_mohm: resistance of the source, mohm.
        power_w: power drawn, W.

    Example:
        >>> voltage_under_power([4.0, 3.6], 30.0, 20.0).round(3)
        array([3.844, 3.425])
        >>> voltage_under_power(4.0, 30.0, 200.0)
        array(nan)
    """
    u = np.asarray(open_circuit_v, dtype=float)
    inside = u**2 - 4.0 * np.asarray(power_w) * np.asarray(resistance_mohm) / 1000.0
    with np.errstate(invalid="ignore"):
        return np.asarray(0.5 * (u + np.sqrt(inside)))


def most_power_w(open_circuit_v: Number, resistance_mohm: Number) -> FloatArray:
    """The most power that a source with a resistance can give: U^2 / (4 R). Above it voltage collapses.

    Args:
        open_circuit_v: voltage at rest, V, 0 or more.
        resistance_mohm: resistance of the source, mohm, above 0.

    Source: maximum power transfer theorem; the discriminant of V^2 - U V + P R = 0.

    Example:
        >>> most_power_w([4.0, 3.2], 40.0)
        array([100.,  64.])
    """
    u = np.asarray(open_circuit_v, dtype=float)
    return np.asarray(u**2 / (4.0 * np.asarray(resistance_mohm) / 1000.0))


@dataclass(frozen=True, eq=False)
class DischargeRun:
    """A discharge of one cell, per design (arrays of one shape). NaN where an input was NaN.

    Attributes:
        time_s, charge_ah, energy_wh: delivered until the end.
        end_depth_of_discharge: depth of discharge reached.
        end_v, end_a, end_open_circuit_v: terminal voltage, current and open-circuit voltage at the end.
        start_v, start_a: at the beginning; NaN where the power cannot be had even then.
        landed: True where the landing voltage came first, False where the depth limit did.
    """

    time_s: FloatArray
    charge_ah: FloatArray
    energy_wh: FloatArray
    end_depth_of_discharge: FloatArray
    end_v: FloatArray
    end_a: FloatArray
    end_open_circuit_v: FloatArray
    start_v: FloatArray
    start_a: FloatArray
    landed: BoolArray

    def of(self, design: int) -> Self:
        """The run of one design in a row of them."""
        return type(self)(**{name: figures[design] for name, figures in vars(self).items()})


@dataclass(frozen=True, eq=False)
class PowerRun(DischargeRun):
    """A constant-power discharge.

    Attributes:
        infeasible: True where the cell can no longer give the power (U^2 < 4 P R) before the landing
            voltage is met; `landed` is then True as well, and the end is where that happens.
    """

    infeasible: BoolArray


def constant_power(
    model: CellModel,
    power_w: Number,
    landing_v: Number,
    last_depth_of_discharge: Number = 1.0,
    *,
    extra_mohm: Number = 0.0,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
    start_depth_of_discharge: Number = 0.0,
) -> PowerRun:
    """Discharge one cell at constant power to a landing voltage or a last depth of discharge.

    The end is exact: where U - P R / V_land - V_land crosses zero, or U^2 - 4 P R where that comes
    first. Energy and time are the integral of V over depth, by the trapezoid rule on the model's
    nodes: within 1e-5 of the exact integral (1e-4 where the power gives out) once a tenth of the
    charge is drawn. A design's figures do not depend on the others beside it, but for rounding (1e-11) where `MANY`
    share the landing voltage: `WholeDischarges` then has the sum of each down to a depth that all go to.

    Args:
        model: the cell.
        power_w: per cell, 0 or more. At 0 the time is infinite, with the charge that is there.
        landing_v: lowest voltage under load, above 0. Not above it at the start: time 0.
        last_depth_of_discharge: depth of discharge at which to stop, 0 to 1.
        extra_mohm: joints and leads, as seen by one cell.
        resistance_factor: on the cell's own resistance (age, cold).
        capacity_factor: on the cell's capacity (age, cold).
        start_depth_of_discharge: at the start, 0 to 1; at or past the last one the time is 0.

    Returns:
        The run; all arguments broadcast.

    Raises:
        InputError: an argument out of its range. NaN is carried through.

    Source: source with a resistance at constant power: V^2 - U V + P R = 0.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> run = constant_power(find_cell("Bittern").model, [10.0, 20.0], 3.0, 0.9)
        >>> (run.time_s / 60).round(1), run.landed
        (array([100.3,  49. ]), array([False, False]))
    """
    shape, inputs = _inputs(
        ("power_w", power_w, "0 W or more"),
        landing_v,
        last_depth_of_discharge,
        start_depth_of_discharge,
        extra_mohm,
        resistance_factor,
        capacity_factor,
    )
    _, land, last, start, *_ = inputs
    shared = len(land) >= MANY and not start.any() and not np.ptp(land)
    depth = shared_depth(model, last) if shared else 0.0
    whole = whole_discharges(model, land[0].item(), depth) if depth > 0.0 else None

    def solve(block: FloatArray) -> _RunFields:
        load = _PowerLoad(*block)
        return _solve_many(whole, load) if whole else _solve(model, load)

    return _in_blocks(PowerRun, solve, inputs, shape, CHUNK_OF_WHOLE if whole else CHUNK)


def constant_current(
    model: CellModel, current_a: Number, landing_v: Number, last_depth_of_discharge: Number = 1.0
) -> DischargeRun:
    """Discharge one cell at constant current to a landing voltage or a last depth of discharge.

    Exact for the model: V = U - I R runs straight between nodes, and so does what is integrated.

    Args:
        model: the cell.
        current_a: per cell, 0 or more. At 0 the time is infinite, with the charge that is there.
        landing_v, last_depth_of_discharge: as in `constant_power`.

    Returns:
        The run; all arguments broadcast.

    Raises:
        InputError: an argument out of its range. NaN is carried through.

    Source: source with a resistance: V = U - I R.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> run = constant_current(find_cell("Bittern").model, 5.0, 2.5)
        >>> print((run.time_s / 60).round(1), run.energy_wh.round(1))
        59.9 17.7
    """
    shape, inputs = _inputs(
        ("current_a", current_a, "0 A or more"), landing_v, last_depth_of_discharge
    )
    return _in_blocks(
        DischargeRun, lambda block: _solve(model, _CurrentLoad(*block)), inputs, shape
    )


SAG_POINTS = 401
"""Of a drawn sag curve, evenly over depth of discharge."""


@dataclass(frozen=True, eq=False)
class SagCurve:
    """One cell under constant power over its whole charge, arrays of shape (K,).

    Attributes:
        depth_of_discharge: depth of discharge, 0 to 1.
        charge_ah: taken by then.
        rest_v: voltage at rest.
        loaded_v, current_a: under the power; NaN where the cell cannot give it.
        collapse_depth_of_discharge: first depth at which it cannot; NaN where it always can.
    """

    depth_of_discharge: FloatArray
    charge_ah: FloatArray
    rest_v: FloatArray
    loaded_v: FloatArray
    current_a: FloatArray
    collapse_depth_of_discharge: float


def sag_curve(
    model: CellModel, power_w: float, *, extra_mohm: float = 0.0, resistance_factor: float = 1.0
) -> SagCurve:
    """The voltage of one cell under constant power, from full to empty.

    Args:
        model: the cell.
        power_w: of the cell, above 0.
        extra_mohm: joints and leads, as seen by one cell.
        resistance_factor: on the cell's own (age, cold); 1 is fresh at 25 C.

    Source: V = (U + sqrt(U^2 - 4 P R)) / 2.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> curve = sag_curve(find_cell("Bittern").model, 20.0)
        >>> bool(curve.current_a[300] > curve.current_a[0]), curve.collapse_depth_of_discharge
        (True, nan)
    """
    depth = np.linspace(0.0, 1.0, SAG_POINTS)
    rest = model.open_circuit_at(depth)
    r_mohm = model.resistance_at(depth) * resistance_factor + extra_mohm
    loaded = voltage_under_power(rest, r_mohm, power_w)
    collapsed = np.flatnonzero(np.isnan(loaded))
    if collapsed.size:  # past the first place where it fails, the flight is over
        loaded[collapsed[0] :] = np.nan
    return SagCurve(
        depth,
        depth * model.capacity_ah,
        rest,
        loaded,
        np.asarray(power_w / loaded),
        float(depth[collapsed[0]]) if collapsed.size else np.nan,
    )


def naive_minutes(charge_ah: Number, current_a: Number) -> FloatArray:
    """Minutes by charge over one current: 60 x Ah / A. It takes the current for constant.

    At constant power the current rises as the voltage falls, so with the current of take-off this is
    too long; kept to be held against `constant_power`.

    Args:
        charge_ah: charge to be used, Ah, 0 or more.
        current_a: current, A, above 0.

    Source: arithmetic.

    Example:
        >>> float(naive_minutes(10.0, 20.0))
        30.0
    """
    return np.asarray(60.0 * np.asarray(charge_ah, dtype=float) / np.asarray(current_a))


# --- what both discharges share: everything below works on flat arrays, one entry a design ---


@dataclass(frozen=True, eq=False)
class _Load:
    """A block of designs and what is drawn from each: watts or amperes.

    Both kinds answer `volts`, the terminal voltage from U and R in mohm, of shape (designs,) or (1, nodes), into an
    array; `meets`, the part of a segment from U0, R0 to U1, R1 at which the landing voltage is met, and whether the
    power gave out; `amps`
    at a terminal voltage; and the `hours` that what was delivered lasted.
    """

    drawn: FloatArray
    landing_v: FloatArray
    last: FloatArray
    start: FloatArray
    extra_mohm: FloatArray
    factor: FloatArray
    capacity_factor: FloatArray

    def rows(self, which: np.ndarray) -> Self:
        """Some of the designs."""
        return type(self)(*(row[which] for row in vars(self).values()))

    def scaled(self, by: float) -> tuple[FloatArray, FloatArray]:
        """What is drawn, times a number, times the factor on R, and times the extra resistance."""
        drawn = by * self.drawn
        return drawn * self.factor, drawn * self.extra_mohm


class _PowerLoad(_Load):
    """Constant power: V = U / 2 + sqrt((U / 2)^2 - P R)."""

    def volts(self, u: FloatArray, r_mohm: FloatArray, out: FloatArray | None = None) -> FloatArray:
        own, extra = self.scaled(1.0e-3)
        half_u = 0.5 * u
        inside = np.multiply(own.reshape(_column_shape(u)), r_mohm, out=out)
        inside += extra.reshape(_column_shape(u))
        np.subtract(half_u * half_u, inside, out=inside)
        np.sqrt(inside, out=inside)
        inside += half_u
        return inside

    def meets(
        self, u0: FloatArray, r0: FloatArray, u1: FloatArray, r1: FloatArray
    ) -> tuple[FloatArray, BoolArray]:
        own, extra = self.scaled(4.0e-3)
        q0, q1 = 0.25 * (own * r0 + extra), 0.25 * (own * r1 + extra)  # P R
        land = self.landing_v
        s0, s1 = u0 - q0 / land - land, u1 - q1 / land - land
        part = s0 / (s0 - s1)
        # U^2 - 4 P R over the segment is a quadratic; its first zero, in the form that is stable
        du, dq = u1 - u0, q1 - q0
        a, b, c = du**2, 2.0 * u0 * du - 4.0 * dq, u0**2 - 4.0 * q0
        stall = 2.0 * c / (np.sqrt(np.maximum(b**2 - 4.0 * a * c, 0.0)) - b)
        first = (u1**2 < 4.0 * q1) & (0.5 * (u0 + stall * du) > land)
        return np.where(first, stall, part), first

    def amps(self, volts: FloatArray) -> FloatArray:
        return self.drawn / volts

    def hours(self, charge_ah: FloatArray, energy_wh: FloatArray) -> FloatArray:
        return _duration(energy_wh, self.drawn)


class _CurrentLoad(_Load):
    """Constant current: V = U - I R."""

    def volts(self, u: FloatArray, r_mohm: FloatArray, out: FloatArray | None = None) -> FloatArray:
        own, extra = self.scaled(1.0e-3)
        drop_v = np.multiply(own.reshape(_column_shape(u)), r_mohm, out=out)
        drop_v += extra.reshape(_column_shape(u))
        return np.subtract(u, drop_v, out=drop_v)

    def meets(
        self, u0: FloatArray, r0: FloatArray, u1: FloatArray, r1: FloatArray
    ) -> tuple[FloatArray, BoolArray]:
        own, extra = self.scaled(1.0e-3)
        s0 = u0 - own * r0 - extra - self.landing_v
        s1 = u1 - own * r1 - extra - self.landing_v
        return s0 / (s0 - s1), np.zeros(self.drawn.shape, dtype=bool)

    def amps(self, volts: FloatArray) -> FloatArray:
        return self.drawn

    def hours(self, charge_ah: FloatArray, energy_wh: FloatArray) -> FloatArray:
        return _duration(charge_ah, self.drawn)


def _solve_many(whole: WholeDischarges, load: _PowerLoad) -> _RunFields:
    """The same as `_solve`, of designs that share the landing voltage: only those that may land before the depth of
    `whole` are worked out from the start."""
    area_v = whole.area_v(*load.scaled(1.0e-3))
    known = ~np.isnan(area_v)
    if known.all():
        return _solve_beyond(whole, area_v, load)
    found: _RunFields = {}

    def put(rows: np.ndarray, fields_found: _RunFields) -> None:
        for name, figures in fields_found.items():
            found.setdefault(name, np.empty(known.shape, dtype=figures.dtype))[rows] = figures

    if known.any():
        put(known, _solve_beyond(whole, area_v[known], load.rows(known)))
    others = np.flatnonzero(~known)
    for first in range(0, len(others), CHUNK):
        rows = others[first : first + CHUNK]
        put(rows, _solve(whole.model, load.rows(rows)))
    return found


def _solve_beyond(whole: WholeDischarges, area_v: FloatArray, load: _PowerLoad) -> _RunFields:
    """The same of designs that reach the depth of `whole`, which is no deeper than their last, by what they swept."""
    model, end = whole.model, load.last
    start_v = load.volts(*model.voltage_and_resistance_at(np.zeros(1)))  # none starts later
    if not np.any(end > whole.last):
        end_u, end_mohm = model.voltage_and_resistance_at(end[:1])
        end_v = load.volts(end_u, end_mohm)
        landed = np.zeros(end.shape, dtype=bool)
        return _run_fields(model, load, end, end_u, end_v, start_v, area_v, landed, landed)
    part = 1.0 - whole.last
    rest = _solve(
        whole.rest,
        replace(load, last=(end - whole.last) / part, capacity_factor=np.ones(end.shape)),
    )
    landed, stalled = rest["landed"], rest["infeasible"]
    end = np.where(landed, whole.last + part * rest["end_depth_of_discharge"], end)
    swept_v = area_v + part * rest["energy_wh"]
    end_u, end_v = rest["end_open_circuit_v"], rest["end_v"]
    return _run_fields(model, load, end, end_u, end_v, start_v, swept_v, landed, stalled)


def _solve(model: CellModel, load: _PowerLoad | _CurrentLoad) -> _RunFields:
    """Find each design's end, integrate its voltage up to there."""
    u, r, last = model.open_circuit_v, model.resistance_mohm, model.depth_of_discharge.size - 1
    count = load.landing_v.size
    start = load.start
    deepest = np.fmax.reduce([load.last, start], axis=None, initial=0.0)
    nodes = 1 + max(1, int(np.ceil(deepest * last)))  # past them no design comes
    padded = np.zeros(count * nodes + 1)  # one more, so that every row has a sum after its end
    v = padded[:-1].reshape(count, nodes)
    load.volts(u[None, :nodes], r[None, :nodes], v)

    enough = v >= load.landing_v[:, None]
    if start.any():
        enough |= np.arange(nodes) <= (start * last)[:, None]
    else:
        enough[:, 0] = True  # the start is looked at by itself
    k = np.maximum(np.argmin(enough, axis=1), 1)
    rows = np.arange(count)
    lands = ~enough[rows, k]
    part, stalls = load.meets(u[k - 1], r[k - 1], u[k], r[k])
    part = np.clip(np.where(lands, part, 1.0), 0.0, 1.0)
    z_land = np.where(lands, np.maximum((k - 1 + part) / last, start), np.inf)

    start_v = load.volts(*model.voltage_and_resistance_at(start))
    below = ~(start_v >= load.landing_v)
    z_land = np.where(below, start, z_land)
    end = np.maximum(np.minimum(z_land, load.last), start)
    landed = z_land <= np.maximum(load.last, start)
    end_u, end_mohm = model.voltage_and_resistance_at(end)
    end_v = load.volts(end_u, end_mohm)
    # where the power gives out U^2 - 4 P R is zero but for rounding, which may leave it below
    stalled = landed & np.where(below, np.isnan(start_v), stalls)
    end_v = np.where(stalled & ~below, 0.5 * end_u, end_v)

    swept = _area(model, load, padded, v, end, end_v)
    if start.any():
        swept = swept - _area(model, load, padded, v, start, start_v)
    return _run_fields(model, load, end, end_u, end_v, start_v, swept, landed, stalled)


def _run_fields(
    model: CellModel,
    load: _PowerLoad | _CurrentLoad,
    end: FloatArray,
    end_u: FloatArray,
    end_v: FloatArray,
    start_v: FloatArray,
    swept_v: FloatArray,
    landed: BoolArray,
    stalled: BoolArray,
) -> _RunFields:
    """What follows from both ends of each discharge and the integral of its voltage over depth."""
    capacity_ah = model.capacity_ah * load.capacity_factor
    charge_ah = capacity_ah * (end - load.start)
    energy_wh = capacity_ah * np.where(end > load.start, swept_v, 0.0)
    return {
        "time_s": 3600.0 * load.hours(charge_ah, energy_wh),
        "charge_ah": charge_ah,
        "energy_wh": energy_wh,
        "end_depth_of_discharge": end,
        "end_v": end_v,
        "end_a": load.amps(end_v),
        "end_open_circuit_v": np.broadcast_to(end_u, end.shape),
        "start_v": start_v,
        "start_a": load.amps(start_v),
        "landed": landed,
        "infeasible": stalled,
    }


def _area(
    model: CellModel,
    load: _PowerLoad | _CurrentLoad,
    padded: FloatArray,
    v: FloatArray,
    z: FloatArray,
    v_at: FloatArray,
) -> FloatArray:
    """Integral of V from 0 to each z: trapezoids over whole segments, Simpson's rule over the last.

    Args:
        padded, v: V at the nodes, design after design and one figure more; a row for each design.
        z, v_at: depth of each design, and V there.
    """
    count, last = z.size, model.depth_of_discharge.size - 1
    rows, m = np.arange(count), np.minimum((z * last).astype(np.intp), last)
    spans = np.empty(2 * count, dtype=np.intp)
    spans[::2] = rows * v.shape[1]
    spans[1::2] = spans[::2] + m + 1
    total = np.add.reduceat(padded, spans)[::2]
    whole = (total - 0.5 * (v[:, 0] + v[rows, m])) / last
    z_mid = 0.5 * (m / last + z)
    mid = load.volts(*model.voltage_and_resistance_at(z_mid))
    return np.asarray(whole + (z - m / last) * (v[rows, m] + 4.0 * mid + v_at) / 6.0)


def _in_blocks(
    run: type[_R],
    solve: Callable[[FloatArray], _RunFields],
    inputs: FloatArray,
    shape: tuple[int, ...],
    chunk: int = CHUNK,
) -> _R:
    """Work the designs a block at a time; put the results back in the callers' shape."""
    starts = range(0, max(inputs.shape[1], 1), chunk)
    blocks = [_where_known(solve, inputs[:, first : first + chunk]) for first in starts]

    def whole(name: str) -> np.ndarray:
        parts = [block[name] for block in blocks]
        return parts[0] if len(parts) == 1 else np.concatenate(parts)

    return run(**{f.name: whole(f.name).reshape(shape)[()] for f in fields(run)})


def _where_known(solve: Callable[[FloatArray], _RunFields], block: FloatArray) -> _RunFields:
    """A block worked out; NaN and False where an input is not known."""
    missing = np.isnan(block)
    any_missing = missing.any()
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        found = solve(np.where(missing, 0.5, block) if any_missing else block)
    if not any_missing:
        return found
    unknown = missing.any(axis=0)
    return {
        name: np.where(unknown, False if figures.dtype == bool else np.nan, figures)
        for name, figures in found.items()
    }


def _column_shape(like: FloatArray) -> tuple[int, ...]:
    return (-1, 1) if like.ndim == 2 else (-1,)


def _duration(amount: FloatArray, rate: FloatArray) -> FloatArray:
    """Amount over rate: without any rate what is there lasts for ever, and nothing lasts no time."""
    return np.where(amount > 0, amount / rate, 0.0)


def _inputs(
    drawn: tuple[str, Number, str],
    landing_v: Number,
    last_depth_of_discharge: Number,
    start_depth_of_discharge: Number = 0.0,
    extra_mohm: Number = 0.0,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
) -> tuple[tuple[int, ...], FloatArray]:
    """The arguments of a discharge, flat; those with a value out of range are refused all at once."""
    key, value, right = drawn
    ranges: dict[str, tuple[Number, float, float, str]] = {
        key: (value, 0.0, FINITE, right),
        "landing_v": (landing_v, 1e-9, FINITE, "above 0 V"),
        "last_depth_of_discharge": (last_depth_of_discharge, 0.0, 1.0, "0 to 1"),
        "start_depth_of_discharge": (start_depth_of_discharge, 0.0, 1.0, "0 to 1"),
        "extra_mohm": (extra_mohm, 0.0, FINITE, "0 mohm or more"),
        "resistance_factor": (resistance_factor, 0.0, FINITE, "0 or more"),
        "capacity_factor": (capacity_factor, 0.0, FINITE, "0 or more"),
    }
    refuse(range_problems(ranges, nan_passes=True))
    return flat(*(figure for figure, *_ in ranges.values()))
