"""One cell through phases of constant power, without a time step.

The model's open-circuit voltage U and resistance R run straight between its nodes, so that in a piece between two of
them V = (U + s) / 2 with s^2 = U^2 - 4 P R a quadratic in depth, whose root has an integral in closed form. Time
is that integral times charge over power; it only rises, so that the depth at a time is its inverse.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from workbook.battery.discharge import PowerRun, constant_power
from workbook.battery.model import CellModel
from workbook.errors import refuse
from workbook.numbers import FINITE, FloatArray, Number, range_problems

NEWTON_STEPS, NEAR_V = 20, 1e-9
"""At the most, to find the depth at a time, and so near that the next step finds it; two are needed."""

SMALL_Q = 1e-4
"""Up to here the first terms of a series are as good as its sum."""


@dataclass(frozen=True, eq=False)
class PowerPhase:
    """One cell through a phase: at its start, at the model's nodes that it passes, and at its end.

    Attributes:
        time_s: since the phase began.
        depth_of_discharge, voltage_v, current_a: of the cell under the power; where that is out of reach, voltage
            and current are those of the most that there is.
        heat_w: made inside the cell, by its own resistance.
        heat_j: the same from each of the depths to the next.
        flown: whether the cell lasts for it, down to its cutoff voltage.
        ends_by, ends_s: why and when the planned end is passed; empty and NaN where it is not.
    """

    time_s: FloatArray
    depth_of_discharge: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    heat_w: FloatArray
    heat_j: FloatArray
    flown: bool
    ends_by: str
    ends_s: float


def power_phases(
    model: CellModel,
    power_w: Number,
    duration_s: Number,
    *,
    cutoff_v: float,
    landing_v: Number,
    last_depth_of_discharge: float,
    extra_mohm: float = 0.0,
    resistance_factor: float = 1.0,
    capacity_factor: float = 1.0,
) -> tuple[PowerPhase, ...]:
    """One full cell through phases in a row, down to its cutoff voltage or the last of its charge.

    Time and depth are exact for the model. Other than by rounding they differ from `scipy.integrate.solve_ivp`
    by that solver's tolerance.

    Args:
        model: the cell.
        power_w, duration_s: of each phase, per cell, 0 or more.
        cutoff_v: lowest voltage under load, above 0.
        landing_v, last_depth_of_discharge: the planned end of each phase and of all; it is reported and flown past.
        extra_mohm, resistance_factor, capacity_factor: as in `constant_power`.

    Returns:
        The phases up to the one in which the cell is empty, that one included.

    Raises:
        InputError: an argument out of its range.

    Source: source with a resistance at constant power, V^2 - U V + P R = 0; integral of the root of a quadratic.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> model = find_cell("Bittern").model
        >>> ends = {"cutoff_v": 2.5, "landing_v": 3.0, "last_depth_of_discharge": 0.9}
        >>> climb, hover = power_phases(
        ...     model, np.array([30.0, 15.0]), np.array([60.0, 4200.0]), **ends
        ... )
        >>> print(
        ...     climb.depth_of_discharge[-1].round(4),
        ...     hover.flown,
        ...     hover.ends_by,
        ...     round(hover.ends_s),
        ... )
        0.0248 False reserve 3844
    """
    refuse(range_problems({"duration_s": (duration_s, 0.0, FINITE, "0 s or more")}))
    power, length_s, lands_v = np.broadcast_arrays(
        *np.atleast_1d(power_w, duration_s, np.fmax(landing_v, cutoff_v))
    )
    cell = _LoadedCell(model, extra_mohm, resistance_factor)
    curves = cell.curves(power)
    capacity_as = 3600.0 * model.capacity_ah * capacity_factor
    with np.errstate(divide="ignore", invalid="ignore"):  # cold may leave no charge
        areas_v = np.where(power > 0.0, power * length_s / capacity_as, 0.0)
    spans = _spans(curves, areas_v.tolist())
    ends = constant_power(
        model,
        power,
        np.stack([np.full_like(lands_v, cutoff_v), lands_v]),
        np.array([[1.0], [last_depth_of_discharge]]),
        extra_mohm=extra_mohm,
        resistance_factor=resistance_factor,
        capacity_factor=capacity_factor,
        start_depth_of_discharge=np.array([span.start for span in spans]),
    )
    phases: list[PowerPhase] = []
    for k, (curve, span) in enumerate(zip(curves, spans, strict=True)):
        seconds = capacity_as / curve.power_w if curve.power_w else 0.0
        phases.append(
            _phase(curve, span, float(length_s[k]), seconds, _PhaseEnds.from_runs(ends, k))
        )
        if not phases[-1].flown:
            break
    return tuple(phases)


@dataclass(frozen=True, eq=False)
class _Span:
    """Depths between which a phase would run, were there no end of voltage, and the integral of the voltage there."""

    start: float
    end: float
    start_v: float
    end_v: float


def _spans(curves: list[_Curve], areas_v: list[float]) -> list[_Span]:
    """That of each phase; its end is infinite past the last of the charge."""
    spans, end = [], 0.0
    for curve, area_v in zip(curves, areas_v, strict=True):
        start = min(end, 1.0)
        start_v = curve.area_at(start)
        end = max(curve.depth_at(start_v + area_v), start)
        spans.append(_Span(start, end, start_v, start_v + area_v))
    return spans


@dataclass(frozen=True, eq=False)
class _PhaseEnds:
    """Where a phase ends at the cutoff voltage, and where as planned, and why."""

    floor: float
    planned: float
    reason: str
    floor_met: bool
    planned_met: bool

    @classmethod
    def from_runs(cls, runs: PowerRun, number: int) -> _PhaseEnds:
        """Of one phase; `runs` has a row for either end."""
        floor, planned = runs.end_depth_of_discharge[:, number].tolist()
        met = runs.landed[:, number] & (runs.charge_ah[:, number] == 0.0)
        reason = "landing voltage" if runs.landed[1, number] else "reserve"
        if runs.infeasible[1, number]:
            reason = "power out of reach"
        return cls(floor, planned, reason, *met.tolist())


def _phase(
    curve: _Curve, span: _Span, duration_s: float, seconds: float, ends: _PhaseEnds
) -> PowerPhase:
    """A phase as far as the cell lasts, `seconds` for each volt of its area."""
    flown = span.end <= ends.floor and not ends.floor_met
    if not flown:
        span = replace(span, end=ends.floor, end_v=curve.area_at(ends.floor))
    passed = not flown or ends.planned_met or ends.planned < span.end
    depth, area_v = curve.nodes_of(span)
    time_s = seconds * (area_v - span.start_v)
    if flown:  # without power the area says nothing of the time
        time_s[-1] = duration_s
    halves = np.interp(np.arange(2 * depth.size - 1) / 2.0, np.arange(depth.size), depth)
    voltage_v, current_a, lost_v = curve.cell.loaded(halves, curve.power_w)
    swept_v = (lost_v[:-1:2] + 4.0 * lost_v[1::2] + lost_v[2::2]) / 6.0
    return PowerPhase(
        time_s,
        depth,
        voltage_v[::2],
        current_a[::2],
        heat_w=(current_a * lost_v)[::2],
        heat_j=seconds * curve.power_w * np.diff(depth) * swept_v,
        flown=flown,
        ends_by=ends.reason if passed else "",
        ends_s=seconds * (curve.area_at(ends.planned) - span.start_v) if passed else np.nan,
    )


@dataclass(frozen=True, eq=False)
class _LoadedCell:
    """A cell as its load sees it."""

    model: CellModel
    extra_mohm: float
    resistance_factor: float

    def source(self, depth: Number, power_w: Number) -> tuple[FloatArray, FloatArray, FloatArray]:
        """U, the cell's own resistance in ohm, and s = sqrt(U^2 - 4 P R), 0 where it has no root."""
        rest_v, own_mohm = self.model.voltage_and_resistance_at(depth)
        own_ohm = own_mohm * (self.resistance_factor / 1000.0)
        square = rest_v**2 - 4.0 * power_w * (own_ohm + self.extra_mohm / 1000.0)
        return rest_v, own_ohm, np.sqrt(np.maximum(square, 0.0))

    def loaded(
        self, depth: FloatArray, power_w: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Voltage and current under a power, the most that there is where it is out of reach, and what of the
        voltage is lost in the cell's own resistance."""
        rest_v, own_ohm, root_v = self.source(depth, power_w)
        voltage_v = 0.5 * (rest_v + root_v)
        with np.errstate(divide="ignore"):
            most_a = 0.5 * rest_v / (own_ohm + self.extra_mohm / 1000.0)
        current_a = np.minimum(power_w / voltage_v, most_a)
        return voltage_v, current_a, current_a * own_ohm

    def curves(self, power_w: FloatArray) -> list[_Curve]:
        """The cell under each of some powers."""
        nodes = self.model.depth_of_discharge
        rest_v, _, root_v = self.source(nodes, power_w[:, None])
        mean_v = _mean_v(rest_v[:-1], rest_v[1:], root_v[:, :-1], root_v[:, 1:])
        area_v = np.zeros(root_v.shape)
        np.cumsum(np.diff(nodes) * mean_v, axis=1, out=area_v[:, 1:])
        return [_Curve(self, *row) for row in zip(power_w.tolist(), root_v, area_v, strict=True)]


@dataclass(frozen=True, eq=False)
class _Curve:
    """A cell under one power; at the model's nodes s, and the integral of the voltage over depth up to there."""

    cell: _LoadedCell
    power_w: float
    root_v: FloatArray
    area_v: FloatArray

    def area_at(self, depth: float) -> float:
        """The integral up to a depth of 0 to 1."""
        return self._area_and_voltage(depth)[0]

    def depth_at(self, area_v: float) -> float:
        """The depth up to which the integral has a value of 0 or more; infinite past the last."""
        if area_v > self.area_v[-1]:
            return np.inf
        depth = float(np.interp(area_v, self.area_v, self.cell.model.depth_of_discharge))
        for _ in range(NEWTON_STEPS):
            area, voltage_v = self._area_and_voltage(depth)
            depth = min(max(depth - (area - area_v) / voltage_v, 0.0), 1.0)
            if abs(area - area_v) <= NEAR_V:
                break
        return depth

    def nodes_of(self, span: _Span) -> tuple[FloatArray, FloatArray]:
        """The ends of a span and the nodes between them, and the integral up to each."""
        nodes = self.cell.model.depth_of_discharge
        inside = slice(
            np.searchsorted(nodes, span.start, "right"), np.searchsorted(nodes, span.end)
        )
        area_v = [span.start_v], self.area_v[inside], [span.end_v]
        return np.concatenate([[span.start], nodes[inside], [span.end]]), np.concatenate(area_v)

    def _area_and_voltage(self, depth: float) -> tuple[float, float]:
        model = self.cell.model
        k = max(int(np.searchsorted(model.depth_of_discharge, depth)) - 1, 0)
        rest_v, _, root_v = self.cell.source(depth, self.power_w)
        mean_v = _mean_v(model.open_circuit_v[k], rest_v, self.root_v[k], root_v)
        area_v = self.area_v[k] + (depth - model.depth_of_discharge[k]) * mean_v
        return float(area_v), float(0.5 * (rest_v + root_v))


def _mean_v(first_u: Number, last_u: Number, first_root: Number, last_root: Number) -> FloatArray:
    """Mean of V = (U + s) / 2 over pieces in which U and s^2 - U^2 run straight.

    With a = (change of U)^2, d the change and S the sum of s at both ends, and q = a / S^2, the mean of s is
    S / 2 + e(q) (d^2 - a) / (4 S), where e(q) = 2/3 + 2 q / 15 + 2 q^2 / 35 + ...

    Source: integral of the root of a quadratic, written so that a may vanish; worked out for this.
    """
    bend = np.square(last_u - first_u)
    both = np.maximum(first_root + last_root, 1e-150)
    q = np.minimum(bend / both**2, 1.0 - 1e-12)  # 1 where the root touches 0 inside
    share = 2.0 / 3.0 + q * (2.0 / 15.0 + q * (2.0 / 35.0))
    if np.any(q > SMALL_Q):
        large = np.sqrt(np.maximum(q, SMALL_Q))
        closed = (1.0 - (1.0 - large**2) * np.arctanh(large) / large) / large**2
        share = np.where(q > SMALL_Q, closed, share)
    mean_root = 0.5 * both + share * ((last_root - first_root) ** 2 - bend) / (4.0 * both)
    most = np.maximum(first_root, last_root)
    kept = np.minimum(np.maximum(mean_root, 0.0), most)  # where there is no root
    return np.asarray(0.25 * (first_u + last_u) + 0.5 * kept)
