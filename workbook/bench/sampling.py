"""How many of a delivery to test, and what the sample says of the rest."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from math import comb, sqrt

import numpy as np

from workbook.errors import InputError, refuse
from workbook.numbers import FINITE, JUST_ABOVE_0, FloatArray, range_problems, rounded
from workbook.working import Step, step

CONFIDENCE = 0.95
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
            f"{tested} tested and {bad} bad of {batch} is not possible; both are 0 to all of them."
        )
    return 1.0 - comb(batch - bad, tested) / comb(batch, tested)


def cells_to_test(batch: int, bad_share: float = 0.2) -> int:
    """The fewest cells to test so that a delivery as bad as that, or worse, is found out.

    Args:
        batch: cells delivered, 1 or more.
        bad_share: least share of bad cells that must not slip through, above 0 up to 1.

    Returns:
        So many that it is found out with the chance `CONFIDENCE`.

    Source: as `chance_found`.

    Example:
        >>> cells_to_test(20), cells_to_test(200), cells_to_test(20, 0.1)
        (10, 13, 16)
    """
    bad = _bad_cells(batch, bad_share)
    return next(n for n in range(batch + 1) if chance_found(batch, bad, n) >= CONFIDENCE)


def most_bad(batch: int, tested: int, found_bad: int) -> int:
    """How many of a delivery may be bad, after a random sample of it was tested.

    Args:
        batch: cells delivered, 1 or more.
        tested: of them tested, 0 to all.
        found_bad: of those bad, 0 to all tested.

    Returns:
        So many that with the chance `CONFIDENCE` no more are.

    Raises:
        InputError: a number outside its range.

    Source: upper limit of Clopper and Pearson (Biometrika 26, 404, 1934) with the hypergeometric
        distribution: the most bad cells with which a sample as good as this one still comes in 1 - `CONFIDENCE`.

    Example:
        >>> most_bad(60, 13, 0), most_bad(60, 60, 0), most_bad(60, 13, 2)
        (11, 0, 23)
    """
    if not (batch >= 1 and 0 <= found_bad <= tested <= batch):
        raise InputError(
            f"{found_bad} bad of {tested} tested of {batch} delivered is not possible; each is 0 to the next."
        )
    ways = comb(batch, tested)

    def too_good(bad: int) -> bool:
        as_good = sum(comb(bad, k) * comb(batch - bad, tested - k) for k in range(found_bad + 1))
        return as_good / ways < 1.0 - CONFIDENCE

    may_be = range(found_bad, batch - tested + found_bad + 1)
    return found_bad + bisect_left(may_be, True, key=too_good) - 1


@dataclass(frozen=True)
class SamplingPlan:
    """What a sample of a delivery finds.

    Attributes:
        batch: cells delivered.
        bad: of them bad, at least: those that must not slip through.
        tested: of them tested.
        needed: the fewest to test so that it is found out, with `CONFIDENCE`.
        counts, chances: for the curve: so many tested, and the chance to find one bad cell or more.
    """

    batch: int
    bad: int
    tested: int
    needed: int
    counts: FloatArray
    chances: FloatArray

    @property
    def chance(self) -> float:
        """The chance that the sample as it is finds one."""
        return float(self.chances[self.tested])

    def most_bad(self, found_bad: int = 0) -> int:
        """How many of the delivery may be bad once so many of the sample were: `most_bad` of this module."""
        return most_bad(self.batch, self.tested, found_bad)

    @property
    def text(self) -> str:
        """The plan in two sentences."""
        bad = "1 bad cell" if self.bad == 1 else f"{self.bad} bad cells"
        sentence = (
            f"{bad} among {self.batch}: a sample of {self.tested}, picked at random, holds one or more "
            f"{rounded(100.0 * self.chance, 0, 'down'):.0f} times out of 100."
        )
        if self.tested < self.needed:
            return f"{sentence} Test {self.needed} to find it {100.0 * CONFIDENCE:.0f} times out of 100."
        return f"{sentence} {self.needed} are enough for {100.0 * CONFIDENCE:.0f} times out of 100."

    def working(self) -> tuple[Step, ...]:
        """How the chance comes about."""
        good = self.batch - self.bad
        none = step("none_found_pct", 100.0 * (1.0 - self.chance), good=good, plan=self)
        some = step("found_pct", 100.0 * self.chance, none=none)
        return none, some


def sampling_plan(batch: int, bad_share: float = 0.2, tested: int | None = None) -> SamplingPlan:
    """How surely a sample finds a delivery out.

    Args:
        batch: cells delivered, 1 or more.
        bad_share: least share of bad cells that must not slip through, above 0 up to 1.
        tested: cells tested, all of them where it is more; as many as are needed where left out.

    Raises:
        InputError: a number outside its range.

    Source: as `chance_found`.

    Example:
        >>> print(sampling_plan(60, 0.2, 8).text)
        12 bad cells among 60: a sample of 8, picked at random, holds one or more 85 times out of 100. Test 12 ...
    """
    refuse(
        range_problems(
            {
                "batch": (batch, 1.0, FINITE, "1 cell or more"),
                "bad_share": (bad_share, JUST_ABOVE_0, 1.0, "a share above 0 up to 1"),
                "tested": (tested, 0.0, FINITE, "0 cells or more"),
            }
        )
    )
    needed = cells_to_test(batch, bad_share)
    bad = _bad_cells(batch, bad_share)
    counts = np.arange(batch + 1, dtype=float)
    chances = np.array([chance_found(batch, bad, n) for n in range(batch + 1)])
    sample = needed if tested is None else min(tested, batch)
    return SamplingPlan(batch, bad, sample, needed, counts, chances)


def _bad_cells(batch: int, bad_share: float) -> int:
    """That share of a delivery in whole cells, one at least."""
    return max(1, int(np.ceil(round(bad_share * batch, 9))))


@dataclass(frozen=True)
class SampleVerdict:
    """What a sample says of a figure of the whole delivery.

    Attributes:
        mean: of the sample.
        low, high: interval that holds the mean of cells like these 95 times in 100; NaN of one cell.
    """

    mean: float
    low: float
    high: float


def judge_sample(values: FloatArray | list[float]) -> SampleVerdict:
    """What a sample says of the delivery's mean.

    Args:
        values: one figure a cell tested, 1 or more.

    Source: Student's t interval, JCGM 100:2008, G.3.

    Example:
        >>> round(judge_sample([3.30, 3.34, 3.28, 3.31, 3.32]).high, 2)
        3.34
    """
    from scipy.special import stdtrit

    cells = np.asarray(values, dtype=float).ravel()
    mean, count = float(cells.mean()), cells.size
    if count == 1:
        return SampleVerdict(mean, np.nan, np.nan)
    reach = float(stdtrit(count - 1, 0.975)) * float(cells.std(ddof=1)) / sqrt(count)
    return SampleVerdict(mean, mean - reach, mean + reach)
