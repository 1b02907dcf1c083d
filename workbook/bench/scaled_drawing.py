"""The pack drawn to a plain scale, both faces of every layer, as SVG that needs nothing beside it.

One unit is one millimetre of the print. Sizes of the pack shrink with the scale, lettering does not
shrink below what can be read. What colour says, a hatch, a dash or a letter says too. The elements carry
`data-` attributes, so that a program can read the net back from the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from workbook.bench.arrange import CellPlace
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
    "tap": "balance wire",
    "plus": "plus end, ringed",
    "minus": "minus end",
    "label": "pole and group number",
}

SCALES = (1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 4.0, 5.0, 8.0, 10.0)
"""Millimetres of the pack in a millimetre of the print."""
CROWDED = 2.5
"""From this scale on, lettering covers what it names: the drawing gets a page of its own."""
TEXT_MM = 4.3
"""Font size at full size; capitals and figures of it are 3 mm high."""
SMALLEST_TEXT_MM = 2.65
"""7.5 pt: lettering shrinks with the scale, but not below this."""
CHARACTER = 0.6
"""Mean width of a character over the font size, on the wide side."""
BADGE_MM = 4.4
"""Half the height of a balance wire's number at full size."""
LEAST_WIDTH_MM = 178.0
"""Of a drawing at full size, so that lettering looks alike beside small and large packs."""
GAP_MM = 1.5
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


@dataclass
class _Canvas:
    """Shapes as they are drawn, and what they cover.

    Attributes:
        mm: print millimetres in a millimetre of the pack.
        letter: print millimetres in a millimetre of lettering at full size.
    """

    mm: float
    letter: float
    shapes: list[str] = field(default_factory=list)
    corners: list[Point] = field(default_factory=list)

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
        self.half_x, self.half_y = (side / 2.0 * self.mm for side in layout.box_mm[:2])
        self._outline()
        self._ends()
        arrows = self._strips()
        for cell in self.cells.values():
            self.canvas.label(self.at(cell), self.pole(cell), cell.group)
        self._arrows(arrows)
        self._taps()
        if (layer, face) == (layout.layers - 1, "top"):  # every face has the same outline
            self._dimensions()

    @property
    def title(self) -> str:
        """Which face, and how it is seen."""
        layer = "" if self.layout.layers == 1 else f", layer {self.layer + 1}"
        seen = "seen from above" if self.face == "top" else "pack turned over about its long axis"
        return f"{self.face.capitalize()} face{layer}: {seen}"

    @property
    def width(self) -> float:
        """Of face and title."""
        title = CHARACTER * TEXT_MM * self.canvas.letter * len(self.title)
        return max(self.canvas.width, title)

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
            if link.folded and link.to_cell in self.cells and self.face == "bottom"
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
            way = (link.way[0] * 1.0, self.up * link.way[1])
            if link.folded:
                other = self.layer + 2 if near == link.from_cell else self.layer
                arrows.append((end, way, f"to layer {other}"))
            elif link.to_cell is None:
                unit = self.canvas.letter
                sign = (end[0] + way[0] * 8.0 * unit, end[1] + (link.way[1] * 6.0 + 3.2) * unit)
                said = "+" if link.junction else MINUS
                shape = text(
                    *sign,
                    said,
                    size=10.0 * unit,
                    anchor="middle",
                    bold=True,
                    colour=STRIP_COLOURS["tab"],
                )
                self.canvas.put(shape, (sign[0] - 3.0 * unit, sign[1] - 8.0 * unit))
                self.canvas.corners.append((sign[0] + 3.0 * unit, sign[1] + 2.0 * unit))
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

    def _arrows(self, arrows: list[tuple[Point, Point, str]]) -> None:
        """An arrow out of each fold, and where it goes in words beside the last one."""
        unit = self.canvas.letter
        last = max((start for start, _, _ in arrows), default=None)
        for start, way, said in arrows:
            tip = self.canvas.arrow(start, way)
            if start != last:
                continue
            if way[0]:
                beside = (tip[0] + way[0] * 3.6 * unit, tip[1] + 1.5 * unit)
                self.canvas.words(
                    beside, said, size=TEXT_MM, anchor="start" if way[0] > 0 else "end"
                )
            else:
                down = 1.5 if way[1] > 0 else 2.5
                self.canvas.words((tip[0] + 4.0 * unit, tip[1] + down * unit), said, size=TEXT_MM)

    def _taps(self) -> None:
        """Numbers of the balance wires, outside the block where their cell is near its edge."""
        unit, pitch = self.canvas.letter, self.layout.pitch_mm * self.mm
        clear = (2.0 * BADGE_MM + (0.5 if self.layout.series < 10 else 4.9)) * unit
        taken: list[Point] = []
        for wire in self.layout.taps:
            if (wire.layer, wire.face) != (self.layer, self.face):
                continue
            x, y = self.at(self.cells[wire.cell])
            side = 1.0 if y > 0.1 * self.mm else -1.0
            edge = side * self.half_y
            if abs(edge - y) <= pitch:
                badge = (x, edge + side * (BADGE_MM + 1.5) * unit)
            else:
                badge = (x + pitch / 2.0, y + side * pitch / 2.0)
            step = 0
            while any((badge[0] - a) ** 2 + (badge[1] - b) ** 2 < clear**2 for a, b in taken):
                step += 1
                shift = (step + 1) // 2 * (1.0 if step % 2 else -1.0)
                badge = (x + shift * clear, badge[1])
            taken.append(badge)
            with self.canvas.group(class_="tap", data_tap=wire.number, data_cell=wire.cell):
                self.canvas.line(badge, (x, y + side * 3.1 * unit), 0.7)
                self.canvas.badge(badge, f"B{wire.number}")

    def _dimensions(self) -> None:
        """Outer length under the block and outer width beside it."""
        unit, x, y = self.canvas.letter, self.half_x, self.half_y
        f, box_mm = self.layout.fittings, self.layout.box_mm
        out = f.tab_mm * self.mm if any(k.way[1] for k in self.layout.links) else 0.0
        below = y + out + (2.0 * BADGE_MM + 3.5) * unit
        beside = x + f.tab_mm * self.mm + 16.0 * unit
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
            shapes.append(face.placed(left, down + 1.5 * size))
            left += face.width + gap
        down += max(face.canvas.height for face in row) + 1.5 * size + GAP_MM
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
