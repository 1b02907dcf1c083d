"""Line charts, built once and updated in place: curves with named levels, uprights and points."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any, TypeVar

import bqplot as bq
import ipywidgets as W
import numpy as np
from bqscales import LinearScale

from workbook.numbers import FloatArray, Number
from workbook.units import ShownUnit, axis_text, shown_unit
from workbook.widgets.one_message import figure_update
from workbook.widgets.parts import finding_html, heading
from workbook.widgets.static_figure import chart_svg
from workbook.widgets.style import FAINT, FIGURE_PX, HAIRLINE, INK, Panel, Role, fitted_px, role
from workbook.widgets.ticks import Box, Ticks, place_labels, ticks_for

MOST_LINES, MOST_LEVELS, MOST_VERTICALS, MOST_POINTS = 4, 4, 2, 3
"""More than this is not read from the back of a room."""

TEXT_PX, BIG_TEXT_PX = 14, 24
"""Text at laptop and at projector size: 24 px is 18 pt at 96 px an inch."""

LEAST_HEIGHT_PX = 270
"""No tall chart is made lower than this in a narrow column: on a phone it stays in view over its controls."""

NAMES_SHARE = 0.28
"""Of a narrow chart, the most that names at the right take; longer ones reach into it."""

FEW_NAMES_PX = 400
"""In a narrower chart only the first and the last of the names on curves are written."""

TOP_NAMES_PX = -8.0
"""Middle of the names of upright lines, below the upper edge."""

SAMPLE_PX = (4, 8)
"""Steps across and down at which names see what is drawn."""

AXIS_LOOK = {"grid_color": HAIRLINE, "label_color": INK, "color": "#9aa2ad"}


@dataclass(frozen=True, eq=False)
class Line:
    """A curve, named at its end, or on it at a share of its way. `role` is a name of the palette."""

    name: str
    x: FloatArray | Sequence[float]
    y: FloatArray | Sequence[float]
    role: str = "pack"
    name_position: float | None = None


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


@dataclass(frozen=True)
class Name:
    """A name at a place of the chart: in ink or in a role's colour; above the place where `beside`."""

    text: str
    x: float
    y: float
    role: str = ""
    beside: bool = False


def texts(values: Sequence[str]) -> Any:
    """Texts as bqplot takes them, also none at all."""
    return np.array(values, dtype=object).astype(str)


def set_changed(widget: W.Widget, **wanted: Any) -> None:
    """Set what differs in a mark, a scale or an axis, in one message; nothing where all is as it should be.

    A trait for an array compares by itself; setting others checks them first, a list of colours one by one.

    Example:
        >>> scale = LinearScale(min=0.0, max=1.0)
        >>> set_changed(scale, min=0.0, max=2.0)
        >>> scale.max
        2.0
    """
    with widget.hold_sync():
        for name, to in wanted.items():
            if isinstance(to, np.ndarray) or getattr(widget, name) != to:
                setattr(widget, name, to)


class TickAxis(bq.Axis):  # type: ignore[misc]  # bqplot has no types
    """An axis whose page hears how ticks are printed before it hears where they are.

    Held messages are in any order, and the other way round new ticks are printed as the old ones were.
    """

    def get_state(self, key: Any = None, drop_defaults: bool = False) -> dict[str, Any]:
        """Its state in the order of names: `tick_format` before `tick_values`."""
        return dict(sorted(super().get_state(key, drop_defaults).items()))


_Part = TypeVar("_Part", Line, Level, Vertical, Point)


class Chart(Panel):
    """A heading, a bqplot figure and the finding in words under it.

    Attributes:
        figure: the bqplot figure.
        finding_text: the sentence under it.
    """

    def __init__(self, title: str, axes: Sequence[bq.Axis], **layout: str) -> None:
        self.title = title
        self.figure = bq.Figure(
            axes=list(axes),
            padding_x=0.0,
            padding_y=0.0,
            display_toolbar=False,
            background_style={"fill": "white"},
            layout=W.Layout(**layout),
        )
        self.heading = heading(title)
        self.finding, self.finding_text = W.HTML(), ""
        super().__init__(
            self.heading,
            self.figure,
            self.finding,
            name="chart",
            overflow="visible",
            flex="0 0 auto",
        )

    def say(self, text: str | None) -> None:
        """Put what the chart shows into words under it; None leaves the words as they are."""
        if text is not None:
            self.finding_text, self.finding.value = text, finding_html(text)

    def as_svg(self) -> str:
        """The current figure as a still picture."""
        return chart_svg(self.figure, self.finding_text)

    @contextmanager
    def held(self) -> Iterator[None]:
        """While much is changed: one message at most for each mark, scale and axis."""
        with ExitStack() as stack:
            scales = [axis.scale for axis in self.figure.axes]
            for widget in (*self.figure.marks, *scales, *self.figure.axes):
                stack.enter_context(widget.hold_sync())
            yield


def _axis_label(label: str) -> tuple[str, ShownUnit]:
    """The label of an axis in the unit that is shown, and that unit: figures come in the file's.

    Example:
        >>> _axis_label("all-up mass, g")[0], _axis_label("gf/W")[0]
        ('all-up mass, g', 'gf/W')
    """
    return axis_text(label), shown_unit(label.rpartition(", ")[2])


class PlaneChart(Chart):
    """Two axes of numbers with round ticks, and names moved apart where they would meet.

    Args:
        title: what the chart shows.
        x_label, y_label: of the axes, with units; figures come in them and are shown as people have them.
        width_px, height_px: of the whole figure.
        label_room_px: room at the right for names.
        big_px: width and height at projector size.

    Attributes:
        text_px: size of the text.
        plot_px: width and height between the axes.
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
        self._sizes, self._label_room_px = ((width_px, height_px), big_px), label_room_px
        self.text_px, self._room_px = TEXT_PX, 0
        self._ticks = {"x": Ticks(0.0, 1.0), "y": Ticks(0.0, 1.0)}
        self._scale = {"x": LinearScale(min=0.0, max=1.0), "y": LinearScale(min=0.0, max=1.0)}
        labels, self._units = zip(*map(_axis_label, (x_label, y_label)), strict=True)
        self._axis = {
            "x": TickAxis(scale=self._scale["x"], label=labels[0], grid_lines="none", **AXIS_LOOK),
            "y": TickAxis(
                scale=self._scale["y"], label=labels[1], orientation="vertical", **AXIS_LOOK
            ),
        }
        self._names = self._labels("start")
        super().__init__(title, list(self._axis.values()))

    def _shown_x(self, x: Any) -> Any:
        """Figures as they are shown on the axis across."""
        return self._units[0].shown(np.asarray(x, dtype=float))

    def _shown_y(self, y: Any) -> Any:
        """Figures as they are shown on the axis upwards."""
        return self._units[1].shown(np.asarray(y, dtype=float))

    def _labels(self, align: str) -> bq.Label:
        return bq.Label(
            x=[],
            y=[],
            text=[],
            scales=self._scale,
            align=align,
            font_weight="normal",
            colors=[INK],
            apply_clip=False,
            enable_hover=False,
        )

    def _stroke(self, **look: Any) -> bq.Lines:
        empty = {"x": np.zeros(2), "y": np.zeros(2), "scales": self._scale, "visible": False}
        return bq.Lines(**(empty | look), enable_hover=False)

    def _scatter(self, **look: Any) -> bq.Scatter:
        plain = {"stroke_width": 1.5, "enable_hover": False, "display_names": False}
        empty = {"x": np.array([]), "y": np.array([]), "scales": self._scale}
        return bq.Scatter(**(empty | plain | look))

    def _lay_out(self) -> None:
        """Sizes that follow from the text size."""
        grow = self.text_px / TEXT_PX
        width, height = self._sizes[self.text_px > TEXT_PX]
        if self._room_px and self.text_px == TEXT_PX:
            usual, width = width, fitted_px(width, self._room_px)
            least = min(0.9, LEAST_HEIGHT_PX / height)
            height = round(height * min(max(width / usual, least), 1.35))
        room = min(self._label_room_px, round(NAMES_SHARE * width / grow))
        sides = {"top": 24, "bottom": 50, "left": 62, "right": room}
        margin = self._margin = {side: round(px * grow) for side, px in sides.items()}
        self.plot_px = (
            width - margin["left"] - margin["right"],
            height - margin["top"] - margin["bottom"],
        )
        self._steps = tuple(
            np.linspace(0.0, px, max(px // step, 2))
            for px, step in zip(self.plot_px, SAMPLE_PX, strict=True)
        )
        self.layout.width = self.figure.layout.width = f"{width}px"
        self.figure.layout.height = f"{height}px"
        self.figure.fig_margin = margin
        for name, offset in (("x", 38), ("y", 46)):
            self._axis[name].tick_style = {"font-size": f"{self.text_px}px", "fill": INK}
            self._axis[name].label_offset = f"{round(offset * grow)}px"
        for mark in self.figure.marks:
            if isinstance(mark, bq.Label):
                mark.default_size = float(self.text_px)

    def set_big(self, big: bool) -> None:
        """Projector size (text of 18 pt) or laptop size."""
        super().set_big(big)
        self.text_px = BIG_TEXT_PX if big else TEXT_PX
        self._lay_out()
        self._draw()

    def fit(self, room_px: int) -> None:
        """Take the width of the column; at projector size it has a width of its own."""
        if room_px == (self._room_px or FIGURE_PX):
            return
        self._room_px = room_px
        self._lay_out()
        self._draw()

    def _draw(self) -> None:
        """Draw the chart at the current sizes."""
        raise NotImplementedError

    @property
    def ticks_across(self) -> int:
        """How many ticks the x axis has room for, at most."""
        return 6 if self.plot_px[0] > 18 * self.text_px else 3

    @property
    def few_names(self) -> bool:
        """Whether there is room for the outer names alone."""
        return self.plot_px[0] < FEW_NAMES_PX

    def axis_range(self, name: str) -> tuple[float, float]:
        """The ends of the `x` or `y` axis."""
        return (self._scale[name].min, self._scale[name].max)

    @property
    def names(self) -> dict[str, tuple[float, float]]:
        """Each name on the chart, and the place of its left end."""
        mark = self._names
        return dict(zip(mark.text.tolist(), zip(mark.x, mark.y, strict=True), strict=True))

    def _set_axes(self, x: Ticks, y: Ticks) -> None:
        for name, ticks in (("x", x), ("y", y)):
            if ticks == self._ticks[name]:
                continue
            self._ticks[name] = ticks
            set_changed(self._scale[name], min=ticks.low, max=ticks.high)
            set_changed(self._axis[name], tick_values=ticks.values, tick_format=ticks.number_format)

    def _pixel(self, x: Any, y: Any) -> tuple[Any, Any]:
        """A place on the chart, or places in arrays, in pixels across and down."""
        wide, high = self.plot_px
        x_axis, y_axis = self._ticks["x"], self._ticks["y"]
        return (x - x_axis.low) * wide / x_axis.span, (y_axis.high - y) * high / y_axis.span

    def _pixels(self, x: Sequence[Number], y: Sequence[Number]) -> FloatArray:
        """Places on the chart in pixels, a row across and a row down."""
        return np.array(self._pixel(np.asarray(x, float), np.asarray(y, float)))

    def _write(
        self,
        names: Sequence[Name],
        avoid: FloatArray | None,
        marks: FloatArray,
        gap_px: float,
        top: float = 0.0,
        standing: Sequence[Box] = (),
    ) -> None:
        """Write names near their places, moved apart and off curves, marked points and other names, in pixels."""
        x, y = self._ticks["x"], self._ticks["y"]
        wide, high = self.plot_px
        boxes = []
        for name in names:
            across, down = self._pixel(name.x, name.y)
            width = 0.56 * self.text_px * len(name.text)
            left = min(across + gap_px, wide + self._margin["right"] - width)
            before = across - gap_px - width
            aside = before if name.beside and before > 0 else None
            middle = down - (self.text_px if name.beside else 0.0)
            boxes.append(Box(left, middle, width, aside))
        line_px = 1.25 * self.text_px
        boxes = place_labels(boxes, line_px, top, float(high), avoid, marks, standing)
        _set_names(
            self._names,
            names,
            [x.low + b.left * x.span / wide for b in boxes],
            [y.high - b.middle * y.span / high for b in boxes],
        )


def _set_names(
    mark: bq.Label, names: Sequence[Name], x: Sequence[float], y: Sequence[float]
) -> None:
    """Write names where they have been placed."""
    colours = [role(name.role).text_colour if name.role else INK for name in names]
    set_changed(
        mark,
        x=np.array(x, dtype=float),
        y=np.array(y, dtype=float),
        text=texts([name.text for name in names]),
        colors=colours or [INK],
    )


class LineChart(PlaneChart):
    """Up to four curves with named levels, upright lines and points, named where they end.

    Args:
        title: what the chart shows.
        x_label, y_label: of the axes, with unit.
        sizes: `width_px` and `height_px` of the whole figure, `label_room_px` at the right for the names of lines
            and levels, `big_px` at projector size.
        most_lines: curves that there is room for.

    Attributes:
        lines, levels, verticals, points: on the chart, in its units; a curve as far as it is known.
        dots: the measured points laid over it.

    Example:
        >>> chart = LineChart("Sag", "charge taken, Ah", "voltage, V")
        >>> chart.update([Line("pack", [0, 1, 2], [4.2, 3.7, 3.3])], levels=[Level("cutoff", 2.8)])
        >>> chart.axis_range("y"), chart.lines[0].y
        ((2.5, 4.5), array([4.2, 3.7, 3.3]))
    """

    def __init__(
        self, title: str, x_label: str, y_label: str, *, most_lines: int = MOST_LINES, **sizes: Any
    ) -> None:
        super().__init__(title, x_label, y_label, **sizes)
        self.lines: tuple[Line, ...] = ()
        self.levels: tuple[Level, ...] = ()
        self.verticals: tuple[Vertical, ...] = ()
        self.points: tuple[Point, ...] = ()
        self.dots = Line("measured", np.array([]), np.array([]))
        self._x_extent: tuple[list[Any], tuple[Number, Number] | None] = ([], None)
        self._dots: bq.Scatter | None = None
        self._shown: dict[bq.Mark, tuple[Line | Level | Vertical | Point | None, int]] = {}
        self._lines = [self._stroke() for _ in range(most_lines)]
        side = LinearScale(min=0.0, max=1.0)  # from edge to edge, wherever the ends of the axis go
        across, upright = self._scale | {"x": side}, self._scale | {"y": side}
        whole = np.array([0.0, 1.0])
        self._levels = [self._stroke(scales=across, x=whole) for _ in range(MOST_LEVELS)]
        self._verticals = [self._stroke(scales=upright, y=whole) for _ in range(MOST_VERTICALS)]
        look = {"default_size": 150, "stroke": "white", "apply_clip": False, "visible": False}
        self._points = [self._scatter(**look) for _ in range(MOST_POINTS)]
        self._top_names, self._names_on = self._labels("middle"), self._labels("middle")
        strokes = [*self._levels, *self._verticals, *self._lines]
        self.figure.marks = [*strokes, *self._points, self._names_on, self._names, self._top_names]
        self._lay_out()

    @figure_update()
    def update(
        self,
        lines: Sequence[Line] = (),
        *,
        levels: Sequence[Level] = (),
        verticals: Sequence[Vertical] = (),
        points: Sequence[Point] = (),
        x_range: tuple[Number, Number] | None = None,
        y_range: tuple[Number, Number] | None = None,
        finding: str | None = None,
    ) -> None:
        """Show other figures in the same chart: at most one message for each part that changes.

        Args:
            lines: curves, at most as many as there is room for.
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
            ("lines", lines, len(self._lines)),
            ("levels", levels, MOST_LEVELS),
            ("verticals", verticals, MOST_VERTICALS),
            ("points", points, MOST_POINTS),
        ):
            if len(given) > most:
                raise ValueError(f"{len(given)} {what}; a chart shows at most {most}.")
        x, y = self._units
        lines = [replace(o, x=self._shown_x(o.x), y=self._shown_y(o.y)) for o in lines]
        levels = [replace(o, y=y.shown(float(o.y))) for o in levels]
        verticals = [replace(o, x=x.shown(float(o.x))) for o in verticals]
        points = [replace(o, x=x.shown(float(o.x)), y=y.shown(float(o.y))) for o in points]
        x_range = None if x_range is None else tuple(self._shown_x(x_range).tolist())
        y_range = None if y_range is None else tuple(self._shown_y(y_range).tolist())
        across = [*(line.x for line in lines), *(v.x for v in verticals), *(p.x for p in points)]
        up = [*(line.y for line in lines), *(v.y for v in levels), *(p.y for p in points)]
        self.lines = tuple(line for line in map(_known_part, lines) if len(line.x) > 1)
        self.levels = tuple(level for level in levels if math.isfinite(level.y))
        self.verticals = tuple(upright for upright in verticals if math.isfinite(upright.x))
        self.points = tuple(o for o in points if math.isfinite(o.x) and math.isfinite(o.y))
        self._x_extent = across, x_range
        self._draw(ticks_for(across, x_range, self.ticks_across), ticks_for(up, y_range, 5))
        self.say(finding)

    def show_dots(
        self, x: FloatArray | Sequence[float], y: FloatArray | Sequence[float], size: int = 26
    ) -> None:
        """Lay measured points over the chart, small and hollow; `update` sets the axes.

        Args:
            x, y: the points.
            size: of a dot, where they are first shown.
        """
        if self._dots is None:
            self._dots = self._scatter(
                default_size=size, colors=["white"], stroke=INK, stroke_width=1.3
            )
            self.figure.marks = [*self.figure.marks, self._dots]
        with self._dots.hold_sync():
            self._dots.x, self._dots.y = np.array(self._shown_x(x)), np.array(self._shown_y(y))
        self.dots = replace(self.dots, x=self._dots.x, y=self._dots.y)

    def _draw(self, x_axis: Ticks | None = None, y_axis: Ticks | None = None) -> None:
        x_axis = x_axis or ticks_for(*self._x_extent, self.ticks_across)
        y_axis = y_axis or self._ticks["y"]
        self._set_axes(x_axis, y_axis)
        self._show(self._lines, self.lines, lambda o: {"x": np.array(o.x), "y": np.array(o.y)})
        self._show(self._levels, self.levels, lambda o: {"y": np.full(2, o.y)})
        self._show(self._verticals, self.verticals, lambda o: {"x": np.full(2, o.x)})
        self._show(
            self._points, self.points, lambda o: {"x": np.array([o.x]), "y": np.array([o.y])}
        )
        on_top = [v for v in self.verticals if x_axis.low <= v.x <= x_axis.high]
        named = self._names_on_curves()
        on, off = ([], named) if self.few_names else (named, [])
        covered = self._write_names_on(on)
        self._write_names(self._write_top_names(on_top), covered, off)

    def _show(
        self,
        marks: Sequence[bq.Mark],
        parts: Sequence[_Part],
        place: Callable[[_Part], dict[str, Any]],
    ) -> None:
        """Show a part of the chart by each mark, written where it is another than before; hide those left over."""
        for mark, part in zip_longest(marks, parts):
            shown = (part, self.text_px)
            if shown == self._shown.get(mark):
                continue
            self._shown[mark] = shown
            if part is None:
                set_changed(mark, visible=False)
            else:
                look = _point_look if isinstance(part, Point) else _stroke_look
                big = self.text_px > TEXT_PX
                set_changed(mark, visible=True, **place(part), **look(role(part.role), big))

    def _write_names(self, top: float, covered: FloatArray, more: Sequence[Name]) -> None:
        """Names beside points, at the ends of curves and levels, from so many pixels downwards, off what is covered;
        and some more."""
        x_axis, y_axis = self._ticks["x"], self._ticks["y"]
        beside = [
            Name(p.name, float(p.x), float(p.y), p.role, True)
            for p in self.points
            if not (self.few_names and p.role == "faint")
        ]
        beside += more
        beside.sort(key=lambda name: name.role != "faint")  # they have least room
        end_names = [
            Name(line.name, *end, line.role)
            for line in self.lines
            if line.name_position is None and (end := _end_inside(line, x_axis, y_axis)) is not None
        ]
        end_names += [
            Name(v.name, x_axis.high, float(v.y), v.role)
            for v in self.levels
            if y_axis.low <= v.y <= y_axis.high
        ]
        end_names.sort(key=lambda name: -name.y)
        marks = self._pixels([p.x for p in self.points], [p.y for p in self.points])
        self._write([*beside, *end_names], self._drawn_px(covered), marks, 10.0, top)

    def _drawn_px(self, covered: FloatArray) -> FloatArray:
        """What is covered, and where curves, levels and upright lines run, in pixels: a row across and a row down."""
        across, down = self._steps
        curves = [_along(*self._pixel(line.x, line.y), across) for line in self.lines]
        levels = [(across, np.full(across.size, self._pixel(0.0, v.y)[1])) for v in self.levels]
        uprights = [(np.full(down.size, self._pixel(v.x, 0.0)[0]), down) for v in self.verticals]
        return np.concatenate([covered, *curves, *levels, *uprights], axis=1)

    def _names_on_curves(self) -> list[Name]:
        """Names on their curves; in little room the outer two alone, over and under them."""
        named = [line for line in self.lines if line.name_position is not None]
        if self.few_names and len(named) > 1:
            named = [named[0], replace(named[-1], name_position=named[0].name_position)]
        under = 2.0 * self.text_px * self._ticks["y"].span / self.plot_px[1]
        names = []
        for number, line in enumerate(named):
            share = (line.name_position or 0.0) * (len(line.x) - 1)
            x, y = (
                float(np.interp(share, np.arange(len(values)), values))
                for values in (line.x, line.y)
            )
            lower = under if self.few_names and number else 0.0
            names.append(Name(line.name, x, y - lower, line.role, beside=self.few_names))
        return names

    def _write_names_on(self, names: Sequence[Name]) -> FloatArray:
        """Write names on their curves, which they break; returns the places that they cover, in pixels."""
        if not names and not len(self._names_on.text):
            return np.empty((2, 0))
        x, y = [name.x for name in names], [name.y for name in names]
        _set_names(self._names_on, names, x, y)
        across, down = self._pixels(x, y)
        halves = 0.28 * self.text_px * np.array([len(name.text) for name in names])
        places = across + halves * np.linspace(-1.0, 1.0, 9)[:, None]
        return np.array([places.ravel(), np.tile(down, 9)])

    def _write_top_names(self, verticals: Sequence[Vertical]) -> float:
        """Names over upright lines; returns how far down other names stay clear of them."""
        if not verticals and not len(self._top_names.text):
            return 0.0
        x, y, wide = self._ticks["x"], self._ticks["y"], self.plot_px[0]
        least, most = 2.0 - self._margin["left"], wide + self._margin["right"] - 2.0
        boxes = []
        for upright in verticals:
            width = 0.56 * self.text_px * len(upright.name)
            left = self._pixel(float(upright.x), 0.0)[0] - width / 2
            boxes.append(Box(min(max(left, least), most - width), TOP_NAMES_PX, width))
        placed = place_labels(boxes, 1.25 * self.text_px, TOP_NAMES_PX, float(self.plot_px[1]))
        _set_names(
            self._top_names,
            [Name(v.name, float(v.x), y.high, v.role) for v in verticals],
            [x.low + (b.left + b.width / 2) * x.span / wide for b in placed],
            [y.high - b.middle * y.span / self.plot_px[1] for b in placed],
        )
        return max((b.middle + 1.5 * self.text_px for b in placed), default=0.0)


def small_chart(title: str, x_label: str, y_label: str) -> LineChart:
    """A line chart of which two stand side by side."""
    return LineChart(
        title, x_label, y_label, width_px=380, height_px=225, label_room_px=96, big_px=(580, 380)
    )


def _stroke_look(look: Role, big: bool) -> dict[str, Any]:
    width_px = look.width_px * (1.5 if big else 1.0)
    return {"colors": [look.colour], "line_style": look.dash, "stroke_width": width_px}


def _point_look(look: Role, big: bool) -> dict[str, Any]:
    marker, size = ("circle", 70) if look is FAINT else (look.marker, 150)
    return {"colors": [look.colour], "marker": marker, "default_size": size}


def _known_part(line: Line) -> Line:
    """A curve up to its last point that is a number: bqplot stumbles over one that is not."""
    x, y = np.asarray(line.x, dtype=float), np.asarray(line.y, dtype=float)
    known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    end = int(known[-1]) + 1 if known.size else 0
    return replace(line, x=x[:end], y=y[:end])


def _end_inside(line: Line, x_axis: Ticks, y_axis: Ticks) -> tuple[float, float] | None:
    """The last point of a curve that is on the chart; None where none of it is to be seen."""
    x_values, y_values = (np.asarray(values)[::-1].tolist() for values in (line.x, line.y))
    inside = (
        (x, y)
        for x, y in zip(x_values, y_values, strict=True)
        if x_axis.low <= x <= x_axis.high and y_axis.low <= y <= y_axis.high
    )
    return next(inside, None)


def _along(x: FloatArray, y: FloatArray, across: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A curve seen at even steps; as it is where it does not run from left to right."""
    if x.size < 2 or not (x[1:] > x[:-1]).all():
        return x, y
    inside = across[(across >= x[0]) & (across <= x[-1])]
    return inside, np.interp(inside, x, y)
