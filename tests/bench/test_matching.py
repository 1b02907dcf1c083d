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
    assert got.weakest_ah > 0.999 * matching.weakest_bound_ah(capacity, series, parallel)
    _, dealt, mixed = matching.three_ways(capacity, got, lambda ah: ah)
    assert dealt.gain_ah >= -1e-9
    assert mixed.gain_ah > 0


def test_one_cell_a_group_takes_the_best_cells():
    got = matching.match([2.9, 3.1, 3.0, 2.8, 3.2], 4, 1)
    assert got.left_out.tolist() == [3]
    assert got.weakest_ah == 2.9
    assert matching.weakest_bound_ah([2.9, 3.1, 3.0, 2.8, 3.2], 4, 1) == pytest.approx(2.9)


def test_one_group_takes_the_best_cells():
    got = matching.match([2.9, 3.1, 3.0, 2.8, 3.2], 1, 3)
    assert got.weakest_ah == pytest.approx(9.3)


def test_one_group_of_all_there_is():
    got = matching.match(np.array([4.6, 4.5, 4.7]), 1, 3)
    assert sorted(got.groups[0]) == [0, 1, 2]
    assert got.exact


def test_resistance_is_evened_without_loss_of_charge():
    capacity, resistance = bought(48, seed=4)
    blind = matching.match(capacity, 6, 8)
    seeing = matching.match(capacity, 6, 8, resistance)
    assert seeing.weakest_ah >= blind.weakest_ah - 1e-9
    assert seeing.spread_ah <= blind.spread_ah + 1e-9
    before, after = (resistance[dealt.groups] for dealt in (blind, seeing))
    assert (after.max(axis=1) / after.min(axis=1)).mean() < (
        before.max(axis=1) / before.min(axis=1)
    ).mean()


def test_equal_capacities_sort_by_resistance():
    # with every capacity equal, resistance alone decides: the two kinds must not be mixed
    resistance = np.array([20.0, 30.0, 20.0, 30.0, 20.0, 30.0])
    got = matching.match(np.full(6, 3.0), 2, 3, resistance)
    assert np.ptp(resistance[got.groups], axis=1).tolist() == [0.0, 0.0]


@pytest.mark.parametrize(("series", "parallel"), [(1, 3), (3, 1), (2, 2)])
def test_small_packs_with_resistances(series, parallel):
    capacity, resistance = bought(6)
    got = matching.match(capacity, series, parallel, resistance)
    assert got.groups.shape == (series, parallel)


def test_minutes_gained_over_other_ways():
    capacity, _ = bought(24)
    got = matching.match(capacity, 6, 4)
    matched, *others = matching.three_ways(capacity, got, lambda ah: 2.5 * ah)
    assert (matched.weakest_ah, matched.gain_min, matched.gain_ah) == (got.weakest_ah, 0.0, 0.0)
    dealt_ah = capacity[matching.sorted_deal(capacity, 6, 4)].sum(axis=1).min()
    mixed_ah = matching.random_weakest_ah(capacity, 6, 4)
    assert [way.weakest_ah for way in others] == pytest.approx([dealt_ah, mixed_ah])
    for way in others:
        assert way.gain_ah == pytest.approx(got.weakest_ah - way.weakest_ah)
        assert way.gain_min == pytest.approx(2.5 * way.gain_ah)


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


def test_weakest_group_by_hand() -> None:
    steps = matching.weakest_steps([(4.7, 4.8, 4.9), (4.6, 4.9, 4.8)])
    assert [s.result for s in steps] == pytest.approx([14.4, 14.3, 14.3])
