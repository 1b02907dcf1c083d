"""Solutions of each kind of exercise: right by the checker, in the words of the page."""

from __future__ import annotations

import pytest

from workbook.exercises.exercise import ChoiceExercise, NumberExercise, SettingExercise
from workbook.lessons.course import lesson_of
from workbook.lessons.lesson_view import open_lesson
from workbook.lessons.teaching.solution import Solution, shown_value, solutions
from workbook.widgets.controls import ChoiceControl, NumberControl

SEED = 5


@pytest.fixture
def found(folder) -> tuple[Solution, ...]:
    return solutions(lesson_of("craft_asks"), SEED, open_lesson("craft_asks"))


def of_kind(found: tuple[Solution, ...], kind: type) -> list[Solution]:
    return [solution for solution in found if isinstance(solution.exercise, kind)]


def test_a_number_is_right_by_the_checker_and_each_slip_is_explained(found) -> None:
    for solution in of_kind(found, NumberExercise):
        assert solution.exercise.check(SEED, solution.answer).right
        for given, says in solution.wrong:
            assert solution.exercise.check(SEED, given).message == says


def test_a_choice_names_its_right_option_and_what_follows_from_the_others(found) -> None:
    for solution in of_kind(found, ChoiceExercise):
        assert solution.exercise.check(solution.answer).right
        assert {given for given, _ in solution.wrong} | {solution.answer} == set(solution.options)


def test_settings_go_by_the_names_on_the_page(found) -> None:
    (solution,) = of_kind(found, SettingExercise)
    assert "craft without pack: 1600 g" in solution.answer
    assert "rotors: 8" in solution.answer


def test_neighbours_have_other_numbers(found, opened) -> None:
    other = solutions(lesson_of("craft_asks"), SEED + 1, opened("craft_asks"))
    assert [s.question for s in of_kind(found, NumberExercise)] != [
        s.question for s in of_kind(other, NumberExercise)
    ]


def test_a_value_is_shown_as_its_control_shows_it() -> None:
    assert shown_value(ChoiceControl("season", {"winter": 0.0, "summer": 25.0}), 25.0) == "summer"
    assert shown_value(NumberControl("mass", "g", 400, 100, 900, 10), 412.5) == "412.5 g"
    assert shown_value(object(), ("Sedge", 6, 3)) == "Sedge, 6, 3"
