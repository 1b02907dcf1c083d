"""A picture on the page on which points, lines and a row can be marked, in its own pixels."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import bqplot as bq
import ipywidgets as W
import numpy as np
from bqscales import LinearScale

from workbook.pictures.opening import OpenedPicture
from workbook.widgets.style import CAUTION, Panel, Role

WIDTH_PX, MOST_HIGH_PX = 770, 620


class PictureFigure(Panel):
    """A picture, shown as wide as there is room; x and y of everything on it are pixels of the picture.

    Attributes:
        size: width and height of the picture in pixels; 0, 0 before there is one.

    Example:
        >>> figure = PictureFigure()
        >>> figure.show(OpenedPicture("a", np.zeros((300, 900, 3), np.uint8)))
        >>> figure.size, figure.figure.layout.height
        ((900, 300), '257px')
    """

    def __init__(self) -> None:
        self.size, self._room_px = (0, 0), WIDTH_PX
        self._scales = {
            "x": LinearScale(min=0.0, max=1.0),
            "y": LinearScale(min=0.0, max=1.0, reverse=True),
        }
        self.image = bq.Image(image=W.Image(value=b""), scales=self._scales, pixelated=False)
        self.image.enable_hover = False
        none = {"top": 0, "bottom": 0, "left": 0, "right": 0}
        self.figure = bq.Figure(
            marks=[self.image],
            fig_margin=none,
            padding_x=0.0,
            padding_y=0.0,
            display_toolbar=False,
            background_style={"fill": "white"},
            layout=W.Layout(width=f"{WIDTH_PX}px", height="1px", max_width="100%"),
        )
        super().__init__(self.figure, name="on-picture", overflow="visible", flex="0 0 auto")

    def show(self, picture: OpenedPicture) -> None:
        """Put a picture in place of the one before."""
        high, wide = picture.pixels.shape[:2]
        self.size = (wide, high)
        self._scales["x"].max, self._scales["y"].max = float(wide), float(high)
        self.image.x, self.image.y = np.array([0.0, wide]), np.array([float(high), 0.0])
        self.image.image = W.Image(value=picture.png, format="png")
        shape = min(max(wide / high, 0.01), 100.0)
        with self.figure.hold_trait_notifications():  # one alone may cross the other
            self.figure.min_aspect_ratio = self.figure.max_aspect_ratio = shape
        self._lay_out()

    def _lay_out(self) -> None:
        wide, high = self.size
        if wide and high:
            scale = min(self._room_px / wide, MOST_HIGH_PX / high)
            self.figure.layout.width = f"{round(wide * scale)}px"
            self.figure.layout.height = f"{round(high * scale)}px"

    def fit(self, room_px: int) -> None:
        """As wide as the column, at most."""
        self._room_px = min(WIDTH_PX, room_px)
        self._lay_out()

    def on_click(self, action: Callable[[float, float], None]) -> None:
        """Call `action` with the place, in pixels of the picture, of a click on it or on a point on it."""

        def clicked(_: Any, event: dict[str, Any]) -> None:
            data = event["data"]
            action(float(data["click_x"]), float(data["click_y"]))

        def on_point(mark: bq.Scatter, event: dict[str, Any]) -> None:
            index = int(event["data"]["index"])
            action(float(mark.x[index]), float(mark.y[index]))

        self.image.on_element_click(clicked)
        for mark in self.figure.marks:
            if isinstance(mark, bq.Scatter):
                mark.on_element_click(on_point)

    def scatter(
        self, look: Role, moved: Callable[[int, float, float], None] | None = None
    ) -> bq.Scatter:
        """Points on the picture, which can be dragged where `moved` is given."""
        mark = bq.Scatter(
            x=np.array([]),
            y=np.array([]),
            scales=self._scales,
            colors=[look.colour],
            stroke="#ffffff",
            stroke_width=1.5,
            marker=look.marker,
            default_size=110,
            enable_hover=False,
            display_names=True,
            enable_move=moved is not None,
            drag_size=1.0,
        )
        if moved is not None:

            def dropped(_: Any, event: dict[str, Any]) -> None:
                moved(int(event["index"]), float(event["point"]["x"]), float(event["point"]["y"]))

            mark.on_drag_end(dropped)
        self.figure.marks = [*self.figure.marks, mark]
        return mark

    def lines(self, look: Role = CAUTION, closed: bool = False) -> bq.Lines:
        """A line on the picture, or a frame; clicks on it reach the picture."""
        mark = bq.Lines(
            x=np.array([]),
            y=np.array([]),
            scales=self._scales,
            colors=[look.colour],
            stroke_width=2.5,
            enable_hover=False,
            fill="inside" if closed else "none",
            fill_colors=[look.colour],
            fill_opacities=[0.12],
        )
        self.figure.marks = [*self.figure.marks, mark]
        return mark


def place(mark: bq.Mark, points: Sequence[tuple[float, float]], names: Sequence[str] = ()) -> None:
    """Put points or the corners of a line where they belong; points without names are numbered."""
    with mark.hold_sync():
        mark.x = np.array([x for x, _ in points], dtype=float)
        mark.y = np.array([y for _, y in points], dtype=float)
        if isinstance(mark, bq.Scatter):
            numbers = [str(n + 1) for n in range(len(points))]
            mark.names = np.array(list(names) or numbers, dtype=object).astype(str)


def crosses(points: Iterable[tuple[float, float]], reach: float) -> list[tuple[float, float]]:
    """Corners of a line that draws a cross at each of some points.

    Example:
        >>> crosses([(5.0, 5.0)], 1.0)[:2]
        [(4.0, 5.0), (6.0, 5.0)]
    """
    off = (np.nan, np.nan)
    return [
        corner
        for x, y in points
        for corner in ((x - reach, y), (x + reach, y), off, (x, y - reach), (x, y + reach), off)
    ]
