"""Unknowns found by trial: the least squares of a few figures, and where a falling function is zero.

SciPy's least squares do the same and take 0.35 s to load, as long as everything else that sizing a design loads.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from workbook.numbers import FloatArray

TRIES = 200
"""Steps at most; the fits of the workbook take 5 to 30."""

SETTLED = 1e-13
"""A voltage has settled when it misses its equation by no more than this share."""

STANDS = 1e-14
"""A step so small, as a share of the unknowns, changes nothing any more."""


def least_squares(
    misses: Callable[[FloatArray], FloatArray],
    start: Sequence[float],
    lowest: Sequence[float],
    highest: Sequence[float],
) -> FloatArray:
    """The unknowns whose misses have the least sum of squares.

    Args:
        misses: of each row, from the unknowns; smooth, of the size of 1 or less.
        start, lowest, highest: of each unknown, of the size of 1.

    Returns:
        The unknowns, within the bounds.

    Source: Levenberg (1944) and Marquardt (1963); unknowns that press on a bound are held there, as in Kanzow,
        Yamashita and Fukushima (2004). Derivatives are central differences.

    Example:
        >>> x = np.array([0.0, 1.0, 2.0])
        >>> least_squares(lambda u: u[0] + u[1] * x - [1.0, 3.0, 5.0], [0.5, 0.5], [0, 0], [9, 9])
        array([1., 2.])
        >>> least_squares(lambda u: u[0] + u[1] * x - [1.0, 3.0, 5.0], [0.5, 0.5], [0, 0], [0, 9])
        array([0. , 2.6])
    """
    low, high = np.asarray(lowest, dtype=float), np.asarray(highest, dtype=float)
    x = np.asarray(np.clip(np.asarray(start, dtype=float), low, high))
    miss, damping = misses(x), 1e-3
    slopes = _slopes(misses, x)
    for _ in range(TRIES):
        uphill = slopes.T @ miss
        free = ~((x <= low) & (uphill > 0) | (x >= high) & (uphill < 0))
        if not free.any():
            break
        inner = slopes[:, free].T @ slopes[:, free]
        inner[np.diag_indices_from(inner)] *= 1.0 + damping
        new = x.copy()
        new[free] = np.clip(
            x[free] - np.linalg.lstsq(inner, uphill[free])[0], low[free], high[free]
        )
        moved, there = float(np.max(np.abs(new - x))), misses(new)
        if there @ there < miss @ miss:
            x, miss, damping = new, there, damping / 10.0
            slopes = _slopes(misses, x)
        else:
            damping *= 10.0
        if moved <= STANDS * float(np.max(np.abs(x))):
            break
    return np.asarray(x)


def _slopes(misses: Callable[[FloatArray], FloatArray], x: FloatArray) -> FloatArray:
    """How each miss changes with each unknown."""
    steps = np.diag(1e-6 * np.maximum(np.abs(x), 1e-2))
    columns = [(misses(x + step) - misses(x - step)) / (2.0 * step.max()) for step in steps]
    return np.stack(columns, axis=1)


def settle(
    gap: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    slope: Callable[[FloatArray, FloatArray], FloatArray],
    low: FloatArray,
    high: FloatArray,
    tolerance: FloatArray,
) -> FloatArray:
    """Where a falling function is zero, for every element by itself; NaN where it is not within bounds.

    One step by the slope given, then the secant through the last two steps. What has not settled
    after some is halved down to it.

    Args:
        gap: the falling function.
        start: where to begin.
        slope: of the function, from a place and its gap.
        low, high: bounds.
        tolerance: a gap no larger counts as zero.
    """
    x = start
    last: tuple[FloatArray, FloatArray] | None = None
    for _ in range(14):
        miss = gap(x)
        done = (np.abs(miss) <= tolerance) | np.isnan(miss)
        if done.all():
            return np.where(np.isnan(miss), np.nan, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            steep = slope(x, miss) if last is None else (miss - last[1]) / (x - last[0])
            following = np.clip(x - miss / steep, low, high)
        following = np.where(done | np.isnan(following), x, following)
        last, x = (x, miss), following
    below, above = np.broadcast_arrays(low, high)
    held = (gap(below) > 0.0) & (gap(above) < 0.0)
    for _ in range(60):
        middle = 0.5 * (below + above)
        more = gap(middle) > 0.0
        below, above = np.where(more, middle, below), np.where(more, above, middle)
    halved = np.where(held, 0.5 * (below + above), np.nan)
    return np.where(done, np.where(np.isnan(miss), np.nan, x), halved)
