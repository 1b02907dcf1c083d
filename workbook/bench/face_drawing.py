"""One face of one layer of a pack: cells, strips, leads, balance wires and what lies on it."""

from __future__ import annotations

from typing import Any

import numpy as np

from workbook.bench.arrange import CellPlace
from workbook.bench.clearance import Contact, contacts
from workbook.bench.drawing_canvas import (
    CHARACTER,
    LEAD_MM,
    MINUS,
    SMALLEST_TEXT_MM,
    STRIP_COLOURS,
    TEXT_MM,
    Canvas,
    Label,
    Point,
    badge_half,
    labels,
)
from workbook.bench.interconnect import Interconnect, face_of
from workbook.bench.layout import Layout
from workbook.numbers import FloatArray
from workbook.svg import box, group, text
from workbook.units import with_unit

LEAD_OUT_MM = 11.0
"""How far a drawn lead goes on past the tabs, in lettering at full size."""
LARGEST_TITLE_MM = 3.6


def lettering(scale: float) -> float:
    """Print millimetres in a millimetre of lettering at full size: it shrinks, but stays legible."""
    return max(1.0 / scale, SMALLEST_TEXT_MM / TEXT_MM)


def title_mm(letter: float) -> float:
    """Size of a face's title."""
    return min(TEXT_MM * letter, LARGEST_TITLE_MM)


def label_form(layout: Layout, scale: float) -> Label:
    """The form of label that has room on every cell, the easiest to read.

    Example:
        >>> import workbook as wb
        >>> layout = wb.layouts(wb.Pack(wb.find_cell("Bittern"), 14, 8))[0]
        >>> [label_form(layout, scale).form for scale in (1.0, 2.5, 3.0, 4.0, 8.0)]
        ['plate', 'tight', 'tight', 'stacked', 'sign']
    """
    unit = lettering(scale)
    x, y = _next_cells_mm(layout) / scale
    for form in labels(len(str(layout.series))):
        if np.all((2.0 * form.half_x * unit < 0.98 * x) | (2.0 * form.half_y * unit < 0.98 * y)):
            break
    return form


def _next_cells_mm(layout: Layout) -> FloatArray:
    """How far the cells next to a cell are, along x and y, shape (2, neighbours)."""
    xy = layout.centres_mm[[c.number for c in layout.cells if c.layer == layout.cells[0].layer], :2]
    away = np.abs(xy[:40, None] - xy[None]).reshape(-1, 2)
    apart = np.hypot(away[:, 0], away[:, 1])
    near = away[(apart > 0.0) & (apart < 1.05 * layout.pitch_mm)]
    found: FloatArray = np.unique(near.round(3), axis=0).T
    return found


def facing(layout: Layout, lower: int) -> Contact:
    """What lies between a layer, 0 up, and the one on it.

    Example:
        >>> import workbook as wb
        >>> layout = wb.layouts(wb.Pack(wb.find_cell("Bittern"), 6, 4), (95.0, 70.0, 150.0))[0]
        >>> facing(layout, 0).volts
        8.4
    """
    return next(c for c in contacts(layout) if c.layer == lower)


class Face:
    """One face of one layer, its middle at 0, 0."""

    def __init__(self, layout: Layout, layer: int, face: str, scale: float) -> None:
        self.layout, self.layer, self.face = layout, layer, face
        self.mm = 1.0 / scale
        self.canvas = Canvas(self.mm, max(self.mm, SMALLEST_TEXT_MM / TEXT_MM))
        # y of the pack on the paper, whose y looks down; the bottom is seen turned over
        self.up = -1.0 if face == "top" else 1.0
        self.cells = {c.number: c for c in layout.cells if c.layer == layer}
        self.form = label_form(layout, scale)
        self.half_x, self.half_y = (side / 2.0 * self.mm for side in layout.box_mm[:2])
        self._outline()
        self._ends()
        self._barriers()
        arrows = self._strips()
        self._leads()
        self._cover_labels()
        self._arrows(arrows)
        self._taps()
        self._labels()
        if (layer, face) == (layout.layers - 1, "top"):  # every face has the same outline
            self._dimensions()
        self.left, self.top, right, bottom = self.canvas.box
        self.drawn_width, self.height = right - self.left, bottom - self.top
        longest = max(len(self.title), len(self.under_title))
        self.width = max(self.drawn_width, CHARACTER * title_mm(self.canvas.letter) * longest)

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

    def placed(self, left: float, top: float) -> str:
        """The face with its corner at a place of the sheet."""
        left += (self.width - self.drawn_width) / 2.0
        x, y = left - self.left, top - self.top
        drawn = group(
            *self.canvas.shapes, class_="face", data_layer=self.layer, data_face=self.face
        )
        return group(drawn, transform=f"translate({x:.2f} {y:.2f})")

    def middle_of(self, cell: CellPlace) -> Point:
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
                self.canvas.end(self.middle_of(cell), self.layout.diameter_mm / 2.0 * self.mm, pole)

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
                end = self._strip(link, self.middle_of(self.cells[near]))
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
            end = self.middle_of(self.cells[link.to_cell])
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
        half = 0.42 * self.layout.diameter_mm * self.mm
        cells = list(self.cells.values())
        middles = np.array([self.middle_of(cell) for cell in cells])
        group = np.array([cell.group for cell in cells])
        away = middles[None] - middles[:, None]
        apart = np.hypot(away[..., 0], away[..., 1])
        near = (apart < 1.05 * self.layout.pitch_mm * self.mm) & (group[:, None] != group[None])
        for i, j in np.argwhere(np.triu(near)).tolist():
            x, y = (away[i, j] / apart[i, j] * half).tolist()
            p, q = ((middles[i] + middles[j]) / 2.0).tolist()
            self.canvas.barrier((p + y, q - x), (p - y, q + x))

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
                a, b = self.middle_of(self.cells[link.from_cell])
                reach = link.length_mm * self.mm
                tip = (a + x * reach, b + y * reach)
                tips.append(tip)
                across = half + 0.2
                self.canvas.covers((a, b), tip, aside=(across * abs(y), across * abs(x)))
            # soldered across the tabs, a third of their free length from their ends
            back = self.layout.fittings.tab_mm / 3.0 * self.mm
            seats = sorted(
                ((p - x * back, q - y * back) for p, q in tips),
                key=lambda seat: seat[0] * abs(y) + seat[1] * abs(x),
            )
            first, last = (
                (p + sign * half * abs(y), q + sign * half * abs(x))
                for sign, (p, q) in ((-1.0, seats[0]), (1.0, seats[-1]))
            )
            middle = ((first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0)
            out = back + LEAD_OUT_MM * unit
            end = (middle[0] + x * out, middle[1] + y * out)
            thick = LEAD_MM * self.mm
            with self.canvas.group(class_="lead", data_junction=junction):
                for one, other in ((first, last), (middle, end)):
                    self.canvas.wire((one, other), LEAD_MM)
                    self.canvas.covers(one, other, aside=(thick, thick))
                self._pole_sign((end[0] + x * 5.0 * unit, end[1] + y * 5.0 * unit), junction)

    def _pole_sign(self, middle: Point, junction: int) -> None:
        """The sign of a main lead, at its end."""
        unit, sign = self.canvas.letter, "+" if junction else MINUS
        look: dict[str, Any] = {"anchor": "middle", "bold": True, "colour": STRIP_COLOURS["tab"]}
        self.canvas.put(text(middle[0], middle[1] + 3.4 * unit, sign, size=10.0 * unit, **look))
        corners = [(middle[0] + s * 3.5 * unit, middle[1] + s * 4.0 * unit) for s in (-1.0, 1.0)]
        self.canvas.corners += corners
        self.canvas.covers(*corners)

    def _cover_labels(self) -> None:
        """No other sign is to be put on the cells' labels."""
        unit = self.canvas.letter
        half = (self.form.half_x * unit, self.form.half_y * unit)
        for cell in self.cells.values():
            self.canvas.covers(self.middle_of(cell), aside=half)

    def _labels(self) -> None:
        """Pole and group number of every cell; where only a sign has room, numbers beside the block."""
        pitch = self.layout.pitch_mm * self.mm
        for cell in self.cells.values():
            self.canvas.label(self.middle_of(cell), self.pole(cell), cell.group, self.form, pitch)
        if self.form.form != "sign":
            return
        for number in dict.fromkeys(cell.group for cell in self.cells.values()):
            group = self.layout.group(number)
            x, y = self.middle_of(group[len(group) // 2])
            half_x, half_y = CHARACTER * TEXT_MM * len(str(number)) / 2.0, 0.5 * TEXT_MM
            p, q = self._beside(x, y, half_x, half_y)
            self.canvas.write(
                (p, q + 0.35 * TEXT_MM * self.canvas.letter), str(number), anchor="middle"
            )

    def _arrows(self, arrows: list[tuple[Point, Point, str]]) -> None:
        """An arrow out of each fold, and where it goes in words beside the last one of a side."""
        unit = self.canvas.letter
        last = {
            (way, target): max(tail for tail, w, s in arrows if (w, s) == (way, target))
            for _, way, target in arrows
        }
        tips = [(tail, way, target, self.canvas.arrow(tail, way)) for tail, way, target in arrows]
        for tail, _, _, tip in tips:
            self.canvas.covers(tail, tip, aside=(2.0 * unit, 2.0 * unit))
        wide = CHARACTER * TEXT_MM * unit
        for tail, way, target, tip in tips:
            if tail != last[(way, target)]:
                continue
            long = wide * len(target)
            if way[0]:  # under the last arrow, off the block
                x = way[0] * (self.half_x + 1.5 * unit + long / 2.0)
                y = tip[1] + 5.5 * unit
            else:  # beyond the head
                x, y = tip[0], tip[1] + way[1] * 5.5 * unit
            below = y + 1.5 * unit
            self.canvas.write((x, below), target, anchor="middle")
            self.canvas.covers(
                (x - long / 2.0, below - TEXT_MM * unit), (x + long / 2.0, below + 1.5 * unit)
            )

    def _taps(self) -> None:
        """Numbers of the balance wires, outside the block, each with a line to its cell."""
        for wire in self.layout.taps:
            if (wire.layer, wire.face) == (self.layer, self.face):
                middle = self.middle_of(self.cells[wire.cell])
                badge = self._beside(*middle, *badge_half(f"B{wire.number}"))
                with self.canvas.group(class_="tap", data_tap=wire.number, data_cell=wire.cell):
                    self.canvas.line(middle, badge, 0.8)
                    self.canvas.badge(badge, f"B{wire.number}")

    def _beside(self, x: float, y: float, half_x: float, half_y: float) -> Point:
        """The free place off the block that is nearest to a point, for a sign of half that size."""
        unit = self.canvas.letter
        half_x, half_y = half_x * unit, half_y * unit
        step = 2.0 * unit
        out, slide = np.meshgrid(np.arange(12) * step + 1.5 * unit, np.arange(-40, 41) * step)
        places = [
            np.stack([x + slide, side * (self.half_y + out + half_y)], axis=-1)
            for side in (-1.0, 1.0)
        ] + [
            np.stack([side * (self.half_x + out + half_x), y + slide], axis=-1)
            for side in (-1.0, 1.0)
        ]
        found = np.concatenate([place.reshape(-1, 2) for place in places])
        far = np.round(np.square(found - (x, y)).sum(axis=-1), 3)
        nearest = found[np.argsort(far, kind="stable")].tolist()
        return self.canvas.nearest_free([(p, q) for p, q in nearest], half_x, half_y)

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
        self.canvas.write((0.0, below + 4.8 * unit), with_unit(box_mm[0], "mm", 1), anchor="middle")
        width, size, right = with_unit(box_mm[1], "mm", 1), TEXT_MM * unit, beside + 5.5 * unit
        turn = f"rotate(-90 {right:.2f} 0)"
        shape = text(right, 0.0, width, size=size, anchor="middle", transform=turn)
        long = CHARACTER * size * len(width) / 2.0
        self.canvas.put(shape, (right - size, -long), (right + size / 3.0, long))
