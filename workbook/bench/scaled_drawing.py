"""The pack drawn to a plain scale, both faces of every layer, as SVG that needs nothing beside it.

One unit is one millimetre of the print. Sizes of the pack shrink with the scale, lettering does not
shrink below what can be read. The elements carry `data-` attributes, so that a program can read the net
back from the drawing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from workbook.bench.drawing_canvas import (
    BARRIER_COLOUR,
    CAN,
    LEAD_MM,
    PAPER,
    SMALLEST_TEXT_MM,
    STRIP_COLOURS,
    Canvas,
    labels,
)
from workbook.bench.face_drawing import Face, facing, label_form, title_mm
from workbook.bench.layout import Layout
from workbook.svg import INK, box, document, group, line, text
from workbook.units import with_unit

LEGEND = {
    "series": "series strip",
    "parallel": "parallel strip",
    "tab": "terminal tab",
    "lead": "main lead, soldered across the tabs",
    "fold": "strip folded over the edge",
    "barrier": "sheet between cans",
    "tap": "balance wire",
    "plus": "plus end, ringed",
    "minus": "minus end",
    "label": "pole and group number",
}

SCALES = (1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 4.0, 5.0, 8.0, 10.0)
"""Millimetres of the pack in a millimetre of the print."""
VIEWS = "Top faces are seen from above, bottom faces with the pack turned over about its long axis."
TITLE_HEIGHT = 2.9
"""Height of both lines of a face's title over its font size."""
FIRST_PAGE_SHARE = 0.6
"""Of a page's height, for a drawing that shares a page with its text."""
LEAST_WIDTH_MM = 178.0
"""Of a drawing at full size, so that lettering looks alike beside small and large packs."""
GAP_MM = 1.5
FONTS = "Liberation Sans, Arial, Helvetica, sans-serif"


@dataclass(frozen=True)
class Piece:
    """What must not be parted: a row of faces with their titles, or what goes with all of them.

    Attributes:
        shapes: SVG, its left upper corner at 0, 0.
        height_mm: on the print.
    """

    shapes: tuple[str, ...]
    height_mm: float


@dataclass(frozen=True)
class ScaledDrawing:
    """The drawing.

    Attributes:
        layout: what is drawn.
        scale: millimetres of the pack in a millimetre of the print, one of `SCALES`.
        width_mm: of the drawing on the print.
        pieces: the rows of faces from top to bottom, then how the layers lie and what the signs mean.
    """

    layout: Layout
    scale: float
    width_mm: float
    pieces: tuple[Piece, ...]

    @property
    def height_mm(self) -> float:
        """Of all pieces under one another."""
        return sum(piece.height_mm for piece in self.pieces)

    @property
    def svg(self) -> str:
        """The whole drawing in one."""
        shapes, down = [], 0.0
        for piece in self.pieces:
            shapes.append(group(*piece.shapes, transform=f"translate(0 {down:.2f})"))
            down += piece.height_mm
        return self._document(shapes, self.height_mm)

    @property
    def svgs(self) -> tuple[str, ...]:
        """Every piece as a drawing of its own, for pages that break between them."""
        return tuple(self._document(piece.shapes, piece.height_mm) for piece in self.pieces)

    def pages(self, page_mm: float) -> int:
        """Pages that the pieces take, where the first has `FIRST_PAGE_SHARE` of its height for them."""
        count, remaining_mm = 1, FIRST_PAGE_SHARE * page_mm
        for piece in self.pieces:
            if piece.height_mm > remaining_mm:
                count, remaining_mm = count + 1, page_mm
            remaining_mm -= piece.height_mm
        return count

    def _document(self, shapes: Sequence[str], height_mm: float) -> str:
        return document(
            *shapes,
            width=self.width_mm,
            height=height_mm,
            unit="mm",
            name="strips and balance wires on both faces of every layer",
            class_="faces",
            font_family=FONTS,
            data_scale=f"{self.scale:g}",
            data_series=self.layout.series,
            data_parallel=self.layout.parallel,
        )


def _rows(faces: Sequence[Face], width_mm: float) -> list[list[Face]]:
    """Faces in rows, as many side by side as fit."""
    rows: list[list[Face]] = []
    for face in faces:
        used = sum(f.width + GAP_MM for f in rows[-1]) if rows else width_mm
        if used + face.width <= width_mm:
            rows[-1].append(face)
        else:
            rows.append([face])
    return rows


def _sign(kind: str, unit: float) -> Canvas:
    """A sign of the legend."""
    sign = Canvas(unit, unit)
    if kind in STRIP_COLOURS:
        sign.band(kind, (0.0, 0.0), (12.0 * unit, 0.0), 5.0 * unit, (unit, unit))
    elif kind == "lead":
        sign.wire(((0.0, 0.0), (12.0 * unit, 0.0)), 0.8 * LEAD_MM)
    elif kind == "fold":
        sign.arrow((0.0, 0.0), (1.0, 0.0))
    elif kind == "barrier":
        sign.barrier((2.0 * unit, -4.0 * unit), (2.0 * unit, 4.0 * unit))
    elif kind == "tap":
        sign.badge((0.0, 0.0), "B1")
    elif kind == "label":
        sign.label((0.0, 0.0), "plus", 3, labels(1)[0], 0.0)
    else:
        sign.end((0.0, 0.0), 4.2 * unit, kind)
    return sign


def _used_signs(layout: Layout) -> list[str]:
    """Signs that the drawing of a layout has."""
    kinds = {link.kind for link in layout.links}
    absent = {"series", "parallel"} - kinds
    if not any(link.folded for link in layout.links):
        absent.add("fold")
    if layout.series == 1:
        absent.add("barrier")
    return [kind for kind in LEGEND if kind not in absent]


def _legend(
    kinds: Sequence[str], top: float, width_mm: float, size: float
) -> tuple[list[str], float]:
    """What the signs mean, in rows; and where it ends."""
    shapes, x, middle = [], 0.0, top + 0.83 * size
    for kind in kinds:
        sign, meaning = _sign(kind, 0.155 * size), LEGEND[kind]
        left, _, right, _ = sign.box
        wide = right - left + 0.45 * size + 0.5 * size * len(meaning)
        if x > 0.0 and x + wide > width_mm:
            x, middle = 0.0, middle + 1.8 * size
        drawn = group(*sign.shapes, transform=f"translate({x - left:.2f} {middle:.2f})")
        words = text(x + right - left + 0.45 * size, middle + 0.34 * size, meaning, size=size)
        shapes.append(group(drawn, words, class_="legend"))
        x += wide + 2.0 * size
    return shapes, middle + 1.1 * size


def _bar(top: float, scale: float) -> list[str]:
    """Fifty millimetres of the pack, and what they must measure on the print."""
    tile = 10.0 / scale
    fills = (INK, PAPER, INK, PAPER, INK)
    tiles = [
        box(tile * k, top + 1.2, tile, 2.0, fill, stroke_width=0.2, corner=0.0, class_="bar")
        for k, fill in enumerate(fills)
    ]
    shown = "full size" if scale == 1.0 else f"scale 1 : {scale:g}"
    caption = f"{with_unit(50.0, 'mm')} of the pack, {shown}; printed at 100 % it measures {with_unit(float(f'{5 * tile:.4g}'), 'mm')}."
    return [*tiles, text(5.0 * tile + 2.5, top + 3.1, caption, size=SMALLEST_TEXT_MM)]


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
        caption = f"layer {layer + 1}, of groups {groups}"
        shapes.append(text(wide + 0.6 * size, down + 1.15 * size, caption, size=size))
        down += high
        if layer:
            volts = facing(layout, layer - 1).volts
            thick = layout.fittings.sheet_mm
            sheet = f"up to {volts:.1f} V: polyimide tape, {with_unit(thick, 'mm')} fish paper, on both faces"
    shapes.append(_sheet(down, wide, outside, size))
    return [group(*shapes, class_="stack")], down + 1.4 * size + GAP_MM


def _sheet(top: float, wide: float, name: str, size: float) -> str:
    """A sheet seen on edge, and its name beside it."""
    middle = top + 0.7 * size
    return group(
        line(0.0, middle, wide, middle, BARRIER_COLOUR, 0.35 * size),
        text(wide + 0.6 * size, middle + 0.35 * size, name, size=size),
    )


def _faces(layout: Layout, scale: float) -> list[Face]:
    return [
        Face(layout, layer, face, scale)
        for layer in reversed(range(layout.layers))
        for face in ("top", "bottom")
    ]


def _row(row: list[Face], width_mm: float) -> Piece:
    """Faces side by side, each under its title."""
    size = title_mm(row[0].canvas.letter)
    gap = max(width_mm - sum(face.width for face in row), 0.0) / (len(row) + 1)
    shapes, left = [], gap
    for face in row:
        shapes.append(text(left, 1.2 * size, face.title, size=size, bold=True))
        shapes.append(text(left, 2.5 * size, face.under_title, size=size))
        shapes.append(face.placed(left, TITLE_HEIGHT * size))
        left += face.width + gap
    return Piece(tuple(shapes), max(face.height for face in row) + TITLE_HEIGHT * size + GAP_MM)


def _notes(layout: Layout, scale: float, width_mm: float, *, bar: bool) -> Piece:
    """How the faces are seen and lie on each other, what the signs mean, and how long a bar must be."""
    size = SMALLEST_TEXT_MM
    note = wrap(VIEWS, int(width_mm / (0.5 * size)))
    shapes = [text(0.0, (1 + 1.3 * k) * size, one, size=size) for k, one in enumerate(note)]
    down = (0.4 + 1.3 * len(note)) * size
    stack, down = _stack(layout, down, width_mm, size)
    signs, down = _legend(_used_signs(layout), down, width_mm, size)
    shapes += [*stack, *signs]
    if bar:
        shapes += _bar(down, scale)
        down += 4.5
    return Piece(tuple(shapes), down)


def _drawn(
    layout: Layout, rows: list[list[Face]], scale: float, width_mm: float, *, bar: bool
) -> ScaledDrawing:
    """Faces in their rows, and what goes with all of them."""
    notes = _notes(layout, scale, width_mm, bar=bar)
    return ScaledDrawing(layout, scale, width_mm, (*(_row(r, width_mm) for r in rows), notes))


def draw_to_fit(layout: Layout, width_mm: float, page_mm: float) -> ScaledDrawing:
    """Draw both faces of every layer for pages, so that pole and group of every cell can be read.

    The bottom face is drawn as the builder sees it after turning the pack over about its long axis:
    left stays left, and the far row comes near. A bar shows the scale to whoever measures the print.
    Among the scales at which labels are easiest to read the one that takes the fewest pages is
    taken, then the largest.

    Args:
        layout: the layout.
        width_mm: of a page; the drawing is that wide.
        page_mm: height of a page. A row of faces that is too high or too wide for a page at the
            smallest scale is drawn all the same.

    Example:
        >>> import workbook as wb
        >>> drawn = draw_to_fit(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0], 186.0, 277.0)
        >>> drawn.scale, drawn.pages(277.0), drawn.svg.count('class="tap"')
        (1.25, 1, 5)
    """
    best: ScaledDrawing | None = None
    for form in dict.fromkeys(label_form(layout, scale) for scale in SCALES):
        for scale in (s for s in SCALES if label_form(layout, s) == form):
            if layout.box_mm[0] > width_mm * scale or layout.box_mm[1] > page_mm * scale:
                continue
            faces = _faces(layout, scale)
            rows = _rows(faces, width_mm)
            drawn = _drawn(layout, rows, scale, width_mm, bar=True)
            fits = max(face.width for face in faces) <= width_mm
            if not fits or max(piece.height_mm for piece in drawn.pieces) > page_mm:
                continue
            if best is None or drawn.pages(page_mm) < best.pages(page_mm):
                best = drawn
        if best is not None:
            return best
    rows = [[face] for face in _faces(layout, SCALES[-1])]
    return _drawn(layout, rows, SCALES[-1], width_mm, bar=True)


def draw_full_size(layout: Layout) -> ScaledDrawing:
    """Draw both faces of every layer at full size, one under the other.

    Args:
        layout: the layout.

    Example:
        >>> import workbook as wb
        >>> draw_full_size(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0]).svg.count(
        ...     'data-kind="series"'
        ... )
        6
    """
    faces = _faces(layout, 1.0)
    width_mm = max(LEAST_WIDTH_MM, *(face.width for face in faces))
    return _drawn(layout, [[face] for face in faces], 1.0, width_mm, bar=False)


def draw_to_width(layout: Layout, width_mm: float) -> ScaledDrawing:
    """Draw both faces of every layer one under the other, as large as a narrow screen takes.

    Lettering stays as large as on paper, so that it can be read where the whole is as wide as a phone.

    Args:
        layout: the layout.
        width_mm: of the drawing; a face that is wider at the smallest scale is drawn all the same.

    Example:
        >>> import workbook as wb
        >>> layout = wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0]
        >>> draw_to_width(layout, 100.0).scale, draw_full_size(layout).scale
        (1.75, 1.0)
    """
    tried = ((scale, _faces(layout, scale)) for scale in SCALES)
    fits = (one for one in tried if max(face.width for face in one[1]) <= width_mm)
    scale, faces = next(fits, (SCALES[-1], _faces(layout, SCALES[-1])))
    return _drawn(layout, [[face] for face in faces], scale, width_mm, bar=False)
