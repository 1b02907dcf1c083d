"""A drawing with fewer points that shows every extreme."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from workbook.flightlog.reduced import reduced


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
