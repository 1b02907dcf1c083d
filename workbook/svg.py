"""Drawings as SVG text: shapes, words and groups, each escaped and rounded in one place.

Attributes are keyword arguments: `stroke_width=2` becomes `stroke-width="2"`, `class_="cell"` becomes
`class="cell"`. What is None or empty is left out.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

INK = "#1f2430"
"""Lines and letters."""

Attribute = str | float | None
_Given = dict[str, Attribute]


def number(value: float) -> str:
    """A length or coordinate, to two decimals at most.

    Example:
        >>> number(3.0), number(-0.001), number(1.256)
        ('3', '0', '1.26')
    """
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown == "-0" else shown


def element(tag: str, *inside: str, **attributes: Attribute) -> str:
    """An element with what is inside it, which is SVG already.

    Args:
        tag: its name.
        inside: drawn before one another.
        attributes: by name; text is escaped, numbers are rounded.

    Example:
        >>> element("circle", cx=2.0, cy=1 / 3, r=1, class_="end", data_pole="+")
        '<circle cx="2" cy="0.33" r="1" class="end" data-pole="+"/>'
    """
    given = "".join(
        f' {name.rstrip("_").replace("_", "-")}="'
        f'{escape(value) if isinstance(value, str) else number(value)}"'
        for name, value in attributes.items()
        if value is not None and value != ""
    )
    return f"<{tag}{given}>{''.join(inside)}</{tag}>" if inside else f"<{tag}{given}/>"


def group(*inside: str, **attributes: Attribute) -> str:
    """Shapes that belong together.

    Example:
        >>> group(line(0, 0, 1, 0, width=1), transform="scale(2)")
        '<g transform="scale(2)"><line x1="0" y1="0" x2="1" y2="0" stroke="#1f2430" stroke-width="1"/></g>'
    """
    return element("g", *inside, **attributes)


def line(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    colour: str = INK,
    width: float = 2.0,
    dash: str = "",
    **more: Attribute,
) -> str:
    """A straight stroke.

    Example:
        >>> line(0, 0, 10, 5, "#000", 1)
        '<line x1="0" y1="0" x2="10" y2="5" stroke="#000" stroke-width="1"/>'
    """
    stroke: _Given = {"stroke": colour, "stroke_width": width, "stroke_dasharray": dash}
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **stroke, **more)


def box(
    x: float,
    y: float,
    width: float,
    height: float,
    fill: str = "none",
    stroke: str = INK,
    stroke_width: float = 1.5,
    corner: float = 3.0,
    dash: str = "",
    **more: Attribute,
) -> str:
    """A rectangle; nothing where it has no size.

    Example:
        >>> box(0, 0, 4, 0), box(0, 0, 4, 2, corner=0)
        ('', '<rect x="0" y="0" width="4" height="2" rx="0" fill="none" stroke="#1f2430" stroke-width="1.5"/>')
    """
    if width <= 0 or height <= 0:
        return ""
    size: _Given = {"x": x, "y": y, "width": width, "height": height, "rx": corner}
    look: _Given = {
        "fill": fill,
        "stroke": stroke,
        "stroke_width": stroke_width,
        "stroke_dasharray": dash,
    }
    return element("rect", **size, **look, **more)


def polygon(points: Iterable[tuple[float, float]], **attributes: Attribute) -> str:
    """A closed shape through some corners.

    Example:
        >>> polygon([(0, 0), (2, 0), (1, 2.5)], fill="#000")
        '<polygon points="0,0 2,0 1,2.5" fill="#000"/>'
    """
    return element("polygon", points=_places(points), **attributes)


def polyline(
    points: Iterable[tuple[float, float]],
    colour: str = INK,
    width: float = 2.0,
    dash: str = "",
    **more: Attribute,
) -> str:
    """A stroke from point to point.

    Example:
        >>> polyline([(0, 0), (2, 0), (2, 5)], "#000", 1)
        '<polyline points="0,0 2,0 2,5" fill="none" stroke="#000" stroke-width="1"/>'
    """
    stroke: _Given = {"stroke": colour, "stroke_width": width, "stroke_dasharray": dash}
    return element("polyline", points=_places(points), fill="none", **stroke, **more)


def _places(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def text(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 15.5,
    anchor: str = "start",
    bold: bool = False,
    colour: str = INK,
    **more: Attribute,
) -> str:
    """Words with their baseline at y; `anchor` is start, middle or end.

    Example:
        >>> text(0, 5, "a < b", size=4)
        '<text x="0" y="5" text-anchor="start" font-size="4" fill="#1f2430">a &lt; b</text>'
    """
    weight = "700" if bold else ""
    look: _Given = {"text_anchor": anchor, "font_size": size, "fill": colour, "font_weight": weight}
    return element("text", escape(words, quote=False), x=x, y=y, **look, **more)


def document(
    *inside: str,
    width: float,
    height: float,
    name: str = "",
    unit: str = "",
    scale: float = 1.0,
    **more: Attribute,
) -> str:
    """A whole drawing, to be put into a page.

    Args:
        inside: its shapes.
        width, height: of its view, in the units of its shapes.
        name: what it shows, for who cannot see it.
        unit: that a unit of the shapes has where it is shown: "mm" on paper, px where empty.
        scale: by which it is shown larger.

    Example:
        >>> document(line(0, 0, 9, 9), width=10, height=10, unit="mm")[:63]
        '<svg role="img" viewBox="0 0 10 10" width="10mm" height="10mm">'
    """
    size = {
        "viewBox": f"0 0 {number(width)} {number(height)}",
        "width": f"{number(scale * width)}{unit}",
        "height": f"{number(scale * height)}{unit}",
    }
    phrase = {"role": "img", "aria_label": name}
    return element("svg", *inside, **phrase, **size, **more)
