"""How many cells to test, and what a sample says."""

import numpy as np
import pytest
from scipy import stats

import workbook as wb
from workbook.bench.sampling import (
    cells_to_test,
    chance_found,
    judge_sample,
)


@pytest.mark.parametrize(("batch", "bad"), [(6, 2), (20, 4), (50, 5), (200, 10)])
def test_the_chance_is_the_hypergeometric_distributions(batch, bad):
    for tested in range(batch + 1):
        none = stats.hypergeom(batch, bad, tested).pmf(0)  # scipy's own
        assert chance_found(batch, bad, tested) == pytest.approx(1.0 - none, abs=1e-12)


@pytest.mark.parametrize("batch", [1, 2, 7, 24, 60, 500])
@pytest.mark.parametrize("share", [0.05, 0.2, 0.5, 1.0])
def test_the_plan_finds_a_bad_delivery_and_one_cell_less_would_not(batch, share):
    tested = cells_to_test(batch, share)
    bad = max(1, int(np.ceil(share * batch - 1e-9)))
    assert stats.hypergeom(batch, bad, tested).pmf(0) <= 0.05
    assert tested == 0 or stats.hypergeom(batch, bad, tested - 1).pmf(0) > 0.05


def test_a_larger_delivery_of_the_same_badness_asks_for_more_and_never_beyond_a_limit():
    plans = [cells_to_test(batch) for batch in (10, 20, 50, 100, 1000)]
    assert plans == sorted(plans)
    # without end: 1 - 0.8^n of at least 0.95 asks for 14
    assert cells_to_test(100_000) == 14


def test_what_cannot_be_is_refused():
    for arguments in ((0, 0, 0), (5, 6, 1), (5, 1, 6)):
        with pytest.raises(wb.InputError, match="is not possible"):
            chance_found(*arguments)
    for plan in ((0,), (24, 0.0), (24, 1.2), (24, np.nan), (24, 0.2, -1)):
        with pytest.raises(wb.InputError, match="is not possible"):
            wb.sampling_plan(*plan)


def test_a_plan_says_how_many_may_be_bad():
    plan = wb.sampling_plan(24, 0.2, 10)
    may_be = plan.most_bad(0)
    # Clopper and Pearson with scipy's own distribution: the most with which none in ten still comes 5 times in 100
    assert (
        stats.hypergeom(24, may_be, 10).pmf(0) >= 0.05 > stats.hypergeom(24, may_be + 1, 10).pmf(0)
    )


def test_the_interval_is_students():
    values = [3.41, 3.44, 3.39, 3.47, 3.42, 3.40]
    found = judge_sample(values)
    low, high = stats.t.interval(0.95, 5, np.mean(values), stats.sem(values))  # scipy's own
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-12)


def test_one_cell_says_nothing_of_the_rest():
    one = judge_sample([3.1])
    assert one.mean == 3.1
    assert np.isnan([one.low, one.high]).all()


def test_the_interval_covers_the_truth_in_95_of_100():
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(2000):
        found = judge_sample(rng.normal(3.45, 0.03, 8))
        inside += found.low <= 3.45 <= found.high
    assert 0.94 <= inside / 2000 <= 0.96
