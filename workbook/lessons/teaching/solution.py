"""Exercises solved: the answer, its working, and what each slip means. From the records themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from workbook.exercises.exercise import ChoiceExercise, Exercise, NumberExercise
from workbook.lessons.course import Lesson
from workbook.working import Step


@dataclass(frozen=True)
class Solution:
    """One exercise with its answer.

    Attributes:
        exercise: the record.
        kind: "number", "choice" or "setting".
        question: with the numbers of the seed.
        answer: as it is to be given; for a setting, the controls and their values.
        wrong: what may be answered instead, and what it means: slips, or the other options.
        why: what follows from it; empty where the working says it.
        working: how it comes about.
        options: to choose from, in order; empty where there is nothing to choose.
    """

    exercise: Exercise
    kind: str
    question: str
    answer: str
    wrong: tuple[tuple[str, str], ...]
    why: str = ""
    working: tuple[Step, ...] = ()
    options: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """Of the answer; empty where it is no number."""
        return getattr(self.exercise, "unit", "")

    @property
    def tolerance_pct(self) -> float:
        """By which a number may be off; 0 where it is none."""
        return 100.0 * getattr(self.exercise, "tolerance", 0.0)


def value_text(value: float, unit: str = "") -> str:
    """A figure as learners and instructors read it: four digits and the unit.

    Example:
        >>> value_text(39.474, "mV")
        '39.47 mV'
    """
    return f"{value:.4g} {unit}".rstrip()


def control_label(control: Any, name: str = "") -> str:
    """What a control is called on the page; the words of its name where it has no label of its own."""
    words = getattr(control, "description", "") or getattr(control, "label", "")
    return str(words) or name.replace("_", " ")


def shown_value(control: Any, value: object) -> str:
    """A value as its control shows it: the name of a choice, or a number with its unit."""
    for option in getattr(control, "options", ()) or ():
        name, stands_for = option if isinstance(option, tuple) else (option, option)
        if stands_for == value:
            return str(name)
    if isinstance(value, tuple):
        return ", ".join(str(part) for part in value)
    unit = getattr(control, "unit", "")
    text = f"{value:g}" if isinstance(value, int | float) else str(value)
    return f"{text} {unit}".rstrip()


def solve(exercise: Exercise, seed: int, view: Any) -> Solution:
    """Solve one exercise.

    Args:
        exercise: any of a lesson's.
        seed: of the numbers.
        view: the opened lesson, for the names of its controls.
    """
    if isinstance(exercise, NumberExercise):
        drawn, unit = exercise.drawn(seed), exercise.unit
        slips = tuple((value_text(value, unit), says) for says, value in drawn.slips.items())
        right = value_text(drawn.expected, unit)
        return Solution(exercise, "number", drawn.text, right, slips, working=drawn.working)
    if isinstance(exercise, ChoiceExercise):
        options, right = exercise.options, exercise.answer
        others = tuple((text, follows) for text, follows in options.items() if text != right)
        return Solution(
            exercise,
            "choice",
            exercise.question,
            right,
            others,
            options[right],
            options=tuple(options),
        )
    settings = "; ".join(
        f"{control_label(view.inputs[name], name)}: {shown_value(view.inputs[name], value)}"
        for name, value in exercise.solution.items()
    )
    off = tuple(("not yet", says) for says in exercise.conditions)
    return Solution(exercise, "setting", exercise.task, settings, off, exercise.why)


def solutions(lesson: Lesson, seed: int, view: Any) -> tuple[Solution, ...]:
    """Every exercise of a lesson, solved."""
    return tuple(solve(exercise, seed, view) for exercise in lesson.exercises)
