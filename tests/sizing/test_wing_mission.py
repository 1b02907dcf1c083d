"""A fixed wing as a mission flies it: airspeeds and power."""

from __future__ import annotations

import pytest

from tests.sizing.wings import wing
from workbook.craft.flight_power import WingPower
from workbook.sizing.fixed_wing import FixedWingType
from workbook.sizing.size import size


def test_a_mission_flies_slowly_in_loiter_and_launches_at_full_throttle() -> None:
    point = size(wing()).point
    model = FixedWingType().mission_model(point)
    assert model.airspeed_m_s("loiter") == float(point.climb_speed_m_s)
    assert model.airspeed_m_s("cruise") == float(point.cruise_m_s)
    power = model.power
    assert isinstance(power, WingPower)
    assert power.launch_w(2000.0) == pytest.approx(float(point.full.full_throttle.power_w))
