"""Which allowance makes the spread: variance shares of the budget's lines (Sobol' indices)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.stats import sobol_indices

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.budget import MarginBudget, Reading, evaluate, figures_of, margin_budget
from workbook.sizing.budget_lines import STANDARD_LINES, BudgetLine, check_lines
from workbook.sizing.design import Allowances, Design
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.parallel import Progress

FEWEST, MOST = 64, 2**20


@dataclass(frozen=True)
class Share:
    """One line's part in the spread (variance) of a figure.

    Attributes:
        line: the line.
        first_order: part that it makes alone; the shares of all lines add up to 1 where they do not
            work on each other.
        total: part that goes away when the line is settled, with what it makes together with others.
    """

    line: BudgetLine
    first_order: float
    total: float


@dataclass(frozen=True)
class Sensitivity:
    """Who makes the spread of a figure.

    Attributes:
        key: the figure.
        shares: one a line, largest total first; a line with nothing open has none of it.
        together: part made by lines working on each other: 1 less the first orders, 0 where none.
        standard_deviation: of the figure over the draws.
    """

    key: str
    shares: tuple[Share, ...]
    together: float
    standard_deviation: float

    def share(self, line_key: str) -> Share:
        """The share of a line by its key."""
        return next(s for s in self.shares if s.line.key == line_key)


class _Spread:
    """A line as scipy asks for it: by the inverse of its distribution."""

    def __init__(self, line: BudgetLine) -> None:
        self._line = line

    def ppf(self, share: FloatArray) -> FloatArray:
        return self._line.at_share(np.clip(share, 1e-12, 1.0 - 1e-12))


def variance_shares(
    function: Callable[[FloatArray], dict[str, FloatArray]],
    lines: Sequence[BudgetLine],
    *,
    draws: int = 1024,
    seed: int = 1,
) -> dict[str, Sensitivity]:
    """First-order and total variance shares of any function of the lines.

    Args:
        function: from values of all lines, shape (K, n), to figures, each of shape (n,).
        lines: K lines; those with nothing open are kept as expected.
        draws: a power of 2, 64 to 2^20; the function is worked for K + 2 times as many. With 1024 the
            shares of a usual budget are right to about 0.02.
        seed: the same seed gives the same shares.

    Returns:
        A `Sensitivity` for each figure.

    Raises:
        InputError: a number of draws that is not a power of 2, or a figure that cannot be told for
            some of the draws.

    Source: Saltelli et al., Computer Physics Communications 181 (2010), as scipy.stats.sobol_indices
        has it.

    Example:
        >>> from workbook.sizing.budget_lines import BudgetLine, Effect
        >>> a, b = (
        ...     BudgetLine(k, k, -1.0, 0.0, 1.0, "uniform", (Effect("power_factor"),)) for k in "ab"
        ... )
        >>> found = variance_shares(lambda x: {"sum": 2.0 * x[0] + x[1]}, (a, b))["sum"]
        >>> [(s.line.key, round(s.first_order, 2)) for s in found.shares]
        [('a', 0.8), ('b', 0.2)]
    """
    if not FEWEST <= draws <= MOST or draws & (draws - 1):
        raise InputError(
            Problem(
                f"{draws} draws cannot be; a power of 2 from {FEWEST} to {MOST} is needed.", "draws"
            )
        )
    open_at = [k for k, line in enumerate(lines) if not line.fixed]
    settled = np.array([line.expected for line in lines])
    keys: list[str] = []
    spread: dict[str, float] = {}

    def outputs(x: FloatArray) -> FloatArray:
        """Scipy's x has the open lines only, in shape (k, ...)."""
        flat = x.reshape(len(open_at), -1)
        values = np.repeat(settled[:, None], flat.shape[1], axis=1)
        values[open_at] = flat
        told = function(values)
        keys[:] = list(told)
        return np.array([told[key] for key in keys]).reshape(len(keys), *x.shape[1:])

    if not open_at:
        told = function(settled[:, None])
        nothing = tuple(Share(line, 0.0, 0.0) for line in lines)
        return {key: Sensitivity(key, nothing, 0.0, 0.0) for key in told}

    def watched(x: FloatArray) -> FloatArray:
        out = outputs(x)
        for key, values in zip(keys, out, strict=True):
            untold = float(np.mean(~np.isfinite(values)))
            if untold:
                raise InputError(
                    Problem(
                        f"it cannot be told for {100 * untold:.1f} % of the draws (outside the thrust "
                        "table, or a flight that does not start), so its spread has no shares; a "
                        "design with more to spare, or lines that reach less far, is needed.",
                        key,
                    )
                )
            spread.setdefault(key, float(np.std(values)))
        return out

    with np.errstate(divide="ignore", invalid="ignore"):
        found = sobol_indices(
            func=watched,
            n=draws,
            dists=[_Spread(lines[k]) for k in open_at],
            rng=np.random.default_rng(seed),
        )
    answer = {}
    for row, key in enumerate(keys):
        first = np.zeros(len(lines))
        total = np.zeros(len(lines))
        first[open_at] = np.nan_to_num(np.atleast_2d(found.first_order)[row])
        total[open_at] = np.nan_to_num(np.atleast_2d(found.total_order)[row])
        shares = sorted(
            (
                Share(line, float(a), float(b))
                for line, a, b in zip(lines, first, total, strict=True)
            ),
            key=lambda s: -s.total,
        )
        together = max(0.0, 1.0 - float(first.sum())) if spread[key] > 0 else 0.0
        answer[key] = Sensitivity(key, tuple(shares), together, spread[key])
    return answer


def sensitivity(
    design: Design[Any],
    lines: Sequence[BudgetLine] = STANDARD_LINES,
    *,
    draws: int = 1024,
    seed: int = 1,
    allowances: Allowances = NO_ALLOWANCES,
    threads: int | None = None,
    progress: Progress | None = None,
) -> dict[str, Sensitivity]:
    """Who makes the spread of each figure of a design's margin budget.

    Args:
        design: a single design.
        lines: the budget's lines.
        draws, seed: as in `variance_shares`.
        allowances: what is allowed for besides the lines.
        threads, progress: see `workbook.sizing.parallel`.

    Returns:
        A `Sensitivity` for each of the budget's figures; a figure that cannot be told at all (the
        temperature of a cell without a size) is left out.

    Raises:
        InputError: as `variance_shares`; lines that cannot be used; stopped by `progress`.
    """
    lines = tuple(lines)
    check_lines(lines, design)
    expected = np.array([[line.expected] for line in lines]).reshape(len(lines), 1)
    once = evaluate(design, lines, expected, allowances=allowances, threads=1).figures
    known = [f.key for f in figures_of(design) if np.isfinite(once[f.key]).all()]
    if "endurance_min" not in known:
        raise InputError(
            "the design does not fly with every line as expected, so there is no spread to share out."
        )

    def function(values: FloatArray) -> dict[str, FloatArray]:
        told = evaluate(
            design, lines, values, allowances=allowances, threads=threads, progress=progress
        ).figures
        return {key: told[key] for key in known}

    return variance_shares(function, lines, draws=draws, seed=seed)


@dataclass(frozen=True)
class WhatIf:
    """A budget with one line settled, beside the one it was.

    Attributes:
        line: the line, as it was.
        before, after: both budgets.
    """

    line: BudgetLine
    before: MarginBudget
    after: MarginBudget

    def narrower(self, key: str = "endurance_min") -> float:
        """Width from the 5 % to the 95 % point, after over before; NaN where it had none."""
        before, after = self.readings(key)
        width = before.p95 - before.p05
        return (after.p95 - after.p05) / width if width > 0 else float("nan")

    def readings(self, key: str = "endurance_min") -> tuple[Reading, Reading]:
        """A figure before and after."""
        return self.before.reading(key), self.after.reading(key)


def settle(
    lines: Sequence[BudgetLine], key: str, at: float | None = None
) -> tuple[BudgetLine, ...]:
    """The lines with one of them known: at what was expected of it, or at what was measured.

    Raises:
        InputError: no line has that key.

    Example:
        >>> line = settle(STANDARD_LINES, "scale", 0.2)[1]
        >>> line.low, line.expected, line.high
        (0.2, 0.2, 0.2)
    """
    if key not in {line.key for line in lines}:
        known = ", ".join(line.key for line in lines)
        raise InputError(Problem(f"no line has this key; there are {known}.", key))
    return tuple(
        line
        if line.key != key
        else line.settled()
        if at is None
        else replace(line, low=at, expected=at, high=at)
        for line in lines
    )


def what_if_settled(budget: MarginBudget, key: str, at: float | None = None) -> WhatIf:
    """The budget again with one line settled: what it would gain to weigh, measure or test that.

    Args:
        budget: the budget.
        key: the line.
        at: what was measured; what is expected, without it.

    Raises:
        InputError: no line has that key.
    """
    line = next((entry for entry in budget.lines if entry.key == key), None)
    lines = settle(budget.lines, key, at)
    assert line is not None
    after = margin_budget(
        budget.design, lines, draws=budget.draws, seed=budget.seed, allowances=budget.allowances
    )
    return WhatIf(line, budget, after)
