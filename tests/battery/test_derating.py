"""Cold factors against measured rows and the form they are said to have; ageing within the trade's."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.derating import (
    age,
    capacity_at_temperature,
    cycles_to_retire,
    resistance_at_temperature,
)
from workbook.battery.discharge import constant_power
from workbook.files.cell_file import find_cell


def test_capacity_is_that_of_a_measured_cell() -> None:
    """A 5 Ah 21700 at 1 It to 2.5 V: 4.2849, 4.5162, 4.7825, 4.9120 Ah at 0, 10, 25, 45 C (open tests)."""
    measured = np.array([4.2849, 4.5162, 4.7825, 4.9120]) / 4.7825
    assert capacity_at_temperature([0.0, 10.0, 25.0, 45.0]) == pytest.approx(measured, abs=6e-4)


def test_capacity_stays_above_what_the_standard_asks() -> None:
    """IEC 61960-3: at least 30 % at 0.2 It and -20 C (from memory); and it never rises in the cold."""
    temperatures = np.linspace(-30.0, 60.0, 91)
    factors = capacity_at_temperature(temperatures)
    assert factors.min() > 0.3
    assert (np.diff(factors) >= 0).all()


def test_resistance_has_the_arrhenius_form() -> None:
    """ln R is straight over 1/T with slope E / 8.314 J/mol/K, E = 20 kJ/mol."""
    celsius = np.array([-20.0, 0.0, 25.0, 50.0])
    slope, at_zero = np.polyfit(
        1.0 / (celsius + 273.15), np.log(resistance_at_temperature(celsius)), 1
    )
    assert slope == pytest.approx(20000.0 / 8.314462618)
    assert at_zero == pytest.approx(-slope / 298.15)


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


def test_arrays_broadcast_and_nothing_goes_below_nothing():
    aged = age(np.array([[0.0], [100.0], [1e6]]), np.array([0.0, 1.0]))
    assert aged.capacity_factor.shape == (3, 2)
    assert aged.capacity_factor[2].tolist() == [0.0, 0.0]


def test_age_goes_straight_into_a_discharge():
    """An aged cell flies shorter, by more than its capacity alone, because it also sags more."""
    model = find_cell("Bittern").model
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
