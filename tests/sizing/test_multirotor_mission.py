"""A multirotor as a mission flies it: airspeeds and power."""

from __future__ import annotations

import pytest

from tests.sizing.multirotors import six
from workbook.craft.flight_power import MultirotorPower
from workbook.errors import InputError
from workbook.sizing.multirotor import MultirotorType
from workbook.sizing.size import size


def test_a_mission_climbs_on_the_spot_and_asks_for_any_other_airspeed() -> None:
    point = size(six()).point
    model = MultirotorType().mission_model(point)
    assert model.airspeed_m_s("climb") == 0.0
    with pytest.raises(
        InputError, match="airspeed_m_s is missing; a multirotor needs it for cruise"
    ):
        model.airspeed_m_s("cruise")
    power = model.power
    assert isinstance(power, MultirotorPower)
    assert power.flight_w(float(point.all_up_mass_g)) == pytest.approx(float(point.power_w))
    top = point.full.full_throttle
    assert power.launch_w(3000.0) == pytest.approx(float(top.cell_a * top.cell_v) * 18)
