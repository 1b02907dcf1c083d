"""Which allowance makes the spread: variance shares of a budget's lines (Sobol' indices)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.sizing.budget_lines import SEED, BudgetLine

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
    """Which lines make the spread of a figure.

    Attributes:
        key: the figure.
        shares: one a line, largest total first; a line with nothing open has none of it.
        standard_deviation: of the figure over the draws.
    """

    key: str
    shares: tuple[Share, ...]
    standard_deviation: float

    def share(self, line_key: str) -> Share:
        """The share of a line by its key."""
        return next(s for s in self.shares if s.line.key == line_key)


def variance_shares(
    function: Callable[[FloatArray], Mapping[str, FloatArray]],
    lines: Sequence[BudgetLine],
    *,
    draws: int = 1024,
) -> dict[str, Sensitivity]:
    """First-order and total variance shares of any function of the lines.

    Args:
        function: from values of all lines, shape (K, n), to figures, each of shape (n,).
        lines: K lines; those with nothing open are kept as expected.
        draws: a power of 2, 64 to 2^20; the function is worked for K + 2 times as many. With 1024 the
            shares of a usual budget are right to about 0.02.

    Returns:
        A `Sensitivity` for each figure.

    Raises:
        InputError: a number of draws that is not a power of 2, or a figure that is undefined for some
            of the draws.

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
            f"{draws} draws are not possible; a power of 2 from {FEWEST} to {MOST} is needed.",
            "draws",
        )
    settled = np.array([[line.expected] for line in lines])
    free = [k for k, line in enumerate(lines) if not line.fixed]
    if not free:
        nothing = tuple(Share(line, 0.0, 0.0) for line in lines)
        return {key: Sensitivity(key, nothing, 0.0) for key in function(settled)}
    spread: dict[str, float] = {}

    def outputs(x: FloatArray) -> FloatArray:
        """Figures of scipy's draws, which have the open lines only, in shape (k, ...)."""
        flat = x.reshape(len(free), -1)
        values = np.repeat(settled, flat.shape[1], axis=1)
        values[free] = flat
        figures = function(values)
        for key, samples in figures.items():
            _check_defined(key, samples)
            spread.setdefault(key, float(np.std(samples)))
        return np.array(list(figures.values())).reshape(len(figures), *x.shape[1:])

    from scipy.stats import sobol_indices

    with np.errstate(divide="ignore", invalid="ignore"):
        found = sobol_indices(
            func=outputs,
            n=draws,
            dists=[lines[k] for k in free],
            rng=np.random.default_rng(SEED),
        )
    orders = np.zeros((2, len(spread), len(lines)))
    orders[:, :, free] = np.nan_to_num([found.first_order, found.total_order]).reshape(
        2, len(spread), len(free)
    )
    return {
        key: Sensitivity(key, _sorted_shares(lines, *orders[:, row].tolist()), deviation)
        for row, (key, deviation) in enumerate(spread.items())
    }


def _sorted_shares(
    lines: Sequence[BudgetLine], first: Sequence[float], total: Sequence[float]
) -> tuple[Share, ...]:
    shares = [Share(*parts) for parts in zip(lines, first, total, strict=True)]
    return tuple(sorted(shares, key=lambda share: -share.total))


def _check_defined(key: str, samples: FloatArray) -> None:
    undefined = 1.0 - np.mean(np.isfinite(samples))
    if undefined:
        raise InputError(
            f"it is undefined for {100 * undefined:.1f} % of the draws (outside the thrust table, "
            "or a flight that does not start), so its spread has no shares; a design with more to "
            "spare, or lines that reach less far, is needed.",
            key,
        )
