"""Every exercise of the course: solved by its own working, failed by each slip that it names.

Lessons are found by themselves; nothing is to be added here for a new one.
"""

from __future__ import annotations

from importlib import import_module

import pytest

from workbook.exercises.check import is_near
from workbook.exercises.exercise import (
    ChoiceExercise,
    Exercise,
    NumberExercise,
    SettingExercise,
)
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.lesson_view import open_lesson

WRITTEN = COURSE
EXERCISES = [(lesson, exercise) for lesson in WRITTEN for exercise in lesson.exercises]
NUMBERS = [e for _, e in EXERCISES if isinstance(e, NumberExercise)]
SEEDS = (1, 2, 3, 20, 4711, 123456)


def test_ids_differ_and_lessons_are_numbered_in_order() -> None:
    ids = [e.id for _, e in EXERCISES]
    assert len(set(ids)) == len(ids)
    assert [lesson.number for lesson in COURSE] == list(range(1, len(COURSE) + 1))
    assert len({lesson.slug for lesson in COURSE}) == len(COURSE)


@pytest.mark.parametrize("lesson", WRITTEN, ids=lambda le: le.slug)
def test_a_lesson_has_four_exercises_or_more_of_all_three_kinds(lesson: Lesson) -> None:
    kinds = {type(e) for e in lesson.exercises}
    assert len(lesson.exercises) >= 4
    assert kinds == {NumberExercise, ChoiceExercise, SettingExercise}
    assert {e.lesson for e in lesson.exercises} == {lesson.slug}


@pytest.mark.parametrize(("lesson", "exercise"), EXERCISES, ids=lambda x: getattr(x, "id", ""))
def test_every_exercise_has_hints(lesson: Lesson, exercise: Exercise) -> None:
    assert len(exercise.hints) >= 2 or isinstance(exercise, ChoiceExercise)
    assert exercise.hints or isinstance(exercise, ChoiceExercise)


@pytest.mark.parametrize("exercise", NUMBERS, ids=lambda e: e.id)
@pytest.mark.parametrize("seed", SEEDS)
def test_the_working_solves_the_exercise(exercise: NumberExercise, seed: int) -> None:
    steps = exercise.working(seed)
    assert steps, "a number exercise shows its working"
    last = steps[-1]
    assert last.unit == exercise.unit
    assert exercise.check(seed, last.result).right
    # the answer as the learner reads it off the working: four digits, with the unit
    assert exercise.check(seed, f"{last.result:.4g} {exercise.unit}".strip()).right
    assert all(step.source and step.formula and step.numbers for step in steps)
    assert "{" not in exercise.text(seed)


@pytest.mark.parametrize("exercise", NUMBERS, ids=lambda e: e.id)
@pytest.mark.parametrize("seed", SEEDS)
def test_each_named_slip_fails_and_is_told_by_its_value(
    exercise: NumberExercise, seed: int
) -> None:
    drawn = exercise.drawn(seed)
    assert drawn.slips, "at least one slip is known"
    for slip in drawn.slips:
        assert not is_near(slip.value, drawn.expected, exercise.tolerance), slip.message
        outcome = exercise.check(seed, slip.value)
        assert outcome.state == "slip"
        assert outcome.message == slip.message


@pytest.mark.parametrize("exercise", NUMBERS, ids=lambda e: e.id)
def test_numbers_differ_from_learner_to_learner(exercise: NumberExercise) -> None:
    assert len({exercise.text(seed) for seed in range(40)}) >= 3
    assert exercise.text(7) == exercise.text(7)


@pytest.mark.parametrize(
    "exercise", [e for _, e in EXERCISES if isinstance(e, ChoiceExercise)], ids=lambda e: e.id
)
def test_choices_tell_what_follows(exercise: ChoiceExercise) -> None:
    assert len(exercise.options) >= 3
    for option in exercise.options:
        outcome = exercise.check(option.text)
        assert outcome.state == ("right" if option.right else "slip")
        assert option.message in outcome.message


@pytest.mark.parametrize("lesson", WRITTEN, ids=lambda le: le.slug)
def test_controls_can_be_set_as_asked_and_are_not_so_at_the_start(
    lesson: Lesson, tmp_path, monkeypatch
) -> None:
    """The exercise file says how: `SOLUTIONS`, exercise id to control name to value."""
    solutions = import_module(f"workbook.exercises.course.lesson_{lesson.number:02d}").SOLUTIONS
    monkeypatch.chdir(tmp_path)
    view = open_lesson(lesson.slug)
    for exercise in lesson.exercises:
        if not isinstance(exercise, SettingExercise):
            continue
        assert exercise.check(view.live.current()).state == "wrong", "not solved at the start"
        before = view.live.values()
        with view.live.held():
            for name, value in solutions[exercise.id].items():
                view.inputs[name].value = value
        assert view.live.problems == ()
        found = exercise.check(view.live.current())
        assert found.right, found.message
        with view.live.held():
            for name, value in before.items():
                view.inputs[name].value = value
