"""The margin budget: what each allowance takes, and what is left, in three readings.

Expected (every line as expected), everything at its worst together (every line at whichever of its ends is worse
for the figure read), and a distribution (draws of all lines together). The plan, with no allowance at
all, stands beside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.quantities import Quantity, results
from workbook.sizing.budget_lines import (
    FACTORS,
    BudgetLine,
    apply,
    check_lines,
    draw_lines,
)
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.figures import plain
from workbook.sizing.limits import BY_CELL_SHARE, limits
from workbook.sizing.origins import lines_of
from workbook.sizing.parallel import Progress, parallel_map, slices
from workbook.sizing.sensitivity import Sensitivity, variance_shares
from workbook.working import Step, step

MOST_DRAWS = 1_000_000
SHARES = (0.05, 0.5, 0.95)
"""Points of the distribution that a reading gives."""


@dataclass(frozen=True)
class Reading:
    """One figure, or the margin to one limit, read in the plan and in three ways.

    Attributes:
        quantity: what is read.
        plan: without any allowance.
        expected: every line as expected.
        worst: every line at its worse end for this figure; NaN where it is undefined (the craft no
            longer flies on its thrust table, say).
        p05, p50, p95: so many percent of the draws lie below, among those where it is defined.
        undefined_fraction: share of the draws in which it is undefined.
        broken_fraction: of a limit, share of the draws that break it, the undefined among them.
    """

    quantity: Quantity
    plan: float
    expected: float
    worst: float
    p05: float
    p50: float
    p95: float
    undefined_fraction: float
    broken_fraction: float = 0.0

    @property
    def spread(self) -> float:
        """Width from the 5 % to the 95 % point."""
        return self.p95 - self.p05


@dataclass(frozen=True)
class Cost:
    """What one line takes from the flight time.

    Attributes:
        line: the line.
        left_expected_min: what is left of the flight time after this line and those before it, as
            expected.
        left_worst_min: likewise, each at its worse end.
        left_middle_min: likewise, each at its median: as many draws take more as take less.
    """

    line: BudgetLine
    left_expected_min: float
    left_worst_min: float
    left_middle_min: float


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """How many flights last how long.

    Attributes:
        time_min: shape (n,), rising.
        share_pct: of the flights drawn, those that last at least so long; shape (n,), falling.
    """

    time_min: FloatArray
    share_pct: FloatArray


def _reading_dict(reading: Reading) -> dict[str, Any]:
    points = ("plan", "expected", "worst", "p05", "p50", "p95")
    shares = ("undefined_fraction", "broken_fraction")
    return {
        "key": reading.quantity.key,
        "name": reading.quantity.label,
        **plain({name: getattr(reading, name) for name in (*points, *shares)}),
    }


def survival_curve(times_min: FloatArray, points: int = 101) -> SurvivalCurve:
    """The share of flights that last at least so long, from all of them down.

    Args:
        times_min: drawn flight times, shape (draws,); NaN for those that do not fly, which last not
            at all.
        points: 2 or more, evenly spread over the shares.

    Raises:
        InputError: no flight time is defined.

    Source: the empirical distribution turned about.

    Example:
        >>> survival_curve(np.array([20.0, 30.0, 25.0, np.nan]), 3).share_pct
        array([75., 50., 25.])
    """
    known = np.sort(times_min[~np.isnan(times_min)])
    if not len(known):
        raise InputError("the flight time is undefined in every draw, so no flight lasts.")
    places = np.unique(np.round(np.linspace(0, len(known) - 1, points)).astype(int))
    longer = len(known) - np.searchsorted(known, known[places], side="left")
    return SurvivalCurve(known[places], 100.0 * longer / len(times_min))


@dataclass(frozen=True, eq=False)
class Budget:
    """A design's margin budget.

    Attributes:
        design, lines: what it is of.
        readings: one a figure, as in `quantities_read`.
        limits: the margin to each limit of the design, percent.
        costs: one a line, in order; the last one's `left` figures are the flight time that is left.
        samples: the draws: figure to array of shape (draws,).
        seed: of the draws; the same seed gives the same figures.
    """

    design: Design[Any]
    lines: tuple[BudgetLine, ...]
    readings: tuple[Reading, ...]
    limits: tuple[Reading, ...]
    costs: tuple[Cost, ...]
    samples: Mapping[str, FloatArray]
    seed: int

    def reading(self, key: str) -> Reading:
        """The reading of a figure by its key."""
        return next(r for r in self.readings if r.quantity.key == key)

    def limit(self, key: str) -> Reading:
        """The reading of a limit's margin by the limit's key."""
        return next(r for r in self.limits if r.quantity.key == margin_key(key))

    @property
    def draws(self) -> int:
        """How many flights were drawn."""
        return len(self.samples["endurance_min"])

    @property
    def met_pct(self) -> float:
        """Share of the draws in which the asked flight time is met; NaN where none is asked."""
        if self.design.flight.wanted_min is None:
            return np.nan
        return 100.0 * (1.0 - self.limit("endurance").broken_fraction)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix; None where a figure is undefined."""
        return {
            "design": self.design.name,
            "draws": self.draws,
            "seed": self.seed,
            **plain({"met_pct": self.met_pct}),
            "lines": [
                {
                    "key": cost.line.key,
                    "name": cost.line.name,
                    **plain({end: getattr(cost.line, end) for end in ("low", "expected", "high")}),
                    "unit": cost.line.unit,
                    **plain({k: getattr(cost, k) for k in ("left_expected_min", "left_worst_min")}),
                }
                for cost in self.costs
            ],
            "readings": [_reading_dict(reading) for reading in (*self.readings, *self.limits)],
        }

    def lasting_pct(self, minutes: float) -> float:
        """Share of the drawn flights that last at least so long, percent; those that do not fly do not last."""
        return 100.0 * float(np.mean(self.samples["endurance_min"] >= minutes))

    def survival_curve(self) -> SurvivalCurve:
        """How many of the drawn flights last how long."""
        return survival_curve(self.samples["endurance_min"])

    def sensitivity(
        self, draws: int = 1024, progress: Progress | None = None
    ) -> dict[str, Sensitivity]:
        """Which lines make the spread of each figure.

        Args:
            draws: as in `variance_shares`; drawn anew.
            progress: see `workbook.sizing.parallel`.

        Returns:
            A `Sensitivity` for each figure; one that is undefined with every line as expected (the
            temperature of a cell without a size) is left out.

        Raises:
            InputError: as `variance_shares`; stopped by `progress`.
        """
        known = [r.quantity.key for r in self.readings if np.isfinite(r.expected)]
        if "endurance_min" not in known:
            raise InputError(
                "the design does not fly with every line as expected, so there is no spread to share "
                "out."
            )

        def figures(values: FloatArray) -> dict[str, FloatArray]:
            samples = evaluate(self.design, self.lines, values, progress=progress).samples
            return {key: samples[key] for key in known}

        return variance_shares(figures, self.lines, draws=draws)

    def working(self) -> tuple[Step, ...]:
        """How the expected flight time, the one with everything bad, and the chances come about."""
        time, lines = self.reading("endurance_min"), len(self.lines)
        steps = [
            step("endurance_plan_min", time.plan, budget=self),
            *_factor_steps(self.design, self.lines),
            step(
                "endurance_expected_min", time.expected, time=time, taken=time.plan - time.expected
            ),
            step("endurance_worst_min", time.worst, lines=lines),
            step("endurance_p05_min", time.p05, budget=self),
            step("endurance_spread_min", time.spread, time=time),
        ]
        if not np.isnan(self.met_pct):
            met = step("met_pct", self.met_pct, met=self.met_pct * self.draws / 100.0, budget=self)
            steps.append(met)
        return tuple(steps)


def _factor_steps(design: Design[Any], lines: Sequence[BudgetLine]) -> list[Step]:
    """Each factor that lines act on, as expected."""
    expected = np.array([[line.expected] for line in lines]).reshape(len(lines), 1)
    allowances, steps = apply(design, lines, expected).allowances, []
    for name in FACTORS:
        shares = [
            line.expected * effect.gain
            for line in lines
            for effect in line.applies_to
            if effect.figure == name and effect.gain * line.expected
        ]
        if shares:
            factor = step(
                "expected_factor",
                np.asarray(getattr(allowances, name)).item(),
                key=name,
                shares=" x ".join(f"(1 {'-' if s < 0 else '+'} {abs(s):.4g} %)" for s in shares),
            )
            steps.append(factor)
    return steps


def quantities_read(design: Design[Any]) -> tuple[Quantity, ...]:
    """The figures that a design's budget reads."""
    reserve = craft_type_of(design).reserve_key
    return results(
        ("endurance_min", "peak_cell_a", reserve, "end_cell_temperature_c", "landing_cell_v")
    )


def margin_key(limit_key: str) -> str:
    """Under which the margin to a limit is sampled.

    Example:
        >>> margin_key("endurance")
        'endurance_margin_pct'
    """
    return f"{limit_key}_margin_pct"


@dataclass(frozen=True, eq=False)
class Outcome:
    """Figures and limits of many draws, arrays of shape (n,).

    Attributes:
        samples: figures by their keys (`quantities_read`), then margins by `margin_key`; NaN where
            undefined.
        broken: where each limit is broken, by the margin's key.
        margins: the margin of each limit as a quantity, in order.
    """

    samples: Mapping[str, FloatArray]
    broken: Mapping[str, np.ndarray]
    margins: tuple[Quantity, ...]


def evaluate(
    design: Design[Any],
    lines: Sequence[BudgetLine],
    values: FloatArray,
    *,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Figures and limits of a design for many values of its lines.

    Args:
        design: a single design.
        lines: K lines, checked.
        values: x of each line, shape (K, n).
        threads, progress: see `workbook.sizing.parallel`.

    Raises:
        InputError: the work was stopped by `progress`.
    """
    craft_type = craft_type_of(design)

    def work(rows: slice) -> Outcome:
        applied = apply(design, lines, values[:, rows])
        point = craft_type.operate(applied.design, applied.allowances)
        samples = {
            "endurance_min": point.endurance_min,
            "peak_cell_a": point.peak_cell_a * applied.cell_share_factor,
            craft_type.reserve_key: point.reserve,
            "end_cell_temperature_c": point.end_cell_c,
            "landing_cell_v": point.run.end_v,
        }
        broken, margins = {}, []
        for limit in limits(applied.design, point):
            if limit.unchecked:
                continue
            if limit.key in BY_CELL_SHARE:
                limit = replace(limit, demand=limit.demand * applied.cell_share_factor)
            key = margin_key(limit.key)
            samples[key], broken[key] = limit.sound_margin_pct, limit.broken
            margins.append(Quantity(key, limit.name, 0, "high"))
        shape = (rows.stop - rows.start,)
        return Outcome(
            {k: np.broadcast_to(np.asarray(v, dtype=float), shape) for k, v in samples.items()},
            {k: np.broadcast_to(v, shape) for k, v in broken.items()},
            tuple(margins),
        )

    rows = slices(values.shape[1])
    parts = tuple(parallel_map(work, rows, threads=threads, progress=progress))
    if len(parts) < len(rows):
        raise InputError("the margin budget was stopped before its end.")
    samples, broken = (
        {key: np.concatenate([getattr(p, part)[key] for p in parts]) for key in first}
        for part, first in (("samples", parts[0].samples), ("broken", parts[0].broken))
    )
    return Outcome(samples, broken, parts[0].margins)


def budget(
    design: Design[Any],
    lines: Sequence[BudgetLine] | None = None,
    *,
    draws: int = 4096,
    seed: int = 1,
    progress: Progress | None = None,
) -> Budget:
    """Work out a design's margin budget.

    Args:
        design: a single design.
        lines: the allowances; where left out, the standard ones as the design's origins leave them.
        draws: how many flights for the distribution, 1 to `MOST_DRAWS`.
        seed: the same seed gives the same figures.
        progress: see `workbook.sizing.parallel`.

    Returns:
        The budget. The reading of everything at its worst together takes each line by itself to find its worse
        end, which is exact where a figure only rises or only falls with the line.

    Raises:
        InputError: lines that cannot be used; stopped by `progress`.

    Source: worst case and Monte Carlo propagation (JCGM 101:2008).

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> design = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> found = budget(design, draws=1024)
        >>> time = found.reading("endurance_min")
        >>> time.worst < time.p05 < time.p50 < time.p95 < 1.1 * time.plan
        True
    """
    lines = lines_of(design) if lines is None else tuple(lines)
    check_lines(lines, design)
    if not 1 <= draws <= MOST_DRAWS:
        raise InputError(f"{draws} flights cannot be drawn; 1 to {MOST_DRAWS} can.")
    corners = evaluate(design, lines, _corners(lines), threads=1)
    drawn = evaluate(design, lines, draw_lines(lines, draws, seed), progress=progress)
    read = (*quantities_read(design), *corners.margins)
    ends = np.array([_worse_ends(corners.samples[q.key], q.better, lines) for q in read])
    worst = evaluate(design, lines, ends.reshape(len(read), len(lines)).T, threads=1)
    readings = tuple(
        _reading(quantity, corners, worst.samples[quantity.key][k], drawn)
        for k, quantity in enumerate(read)
    )
    figures = len(read) - len(corners.margins)
    return Budget(
        design,
        lines,
        readings[:figures],
        readings[figures:],
        _costs(design, lines, ends[0]),
        drawn.samples,
        seed,
    )


def _reading(quantity: Quantity, corners: Outcome, worst: float, drawn: Outcome) -> Reading:
    key = quantity.key
    samples, broken = drawn.samples[key], drawn.broken.get(key)
    known = samples[~np.isnan(samples)]
    plan, expected = corners.samples[key][:2]
    return Reading(
        quantity,
        float(plan),
        float(expected),
        float(worst),
        *_points(known),
        1.0 - len(known) / len(samples),
        0.0 if broken is None else float(np.mean(broken)),
    )


def _points(known: FloatArray) -> tuple[float, float, float]:
    """The points of a distribution; NaN of nothing. Endless margins are ordered too."""
    if not len(known):
        return np.nan, np.nan, np.nan
    if np.isfinite(known).all():
        low, middle, high = np.quantile(known, SHARES)
    else:
        low, middle, high = np.sort(known)[[int(share * (len(known) - 1)) for share in SHARES]]
    return float(low), float(middle), float(high)


def _corners(lines: Sequence[BudgetLine]) -> FloatArray:
    """The plan, all as expected, then each line alone at low and at high, shape (K, 2 + 2 K)."""
    count = len(lines)
    values = np.zeros((count, 2 + 2 * count))
    for k, line in enumerate(lines):
        values[k, 1] = line.expected
        values[k, 2 + 2 * k : 4 + 2 * k] = line.low, line.high
    return values


def _worse_ends(samples: FloatArray, better: str, lines: Sequence[BudgetLine]) -> FloatArray:
    """Each line's worse end for a figure; undefined counts as the worst of all."""
    good = samples[2:] if better == "high" else -samples[2:]
    good = np.where(np.isnan(good), -np.inf, good)
    low, high = (np.array([getattr(line, end) for line in lines]) for end in ("low", "high"))
    return np.where(good[::2] < good[1::2], low, high)


def _costs(design: Design[Any], lines: Sequence[BudgetLine], ends: FloatArray) -> tuple[Cost, ...]:
    """What is left of the flight time as the lines are put in one after the other."""
    count = len(lines)
    if not count:
        return ()
    so_far = np.triu(np.ones((count, count)))  # column k holds the lines 0 to k
    expected = np.array([line.expected for line in lines])
    middle = np.array([line.ppf(np.array(0.5)) for line in lines])
    values = np.concatenate([so_far * x[:, None] for x in (expected, ends, middle)], axis=1)
    left = evaluate(design, lines, values, threads=1).samples["endurance_min"]
    return tuple(Cost(line, *(float(x) for x in left[k::count])) for k, line in enumerate(lines))
