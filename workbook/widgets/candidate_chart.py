"""Candidates as points: time against mass, colour and marker by group, the front drawn through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass

import bqplot as bq
import numpy as np
from bqscales import LinearScale

from workbook.widgets.charts import _Chart
from workbook.widgets.palette import FAINT, HAIRLINE, INK, TODAY, role
from workbook.widgets.style import set_big
from workbook.widgets.ticks import Box, place_labels, ticks_for

GROUP_ROLES = ("pack", "alternative", "caution", "limit")
MOST_GROUPS, MOST_FAINT = len(GROUP_ROLES), 400
SIGNS = {
    "circle": "●", "diamond": "◆", "triangle-up": "▲", "square": "■", "cross": "✚", "ellipse": "•",
}  # fmt: skip


@dataclass(frozen=True)
class Dot:
    """One candidate: name, place, group; `key` is given back when it is clicked."""

    name: str
    x: float
    y: float
    group: str
    key: object = None
    on_front: bool = False


class CandidateChart(_Chart):
    """Survivors by group, the rejected faint, the front as a line, today's pack and the chosen one.

    Args:
        title: what the chart shows.
        x_label, y_label: with units.
        groups: at most four, in the order of their colours.
        width_px, height_px: of the whole figure.

    Example:
        >>> chart = CandidateChart("Choice", "mass, g", "time, min", ["energy", "power"])
        >>> chart.update([Dot("A 6S3P", 3900.0, 33.0, "power", ("A", 6, 3), True)])
        >>> chart.marks["power"].x.tolist()
        [3900.0]
    """

    def __init__(
        self,
        title: str,
        x_label: str,
        y_label: str,
        groups: Sequence[str],
        *,
        width_px: int = 760,
        height_px: int = 400,
    ) -> None:
        if len(groups) > MOST_GROUPS:
            raise ValueError(f"{len(groups)} groups; a chart shows at most {MOST_GROUPS}.")
        self._width, self._height, self._text_px = width_px, height_px, 14
        self._clicked: Callable[[object], None] = lambda _: None
        self._shown: tuple[tuple[Dot, ...], tuple[Dot, ...], Dot | None, Dot | None] | None = None
        self._scale = {"x": LinearScale(min=0.0, max=1.0), "y": LinearScale(min=0.0, max=1.0)}
        self._axis = {
            "x": bq.Axis(scale=self._scale["x"], label=x_label, grid_lines="none"),
            "y": bq.Axis(scale=self._scale["y"], label=y_label, orientation="vertical"),
        }
        for axis in self._axis.values():
            axis.grid_color, axis.label_color, axis.color = HAIRLINE, INK, "#9aa2ad"

        def points(colour: str, marker: str, size: int, **more: object) -> bq.Scatter:
            return bq.Scatter(
                x=[], y=[], scales=self._scale, colors=[colour], marker=marker, default_size=size,
                stroke_width=1.5, enable_hover=False, apply_clip=False, **more,
            )  # fmt: skip

        self.groups = tuple(groups)
        looks = [role(name) for name in GROUP_ROLES]
        self.marks = {
            group: points(look.colour, look.marker, 140, stroke="white")
            for group, look in zip(groups, looks, strict=False)
        }
        self._keys: dict[str, list[object]] = {group: [] for group in groups}
        for group, mark in self.marks.items():
            mark.on_element_click(
                lambda _, event, group=group: self._hit(group, event["data"]["index"])
            )
        self.rejected = points(FAINT.colour, FAINT.marker, 22)
        self.today = points(TODAY.colour, TODAY.marker, 170, stroke="white")
        self.ring = points(INK, "circle", 520, fill=False)
        self.ring.stroke_width = 2.5
        self.front = bq.Lines(
            x=[0.0, 0.0], y=[0.0, 0.0], scales=self._scale, colors=["#545c69"], stroke_width=1.5,
            visible=False, enable_hover=False,
        )  # fmt: skip
        self._names = bq.Label(
            x=[], y=[], text=[], scales=self._scale, align="start", font_weight="normal",
            colors=[INK], apply_clip=False, enable_hover=False,
        )  # fmt: skip
        super().__init__(
            title,
            bq.Figure(
                marks=[
                    self.rejected, self.front, self.ring, *self.marks.values(), self.today,
                    self._names,
                ],
                axes=list(self._axis.values()), padding_x=0.0, padding_y=0.0,
                display_toolbar=False, background_style={"fill": "white"},
            ),
        )  # fmt: skip
        named = [*zip(groups, looks, strict=False), ("today", TODAY), ("rejected", FAINT)]
        legend = ", ".join(f"{SIGNS[look.marker]} {name}" for name, look in named)
        self.title = f"{title}: {legend}, ◯ chosen, — front"
        signs = "&ensp;".join(
            f'<span style="color:{look.colour}">{SIGNS[look.marker]}</span> {name}'
            for name, look in named
        )
        self.heading.value += f"<div>{signs}&ensp;◯ chosen&ensp;— front</div>"
        self._lay_out()

    def on_click(self, told: Callable[[object], None]) -> None:
        """Whom to tell the key of a candidate that is clicked."""
        self._clicked = told

    def _hit(self, group: str, index: int) -> None:
        keys = self._keys[group]
        if 0 <= index < len(keys):
            self._clicked(keys[index])

    def _lay_out(self) -> None:
        grow = self._text_px / 14
        self._margin = {
            "top": round(14 * grow),
            "bottom": round(50 * grow),
            "left": round(62 * grow),
            "right": round(150 * grow),
        }
        width = self._width + round(100 * (grow - 1))
        height = self._height + round(60 * (grow - 1))
        self._plot = (
            width - self._margin["left"] - self._margin["right"],
            height - self._margin["top"] - self._margin["bottom"],
        )
        self.figure.layout.width, self.figure.layout.height = f"{width}px", f"{height}px"
        self.figure.fig_margin = self._margin
        for name, offset in (("x", 38), ("y", 46)):
            self._axis[name].tick_style = {"font-size": f"{self._text_px}px", "fill": INK}
            self._axis[name].label_offset = f"{round(offset * grow)}px"
        self._names.default_size = float(self._text_px)

    def set_big(self, big: bool) -> None:
        """Projector size (text of 18 pt) or laptop size."""
        self._text_px = 24 if big else 14
        set_big(self, big)
        self._lay_out()
        if self._shown is not None:
            self._draw(*self._shown)

    def update(
        self,
        survivors: Sequence[Dot],
        rejected: Sequence[Dot] = (),
        *,
        today: Dot | None = None,
        chosen: Dot | None = None,
        finding: str | None = None,
    ) -> None:
        """Show other candidates.

        Args:
            survivors: those that hold; those on the front are joined and named.
            rejected: those that do not; at most 400 are drawn, spread over all.
            today: the pack of today.
            chosen: the one to ring.
            finding: what the chart shows, in words; None leaves the words as they are.

        Raises:
            KeyError: a survivor of a group that the chart has not.
        """
        step = max(1, -(-len(rejected) // MOST_FAINT))
        self._shown = (tuple(survivors), tuple(rejected[::step]), today, chosen)
        self._draw(*self._shown)
        if finding is not None:
            self.say(finding)

    def _draw(
        self,
        survivors: tuple[Dot, ...],
        rejected: tuple[Dot, ...],
        today: Dot | None,
        chosen: Dot | None,
    ) -> None:
        singles = [dot for dot in (today, chosen) if dot is not None]
        told = [*survivors, *singles] or list(rejected)
        front = sorted((d for d in survivors if d.on_front), key=lambda dot: dot.x)
        axes = {
            name: ticks_for([[getattr(dot, name) for dot in told]], None, count)
            for name, count in (("x", 6), ("y", 5))
        }
        seen = [
            dot
            for dot in rejected
            if all(axes[n].low <= getattr(dot, n) <= axes[n].high for n in "xy")
        ]
        with ExitStack() as held:
            for widget in (*self.figure.marks, *self._scale.values(), *self._axis.values()):
                held.enter_context(widget.hold_sync())
            for name, axis in axes.items():
                self._scale[name].min, self._scale[name].max = axis.low, axis.high
                self._axis[name].tick_values = axis.values
                self._axis[name].tick_format = axis.number_format
            for group, mark in self.marks.items():
                mine = [dot for dot in survivors if dot.group == group]
                self._keys[group] = [dot.key for dot in mine]
                _place(mark, mine)
            unknown = {dot.group for dot in survivors} - set(self.groups)
            if unknown:
                raise KeyError(f"no group {sorted(unknown)[0]} in this chart.")
            _place(self.rejected, seen)
            _place(self.today, [today] if today else [])
            _place(self.ring, [chosen] if chosen else [])
            self.front.visible = len(front) > 1
            if len(front) > 1:
                _place(self.front, front)
            named = [*front, *(dot for dot in singles if dot.name not in {d.name for d in front})]
            self._write_names(named, [*survivors, *singles], axes)

    def _write_names(self, named: list[Dot], every: list[Dot], axes: dict) -> None:  # type: ignore[type-arg]
        wide, high = self._plot
        x_axis, y_axis = axes["x"], axes["y"]
        per_x, per_y = wide / (x_axis.high - x_axis.low), high / (y_axis.high - y_axis.low)

        def at(dot: Dot) -> tuple[float, float]:
            return (dot.x - x_axis.low) * per_x, (y_axis.high - dot.y) * per_y

        boxes = []
        for dot in named:
            left, middle = at(dot)
            width = 0.56 * self._text_px * len(dot.name)
            left = min(left + 14, wide + self._margin["right"] - width)
            boxes.append(Box(left, middle, width))
        avoid = np.array([at(dot) for dot in every]).reshape(-1, 2)
        middles = place_labels(boxes, 1.25 * self._text_px, 0.0, float(high), avoid)
        self._names.x = np.array([x_axis.low + b.left / per_x for b in boxes], dtype=float)
        self._names.y = np.array([y_axis.high - m / per_y for m in middles], dtype=float)
        self._names.text = np.array([dot.name for dot in named], dtype=object).astype(str)


def _place(mark: bq.Mark, dots: Sequence[Dot]) -> None:
    mark.x = np.array([dot.x for dot in dots], dtype=float)
    mark.y = np.array([dot.y for dot in dots], dtype=float)
