"""A live figure as a still picture: what is drawn on the page, as self-contained SVG for paper."""

from __future__ import annotations

import re
from html import escape
from typing import Any

import bqplot as bq
import numpy as np

DASHES = {"solid": "", "dashed": "9 5", "dotted": "2 4", "dash_dotted": "9 4 2 4"}
MM_PER_PX = 0.235
"""Size on paper: a chart as wide as a lesson's column fills the width of a page."""
INK = "#1f2430"
AXIS = "#6b7280"
GRID = "#d5d9de"


def _pixels(layout_size: str) -> float:
    found = re.match(r"([\d.]+)px", str(layout_size))
    return float(found[1]) if found else 600.0


class _Paper:
    """Where figures of one bqplot figure fall on its paper."""

    def __init__(self, figure: bq.Figure) -> None:
        self.wide = _pixels(figure.layout.width)
        self.high = _pixels(figure.layout.height)
        margin = dict(figure.fig_margin)
        self.left, self.top = float(margin["left"]), float(margin["top"])
        self.right = self.wide - float(margin["right"])
        self.bottom = self.high - float(margin["bottom"])

    def place(self, scale: Any, value: Any, *, upright: bool) -> float:
        """One value on a scale, in pixels along or up the paper."""
        if isinstance(scale, bq.OrdinalScale) or type(scale).__name__ == "OrdinalScale":
            names = [str(name) for name in scale.domain]
            share = (names.index(str(value)) + 0.5) / len(names)
            return (
                self.bottom - share * (self.bottom - self.top)
                if upright
                else (self.left + share * (self.right - self.left))
            )
        low, high = float(scale.min), float(scale.max)
        share = (float(value) - low) / ((high - low) or 1.0)
        if upright:
            return self.bottom - share * (self.bottom - self.top)
        return self.left + share * (self.right - self.left)


def _text(x: float, y: float, words: str, anchor: str, colour: str = INK, more: str = "") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="14" fill="{colour}"{more}>'
        f"{escape(words)}</text>"
    )


def _halo(x: float, y: float, words: str, anchor: str, colour: str) -> str:
    """A name with a white rim, so that a curve under it does not cut it."""
    rim = ' stroke="#fff" stroke-width="4" stroke-linejoin="round" paint-order="stroke"'
    return _text(x, y, words, anchor, colour, rim)


def _axes(figure: bq.Figure, paper: _Paper) -> str:
    shapes = ""
    for axis in figure.axes:
        upright = axis.orientation == "vertical"
        ordinal = type(axis.scale).__name__ == "OrdinalScale"
        if ordinal:
            ticks: list[Any] = [name for name in axis.scale.domain if str(name)]
            texts = [str(tick) for tick in ticks]
        else:
            ticks = [] if axis.tick_values is None else [float(v) for v in axis.tick_values]
            texts = [format(tick, axis.tick_format or "g") for tick in ticks]
        for tick, text in zip(ticks, texts, strict=True):
            at = paper.place(axis.scale, tick, upright=upright)
            if upright:
                if axis.grid_lines != "none" and not ordinal:
                    shapes += (
                        f'<line x1="{paper.left:.1f}" x2="{paper.right:.1f}" y1="{at:.1f}" '
                        f'y2="{at:.1f}" stroke="{GRID}"/>'
                    )
                shapes += _text(paper.left - 8, at + 5, text, "end")
            else:
                shapes += (
                    f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{paper.bottom:.1f}" '
                    f'y2="{paper.bottom + 5:.1f}" stroke="{AXIS}"/>'
                )
                shapes += _text(at, paper.bottom + 20, text, "middle")
        middle = (paper.left + paper.right) / 2.0, (paper.top + paper.bottom) / 2.0
        if upright:
            shapes += (
                f'<line x1="{paper.left:.1f}" x2="{paper.left:.1f}" y1="{paper.top:.1f}" '
                f'y2="{paper.bottom:.1f}" stroke="{AXIS}"/>'
            )
            if axis.label:
                turned = f' transform="rotate(-90 16 {middle[1]:.1f})"'
                shapes += _text(16, middle[1], axis.label, "middle", INK, turned)
        else:
            shapes += (
                f'<line x1="{paper.left:.1f}" x2="{paper.right:.1f}" y1="{paper.bottom:.1f}" '
                f'y2="{paper.bottom:.1f}" stroke="{AXIS}"/>'
            )
            if axis.label:
                shapes += _text(middle[0], paper.bottom + 42, axis.label, "middle")
    return shapes


def _lines(mark: bq.Lines, paper: _Paper) -> str:
    x, y = np.atleast_1d(np.asarray(mark.x, float)), np.atleast_1d(np.asarray(mark.y, float))
    points = [
        (
            paper.place(mark.scales["x"], a, upright=False),
            paper.place(mark.scales["y"], b, upright=True),
        )
        for a, b in zip(x, y, strict=True)
        if np.isfinite(a) and np.isfinite(b)
    ]
    dash = DASHES.get(str(mark.line_style), "")
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline class="mark" points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in points)}" fill="none" '
        f'stroke="{mark.colors[0]}" stroke-width="{mark.stroke_width:g}"{dashed}/>'
    )


def _marker(kind: str, x: float, y: float, r: float, look: str) -> str:
    look = f'class="mark" {look}'
    if kind == "square":
        return f'<rect x="{x - r:.1f}" y="{y - r:.1f}" width="{2 * r:.1f}" height="{2 * r:.1f}" {look}/>'
    corners = {
        "diamond": ((0, -1.2), (1.2, 0), (0, 1.2), (-1.2, 0)),
        "triangle-up": ((0, -1.2), (1.1, 0.9), (-1.1, 0.9)),
        "cross": (
            (-0.4, -1.2), (0.4, -1.2), (0.4, -0.4), (1.2, -0.4), (1.2, 0.4), (0.4, 0.4),
            (0.4, 1.2), (-0.4, 1.2), (-0.4, 0.4), (-1.2, 0.4), (-1.2, -0.4), (-0.4, -0.4),
        ),
    }.get(kind)  # fmt: skip
    if corners:
        points = " ".join(f"{x + r * a:.1f},{y + r * b:.1f}" for a, b in corners)
        return f'<polygon points="{points}" {look}/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" {look}/>'


def _scatter(mark: bq.Scatter, paper: _Paper) -> str:
    shapes = ""
    colours = list(mark.colors) or [INK]
    for number, (x, y) in enumerate(zip(np.atleast_1d(mark.x), np.atleast_1d(mark.y), strict=True)):
        if isinstance(y, float | int | np.number) and not np.isfinite(float(y)):
            continue
        colour = colours[number % len(colours)]
        look = (
            f'fill="{colour if mark.fill else "none"}" stroke="{mark.stroke or colour}" '
            f'stroke-width="{mark.stroke_width:g}"'
        )
        shapes += _marker(
            str(mark.marker),
            paper.place(mark.scales["x"], x, upright=False),
            paper.place(mark.scales["y"], y, upright=True),
            float(mark.default_size / np.pi) ** 0.5,
            look,
        )
    return shapes


def _bars(mark: bq.Bars, paper: _Paper) -> str:
    """Horizontal bars: names on the upright axis, lengths along the other."""
    names = [str(name) for name in np.atleast_1d(mark.x)]
    values = np.atleast_1d(np.asarray(mark.y, float))
    if mark.orientation != "horizontal" or values.ndim != 1:
        raise NotImplementedError("only single horizontal bars are printed.")
    step = (paper.bottom - paper.top) / max(len(names), 1)
    colours, shapes = list(mark.colors) or [INK], ""
    zero = paper.place(mark.scales["y"], max(0.0, float(mark.scales["y"].min)), upright=False)
    for number, (name, value) in enumerate(zip(names, values, strict=True)):
        if not name or not np.isfinite(value):
            continue
        end = paper.place(mark.scales["y"], value, upright=False)
        at = paper.place(mark.scales["x"], name, upright=True)
        shapes += (
            f'<rect class="mark" x="{min(zero, end):.1f}" y="{at - 0.35 * step:.1f}" '
            f'width="{abs(end - zero):.1f}" height="{0.7 * step:.1f}" '
            f'fill="{colours[number % len(colours)]}"/>'
        )
    return shapes


def _labels(mark: bq.Label, paper: _Paper) -> str:
    shapes = ""
    colours = list(mark.colors) or [INK]
    texts = np.atleast_1d(mark.text)
    for number, (x, y, words) in enumerate(
        zip(np.atleast_1d(mark.x), np.atleast_1d(mark.y), texts, strict=True)
    ):
        if not str(words):
            continue
        shapes += _halo(
            paper.place(mark.scales["x"], x, upright=False) + float(mark.x_offset),
            paper.place(mark.scales["y"], y, upright=True) + float(mark.y_offset) + 5.0,
            str(words),
            str(mark.align),
            colours[number % len(colours)],
        )
    return shapes


def chart_svg(figure: bq.Figure, told: str = "") -> str:
    """A bqplot figure as it stands, as SVG.

    Args:
        figure: with lines, points, horizontal bars and names; straight and ordinal scales.
        told: what it shows, for who cannot see it.

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
    paper = _Paper(figure)
    shapes, names = "", ""
    clipped = (
        f'<clipPath id="{_clip_id(figure)}"><rect x="{paper.left:.1f}" y="{paper.top:.1f}" '
        f'width="{paper.right - paper.left:.1f}" height="{paper.bottom - paper.top:.1f}"/></clipPath>'
    )
    for mark in figure.marks:
        if not mark.visible:
            continue
        if isinstance(mark, bq.Label):
            names += _labels(mark, paper)
        elif isinstance(mark, bq.Lines):
            shapes += f'<g clip-path="url(#{_clip_id(figure)})">{_lines(mark, paper)}</g>'
        elif isinstance(mark, bq.Bars):
            shapes += _bars(mark, paper)
        elif isinstance(mark, bq.Scatter):
            shapes += _scatter(mark, paper)
        else:
            raise NotImplementedError(f"no way to print a {type(mark).__name__}.")
    return (
        f'<svg role="img" aria-label="{escape(told)}" viewBox="0 0 {paper.wide:.0f} {paper.high:.0f}" '
        f'style="width:{paper.wide * MM_PER_PX:.0f}mm;overflow:visible" '
        f'font-family="Liberation Sans, Arial, Helvetica, sans-serif">{clipped}'
        f"{_axes(figure, paper)}{shapes}{names}</svg>"
    )


def _clip_id(figure: bq.Figure) -> str:
    return f"clip-{str(figure.model_id)[:8]}"
