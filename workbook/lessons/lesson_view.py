"""The frame that every lesson has: which design, one live figure, its working, exercises, what is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from html import escape
from importlib import import_module
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook.errors import InputError
from workbook.exercises.answers import send_to_board
from workbook.exercises.exercise import (
    Checked,
    ChoiceExercise,
    Exercise,
    NumberExercise,
    SettingExercise,
)
from workbook.exercises.progress import Progress
from workbook.files.club_file import club_rules
from workbook.lessons.course import lesson_of
from workbook.lessons.learner import (
    LearnersDesign,
    SeenDesign,
    demo_design,
    keep,
    learners_design,
    own_cells_notice,
    use_club_units,
)
from workbook.numbers import plain
from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.frame import LiveView
from workbook.widgets.live import running_loop
from workbook.widgets.parts import Reply, button, finding_html, heading, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.verdict import KeyFigures, WorkingPanel
from workbook.working import Step

TRIES_BEFORE_WORKING = 2
"""The working can be asked for after a right answer or this many tries."""

EXERCISE_PX = 195
"""Height of an exercise, about; kept free until it comes."""

FIGURE_ID = "figure"
"""To where an exercise on the live figure leads."""

SIGNS = {
    "unanswered": ("…", "wb-close"),
    "right": ("✓", "wb-holds"),
    "slip": ("△", "wb-close"),
    "wrong": ("✕", "wb-broken"),
}


class FigureState(Panel):
    """The state of the live figure in words, beside a task: its controls and its key figures."""

    def __init__(self) -> None:
        self.html = W.HTML()
        super().__init__(self.html, name="figure-state")

    def update(self, inputs: Mapping[str, Any], figures: str) -> None:
        """Show another state.

        Args:
            inputs: the figure's controls.
            figures: its key figures, as HTML.
        """
        summaries = (
            c.summary for c in inputs.values() if isinstance(c, NumberControl | ChoiceControl)
        )
        now = " · ".join(summaries)
        self.html.value = f"<b>The figure now</b><div>{escape(now)}</div>{figures}"


class ExerciseView(Panel):
    """An exercise of any kind; the check itself is the exercise's.

    Args:
        exercise: what to ask.
        progress: of this learner.
        result: gives what the live figure shows; needed for a setting exercise.
        state: the figure's state, shown beside the task of a setting exercise.
        place: which of a lesson's exercises it is, such as "2 of 7".

    Attributes:
        box: where a number is typed, decimal comma or point, with or without the unit.
        choice: where one of several answers is chosen.
        outcome: of the last check.
        checked: called after each check, however it was asked for.

    Raises:
        ValueError: a setting exercise without a live figure.

    Example:
        >>> import tempfile
        >>> exercise = NumberExercise("sum", "2 + 2?", answer=lambda d: 4)
        >>> view = ExerciseView(exercise, Progress(tempfile.mkdtemp()))
        >>> view.box.value = "4,0"
        >>> view.check().state
        'right'
    """

    def __init__(
        self,
        exercise: Exercise,
        progress: Progress,
        result: Callable[[], Any] | None = None,
        *,
        state: W.Widget | None = None,
        place: str = "",
    ) -> None:
        self.exercise, self.progress = exercise, progress
        self.outcome: Checked | None = None
        self.tries = self._hints_shown = 0
        self._awaited, self._checked = False, ""
        self.checked: Callable[[], None] = lambda: None
        question, answer = self._ask(exercise, result)
        self.check_button = button("check", self.press, "check my answer")
        self.hint_button = button(self._hint_label(), self.hint)
        for one in (self.check_button, self.hint_button):
            one.layout.width, one.layout.min_width = "max-content", "120px"
        self.hint_button.layout.display = "" if exercise.hints else "none"
        self.hints, self.result, self.notices = W.HTML(), W.HTML(), W.HTML()
        self.working = WorkingPanel()
        self.working.layout.display = "none"
        done = " ✓ done before" if progress.mark(exercise.id).right else ""
        title = heading(f"Exercise {place}".strip() + done).value
        asked = W.HTML(title + finding_html(question, announced=False))
        if state is not None:
            asked.layout.flex = state.layout.flex = "1 1 300px"
        super().__init__(
            asked if state is None else wrapped(asked, state),
            answer,
            W.HBox([self.check_button, self.hint_button]),
            self.result,
            self.hints,
            self.working,
            self.notices,
            name="exercise",
        )
        self._show_notices()

    def _ask(self, exercise: Exercise, result: Callable[[], Any] | None) -> tuple[str, W.Widget]:
        """The question and where it is answered."""
        self._steps: tuple[Step, ...] = ()
        self._check: Callable[[], Checked]
        match exercise:
            case NumberExercise():
                drawn = exercise.drawn(self.progress.seed)
                self._steps = drawn.working
                self.box = W.Text(
                    placeholder="number",
                    description="answer",
                    continuous_update=False,
                    tooltip=f"answer in {exercise.unit}" if exercise.unit else "answer",
                    layout=W.Layout(width="230px"),
                )
                self.box.on_msg(self._entered)
                self.box.observe(self._arrived, names="value")
                self._check = lambda: exercise.check(self.progress.seed, self.box.value, self.tries)
                row = W.HBox([self.box, W.Label(exercise.unit)])
                return drawn.text, row
            case ChoiceExercise():
                self.choice = W.RadioButtons(
                    options=list(exercise.options),
                    value=None,
                    layout=W.Layout(width="auto", max_width="720px"),
                )
                self._check = lambda: exercise.check(self.choice.value)
                return exercise.question, self.choice
            case SettingExercise():
                if result is None:
                    raise ValueError(
                        f"exercise {exercise.id} needs the live figure whose controls are set."
                    )
                self._check = lambda: exercise.check(result())
                return exercise.task, W.HTML(
                    f'Set the controls of <a href="#{FIGURE_ID}">the figure</a>, then check.'
                )

    def _entered(self, _: W.Widget, content: dict[str, Any], __: object) -> None:
        """Enter in the box checks."""
        if content.get("event") == "submit":
            self.press()

    def _arrived(self, _: Any) -> None:
        """What was typed before the press is here."""
        if self._awaited:
            self.check()

    def press(self) -> None:
        """Check, but not the answer of the last check once more: a busy page reports a press, or Enter, before what was
        typed just before it, which is waited for."""
        awaited = isinstance(self.exercise, NumberExercise) and self.box.value == self._checked
        if not awaited or not self.box.value:
            self.check()
        self._awaited = awaited

    def check(self) -> Checked:
        """Check the answer and show the outcome."""
        outcome = self.outcome = self._check()
        if isinstance(self.exercise, NumberExercise):
            self._awaited, self._checked = False, self.box.value
        sign, style = SIGNS[outcome.state]
        self.result.value = (
            f'<div class="wb-verdict {style}" role="status"><span class="wb-word">{sign}</span>'
            f"{escape(outcome.message)}</div>"
        )
        if outcome.state != "unanswered":
            self.tries += 1
            self.progress.record(self.exercise.id, outcome)
            send_to_board(self.exercise.id, outcome)
            self._show_notices()
        if self._steps and (outcome.right or self.tries >= TRIES_BEFORE_WORKING):
            self.working.update(lambda: self._steps)
            self.working.layout.display = ""
        self.checked()
        return outcome

    def hint(self) -> None:
        """Show one more hint."""
        if self._hints_shown == len(self.exercise.hints):
            return
        self._hints_shown += 1
        items = "".join(f"<li>{escape(h)}</li>" for h in self.exercise.hints[: self._hints_shown])
        self.hints.value = f"<b>Hints</b><ol>{items}</ol>"
        self.hint_button.description = self._hint_label()
        self.hint_button.disabled = self._hints_shown == len(self.exercise.hints)
        self.progress.record_hint(self.exercise.id)
        self._show_notices()

    def _hint_label(self) -> str:
        total = len(self.exercise.hints)
        if self._hints_shown == total:
            return "no more hints"
        return f"hint {self._hints_shown + 1} of {total}"

    def _show_notices(self) -> None:
        text = " ".join(str(n) for n in self.progress.notices)
        self.notices.value = f'<div class="wb-refusal">{escape(text)}</div>' if text else ""


PAGES = ("sizing_bench", "my_craft", "club_designs", "arriving_cells", "from_pictures")
"""Live pages that are no lesson."""
_opened: dict[str, Any] = {}
"""Pages that are open in this kernel, by name."""
_waiting: dict[str, Any] = {}
"""Those of them that a part was shown of, and which have not been opened themselves yet."""


def open_page(name: str, *given: Path | str) -> Any:
    """The live part of a page, ready to be shown in its notebook: a new one at every call.

    Where a part of it was shown first, it is the page of that part.

    Args:
        name: of its notebook, without the number of a lesson.
        given: the file that "sizing_bench" or "my_craft" begins with, the folder of "club_designs"; what the
            workbook ships where left out.

    Raises:
        KeyError: there is no such page.
        InputError: what is given cannot be used.
    """
    page = name if name in PAGES else lesson_of(name).slug
    use_club_units()
    view = getattr(import_module(f"workbook.lessons.{page}"), page.title().replace("_", ""))
    _opened[page] = _waiting.pop(page) if page in _waiting else view(*given)
    return _opened[page]


def open_lesson(slug: str) -> LessonView:
    """The live part of a lesson, as `open_page` opens it.

    Args:
        slug: of the lesson.

    Raises:
        KeyError: there is no such lesson.
    """
    lesson: LessonView = open_page(lesson_of(slug).slug)
    return lesson


def page_part(name: str, part: str) -> Any:
    """What a page shows in a cell of its own; the page is opened where it is not open yet.

    Args:
        name: of its notebook, without the number of a lesson.
        part: an attribute of it, such as "exercises" or "keep".

    Raises:
        KeyError: there is no such page.
    """
    if name not in _opened:
        _waiting[name] = open_page(name)
    return getattr(_opened[name], part)


class LessonView(LiveView):
    """The live part of a lesson. A subclass fills in what a `LiveView` asks for, and where something is kept:

    - `kept_inputs`: those of its controls that are keys of the design file;
    - `kept_figures(result)`, where more is kept than they: keys of the design file to new values.

    When `build` is called, `self.design`, `self.club` (rules) and `self.opened` (the design's file) are there.
    What `compute` gives is what a setting exercise is checked on.

    Attributes:
        lesson: its line of the course.
        exercises: the exercises, to be shown in a cell of their own; the figure is sent before them.
        keep: a button that carries the figures on, to be shown at the end of the lesson.
    """

    craft_type = "multirotor"
    kept_inputs: tuple[str, ...] = ()

    def __init__(self) -> None:
        super().__init__("lesson")
        self.figure_state = FigureState()
        self.lesson = lesson_of(type(self).__module__.rpartition(".")[2])
        self.progress = Progress()
        self._open(learners_design(self.craft_type))
        self.exercises = self._exercise_panel()
        self.keep = self._keep_panel()
        self.detached_parts = (*self.detached_parts, self.exercises, self.keep)
        loop = running_loop()
        if loop is None:
            self._show_exercises()
        else:
            self._following = loop.create_task(self._exercises_follow())

    def _open(self, opened: LearnersDesign) -> None:
        """Open with a design; with the demo where the learner's own cannot be shown here."""
        self.opened = opened
        self.seen = SeenDesign(opened.file.part)
        self.design: Any = plain(opened.file.design)
        known = club_rules()
        self.club = known.rules
        notices = " ".join(filter(None, (opened.notice, known.problem, own_cells_notice())))
        self.opened_with = W.HTML(
            f'<div id="{FIGURE_ID}">{finding_html(notices, announced=False)}</div>'
        )
        row = W.Layout(justify_content="space-between", width="100%")
        try:
            self.arrange(W.HBox([self.opened_with, self.big], layout=row))
        except InputError as fault:
            if not opened.own:
                raise
            why = f"Your own cannot be shown in this lesson: {fault.lines[0]}"
            self._open(demo_design(self.craft_type, why, stands_in=True))

    def _show(self, result: Any) -> None:
        super()._show(result)
        key = next((part for part in vars(self).values() if isinstance(part, KeyFigures)), None)
        self.figure_state.update(self.inputs, key.html.value if key is not None else "")

    def kept_figures(self, result: Any) -> Mapping[str, Any]:
        """What is kept for the next lesson: keys of the design file to values; a cell by its name."""
        values = self.live.values()
        return {key: getattr(values[key], "name", values[key]) for key in self.kept_inputs}

    def _exercise_panel(self) -> Panel:
        self.score = W.HTML()
        self._update_score()
        least = f"{EXERCISE_PX * len(self.lesson.exercises)}px"
        return Panel(self.together, self.score, name="exercises", min_height=least)

    async def _exercises_follow(self) -> None:
        await self.together.shown()
        self._show_exercises()

    def _show_exercises(self) -> None:
        views = self.exercise_views.values()
        self.exercises.children = (*views, *self.exercises.children)
        self.exercises.layout.min_height = None

    @cached_property
    def exercise_views(self) -> dict[str, ExerciseView]:
        """The exercises by their id."""
        views = {
            e.id: ExerciseView(
                e,
                self.progress,
                self.live.current,
                state=self.figure_state if isinstance(e, SettingExercise) else None,
                place=f"{number} of {len(self.lesson.exercises)}",
            )
            for number, e in enumerate(self.lesson.exercises, 1)
        }
        for view in views.values():
            view.checked = self._update_score
        return views

    def _update_score(self) -> None:
        summary = self.progress.summary(self.lesson.exercise_ids)
        self.score.value = f'<div class="wb-title" role="status">{escape(summary)}</div>'

    def _keep_panel(self) -> Panel:
        tip = "write these figures into my own design file"
        self.keep_button = button("keep this for the next lesson", self.keep_now, tip, 250)
        self.kept = Reply()
        return Panel(self.keep_button, self.kept)

    def keep_now(self) -> None:
        """Carry the figures on, or say why not."""
        result = self.live.current()
        with self.kept.trying():
            if self.opened.stands_in:
                raise InputError("The demo is shown; your own design stays as it is.")
            if result is None:
                raise InputError("The figure above shows no result that could be kept.")
            self.kept.done(
                f"✓ {keep(self.craft_type, seen=self.seen, **self.kept_figures(result))}"
            )
