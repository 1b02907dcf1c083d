"""Bursts counted together."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.sizing.bursts import count_bursts

CELL = straight_cell(continuous_a=10.0, burst_a=20.0)  # burst_s is 10 s
WHOLE = (20.0**2 - 10.0**2) * 10.0


def used(*phases: tuple[float, float]) -> float:
    return count_bursts(CELL, 10.0, phases)[-1].used_pct


def test_a_whole_burst_is_used_up_by_the_burst_current_for_the_burst_time():
    assert used((10.0, 20.0)) == 100.0


def test_a_weaker_burst_uses_its_share_by_the_square_of_its_current():
    """(15^2 - 10^2) x 10 s of (20^2 - 10^2) x 10 s."""
    assert used((10.0, 15.0)) == pytest.approx(100.0 * 1250.0 / WHOLE, rel=1e-9)


@pytest.mark.parametrize("parts", [2, 8, 50])
def test_splitting_a_phase_changes_nothing(parts: int):
    whole = count_bursts(CELL, 10.0, [(80.0, 17.0)])[-1]
    split = count_bursts(CELL, 10.0, [(80.0 / parts, 17.0)] * parts)[-1]
    assert split.used_pct == pytest.approx(whole.used_pct, rel=1e-9)
    assert split.over_s == pytest.approx(80.0, rel=1e-12)


def test_rest_gives_back_in_the_measure_of_what_is_left_under_the_continuous_current():
    """At rest 10^2 A2 a second are given back: 30 s for a whole burst of 3000 A2 s."""
    assert used((10.0, 20.0), (15.0, 0.0)) == pytest.approx(50.0, rel=1e-12)
    assert used((10.0, 20.0), (30.0, 0.0)) == pytest.approx(0.0, abs=1e-9)
    assert used((10.0, 20.0), (15.0, 10.0)) == 100.0


def test_a_break_ends_the_run_above_the_continuous_current_but_not_what_is_used_up():
    after = count_bursts(CELL, 10.0, [(10.0, 20.0), (1.0, 5.0), (10.0, 20.0)])[-1]
    assert after.over_s == 10.0
    assert after.used_pct > 190.0


def test_a_cell_without_a_burst_has_none_to_use():
    plain = straight_cell(continuous_a=10.0, burst_a=10.0)
    assert [b.used_pct for b in count_bursts(plain, 10.0, [(5.0, 9.0), (5.0, 10.1)])] == [0, np.inf]
