import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.errors import InputError
from workbook.parse import is_blank, parse_number, plain, read_number


@pytest.mark.parametrize(
    ("given", "value"),
    [("3,7 V", 3.7), ("3.7v", 3.7), (" 4 ", 4.0), ("３．５", 3.5), (2.5, 2.5), ("+3", 3.0)],
)
def test_a_number_with_or_without_its_unit(given, value):
    assert parse_number(given, "V", 2.5, 4.2) == value


@pytest.mark.parametrize(
    ("given", "limits", "words"),
    [
        ("", {}, "nothing is typed; a number in V is needed."),
        ("about 5", {}, "'about 5' is not one number"),
        ("3/8", {}, "'3/8' is not one number"),
        ("12 m\u03a9", {}, "has the unit m\u03a9; the unit here is V"),
        ("9", {"low": 1, "high": 5}, "9 is out of range; 1 to 5 V is needed."),
        (0.5, {"low": 1}, "0.5 is out of range; 1 V or more is needed."),
        ("9", {"high": 5}, "at most 5 V"),
        (2.5, {"low": 1, "high": 5, "whole": True}, "2.5 is not whole; a whole number, 1 to 5 V"),
        (math.nan, {}, "nan is out of range"),
        (math.inf, {}, "inf is out of range"),
        ("1,250", {}, "could be 1250 or 1.25; write one of them"),
    ],
)
def test_a_refusal_is_one_sentence(given, limits, words):
    with pytest.raises(InputError) as refusal:
        parse_number(given, "V", **limits)
    assert words in str(refusal.value)


def test_ohm_in_letters_or_as_a_sign():
    assert parse_number("12 mohm", "m\u03a9") == parse_number("12 m\u03a9", "mohm") == 12


def test_the_range_settles_what_a_comma_means():
    assert parse_number("1,250", "g", 100, 5000) == 1250
    assert parse_number("1,250", "V", 0, 5) == 1.25
    assert parse_number("1.250", "g") == 1.25


@pytest.mark.parametrize("text", ["-", "N/A", "#DIV/0!", "", " \u2014 "])
def test_signs_for_no_figure(text):
    assert is_blank(text)
    assert read_number(text) is None


@given(st.text(max_size=20))
def test_numbers_are_finite_or_none(text: str) -> None:
    number = read_number(text)
    assert number is None or 1 <= len(number.readings) <= 2
    readings = number.readings if number else ()
    assert all(math.isfinite(r.value) and r.half_step > 0 for r in readings)
    assert plain(plain(text)) == plain(text)


@given(st.integers(0, 10**6), st.integers(0, 4), st.sampled_from([",", " ", "'", "\xa0", "\u202f"]))
def test_grouped_numbers_read_back(value: int, decimals: int, mark: str) -> None:
    """The language's own formatting is the reference."""
    number = value / 10**decimals
    text = f"{number:,.{decimals}f}".replace(",", mark)
    readings = read_number(text)
    assert readings is not None
    assert any(math.isclose(r.value, number, abs_tol=1e-12) for r in readings.readings)


def test_a_temperature_may_be_typed_without_its_ring() -> None:
    assert parse_number("41 C", "°C") == parse_number("41 °C", "°C") == 41.0
