"""Every exercise of the course: solved by its own working, failed by each slip that it names.

Lessons are found by themselves; nothing is to be added here for a new one.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from workbook.exercises.exercise import ChoiceExercise, Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import is_near
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.lesson_view import open_lesson

EXERCISES = [exercise for lesson in COURSE for exercise in lesson.exercises]
SEEDS = (1, 2, 3, 20, 4711, 123456)
EACH_LESSON = pytest.mark.parametrize("lesson", COURSE, ids=lambda lesson: lesson.slug)


def of_kind(lesson: Lesson, kind: type[Exercise]) -> list:
    return [e for e in lesson.exercises if isinstance(e, kind)]


def test_ids_differ_and_none_that_is_out_is_lost() -> None:
    """Progress is kept under them: a new one joins the list, and stays there."""
    out = Path(__file__).with_name("ids.txt").read_text("utf-8").split()
    assert sorted(e.id for e in EXERCISES) == out


@EACH_LESSON
def test_a_lesson_has_four_exercises_or_more_of_all_three_kinds_with_hints(lesson: Lesson) -> None:
    assert len(lesson.exercises) >= 4
    assert {type(e) for e in lesson.exercises} == {NumberExercise, ChoiceExercise, SettingExercise}
    few = [e.id for e in lesson.exercises if len(e.hints) < 2]
    assert few == [e.id for e in of_kind(lesson, ChoiceExercise) if len(e.hints) < 2]


def solves(exercise: NumberExercise, seed: int) -> bool:
    """Whether the last line of the working is the answer, read off with four digits as well."""
    drawn = exercise.drawn(seed)
    last = drawn.working[-1]
    # a count is without a unit in the working, and may be asked for in "layers"
    assert last.unit.replace("ohm", "Ω") in ("", exercise.unit), exercise.id
    assert all(step.source and step.formula and step.numbers for step in drawn.working)
    assert "{" not in drawn.text, exercise.id
    read_off = f"{last.result:.4g} {exercise.unit}".strip()
    return all(exercise.check(seed, answer).right for answer in (last.result, read_off))


@EACH_LESSON
def test_the_working_solves_the_exercise(lesson: Lesson) -> None:
    numbers = of_kind(lesson, NumberExercise)
    assert [(e.id, seed) for e in numbers for seed in SEEDS if not solves(e, seed)] == []


@EACH_LESSON
def test_each_named_slip_fails_and_is_named_by_its_value(lesson: Lesson) -> None:
    for exercise in of_kind(lesson, NumberExercise):
        for seed in SEEDS:
            drawn = exercise.drawn(seed)
            assert drawn.slips, "at least one slip is known"
            for message, value in drawn.slips.items():
                assert not is_near(value, drawn.expected, exercise.tolerance), (
                    exercise.id,
                    message,
                )
                found = exercise.check(seed, value)
                assert (found.state, found.message) == ("slip", message), (exercise.id, seed)


@EACH_LESSON
def test_numbers_differ_from_learner_to_learner(lesson: Lesson) -> None:
    texts = {e.id: {e.text(seed) for seed in range(40)} for e in of_kind(lesson, NumberExercise)}
    assert {name: len(text) for name, text in texts.items() if len(text) < 3} == {}


@EACH_LESSON
def test_choices_say_what_follows(lesson: Lesson) -> None:
    for exercise in of_kind(lesson, ChoiceExercise):
        assert len(exercise.options) >= 3
        for text, follows in exercise.options.items():
            found = exercise.check(text)
            assert found.right == (text == exercise.answer)
            assert follows
            assert follows in found.message


@EACH_LESSON
def test_controls_can_be_set_as_asked_and_are_not_so_at_the_start(
    lesson: Lesson, tmp_path, monkeypatch
) -> None:
    monkeypatch.chdir(tmp_path)
    view = open_lesson(lesson.slug)

    def set_to(values) -> None:
        with view.live.held():
            for name, value in values.items():
                view.inputs[name].value = value

    for exercise in of_kind(lesson, SettingExercise):
        assert exercise.check(view.live.current()).state == "wrong", "not solved at the start"
        before = view.live.values()
        set_to(exercise.solution)
        assert view.live.problems == ()
        assert exercise.check(view.live.current()).message.startswith("Right."), exercise.id
        set_to(before)
