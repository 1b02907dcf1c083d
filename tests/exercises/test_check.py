import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.exercises import slips
from workbook.exercises.check import check_number
from workbook.exercises.exercise import ChoiceExercise, Drawn, NumberExercise, Option
from workbook.exercises.slips import Slip


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
    assert check_number("10.1", 10.0, 0.02, slips=[Slip(10.1, "slip")]).right


# Each expected number below is worked by hand from the case stated beside it.
CASES = [
    # 2P of 5 Ah is 10 Ah, which is 10000 mAh.
    (slips.thousand(10.0, "Ah", "mAh"), "10000", "mAh"),
    # 20 min is 0.333 h.
    (slips.sixty(20.0), "0.3333", "60"),
    # 4S2P of 5 Ah: 2 x 5 = 10 Ah; with S for P 4 x 5 = 20 Ah.
    (slips.series_for_parallel(10.0, 4, 2), "20", "Series was taken for parallel"),
    # 4P of 10 A: 40 A for the pack, 10 A for a cell.
    (slips.per_cell(40.0, 4), "10", "one cell"),
    (slips.per_pack(10.0, 4), "40", "whole pack"),
    # Six motors of 600 gf lift 3600 gf.
    (slips.per_motor(3600.0, 6), "600", "one motor"),
    # 4S at 3.6 V is 14.4 V; at 3.7 V 14.8 V; full 16.8 V.
    (slips.other_cell_voltage(14.4, 3.6), "14,8", "3.7 V"),
    (slips.other_cell_voltage(14.4, 3.6), "16.8", "full"),
    # 144 W at 12 V is 12 A; at 14.4 V nominal it would be 10 A.
    (slips.nominal_for_sagged(12.0, 12.0, 14.4), "10", "nominal"),
    # 4P of 10 A continuous and 15 A burst: 40 A and 60 A.
    (slips.burst_for_continuous(40.0, 10, 15), "60", "burst"),
    (slips.continuous_for_burst(60.0, 10, 15), "40", "continuous"),
    # 1500 gf is 14.71 N (ISO 80000-3: g = 9.80665 m/s2).
    (slips.newton_for_gram_force(1500.0), "14.71", "newton"),
    # 2 kg is 4.409 lb (1 lb = 0.45359237 kg).
    (slips.pound_for_kilogram(2.0), "4.409", "pounds"),
    # 20 min to empty at 80 % usable is 16 min.
    (slips.reserve_left_out(16.0, 0.8), "20", "empty"),
]
RIGHT = [10, 20, 10, 40, 10, 3600, 14.4, 14.4, 12, 40, 60, 1500, 2, 16]


@pytest.mark.parametrize(("case", "expected"), list(zip(CASES, RIGHT, strict=True)))
def test_each_slip_is_named_and_the_right_answer_is_right(case, expected):
    made, typed, words = case
    outcome = check_number(typed, expected, 0.01, slips=made)
    assert outcome.state == "slip"
    assert words in outcome.message
    assert check_number(f"{expected:g}", expected, 0.01, slips=made).right
    assert check_number(None, expected, 0.01, slips=made).state == "unanswered"


@given(st.text(max_size=40))
def test_whatever_is_typed_there_is_an_outcome(text):
    assert check_number(text, 10.0, 0.02, "A").message


def test_numbers_vary_with_the_seed_and_stay_for_one_seed():
    exercise = NumberExercise(
        "mass",
        "l",
        "{m:.0f} g?",
        lambda draw: Drawn({"m": (m := draw.randrange(100, 999))}, float(m)),
    )
    texts = [exercise.text(seed) for seed in range(20)]
    assert len(set(texts)) > 10
    assert texts == [exercise.text(seed) for seed in range(20)]


def test_exactly_one_option_is_right():
    with pytest.raises(ValueError, match="exactly one"):
        ChoiceExercise("c", "l", "?", (Option("a", ""), Option("b", "")))
