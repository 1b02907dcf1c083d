"""Rulers of current: one bar with the limits in it, read as a C-rate, as a cell's and as a pack's amperes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workbook import svg
from workbook.numbers import Number
from workbook.widgets.palette import FAINT, INK, PACK
from workbook.widgets.picture import Picture
from workbook.widgets.ticks import ticks_for

WIDTH, RULER_PX, LEFT, RIGHT = 760, 140, 106.0, 740.0
ZONES = ("#dfe3fa", "#f6e3bf", "#eed0c6")
"""Grounds of the zones, from what is allowed to what is not."""


@dataclass(frozen=True)
class RulerLimit:
    """A limit on a ruler: its name and its C-rate."""

    name: str
    c_rate: Number


@dataclass(frozen=True)
class Ruler:
    """One ruler.

    Attributes:
        name: discharge or charge.
        c_rate: where the dial stands.
        limits: three at most, rising; the bar changes its ground at each but the last ends in a dark field.
        top_c: right end of the ruler.
    """

    name: str
    c_rate: Number
    limits: Sequence[RulerLimit]
    top_c: float


class RulerPicture(Picture):
    """Rulers one below the other.

    Example:
        >>> picture = RulerPicture("Rates", 1)
        >>> picture.update(
        ...     [Ruler("discharge", 2.0, [RulerLimit("continuous", 3.0)], 5.0)], 4.0, 2, "2 C."
        ... )
        >>> picture.finding_text
        '2 C.'
    """

    def __init__(self, title: str, rulers: int) -> None:
        super().__init__(title, WIDTH, RULER_PX * rulers)

    def update(
        self, rulers: Sequence[Ruler], capacity_ah: Number, parallel: Number, finding: str
    ) -> None:
        """Show other rates.

        Args:
            rulers: as many as the picture was made for.
            capacity_ah: rated, of one cell.
            parallel: cells in parallel.
            finding: in words.
        """
        shapes = ""
        for number, ruler in enumerate(rulers):
            shapes += _drawn(ruler, number * RULER_PX, float(capacity_ah), int(parallel))
        self.draw(shapes, finding)


def _drawn(ruler: Ruler, top: float, capacity_ah: float, parallel: int) -> str:
    per_c = (RIGHT - LEFT) / ruler.top_c
    bar, high = top + 46.0, 26.0

    def at(c_rate: Number) -> float:
        return LEFT + min(max(float(c_rate), 0.0), ruler.top_c) * per_c

    shapes = svg.text(4, bar + 18, ruler.name, bold=True)
    edges = [0.0, *(limit.c_rate for limit in ruler.limits), ruler.top_c]
    grounds = [*ZONES[: len(ruler.limits)], "#5c6068"]
    for low, high_c, ground in zip(edges, edges[1:], grounds, strict=False):
        shapes += svg.box(at(low), bar, at(high_c) - at(low), high, ground, "none", 0, 0)
    shapes += svg.box(LEFT, bar, RIGHT - LEFT, high, "none", FAINT.colour, 1.2, 2)
    dark_px = RIGHT - at(edges[-2])
    if dark_px > 120:
        shapes += svg.text(
            RIGHT - dark_px / 2,
            bar + 18,
            "not for this cell",
            anchor="middle",
            colour="#fff",
            bold=True,
        )
    right_of_last = -1e9
    for limit in ruler.limits:
        x = at(limit.c_rate)
        shapes += svg.line(x, bar - 18, x, bar + high, INK, 2)
        wide = 7.6 * len(limit.name)
        middle = min(max(x, right_of_last + wide / 2 + 8), WIDTH - wide / 2 - 2)
        shapes += svg.text(middle, bar - 22, limit.name, anchor="middle", size=14)
        right_of_last = middle + wide / 2
    shapes += _readings(ruler.top_c, bar + high, capacity_ah, parallel)
    x = at(ruler.c_rate)
    shapes += svg.line(x, bar - 4, x, bar + high + 4, PACK.colour, 5)
    tip = [(x, bar + 2), (x - 9, bar - 14), (x + 9, bar - 14)]
    return shapes + svg.polygon(tip, fill=PACK.colour)


def _readings(top_c: float, top: float, capacity_ah: float, parallel: int) -> str:
    """The same ruler read as a C-rate, as a cell's and as a pack's amperes, one row each."""
    shapes, per_c = "", (RIGHT - LEFT) / top_c
    rows = (("C", 1.0), ("cell, A", capacity_ah), (f"{parallel}P pack, A", capacity_ah * parallel))
    for row, (name, factor) in enumerate(rows):
        y = top + 18 + row * 19
        shapes += svg.text(LEFT - 16, y, name, anchor="end", size=14, colour="#545c69")
        axis = ticks_for([], (0.0, top_c * factor), 6)
        for value in axis.values.tolist():
            x = LEFT + value / factor * per_c
            shapes += svg.text(x, y, f"{value:{axis.number_format}}", anchor="middle", size=14)
            shapes += svg.line(x, y - 17, x, y - 13, FAINT.colour, 1.2) if row else ""
    return shapes
