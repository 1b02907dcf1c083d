"""How long flights last, how lines add up, and the working of a budget."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import NOTEBOOKS
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sizing.budget import margin_budget
from workbook.sizing.budget_lines import STANDARD_LINES
from workbook.sizing.budget_views import (
    budget_steps,
    compounded_pct,
    lasting,
    lasting_of,
    together,
)


@pytest.fixture(scope="module")
def budget():
    design = read_design(NOTEBOOKS / "designs" / "survey_six.toml").design
    return margin_budget(design, draws=2048)


def test_shares_of_draws_against_counting(budget):
    found = lasting(budget, 40)
    times = budget.samples["endurance_min"]
    # by counting the draws that last at least so long
    counted = [100.0 * np.mean(times >= t) for t in found.time_min]
    assert found.share_pct == pytest.approx(counted)
    assert found.share_pct[0] == 100.0
    assert (np.diff(found.share_pct) < 0).all()
    assert (np.diff(found.time_min) >= 0).all()


def test_draws_that_do_not_fly_last_no_time():
    found = lasting_of(np.array([np.nan, 10.0, np.nan, 20.0]), 2)
    assert found.share_pct.tolist() == [50.0, 25.0]  # two of four, one of four
    with pytest.raises(InputError, match="cannot be told in any draw"):
        lasting_of(np.full(3, np.nan))


def test_root_sum_square_against_drawn_sums():
    # three independent normal sources of 3, 2 and 1: the spread of a million sums
    rng = np.random.default_rng(5)
    drawn = sum(s * rng.standard_normal(1_000_000) for s in (3.0, 2.0, 1.0))
    assert float(together([3.0, 2.0, 1.0])) == pytest.approx(np.std(drawn), rel=3e-3)
    assert together([np.array([3.0, 6.0]), 4.0]) == pytest.approx([5.0, np.sqrt(52.0)])


def test_shares_compound():
    assert float(compounded_pct([10.0, 15.0, 8.0])) == pytest.approx(36.62)  # 1.1 x 1.15 x 1.08
    assert float(compounded_pct([])) == 0.0
    assert float(compounded_pct([50.0, -50.0])) == pytest.approx(-25.0)


def test_the_working_agrees_with_the_readings(budget):
    steps = {s.key: s for s in budget_steps(budget)}
    time = budget.reading("endurance_min")
    assert steps["endurance_plan_min"].result == time.plan
    assert steps["endurance_expected_min"].result == time.expected
    assert steps["endurance_worst_min"].result == time.worst
    assert steps["endurance_p05_min"].result == time.p05
    assert steps["endurance_spread_min"].result == pytest.approx(time.p95 - time.p05)
    assert steps["met_pct"].result == pytest.approx(100 * budget.met_share)
    # wind 5 % and climb 3 % expected, by hand: 1.05 x 1.03
    assert steps["power_factor"].result == pytest.approx(1.05 * 1.03)
    assert steps["power_factor"].numbers == "(1 + 5 %) x (1 + 3 %)"
    # 50 cycles, spread 1 %, capacity -1 %; ageing by its own rate; the cold acts on the temperature
    ageing = next(e.gain for e in STANDARD_LINES[6].applies_to if e.figure == "capacity_factor")
    by_hand = (1 + 50 * ageing / 100) * 0.99 * 0.99
    assert steps["capacity_factor"].result == pytest.approx(by_hand)
    assert all(s.source for s in steps.values())
