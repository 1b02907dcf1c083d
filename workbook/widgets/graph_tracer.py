"""Curves taken from a picture of a graph: known points of the axes, clicks along each curve, points dragged or nudged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import ipywidgets as W
import numpy as np
import traitlets

from workbook.pictures.axes import ACROSS, UP, Axes, KnownPoint, fit_axes
from workbook.pictures.curves import (
    ACROSS_UNITS,
    NamedCurve,
    discharge_curve,
    points_text,
    unseen_text,
)
from workbook.pictures.opening import OpenedPicture
from workbook.pictures.trace import TracedCurve, can_follow, evened, follow
from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.parts import Reply, button, finding_html, wrapped
from workbook.widgets.picture_figure import PictureFigure, crosses, place
from workbook.widgets.style import ALTERNATIVE, CAUTION, FAINT, PACK, Panel

CURVE = "curve"
CLICK_TARGETS = {"the axis from left to right": ACROSS, "the voltage axis": UP, "the curve": CURVE}
"""What a click sets a point of, in the order of the work."""
REACH_PX = 9.0
"""Arms of a cross that marks a place."""
NEXT_POINT = "the next one"


@dataclass
class _ClickedCurve:
    """A curve as it was clicked."""

    current_a: float
    temperature_c: float
    clicks: list[tuple[float, float]] = field(default_factory=list)


class GraphTracer(Panel):
    """A picture of a discharge graph, and its curves as a table of points.

    `value` is the text of the points, empty until axes and a curve are there. Everything that a click
    does can be done with keys: the cursor is moved by two sliders or typed, and a button sets the
    point there; a point that is chosen moves with it.

    Example:
        >>> tracer = GraphTracer()
        >>> tracer.show(OpenedPicture("a", np.full((200, 300, 3), 255, np.uint8)))
        >>> "for the axis from left to right: type a value" in tracer.message.value
        True
    """

    value = traitlets.Unicode("")

    def __init__(self) -> None:
        self._pixels = np.zeros((1, 1, 3), np.uint8)
        self.known: list[KnownPoint] = []
        self.curves: list[_ClickedCurve] = [_ClickedCurve(1.0, 25.0)]
        self.picture = PictureFigure()
        self._others = self.picture.lines(FAINT)
        self._line = self.picture.lines(PACK)
        self._known = self.picture.scatter(CAUTION, self._drag_known)
        self._clicks = self.picture.scatter(PACK, self._drag_click)
        self._fixed = self.picture.lines(CAUTION)
        self._cursor = self.picture.lines(ALTERNATIVE)
        self.picture.on_click(self.click)
        self._build_controls()
        self.reply, self.message = Reply(), W.HTML()
        by_keys = W.HTML("<b>By keys: the place at hand</b>")
        buttons = W.HBox([self.set_button, self.drop_button])
        column = W.VBox(
            [*self._curve_controls, self.new_button, by_keys, *self._point_controls, buttons],
            layout=W.Layout(width="400px", max_width="100%", flex="0 0 auto"),
        )
        right = W.VBox(
            [self.picture, self.reply, self.message],
            layout=W.Layout(max_width="min(780px, 100%)"),
        )
        super().__init__(wrapped(column, right, align_items="flex-start"), name="tracer")

    def _build_controls(self) -> None:
        self.target = ChoiceControl("a click is a point of", CLICK_TARGETS, ACROSS)
        self.printed = NumberControl(
            "its printed value", "", 0.0, 0.0, 6000.0, 1.0, least=-1e5, most=1e6
        )
        self.unit = ChoiceControl("the axis across shows", ACROSS_UNITS, "mAh")
        self.capacity = NumberControl(
            "100 % stands for", "Ah", 5.0, 0.5, 10.0, 0.05, least=0.05, most=100.0
        )
        self.curve = ChoiceControl("curve", ["1"], "1")
        self.current = NumberControl(
            "its current", "A", 1.0, 0.1, 60.0, 0.1, least=0.001, most=1000.0
        )
        self.temperature = NumberControl("taken at", "°C", 25.0, -40.0, 60.0, 1.0)
        self.new_button = button("another curve", self.new_curve, width_px=150)
        self.point = ChoiceControl("point", [NEXT_POINT], NEXT_POINT)
        self.x = NumberControl("from the left", "px", 0.0, 0.0, 2400.0, 1.0)
        self.y = NumberControl("from the top", "px", 0.0, 0.0, 2400.0, 1.0)
        self.set_button = button(
            "set the point here", lambda: self.click(self.x.value, self.y.value), width_px=150
        )
        self.drop_button = button("take it away", self.drop, width_px=120)
        self._curve_controls: dict[Any, Callable[[], None]] = {
            self.target: self._list_points,
            self.printed: self._printed_value_changed,
            self.unit: self.update,
            self.capacity: self.update,
            self.curve: self._choose_curve,
            self.current: self._curve_figures_changed,
            self.temperature: self._curve_figures_changed,
        }
        self._point_controls: dict[Any, Callable[[], None]] = {
            self.point: self._choose_point,
            self.x: self._place_moved,
            self.y: self._place_moved,
        }
        for control, act in (self._curve_controls | self._point_controls).items():
            control.size(150, 306, 72)
            control.observe(lambda _, act=act: act(), names="value")

    # what a person does --------------------------------------------------------------------------

    def show(self, picture: OpenedPicture) -> None:
        """Begin with another picture."""
        self._pixels = evened(picture.pixels)
        self.picture.show(picture)
        wide, high = self.picture.size
        with self.quiet():
            for control, most in ((self.x, wide - 1), (self.y, high - 1)):
                control.slider.max = control.most = float(most)
                control.value = float(most // 2)
        self.known, self.curves = [], [_ClickedCurve(self.current.value, self.temperature.value)]
        self.target.value, self.value = ACROSS, ""
        self._list_curves(0)

    @property
    def _chosen_curve(self) -> _ClickedCurve:
        return self.curves[int(self.curve.value) - 1]

    def click(self, x_px: float, y_px: float) -> None:
        """Set a point of the chosen kind; nothing where there is one of that kind already."""
        if (x_px, y_px) in [self._position(n) for n in self._point_indices()]:
            return
        if self.target.value == CURVE:
            self._chosen_curve.clicks.append((x_px, y_px))
        else:
            self.known.append(KnownPoint(x_px, y_px, self.target.value, self.printed.value))
            self._advance_target()
        self._move_cursor(x_px, y_px)
        self._list_points()

    def _advance_target(self) -> None:
        """After the second point of an axis comes the next axis, and then the curve."""
        order = list(CLICK_TARGETS.values())
        if len({p.value for p in self.known if p.axis == self.target.value}) == 2:
            self.target.value = order[order.index(self.target.value) + 1]

    def new_curve(self) -> None:
        """Begin another curve; its current is typed next."""
        self.curves.append(_ClickedCurve(self.current.value, self.temperature.value))
        self.target.value = CURVE
        self._list_curves(len(self.curves) - 1)

    def drop(self) -> None:
        """Take the chosen point away; the last one where none is chosen."""
        indices, chosen = self._point_indices(), self._chosen_point
        if indices:
            points = self._chosen_curve.clicks if self.target.value == CURVE else self.known
            del points[indices[-1] if chosen is None else chosen]
        self._list_points()

    # how it is carried out -----------------------------------------------------------------------

    def _point_indices(self) -> list[int]:
        """Places of the points of the kind that is chosen, in their list."""
        if self.target.value == CURVE:
            return list(range(len(self._chosen_curve.clicks)))
        return [n for n, p in enumerate(self.known) if p.axis == self.target.value]

    @property
    def _chosen_point(self) -> int | None:
        """Index of the chosen point in its list; None where the next one is to be set."""
        if self.point.value == NEXT_POINT:
            return None
        return self._point_indices()[int(self.point.value) - 1]

    def _position(self, n: int) -> tuple[float, float]:
        """Where a point of the chosen kind is, in pixels of the picture."""
        if self.target.value == CURVE:
            return self._chosen_curve.clicks[n]
        return self.known[n].x_px, self.known[n].y_px

    def _list_curves(self, chosen: int) -> None:
        with self.quiet():
            self.curve.options = [
                (f"{n + 1}: {c.current_a:g} A", str(n + 1)) for n, c in enumerate(self.curves)
            ]
            self.curve.value = str(chosen + 1)
        self._choose_curve()

    def _choose_curve(self) -> None:
        if self.busy:
            return
        curve = self._chosen_curve
        with self.quiet():
            self.current.value, self.temperature.value = curve.current_a, curve.temperature_c
        self._list_points()

    def _list_points(self) -> None:
        with self.quiet():
            numbers = range(1, len(self._point_indices()) + 1)
            self.point.options = [NEXT_POINT, *map(str, numbers)]
            self.point.value = NEXT_POINT
        self.update()

    def _choose_point(self) -> None:
        n = self._chosen_point
        if self.busy or n is None:
            return
        if self.target.value != CURVE:
            with self.quiet():
                self.printed.value = self.known[n].value
        self._move_cursor(*self._position(n))

    def _move_cursor(self, x_px: float, y_px: float) -> None:
        with self.quiet():
            self.x.value, self.y.value = round(x_px, 1), round(y_px, 1)
        place(self._cursor, crosses([(x_px, y_px)], REACH_PX))

    def _place_moved(self) -> None:
        if self.busy:
            return
        position = (self.x.value, self.y.value)
        place(self._cursor, crosses([position], REACH_PX))
        n = self._chosen_point
        if n is not None:
            (self._drag_click if self.target.value == CURVE else self._drag_known)(n, *position)

    def _drag_known(self, n: int, x_px: float, y_px: float) -> None:
        self.known[n] = replace(self.known[n], x_px=x_px, y_px=y_px)
        self.update()

    def _drag_click(self, n: int, x_px: float, y_px: float) -> None:
        self._chosen_curve.clicks[n] = (x_px, y_px)
        self.update()

    def _printed_value_changed(self) -> None:
        """Another printed value for the known point that is chosen."""
        n = self._chosen_point
        if self.busy or n is None or self.target.value == CURVE:
            return
        self.known[n] = replace(self.known[n], value=self.printed.value)
        self.update()

    def _curve_figures_changed(self) -> None:
        if not self.busy:
            curve = self._chosen_curve
            curve.current_a, curve.temperature_c = self.current.value, self.temperature.value
            self._list_curves(int(self.curve.value) - 1)

    def update(self) -> None:
        """Follow the curves again and show the next step; the last valid points stay."""
        names = [f"{p.value:g}{' V' if p.axis == UP else ''}" for p in self.known]
        place(self._known, [(p.x_px, p.y_px) for p in self.known], names)
        place(self._clicks, self._chosen_curve.clicks)
        of_curve = self.target.value == CURVE  # a hidden mark lets clicks through
        self._known.visible, self._clicks.visible = not of_curve, of_curve
        positions = (
            [(p.x_px, p.y_px) for p in self.known] if of_curve else self._chosen_curve.clicks
        )
        place(self._fixed, crosses(positions, REACH_PX / 2))
        with self.reply.trying():
            traced = [self._traced(curve) for curve in self.curves if len(curve.clicks) > 1]
            self._draw(traced)
            if next_step := self._next_step():
                self._show_message(next_step)
                return
            axes = fit_axes(self.known)
            points = [
                discharge_curve(c, axes, self.unit.value, self.capacity.value) for c in traced
            ]
            self._show_result(axes, traced)
            self.value = points_text(points)

    def _next_step(self) -> str:
        """What comes next, in words; empty once there are axes and a curve."""
        for name, axis in list(CLICK_TARGETS.items())[:2]:
            count = sum(p.axis == axis for p in self.known)
            if count < 2:
                return (
                    f"Next, for {name}: type a value that is printed on it, and click on the picture where it "
                    f"stands ({count} of 2 are set)."
                )
        if all(len(curve.clicks) < 2 for curve in self.curves):
            return (
                "Next: type the curve's current, and click on the curve at its start, at its end and where it "
                "bends."
            )
        return ""

    def _traced(self, curve: _ClickedCurve) -> NamedCurve:
        if can_follow():
            traced = follow(self._pixels, curve.clicks)
        else:
            traced = TracedCurve(np.array(sorted(curve.clicks)), 1.0)
        return NamedCurve(traced, curve.current_a, curve.temperature_c)

    def _draw(self, traced: Sequence[NamedCurve]) -> None:
        with_clicks = [curve for curve in self.curves if len(curve.clicks) > 1]
        chosen, others = [], []
        for curve, named in zip(with_clicks, traced, strict=True):
            thin = [(float(x), float(y)) for x, y in named.traced.pixels[::3]]
            if curve is self._chosen_curve:
                chosen = thin
            else:
                others += [*thin, (float("nan"), float("nan"))]
        place(self._line, chosen)
        place(self._others, others)

    def _show_result(self, axes: Axes, traced: Sequence[NamedCurve]) -> None:
        sentences = [unseen_text(curve) for curve in traced]
        if axes.off_px > 2.0:
            sentences.append(
                f"The known points disagree by {axes.off_px:.1f} pixels: look at each again."
            )
        lines = [line for line in sentences if line] or [
            f"✓ {len(traced)} curves are read. Drag a point to mend one."
        ]
        self._show_message(" ".join(lines))

    def _show_message(self, text: str) -> None:
        self.message.value = finding_html(text)
