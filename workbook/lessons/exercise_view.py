"""An exercise on the page: question, answer, check, hints one by one, and the working afterwards."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as W

from workbook.exercises.exercise import (
    Checked,
    ChoiceExercise,
    Exercise,
    NumberExercise,
    SettingExercise,
)
from workbook.exercises.progress import Progress
from workbook.widgets.style import Panel
from workbook.widgets.verdict import WorkingPanel
from workbook.working import Step

TRIES_BEFORE_WORKING = 2
"""The working can be asked for after a right answer or this many tries."""

SIGNS = {
    "unanswered": ("…", "wb-close"),
    "right": ("✓", "wb-holds"),
    "slip": ("△", "wb-close"),
    "wrong": ("✕", "wb-broken"),
}


class ExerciseView(Panel):
    """An exercise of any kind; the check itself is the exercise's.

    Args:
        exercise: what to ask.
        progress: of this learner.
        result: gives what the live figure shows; needed for a setting exercise.

    Attributes:
        box: where a number is typed, decimal comma or point, with or without the unit.
        choice: where one of several answers is chosen.
        outcome: of the last check.

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
        self, exercise: Exercise, progress: Progress, result: Callable[[], Any] | None = None
    ) -> None:
        self.exercise, self.progress = exercise, progress
        self.outcome: Checked | None = None
        self.tries = self._hints_shown = 0
        question, answer = self._ask(exercise, result)
        fit = {"width": "max-content", "min_width": "120px"}
        self.check_button = W.Button(
            description="check", tooltip="check my answer", layout=W.Layout(**fit)
        )
        self.hint_button = W.Button(
            description=self._hint_label(),
            layout=W.Layout(**fit, display="" if exercise.hints else "none"),
            disabled=not exercise.hints,
        )
        self.check_button.on_click(lambda _: self.check())
        self.hint_button.on_click(lambda _: self.hint())
        self.hints, self.result, self.notices = W.HTML(), W.HTML(), W.HTML()
        self.working = WorkingPanel()
        self.working.layout.display = "none"
        done = " ✓ done before" if progress.mark(exercise.id).right else ""
        title = f'<div class="wb-title">Exercise{done}</div>'
        super().__init__(
            W.HTML(f'{title}<div class="wb-finding">{escape(question)}</div>'),
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
                self._steps = exercise.drawn(self.progress.seed).working
                self.box = W.Text(
                    placeholder="number",
                    description="answer",
                    tooltip=f"answer in {exercise.unit}" if exercise.unit else "answer",
                    layout=W.Layout(width="230px"),
                )
                self._check = lambda: exercise.check(self.progress.seed, self.box.value)
                row = W.HBox([self.box, W.Label(exercise.unit)])
                return exercise.text(self.progress.seed), row
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
                return exercise.task, W.HTML("Set the controls, then check.")

    def check(self) -> Checked:
        """Check the answer as it stands and say what was found."""
        outcome = self.outcome = self._check()
        sign, style = SIGNS[outcome.state]
        self.result.value = (
            f'<div class="wb-verdict {style}" role="status"><span class="wb-word">{sign}</span>'
            f"{escape(outcome.message)}</div>"
        )
        if outcome.state != "unanswered":
            self.tries += 1
            self.progress.record(self.exercise.id, outcome)
            self._show_notices()
        if self._steps and (outcome.right or self.tries >= TRIES_BEFORE_WORKING):
            self.working.update(self._steps)
            self.working.layout.display = ""
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
