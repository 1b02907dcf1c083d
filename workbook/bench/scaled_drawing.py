"""The pack drawn to a plain scale, both faces of every layer, as SVG that needs nothing beside it.

One unit is one millimetre of the print. Sizes of the pack shrink with the scale, lettering does not
shrink below what can be read. What colour says, a hatch, a dash or a letter says too. The elements carry
`data-` attributes, so that a program can read the net back from the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import combinations, pairwise

import numpy as np

from workbook.bench.arrange import CellPlace
from workbook.bench.clearance import Contact, contacts
from workbook.bench.interconnect import Interconnect, face_of
from workbook.bench.layout import Layout
from workbook.svg import INK, Attribute, box, document, element, group, line, polygon, text

PAPER = "#ffffff"
CAN = "#eef0f3"
STRIP_COLOURS = {"series": "#2b37af", "parallel": "#2b8653", "tab": "#7e1f0a"}
"""Apart for readers with any of the common colour-vision defects; hatch and dash say the same."""
DASHES = {"series": "none", "parallel": "2.2 1.4", "tab": "4 1 1 1"}
LEGEND = {
    "series": "series strip",
    "parallel": "parallel strip",
    "tab": "terminal tab",
    "lead": "main lead, soldered on",
    "barrier": "sheet between cans",
    "tap": "balance wire",
    "plus": "plus end, ringed",
    "minus": "minus end",
    "label": "pole and group number",
}

SCALES = (1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 4.0, 5.0, 8.0, 10.0)
"""Millimetres of the pack in a millimetre of the print."""
SEEN = "Top faces are seen from above, bottom faces with the pack turned over about its long axis."
TITLE = 2.9
"""Height of both lines of a face's title over the font size."""
CROWDED = 2.5
"""From this scale on, lettering covers what it names: the drawing gets a page of its own."""
TEXT_MM = 4.3
"""Font size at full size; capitals and figures of it are 3 mm high."""
SMALLEST_TEXT_MM = 3.2
"""9 pt: lettering shrinks with the scale, but not below this."""
CHARACTER = 0.6
"""Mean width of a character over the font size, on the wide side."""
BADGE_MM = 4.4
"""Half the height of a balance wire's number at full size."""
LEAST_WIDTH_MM = 178.0
"""Of a drawing at full size, so that lettering looks alike beside small and large packs."""
GAP_MM = 1.5
LEAD_MM = 3.6
"""Width of a drawn main lead, at full size."""
LEAD_OUT_MM = 11.0
"""How far a drawn lead goes on past the tabs, in lettering at full size."""
BARRIER_COLOUR = "#8a4b08"
FONTS = "Liberation Sans, Arial, Helvetica, sans-serif"
MINUS = "\u2212"

Point = tuple[float, float]


@dataclass(frozen=True)
class ScaledDrawing:
    """The drawing.

    Attributes:
        svg: self-contained inline SVG, one unit a millimetre of the print.
        scale: millimetres of the pack in a millimetre of the print, one of `SCALES`.
        width_mm, height_mm: of the drawing on the print.
    """

    svg: str
    scale: float
    width_mm: float
    height_mm: float


def tight_half(said: str) -> Point:
    """Half the width and height of a label that is no larger than its letters."""
    return CHARACTER * TEXT_MM * len(said) / 2.0 + 0.4, 2.3


@dataclass
class _Canvas:
    """Shapes as they are drawn, and what they cover.

    Attributes:
        mm: print millimetres in a millimetre of the pack.
        letter: print millimetres in a millimetre of lettering at full size.
        taken: left, top, right and bottom of what must not be covered.
    """

    mm: float
    letter: float
    shapes: list[str] = field(default_factory=list)
    corners: list[Point] = field(default_factory=list)
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    @property
    def left(self) -> float:
        return min(x for x, _ in self.corners)

    @property
    def top(self) -> float:
        return min(y for _, y in self.corners)

    @property
    def width(self) -> float:
        return max(x for x, _ in self.corners) - self.left

    @property
    def height(self) -> float:
        return max(y for _, y in self.corners) - self.top

    def put(self, shape: str, *corners: Point) -> None:
        """Add a shape that covers the corners."""
        self.shapes.append(shape)
        self.corners.extend(corners)

    @contextmanager
    def group(self, **attributes: Attribute) -> Iterator[None]:
        """What is drawn meanwhile belongs together."""
        around, self.shapes = self.shapes, []
        yield
        self.shapes = [*around, group(*self.shapes, **attributes)]

    def line(self, a: Point, b: Point, stroke_mm: float, colour: str = INK, dash: str = "") -> None:
        """A stroke whose width is given at full size."""
        self.put(line(*a, *b, colour, stroke_mm * self.mm, dash), a, b)

    def words(
        self, at: Point, said: str, *, size: float, anchor: str = "start", bold: bool = False
    ) -> None:
        """Text that stands on a point; its size is of lettering at full size."""
        size *= self.letter
        wide = CHARACTER * size * len(said)
        left = at[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * wide
        shape = text(*at, said, size=size, anchor=anchor, bold=bold)
        self.put(shape, (left, at[1] - size), (left + wide, at[1] + size / 3.0))

    def plate(self, middle: Point, half_x: float, half_y: float, corner: float, fill: str) -> None:
        """A plate with round corners under letters; sizes of lettering at full size."""
        x, y = half_x * self.letter, half_y * self.letter
        left, top = middle[0] - x, middle[1] - y
        edge = INK if fill == PAPER else PAPER
        look = (fill, edge, 0.3 * self.letter, corner * self.letter)
        self.put(
            box(left, top, 2.0 * x, 2.0 * y, *look), (left, top), (left + 2.0 * x, top + 2.0 * y)
        )

    def badge(self, at: Point, number: str) -> None:
        """A balance wire's number."""
        half = BADGE_MM if len(number) < 3 else BADGE_MM + 2.2
        self.plate(at, half, BADGE_MM, BADGE_MM, INK)
        size = TEXT_MM * self.letter
        below = (at[0], at[1] + 0.35 * size)
        self.put(text(*below, number, size=size, anchor="middle", bold=True, colour=PAPER))

    def label(self, at: Point, pole: str, number: int) -> None:
        """Pole and group number of a cell, over its strips."""
        half, unit = 6.0 if number < 10 else 7.4, self.letter
        with self.group(class_="label"):
            self.plate(at, half, 3.1, 1.6, PAPER)
            sign = (at[0] + (3.0 - half) * unit, at[1] + 2.0 * unit)
            said = "+" if pole == "plus" else MINUS
            self.words(sign, said, size=5.6, anchor="middle", bold=True)
            place = (at[0] + 2.3 * unit, at[1] + 1.55 * unit)
            self.words(place, str(number), size=TEXT_MM, anchor="middle")

    def tight_label(self, at: Point, said: str) -> None:
        """A label no larger than its letters, where cells are drawn small."""
        with self.group(class_="label"):
            half_x, half_y = tight_half(said)
            self.plate(at, half_x, half_y, 0.8, PAPER)
            self.words((at[0], at[1] + 1.55 * self.letter), said, size=TEXT_MM, anchor="middle")

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

    def end(self, at: Point, radius: float, pole: str) -> None:
        """The end of a cell: the plus end white with a ring, the minus end grey."""
        fill = PAPER if pole == "plus" else CAN
        look: dict[str, Attribute] = {"cx": at[0], "cy": at[1], "stroke": INK}
        corners = (at[0] - radius, at[1] - radius), (at[0] + radius, at[1] + radius)
        self.put(
            element("circle", r=radius, fill=fill, stroke_width=0.4 * self.mm, **look), *corners
        )
        if pole == "plus":
            thin = 0.3 * self.mm
            self.put(element("circle", r=0.86 * radius, fill="none", stroke_width=thin, **look))

    def band(self, kind: str, a: Point, b: Point, width: float, past: Point) -> None:
        """A piece of strip as a hatched band from a to b, reaching past both by so much."""
        span = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
        ux, uy = (b[0] - a[0]) / span, (b[1] - a[1]) / span
        side = (-uy * width / 2.0, ux * width / 2.0)
        ends = (
            (a[0] - ux * past[0], a[1] - uy * past[0]),
            (b[0] + ux * past[1], b[1] + uy * past[1]),
        )
        corners = [
            (x + sign * side[0], y + sign * side[1])
            for (x, y), signs in zip(ends, ((1, -1), (-1, 1)), strict=True)
            for sign in signs
        ]
        colour = STRIP_COLOURS[kind]
        hatch, edge = f"url(#hatch-{kind})", 0.5 * self.mm
        self.put(polygon(corners, fill=hatch, stroke=colour, stroke_width=edge), *corners)
        dash = DASHES[kind]
        if dash != "none":
            dash = " ".join(f"{float(part) * self.mm:.3g}" for part in dash.split())
        self.line(a, b, 0.9, colour, dash)

    def covers(self, left: float, top: float, right: float, bottom: float) -> None:
        """A part of the drawing on which no sign is to be put."""
        self.taken.append((left, top, right, bottom))

    def free(self, left: float, top: float, right: float, bottom: float) -> bool:
        """Whether nothing that must be read is there."""
        return not any(
            left < r and right > x and top < b and bottom > y for x, y, r, b in self.taken
        )

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


def _hatches(mm: float) -> str:
    """Slanted for series, dotted for parallel, crossed for the terminal tabs."""
    step = 2.4 * mm
    patterns = []
    for kind, colour in STRIP_COLOURS.items():
        stroke: dict[str, Attribute] = {"stroke": colour, "stroke_width": 0.7 * mm}
        across = element("path", d=f"M0 {step / 2:.3g}H{step:.3g}", **stroke)
        marks = {
            "series": across,
            "parallel": element("circle", cx=step / 2, cy=step / 2, r=0.55 * mm, fill=colour),
            "tab": across + element("path", d=f"M{step / 2:.3g} 0V{step:.3g}", **stroke),
        }
        patterns.append(
            element(
                "pattern",
                element("rect", width=step, height=step, fill=PAPER),
                marks[kind],
                id=f"hatch-{kind}",
                patternUnits="userSpaceOnUse",
                width=step,
                height=step,
                patternTransform="rotate(45)" if kind == "series" else "rotate(0)",
            )
        )
    return element("defs", *patterns)


class _Face:
    """One face of one layer, its middle at 0, 0."""

    def __init__(self, layout: Layout, layer: int, face: str, scale: float) -> None:
        self.layout, self.layer, self.face = layout, layer, face
        self.mm = 1.0 / scale
        self.canvas = _Canvas(self.mm, max(self.mm, SMALLEST_TEXT_MM / TEXT_MM))
        # y of the pack on the paper, whose y looks down; the bottom is seen turned over
        self.up = -1.0 if face == "top" else 1.0
        self.cells = {c.number: c for c in layout.cells if c.layer == layer}
        self.labels: list[tuple[float, float, float, float]] = []
        self.half_x, self.half_y = (side / 2.0 * self.mm for side in layout.box_mm[:2])
        self._outline()
        self._ends()
        self._barriers()
        arrows = self._strips()
        self._leads()
        labels = self._label_places()
        self._arrows(arrows)
        self._taps()
        for at, pole, number, said in labels:
            if said is None:
                self.canvas.label(at, pole, number)
            else:
                self.canvas.tight_label(at, said)
        if (layer, face) == (layout.layers - 1, "top"):  # every face has the same outline
            self._dimensions()

    @property
    def title(self) -> str:
        """Which face."""
        layer = "" if self.layout.layers == 1 else f", layer {self.layer + 1}"
        return f"{self.face.capitalize()} face{layer}"

    @property
    def under_title(self) -> str:
        """What lies on this face, and the highest voltage between the two."""
        other = self.layer + (1 if self.face == "top" else -1)
        if not 0 <= other < self.layout.layers:
            return "outer face: fish paper, sleeve"
        volts = facing(self.layout, min(other, self.layer)).volts
        face = "bottom" if self.face == "top" else "top"
        return f"on it: layer {other + 1}'s {face}, up to {volts:.1f} V"

    @property
    def width(self) -> float:
        """Of face and title."""
        longest = max(len(self.title), len(self.under_title))
        return max(self.canvas.width, CHARACTER * TEXT_MM * self.canvas.letter * longest)

    def placed(self, left: float, top: float) -> str:
        """The face with its corner at a place of the sheet."""
        left += (self.width - self.canvas.width) / 2.0
        x, y = left - self.canvas.left, top - self.canvas.top
        drawn = group(
            *self.canvas.shapes, class_="face", data_layer=self.layer, data_face=self.face
        )
        return group(drawn, transform=f"translate({x:.2f} {y:.2f})")

    def at(self, cell: CellPlace) -> Point:
        """Middle of a cell on the drawing."""
        return cell.x_mm * self.mm, self.up * cell.y_mm * self.mm

    def pole(self, cell: CellPlace) -> str:
        """Which end of a cell is seen."""
        return "plus" if face_of(cell, "plus") == self.face else "minus"

    def _outline(self) -> None:
        f, x, y = self.layout.fittings, self.half_x, self.half_y
        corner = min((self.layout.diameter_mm / 2.0 + f.wrap_mm + f.padding_mm) * self.mm, y)
        thin = 0.35 * self.mm
        dash = f"{3 * self.mm:.3g} {1.5 * self.mm:.3g}"
        shape = box(
            -x, -y, 2 * x, 2 * y, stroke_width=thin, corner=corner, dash=dash, class_="outline"
        )
        self.canvas.put(shape, (-x, -y), (x, y))

    def _ends(self) -> None:
        for cell in self.cells.values():
            pole = self.pole(cell)
            with self.canvas.group(
                class_="cell", data_cell=cell.number, data_group=cell.group, data_pole=pole
            ):
                self.canvas.end(self.at(cell), self.layout.diameter_mm / 2.0 * self.mm, pole)

    def _strips(self) -> list[tuple[Point, Point, str]]:
        """Every strip of the face; returns the arrows out of the folds."""
        order = {"parallel": 0, "series": 1, "tab": 2}
        here = [
            (link, link.from_cell)
            for link in self.layout.links
            if (link.layer, link.face) == (self.layer, self.face)
        ]
        arrived = [
            (link, link.to_cell)
            for link in self.layout.links
            if link.folded and link.to_cell in self.cells and link.face != self.face
        ]
        arrows = []
        for link, near in sorted([*here, *arrived], key=lambda k: order[k[0].kind]):
            assert near is not None
            with self.canvas.group(
                class_="strip",
                data_link=link.number,
                data_kind=link.kind,
                data_junction=link.junction,
                data_from=link.from_cell,
                data_to="outside" if link.to_cell is None else link.to_cell,
                data_folded="true" if link.folded else "false",
            ):
                end = self._strip(link, self.at(self.cells[near]))
            if link.folded:
                way = (link.way[0] * 1.0, self.up * link.way[1])
                assert link.to_cell is not None
                ends = [
                    self.layout.cells[link.from_cell].layer,
                    self.layout.cells[link.to_cell].layer,
                ]
                ends.remove(self.layer)
                arrows.append((end, way, f"layer {ends[0] + 1}"))
        return arrows

    def _strip(self, link: Interconnect, start: Point) -> Point:
        """One strip from a cell's middle; returns its far end."""
        f = self.layout.fittings
        past = min(4.0, f.strip_width_mm / 2.0) * self.mm
        if link.to_cell is not None and not link.folded:
            end = self.at(self.cells[link.to_cell])
            over = past
        else:
            skin_mm = f.wrap_mm + f.padding_mm
            reach_mm = self.layout.diameter_mm / 2.0 + skin_mm if link.folded else link.length_mm
            x, y = link.way
            end = (start[0] + x * reach_mm * self.mm, start[1] + self.up * y * reach_mm * self.mm)
            over = 0.0
        self.canvas.band(link.kind, start, end, f.strip_width_mm * self.mm, (past, over))
        return end

    def _barriers(self) -> None:
        """The sheets between touching cans of different groups."""
        layout, half = self.layout, 0.42 * self.layout.diameter_mm * self.mm
        at = {number: self.at(cell) for number, cell in self.cells.items()}
        near = 1.05 * layout.pitch_mm * self.mm
        for (i, (x1, y1)), (j, (x2, y2)) in combinations(at.items(), 2):
            apart = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
            if apart < near and self.cells[i].group != self.cells[j].group:
                aside = (-(y2 - y1) / apart * half, (x2 - x1) / apart * half)
                middle = ((x1 + x2) / 2.0, (y1 + y2) / 2.0)
                self.canvas.barrier(
                    (middle[0] - aside[0], middle[1] - aside[1]),
                    (middle[0] + aside[0], middle[1] + aside[1]),
                )

    def _leads(self) -> None:
        """The main lead of each pole that leaves this face: across its tabs, then away."""
        unit = self.canvas.letter
        for junction in (0, self.layout.series):
            tabs = [
                k
                for k in self.layout.links
                if k.kind == "tab"
                and k.junction == junction
                and (k.layer, k.face) == (self.layer, self.face)
            ]
            if not tabs:
                continue
            x, y = tabs[0].way[0] * 1.0, self.up * tabs[0].way[1]
            half = self.layout.fittings.strip_width_mm / 2.0 * self.mm
            tips = []
            for link in tabs:
                a, b = self.at(self.cells[link.from_cell])
                reach = link.length_mm * self.mm
                tips.append((a + x * reach, b + y * reach))
                across = half + 0.2
                self.canvas.covers(
                    min(a, a + x * reach) - across * abs(y),
                    min(b, b + y * reach) - across * abs(x),
                    max(a, a + x * reach) + across * abs(y),
                    max(b, b + y * reach) + across * abs(x),
                )
            # soldered across the tabs, a third of their free length from their ends
            back = self.layout.fittings.tab_mm / 3.0 * self.mm
            seats = sorted((p - x * back, q - y * back) for p, q in tips)
            first, last = (
                (p + sign * half * abs(y), q + sign * half * abs(x))
                for sign, (p, q) in ((-1.0, seats[0]), (1.0, seats[-1]))
            )
            middle = ((first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0)
            out = back + LEAD_OUT_MM * unit
            end = (middle[0] + x * out, middle[1] + y * out)
            with self.canvas.group(class_="lead", data_junction=junction):
                self.canvas.wire((first, last), LEAD_MM)
                self.canvas.wire((middle, end), LEAD_MM)
                said = "+" if junction else MINUS
                sign = (end[0] + x * 5.0 * unit, end[1] + y * 5.0 * unit)
                shape = text(
                    sign[0],
                    sign[1] + 3.4 * unit,
                    said,
                    size=10.0 * unit,
                    anchor="middle",
                    bold=True,
                    colour=STRIP_COLOURS["tab"],
                )
                corners = (
                    (sign[0] - 3.5 * unit, sign[1] - 4.0 * unit),
                    (sign[0] + 3.5 * unit, sign[1] + 4.0 * unit),
                )
                self.canvas.put(shape, *corners)
                self.canvas.covers(*corners[0], *corners[1])
            thick = LEAD_MM * self.mm
            for p, q in ((first, last), (middle, end)):
                self.canvas.covers(
                    min(p[0], q[0]) - thick,
                    min(p[1], q[1]) - thick,
                    max(p[0], q[0]) + thick,
                    max(p[1], q[1]) + thick,
                )

    def _label_places(self) -> list[tuple[Point, str, int, str | None]]:
        """Where each cell's label goes and what it says; None for a label at its full size.

        Where cells are drawn too small for a label each, those that would lie on another are left
        out: a group's first cells come first.
        """
        unit, found = self.canvas.letter, []
        pitch = self.layout.pitch_mm * self.mm
        full = (14.8 if self.layout.series >= 10 else 12.0) * unit < 0.98 * pitch
        signed = 2.0 * tight_half(f"+{self.layout.series}")[0] * unit < 0.98 * pitch
        size = self.layout.parallel
        order = sorted(self.cells.values(), key=lambda c: (c.number % size, c.number))
        for cell in order:
            at, pole = self.at(cell), self.pole(cell)
            said = None if full else f"{cell.group}"
            if said and signed:
                said = ("+" if pole == "plus" else MINUS) + said
            x, y = (6.0 if cell.group < 10 else 7.4, 3.1) if said is None else tight_half(said)
            place = (at[0] - x * unit, at[1] - y * unit, at[0] + x * unit, at[1] + y * unit)
            if self._clear_of_labels(place):
                self.labels.append(place)
                found.append((at, pole, cell.group, said))
        self.canvas.taken += self.labels
        return found

    def _clear_of_labels(self, place: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = place
        return not any(
            left < r and right > x and top < b and bottom > y for x, y, r, b in self.labels
        )

    def _arrows(self, arrows: list[tuple[Point, Point, str]]) -> None:
        """An arrow out of each fold, and where it goes in words beside the last one of a side."""
        unit = self.canvas.letter
        last = {
            (way, said): max(tail for tail, w, s in arrows if (w, s) == (way, said))
            for _, way, said in arrows
        }
        tips = [(tail, way, said, self.canvas.arrow(tail, way)) for tail, way, said in arrows]
        for tail, _, _, tip in tips:
            (x1, x2), (y1, y2) = sorted((tail[0], tip[0])), sorted((tail[1], tip[1]))
            self.canvas.covers(x1 - 2 * unit, y1 - 2 * unit, x2 + 2 * unit, y2 + 2 * unit)
        wide = CHARACTER * TEXT_MM * unit
        for tail, way, said, tip in tips:
            if tail != last[(way, said)]:
                continue
            long = wide * len(said)
            if way[0]:  # under the last arrow, off the block
                x = way[0] * (self.half_x + 1.5 * unit + long / 2.0)
                y = tip[1] + 5.5 * unit
            else:  # beyond the head
                x, y = tip[0], tip[1] + way[1] * 5.5 * unit
            below = y + 1.5 * unit
            self.canvas.words((x, below), said, size=TEXT_MM, anchor="middle")
            self.canvas.covers(
                x - long / 2, below - TEXT_MM * unit, x + long / 2, below + 1.5 * unit
            )

    def _taps(self) -> None:
        """Numbers of the balance wires, outside the block, each with a line to its cell."""
        for wire in self.layout.taps:
            if (wire.layer, wire.face) == (self.layer, self.face):
                at = self.at(self.cells[wire.cell])
                badge = self._badge_place(self.cells[wire.cell], f"B{wire.number}")
                with self.canvas.group(class_="tap", data_tap=wire.number, data_cell=wire.cell):
                    self.canvas.line(at, badge, 0.8)
                    self.canvas.badge(badge, f"B{wire.number}")

    def _badge_place(self, cell: CellPlace, said: str) -> Point:
        """The free place for a balance wire's number that is nearest to its cell, off the block."""
        unit, (x, y) = self.canvas.letter, self.at(cell)
        half_x, half_y = (BADGE_MM if len(said) < 3 else BADGE_MM + 2.2) * unit, BADGE_MM * unit
        out, slide, side = np.meshgrid(
            unit * (1.5 + 2.0 * np.arange(12)),
            unit * 2.0 * np.arange(-40, 41),
            (-1.0, 1.0),
            indexing="ij",
        )
        over = np.stack([x + slide, side * (self.half_y + out + half_y)], axis=-1)
        beside = np.stack([side * (self.half_x + out + half_x), y + slide], axis=-1)
        found = np.stack([over, beside], axis=3).reshape(-1, 2)
        distance = np.round(np.square(found - (x, y)).sum(axis=1), 3)
        found = found[np.argsort(distance, kind="stable")]
        outside = np.abs(found) >= (self.half_x + half_x, self.half_y + half_y)
        gap = 0.4 * unit
        for p, q in found[outside.any(axis=1)].tolist():
            place = (p - half_x - gap, q - half_y - gap, p + half_x + gap, q + half_y + gap)
            if self.canvas.free(*place):
                self.canvas.covers(*place)
                return p, q
        return float(found[0, 0]), float(found[0, 1])

    def _dimensions(self) -> None:
        """Outer length under the block and outer width beside it."""
        unit, x, y = self.canvas.letter, self.half_x, self.half_y
        box_mm = self.layout.box_mm
        below = max(q for _, q in self.canvas.corners) + 3.5 * unit
        beside = max(p for p, _ in self.canvas.corners) + 3.5 * unit
        tick = 2.0 * unit
        for a, b in (
            ((-x, below), (x, below)),
            ((-x, below - tick), (-x, below + tick)),
            ((x, below - tick), (x, below + tick)),
            ((beside, -y), (beside, y)),
            ((beside - tick, -y), (beside + tick, -y)),
            ((beside - tick, y), (beside + tick, y)),
        ):
            self.canvas.line(a, b, 0.35)
        self.canvas.words(
            (0.0, below + 4.8 * unit), f"{box_mm[0]:.1f} mm", size=TEXT_MM, anchor="middle"
        )
        said, size, at = f"{box_mm[1]:.1f} mm", TEXT_MM * unit, beside + 5.5 * unit
        shape = text(at, 0.0, said, size=size, anchor="middle", transform=f"rotate(-90 {at:.2f} 0)")
        long = CHARACTER * size * len(said) / 2.0
        self.canvas.put(shape, (at - size, -long), (at + size / 3.0, long))


def _rows(faces: Sequence[_Face], width_mm: float) -> list[list[_Face]] | None:
    """Faces in rows, as many side by side as fit; None where one is too wide."""
    rows: list[list[_Face]] = []
    for face in faces:
        if face.width > width_mm:
            return None
        used = sum(f.width + GAP_MM for f in rows[-1]) if rows else width_mm
        if used + face.width <= width_mm:
            rows[-1].append(face)
        else:
            rows.append([face])
    return rows


def _sign(kind: str, unit: float) -> _Canvas:
    """A sign of the legend."""
    sign = _Canvas(unit, unit)
    if kind in STRIP_COLOURS:
        sign.band(kind, (0.0, 0.0), (12.0 * unit, 0.0), 5.0 * unit, (unit, unit))
    elif kind == "lead":
        sign.wire(((0.0, 0.0), (12.0 * unit, 0.0)), 0.8 * LEAD_MM)
    elif kind == "barrier":
        sign.barrier((2.0 * unit, -4.0 * unit), (2.0 * unit, 4.0 * unit))
    elif kind == "tap":
        sign.badge((0.0, 0.0), "B1")
    elif kind == "label":
        sign.label((0.0, 0.0), "plus", 3)
    else:
        sign.end((0.0, 0.0), 4.2 * unit, kind)
    return sign


def _legend(top: float, width_mm: float, size: float) -> tuple[list[str], float]:
    """What the signs mean, in rows spread over the width; and where it ends."""
    rows: list[list[tuple[_Canvas, str, float]]] = [[]]
    for kind, said in LEGEND.items():
        sign = _sign(kind, 0.155 * size)
        wide = sign.width + 0.45 * size + 0.5 * size * len(said)
        if rows[-1] and sum(room + GAP_MM for *_, room in rows[-1]) + wide > width_mm:
            rows.append([])
        rows[-1].append((sign, said, wide))
    shapes = []
    for number, row in enumerate(rows):
        middle, x = top + (0.83 + 1.8 * number) * size, 0.0
        spare = width_mm - sum(room for *_, room in row)
        gap = spare / max(len(row) - 1, 1)
        gap = gap if len(rows) == 1 else min(gap, 2.0 * size)
        for sign, said, wide in row:
            at = f"translate({x - sign.left:.2f} {middle:.2f})"
            drawn = group(*sign.shapes, transform=at)
            words = text(x + sign.width + 0.45 * size, middle + 0.34 * size, said, size=size)
            shapes.append(group(drawn, words, class_="legend"))
            x += wide + gap
    return shapes, top + (0.16 + 1.8 * len(rows)) * size


def _bar(top: float, scale: float) -> list[str]:
    """Fifty millimetres of the pack, and what they must measure on the print."""
    tile = 10.0 / scale
    fills = (INK, PAPER, INK, PAPER, INK)
    tiles = [
        box(tile * k, top + 1.2, tile, 2.0, fill, stroke_width=0.2, corner=0.0, class_="bar")
        for k, fill in enumerate(fills)
    ]
    shown = "full size" if scale == 1.0 else f"scale 1 : {scale:g}"
    said = f"50 mm of the pack, {shown}: printed at 100 % this bar measures {5 * tile:.4g} mm."
    return [*tiles, text(5.0 * tile + 2.5, top + 3.1, said, size=SMALLEST_TEXT_MM)]


def facing(layout: Layout, lower: int) -> Contact:
    """What lies between a layer, 0 up, and the one on it.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> layout = layouts(example_pack(6, 4), (95.0, 70.0, 150.0))[0]
        >>> facing(layout, 0).volts
        8.4
    """
    return next(c for c in contacts(layout) if c.layer == lower)


def _stack(layout: Layout, top: float, width_mm: float, size: float) -> tuple[list[str], float]:
    """The pack from the side, not to scale: its layers, and the sheets between them."""
    if layout.layers == 1:
        return [], top
    size = min(size, SMALLEST_TEXT_MM)
    shapes, wide, high = [], 0.2 * width_mm, 1.7 * size
    down = top + 1.3 * size
    shapes.append(text(0.0, down, "From the side, what lies on what", size=size, bold=True))
    down += 0.6 * size
    outside, sheet = "fish paper, then the sleeve", "fish paper, then the sleeve"
    for layer in reversed(range(layout.layers)):
        shapes.append(_sheet(down, wide, sheet, size))
        down += 1.4 * size
        shapes.append(box(0.2, down, wide, high, CAN, stroke_width=0.3, corner=0.0))
        groups = ", ".join(map(str, sorted({c.group for c in layout.cells if c.layer == layer})))
        said = f"layer {layer + 1}, of groups {groups}"
        shapes.append(text(wide + 0.6 * size, down + 1.15 * size, said, size=size))
        down += high
        if layer:
            volts = facing(layout, layer - 1).volts
            thick = layout.fittings.sheet_mm
            sheet = f"up to {volts:.1f} V: polyimide tape, {thick:g} mm fish paper, on both faces"
    shapes.append(_sheet(down, wide, outside, size))
    return [group(*shapes, class_="stack")], down + 1.4 * size + GAP_MM


def _sheet(top: float, wide: float, said: str, size: float) -> str:
    """A sheet seen on edge, and its name beside it."""
    middle = top + 0.7 * size
    return group(
        line(0.0, middle, wide, middle, BARRIER_COLOUR, 0.35 * size),
        text(wide + 0.6 * size, middle + 0.35 * size, said, size=size),
    )


def _faces(layout: Layout, scale: float) -> list[_Face]:
    return [
        _Face(layout, layer, face, scale)
        for layer in reversed(range(layout.layers))
        for face in ("top", "bottom")
    ]


def _drawn(
    layout: Layout, rows: list[list[_Face]], scale: float, width_mm: float, *, bar: bool
) -> ScaledDrawing:
    """Faces in their rows, each with its title, the legend and the bar."""
    shapes, down = [_hatches(1.0 / scale)], 0.0
    size = TEXT_MM * rows[0][0].canvas.letter
    for row in rows:
        gap = (width_mm - sum(face.width for face in row)) / (len(row) + 1)
        left = gap
        for face in row:
            shapes.append(text(left, down + 1.2 * size, face.title, size=size, bold=True))
            shapes.append(text(left, down + 2.5 * size, face.under_title, size=size))
            shapes.append(face.placed(left, down + TITLE * size))
            left += face.width + gap
        down += max(face.canvas.height for face in row) + TITLE * size + GAP_MM
    shapes.append(text(0.0, down + size, SEEN, size=min(size, SMALLEST_TEXT_MM)))
    down += 1.7 * size
    stack, down = _stack(layout, down, width_mm, size)
    shapes += stack
    signs, down = _legend(down, width_mm, size)
    shapes += signs
    if bar:
        shapes += _bar(down, scale)
        down += 4.5
    svg = document(
        *shapes,
        width=width_mm,
        height=down,
        unit="mm",
        name="strips and balance wires on both faces of every layer",
        class_="faces",
        font_family=FONTS,
        data_scale=f"{scale:g}",
        data_series=layout.series,
        data_parallel=layout.parallel,
    )
    return ScaledDrawing(svg, scale, width_mm, down)


def draw_to_fit(layout: Layout, width_mm: float, height_mm: float) -> ScaledDrawing:
    """Draw both faces of every layer into a space, at the largest of `SCALES` that it takes.

    The bottom face is drawn as the builder sees it after turning the pack over about its long axis:
    left stays left, and the far row comes near. A bar tells the scale to whoever measures the print.

    Args:
        layout: the layout.
        width_mm: of the space; the drawing is that wide.
        height_mm: of the space; at the smallest scale the drawing may be higher.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> drawn = draw_to_fit(layouts(example_pack(4, 2))[0], 186.0, 100.0)
        >>> drawn.scale, drawn.height_mm < 100.0, drawn.svg.count('class="tap"')
        (1.5, True, 5)
    """
    fitting = [s for s in SCALES if layout.box_mm[0] < width_mm * s] or [SCALES[-1]]
    for scale in fitting:
        faces = _faces(layout, scale)
        rows = _rows(faces, width_mm)
        if rows is None and scale < SCALES[-1]:
            continue
        drawn = _drawn(layout, rows or [[f] for f in faces], scale, width_mm, bar=True)
        if drawn.height_mm <= height_mm:
            break
    return drawn


def draw_full_size(layout: Layout) -> ScaledDrawing:
    """Draw both faces of every layer at full size, one under the other.

    Args:
        layout: the layout.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> draw_full_size(layouts(example_pack(4, 2))[0]).svg.count('data-kind="series"')
        6
    """
    faces = _faces(layout, 1.0)
    width_mm = max(LEAST_WIDTH_MM, *(face.width for face in faces))
    return _drawn(layout, [[face] for face in faces], 1.0, width_mm, bar=False)
