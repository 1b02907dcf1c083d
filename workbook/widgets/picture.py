"""Pictures drawn live as SVG: shapes as text, and a widget that shows them at laptop or projector size."""

from __future__ import annotations

from html import escape

import ipywidgets as W

from workbook.widgets.palette import INK
from workbook.widgets.style import set_big, style_sheet

BIG = 1.55
"""A picture grows by this for a projector: its text of 15.5 px and more is then 24 px, 18 pt."""


class Picture(W.VBox):
    """A heading, a drawing of a fixed shape that scales as a whole, and its finding in words.

    Args:
        title: what the picture shows.
        width_px: of the drawing.
        height_px: of the drawing.

    Example:
        >>> picture = Picture("A line", 200, 100)
        >>> picture.draw(line(0, 50, 200, 50), "A line goes across.")
        >>> 'aria-label="A line goes across."' in picture.svg.value
        True
    """

    def __init__(self, title: str, width_px: int, height_px: int) -> None:
        self.title = title
        self.width_px, self.height_px, self.scale = width_px, height_px, 1.0
        self.svg, self.finding = W.HTML(), W.HTML()
        self.finding_text = self._shapes = ""
        heading = W.HTML(f'<div class="wb-title">{escape(title)}</div>')
        super().__init__([style_sheet(), heading, self.svg, self.finding])
        self.add_class("wb")
        self.add_class("wb-picture")

    def draw(self, shapes: str, finding: str) -> None:
        """Show other shapes, and say in words what they show."""
        self._shapes, self.finding_text = shapes, finding
        self.svg.value = (
            f'<svg role="img" aria-label="{escape(finding)}" viewBox="0 0 {self.width_px} {self.height_px}" '
            f'width="{self.width_px * self.scale:.0f}" height="{self.height_px * self.scale:.0f}" '
            f'style="background:#fff;display:block">{shapes}</svg>'
        )
        self.finding.value = f'<div class="wb-finding" role="status">{escape(finding)}</div>'

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        self.scale = BIG if big else 1.0
        set_big(self, big)
        self.draw(self._shapes, self.finding_text)


def line(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    colour: str = INK,
    width: float = 2.0,
    dash: str = "",
) -> str:
    """A straight stroke.

    Example:
        >>> line(0, 0, 10, 5, "#000", 1)
        '<line x1="0.0" y1="0.0" x2="10.0" y2="5.0" stroke="#000" stroke-width="1"/>'
    """
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def box(
    x: float, y: float, width: float, height: float, fill: str = "none", stroke: str = INK,
    stroke_width: float = 1.5, corner: float = 3.0, dash: str = "",
) -> str:  # fmt: skip
    """A rectangle; nothing where it has no size."""
    if width <= 0 or height <= 0:
        return ""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" rx="{corner:g}" '
        f'fill="{fill}" stroke="{stroke}" stroke-width="{stroke_width:g}"{dashed}/>'
    )


def words(
    x: float, y: float, text: str, *, anchor: str = "start", size: float = 15.5,
    colour: str = INK, bold: bool = False,
) -> str:  # fmt: skip
    """Text on its base line; `anchor` is start, middle or end."""
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size:g}" fill="{colour}"'
        f"{weight}>{escape(text)}</text>"
    )


def arrow(
    x: float, tail_y: float, tip_y: float, colour: str = INK, width: float = 4.0, head: float = 7.0
) -> str:
    """An upright arrow; too short for its head, it is the head alone."""
    down = 1.0 if tip_y > tail_y else -1.0
    neck = tip_y - down * 1.6 * head
    shaft = line(x, tail_y, x, neck, colour, width) if (neck - tail_y) * down > 0 else ""
    points = f"{x - head:.1f},{neck:.1f} {x + head:.1f},{neck:.1f} {x:.1f},{tip_y:.1f}"
    return f'{shaft}<polygon points="{points}" fill="{colour}"/>'
