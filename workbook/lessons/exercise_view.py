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
from workbook.widgets.style import style_sheet
from workbook.widgets.verdict import WorkingPanel

TRIES_BEFORE_WORKING = 2
"""The working can be asked for after a right answer or this many tries."""

SIGNS = {
    "unanswered": ("…", "wb-close"),
    "right": ("✓", "wb-holds"),
    "slip": ("△", "wb-close"),
    "wrong": ("✕", "wb-broken"),
}


class _ExerciseView(W.VBox):
    """What the three kinds share. The check itself is in `workbook.exercises`."""

    def __init__(
        self, exercise: Exercise, question: str, answer: W.Widget, progress: Progress
    ) -> None:
        self.exercise, self.progress = exercise, progress
        self.outcome: Checked | None = None
        self.tries = 0
        self._hints_shown = 0
        self.check_button = W.Button(
            description="check",
            tooltip="check my answer",
            layout=W.Layout(width="max-content", min_width="90px"),
        )
        self.hint_button = W.Button(
            description=self._hint_label(),
            layout=W.Layout(width="max-content", min_width="120px"),
            disabled=not exercise.hints,
        )
        self.hint_button.layout.display = "" if exercise.hints else "none"
        self.hints, self.result, self.notices = W.HTML(), W.HTML(), W.HTML()
        self.working = WorkingPanel()
        self.working.layout.display = "none"
        self.check_button.on_click(lambda _: self.check())
        self.hint_button.on_click(lambda _: self.hint())
        done = " ✓ done before" if progress.mark(exercise.id).right else ""
        super().__init__(
            [
                style_sheet(),
                W.HTML(
                    f'<div class="wb-title">Exercise{done}</div>'
                    f'<div class="wb-finding">{escape(question)}</div>'
                ),
                answer,
                W.HBox([self.check_button, self.hint_button]),
                self.result,
                self.hints,
                self.working,
                self.notices,
            ]
        )
        self.add_class("wb")
        self.add_class("wb-exercise")
        self._tell_notices()

    def _outcome(self) -> Checked:
        raise NotImplementedError

    def _show_working(self) -> None:
        """Fill the working, where the kind of exercise has one."""

    def check(self) -> Checked:
        """Check the answer as it stands and say what was found."""
        outcome = self.outcome = self._outcome()
        sign, style = SIGNS[outcome.state]
        self.result.value = (
            f'<div class="wb-verdict {style}" role="status"><span class="wb-word">{sign}</span>'
            f"{escape(outcome.message)}</div>"
        )
        if outcome.state != "unanswered":
            self.tries += 1
            self.progress.record(self.exercise.id, outcome)
            self._tell_notices()
        if outcome.right or self.tries >= TRIES_BEFORE_WORKING:
            self._show_working()
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
        self._tell_notices()

    def _hint_label(self) -> str:
        total = len(self.exercise.hints)
        if self._hints_shown == total:
            return "no more hints"
        return f"hint {self._hints_shown + 1} of {total}"

    def _tell_notices(self) -> None:
        text = " ".join(str(n) for n in self.progress.notices)
        self.notices.value = f'<div class="wb-refusal">{escape(text)}</div>' if text else ""


class NumberExerciseView(_ExerciseView):
    """A number to type; decimal comma or point, with or without the unit."""

    def __init__(self, exercise: NumberExercise, progress: Progress) -> None:
        self.box = W.Text(
            placeholder="number",
            description="answer",
            tooltip=f"answer in {exercise.unit}" if exercise.unit else "answer",
            layout=W.Layout(width="230px"),
        )
        super().__init__(
            exercise,
            exercise.text(progress.seed),
            W.HBox([self.box, W.Label(exercise.unit)]),
            progress,
        )

    def _outcome(self) -> Checked:
        return self.exercise.check(self.progress.seed, self.box.value)

    def _show_working(self) -> None:
        steps = self.exercise.drawn(self.progress.seed).working
        if steps:
            self.working.update(steps)
            self.working.layout.display = ""


class ChoiceExerciseView(_ExerciseView):
    """One answer to choose from several."""

    def __init__(self, exercise: ChoiceExercise, progress: Progress) -> None:
        self.choice = W.RadioButtons(
            options=list(exercise.options),
            value=None,
            layout=W.Layout(width="auto", max_width="720px"),
        )
        super().__init__(exercise, exercise.question, self.choice, progress)

    def _outcome(self) -> Checked:
        return self.exercise.check(self.choice.value)


class SettingExerciseView(_ExerciseView):
    """Controls of the live figure to set.

    Args:
        exercise: the task.
        progress: of this learner.
        result: gives what the live figure shows, such as `live.current`.
    """

    def __init__(
        self, exercise: SettingExercise, progress: Progress, result: Callable[[], Any]
    ) -> None:
        self._result = result
        super().__init__(exercise, exercise.task, W.HTML("Set the controls, then check."), progress)

    def _outcome(self) -> Checked:
        return self.exercise.check(self._result())


def exercise_view(
    exercise: Exercise, progress: Progress, result: Callable[[], Any] | None = None
) -> W.VBox:
    """The widget for an exercise of any kind.

    Args:
        exercise: what to ask.
        progress: of this learner.
        result: gives what the live figure shows; needed for a setting exercise.

    Raises:
        ValueError: a setting exercise without a live figure.

    Example:
        >>> import tempfile
        >>> exercise = NumberExercise("sum", "2 + 2?", answer=lambda d: 4)
        >>> view = exercise_view(exercise, Progress(tempfile.mkdtemp()))
        >>> view.box.value = "4,0"
        >>> view.check().state
        'right'
    """
    if isinstance(exercise, NumberExercise):
        return NumberExerciseView(exercise, progress)
    if isinstance(exercise, ChoiceExercise):
        return ChoiceExerciseView(exercise, progress)
    if result is None:
        raise ValueError(f"exercise {exercise.id} needs the live figure whose controls are set.")
    return SettingExerciseView(exercise, progress, result)
