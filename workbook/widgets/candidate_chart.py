"""Candidates as points: time against mass, colour and marker by group, the Pareto front drawn through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import bqplot as bq
import ipywidgets as W
import numpy as np

from workbook.widgets.charts import Name, PlaneChart, texts
from workbook.widgets.one_message import figure_update
from workbook.widgets.style import FAINT, INK, LIMIT, TODAY, role
from workbook.widgets.ticks import Box, Ticks, ticks_for

REJECTED = "rejected"
GROUP_ROLES = ("pack", "alternative", "caution", "limit")
MOST_GROUPS, MOST_FAINT = len(GROUP_ROLES), 400
SHAPES = dict(
    zip(("circle", "diamond", "triangle-up", "square", "cross", "point"), "●◆▲■✚•", strict=True)
)


@dataclass(frozen=True)
class Dot:
    """One candidate: name, place, group; `key` is given back when it is clicked."""

    name: str
    x: float
    y: float
    group: str
    key: object = None
    on_front: bool = False


@dataclass(frozen=True)
class _OnChart:
    survivors: tuple[Dot, ...] = ()
    rejected: tuple[Dot, ...] = ()
    today: Dot | None = None
    chosen: Dot | None = None
    limits: tuple[float, float] | None = None

    @property
    def singles(self) -> list[Dot]:
        return [dot for dot in (self.today, self.chosen) if dot is not None]

    @property
    def front(self) -> list[Dot]:
        return sorted((dot for dot in self.survivors if dot.on_front), key=lambda dot: dot.x)


class CandidateChart(PlaneChart):
    """Survivors by group, the rejected faint, the front as a line, today's pack and the chosen one.

    Args:
        title: what the chart shows.
        x_label, y_label: with units.
        groups: at most four, in the order of their colours.

    Attributes:
        marks: group to the mark of its survivors.
        rejected, today, ring, front: the other marks; the ring is around the chosen one.
        limit_lines: the lines of the limits, `x` upright and `y` across.
        keys_of: group to the keys of its survivors; `rejected` to those of the others that are drawn.

    Example:
        >>> chart = CandidateChart("Choice", "mass, g", "time, min", ["energy", "power"])
        >>> chart.update([Dot("A 6S3P", 3900.0, 33.0, "power", ("A", 6, 3), True)])
        >>> chart.marks["power"].x.tolist()
        [3900.0]
    """

    def __init__(self, title: str, x_label: str, y_label: str, groups: Sequence[str]) -> None:
        if len(groups) > MOST_GROUPS:
            raise ValueError(f"{len(groups)} groups; a chart shows at most {MOST_GROUPS}.")
        super().__init__(
            title,
            x_label,
            y_label,
            height_px=400,
            label_room_px=150,
            big_px=(1150, 420),
        )
        self._clicked: Callable[[object], None] = lambda _: None
        self._shown = _OnChart()
        looks = dict(zip(groups, map(role, GROUP_ROLES), strict=False))
        self.keys_of: dict[str, list[object]] = {group: [] for group in (*groups, REJECTED)}
        self.marks = {
            group: self._scatter(colors=[look.colour], marker=look.marker, **_SURVIVOR)
            for group, look in looks.items()
        }
        self.rejected = self._scatter(colors=[FAINT.colour], marker="circle", default_size=26)
        for group, mark in (*self.marks.items(), (REJECTED, self.rejected)):
            mark.on_element_click(
                lambda _, event, group=group: self.click(group, event["data"]["index"])
            )
        self.today = self._scatter(
            colors=[TODAY.colour], marker=TODAY.marker, **(_SURVIVOR | {"default_size": 170})
        )
        self.ring = self._scatter(
            colors=[INK], marker="circle", default_size=520, fill=False, stroke_width=2.5
        )
        self.front = self._stroke(colors=["#545c69"], stroke_width=1.5)
        limit_look: dict[str, Any] = {"colors": [LIMIT.colour], "line_style": LIMIT.dash}
        self.limit_lines = {
            name: self._stroke(**limit_look, stroke_width=2.0) for name in ("x", "y")
        }
        self._limit_names = self._labels("end")
        self._limit_names.y_offset = -9
        under = [
            *self.limit_lines.values(),
            self._limit_names,
            self.rejected,
            self.front,
            self.ring,
        ]
        self.figure.marks = [*under, *self.marks.values(), self.today, self._names]
        named = [*looks.items(), ("today", TODAY), (REJECTED, FAINT)]
        legend = ", ".join(f"{SHAPES[look.marker]} {name}" for name, look in named)
        self.title = f"{title}: {legend}, ◯ chosen, — front"
        signs = "&ensp;".join(
            f'<span style="color:var(--wb-{look.name})">{SHAPES[look.marker]}</span>&nbsp;{name.replace(" ", "&nbsp;")}'
            for name, look in named
        )
        self.legend = W.HTML(f"<div>{signs}&ensp;◯&nbsp;chosen&ensp;—&nbsp;front</div>")
        *above, words = self.children
        self.set_trait("children", (*above, self.legend, words))
        self._lay_out()

    def on_click(self, action: Callable[[object], None]) -> None:
        """What to do with the key of a candidate that is clicked."""
        self._clicked = action

    def click(self, group: str, index: int) -> None:
        """What a click on a candidate of a group, or of the rejected, does; on none of them, nothing."""
        keys = self.keys_of[group]
        if 0 <= index < len(keys):
            self._clicked(keys[index])

    def show_limits(self, most_x: float, least_y: float) -> None:
        """Move the lines of the limits: no more across than this, no less upwards than that."""
        limits = (float(self._shown_x(most_x)), float(self._shown_y(least_y)))
        self._shown = replace(self._shown, limits=limits)
        self._draw_limits()

    def _draw_limits(self) -> list[Box]:
        """Draw the limits; returns where their names stand, in pixels."""
        x, y = self._ticks["x"], self._ticks["y"]
        most, least = self._shown.limits or (np.nan, np.nan)
        inside = {"x": x.low <= most <= x.high, "y": y.low <= least <= y.high}
        ends = {"x": ([most, most], [y.low, y.high]), "y": ([x.low, x.high], [least, least])}
        for name, mark in self.limit_lines.items():
            with mark.hold_sync():
                mark.visible = inside[name]
                if inside[name]:
                    mark.x, mark.y = map(np.array, ends[name])
        with self._limit_names.hold_sync():
            limit_names = {"x": ("heaviest", most, y.low), "y": ("asked for", x.high, least)}
            shown_names = [limit_names[name] for name in limit_names if inside[name]]
            self._limit_names.text = texts([text for text, _, _ in shown_names])
            self._limit_names.x = np.array([across for _, across, _ in shown_names], dtype=float)
            self._limit_names.y = np.array([up for _, _, up in shown_names], dtype=float)
            self._limit_names.colors = [LIMIT.colour] * len(shown_names) or [INK]
        ends_px = self._pixels(
            [across for _, across, _ in shown_names], [up for _, _, up in shown_names]
        )
        widths = [0.56 * self.text_px * len(text) for text, _, _ in shown_names]
        return [
            Box(across - width, down - self.text_px, width)
            for width, across, down in zip(widths, *ends_px, strict=True)
        ]

    @figure_update()
    def update(
        self,
        survivors: Sequence[Dot],
        rejected: Sequence[Dot] = (),
        *,
        today: Dot | None = None,
        chosen: Dot | None = None,
        limits: tuple[float, float] | None = None,
        finding: str | None = None,
    ) -> None:
        """Show other candidates.

        Args:
            survivors: those that hold; those on the front are joined and named.
            rejected: those that do not; at most 400 are drawn, spread over all.
            today: the pack of today.
            chosen: the one to ring.
            limits: at most this far across, at least that far up.
            finding: what the chart shows, in words; None leaves the words as they are.

        Raises:
            KeyError: a survivor of a group that the chart has not.
        """
        unknown = {dot.group for dot in survivors} - set(self.marks)
        if unknown:
            raise KeyError(f"no group {min(unknown)} in this chart.")
        step = max(1, -(-len(rejected) // MOST_FAINT))
        held, faint = map(self._placed, survivors), map(self._placed, rejected[::step])
        now, ringed = (None if dot is None else self._placed(dot) for dot in (today, chosen))
        self._shown = _OnChart(tuple(held), tuple(faint), now, ringed, self._shown.limits)
        if limits is not None:
            self.show_limits(*limits)
        self._draw()
        self.say(finding)

    def _placed(self, dot: Dot) -> Dot:
        return replace(dot, x=float(self._shown_x(dot.x)), y=float(self._shown_y(dot.y)))

    def _draw(self) -> None:
        shown = self._shown
        placed = [*shown.survivors, *shown.singles] or list(shown.rejected)
        x_axis = self._axis_for([dot.x for dot in placed], 0, self.ticks_across)
        y_axis = self._axis_for([dot.y for dot in placed], 1, 5)
        seen = [
            dot
            for dot in shown.rejected
            if x_axis.low <= dot.x <= x_axis.high and y_axis.low <= dot.y <= y_axis.high
        ]
        with self.held():
            self._set_axes(x_axis, y_axis)
            for group, mark in self.marks.items():
                mine = [dot for dot in shown.survivors if dot.group == group]
                self.keys_of[group] = [dot.key for dot in mine]
                _place(mark, mine)
            _place(self.rejected, seen)
            self.keys_of[REJECTED] = [dot.key for dot in seen]
            _place(self.today, [shown.today] if shown.today else [])
            _place(self.ring, [shown.chosen] if shown.chosen else [])
            front = shown.front
            self.front.visible = len(front) > 1
            if self.front.visible:
                _place(self.front, front)
            named_front = [front[0], front[-1]] if self.few_names and len(front) > 2 else front
            front_names = {dot.name for dot in named_front}
            named_dots = [
                *named_front,
                *(dot for dot in shown.singles if dot.name not in front_names),
            ]
            every = [*shown.survivors, *shown.singles]
            marks = self._pixels([dot.x for dot in every], [dot.y for dot in every])
            names = [Name(dot.name, dot.x, dot.y, beside=True) for dot in named_dots]
            self._write(names, None, marks, 14.0, standing=self._draw_limits())

    def _axis_for(self, values: Sequence[float], axis_index: int, count: int) -> Ticks:
        """An axis for the candidates, and for the limit where it is not far from them."""
        axis = ticks_for([values], None, count)
        limit = (self._shown.limits or (np.nan, np.nan))[axis_index]
        near = axis.low - 0.5 * axis.span <= limit <= axis.high + 0.5 * axis.span
        return ticks_for([values, limit], None, count) if near else axis


_SURVIVOR = {"default_size": 140, "stroke": "white", "apply_clip": False}


def _place(mark: bq.Mark, dots: Sequence[Dot]) -> None:
    mark.x = np.array([dot.x for dot in dots], dtype=float)
    mark.y = np.array([dot.y for dot in dots], dtype=float)
