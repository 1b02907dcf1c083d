import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.exercises.exercise import ChoiceExercise, NumberExercise, check_number


@pytest.mark.parametrize("answer", [None, "", "   "])
def test_no_answer_yet(answer):
    assert check_number(answer, 10.0, 0.02).state == "unanswered"


@pytest.mark.parametrize("answer", ["ten", "10 V", "10 20", "1e999", "<b>"])
def test_text_that_is_no_answer_is_told_and_costs_nothing(answer):
    outcome = check_number(answer, 10.0, 0.02, "A")
    assert outcome.state == "unanswered"
    assert outcome.message != "Not answered yet."


@pytest.mark.parametrize("answer", ["10", "10,1", "9.8", "10 A", "１０", 10, 10.2])
def test_right_answers(answer):
    assert check_number(answer, 10.0, 0.02, "A").right


def test_three_decimals_are_decimals_after_a_point_and_asked_about_after_a_comma():
    assert check_number("4.409", 4.409, 0.001).right
    assert "4409 or 4.409" in check_number("4,409", 4.409, 0.001).message


def test_wrong_answers_say_which_way():
    assert "too high" in check_number("12", 10.0, 0.02, "A").message
    assert "too low" in check_number("8", 10.0, 0.02, "A").message
    assert "wrong sign" in check_number("-10.5", 10.0, 0.02, "A").message


def test_zero_is_checked_by_the_tolerance_as_it_stands():
    assert check_number("0.01", 0.0, 0.02).right
    assert not check_number("0.03", 0.0, 0.02).right


def test_right_goes_before_a_slip_that_lies_close():
    assert check_number("10.1", 10.0, 0.02, slips={"slip": 10.1}).right


@given(st.text(max_size=40))
def test_whatever_is_typed_there_is_an_outcome(text):
    assert check_number(text, 10.0, 0.02, "A").message


def test_numbers_vary_with_the_seed_and_stay_for_one_seed():
    exercise = NumberExercise("mass", "{m} g?", draw={"m": range(100, 999)}, answer=lambda d: d.m)
    texts = [exercise.text(seed) for seed in range(20)]
    assert len(set(texts)) > 10
    assert texts == [exercise.text(seed) for seed in range(20)]


def test_what_is_drawn_feeds_what_comes_after():
    exercise = NumberExercise(
        "pack",
        "{series}S{parallel}P, {cells} cells",
        draw={"series parallel": [(4, 2)], "cells": lambda d: d.series * d.parallel},
        answer=lambda d: d.cells,
        slips=lambda d: {"near": d.answer * 1.001, "far": d.series},
    )
    drawn = exercise.drawn(1)
    assert (drawn.text, drawn.expected, drawn.slips) == ("4S2P, 8 cells", 8.0, {"far": 4.0})


@pytest.mark.parametrize("right", [0, 3])
def test_the_right_option_must_be_there(right):
    with pytest.raises(ValueError, match="no option"):
        ChoiceExercise("c", "?", {"a": "", "b": ""}, right=right)


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("2.2", 2.222),
        ("1.8", 1.754),
        ("-11", -10.7),
        ("2.9", 2.861),
        ("2,22", 2.222),
        ("0.35", 0.3456),
    ],
)
def test_an_answer_that_is_honestly_rounded_is_right(typed, expected):
    assert check_number(typed, expected, 0.005).state == "right"


def test_an_answer_rounded_too_far_is_nearly_right_and_not_counted():
    nearly = check_number("2", 2.222, 0.005)
    assert nearly.state == "unanswered"
    assert nearly.message == "Nearly: 2 is rounded too far; give three figures."


@pytest.mark.parametrize(
    ("typed", "expected"), [("2.3", 2.222), ("2.21", 2.222), ("12", 2.222), ("0", 2.2)]
)
def test_what_is_not_the_right_value_rounded_is_wrong(typed, expected):
    assert check_number(typed, expected, 0.001).state == "wrong"


def test_where_a_slip_rounds_to_the_same_more_figures_are_asked_for():
    asked = check_number("2.2", 2.222, 0.005, slips={"that is the other": 2.17})
    assert asked.state == "unanswered"
    assert check_number("2.22", 2.222, 0.005, slips={"that is the other": 2.17}).state == "right"


@pytest.mark.parametrize(
    ("typed", "expected", "unit"),
    [
        ("50 minutes", 50.0, "min"),
        ("7 ampere", 7.0, "A"),
        ("33.7 Watt", 33.7, "W"),
        ("15.7 mΩ", 15.7, "mohm"),
        ("376 g", 376.0, "g"),
        ("6600 mAh", 6.6, "Ah"),
        ("2.5 kg", 2500.0, "g"),
    ],
)
def test_units_as_people_write_them(typed, expected, unit):
    assert check_number(typed, expected, 0.005, unit).state == "right"
