"""The axes of a graph in a picture: known points give every other its charge and its voltage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray

ACROSS, UP = "across", "up"


@dataclass(frozen=True)
class KnownPoint:
    """A point of the picture whose value on an axis is printed.

    Attributes:
        x_px, y_px: where it is, from the upper left corner.
        axis: `ACROSS` for what runs from left to right (charge, time), `UP` for the voltage.
        value: in the axis's unit.
    """

    x_px: float
    y_px: float
    axis: str
    value: float


@dataclass(frozen=True, eq=False)
class Axes:
    """How pixels and the graph's own figures go over into each other.

    Attributes:
        matrix: shape (2, 3): figures across and up from (x, y, 1) in pixels.
        off_px: how far the known points lie from where the axes put them, root mean square; 0 with as
            few as are needed.
    """

    matrix: FloatArray
    off_px: float = 0.0

    def figures(self, pixels: FloatArray) -> FloatArray:
        """Figures across and up, shape (n, 2), of points in pixels, shape (n, 2).

        Example:
            >>> axes = fit_axes(
            ...     [
            ...         KnownPoint(0, 0, ACROSS, 0),
            ...         KnownPoint(10, 0, ACROSS, 5),
            ...         KnownPoint(0, 0, UP, 4.0),
            ...         KnownPoint(0, 20, UP, 3.0),
            ...     ]
            ... )
            >>> axes.figures(np.array([[4.0, 10.0]]))
            array([[2. , 3.5]])
        """
        return np.asarray(pixels @ self.matrix[:, :2].T + self.matrix[:, 2])

    def pixels(self, figures: FloatArray) -> FloatArray:
        """Points in pixels, shape (n, 2), of figures across and up, shape (n, 2)."""
        return np.asarray(np.linalg.solve(self.matrix[:, :2], (figures - self.matrix[:, 2]).T).T)


def fit_axes(known: Sequence[KnownPoint]) -> Axes:
    """Axes through known points: two on each axis for a straight picture, a third for one that is turned.

    With three on one axis that do not lie on a line, the turn of the picture is taken from them and
    holds for the other axis too, unless that has three of its own.

    Args:
        known: in any order.

    Raises:
        InputError: too few points, or two that define no axis.
    """
    rows, free = {}, {}
    for axis, name in ((ACROSS, "the axis from left to right"), (UP, "the voltage axis")):
        points = [p for p in known if p.axis == axis]
        if len(points) < 2:
            raise InputError(f"{name} has {len(points)} known points; two are needed.")
        pixels = np.array([[p.x_px, p.y_px, 1.0] for p in points])
        values = np.array([p.value for p in points])
        if np.ptp(values) == 0:
            raise InputError(
                f"{name}: the known points all have the value {values[0]:g}; two values are needed."
            )
        main = 0 if axis == ACROSS else 1
        if np.ptp(pixels[:, main]) < 5:
            raise InputError(
                f"{name}: the known points lie on top of each other; click two far apart."
            )
        free[axis] = len(points) > 2 and _spread_px(pixels) > 10
        columns = [0, 1, 2] if free[axis] else [main, 2]
        rows[axis] = np.zeros(3)
        rows[axis][columns] = np.linalg.lstsq(pixels[:, columns], values)[0]
    matrix = np.array([rows[ACROSS], rows[UP]])
    if free[ACROSS] != free[UP]:
        matrix = _turned_alike(matrix, known, turned=0 if free[ACROSS] else 1)
    return Axes(matrix, _off_px(matrix, known))


def _spread_px(pixels: FloatArray) -> float:
    """How far points lie from the straight line through them, at most."""
    centred = pixels[:, :2] - pixels[:, :2].mean(axis=0)
    normal = np.linalg.svd(centred)[2][1]
    return float(np.ptp(centred @ normal))


def _turned_alike(matrix: FloatArray, known: Sequence[KnownPoint], turned: int) -> FloatArray:
    """The straight axis turned as the other: square to it."""
    other, axis = 1 - turned, (UP if turned == 0 else ACROSS)
    normal = np.array([-matrix[turned, 1], matrix[turned, 0]]) / np.hypot(*matrix[turned, :2])
    points = [p for p in known if p.axis == axis]
    along = np.array([[p.x_px, p.y_px] for p in points]) @ normal
    slope, start = np.polyfit(along, [p.value for p in points], 1)
    out = matrix.copy()
    out[other] = [*(slope * normal), start]
    return out


def _off_px(matrix: FloatArray, known: Sequence[KnownPoint]) -> float:
    off = []
    for p in known:
        row = matrix[0 if p.axis == ACROSS else 1]
        off.append((row @ [p.x_px, p.y_px, 1.0] - p.value) / np.hypot(*row[:2]))
    return float(np.sqrt(np.mean(np.square(off))))
