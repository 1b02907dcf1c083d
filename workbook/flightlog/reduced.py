"""A long trace drawn with few points, its extremes kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from workbook.numbers import FloatArray


def reduced(time_s: FloatArray, *series: FloatArray, points: int = 2000) -> NDArray[np.intp]:
    """Rows to draw: the first, the last, and in each of equal times the least and the greatest of each series.

    Args:
        time_s: rising, shape (n,).
        series: what is drawn over it, shape (n,) each; NaN is passed over.
        points: about how many rows may come out, 10 or more; no fewer than two a series and time.

    Returns:
        Row numbers, rising, each once.

    Source: minimum and maximum of each bin, common practice of drawing logs.

    Example:
        >>> time = np.arange(1000.0)
        >>> wave = np.where(time == 321, 9.0, 1.0)
        >>> rows = reduced(time, wave, points=20)
        >>> len(rows) <= 22, 321 in rows
        (True, True)
    """
    count = len(time_s)
    if count <= points or not series:
        return np.arange(count)
    bins = max(1, points // (2 * len(series)))
    edges = np.searchsorted(time_s, np.linspace(time_s[0], time_s[-1], bins + 1)[:-1])
    starts = np.unique(edges)
    wanted = [np.array([0, count - 1])]
    bin_of = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, count)))
    for values in series:
        for filler, pick in ((np.inf, np.minimum), (-np.inf, np.maximum)):
            known = np.where(np.isnan(values), filler, values)
            ends = pick.reduceat(known, starts)
            hit = np.flatnonzero((known == ends[bin_of]) & np.isfinite(known))
            wanted.append(hit[np.unique(bin_of[hit], return_index=True)[1]])
    return np.asarray(np.unique(np.concatenate(wanted)))
