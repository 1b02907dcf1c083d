"""The frame that every lesson has: which design, one live figure, its working, exercises, what is kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

import ipywidgets as W

from workbook.errors import InputError
from workbook.exercises.progress import Progress
from workbook.lessons.carry import Carried, carried, carry, club, own_cells_said
from workbook.lessons.course import Lesson, lesson_of
from workbook.widgets.controls import NumberControl
from workbook.widgets.exercise import exercise_view
from workbook.widgets.live import Live
from workbook.widgets.style import set_big, style_sheet
from workbook.widgets.table import Table
from workbook.widgets.verdict import WorkingPanel
from workbook.working import Step

PANEL_PX, FIGURE_PX = 400, 770
"""Widths of the controls and of the figure beside them: together they fit a laptop of 1366 pixels."""


class LessonView(W.VBox):
    """The live part of a lesson. A subclass sets `slug` and fills in four methods.

    - `build()` makes controls and charts, puts the controls into `self.inputs` (argument name to control) and
      returns the body, `self.side_by_side([controls...], [charts...])`. `self.design`, `self.club`
      (rules) and `self.carried` are there by then.
    - `compute(**values)` calls the computation and returns its result; what a setting exercise is checked on.
    - `render(result)` puts the result into the charts and the text.
    - `working(result)` gives the `Step`s of the working.
    - `keeps(result)`, where something carries on: keys of the design file to new values.

    Attributes:
        live: the `Live` that ties them together.
        exercises: the exercises, to be shown in a cell of their own.
        keep: a button that carries the figures on, to be shown at the end of the lesson.
        result: what is shown now.
    """

    slug = ""
    kind = "multirotor"
    slow = False
    """Whether `compute` takes longer than a fifth of a second; it then runs beside the page (`Live`)."""

    def __init__(self) -> None:
        self.lesson: Lesson = lesson_of(self.slug)
        self.carried: Carried = carried(self.kind)
        self.design = self.carried.file.design
        known = club()
        self.club, self.progress = known.rules, Progress()
        self.inputs: dict[str, Any] = {}
        self.result: Any = None
        self.big = W.ToggleButton(description="large text", tooltip="for a projector")
        self.big.observe(lambda change: self.set_big(change["new"]), names="value")
        body = self.build()
        self.working_panel = WorkingPanel()
        self.live = Live(self.inputs, self.compute, self._show, slow=self.slow)
        said = " ".join(filter(None, (self.carried.said, known.said, own_cells_said())))
        self.opened_with = W.HTML(f'<div class="wb-finding">{escape(said)}</div>')
        head = W.HBox(
            [self.opened_with, self.big],
            layout=W.Layout(justify_content="space-between", max_width="1170px"),
        )
        super().__init__([style_sheet(), head, self.live.status, body, self.working_panel])
        self.add_class("wb")
        self.add_class("wb-lesson")
        self.exercises = self._exercises()
        self.keep = self._keep()

    # what a lesson fills in ----------------------------------------------------------------------

    def build(self) -> W.Widget:
        """Make controls and charts; return the body."""
        raise NotImplementedError

    def compute(self, **values: Any) -> Any:
        """Call the computation."""
        raise NotImplementedError

    def render(self, result: Any) -> None:
        """Show a result."""
        raise NotImplementedError

    def working(self, result: Any) -> Iterable[Step]:
        """How the result came about."""
        raise NotImplementedError

    def keeps(self, result: Any) -> Mapping[str, Any]:
        """What carries on: keys of the design file to values; nothing where nothing does."""
        return {}

    # what a lesson uses --------------------------------------------------------------------------

    def side_by_side(self, left: Iterable[W.Widget], right: Iterable[W.Widget]) -> W.HBox:
        """Controls and key figures at the left, charts at the right; at projector size on top of them."""
        self._left_parts, self._right_parts = tuple(left), tuple(right)
        self._left, self._right = W.VBox(self._left_parts), W.VBox(self._right_parts)
        self._body = W.HBox([self._left, self._right])
        self._lay_out(False)
        return self._body

    # the frame -----------------------------------------------------------------------------------

    def _lay_out(self, big: bool) -> None:
        """Sizes of what `side_by_side` holds."""
        label, row, box = ("225px", 400, "104px") if big else ("130px", 290, "72px")
        for control in self._left_parts:
            if isinstance(control, NumberControl):
                control.slider.style.description_width = label
                control.slider.layout.width = f"{row}px"
                control.box.layout.width = box
            elif isinstance(control, W.Dropdown):
                control.style.description_width = "110px" if big else label
                control.layout.width = f"{row + (104 if big else 72) + 14}px"
        tables = tuple(part for part in self._left_parts if isinstance(part, Table))
        beside = tuple(part for part in self._left_parts if part not in tables)
        self._left.children = beside if big else self._left_parts
        self._right.children = (*self._right_parts, *tables) if big else self._right_parts
        self.big.layout.width = "160px" if big else "110px"
        self._body.layout.flex_flow = "column" if big else "row wrap"
        self._body.layout.align_items = "flex-start"
        for column, width in ((self._left, PANEL_PX), (self._right, FIGURE_PX)):
            column.layout.width = f"{PANEL_PX + FIGURE_PX if big else width}px"
            column.layout.flex = "0 0 auto"
        self._left.layout.flex_flow = "row wrap" if big else "column"
        self._left.layout.grid_gap = "0 24px" if big else ""

    def _show(self, result: Any) -> None:
        self.result = result
        self.render(result)
        self.working_panel.update(self.working(result))

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size, for the whole lesson."""
        set_big(self, big)
        self._lay_out(big)
        for box in (self.exercises, self.keep):
            set_big(box, big)
        todo: list[W.Widget] = list(self.children)
        while todo:
            part = todo.pop()
            resize = getattr(part, "set_big", None)
            if resize is not None:
                resize(big)
            todo += getattr(part, "children", ())

    def _exercises(self) -> W.VBox:
        ids = self.lesson.exercise_ids
        self.score = W.HTML()
        self.exercise_views = {
            e.id: exercise_view(e, self.progress, self.live.current) for e in self.lesson.exercises
        }

        def count(_: object = None) -> None:
            said = self.progress.summary(ids)
            self.score.value = f'<div class="wb-title" role="status">{escape(said)}</div>'

        for view in self.exercise_views.values():
            view.check_button.on_click(count)
        count()
        box = W.VBox([style_sheet(), *self.exercise_views.values(), self.score])
        box.add_class("wb")
        return box

    def _keep(self) -> W.VBox:
        self.keep_button = W.Button(
            description="keep this for the next lesson",
            tooltip="write these figures into my own design file",
            layout=W.Layout(width="250px"),
        )
        self.kept = W.HTML()
        self.keep_button.on_click(lambda _: self.keep_now())
        box = W.VBox([style_sheet(), self.keep_button, self.kept])
        box.add_class("wb")
        return box

    def keep_now(self) -> None:
        """Carry the figures on, or say why not."""
        result = self.live.current()
        if result is None:
            self._say_kept("The figure above shows no result that could be kept.", refused=True)
            return
        try:
            self._say_kept(carry(self.kind, **self.keeps(result)))
        except InputError as fault:
            self._say_kept(" ".join(str(problem) for problem in fault.problems), refused=True)

    def _say_kept(self, text: str, *, refused: bool = False) -> None:
        style, sign = ("wb-refusal", "✕") if refused else ("wb-finding", "✓")
        self.kept.value = f'<div class="{style}" role="status">{sign} {escape(text)}</div>'
