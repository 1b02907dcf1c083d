"""Exercises solved: the answer, its working, and what each slip means. From the records themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from workbook.exercises.exercise import ChoiceExercise, Exercise, NumberExercise
from workbook.lessons.course import Lesson
from workbook.working import Step


@dataclass(frozen=True)
class Wrong:
    """A wrong answer that is made again and again, and what it means."""

    answer: str
    meaning: str


@dataclass(frozen=True)
class Solution:
    """One exercise with its answer.

    Attributes:
        exercise_id: under which progress is kept.
        kind: "number", "choice" or "setting".
        question: with the numbers of the seed.
        unit: of the answer.
        answer: as it is to be given; for a setting, the controls and their values.
        why: what follows from it; empty where the working says it.
        working: how it comes about.
        wrong: known slips with their values, or the other options.
        options: to choose from, in order; empty where there is nothing to choose.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about.
        tolerance_pct: by which a number may be off.
    """

    exercise_id: str
    kind: str
    question: str
    unit: str
    answer: str
    why: str
    working: tuple[Step, ...]
    wrong: tuple[Wrong, ...]
    options: tuple[str, ...]
    hints: tuple[str, ...]
    minutes: float
    tolerance_pct: float = 0.0


def value_text(value: float, unit: str = "") -> str:
    """A figure as learners and instructors read it: four digits and the unit.

    Example:
        >>> value_text(39.474, "mV")
        '39.47 mV'
    """
    return f"{value:.4g} {unit}".rstrip()


def control_label(control: Any, name: str = "") -> str:
    """What a control is called on the page; the words of its name where it has no label of its own."""
    said = getattr(control, "description", "") or getattr(control, "label", "")
    return str(said) or name.replace("_", " ")


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
        drawn = exercise.drawn(seed)
        return Solution(
            exercise.id,
            "number",
            drawn.text,
            exercise.unit,
            value_text(drawn.expected, exercise.unit),
            "",
            drawn.working,
            tuple(Wrong(value_text(v, exercise.unit), m) for m, v in drawn.slips.items()),
            (),
            exercise.hints,
            exercise.minutes,
            100.0 * exercise.tolerance,
        )
    if isinstance(exercise, ChoiceExercise):
        options, right = exercise.options, exercise.answer
        return Solution(
            exercise.id,
            "choice",
            exercise.question,
            "",
            right,
            options[right],
            (),
            tuple(Wrong(text, follows) for text, follows in options.items() if text != right),
            tuple(options),
            exercise.hints,
            exercise.minutes,
        )
    said = "; ".join(
        f"{control_label(view.inputs[name], name)}: {shown_value(view.inputs[name], value)}"
        for name, value in exercise.solution.items()
    )
    return Solution(
        exercise.id,
        "setting",
        exercise.task,
        "",
        said,
        exercise.why,
        (),
        tuple(Wrong("not yet", message) for message in exercise.conditions),
        (),
        exercise.hints,
        exercise.minutes,
    )


def solutions(lesson: Lesson, seed: int, view: Any) -> tuple[Solution, ...]:
    """Every exercise of a lesson, solved."""
    return tuple(solve(exercise, seed, view) for exercise in lesson.exercises)
