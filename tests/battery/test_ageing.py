"""Ageing: the allowance does what it says and stays above the standard's floor."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.ageing import AgeingAllowance, age, cycles_to_retire
from workbook.battery.discharge import constant_power
from workbook.files.cell_file import find_cell


def test_a_fresh_cell_is_fresh():
    fresh = age(0)
    assert (fresh.capacity_factor, fresh.resistance_factor, fresh.retired) == (1.0, 1.0, False)


def test_default_lies_within_the_trade_and_above_the_standard():
    """80 % after 200 to 500 gentle cycles (common practice); at least 60 % after 400 cycles
    (IEC 61960-3, from memory)."""
    assert 200 <= cycles_to_retire(years=2.0) <= 500
    assert age(400).capacity_factor >= 0.6
    assert age(400).resistance_factor - 1 > 1 - age(400).capacity_factor  # resistance grows first


def test_by_hand():
    # 250 cycles at 5 % per 100 and 4 years at 3 % x sqrt(4): 12.5 + 6 = 18.5 % lost;
    # 12 % per 100 and 5 % x 2: 30 + 10 = 40 % grown
    aged = age(250, 4.0)
    assert aged.capacity_factor == pytest.approx(0.815)
    assert aged.resistance_factor == pytest.approx(1.40)
    assert not aged.retired


def test_retirement_meets_the_limit_it_names():
    for years in (0.0, 1.0, 4.0):
        cycles = cycles_to_retire(years)
        assert not age(cycles - 1, years).retired
        assert age(cycles + 1, years).retired
    assert cycles_to_retire(years=100.0) == 0.0  # 3 % x 10 is past 20 %
    still = AgeingAllowance(
        capacity_loss_pct_per_100_cycles=0.0, resistance_growth_pct_per_100_cycles=0.0
    )
    assert cycles_to_retire(1.0, still) == np.inf


def test_arrays_broadcast_and_nothing_goes_below_nothing():
    aged = age(np.array([[0.0], [100.0], [1e6]]), np.array([0.0, 1.0]))
    assert aged.capacity_factor.shape == (3, 2)
    assert aged.capacity_factor[2].tolist() == [0.0, 0.0]


def test_age_goes_straight_into_a_discharge():
    """An aged cell flies shorter, by more than its capacity alone, because it also sags more."""
    model = find_cell("Bittern 50E").model
    aged = age(np.array([0.0, 200.0]), 2.0)
    run = constant_power(
        model,
        25.0,
        3.0,
        resistance_factor=aged.resistance_factor,
        capacity_factor=aged.capacity_factor,
    )
    ratio = run.time_s[1] / run.time_s[0]
    assert ratio < aged.capacity_factor[1] / aged.capacity_factor[0]
