"""Ranges, ticks and label places for charts: plain arithmetic, no widget in it."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from workbook.numbers import FloatArray, Number

WIDENING_PARTS = 5
"""Parts of a step between ticks to which the ends of an axis are widened: it moves now and then, not with every key."""


@dataclass(frozen=True)
class Ticks:
    """An axis: its ends, and the step between its ticks; the page chooses one where that is NaN."""

    low: float
    high: float
    step: float = math.nan

    @property
    def span(self) -> float:
        """From end to end."""
        return self.high - self.low

    @property
    def decimals(self) -> int:
        """With how many a tick is printed."""
        return max(0, -math.floor(math.log10(self.step) + 1e-9))

    @property
    def values(self) -> FloatArray:
        """The multiples of the step from end to end."""
        first, last = (
            math.ceil(self.low / self.step - 1e-9),
            math.floor(self.high / self.step + 1e-9),
        )
        ticks: FloatArray = (
            np.round(np.arange(first, last + 1) * self.step, self.decimals + 2) + 0.0
        )
        return ticks

    @property
    def number_format(self) -> str:
        """How a tick is printed."""
        return f".{self.decimals}f"


def nice_step(span: float, count: int = 5) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts a span in about `count` parts.

    Args:
        span: above 0.
        count: how many parts, about.

    Example:
        >>> nice_step(43.0)
        10.0
    """
    raw = span / count
    power = 10.0 ** math.floor(math.log10(raw))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if raw <= power * m * (1 + 1e-9))


def ticks_for(
    values: Iterable[Number | Sequence[float]],
    ends: tuple[Number, Number] | None = None,
    count: int = 5,
) -> Ticks:
    """An axis that shows every finite value, or at least the given range, also for a flat line.

    Args:
        values: numbers and arrays to be shown; NaN and infinity are left out.
        given: ends, where the caller asks for them; widened to a part of a step, so that the axis stays
            while they move a little.
        count: how many parts, about.

    Example:
        >>> axis = ticks_for([[3.4, 3.4, 3.4]])
        >>> axis.low < 3.4 < axis.high, len(axis.values) > 2
        (True, True)
        >>> ticks_for([], (0.0, 30.0)).number_format
        '.0f'
    """
    if ends is not None:
        low, high = map(float, ends)
    else:
        parts = [np.asarray(v, dtype=float).ravel() for v in values]
        joined = np.concatenate(parts) if parts else np.array([])
        joined = joined[np.isfinite(joined)]
        low, high = (float(joined.min()), float(joined.max())) if joined.size else (0.0, 1.0)
    if high - low < 1e-9 * max(abs(low), abs(high), 1e-9):
        pad = 0.1 * abs(low)
        low, high = (low - pad, high + pad) if pad else (0.0, 1.0)
    step = nice_step(high - low, count)
    widening_step = step if ends is None else step / WIDENING_PARTS
    return Ticks(
        math.floor(low / widening_step + 1e-9) * widening_step,
        math.ceil(high / widening_step - 1e-9) * widening_step,
        step,
    )


@dataclass(frozen=True)
class Box:
    """A label's wanted place in pixels: left edge, middle height, width; the left edge where it would do as well."""

    left: float
    middle: float
    width: float
    other_left: float | None = None

    def shares_column(self, other: Box) -> bool:
        """Whether it is above or below another, or would touch it."""
        return (
            self.left < other.left + other.width + LABEL_GAP_PX
            and other.left < self.left + self.width + LABEL_GAP_PX
        )


LABEL_GAP_PX = 6.0
"""Between two labels on one line."""

COVERING_PX, HIDING_PX, ASIDE_PX = 60.0, 120.0, 4.0
"""Cost, as a distance moved, of covering a curve, hiding a marked point, and being on the other side of its own."""

MARK_PX = 7.0
"""From the middle of a marked point to its edge."""


def place_labels(
    boxes: Sequence[Box],
    line_height: float,
    top: float,
    bottom: float,
    avoid: FloatArray | None = None,
    marks: FloatArray | None = None,
    standing: Sequence[Box] = (),
) -> list[Box]:
    """Places at which labels do not cover each other, nor marked points and curves where there is room.

    Args:
        boxes: wanted places; an earlier one goes first.
        line_height: of one label.
        top: smallest height that is on the figure (pixels count downwards).
        bottom: greatest.
        avoid: points in pixels, a row across and a row down, which labels should leave free.
        marks: middles of marked points, likewise; no label should be on them.
        standing: labels that are there already, which no other covers.

    Returns:
        A place for each. Where there is no free one left, the wished one.

    Example:
        >>> placed = place_labels([Box(0, 50, 60), Box(10, 52, 60), Box(300, 51, 60)], 18, 0, 200)
        >>> [box.middle for box in placed]
        [50.0, 68.5, 51.0]
    """
    curves, dots = map(_from_left, (avoid, marks))
    taken = list(standing)
    gap = line_height + 0.5
    for box in boxes:
        wish = float(min(max(box.middle, top), bottom))
        best, least = Box(box.left, wish, box.width), math.inf
        for left, aside in ((box.left, 0.0), (box.other_left, ASIDE_PX)):
            if left is None or aside >= least:
                continue
            here = Box(left, wish, box.width)
            near = sorted(other.middle for other in taken if here.shares_column(other))
            under, hidden = _beside(*curves, here, 0.0), _beside(*dots, here, MARK_PX)
            tries = [wish, *(middle + sign * gap for middle in near for sign in (1, -1))]
            if under or hidden:
                tries += [wish + part * gap / 2 for part in (1, -1, 2, -2, 3, -3, 4, -4)]
            for y in tries:
                cost = abs(y - wish) + aside
                if cost >= least or not top <= y <= bottom or _any_near(near, y, line_height):
                    continue
                cost += COVERING_PX * _any_near(under, y, 0.5 * line_height)
                cost += HIDING_PX * _any_near(hidden, y, 0.4 * line_height + MARK_PX)
                if cost < least:
                    best, least = Box(left, y, box.width), cost
        taken.append(best)
    return taken[len(standing) :]


def _any_near(heights: Sequence[float], y: float, room: float) -> bool:
    """Whether any of some heights, in their order, is nearer to a place than so much."""
    above = bisect_right(heights, y - room)
    return above < len(heights) and heights[above] < y + room


def _from_left(points: FloatArray | None) -> tuple[list[float], list[float]]:
    """How far across points are, from left to right, and how far down."""
    if points is None:
        return [], []
    across, down = points[:, points[0].argsort()].tolist()
    return across, down


def _beside(across: list[float], down: list[float], box: Box, room: float) -> list[float]:
    """Heights of the points that are above, below or under a label, in their order."""
    first = bisect_left(across, box.left - room)
    return sorted(down[first : bisect_right(across, box.left + box.width + room)])
