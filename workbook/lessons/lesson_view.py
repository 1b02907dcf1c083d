"""The frame that every lesson has: which design, one live figure, its working, exercises, what is kept."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from importlib import import_module
from typing import Any

import ipywidgets as W

from workbook.errors import InputError
from workbook.exercises.progress import Progress
from workbook.files.club_file import club_rules
from workbook.lessons.course import lesson_of
from workbook.lessons.exercise_view import ExerciseView
from workbook.lessons.learner import keep, learners_design, own_cells_notice
from workbook.numbers import plain
from workbook.widgets.frame import LiveView
from workbook.widgets.style import Panel


def open_lesson(slug: str) -> LessonView:
    """The live part of a lesson, ready to be shown in its notebook.

    Args:
        slug: of the lesson.

    Raises:
        KeyError: there is no such lesson.
    """
    name = "".join(part.capitalize() for part in lesson_of(slug).slug.split("_"))
    view: type[LessonView] = getattr(import_module(f"workbook.lessons.{slug}"), name)
    return view()


class LessonView(LiveView):
    """The live part of a lesson. A subclass fills in what a `LiveView` asks for, and where something carries on:

    - `carries`: those of its controls that are keys of the design file;
    - `keeps(result)`, where more carries on than they: keys of the design file to new values.

    When `build` is called, `self.design`, `self.club` (rules) and `self.opened` (the design's file) are there.
    What `compute` gives is what a setting exercise is checked on.

    Attributes:
        lesson: its line of the course.
        exercises: the exercises, to be shown in a cell of their own.
        keep: a button that carries the figures on, to be shown at the end of the lesson.
    """

    craft_type = "multirotor"
    carries: tuple[str, ...] = ()

    def __init__(self) -> None:
        super().__init__("lesson")
        self.lesson = lesson_of(type(self).__module__.rpartition(".")[2])
        self.opened = learners_design(self.craft_type)
        self.design: Any = plain(self.opened.file.design)
        known = club_rules()
        self.club, self.progress = known.rules, Progress()
        notices = " ".join(filter(None, (self.opened.notice, known.said, own_cells_notice())))
        self.opened_with = W.HTML(f'<div class="wb-finding">{escape(notices)}</div>')
        row = W.Layout(justify_content="space-between", max_width="1170px")
        self.arrange(W.HBox([self.opened_with, self.big], layout=row))
        self.exercises = self._exercises()
        self.keep = self._keep()
        self.beside = (*self.beside, self.exercises, self.keep)

    def keeps(self, result: Any) -> Mapping[str, Any]:
        """What carries on: keys of the design file to values; a cell by its name."""
        values = self.live.values()
        return {key: getattr(values[key], "name", values[key]) for key in self.carries}

    def _exercises(self) -> Panel:
        self.score = W.HTML()
        self.exercise_views = {
            e.id: ExerciseView(e, self.progress, self.live.current) for e in self.lesson.exercises
        }
        for view in self.exercise_views.values():
            view.check_button.on_click(lambda _: self._count())
        self._count()
        return Panel(*self.exercise_views.values(), self.score)

    def _count(self) -> None:
        summary = self.progress.summary(tuple(self.exercise_views))
        self.score.value = f'<div class="wb-title" role="status">{escape(summary)}</div>'

    def _keep(self) -> Panel:
        self.keep_button = W.Button(
            description="keep this for the next lesson",
            tooltip="write these figures into my own design file",
            layout=W.Layout(width="250px"),
        )
        self.kept = W.HTML()
        self.keep_button.on_click(lambda _: self.keep_now())
        return Panel(self.keep_button, self.kept)

    def keep_now(self) -> None:
        """Carry the figures on, or say why not."""
        result = self.live.current()
        if result is None:
            self._say_kept("The figure above shows no result that could be kept.", refused=True)
            return
        try:
            self._say_kept(keep(self.craft_type, **self.keeps(result)))
        except InputError as fault:
            self._say_kept(" ".join(fault.lines), refused=True)

    def _say_kept(self, text: str, *, refused: bool = False) -> None:
        style, sign = ("wb-refusal", "✕") if refused else ("wb-finding", "✓")
        self.kept.value = f'<div class="{style}" role="status">{sign} {escape(text)}</div>'
