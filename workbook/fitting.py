"""Unknowns found by trial: the least squares of a few figures, and where a falling function is zero."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from workbook.numbers import FloatArray

SETTLED = 1e-13
"""A voltage has settled when it misses its equation by no more than this share."""


def least_squares(
    residuals: Callable[[FloatArray], FloatArray],
    start: Sequence[float],
    lowest: Sequence[float],
    highest: Sequence[float],
) -> FloatArray:
    """The unknowns whose residuals have the least sum of squares.

    Args:
        residuals: of each row, from the unknowns; smooth, of the size of 1 or less.
        start, lowest, highest: of each unknown, of the size of 1.

    Returns:
        The unknowns, within the bounds.

    Source: SciPy's trust region reflective method, with central differences.

    Example:
        >>> x = np.array([0.0, 1.0, 2.0])
        >>> least_squares(
        ...     lambda u: u[0] + u[1] * x - [1.0, 3.0, 5.0], [0.5, 0.5], [0, 0], [9, 9]
        ... ).round(9)
        array([1., 2.])
    """
    from scipy.optimize import least_squares as within_bounds

    found = within_bounds(
        residuals,
        start,
        bounds=(lowest, highest),
        jac="3-point",
        x_scale=0.1,
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    return np.asarray(found.x)


def falling_root(
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
        done = np.abs(miss) <= tolerance
        if done.all():
            return x
        done |= np.isnan(miss)
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
