"""Matching: what comes back, larger cases, resistance, gains, refusals."""

import numpy as np
import pytest

from workbook.bench import matching
from workbook.errors import InputError


def bought(cells, seed=0):
    rng = np.random.default_rng(seed)
    return np.round(rng.normal(3.0, 0.04, cells), 3), np.round(rng.normal(25, 2, cells), 1)


@pytest.mark.parametrize(("cells", "series", "parallel"), [(220, 14, 14), (66, 6, 10), (40, 12, 3)])
def test_larger_cases_are_near_the_bound(cells, series, parallel):
    capacity, resistance = bought(cells)
    got = matching.match(capacity, series, parallel, resistance)
    assert got.groups.shape == (series, parallel)
    everyone = np.sort(np.r_[got.groups.ravel(), got.left_out])
    np.testing.assert_array_equal(everyone, np.arange(cells))
    np.testing.assert_allclose(got.group_ah, capacity[got.groups].sum(axis=1))
    # the bound is the mean group of the best cells, worked out here
    mean = np.sort(capacity)[::-1][: series * parallel].sum() / series
    assert got.weakest_ah <= mean + 1e-9
    assert got.below_bound_pct < 0.1
    assert got.weakest_ah >= got.sorted_ah - 1e-9
    assert got.gain_over_random_ah > 0


def test_one_cell_a_group_takes_the_best_cells():
    got = matching.match([2.9, 3.1, 3.0, 2.8, 3.2], 4, 1)
    assert got.left_out.tolist() == [3]
    assert got.weakest_ah == 2.9
    assert got.bound_ah == pytest.approx(2.9)


def test_one_group_takes_the_best_cells():
    got = matching.match([2.9, 3.1, 3.0, 2.8, 3.2], 1, 3)
    assert got.weakest_ah == pytest.approx(9.3)


def test_resistance_is_evened_without_loss_of_charge():
    capacity, resistance = bought(48, seed=4)
    blind = matching.match(capacity, 6, 8)
    seeing = matching.match(capacity, 6, 8, resistance)
    assert seeing.weakest_ah >= blind.weakest_ah - 1e-9
    assert seeing.spread_ah <= blind.spread_ah + 1e-9
    inside = resistance[blind.groups]
    before = (100 * (inside.max(axis=1) / inside.min(axis=1) - 1)).mean()
    assert seeing.group_resistance_spread_pct.mean() < before
    # a slack lets it go further, and no further than the slack
    loose = matching.match(capacity, 6, 8, resistance, slack_ah=0.02)
    assert loose.group_resistance_spread_pct.mean() < seeing.group_resistance_spread_pct.mean()
    assert loose.weakest_ah >= seeing.weakest_ah - 0.02 - 1e-9
    assert not loose.exact


def test_equal_capacities_sort_by_resistance():
    # with every capacity equal, resistance alone decides: the two kinds must not be mixed
    resistance = np.array([20.0, 30.0, 20.0, 30.0, 20.0, 30.0])
    got = matching.match(np.full(6, 3.0), 2, 3, resistance)
    np.testing.assert_allclose(got.group_resistance_spread_pct, 0.0)


def test_rounds_hold_every_pair_once():
    for series in (2, 3, 6, 7):
        pairs = [
            tuple(sorted((int(x), int(y))))
            for a, b in matching._rounds(series)
            for x, y in zip(a, b, strict=True)
        ]
        assert len(pairs) == len(set(pairs)) == series * (series - 1) // 2


def test_minutes_by_proportion_and_by_function():
    capacity, _ = bought(24)
    by_number = matching.match(capacity, 6, 4, minutes_per_ah=2.5)
    by_call = matching.match(capacity, 6, 4, minutes_per_ah=lambda ah: 2.5 * ah)
    assert by_number.gain_over_random_min == pytest.approx(2.5 * by_number.gain_over_random_ah)
    assert by_call.gain_over_sorted_min == pytest.approx(2.5 * by_call.gain_over_sorted_ah)
    assert matching.match(capacity, 6, 4).gain_over_random_min is None


def test_random_mean_against_every_way():
    # 4 cells as 2 pairs: 3 ways, weakest 5.5, 5.6, 5.7, mean 5.6
    got = matching.random_weakest_ah([3.0, 2.9, 2.8, 2.7], 2, 2, deals=20000)
    assert got == pytest.approx(5.6, abs=0.003)


def test_same_seed_same_groups():
    capacity, resistance = bought(30)
    first = matching.match(capacity, 6, 4, resistance)
    again = matching.match(capacity, 6, 4, resistance)
    np.testing.assert_array_equal(first.groups, again.groups)


def test_refusals_name_each_cell():
    with pytest.raises(InputError) as error:
        matching.match([3.0, np.nan, 2.9, -1.0], 2, 2, [20.0, 21.0, 0.0, 22.0])
    assert [p.where for p in error.value.problems] == ["cell 2", "cell 4", "cell 3"]
    with pytest.raises(InputError, match="3 cells are measured; 2 groups of 2 need 4"):
        matching.match([3.0, 3.0, 3.0], 2, 2)
    with pytest.raises(InputError, match="series is 0"):
        matching.match([3.0, 3.0, 3.0], 0, 2)
    with pytest.raises(InputError, match="2 resistances for 4 cells"):
        matching.match([3.0] * 4, 2, 2, [20.0, 20.0])
