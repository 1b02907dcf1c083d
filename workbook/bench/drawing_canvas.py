"""Shapes of the pack's drawing as SVG, and the room that they take.

One unit is one millimetre of the print. What colour says, a hatch, a dash or a letter says too. Hatches
are strokes, not patterns: a printer draws patterns as pictures of a hundred megabytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from workbook.svg import INK, Attribute, box, element, group, line, number, polygon, text

PAPER = "#ffffff"
CAN = "#eef0f3"
STRIP_COLOURS = {"series": "#2b37af", "parallel": "#2b8653", "tab": "#7e1f0a"}
"""Apart for readers with any of the common colour-vision defects; hatch and dash say the same."""
DASHES = {"series": "none", "parallel": "2.2 1.4", "tab": "4 1 1 1"}
HATCH_MM = 2.4
"""Between the strokes of a hatch."""
BARRIER_COLOUR = "#8a4b08"
TEXT_MM = 4.3
"""Font size at full size; capitals and figures of it are 3 mm high."""
SMALLEST_TEXT_MM = 3.2
"""9 pt: lettering shrinks with the scale, but not below this."""
CHARACTER = 0.6
"""Mean width of a character over the font size, on the wide side."""
BADGE_MM = 4.4
"""Half the height of a balance wire's number at full size."""
LEAD_MM = 3.6
"""Width of a drawn main lead, at full size."""
MINUS = "\u2212"

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, top, right and bottom."""


@dataclass(frozen=True)
class Label:
    """How pole and group number are written on every cell; sizes of lettering at full size.

    Attributes:
        form: "plate", "tight", "stacked" (the number over the sign) or "sign" (no number).
        half_x, half_y: half its width and height.
    """

    form: str
    half_x: float
    half_y: float


def labels(digits: int) -> tuple[Label, ...]:
    """The forms of a label, the easiest to read first; "sign" has no size of its own.

    Args:
        digits: of the highest group number.

    Example:
        >>> [(label.form, label.half_x) for label in labels(1)][:2]
        [('plate', 6.0), ('tight', 2.98)]
    """
    letters = CHARACTER * TEXT_MM / 2.0
    return (
        Label("plate", 6.0 if digits == 1 else 7.4, 3.1),
        Label("tight", round(letters * (digits + 1) + 0.4, 9), 2.3),
        Label("stacked", round(letters * digits + 0.3, 9), 2.95),
        Label("sign", 0.0, 0.0),
    )


@dataclass
class Canvas:
    """Shapes as they are drawn, and what they cover.

    Attributes:
        mm: print millimetres in a millimetre of the pack.
        letter: print millimetres in a millimetre of lettering at full size.
        taken: what must not be covered.
    """

    mm: float
    letter: float
    shapes: list[str] = field(default_factory=list)
    corners: list[Point] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)

    @property
    def box(self) -> Box:
        """Of everything drawn so far."""
        x, y = zip(*self.corners, strict=True)
        return min(x), min(y), max(x), max(y)

    def put(self, shape: str, *corners: Point) -> None:
        """Add a shape that covers the corners."""
        self.shapes.append(shape)
        self.corners.extend(corners)

    @contextmanager
    def group(self, **attributes: Attribute) -> Iterator[None]:
        """What is drawn meanwhile belongs together."""
        around, self.shapes = self.shapes, []
        yield
        around.append(group(*self.shapes, **attributes))
        self.shapes = around

    def line(self, a: Point, b: Point, stroke_mm: float, colour: str = INK, dash: str = "") -> None:
        """A stroke whose width is given at full size."""
        self.put(line(*a, *b, colour, stroke_mm * self.mm, dash), a, b)

    def write(
        self,
        point: Point,
        content: str,
        *,
        size: float = TEXT_MM,
        anchor: str = "start",
        bold: bool = False,
        colour: str = INK,
    ) -> None:
        """Write a text on a point; its size is of lettering at full size."""
        size *= self.letter
        wide = CHARACTER * size * len(content)
        left = point[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * wide
        shape = text(*point, content, size=size, anchor=anchor, bold=bold, colour=colour)
        self.put(shape, (left, point[1] - size), (left + wide, point[1] + size / 3.0))

    def plate(self, middle: Point, half_x: float, half_y: float, corner: float, fill: str) -> None:
        """A plate with round corners under letters; sizes of lettering at full size."""
        x, y = half_x * self.letter, half_y * self.letter
        left, top = middle[0] - x, middle[1] - y
        edge = INK if fill == PAPER else PAPER
        look = (fill, edge, 0.3 * self.letter, corner * self.letter)
        self.put(
            box(left, top, 2.0 * x, 2.0 * y, *look), (left, top), (left + 2.0 * x, top + 2.0 * y)
        )

    def badge(self, middle: Point, content: str) -> None:
        """A balance wire's number."""
        half_x, half_y = badge_half(content)
        self.plate(middle, half_x, half_y, BADGE_MM, INK)
        below = (middle[0], middle[1] + 0.35 * TEXT_MM * self.letter)
        self.write(below, content, anchor="middle", bold=True, colour=PAPER)

    def label(self, middle: Point, pole: str, number: int, form: Label, pitch: float) -> None:
        """Pole and group number of a cell, over its strips.

        Args:
            middle: middle of the cell.
            pole: "plus" or "minus".
            number: of the group.
            form: how it is written.
            pitch: between cells, for a sign alone.
        """
        (x, y), unit, sign = middle, self.letter, "+" if pole == "plus" else MINUS
        with self.group(class_="label", data_pole=pole):
            if form.form == "sign":
                self._sign(middle, pole, 0.46 * pitch)
                return
            corner = 1.6 if form.form == "plate" else 0.8
            self.plate(middle, form.half_x, form.half_y, corner, PAPER)
            if form.form == "plate":
                place = x + (3.0 - form.half_x) * unit, y + 2.0 * unit
                self.write(place, sign, size=5.6, anchor="middle", bold=True)
                self.write((x + 2.3 * unit, y + 1.55 * unit), str(number), anchor="middle")
            elif form.form == "tight":
                self.write((x, y + 1.55 * unit), f"{sign}{number}", anchor="middle")
            else:
                self.write((x, y + 0.35 * unit), str(number), anchor="middle")
                self._sign((x, y + 1.75 * unit), pole, 2.0 * unit)

    def _sign(self, middle: Point, pole: str, wide: float) -> None:
        """A plus or a minus drawn as strokes on white, so wide."""
        (x, y), half = middle, wide / 2.0
        self.put(box(x - half, y - half, wide, wide, PAPER, stroke_width=0.0, corner=0.0))
        strokes = f"M{number(x - 0.8 * half)} {number(y)}h{number(1.6 * half)}"
        if pole == "plus":
            strokes += f"M{number(x)} {number(y - 0.8 * half)}v{number(1.6 * half)}"
        self.put(element("path", d=strokes, stroke=INK, stroke_width=max(0.3 * half, 0.12)))

    def wire(self, points: Sequence[Point], width: float) -> None:
        """A lead along points: a dark line with a light one in it; width at full size."""
        for colour, share in ((STRIP_COLOURS["tab"], 1.0), (PAPER, 0.3)):
            for a, b in pairwise(points):
                wide = share * width * self.mm
                self.shapes.append(line(*a, *b, colour, wide, stroke_linecap="round"))
                self.corners += [
                    (p + s * width * self.mm, q + s * width * self.mm)
                    for p, q in (a, b)
                    for s in (-0.5, 0.5)
                ]

    def barrier(self, a: Point, b: Point) -> None:
        """A sheet between two cans, seen on edge."""
        wide = max(1.1 * self.mm, 0.5)
        corners = [(p + s * wide, q) for p, q in (a, b) for s in (-0.5, 0.5)]
        self.put(line(*a, *b, BARRIER_COLOUR, wide, class_="barrier"), *corners)

    def end(self, middle: Point, radius: float, pole: str) -> None:
        """The end of a cell: the plus end white with a ring, the minus end grey."""
        fill = PAPER if pole == "plus" else CAN
        look: dict[str, Attribute] = {"cx": middle[0], "cy": middle[1], "stroke": INK}
        corners = (middle[0] - radius, middle[1] - radius), (middle[0] + radius, middle[1] + radius)
        self.put(
            element("circle", r=radius, fill=fill, stroke_width=0.4 * self.mm, **look), *corners
        )
        if pole == "plus":
            thin = 0.3 * self.mm
            self.put(element("circle", r=0.86 * radius, fill="none", stroke_width=thin, **look))

    def band(self, kind: str, a: Point, b: Point, width: float, past: Point) -> None:
        """A piece of strip as a hatched band from a to b, reaching past both by so much."""
        span = math.hypot(b[0] - a[0], b[1] - a[1])
        ux, uy = (b[0] - a[0]) / span, (b[1] - a[1]) / span
        start = (a[0] - ux * past[0], a[1] - uy * past[0])
        long = span + past[0] + past[1]

        def place(u: float, v: float) -> Point:
            """A place along and across the band."""
            return start[0] + u * ux - v * uy, start[1] + u * uy + v * ux

        half, colour = width / 2.0, STRIP_COLOURS[kind]
        corners = [place(0.0, half), place(long, half), place(long, -half), place(0.0, -half)]
        edge = 0.5 * self.mm
        self.put(polygon(corners, fill=PAPER, stroke=colour, stroke_width=edge), *corners)
        strokes = "".join(
            f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}"
            for one, other in _hatch(kind, long, half, HATCH_MM * self.mm)
            for (x1, y1), (x2, y2) in [(place(*one), place(*other))]
        )
        dots: dict[str, Attribute] = {}
        if kind == "parallel":  # a dash of no length with a round end is a dot
            dots = {
                "stroke_linecap": "round",
                "stroke_dasharray": f"0 {number(HATCH_MM * self.mm)}",
            }
        stroke = (1.1 if dots else 0.6) * self.mm
        hatch = element(
            "path", d=strokes, stroke=colour, stroke_width=stroke, class_="hatch", **dots
        )
        self.put(hatch)
        dash = DASHES[kind]
        if dash != "none":
            dash = " ".join(f"{float(part) * self.mm:.3g}" for part in dash.split())
        self.line(a, b, 0.9, colour, dash)

    def covers(self, *corners: Point, aside: Point = (0.0, 0.0)) -> None:
        """No sign is to be put within the corners, or so near to them."""
        x, y = zip(*corners, strict=True)
        self.taken.append(
            (min(x) - aside[0], min(y) - aside[1], max(x) + aside[0], max(y) + aside[1])
        )

    def nearest_free(self, places: Sequence[Point], half_x: float, half_y: float) -> Point:
        """The first place where a sign so large covers nothing; it is taken from then on."""
        gap = 0.4 * self.letter
        wide, high = half_x + gap, half_y + gap
        left, top, right, bottom = np.array(self.taken or [(0.0, 0.0, 0.0, 0.0)]).T
        for x, y in places:
            over = (x - wide < right) & (x + wide > left) & (y - high < bottom) & (y + high > top)
            if not over.any():
                self.taken.append((x - wide, y - high, x + wide, y + high))
                return x, y
        return places[0]

    def arrow(self, tail: Point, way: Point) -> Point:
        """An arrow of 6 mm with its head; returns the tip of its shaft."""
        dx, dy = way[0] * 6.0 * self.letter, way[1] * 6.0 * self.letter
        tip = (tail[0] + dx, tail[1] + dy)
        self.line(tail, tip, 0.8)
        head = (
            (tip[0] + 0.4 * dx, tip[1] + 0.4 * dy),
            (tip[0] + 0.3 * dy, tip[1] - 0.3 * dx),
            (tip[0] - 0.3 * dy, tip[1] + 0.3 * dx),
        )
        self.put(polygon(head, fill=INK), *head)
        return tip


def badge_half(content: str) -> Point:
    """Half the width and height of a balance wire's number."""
    return (BADGE_MM if len(content) < 3 else BADGE_MM + 2.2), BADGE_MM


def _hatch(kind: str, long: float, half: float, step: float) -> Iterator[tuple[Point, Point]]:
    """Strokes of a band's hatch, along and across: slanted for series, rows of dots for parallel
    strip, crossed for the terminal tabs.
    """
    if kind == "series":
        reach = 2.0 * half
        for k in range(1, int((long + reach) / step) + 1):
            first, last = k * step - reach, k * step
            one = max(first, 0.0)
            other = min(last, long)
            yield (one, half - (one - first)), (other, half - (other - first))
        return
    rows = (-0.6 * half, 0.0, 0.6 * half) if kind == "tab" else (-0.55 * half, 0.55 * half)
    for row in rows:
        yield (0.15 * step, row), (long - 0.15 * step, row)
    if kind == "tab":
        for k in range(1, int(long / step) + 1):
            yield (k * step - step / 2.0, -half), (k * step - step / 2.0, half)
