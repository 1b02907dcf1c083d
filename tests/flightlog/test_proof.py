"""A finished pack against the acceptance table of its sheet."""

from __future__ import annotations

import math

import pytest

from workbook.bench.procedure import CheckItem, checks
from workbook.errors import InputError
from workbook.flightlog.proof import FAILS, accept
from workbook.quantities import NOTED

TABLE = checks("acceptance", series=6, pack_mohm=40.0, mass_g=900.0, charge_ah=8.0, max_c=60.0)
GOOD = {
    "spread_full_mv": 12.0,
    "spread_empty_mv": 60.0,
    "resistance_mohm": 47.9,  # 1.2 x 40 = 48 passes
    "mass_g": 926.0,  # 3 % of 900 is 27
    "charge_ah": 7.69,  # 0.96 x 8 = 7.68
    "temperature_c": 54.0,  # 5 below the most
}


def test_every_line_of_the_table_is_one_that_a_book_notes() -> None:
    assert [item.key for item in TABLE] == list(GOOD)
    assert set(GOOD) <= set(NOTED)


def test_a_sound_pack_passes() -> None:
    found = accept(TABLE, GOOD)
    assert found.passes
    assert found.words == "passes every line of the acceptance table"


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("spread_full_mv", 31.0, "31 mV, FAILS"),
        ("spread_empty_mv", 80.2, "81 mV, FAILS"),
        ("resistance_mohm", 48.3, "49 mΩ, FAILS"),
        ("mass_g", 872.0, "872 g, FAILS"),
        ("charge_ah", 7.6751, "7.67 Ah, FAILS"),
        ("temperature_c", 55.4, "56 °C, FAILS"),
    ],
)
def test_one_figure_outside_fails_and_is_printed_so_that_it_is_outside(
    key: str, value: float, expected: str
) -> None:
    found = accept(TABLE, GOOD | {key: value})
    assert [line.item.key for line in found.failed] == [key]
    assert found.words.startswith(FAILS)
    assert expected in found.words


def test_what_was_not_measured_is_named_and_is_not_a_pass() -> None:
    found = accept(TABLE, {"resistance_mohm": 41.0, "mass_g": math.nan})
    assert not found.passes
    assert not found.failed
    assert found.words.startswith(
        "passes as far as measured; not measured: spread between groups, full"
    )
    assert "mass" in found.words


def test_nothing_measured_or_no_table_is_reported() -> None:
    with pytest.raises(InputError, match="nothing on the acceptance table was measured"):
        accept(TABLE, {"price": 3.0})
    with pytest.raises(InputError, match="its flight is not known"):
        accept((), GOOD)


def test_limits_in_words() -> None:
    assert CheckItem("x", unit="°C", high=55.0).limits_text == "up to 55\u00a0°C"
    assert CheckItem("x", unit="V", low=3.001).limits_text == "3.01\u00a0V or more"
