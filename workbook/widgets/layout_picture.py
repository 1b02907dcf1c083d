"""A drawing made elsewhere, shown to the width of the page."""

from __future__ import annotations

from html import escape
from xml.etree import ElementTree

import ipywidgets as W

from workbook.widgets.picture import BIG
from workbook.widgets.style import set_big, style_sheet


class LayoutPicture(W.VBox):
    """A drawing with a heading and its finding in words.

    Args:
        title: what it shows.
        width_px: to which the drawing is scaled.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> from workbook.bench.scaled_drawing import draw_full_size
        >>> picture = LayoutPicture("Layout")
        >>> drawn = draw_full_size(layouts(example_pack(2, 2))[0])
        >>> picture.update(drawn.svg, "Two groups of two.")
        >>> 'class="face"' in picture.svg.value and "mm" not in picture.svg.value.split(">")[0]
        True
    """

    def __init__(self, title: str, width_px: int = 660) -> None:
        self.title, self.width_px, self.scale = title, width_px, 1.0
        self.svg, self.finding = W.HTML(), W.HTML()
        self.finding_text = ""
        self._root: ElementTree.Element | None = None
        heading = W.HTML(f'<div class="wb-title">{escape(title)}</div>')
        super().__init__([style_sheet(), heading, self.finding, self.svg])
        self.add_class("wb")
        self.add_class("wb-picture")

    def update(self, svg: str, finding: str) -> None:
        """Show another drawing.

        Args:
            svg: self-contained, with a view box.
            finding: what it shows, in words.
        """
        self.finding_text = finding
        self._root = ElementTree.fromstring(svg)
        self._draw()
        self.finding.value = f'<div class="wb-finding" role="status">{escape(finding)}</div>'

    def _draw(self) -> None:
        assert self._root is not None
        _, _, wide, high = map(float, self._root.get("viewBox", "0 0 1 1").split())
        width = self.width_px * self.scale
        self._root.set("width", f"{width:.0f}")
        self._root.set("height", f"{width * high / wide:.0f}")
        self._root.set("aria-label", self.finding_text)
        self.svg.value = ElementTree.tostring(self._root, encoding="unicode")

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        self.scale = BIG if big else 1.0
        set_big(self, big)
        if self._root is not None:
            self._draw()
