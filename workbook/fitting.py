"""Least squares within bounds, for the few unknowns that a file's own figures leave.

SciPy's solver does the same and takes 0.35 s to load, as long as everything else that sizing a design loads.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from workbook.numbers import FloatArray

TRIES = 200
"""Steps at most; the fits of the workbook take 5 to 30."""

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
