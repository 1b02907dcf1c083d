"""How many of a delivery to test, and what the sample says of the rest."""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, sqrt

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray

FOUND = 0.95
"""Chance with which a bad delivery is to be found. Common practice, no source."""


def chance_found(batch: int, bad: int, tested: int) -> float:
    """The chance that a random sample holds at least one of the bad cells.

    Args:
        batch: cells delivered, 1 or more.
        bad: of them bad, 0 to all.
        tested: of them tested, 0 to all.

    Raises:
        InputError: a number outside its range.

    Source: hypergeometric distribution, sampling without putting back; ISO 2859-2 plans for one delivery
        use it too (from memory).

    Example:
        >>> round(chance_found(20, 4, 10), 3)
        0.957
    """
    if not (batch >= 1 and 0 <= bad <= batch and 0 <= tested <= batch):
        raise InputError(
            f"{tested} tested and {bad} bad of {batch} cannot be; both are 0 to all of them."
        )
    return 1.0 - comb(batch - bad, tested) / comb(batch, tested)


def cells_to_test(batch: int, bad_share: float = 0.2, found: float = FOUND) -> int:
    """The fewest cells to test so that a delivery as bad as that, or worse, is found out.

    Args:
        batch: cells delivered, 1 or more.
        bad_share: least share of bad cells that must not slip through, above 0 up to 1.
        found: chance with which it is found out, 0 up to below 1.

    Raises:
        InputError: a number outside its range.

    Source: as `chance_found`.

    Example:
        >>> cells_to_test(20), cells_to_test(200), cells_to_test(20, 0.1)
        (10, 13, 16)
    """
    problems = []
    if not 0.0 < bad_share <= 1.0:
        problems.append(
            Problem(f"{bad_share:g} cannot be; above 0 up to 1 is needed.", "bad_share")
        )
    if not 0.0 <= found < 1.0:
        problems.append(Problem(f"{found:g} cannot be; 0 up to below 1 is needed.", "found"))
    if problems:
        raise InputError(problems)
    bad = max(1, int(np.ceil(round(bad_share * batch, 9))))
    return next(n for n in range(batch + 1) if chance_found(batch, bad, n) >= found)


@dataclass(frozen=True)
class SampleVerdict:
    """A sample's figure against what the datasheet says.

    Attributes:
        mean: of the sample.
        low, high: interval that holds the mean of cells like these 95 times in 100; NaN of one cell.
        stated: by the datasheet.
        below: whether the delivery as a whole is below it: all of the interval is.
    """

    mean: float
    low: float
    high: float
    stated: float

    @property
    def below(self) -> bool:
        """Whether all of the interval lies below what is stated."""
        return self.high < self.stated

    @property
    def above(self) -> bool:
        """Whether all of it lies above."""
        return self.low > self.stated


def judge_sample(values: FloatArray | list[float], stated: float) -> SampleVerdict:
    """What a sample says of the delivery's mean.

    Args:
        values: one figure a cell tested, 1 or more.
        stated: by the datasheet, in the same unit.

    Raises:
        InputError: no value, or one that is no number.

    Source: Student's t interval, JCGM 100:2008, G.3.

    Example:
        >>> low = judge_sample([3.30, 3.34, 3.28, 3.31, 3.32], 3.5)
        >>> low.below, round(low.high, 2)
        (True, 3.34)
    """
    from scipy.special import stdtrit

    cells = np.asarray(values, dtype=float).ravel()
    if not cells.size or not np.isfinite(cells).all():
        raise InputError("a figure of each cell tested is needed, one cell at least.")
    mean, count = float(cells.mean()), cells.size
    if count == 1:
        return SampleVerdict(mean, np.nan, np.nan, stated)
    reach = float(stdtrit(count - 1, 0.975)) * float(cells.std(ddof=1)) / sqrt(count)
    return SampleVerdict(mean, mean - reach, mean + reach, stated)
