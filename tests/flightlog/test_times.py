"""Times of a log in seconds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from workbook.errors import InputError
from workbook.flightlog.times import seconds_of


def read(values: list, unit: str = "") -> tuple[np.ndarray, list[str]]:
    notes: list[str] = []
    found = seconds_of(pd.Series(values), unit, "time", notes, "log")
    return found - found[0], notes


@pytest.mark.parametrize(
    ("unit", "step"), [("s", 1.0), ("ms", 1e3), ("us", 1e6), ("ns", 1e9), ("min", 1 / 60.0)]
)
def test_a_stated_unit(unit: str, step: float) -> None:
    found, notes = read([k * step for k in range(100)], unit)
    np.testing.assert_allclose(found, np.arange(100.0), rtol=1e-9)
    assert notes == []


@pytest.mark.parametrize(("step", "unit"), [(1.0, "s"), (1e3, "ms"), (1e6, "us")])
def test_a_unit_that_is_not_stated_is_seen_by_the_length_and_reported(
    step: float, unit: str
) -> None:
    found, notes = read([k * step for k in range(901)])
    assert found[-1] == pytest.approx(900.0)
    assert notes == [
        f'Column "time" is read in {unit}, in which the log is 14.7 min long.'
    ]  # 1 to 99 %


@pytest.mark.parametrize(
    "values",
    [
        ["9:59:59", "10:00:00", "10:00:01"],
        ["09:59:59.0", "10:00:00.0", "10:00:01.0"],
        ["59:59,0", "60:00,0", "60:01,0"],
        ["9:59:59 AM", "10:00:00 AM", "10:00:01 AM"],
        ["11:59:59 AM", "12:00:00 PM", "12:00:01 PM"],
        ["23:59:59", "00:00:00", "00:00:01"],
        ["2026-05-03 23:59:59", "2026-05-04 00:00:00", "2026-05-04 00:00:01"],
        ["2026-05-03T10:00:00+02:00", "2026-05-03T10:00:01+02:00", "2026-05-03T10:00:02+02:00"],
        ["03.05.2026 10:00:00,0", "03.05.2026 10:00:01,0", "03.05.2026 10:00:02,0"],
        ["31/12/2026 23:59:59", "01/01/2027 00:00:00", "01/01/2027 00:00:01"],
        ["5 s", "6 s", "7 s"],
        ["5000 ms", "6000 ms", "7000 ms"],
    ],
)
def test_clocks_and_dates(values: list[str]) -> None:
    assert read(values)[0].tolist() == [0.0, 1.0, 2.0]


def test_a_cell_that_is_no_time_is_not_known() -> None:
    found, _ = read(["10:00:00", "oops", "10:00:02"])
    assert np.isnan(found[1])
    assert found[2] == 2.0


def test_a_clock_among_plain_ones_that_is_written_otherwise_is_read_too() -> None:
    texts = [f"{9 + k // 3600}:{k // 60 % 60:02d}:{k % 60:02d}.5" for k in range(7200)]
    texts[33] = " 9:00:33,5"
    texts[34] = "9:00:34.5 AM"
    found, _ = read(texts)
    np.testing.assert_allclose(found, np.arange(7200.0), rtol=0, atol=1e-9)


def test_a_clock_that_counts_past_a_day_goes_on() -> None:
    found, _ = read(["23:59:59", "24:00:00", "24:00:01", "25:00:00"])
    assert found.tolist() == [0.0, 1.0, 2.0, 3601.0]


def test_a_column_without_any_time_is_refused() -> None:
    with pytest.raises(InputError, match='"north" is not a time'):
        read(["north", "south"])
