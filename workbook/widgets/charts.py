"""Charts built once and updated in place: lines with limits and points, bars, and a coloured grid."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from html import escape
from typing import Any

import bqplot as bq
import ipywidgets as W
import numpy as np
from bqscales import LinearScale, OrdinalScale

from workbook.numbers import FloatArray, Number
from workbook.widgets.palette import FAINT, HAIRLINE, INK, PACK, role
from workbook.widgets.style import set_big, style_sheet
from workbook.widgets.ticks import Box, Ticks, place_labels, ticks_for

MOST_LINES, MOST_LEVELS, MOST_VERTICALS, MOST_POINTS = 4, 4, 2, 3
"""More than this is not read from the back of a room."""


@dataclass(frozen=True)
class Line:
    """A curve, named at its end. `role` is a name of the palette."""

    name: str
    x: FloatArray | Sequence[float]
    y: FloatArray | Sequence[float]
    role: str = "pack"


@dataclass(frozen=True)
class Level:
    """A level line across the chart, such as a limit."""

    name: str
    y: Number
    role: str = "limit"


@dataclass(frozen=True)
class Vertical:
    """An upright line through the chart, such as the end of the reserve."""

    name: str
    x: Number
    role: str = "limit"


@dataclass(frozen=True)
class Point:
    """A marked point, such as the operating point."""

    name: str
    x: Number
    y: Number
    role: str = "pack"


def _set(widget: W.Widget, **traits: object) -> None:
    """Set the traits that differ: bqplot sends nothing for an equal array either."""
    for name, value in traits.items():
        setattr(widget, name, value)


class _Chart(W.VBox):
    """A heading, a bqplot figure and the finding in words under it."""

    def __init__(self, title: str, figure: bq.Figure) -> None:
        self.title, self.figure = title, figure
        self.heading = W.HTML(f'<div class="wb-title">{escape(title)}</div>')
        self.finding = W.HTML()
        self.finding_text = ""
        super().__init__(
            [style_sheet(), self.heading, figure, self.finding], layout=W.Layout(overflow="visible")
        )
        self.add_class("wb")
        self.add_class("wb-chart")

    def say(self, finding: str) -> None:
        """Put what the chart shows into words under it."""
        self.finding_text = finding
        self.finding.value = (
            f'<div class="wb-finding" role="status">{escape(finding)}</div>' if finding else ""
        )


class LineChart(_Chart):
    """Up to four curves with named levels, upright lines and points, named where they end.

    Args:
        title: what the chart shows.
        x_label: of the axis, with unit.
        y_label: of the axis, with unit.
        width_px: of the whole figure.
        height_px: of the whole figure.
        label_room_px: room at the right for the names of lines and levels.
        big_px: width and height at projector size.

    Example:
        >>> chart = LineChart("Sag", "charge taken, Ah", "voltage, V")
        >>> chart.update([Line("pack", [0, 1, 2], [4.2, 3.7, 3.3])], levels=[Level("cutoff", 2.8)])
        >>> chart.axis_range("y")
        (2.5, 4.5)
    """

    def __init__(
        self,
        title: str,
        x_label: str,
        y_label: str,
        *,
        width_px: int = 760,
        height_px: int = 225,
        label_room_px: int = 160,
        big_px: tuple[int, int] = (1150, 420),
    ) -> None:
        self._width, self._height, self._room = width_px, height_px, label_room_px
        self._text_px, self._big_px = 14, big_px
        self._shown: tuple[object, ...] | None = None
        self._scale = {"x": LinearScale(min=0.0, max=1.0), "y": LinearScale(min=0.0, max=1.0)}
        self._axis = {
            "x": bq.Axis(scale=self._scale["x"], label=x_label, grid_lines="none"),
            "y": bq.Axis(scale=self._scale["y"], label=y_label, orientation="vertical"),
        }
        for axis in self._axis.values():
            _set(axis, grid_color=HAIRLINE, label_color=INK, color="#9aa2ad")
        nothing = np.array([0.0, 0.0])

        def stroke() -> bq.Lines:
            return bq.Lines(
                x=nothing, y=nothing, scales=self._scale, visible=False, enable_hover=False
            )

        def label(align: str) -> bq.Label:
            return bq.Label(
                x=[], y=[], text=[], scales=self._scale, align=align, font_weight="normal",
                apply_clip=False, enable_hover=False,
            )  # fmt: skip

        self._lines = [stroke() for _ in range(MOST_LINES)]
        self._levels = [stroke() for _ in range(MOST_LEVELS)]
        self._verticals = [stroke() for _ in range(MOST_VERTICALS)]
        self._points = [
            bq.Scatter(
                x=[0.0], y=[0.0], scales=self._scale, visible=False, default_size=150, display_names=False, stroke="white",
                stroke_width=1.5, enable_hover=False, apply_clip=False,
            )
            for _ in range(MOST_POINTS)
        ]  # fmt: skip
        self._names, self._top_names = label("start"), label("middle")
        super().__init__(
            title,
            bq.Figure(
                marks=[
                    *self._levels, *self._verticals, *self._lines, *self._points,
                    self._names, self._top_names,
                ],
                axes=list(self._axis.values()),
                padding_x=0.0,
                padding_y=0.0,
                display_toolbar=False,
                background_style={"fill": "white"},
            ),
        )  # fmt: skip
        self._lay_out()

    def _lay_out(self) -> None:
        """Sizes that follow from the text size."""
        text = self._text_px
        grow = text / 14
        self._margin = {
            "top": round(24 * grow),
            "bottom": round(50 * grow),
            "left": round(62 * grow),
            "right": round(self._room * grow),
        }
        width, height = self._big_px if text > 14 else (self._width, self._height)
        self._plot = (
            width - self._margin["left"] - self._margin["right"],
            height - self._margin["top"] - self._margin["bottom"],
        )
        _set(self.figure.layout, width=f"{width}px", height=f"{height}px")
        _set(self.layout, width=f"{width}px", flex="0 0 auto")
        self.figure.fig_margin = self._margin
        for name, offset in (("x", round(38 * grow)), ("y", round(46 * grow))):
            _set(
                self._axis[name],
                tick_style={"font-size": f"{text}px", "fill": INK},
                label_offset=f"{offset}px",
            )
        for names in (self._names, self._top_names):
            names.default_size = float(text)

    def set_big(self, big: bool) -> None:
        """Projector size (text of 18 pt) or laptop size."""
        self._text_px = 24 if big else 14
        set_big(self, big)
        self._lay_out()
        if self._shown is not None:
            self._draw(*self._shown)

    def axis_range(self, name: str) -> tuple[float, float]:
        """The ends of the `x` or `y` axis as they stand."""
        return (self._scale[name].min, self._scale[name].max)

    def update(
        self,
        lines: Sequence[Line] = (),
        *,
        levels: Sequence[Level] = (),
        verticals: Sequence[Vertical] = (),
        points: Sequence[Point] = (),
        x_range: tuple[float, float] | None = None,
        y_range: tuple[float, float] | None = None,
        finding: str | None = None,
    ) -> None:
        """Show other figures in the same chart: at most one message for each part that changes.

        Args:
            lines: at most four curves.
            levels: at most four level lines.
            verticals: at most two upright lines.
            points: at most three points.
            x_range: ends of the axis; from the figures where not given.
            y_range: ends of the axis; from the figures where not given.
            finding: what the chart shows, in words; None leaves the words as they are.

        Raises:
            ValueError: more of a kind than the chart has room for.
        """
        for what, given, most in (
            ("lines", lines, MOST_LINES),
            ("levels", levels, MOST_LEVELS),
            ("verticals", verticals, MOST_VERTICALS),
            ("points", points, MOST_POINTS),
        ):
            if len(given) > most:
                raise ValueError(f"{len(given)} {what}; a chart shows at most {most}.")
        x_values = [*(s.x for s in lines), [v.x for v in verticals], [p.x for p in points]]
        y_values = [*(s.y for s in lines), [v.y for v in levels], [p.y for p in points]]
        x_axis = ticks_for(x_values, x_range, 6)
        y_axis = ticks_for(y_values, y_range, 5)
        self._shown = (tuple(lines), tuple(levels), tuple(verticals), tuple(points), x_axis, y_axis)
        self._draw(*self._shown)
        if finding is not None:
            self.say(finding)

    def _draw(
        self,
        lines: Sequence[Line],
        levels: Sequence[Level],
        verticals: Sequence[Vertical],
        points: Sequence[Point],
        x_axis: Ticks,
        y_axis: Ticks,
    ) -> None:
        with ExitStack() as held:
            for widget in (
                *self.figure.marks, *self._scale.values(), *self._axis.values(),
            ):  # fmt: skip
                held.enter_context(widget.hold_sync())
            for name, axis in (("x", x_axis), ("y", y_axis)):
                _set(self._scale[name], min=axis.low, max=axis.high)
                _set(self._axis[name], tick_values=axis.values, tick_format=axis.number_format)
            across, up = np.array([x_axis.low, x_axis.high]), np.array([y_axis.low, y_axis.high])
            strokes = [
                *zip(self._lines, _padded(lines, MOST_LINES), strict=True),
                *zip(
                    self._levels,
                    _padded([Line(v.name, across, [v.y] * 2, v.role) for v in levels], MOST_LEVELS),
                    strict=True,
                ),
                *zip(
                    self._verticals,
                    _padded(
                        [Line(v.name, [v.x] * 2, up, v.role) for v in verticals], MOST_VERTICALS
                    ),
                    strict=True,
                ),
            ]
            for mark, line in strokes:
                known = 0 if line is None else _known(line)
                if line is None or known == 0:
                    mark.visible = False
                    continue
                look = role(line.role)
                _set(
                    mark,
                    x=np.array(line.x, dtype=float)[:known],
                    y=np.array(line.y, dtype=float)[:known],
                    colors=[look.colour],
                    line_style=look.dash,
                    stroke_width=look.width_px * (1.5 if self._text_px > 14 else 1.0),
                    visible=True,
                )
            for mark, point in zip(self._points, _padded(points, MOST_POINTS), strict=True):
                if point is None or not (np.isfinite(point.x) and np.isfinite(point.y)):
                    mark.visible = False
                    continue
                look = role(point.role)
                _set(
                    mark,
                    x=np.array([point.x], dtype=float),
                    y=np.array([point.y], dtype=float),
                    colors=[look.colour],
                    marker=look.marker,
                    visible=True,
                )
            self._write_names(lines, levels, points, x_axis, y_axis)
            inside = [v for v in verticals if x_axis.low <= v.x <= x_axis.high]
            _set(
                self._top_names,
                x=np.array([v.x for v in inside], dtype=float),
                y=np.array([y_axis.high] * len(inside), dtype=float),
                text=np.array([v.name for v in inside], dtype=object).astype(str),
                colors=[role(v.role).colour for v in inside] or [INK],
                y_offset=-8,
            )

    def _write_names(
        self,
        lines: Sequence[Line],
        levels: Sequence[Level],
        points: Sequence[Point],
        x_axis: Ticks,
        y_axis: Ticks,
    ) -> None:
        """Names beside points, ends of curves and levels, moved apart where they would meet."""
        wide, high = self._plot
        wanted: list[tuple[str, str, float, float]] = [
            (p.name, p.role, p.x, p.y) for p in points if np.isfinite(p.x) and np.isfinite(p.y)
        ]
        of_points = len(wanted)
        for line in lines:
            end = _end_inside(line, x_axis, y_axis)
            if end is not None:
                wanted.append((line.name, line.role, *end))
        wanted += [
            (v.name, v.role, x_axis.high, v.y) for v in levels if y_axis.low <= v.y <= y_axis.high
        ]
        wanted[of_points:] = sorted(wanted[of_points:], key=lambda label: -label[3])
        per_x, per_y = wide / (x_axis.high - x_axis.low), high / (y_axis.high - y_axis.low)
        boxes = []
        for index, (name, _, x, y) in enumerate(wanted):
            width = 0.56 * self._text_px * len(name)
            left = (x - x_axis.low) * per_x + 10
            left = min(left, wide + self._margin["right"] - width)
            rise = self._text_px if index < of_points else 0.0
            boxes.append(Box(left, (y_axis.high - y) * per_y - rise, width))

        def pixels(x: Any, y: Any) -> FloatArray:
            return np.column_stack([(x - x_axis.low) * per_x, (y_axis.high - y) * per_y])

        across = np.linspace(x_axis.low, x_axis.high, max(wide // 4, 2))
        avoid = [np.empty((0, 2)), *(pixels(*_along(line, across)) for line in lines)]
        avoid += [pixels(np.array([p.x]), np.array([p.y])) for p in points]
        middles = place_labels(boxes, 1.25 * self._text_px, 0.0, float(high), np.concatenate(avoid))
        _set(
            self._names,
            x=np.array([x_axis.low + b.left / per_x for b in boxes]),
            y=np.array([y_axis.high - m / per_y for m in middles]),
            text=np.array([name for name, *_ in wanted], dtype=object).astype(str),
            colors=[role(r).colour for _, r, *_ in wanted] or [INK],
        )


def _padded(items: Sequence[Any], size: int) -> list[Any]:
    return [*items, *([None] * (size - len(items)))]


def _known(line: Line) -> int:
    """How many points reach to the last that is a number: bqplot stumbles over one that is not."""
    finite = np.isfinite(np.asarray(line.x, float)) & np.isfinite(np.asarray(line.y, float))
    return int(np.flatnonzero(finite)[-1]) + 1 if finite.any() else 0


def _end_inside(line: Line, x_axis: Ticks, y_axis: Ticks) -> tuple[float, float] | None:
    """The last point of a curve that is on the chart."""
    x, y = np.asarray(line.x, dtype=float), np.asarray(line.y, dtype=float)
    inside = (x >= x_axis.low) & (x <= x_axis.high) & (y >= y_axis.low) & (y <= y_axis.high)
    if not inside.any():
        return None
    last = int(np.flatnonzero(inside)[-1])
    return float(x[last]), float(y[last])


def _along(line: Line, across: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A curve seen at even steps; as it is where it does not run from left to right."""
    x, y = np.asarray(line.x, dtype=float), np.asarray(line.y, dtype=float)
    if x.size < 2 or not (np.diff(x) > 0).all():
        return x, y
    inside = across[(across >= x[0]) & (across <= x[-1])]
    return inside, np.interp(inside, x, y)


@dataclass(frozen=True)
class Bar:
    """One bar: its name, its length and, where given, what to print at its end."""

    name: str
    value: float
    text: str | None = None
    role: str = "pack"


class BarChart(_Chart):
    """Horizontal bars with their figures, the longest on top.

    Args:
        title: what the chart shows.
        x_label: what the length means, with unit.
        width_px: of the whole figure.
        bar_px: height that one bar takes.
        name_room_px: room at the left for the names.

    Example:
        >>> chart = BarChart("Share of the spread", "share, %")
        >>> chart.update([Bar("mass", 12.0), Bar("power", 71.0)])
        >>> list(chart.names)
        ['power', 'mass']
    """

    def __init__(
        self,
        title: str,
        x_label: str,
        *,
        width_px: int = 660,
        bar_px: int = 34,
        name_room_px: int = 210,
    ) -> None:
        self._bar_px, self._width, self._name_room = bar_px, width_px, name_room_px
        self.names: tuple[str, ...] = ()
        self._names_scale = OrdinalScale(domain=[""])
        self._scale = LinearScale(min=0.0, max=1.0)
        scales = {"x": self._names_scale, "y": self._scale}
        self._bars = bq.Bars(
            x=[""], y=[0.0], scales=scales, orientation="horizontal", padding=0.3,
            colors=[PACK.colour], color_mode="group", enable_hover=False,
        )  # fmt: skip
        self._texts = bq.Label(
            x=[], y=[], text=[], scales={"x": self._scale, "y": self._names_scale},
            colors=[INK], default_size=14.0, font_weight="normal", x_offset=8,
            apply_clip=False, enable_hover=False,
        )  # fmt: skip
        look = {"grid_color": HAIRLINE, "label_color": INK, "color": "#9aa2ad"}
        ticks = {"font-size": "14px", "fill": INK}
        self._name_axis = bq.Axis(
            scale=self._names_scale,
            orientation="vertical",
            grid_lines="none",
            tick_style=ticks,
            **look,
        )
        self._axis = bq.Axis(
            scale=self._scale, label=x_label, tick_style=ticks, label_offset="38px", **look
        )
        super().__init__(
            title,
            bq.Figure(
                marks=[self._bars, self._texts],
                axes=[self._name_axis, self._axis],
                fig_margin={"top": 6, "bottom": 50, "left": name_room_px, "right": 90},
                padding_x=0.0,
                padding_y=0.0,
                display_toolbar=False,
                background_style={"fill": "white"},
                layout=W.Layout(width=f"{width_px}px", height="160px"),
            ),
        )

    def update(
        self,
        bars: Sequence[Bar],
        *,
        x_range: tuple[float, float] | None = None,
        finding: str | None = None,
    ) -> None:
        """Show other bars in the same chart.

        Args:
            bars: in any order; names differ from each other.
            x_range: ends of the axis; from zero to the longest bar where not given.
            finding: what the chart shows, in words; None leaves the words as they are.
        """
        ordered = sorted((b for b in bars if np.isfinite(b.value)), key=lambda b: -b.value)
        axis = ticks_for([[0.0], [b.value for b in ordered]], x_range, 5)
        self.names = tuple(b.name for b in ordered)
        upwards = ordered[::-1]
        names = [b.name for b in upwards] or [""]
        if set(names) != set(self._names_scale.domain):
            # the page places a mark as soon as it is told: no name may ever miss from the scale
            self._names_scale.domain = list(dict.fromkeys([*self._names_scale.domain, *names]))
        with ExitStack() as held:
            for widget in (
                self._names_scale, self._scale, self._axis, self._texts, self._bars,
            ):  # fmt: skip
                held.enter_context(widget.hold_sync())
            self._names_scale.domain = names
            _set(self._scale, min=axis.low, max=axis.high)
            _set(self._axis, tick_values=axis.values, tick_format=axis.number_format)
            values = np.array([b.value for b in upwards], dtype=float)
            _set(
                self._bars,
                x=np.array(self.names[::-1], dtype=object).astype(str),
                y=values,
                colors=[role(b.role).colour for b in upwards] or [FAINT.colour],
            )
            _set(
                self._texts,
                x=np.maximum(values, 0.0),
                y=np.array(self.names[::-1], dtype=object).astype(str),
                text=np.array(
                    [f"{b.value:.3g}" if b.text is None else b.text for b in upwards], dtype=object
                ).astype(str),
            )
        height = f"{self._bar_px * max(len(bars), 1) + 56}px"
        if self.figure.layout.height != height:
            self.figure.layout.height = height
        if finding is not None:
            self.say(finding)
