"""The margin budget: what each allowance takes, and what is left, in three readings.

Expected (every line as expected), everything bad at once (every line at whichever of its ends is worse
for the figure read), and a distribution (draws of all lines together). The plan, with no allowance at
all, stands beside them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import qmc

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.quantities import Quantity, results
from workbook.sizing.budget_lines import STANDARD_LINES, Applied, BudgetLine, apply, check_lines
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design
from workbook.sizing.limits import Limit, limits
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.parallel import Progress, parallel_map, slices

SHARES = (0.05, 0.5, 0.95)
"""Points of the distribution that are told."""

BY_CELL_SHARE = ("continuous_cell_current", "burst_cell_current")
"""Limits whose demand the worst cell of a parallel group sets."""


def figures_of(design: Design[Any]) -> tuple[Quantity, ...]:
    """The figures that a design's budget reads."""
    reserve = craft_type_of(design).reserve_key
    return results(
        ("endurance_min", "peak_cell_a", reserve, "end_cell_temperature_c", "landing_cell_v")
    )


@dataclass(frozen=True)
class Reading:
    """One figure, read in the plan and in three ways.

    Attributes:
        figure: what is read.
        plan: without any allowance.
        expected: every line as expected.
        worst: every line at its worse end for this figure; NaN where it cannot be told (the craft no
            longer flies on its thrust table, say).
        p05, p50, p95: so many percent of the draws lie below, among those that can be told.
        untold_share: share of the draws in which it cannot be told.
    """

    figure: Quantity
    plan: float
    expected: float
    worst: float
    p05: float
    p50: float
    p95: float
    untold_share: float


@dataclass(frozen=True)
class LimitReading:
    """The margin to one limit, percent, and the chance that it is broken.

    Attributes:
        key, name: of the limit.
        plan_pct, expected_pct, worst_pct: its margin; NaN where it cannot be told, which is broken.
        p05_pct: 95 % of the draws that can be told have more.
        broken_share: share of the draws that break it, those that cannot be told among them.
    """

    key: str
    name: str
    plan_pct: float
    expected_pct: float
    worst_pct: float
    p05_pct: float
    broken_share: float


@dataclass(frozen=True)
class Cost:
    """What one line takes from the flight time.

    Attributes:
        line: the line.
        alone_min: flight time lost when this line alone is at its worse end.
        left_expected_min: what is left of the flight time after this line and those before it, as
            expected.
        left_worst_min: likewise, each at its worse end.
    """

    line: BudgetLine
    alone_min: float
    left_expected_min: float
    left_worst_min: float


@dataclass(frozen=True, eq=False)
class MarginBudget:
    """A design's margin budget.

    Attributes:
        design, lines: what it is of.
        readings: one a figure, as in `figures_of`.
        limits: one a limit of the design, and the cell's highest temperature.
        costs: one a line, in order; the last one's `left` figures are the flight time that is left.
        met_share: share of the draws in which the asked flight time is met; None where none is asked.
        samples: the draws: figure to array of shape (draws,).
        values: the draws: line to x, shape (draws,).
        draws, seed: how many and which; the same seed gives the same figures.
        allowances: what was allowed for besides the lines.
    """

    design: Design[Any]
    lines: tuple[BudgetLine, ...]
    readings: tuple[Reading, ...]
    limits: tuple[LimitReading, ...]
    costs: tuple[Cost, ...]
    met_share: float | None
    samples: dict[str, FloatArray]
    values: dict[str, FloatArray]
    draws: int
    seed: int
    allowances: Allowances

    def reading(self, key: str) -> Reading:
        """The reading of a figure by its key."""
        return next(r for r in self.readings if r.figure.key == key)

    def limit(self, key: str) -> LimitReading:
        """The reading of a limit by its key."""
        return next(r for r in self.limits if r.key == key)


@dataclass(frozen=True, eq=False)
class Outcome:
    """Figures and limits of many draws, arrays of shape (n,).

    Attributes:
        figures: by their keys (`figures_of`).
        margins: margin of each limit in percent, by its key; NaN where it cannot be told.
        broken: where each limit is broken, by its key.
        names: limits in words, by key.
    """

    figures: dict[str, FloatArray]
    margins: dict[str, FloatArray]
    broken: dict[str, np.ndarray]
    names: dict[str, str]


def _figures(applied: Applied, point: Any) -> dict[str, FloatArray]:
    design = applied.design
    return {
        "endurance_min": np.asarray(point.endurance_min),
        "peak_cell_a": point.peak_cell_a * applied.cell_share_factor,
        craft_type_of(design).reserve_key: point.reserve,
        "end_cell_temperature_c": np.asarray(point.end_cell_c),
        "landing_cell_v": np.asarray(point.run.end_v),
    }


def evaluate(
    design: Design[Any],
    lines: Sequence[BudgetLine],
    values: FloatArray,
    *,
    allowances: Allowances = NO_ALLOWANCES,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Figures and limits of a design for many values of its lines.

    Args:
        design: a single design.
        lines: K lines, checked.
        values: x of each line, shape (K, n).
        allowances: what is allowed for besides the lines.
        threads, progress: see `workbook.sizing.parallel`.

    Raises:
        InputError: the work was stopped by `progress`.
    """

    craft_type = craft_type_of(design)

    def work(at: slice) -> Outcome:
        applied = apply(design, lines, values[:, at], allowances)
        point = craft_type.operate(applied.design, applied.allowances)
        figures = _figures(applied, point)
        found = limits(applied.design, point)
        count = at.stop - at.start
        margins, broken, names = {}, {}, {}
        for limit in found:
            if limit.key in BY_CELL_SHARE:
                limit = _shared(limit, applied)
            margins[limit.key] = _full(limit.sound_margin_pct, count)
            broken[limit.key] = np.broadcast_to(limit.broken, (count,))
            names[limit.key] = limit.name
        return Outcome({k: _full(v, count) for k, v in figures.items()}, margins, broken, names)

    rows = slices(values.shape[1])
    parts = parallel_map(work, rows, threads=threads, progress=progress)
    if len(parts) < len(rows):
        raise InputError("the margin budget was stopped before its end.")
    first = parts[0]
    return Outcome(
        {k: np.concatenate([p.figures[k] for p in parts]) for k in first.figures},
        {k: np.concatenate([p.margins[k] for p in parts]) for k in first.margins},
        {k: np.concatenate([p.broken[k] for p in parts]) for k in first.broken},
        first.names,
    )


def _shared(limit: Limit, applied: Applied) -> Limit:
    demand = np.asarray(limit.demand) * applied.cell_share_factor
    return Limit(
        limit.key, limit.name, demand, limit.limit, limit.unit, limit.broken_text, limit.worst_at
    )


def _full(value: FloatArray | float, count: int) -> FloatArray:
    return np.asarray(np.broadcast_to(np.asarray(value, dtype=float), (count,)))


def draw_lines(lines: Sequence[BudgetLine], draws: int, seed: int) -> FloatArray:
    """Values of all lines, drawn by a scrambled Sobol' sequence, shape (K, draws).

    Args:
        lines: the lines; those with nothing open keep what is expected.
        draws: at least 1; a power of 2 covers best.
        seed: the same seed gives the same values.

    Source: Sobol' sequence with Owen's scrambling, scipy.stats.qmc.
    """
    if draws < 1:
        raise InputError(Problem(f"{draws} draws cannot be; 1 or more is needed.", "draws"))
    engine = qmc.Sobol(max(1, len(lines)), scramble=True, rng=np.random.default_rng(seed))
    share = engine.random_base2(max(0, int(np.ceil(np.log2(draws)))))[:draws].T
    share = np.clip(share, 1e-12, 1.0 - 1e-12)
    return np.array([line.at_share(q) for line, q in zip(lines, share, strict=False)]).reshape(
        len(lines), draws
    )


def margin_budget(
    design: Design[Any],
    lines: Sequence[BudgetLine] = STANDARD_LINES,
    *,
    draws: int = 4096,
    seed: int = 1,
    allowances: Allowances = NO_ALLOWANCES,
    threads: int | None = None,
    progress: Progress | None = None,
) -> MarginBudget:
    """Work out a design's margin budget.

    Args:
        design: a single design.
        lines: the allowances; any of one's own beside or instead of the standard ones.
        draws: how many for the distribution.
        seed: the same seed gives the same figures.
        allowances: what is allowed for besides the lines, in every reading.
        threads, progress: see `workbook.sizing.parallel`.

    Returns:
        The budget. The reading of everything bad at once takes each line by itself to find its worse
        end, which is exact where a figure only rises or only falls with the line.

    Raises:
        InputError: lines that cannot be used; stopped by `progress`.

    Source: worst case and Monte Carlo propagation (JCGM 101:2008).

    Example:
        >>> from workbook.battery.pack import Pack
        >>> from workbook.craft.craft_types import Multirotor
        >>> from workbook.craft.thrust_table import ThrustTable
        >>> from workbook.files.cell_file import find_cell
        >>> from workbook.sizing.design import Flight
        >>> thrust, blank = np.array([300.0, 600.0, 1000.0, 1800.0]), np.full(4, np.nan)
        >>> watts, volts = 110.0 * (thrust / 1000.0) ** 1.5, np.full(4, 22.2)
        >>> table = ThrustTable("m", "p", thrust, watts / volts, volts, watts, blank, blank)
        >>> craft = Multirotor(
        ...     name="six",
        ...     rotors=6,
        ...     mass_without_pack_g=2100.0,
        ...     payload_g=350.0,
        ...     table=table,
        ...     avionics_w=14.0,
        ...     flight_factor=1.1,
        ... )
        >>> pack = Pack(find_cell("Sedge 48E"), 6, 3, 10.0, 75.0, 8.0)
        >>> found = margin_budget(Design("six", craft, pack, Flight(3.0, 15.0, 1.5)), draws=1024)
        >>> time = found.reading("endurance_min")
        >>> time.worst < time.p05 < time.p50 < time.p95 < 1.1 * time.plan
        True
    """
    lines = tuple(lines)
    check_lines(lines, design)
    read = figures_of(design)
    corner = _corners(lines)
    alone = evaluate(design, lines, corner, allowances=allowances, threads=1)
    values = draw_lines(lines, draws, seed)
    drawn = evaluate(
        design, lines, values, allowances=allowances, threads=threads, progress=progress
    )
    ends = {f.key: _worse(alone.figures[f.key], f.better, lines) for f in read}
    ends |= {key: _worse(margin, "high", lines) for key, margin in alone.margins.items()}
    worst = evaluate(
        design, lines, np.array(list(ends.values())).reshape(len(ends), len(lines)).T,
        allowances=allowances, threads=1,
    )  # fmt: skip
    place = {key: k for k, key in enumerate(ends)}
    readings = []
    for figure in read:
        told = drawn.figures[figure.key]
        known = told[~np.isnan(told)]
        low, middle, high = _points(known)
        readings.append(
            Reading(
                figure,
                float(alone.figures[figure.key][0]),
                float(alone.figures[figure.key][1]),
                float(worst.figures[figure.key][place[figure.key]]),
                float(low),
                float(middle),
                float(high),
                1.0 - len(known) / draws,
            )
        )
    limit_readings = []
    for key, margin in drawn.margins.items():
        known = margin[~np.isnan(margin)]
        limit_readings.append(
            LimitReading(
                key,
                drawn.names[key],
                float(alone.margins[key][0]),
                float(alone.margins[key][1]),
                float(worst.margins[key][place[key]]),
                float(_points(known)[0]),
                float(np.mean(drawn.broken[key])),
            )
        )
    met = None
    if "endurance" in drawn.broken:
        met = 1.0 - float(np.mean(drawn.broken["endurance"]))
    return MarginBudget(
        design, lines, tuple(readings), tuple(limit_readings),
        _costs(design, lines, alone, ends["endurance_min"], allowances), met, drawn.figures,
        {line.key: x for line, x in zip(lines, values, strict=True)}, draws, seed, allowances,
    )  # fmt: skip


def _points(known: FloatArray) -> FloatArray:
    """The points of a distribution that are told; NaN of nothing. Endless margins are ordered too."""
    if not len(known):
        return np.full(len(SHARES), np.nan)
    if np.isfinite(known).all():
        return np.asarray(np.quantile(known, SHARES))
    return np.asarray(np.sort(known)[[int(share * (len(known) - 1)) for share in SHARES]])


def _corners(lines: Sequence[BudgetLine]) -> FloatArray:
    """The plan, all as expected, then each line alone at low and at high, shape (K, 2 + 2 K)."""
    count = len(lines)
    values = np.zeros((count, 2 + 2 * count))
    for k, line in enumerate(lines):
        values[k, 1] = line.expected
        values[k, 2 + 2 * k], values[k, 3 + 2 * k] = line.low, line.high
    return values


def _worse(told: FloatArray, better: str, lines: Sequence[BudgetLine]) -> FloatArray:
    """Each line's worse end for a figure; where it cannot be told counts as the worst of all."""
    good = told[2:] if better == "high" else -told[2:]
    good = np.where(np.isnan(good), -np.inf, good)
    return np.array(
        [line.low if good[2 * k] < good[2 * k + 1] else line.high for k, line in enumerate(lines)]
    )


def _costs(
    design: Design[Any],
    lines: Sequence[BudgetLine],
    alone: Outcome,
    ends: FloatArray,
    allowances: Allowances,
) -> tuple[Cost, ...]:
    """What is left of the flight time as the lines are put in one after the other."""
    count = len(lines)
    if not count:
        return ()
    so_far = np.tril(np.ones((count, count))).T  # column k holds the lines 0 to k
    expected = np.array([line.expected for line in lines])
    steps = np.concatenate([so_far * expected[:, None], so_far * ends[:, None]], axis=1)
    left = evaluate(design, lines, steps, allowances=allowances, threads=1).figures["endurance_min"]
    plan = alone.figures["endurance_min"][0]
    by_line = np.minimum(alone.figures["endurance_min"][2::2], alone.figures["endurance_min"][3::2])
    return tuple(
        Cost(line, float(plan - by_line[k]), float(left[k]), float(left[count + k]))
        for k, line in enumerate(lines)
    )
