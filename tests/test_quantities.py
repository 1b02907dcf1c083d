"""The one table of quantities: every row is whole, and its unit is the suffix of its key."""

from __future__ import annotations

import pytest

from workbook.quantities import INPUTS, NOTED, RESULTS, UNITS, unit_of


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("mass_g", "g"),
        ("thrust_gf", "gf"),
        ("hover_efficiency_gf_w", "gf/W"),
        ("range_km", "km"),
        ("cruise_energy_wh_km", "Wh/km"),
        ("climb_m_s", "m/s"),
        ("hover_c_rate", "1/h"),
        ("joint_mohm", "mΩ"),
        ("air_temperature_c", "°C"),
        ("burst_c", ""),
        ("rotors", ""),
    ],
)
def test_the_unit_is_the_suffix(key: str, unit: str) -> None:
    assert unit_of(key) == unit


def test_a_longer_suffix_comes_before_the_shorter_one_that_ends_it() -> None:
    suffixes = list(UNITS)
    hidden = [
        (first, later)
        for n, first in enumerate(suffixes)
        for later in suffixes[n + 1 :]
        if later.endswith(first)
    ]
    assert hidden == []


def test_every_row_has_words_and_a_direction_that_is_known() -> None:
    for quantity in (*RESULTS.values(), *INPUTS.values(), *NOTED.values()):
        assert quantity.label, quantity.key
        assert quantity.better in ("", "high", "low"), quantity.key
        assert 0 <= quantity.decimals <= 4, quantity.key


def test_a_slider_stays_within_what_a_file_may_state() -> None:
    for quantity in (*INPUTS.values(), *NOTED.values()):
        low, high = quantity.usual
        assert quantity.least <= low < high <= quantity.most, quantity.key
        assert 0 < quantity.step <= high - low, quantity.key
        assert quantity.help, quantity.key
