"""The record of a log."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.flightlog.log import FlightLog, LogFinding, reduced

LOG = FlightLog(
    "made",
    np.arange(0.0, 10.0, 0.5),
    np.full(20, 24.0),
    np.arange(20.0),
    temperature_c=np.full(20, 21.0),
    cells_v=np.full((6, 20), 4.0),
    notes=("A note.",),
    findings=(LogFinding("gap", "A gap.", 0, "", 0.0, 1.0),),
)


def test_power_length_and_step() -> None:
    assert len(LOG) == 20
    assert LOG.power_w[3] == 72.0  # 24 V x 3 A
    assert (LOG.duration_s, LOG.step_s) == (9.5, 0.5)
    assert LOG.sentences == ("A note.", "A gap.")


def test_a_part_of_it_has_every_column_and_both_ends() -> None:
    part = LOG.between(2.0, 3.0)
    np.testing.assert_array_equal(part.time_s, [2.0, 2.5, 3.0])
    np.testing.assert_array_equal(part.current_a, [4.0, 5.0, 6.0])
    assert part.cells_v is not None
    assert part.cells_v.shape == (6, 3)
    assert part.temperature_c is not None
    assert part.height_m is None
    assert part.sentences == LOG.sentences


@pytest.mark.parametrize("key", ["voltage_v", "speed_m_s"])
def test_a_column_by_its_key(key: str) -> None:
    assert LOG.known(key) is getattr(LOG, key)


@given(st.integers(0, 10_000), st.integers(20, 3000))
def test_every_extreme_of_every_part_is_kept(seed: int, points: int) -> None:
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.exponential(1.0, 4000))
    series = rng.normal(size=(2, 4000)).cumsum(axis=1)
    series[0, rng.integers(0, 4000, 50)] = np.nan
    rows = reduced(time_s, *series, points=points)
    assert rows[0] == 0
    assert rows[-1] == 3999
    assert np.all(np.diff(rows) > 0)
    assert len(rows) <= points + 6
    for values in series:
        assert np.nanmax(values[rows]) == np.nanmax(values)
        assert np.nanmin(values[rows]) == np.nanmin(values)


def test_a_short_trace_is_drawn_whole() -> None:
    assert reduced(np.arange(50.0), np.arange(50.0)).tolist() == list(range(50))


def test_a_million_rows_leave_two_thousand() -> None:
    time_s = np.arange(1e6)
    values = np.sin(time_s / 1e4)
    values[123_456] = 5.0
    rows = reduced(time_s, values)
    assert len(rows) <= 2002
    assert 123_456 in rows
