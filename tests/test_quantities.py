"""The one table of quantities: every row is whole, and its unit is the suffix of its key."""

from __future__ import annotations

import pytest

from workbook.quantities import INPUTS, NOTED, RESULTS, UNITS, unit_of, with_words


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


@pytest.mark.parametrize(
    ("sentence", "shown"),
    [
        ("today.mass_g is 1012 g; check it", "mass (today.mass_g) is 1012 g; check it"),
        ("the form, flight.landing_v: 9 V", "the form, landing, loaded (flight.landing_v): 9 V"),
        (
            "it is not stated (craft.motor_max_a, craft.motor_max_w)",
            "it is not stated (motor's current: craft.motor_max_a, motor's power: craft.motor_max_w)",
        ),
        ("craft.toml and pack.unheard_of stay", None),
        ("pack.mass_g.toml is a file", None),
        ("nothing of the kind", None),
    ],
)
def test_a_place_in_the_file_gets_its_words(sentence: str, shown: str | None) -> None:
    assert with_words(sentence) == (shown or sentence)
