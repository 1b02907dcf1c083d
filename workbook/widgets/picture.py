"""A picture drawn live as SVG, shown at laptop or projector size."""

from __future__ import annotations

import re
from collections.abc import Callable

import ipywidgets as W

from workbook.svg import document
from workbook.widgets.one_message import figure_update
from workbook.widgets.parts import finding_html, heading
from workbook.widgets.style import Panel

BIG_SCALE = 1.55
"""A picture grows by this for a projector: its text of 15.5 px and more is then 24 px, 18 pt."""

_VIEW_BOX, _SIZE = re.compile(r'viewBox="([^"]*)"'), re.compile(r' (?:width|height)="[^"]*"')


class Picture(Panel):
    """A heading, a drawing of a fixed shape that scales as a whole, and its finding in words.

    Args:
        title: what the picture shows; empty where something beside it says so.
        width_px: of the drawing.
        height_px: of the drawing.

    Attributes:
        narrow_px: width at which it is drawn where the page leaves less than that, so that its text stays
            readable on a phone; 0 where it only scales.
        redraw: draws it once more; a picture that is drawn narrow sets it.

    Example:
        >>> from workbook import svg
        >>> picture = Picture("A line", 200, 100)
        >>> picture.draw(svg.line(0, 50, 200, 50), "A line goes across.")
        >>> 'aria-label="A line goes across."' in picture.svg.value
        True
    """

    narrow_px = 0

    def __init__(self, title: str, width_px: int, height_px: int) -> None:
        self.title, self._usual_px = title, width_px
        self.redraw: Callable[[], None] = lambda: None
        self.width_px, self.height_px, self.scale = width_px, height_px, 1.0
        self.svg, self.finding = W.HTML(), W.HTML()
        self.finding_text = self._shapes = ""
        above = [heading(title)] if title else []
        super().__init__(*above, self.svg, self.finding, name="picture")
        self._draw("", title)

    @figure_update()
    def draw(self, shapes: str, finding: str) -> None:
        """Show other shapes, and say in words what they show."""
        self._shapes, self.finding_text = shapes, finding
        self._draw(shapes, finding)
        self.finding.value = finding_html(finding)

    def _draw(self, shapes: str, name: str) -> None:
        """Put shapes into the room of the picture."""
        self.svg.value = document(
            shapes,
            width=self.width_px,
            height=self.height_px,
            scale=self.scale,
            name=name,
            style="background:#fff;display:block",
        )

    def as_svg(self) -> str:
        """The current drawing as a still picture."""
        return str(self.svg.value)

    def show(self, drawing: str, finding: str) -> None:
        """Show a whole drawing to the width of the picture, and say in words what it shows.

        Args:
            drawing: SVG text with a view box, of any size.
            finding: in words.
        """
        head, _, rest = drawing.partition(">")
        _, _, wide, high = map(float, _VIEW_BOX.search(head)[1].split())  # type: ignore[index]
        self.height_px = round(self.width_px * high / wide)
        self.draw(f"{_SIZE.sub('', head)}>{rest}", finding)

    def fit(self, room_px: int) -> None:
        """Be drawn narrow where there is little room."""
        wide = self.narrow_px if room_px < self.narrow_px else self._usual_px
        if self.narrow_px and wide != self.width_px:
            self.width_px = wide
            self.redraw()

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        self.scale = BIG_SCALE if big else 1.0
        super().set_big(big)
        self.draw(self._shapes, self.finding_text)
