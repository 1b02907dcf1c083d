"""Both faces of a pack on the build sheet: the bench's drawing, side by side and at a stated scale.

The drawing of `workbook.bench.drawing` is one to one and a sheet by itself. Here its faces are set
into the space that a sheet has, at the largest of a few plain scales, with the scale told and a bar
to measure the print by. Lettering does not shrink below what can be read.
"""

from __future__ import annotations

import copy
import re
from dataclasses import dataclass
from xml.etree import ElementTree

from workbook.bench.drawing import BADGE_MM, INK, TEXT_MM, draw_layout
from workbook.bench.layout import Layout

SCALES = (1.0, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 2.75, 3.0, 4.0, 5.0, 8.0, 10.0)
"""Millimetres of the pack in a millimetre of the print."""
SMALLEST_TEXT_MM = 2.65
"""7.5 pt."""
CROWDED = 2.5
"""From this scale on, lettering covers what it names: the drawing gets a page of its own."""
GAP_MM = 1.5
TITLE_MM = 4.2
BAR_MM = 4.5
LEGEND_MM = 5.2

_NAMESPACE = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_DOWN = re.compile(r"[ML](-?[\d.]+) (-?[\d.]+)")


@dataclass(frozen=True)
class Faces:
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

    @property
    def scale_text(self) -> str:
        """The scale as it is written.

        Example:
            >>> Faces("", 2.0, 0.0, 0.0).scale_text
            '1 : 2'
        """
        return f"1 : {self.scale:g}"


@dataclass(frozen=True)
class _Box:
    """What an element covers."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top


def _points(element: ElementTree.Element) -> list[tuple[float, float]]:
    """Corner points of one element, in the drawing's own units."""

    def at(name: str) -> float:
        return float(element.get(name, "0"))

    if element.tag == "rect":
        return [(at("x"), at("y")), (at("x") + at("width"), at("y") + at("height"))]
    if element.tag == "circle":
        return [(at("cx") - at("r"), at("cy") - at("r")), (at("cx") + at("r"), at("cy") + at("r"))]
    if element.tag == "line":
        return [(at("x1"), at("y1")), (at("x2"), at("y2"))]
    if element.tag == "polygon":
        figures = [float(f) for f in _NUMBER.findall(element.get("points", ""))]
        return list(zip(figures[::2], figures[1::2], strict=True))
    if element.tag == "path":
        return [(float(x), float(y)) for x, y in _DOWN.findall(element.get("d", ""))]
    if element.tag == "text":
        size = at("font-size")
        wide = 0.6 * size * len(element.text or "")
        before = {"middle": 0.5, "end": 1.0}.get(element.get("text-anchor", ""), 0.0) * wide
        if "rotate" in element.get("transform", ""):
            return [(at("x") - size, at("y") - wide / 2), (at("x") + size / 3, at("y") + wide / 2)]
        return [(at("x") - before, at("y") - size), (at("x") - before + wide, at("y") + size / 3)]
    return []


def _covers(elements: list[ElementTree.Element]) -> _Box:
    points = [p for element in elements for inner in element.iter() for p in _points(inner)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return _Box(min(xs), min(ys), max(xs), max(ys))


def _number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _lettered(face: ElementTree.Element, grow: float) -> None:
    """Letters, pole labels and wire numbers made larger, each about its own middle."""
    for parent in list(face.iter()):
        for child in list(parent):
            if child.get("class") == "label":
                middle = (float(child.get("data-x", "0")), float(child.get("data-y", "0")))
                _about(child, middle, grow)
            elif child.get("class") == "tap":
                plate = child.find("rect")
                if plate is not None:
                    x = float(plate.get("x", "0")) + float(plate.get("width", "0")) / 2
                    y = float(plate.get("y", "0")) + BADGE_MM
                    sign = ElementTree.Element("g")
                    for part in [part for part in child if part.tag != "line"]:
                        child.remove(part)
                        sign.append(part)
                    child.append(sign)
                    _about(sign, (x, y), grow)
            elif child.tag == "text" and parent.get("class") == "face":
                child.set("font-size", _number(float(child.get("font-size", "0")) * grow))
                if (child.text or "").endswith(" mm"):  # stay clear of the dimension line
                    child.set("dy", _number(0.7 * TEXT_MM * (grow - 1.0)))


def _about(element: ElementTree.Element, middle: tuple[float, float], grow: float) -> None:
    x, y = middle
    element.set(
        "transform",
        f"translate({_number(x)} {_number(y)}) scale({_number(grow)}) "
        f"translate({_number(-x)} {_number(-y)})",
    )


def _bare(text: str) -> ElementTree.Element:
    """The drawing without its namespace, so that tags are plain names."""
    root = ElementTree.fromstring(text)
    for element in root.iter():
        element.tag = element.tag.removeprefix(_NAMESPACE)
    return root


def _grow(scale: float) -> float:
    """How much larger letters are drawn, so that they can be read at that scale."""
    return max(1.0, SMALLEST_TEXT_MM * scale / TEXT_MM)


def _roomy(box: _Box, grow: float) -> _Box:
    """The box with room for larger letters at its edges."""
    more = (grow - 1.0) * (BADGE_MM + 2.0)
    return _Box(box.left - more, box.top - more, box.right + more, box.bottom + more)


def _rows(boxes: list[_Box], scale: float, width_mm: float) -> list[list[int]] | None:
    """Faces in rows, as many side by side as fit; None where one is too wide."""
    rows: list[list[int]] = []
    used = 0.0
    for number, box in enumerate(boxes):
        wide = box.width / scale
        if wide > width_mm:
            return None
        if rows and used + GAP_MM + wide <= width_mm:
            rows[-1].append(number)
            used += GAP_MM + wide
        else:
            rows.append([number])
            used = wide
    return rows


def _height(boxes: list[_Box], rows: list[list[int]], scale: float) -> float:
    tall = [max(boxes[k].height for k in row) / scale + TITLE_MM + GAP_MM for row in rows]
    return sum(tall) + BAR_MM + LEGEND_MM


def draw_faces(layout: Layout, width_mm: float, height_mm: float) -> Faces:
    """Draw both faces of every layer into a space, as large as it takes.

    Args:
        layout: the layout.
        width_mm: of the space; the drawing is that wide.
        height_mm: of the space; at the smallest scale the drawing may be higher.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> faces = draw_faces(layouts(example_pack(4, 2))[0], 186.0, 100.0)
        >>> faces.scale_text, faces.height_mm < 100.0, faces.svg.count('data-kind="take-off"') > 0
        ('1 : 1.5', True, True)
    """
    source = _bare(draw_layout(layout))
    faces = [g for g in source.iter("g") if g.get("class") == "face"]
    shelf = source.find("defs")
    bare = [_covers([face]) for face in faces]
    scale, boxes, rows = SCALES[-1], bare, None
    for scale in SCALES:
        boxes = [_roomy(box, _grow(scale)) for box in bare]
        rows = _rows(boxes, scale, width_mm)
        if rows is not None and _height(boxes, rows, scale) <= height_mm:
            break
    rows = rows if rows is not None else [[k] for k in range(len(faces))]
    tall_mm = _height(boxes, rows, scale)
    grow = _grow(scale)
    root = ElementTree.Element(
        "svg",
        {
            "class": "faces",
            "role": "img",
            "aria-label": "strips and balance wires on both faces of every layer",
            "data-scale": f"{scale:g}",
            "width": f"{_number(width_mm)}mm",
            "height": f"{_number(tall_mm)}mm",
            "viewBox": f"0 0 {_number(width_mm)} {_number(tall_mm)}",
            "font-family": "Liberation Sans, Arial, Helvetica, sans-serif",
        },
    )
    if shelf is not None:
        root.append(copy.deepcopy(shelf))
    down = 0.0
    for row in rows:
        gap = (width_mm - sum(boxes[k].width for k in row) / scale) / (len(row) + 1)
        right = gap
        for k in row:
            face, box = copy.deepcopy(faces[k]), boxes[k]
            _lettered(face, grow)
            _words(root, right, down + 3.2, _title(layout, face), bold=True)
            place = ElementTree.SubElement(
                root, "g",
                {
                    "transform": f"translate({_number(right)} {_number(down + TITLE_MM)}) "
                    f"scale({_number(1 / scale)}) translate({_number(-box.left)} {_number(-box.top)})"
                },
            )  # fmt: skip
            place.append(face)
            right += box.width / scale + gap
        down += max(boxes[k].height for k in row) / scale + TITLE_MM + GAP_MM
    _legend(root, source, down, width_mm)
    _bar(root, down + LEGEND_MM, scale)
    return Faces(ElementTree.tostring(root, encoding="unicode"), scale, width_mm, tall_mm)


def _title(layout: Layout, face: ElementTree.Element) -> str:
    side = str(face.get("data-face"))
    layer = "" if layout.layers == 1 else f", layer {int(face.get('data-layer', '0')) + 1}"
    seen = "seen from above" if side == "top" else "pack turned over about its long axis"
    return f"{side.capitalize()} face{layer}: {seen}"


def _words(
    parent: ElementTree.Element, x: float, y: float, text: str, *, bold: bool = False
) -> None:
    element = ElementTree.SubElement(
        parent, "text",
        {
            "x": _number(x), "y": _number(y), "font-size": f"{SMALLEST_TEXT_MM}", "fill": INK,
            "font-weight": "bold" if bold else "normal",
        },
    )  # fmt: skip
    element.text = text


def _legend(
    root: ElementTree.Element, source: ElementTree.Element, top: float, width_mm: float
) -> None:
    """The signs of the source, spread over one line."""
    items = [g for g in source.iter("g") if g.get("class") == "legend"]
    signs, words = [], []
    for item in items:
        label = [child for child in item if child.tag == "text"][-1]
        words.append(label.text or "")
        sign = copy.deepcopy(item)
        sign.remove([child for child in sign if child.tag == "text"][-1])
        signs.append(sign)
    sizes = [_covers([sign]) for sign in signs]
    small = 3.6 / max(box.height for box in sizes)
    wide = [
        box.width * small + 1.2 + 0.5 * SMALLEST_TEXT_MM * len(text)
        for box, text in zip(sizes, words, strict=True)
    ]
    gap = max(1.5, (width_mm - sum(wide)) / max(len(wide) - 1, 1))
    x = 0.0
    for sign, box, text, room in zip(signs, sizes, words, wide, strict=True):
        place = ElementTree.SubElement(
            root, "g",
            {
                "transform": f"translate({_number(x)} {_number(top + 2.2 - box.height * small / 2)}) "
                f"scale({_number(small)}) translate({_number(-box.left)} {_number(-box.top)})"
            },
        )  # fmt: skip
        place.append(sign)
        _words(root, x + box.width * small + 1.2, top + 3.1, text)
        x += room + gap


def _bar(root: ElementTree.Element, top: float, scale: float) -> None:
    """Fifty millimetres of the pack, and what they must measure on the print."""
    for place in range(5):
        ElementTree.SubElement(
            root, "rect",
            {
                "x": _number(10.0 / scale * place), "y": _number(top + 1.2),
                "width": _number(10.0 / scale), "height": "2", "stroke": INK,
                "stroke-width": "0.2", "fill": INK if place % 2 == 0 else "#ffffff",
            },
        )  # fmt: skip
    shown = "full size" if scale == 1.0 else f"scale 1 : {scale:g}"
    _words(
        root, 50.0 / scale + 2.5, top + 3.1,
        f"50 mm of the pack, {shown}: printed at 100 % this bar measures {50.0 / scale:.4g} mm.",
    )  # fmt: skip
