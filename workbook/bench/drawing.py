"""The pack drawn to scale, both faces of every layer, as a self-contained SVG.

One unit is one millimetre on the print. What colour says, a hatch, a dash or a letter says too. The
elements carry `data-` attributes, so that a program can read the net back from the drawing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from xml.etree import ElementTree

from workbook.bench.arrange import CellPlace
from workbook.bench.interconnect import Interconnect, Tap, face_of
from workbook.bench.layout import Layout

INK = "#1f2430"
PAPER = "#ffffff"
CAN = "#eef0f3"
STRIP_COLOURS = {"series": "#2b37af", "parallel": "#2b8653", "take-off": "#7e1f0a"}
"""Apart for readers with any of the common colour-vision defects; hatch and dash say the same."""

TEXT_MM = 4.3
"""Font size; capitals and figures of it are 3 mm high on the print."""
SMALLEST_CAPITAL = 0.7
"""Height of a capital over the font size in common sans-serif faces."""
LINE_MM = 6.0
CHARACTER_MM = 0.6 * TEXT_MM
"""Mean width of a character, on the wide side."""
BADGE_MM = 4.4
"""Half the height of a balance wire's number."""
MINUS = "\u2212"


@dataclass
class _Sheet:
    """The drawing as it grows downwards."""

    root: ElementTree.Element
    width_mm: float
    below_mm: float
    badges: list[tuple[float, float]] = field(default_factory=list)


def _n(value: float) -> str:
    """A coordinate as text."""
    return f"{value + 0.0:.2f}".rstrip("0").rstrip(".") if abs(value) >= 0.005 else "0"


def _add(parent: ElementTree.Element, tag: str, **attributes: object) -> ElementTree.Element:
    """A child element; `class_` and `_` in names become `class` and `-`, floats are rounded."""
    return ElementTree.SubElement(
        parent,
        tag,
        {
            name.rstrip("_").replace("_", "-"): _n(value)
            if isinstance(value, float)
            else str(value)
            for name, value in attributes.items()
        },
    )


def _text(
    parent: ElementTree.Element,
    x: float,
    y: float,
    words: str,
    *,
    size: float = TEXT_MM,
    anchor: str = "start",
    weight: str = "normal",
    fill: str = INK,
    **more: object,
) -> ElementTree.Element:
    """Text whose capitals stand on y."""
    element = _add(
        parent,
        "text",
        x=x,
        y=y,
        font_size=size,
        text_anchor=anchor,
        font_weight=weight,
        fill=fill,
        **more,
    )
    element.text = words
    return element


def _patterns(root: ElementTree.Element) -> None:
    """Hatches: slanted for series, dotted for parallel, crossed for take-off."""
    shelf = _add(root, "defs")
    for kind, colour in STRIP_COLOURS.items():
        pattern = _add(
            shelf,
            "pattern",
            id=f"hatch-{kind}",
            patternUnits="userSpaceOnUse",
            width=2.4,
            height=2.4,
            patternTransform="rotate(45)" if kind == "series" else "rotate(0)",
        )
        _add(pattern, "rect", width=2.4, height=2.4, fill=PAPER)
        if kind == "parallel":
            _add(pattern, "circle", cx=1.2, cy=1.2, r=0.55, fill=colour)
        else:
            _add(pattern, "path", d="M0 1.2H2.4", stroke=colour, stroke_width=0.7)
        if kind == "take-off":
            _add(pattern, "path", d="M1.2 0V2.4", stroke=colour, stroke_width=0.7)


def _band(
    parent: ElementTree.Element,
    kind: str,
    a: tuple[float, float],
    b: tuple[float, float],
    width: float,
    past: tuple[float, float],
) -> None:
    """A piece of strip as a hatched band from a to b, reaching past both by so much."""
    span = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
    ux, uy = (b[0] - a[0]) / span, (b[1] - a[1]) / span
    start = (a[0] - ux * past[0], a[1] - uy * past[0])
    end = (b[0] + ux * past[1], b[1] + uy * past[1])
    half = width / 2.0
    corners = (
        (start[0] - uy * half, start[1] + ux * half),
        (end[0] - uy * half, end[1] + ux * half),
        (end[0] + uy * half, end[1] - ux * half),
        (start[0] + uy * half, start[1] - ux * half),
    )
    _add(
        parent,
        "polygon",
        points=" ".join(f"{_n(x)},{_n(y)}" for x, y in corners),
        fill=f"url(#hatch-{kind})",
        stroke=STRIP_COLOURS[kind],
        stroke_width=0.5,
    )
    _add(
        parent,
        "line",
        class_="course",
        x1=a[0],
        y1=a[1],
        x2=b[0],
        y2=b[1],
        stroke=STRIP_COLOURS[kind],
        stroke_width=0.9,
        stroke_dasharray={"series": "none", "parallel": "2.2 1.4", "take-off": "4 1 1 1"}[kind],
    )


def _badge(parent: ElementTree.Element, x: float, y: float, words: str) -> None:
    half = BADGE_MM if len(words) < 3 else BADGE_MM + 2.2
    _add(
        parent, "rect", x=x - half, y=y - BADGE_MM, width=2.0 * half, height=2.0 * BADGE_MM,
        rx=BADGE_MM, fill=INK, stroke=PAPER, stroke_width=0.4,
    )  # fmt: skip
    _text(parent, x, y + 1.5, words, anchor="middle", weight="bold", fill=PAPER)


def draw_layout(layout: Layout, title: str = "") -> str:
    """Draw a layout to scale: the top and the bottom face of each layer, with all its strips.

    The bottom face is drawn as the builder sees it after turning the pack over about its long axis:
    left stays left, and the far row comes near.

    Args:
        layout: the layout.
        title: the heading; the layout's own name when empty.

    Returns:
        SVG text, one unit a millimetre, self-contained.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> drawing = draw_layout(layouts(example_pack(4, 2))[0])
        >>> drawing.count('data-kind="series"'), drawing.count('class="tap"')
        (6, 5)
    """
    links, wires = layout.links, layout.taps
    block_mm = max(layout.box_mm[0], layout.box_mm[1])
    width_mm = max(block_mm + 2.0 * (layout.fittings.tab_mm + 26.0), 178.0)
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "role": "img",
            "font-family": "DejaVu Sans, Arial, Helvetica, sans-serif",
            "data-series": str(layout.series),
            "data-parallel": str(layout.parallel),
            "style": f"background:{PAPER}",
        },
    )
    heading = title or f"{layout.series}S{layout.parallel}P"
    _add(root, "title").text = f"{heading}: strips and balance wires, both faces"
    _add(root, "desc").text = (
        f"{layout.name}. Plus and minus, group numbers, strips, take-off tabs and balance wires "
        f"B0 to B{layout.series} on the top and bottom face of every layer."
    )
    _patterns(root)
    ground = _add(root, "rect", fill=PAPER)
    sheet = _Sheet(root, width_mm, 5.0)
    _text(root, 6.0, sheet.below_mm + 5.0, heading, size=7.0, weight="bold")
    sheet.below_mm += 9.0
    _paragraph(sheet, _summary(layout))
    _legend(sheet, layout)
    for layer in reversed(range(layout.layers)):
        for face in ("top", "bottom"):
            _face(sheet, layout, links, wires, layer, face)
    _paragraph(sheet, _notes(layout))
    _scale_bar(sheet)
    height_mm = sheet.below_mm + 4.0
    root.set("width", f"{_n(width_mm)}mm")
    root.set("height", f"{_n(height_mm)}mm")
    root.set("viewBox", f"0 0 {_n(width_mm)} {_n(height_mm)}")
    ground.set("width", _n(width_mm))
    ground.set("height", _n(height_mm))
    return ElementTree.tostring(root, encoding="unicode")


def _paragraph(sheet: _Sheet, sentences: tuple[str, ...]) -> None:
    for sentence in sentences:
        for line in textwrap.wrap(sentence, int((sheet.width_mm - 12.0) / CHARACTER_MM)):
            sheet.below_mm += LINE_MM
            _text(sheet.root, 6.0, sheet.below_mm, line)
    sheet.below_mm += 2.0


def _summary(layout: Layout) -> tuple[str, ...]:
    x, y, z = layout.box_mm
    f = layout.fittings
    return (
        f"{layout.series} groups in series of {layout.parallel} in parallel: {layout.arrangement}.",
        f"Outer size {x:.1f} x {y:.1f} mm and {z:.1f} mm along the cells, with rings, strips, sheets"
        f"{', wrap and padding' if f.padding_mm else ' and wrap'}; cells {layout.diameter_mm:g} x "
        f"{layout.cell_height_mm:g} mm.",
    )


def _notes(layout: Layout) -> tuple[str, ...]:
    turned = (
        "Bottom faces are drawn as you see them after turning the pack over about its long axis: left "
        "stays left, top and bottom row change places."
    )
    fold = (
        "A strip marked with an arrow goes over the edge to the other layer; insulate the fold and the "
        "faces that come together."
    )
    ring = (
        "Put an insulating ring on every plus end before any strip: the whole can, its shoulder too, is "
        "the minus. Cover every face that you are not welding."
    )
    check = (
        f"Before plugging in, read B0 to B1, B1 to B2 and so on: {layout.series} equal steps of one "
        "cell each, no step zero, double or negative."
    )
    return (turned, *((fold,) if layout.layers > 1 else ()), ring, check)


def _legend(sheet: _Sheet, layout: Layout) -> None:
    """What the signs mean, in a row that breaks where the sheet ends."""
    words = {
        "series": "series strip",
        "parallel": "parallel strip",
        "take-off": "take-off tab",
        "tap": "balance wire",
        "plus": "plus end, ringed",
        "minus": "minus end",
        "label": "pole and group number",
    }
    x, y = 6.0, sheet.below_mm + 5.0
    for kind, label in words.items():
        room = 18.0 + CHARACTER_MM * len(label) + 4.0
        if x + room > sheet.width_mm:
            x, y = 6.0, y + 10.0
        group = _add(sheet.root, "g", class_="legend")
        if kind in STRIP_COLOURS:
            _band(group, kind, (x + 1.0, y), (x + 13.0, y), 5.0, (1.0, 1.0))
        elif kind == "tap":
            _badge(group, x + 7.0, y, "B1")
        elif kind == "label":
            _label(group, x + 7.0, y, "plus", 3)
        else:
            _end(group, x + 7.0, y, 4.2, kind)
        _text(group, x + 16.0, y + 1.5, label)
        x += room
    sheet.below_mm = y + 6.0


def _end(parent: ElementTree.Element, x: float, y: float, radius: float, pole: str) -> None:
    """The end of a cell: the plus end white with a ring, the minus end grey."""
    _add(
        parent,
        "circle",
        cx=x,
        cy=y,
        r=radius,
        fill=PAPER if pole == "plus" else CAN,
        stroke=INK,
        stroke_width=0.4,
    )
    if pole == "plus":
        _add(
            parent, "circle", cx=x, cy=y, r=radius * 0.86, fill="none", stroke=INK, stroke_width=0.3
        )


def _label(parent: ElementTree.Element, x: float, y: float, pole: str, group: int) -> None:
    """Pole and group number, over the strips."""
    half = 6.0 if group < 10 else 7.4
    sign = _add(parent, "g", class_="label", data_x=x, data_y=y)
    _add(
        sign, "rect", x=x - half, y=y - 3.1, width=2.0 * half, height=6.2, rx=1.6, fill=PAPER,
        stroke=INK, stroke_width=0.3,
    )  # fmt: skip
    words = "+" if pole == "plus" else MINUS
    _text(sign, x - half + 3.0, y + 2.0, words, size=5.6, anchor="middle", weight="bold")
    _text(sign, x + 2.3, y + 1.55, str(group), anchor="middle")


def _face(
    sheet: _Sheet,
    layout: Layout,
    links: tuple[Interconnect, ...],
    wires: tuple[Tap, ...],
    layer: int,
    face: str,
) -> None:
    """One face of one layer."""
    f = layout.fittings
    cells = {c.number: c for c in layout.cells if c.layer == layer}
    skin_mm = f.wrap_mm + f.padding_mm
    box_x, box_y = layout.box_mm[0], layout.box_mm[1]
    vertical_tabs = any(k.way[1] for k in links)
    margin_mm = 2.0 * BADGE_MM + 3.0 + (f.tab_mm if vertical_tabs else 0.0)
    sheet.below_mm += LINE_MM + 2.0
    which = "" if layout.layers == 1 else f" of layer {layer + 1}"
    seen = "seen from above" if face == "top" else "turned over about the long axis"
    _text(
        sheet.root, 6.0, sheet.below_mm, f"{face.capitalize()} face{which}, {seen}", weight="bold"
    )
    middle_x = sheet.width_mm / 2.0
    middle_y = sheet.below_mm + 2.0 + margin_mm + box_y / 2.0
    panel = _add(sheet.root, "g", class_="face", data_layer=layer, data_face=face)
    up = -1.0 if face == "top" else 1.0  # y of the pack on the paper, whose y looks down

    def at(cell: CellPlace) -> tuple[float, float]:
        return middle_x + cell.x_mm, middle_y + up * cell.y_mm

    _add(
        panel,
        "rect",
        class_="outline",
        x=middle_x - box_x / 2.0,
        y=middle_y - box_y / 2.0,
        width=box_x,
        height=box_y,
        rx=min(layout.diameter_mm / 2.0 + skin_mm, box_y / 2.0),
        fill="none",
        stroke=INK,
        stroke_width=0.35,
        stroke_dasharray="3 1.5",
    )
    poles = {n: "plus" if face_of(c, "plus") == face else "minus" for n, c in cells.items()}
    for number, cell in cells.items():
        x, y = at(cell)
        group = _add(
            panel,
            "g",
            class_="cell",
            data_cell=number,
            data_group=cell.group,
            data_pole=poles[number],
        )
        _end(group, x, y, layout.diameter_mm / 2.0, poles[number])

    here = [k for k in links if k.layer == layer and k.face == face]
    arrived = [k for k in links if k.folded and k.to_cell in cells and face == "bottom"]
    order = {"parallel": 0, "series": 1, "take-off": 2}
    arrows: list[tuple[float, float, tuple[int, int], str]] = []
    for link in sorted(here + arrived, key=lambda k: order[k.kind]):
        near = link.to_cell if link in arrived else link.from_cell
        assert near is not None
        start = at(cells[near])
        piece = _add(
            panel,
            "g",
            class_="strip",
            data_link=link.number,
            data_kind=link.kind,
            data_junction=link.junction,
            data_from=link.from_cell,
            data_to="outside" if link.to_cell is None else link.to_cell,
            data_folded=str(link.folded).lower(),
        )
        past = min(4.0, f.strip_width_mm / 2.0)
        if link.folded:
            reach = layout.diameter_mm / 2.0 + skin_mm
            end = (start[0] + link.way[0] * reach, start[1] + up * link.way[1] * reach)
            _band(piece, link.kind, start, end, f.strip_width_mm, (past, 0.0))
            other = layer + 2 if link in here else layer
            arrows.append((*end, link.way, f"to layer {other}"))
        elif link.to_cell is None:
            end = (
                start[0] + link.way[0] * link.length_mm,
                start[1] + up * link.way[1] * link.length_mm,
            )
            _band(piece, link.kind, start, end, f.strip_width_mm, (past, 0.0))
            sign = "+" if link.junction else MINUS
            ax, ay = end[0] + link.way[0] * 8.0, end[1] + up * link.way[1] * 6.0
            _text(
                panel, ax, ay + 3.2, sign, size=10.0, anchor="middle", weight="bold",
                fill=STRIP_COLOURS["take-off"],
            )  # fmt: skip
        else:
            _band(piece, link.kind, start, at(cells[link.to_cell]), f.strip_width_mm, (past, past))

    for cell in cells.values():
        x, y = at(cell)
        _label(panel, x, y, poles[cell.number], cell.group)
    _arrows(panel, arrows, up)
    _taps(panel, layout, wires, cells, at, layer, face, (middle_x, middle_y))
    sheet.below_mm = middle_y + box_y / 2.0 + margin_mm
    if (layer, face) == (layout.layers - 1, "top"):  # every face has the same outline
        _dimensions(panel, layout, middle_x, middle_y, margin_mm)
        sheet.below_mm += 9.0


def _arrows(
    panel: ElementTree.Element,
    arrows: list[tuple[float, float, tuple[int, int], str]],
    up: float,
) -> None:
    """An arrow out of each fold, and where it goes in words beside the middle one."""
    for place, (x, y, (way_x, way_y), words) in enumerate(arrows):
        dx, dy = way_x * 6.0, up * way_y * 6.0
        _add(panel, "path", d=f"M{_n(x)} {_n(y)}l{_n(dx)} {_n(dy)}", stroke=INK, stroke_width=0.8)
        tip_x, tip_y = x + dx, y + dy
        side_x, side_y = dy * 0.3, -dx * 0.3
        _add(
            panel, "path", fill=INK,
            d=f"M{_n(tip_x + dx * 0.4)} {_n(tip_y + dy * 0.4)}"
            f"L{_n(tip_x + side_x)} {_n(tip_y + side_y)}L{_n(tip_x - side_x)} {_n(tip_y - side_y)}Z",
        )  # fmt: skip
        if place == len(arrows) // 2:
            if way_x:
                anchor = "start" if way_x > 0 else "end"
                _text(panel, tip_x + dx * 0.6, tip_y + 1.5, words, anchor=anchor)
            else:
                _text(panel, tip_x + 4.0, tip_y + (1.5 if dy > 0 else 2.5), words)


def _taps(
    panel: ElementTree.Element,
    layout: Layout,
    wires: tuple[Tap, ...],
    cells: dict[int, CellPlace],
    at: Callable[[CellPlace], tuple[float, float]],
    layer: int,
    face: str,
    middle: tuple[float, float],
) -> None:
    """Numbers of the balance wires, outside the block where their cell is near its edge."""
    half_y = layout.box_mm[1] / 2.0
    taken: list[tuple[float, float]] = []
    for wire in wires:
        if (wire.layer, wire.face) != (layer, face):
            continue
        x, y = at(cells[wire.cell])
        side = 1.0 if y > middle[1] + 0.1 else -1.0
        edge = middle[1] + side * half_y
        if abs(edge - y) <= layout.pitch_mm:
            badge = (x, edge + side * (BADGE_MM + 1.5))
        else:
            badge = (x + layout.pitch_mm / 2.0, y + side * layout.pitch_mm / 2.0)
        step = 0
        clear = 2.0 * BADGE_MM + (0.5 if layout.series < 10 else 4.9)
        while any((badge[0] - a) ** 2 + (badge[1] - b) ** 2 < clear**2 for a, b in taken):
            step += 1
            shift = (step + 1) // 2 * (1.0 if step % 2 else -1.0)
            badge = (x + shift * clear, badge[1])
        taken.append(badge)
        group = _add(panel, "g", class_="tap", data_tap=wire.number, data_cell=wire.cell)
        _add(
            group, "line", x1=badge[0], y1=badge[1], x2=x, y2=y + side * 3.1, stroke=INK,
            stroke_width=0.7,
        )  # fmt: skip
        _badge(group, *badge, f"B{wire.number}")


def _dimensions(
    panel: ElementTree.Element, layout: Layout, x: float, y: float, margin_mm: float
) -> None:
    """Outer length under the block and outer width beside it."""
    half_x, half_y = layout.box_mm[0] / 2.0, layout.box_mm[1] / 2.0
    below = y + half_y + margin_mm + 2.0
    beside = x + half_x + layout.fittings.tab_mm + 16.0
    lines = (
        (x - half_x, below, x + half_x, below),
        (x - half_x, below - 2.0, x - half_x, below + 2.0),
        (x + half_x, below - 2.0, x + half_x, below + 2.0),
        (beside, y - half_y, beside, y + half_y),
        (beside - 2.0, y - half_y, beside + 2.0, y - half_y),
        (beside - 2.0, y + half_y, beside + 2.0, y + half_y),
    )
    for x1, y1, x2, y2 in lines:
        _add(panel, "line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=INK, stroke_width=0.35)
    _text(panel, x, below + 5.5, f"{layout.box_mm[0]:.1f} mm", anchor="middle")
    _text(
        panel, beside + 5.5, y, f"{layout.box_mm[1]:.1f} mm", anchor="middle",
        transform=f"rotate(-90 {_n(beside + 5.5)} {_n(y)})",
    )  # fmt: skip


def _scale_bar(sheet: _Sheet) -> None:
    """Fifty millimetres to check the print by."""
    y = sheet.below_mm + 6.0
    for place in range(5):
        _add(
            sheet.root, "rect", x=6.0 + 10.0 * place, y=y - 2.0, width=10.0, height=2.5,
            fill=INK if place % 2 == 0 else PAPER, stroke=INK, stroke_width=0.3,
        )  # fmt: skip
    _text(sheet.root, 60.0, y + 1.0, "50 mm: print at 100 % and measure this bar.")
    sheet.below_mm = y + 2.0
