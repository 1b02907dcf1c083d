"""Ranges, ticks and label places for charts: plain arithmetic, no widget in it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from workbook.numbers import FloatArray, Number

WIDENING_PARTS = 5
"""Parts of a step between ticks to which the ends of an axis are widened: it moves now and then, not with every key."""


@dataclass(frozen=True)
class Ticks:
    """An axis: its ends, its tick values and how to print them."""

    low: float
    high: float
    values: FloatArray = field(default_factory=lambda: np.array([]))
    number_format: str = ""

    @property
    def span(self) -> float:
        """From end to end."""
        return self.high - self.low


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
    low, high = (
        math.floor(low / widening_step + 1e-9) * widening_step,
        math.ceil(high / widening_step - 1e-9) * widening_step,
    )
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    tick_values = np.round(np.arange(first, last + 1) * step, decimals + 2) + 0.0
    return Ticks(low, high, tick_values, f".{decimals}f")


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
        avoid: points in pixels, one row (across, down) each, which labels should leave free.
        marks: middles of marked points, likewise; no label should be on them.
        standing: labels that are there already, which no other covers.

    Returns:
        A place for each. Where there is no free one left, the wished one.

    Example:
        >>> placed = place_labels([Box(0, 50, 60), Box(10, 52, 60), Box(300, 51, 60)], 18, 0, 200)
        >>> [box.middle for box in placed]
        [50.0, 68.5, 51.0]
    """
    curves, dots = (
        np.empty((0, 2)) if points is None else np.asarray(points, dtype=float).reshape(-1, 2)
        for points in (avoid, marks)
    )
    taken = list(standing)
    gap = line_height + 0.5
    for box in boxes:
        wish = float(min(max(box.middle, top), bottom))
        best, least = Box(box.left, wish, box.width), math.inf
        for left in [box.left, *([] if box.other_left is None else [box.other_left])]:
            here = Box(left, wish, box.width)
            near = [other.middle for other in taken if here.shares_column(other)]
            under = _beside(curves, here, 0.0)
            hidden = _beside(dots, here, MARK_PX)
            if left == box.left and not (near or under.size or hidden.size):
                best = here  # free where it is wished
                break
            tries = [wish, *(middle + sign * gap for middle in near for sign in (1, -1))]
            if under.size or hidden.size:
                tries += [wish + part * gap / 2 for part in (1, -1, 2, -2, 3, -3, 4, -4)]
            y = np.array(tries)
            cost = np.abs(y - wish) + (ASIDE_PX if left != box.left else 0.0)
            cost += COVERING_PX * _any_near(under, y, 0.5 * line_height)
            cost += HIDING_PX * _any_near(hidden, y, 0.4 * line_height + MARK_PX)
            barred = (y < top) | (y > bottom) | _any_near(np.array(near), y, line_height)
            cost[barred] = math.inf
            first = int(cost.argmin())
            if cost[first] < least:
                best, least = Box(left, tries[first], box.width), float(cost[first])
        taken.append(best)
    return taken[len(standing) :]


def _any_near(heights: FloatArray, y: FloatArray, room: float) -> np.ndarray:
    """Which of some places have any of these heights nearer than so much."""
    if not heights.size:
        return np.zeros(y.shape, dtype=bool)
    return np.asarray((np.abs(heights - y[:, None]) < room).any(axis=1))


def _beside(points: FloatArray, box: Box, room: float) -> FloatArray:
    """Heights of the points that are above, below or under a label."""
    across = points[:, 0]
    beside: FloatArray = points[
        (across >= box.left - room) & (across <= box.left + box.width + room), 1
    ]
    return beside
