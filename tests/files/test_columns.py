"""What headings mean, and cells of a column as numbers."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.files.columns import (
    by_own_column,
    by_range,
    by_spread,
    factors,
    measures,
    not_a_number,
    read_numbers,
    recognise,
    spans,
)


@pytest.mark.parametrize(
    ("text", "table", "key", "unit"),
    [
        ("Thrust [gf]", "thrust", "thrust_gf", "gf"),
        ("STATIC THRUST - g", "thrust", "thrust_gf", "g"),
        ("Load current, A", "thrust", "current_a", "a"),
        ("g/W", "thrust", "efficiency_gf_w", "g/w"),
        ("推力", "thrust", "thrust_gf", ""),
        ("Thrust (N*m)", "thrust", "", ""),
        ("g", "thrust", "", ""),
        ("IR / mΩ", "cell log", "resistance_mohm", "mω"),
        ("Internal resistance, m ohm", "cell log", "resistance_mohm", "m ohm"),
        ("V", "cell log rest", "rest_v", "v"),
        ("mAh", "curves", "capacity_ah", "mah"),
    ],
)
def test_headings(text: str, table: str, key: str, unit: str) -> None:
    heading = recognise(text, table)
    assert (heading.key, heading.unit) == (key, unit)


def test_a_heading_of_a_known_kind_that_is_not_read() -> None:
    assert recognise("Temp (°C)", "thrust").known
    assert not recognise("Mood", "thrust").known


@pytest.mark.parametrize(
    ("cells", "decimal", "values", "halves"),
    [
        (["1.250", "420"], "", [1250.0, 420.0], [0.5, 0.5]),
        (["1.250", "420"], ".", [1.25, 420.0], [0.0005, 0.5]),
        (["-", "", "#N/A"], "", [np.nan] * 3, [0.0] * 3),
        (["12,5 A", "１２５"], "", [12.5, 125.0], [0.05, 0.5]),
        ([5.0, 2.5, "2,5"], "", [5.0, 2.5, 2.5], [0.5, 0.05, 0.05]),
        ([], "", [], []),
    ],
)
def test_numbers(
    cells: list[str | float], decimal: str, values: list[float], halves: list[float]
) -> None:
    numbers = read_numbers(cells, decimal)
    np.testing.assert_array_equal(numbers.value, values)
    np.testing.assert_allclose(numbers.half, halves)


def test_a_cell_that_is_no_number_and_one_that_is_two() -> None:
    numbers = read_numbers(["much", "1,250", "inf", "7 A"])
    assert numbers.wrong.tolist() == [True, False, True, False]
    assert numbers.open.tolist() == [False, True, False, False]
    assert (numbers.value[1], numbers.other[1]) == (1250.0, 1.25)
    assert numbers.unit[3] == "a"


def test_evidence_for_a_mark() -> None:
    thrust = measures("thrust")["thrust_gf"]
    large, small = np.array([1250.0, 1620.0]), np.array([1.25, 1.62])
    for certain, thousands in (("0,420", False), ("1,620.0", True), ("420", None), ("0.420", True)):
        numbers = read_numbers([certain])
        assert by_own_column(numbers.thousands, numbers.decimal, ",") is thousands
    assert by_range(measures("thrust")["speed_rpm"], large, small) is True
    assert by_range(thrust, large * 1000, small * 1000) is False
    assert by_range(thrust, large, small) is None
    assert by_spread(np.array([420.0, 1250.0]), np.array([420.0, 1.25])) is True
    assert by_spread(large, small) is None


def test_a_unit_in_the_cell_comes_before_the_headings() -> None:
    found = factors(read_numbers(["5 kg", "5", "5 W"]), "lb", measures("thrust")["thrust_gf"])
    np.testing.assert_array_equal(found, [1000.0, 453.59237, np.nan])


def test_sentences() -> None:
    assert "O or l" in not_a_number("thrust", "88O")
    assert "a date" in not_a_number("current", "10-Dec")
    assert spans([1]) == "1"
    assert spans(range(1, 40, 3)).endswith("and 5 more")


def test_a_column_of_figures_all_different() -> None:
    """As a logger writes them; how long it takes is for the benchmarks."""
    cells = [f"{k / 1000:.3f}" for k in range(20_000)]
    numbers = read_numbers(cells, decimal=".")
    np.testing.assert_allclose(numbers.value, np.arange(20_000) / 1000)
