"""What any craft has, and hover by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import power_law_table
from tests.craft.flown import SIX, TABLE, WING
from workbook.errors import InputError


def test_all_up_mass_is_craft_payload_and_pack():
    packs_g = np.array([0.0, 800.0])
    assert SIX.all_up_mass_g(packs_g).tolist() == [2450.0, 3250.0]
    assert WING.craft.all_up_mass_g(650.0) == 2500.0


def test_hover_by_hand():
    # six motors, 3600 g: 600 gf each; 100 W at 900 gf and power as thrust^1.5
    motor_w = 100 * (600 / 900) ** 1.5
    asked = SIX.hover(3600.0)
    assert asked.thrust_per_motor_gf == 600.0
    assert asked.power_per_motor_w == pytest.approx(motor_w)
    assert asked.power_w == pytest.approx(6 * motor_w * 1.1 + 12)
    assert asked.efficiency_gf_w == pytest.approx(600 / motor_w)
    assert asked.thrust_to_weight == pytest.approx(6 * 2200 / 3600)
    assert [TABLE.thrust_gf[k] for k in asked.rows()] == [300.0, 600.0]
    assert [s.result for s in asked.steps()][-1] == pytest.approx(asked.power_w)


def test_thin_air_costs_one_over_root_density():
    assert SIX.hover(3600.0, 0.81).motors_w == pytest.approx(SIX.hover(3600.0).motors_w / 0.9)


def test_outside_the_table_is_nan_and_has_no_working():
    asked = SIX.hover(np.array([290.0, 3600.0, 90_000.0]))
    assert np.isnan(asked.power_w).tolist() == [True, False, True]
    with pytest.raises(InputError, match="outside the thrust table"):
        SIX.hover(90_000.0).steps()


def test_just_below_the_first_row_power_goes_on_as_momentum_theory_has_it():
    # 360 g on six rotors: 60 gf each, 0.6 of the first row's 100 gf
    asked = SIX.hover(360.0)
    assert asked.power_per_motor_w == pytest.approx(TABLE.power_w[0] * 0.6**1.5)
    assert "below the first row" in asked.steps()[2].text()
    assert TABLE.below_rows(np.array([49.9, 50.0, 99.9, 100.0])).tolist() == [
        False,
        True,
        True,
        False,
    ]
    assert np.isnan(TABLE.power_at_thrust(49.9))


def test_a_changed_craft_is_a_new_one():
    other = replace(SIX, rotors=8, table=power_law_table())
    assert (SIX.rotors, other.rotors) == (6, 8)
    assert WING.craft.drive_efficiency == pytest.approx(0.6 * 0.78)
