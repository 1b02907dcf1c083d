"""Thrust per watt and per ampere against the table's own columns and hand sums."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import NOTEBOOKS, power_law_table
from workbook.errors import InputError
from workbook.files.thrust_table_file import read_thrust_tables


def test_rows_come_back_as_the_table_prints_them() -> None:
    # tables/survey_motor.csv prints g/W from watts that are not yet rounded: one part in a hundred
    table = read_thrust_tables(NOTEBOOKS / "tables" / "survey_motor.csv").choose("15x5")
    cost = table.efficiency(table.thrust_gf, table.voltage_v)
    printed = [14.3, 13.6, 12.8, 11.9, 11.1, 10.3, 9.6, 9.0, 8.4, 7.9, 7.5, 7.1, 6.8, 6.4, 6.2, 5.9]
    assert cost.gf_per_w == pytest.approx(printed, rel=0.01)
    assert cost.current_a == pytest.approx(table.current_a, rel=0.02)


def test_watts_carry_over_and_amperes_go_as_one_over_volts() -> None:
    # by hand: the table has 110 W at 1000 gf and power as thrust^1.5
    cost = power_law_table().efficiency(1000.0, np.array([22.2, 11.1, 44.4]))
    assert cost.power_w == pytest.approx([110.0] * 3)
    assert cost.gf_per_w == pytest.approx([1000 / 110] * 3)
    assert cost.current_a == pytest.approx([110 / 22.2, 110 / 11.1, 110 / 44.4])
    assert cost.gf_per_a == pytest.approx(cost.gf_per_w * cost.voltage_v)


def test_momentum_theory_gives_less_per_watt_at_more_thrust() -> None:
    # power as T^1.5: thrust per watt goes as T^-0.5, so four times the thrust gives half of it
    cost = power_law_table().efficiency(np.array([500.0, 2000.0]), 22.2)
    assert cost.gf_per_w[1] == pytest.approx(cost.gf_per_w[0] / 2)
    found = power_law_table().best_row()
    assert found.at_first_row
    assert found.thrust_gf == 20.0


def test_outside_the_table_is_nan_in_arrays_and_stated_in_the_working() -> None:
    table = power_law_table()
    cost = table.efficiency(9000.0, 22.2)
    assert np.isnan(cost.power_w)
    with pytest.raises(InputError, match="outside the thrust table"):
        cost.steps()


def test_a_row_of_no_thrust_is_no_peak() -> None:
    table = read_thrust_tables(
        "Propeller,Thrust (g),Current (A),Voltage (V)\n"
        "10x4.5,0,0.2,14.8\n10x4.5,300,2.0,14.8\n10x4.5,600,5.3,14.8"
    ).tables[0]
    # by hand: 300 g / 29.6 W = 10.1; 600 g / 78.4 W = 7.6
    assert table.best_row().gf_per_w == pytest.approx(300 / 29.6, rel=1e-3)
    assert table.best_row().at_first_row
