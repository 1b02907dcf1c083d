"""A live figure as a still picture: what is drawn on the page, as self-contained SVG for paper."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from html import escape
from typing import Any

import bqplot as bq
import numpy as np
from bqscales import OrdinalScale

from workbook.svg import element, line, number, polygon, text
from workbook.widgets.style import INK

DASHES = {"dashed": "9 5", "dotted": "2 4", "dash_dotted": "9 4 2 4"}
MM_PER_PX = 0.235
"""Size on paper: a chart as wide as a lesson's column fills the width of a page."""
AXIS = "#6b7280"
GRID = "#d5d9de"
ARM = ((-0.4, -1.2), (0.4, -1.2), (0.4, -0.4))
"""One of the four of a cross."""
TURNS = ((1, 0), (0, 1), (-1, 0), (0, -1))
"""Cosine and sine of a quarter turn each."""
CORNERS = {
    "square": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "diamond": ((0, -1.2), (1.2, 0), (0, 1.2), (-1.2, 0)),
    "triangle-up": ((0, -1.2), (1.1, 0.9), (-1.1, 0.9)),
    "cross": tuple((x * c - y * s, x * s + y * c) for c, s in TURNS for x, y in ARM),
}
"""Of each marker, its half width as unit; any other marker is a circle."""


def _fraction(scale: Any, value: Any) -> float:
    """Position of a value along a scale, 0 to 1."""
    if isinstance(scale, OrdinalScale):
        names = [str(name) for name in scale.domain]
        return (names.index(str(value)) + 0.5) / len(names)
    return float((value - scale.min) / ((scale.max - scale.min) or 1.0))


class _Surface:
    """Where values of one figure fall on its paper, in pixels."""

    def __init__(self, figure: bq.Figure) -> None:
        size = (figure.layout.width, figure.layout.height)
        self.wide, self.high = (float(px.removesuffix("px")) for px in size)
        margin = figure.fig_margin
        self.left, self.top = margin["left"], margin["top"]
        self.right, self.bottom = self.wide - margin["right"], self.high - margin["bottom"]

    def across(self, scale: Any, value: Any) -> float:
        return float(self.left + _fraction(scale, value) * (self.right - self.left))

    def up(self, scale: Any, value: Any) -> float:
        return float(self.bottom - _fraction(scale, value) * (self.bottom - self.top))

    def points(self, mark: Any) -> Iterator[tuple[int, float, float]]:
        """Number and place of each point of a mark that can be placed."""
        x, y = np.atleast_1d(mark.x), np.atleast_1d(mark.y)
        for k, (a, b) in enumerate(zip(x.tolist(), y.tolist(), strict=True)):
            if all(isinstance(value, str) or math.isfinite(value) for value in (a, b)):
                yield k, self.across(mark.scales["x"], a), self.up(mark.scales["y"], b)


_text = partial(text, size=14.0)


def _ticks(axis: bq.Axis) -> list[tuple[Any, str]]:
    if isinstance(axis.scale, OrdinalScale):
        return [(name, str(name)) for name in axis.scale.domain if str(name)]
    values = () if axis.tick_values is None else axis.tick_values.tolist()
    return [(value, format(value, axis.tick_format or "g")) for value in values]


def _upright_axis(axis: bq.Axis, paper: _Surface) -> str:
    lined = axis.grid_lines != "none" and not isinstance(axis.scale, OrdinalScale)
    shapes = line(paper.left, paper.top, paper.left, paper.bottom, AXIS, 1)
    for value, words in _ticks(axis):
        y = paper.up(axis.scale, value)
        shapes += line(paper.left, y, paper.right, y, GRID, 1) if lined else ""
        shapes += _text(paper.left - 8, y + 5, words, anchor="end")
    middle = (paper.top + paper.bottom) / 2.0
    turned = f"rotate(-90 16 {middle:.1f})"
    return shapes + _text(16, middle, axis.label or "", anchor="middle", transform=turned)


def _level_axis(axis: bq.Axis, paper: _Surface) -> str:
    shapes = line(paper.left, paper.bottom, paper.right, paper.bottom, AXIS, 1)
    for value, words in _ticks(axis):
        x = paper.across(axis.scale, value)
        shapes += line(x, paper.bottom, x, paper.bottom + 5, AXIS, 1)
        shapes += _text(x, paper.bottom + 20, words, anchor="middle")
    middle = (paper.left + paper.right) / 2.0
    return shapes + _text(middle, paper.bottom + 42, axis.label or "", anchor="middle")


def _curve(mark: bq.Lines, paper: _Surface) -> str:
    places = " ".join(f"{number(x)},{number(y)}" for _, x, y in paper.points(mark))
    return element(
        "polyline",
        **{"class": "mark", "points": places, "fill": "none", "stroke": mark.colors[0]},
        stroke_width=mark.stroke_width,
        stroke_dasharray=DASHES.get(mark.line_style, ""),
    )


def _colour(mark: Any, k: int) -> str:
    return str(mark.colors[k % len(mark.colors)]) if mark.colors else INK


def _markers(mark: bq.Scatter, paper: _Surface) -> str:
    shapes, r = "", math.sqrt(mark.default_size / math.pi)
    for k, x, y in paper.points(mark):
        colour = _colour(mark, k)
        look = {"class": "mark", "fill": colour if mark.fill else "none"}
        look |= {"stroke": mark.stroke or colour, "stroke_width": mark.stroke_width}
        corners = CORNERS.get(mark.marker)
        if corners:
            shapes += polygon([(x + r * a, y + r * b) for a, b in corners], **look)
        else:
            shapes += element("circle", cx=x, cy=y, r=r, **look)
    return shapes


def _bars(mark: bq.Bars, paper: _Surface) -> str:
    """Horizontal bars: names on the upright axis, lengths along the other."""
    names, along = mark.scales["x"], mark.scales["y"]
    half = 0.35 * (paper.bottom - paper.top) / max(len(mark.x), 1)
    zero, shapes = paper.across(along, max(0.0, along.min)), ""
    for k, (name, value) in enumerate(zip(mark.x.tolist(), mark.y.tolist(), strict=True)):
        if not name or not math.isfinite(value):
            continue
        y, end = paper.up(names, name), paper.across(along, value)
        place: dict[str, Any] = {"x": min(zero, end), "y": y - half, "height": 2 * half}
        fill = _colour(mark, k)
        shapes += element("rect", class_="mark", width=abs(end - zero), **place, fill=fill)
    return shapes


def _names(mark: bq.Label, paper: _Surface) -> str:
    """Names with a white rim, so that a curve under one does not cut it."""
    rim: dict[str, Any] = {"stroke": "#fff", "stroke_width": 4, "stroke_linejoin": "round"}
    rim |= {"paint_order": "stroke", "anchor": mark.align}
    texts, shapes = np.atleast_1d(mark.text), ""
    for k, x, y in paper.points(mark):
        words, colour = str(texts[k]), _colour(mark, k)
        if words:
            x, y = x + mark.x_offset, y + mark.y_offset + 5.0
            shapes += _text(x, y, words, colour=colour, **rim)
    return shapes


DRAWN = {bq.Lines: _curve, bq.Bars: _bars, bq.Scatter: _markers, bq.Label: _names}
"""What draws each kind of mark; names come last, over everything."""


def chart_svg(figure: bq.Figure, message: str = "") -> str:
    """A bqplot figure as SVG.

    Args:
        figure: with lines, points, horizontal bars and names; straight and ordinal scales.
        message: what it shows, for readers who cannot see it.

    Returns:
        SVG text.

    Raises:
        NotImplementedError: a kind of mark that no chart of the workbook has.

    Example:
        >>> from workbook.widgets.charts import Line, LineChart
        >>> chart = LineChart("Sag", "charge, Ah", "voltage, V")
        >>> chart.update([Line("pack", [0, 1, 2], [4.2, 3.7, 3.3])])
        >>> chart_svg(chart.figure).count("<polyline")
        1
    """
    for mark in figure.marks:
        if type(mark) not in DRAWN:
            raise NotImplementedError(f"no way to print a {type(mark).__name__}.")
    paper, clip = _Surface(figure), f"clip-{figure.model_id[:8]}"
    shapes = "".join(
        (_upright_axis if axis.orientation == "vertical" else _level_axis)(axis, paper)
        for axis in figure.axes
    )
    for mark in sorted(figure.marks, key=lambda mark: isinstance(mark, bq.Label)):
        if mark.visible:
            shape = DRAWN[type(mark)](mark, paper)
            held = isinstance(mark, bq.Lines)
            shapes += f'<g clip-path="url(#{clip})">{shape}</g>' if held else shape
    return (
        f'<svg role="img" aria-label="{escape(message)}" viewBox="0 0 {paper.wide:.0f} {paper.high:.0f}" '
        f'style="width:{paper.wide * MM_PER_PX:.0f}mm;overflow:visible">'
        f'<clipPath id="{clip}"><rect x="{paper.left:.1f}" y="{paper.top:.1f}" '
        f'width="{paper.right - paper.left:.1f}" height="{paper.bottom - paper.top:.1f}"/></clipPath>'
        f"{shapes}</svg>"
    )
