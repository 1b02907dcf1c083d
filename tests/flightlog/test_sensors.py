"""The sensors of a log, checked by charger and meter."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.errors import InputError
from workbook.flightlog.log import FlightLog
from workbook.flightlog.sensors import check_sensors

TIME = np.arange(0.0, 1801.0)
LOG = FlightLog("made", TIME, np.full(1801, 24.0), np.full(1801, 12.0))
"""Half an hour at 12 A: 6 Ah by the log."""


def test_what_was_put_back_scales_the_current() -> None:
    found = check_sensors(LOG, put_back_ah=6.6, charge_share_pct=98.0)
    assert found.current_scale == pytest.approx(6.6 * 0.98 / 6.0)  # true charge over the logged one
    assert found.current_off_pct == pytest.approx(np.hypot(3.0, 1.5))
    assert found.applied(LOG).current_a[0] == pytest.approx(12.0 * 1.078)
    assert "multiply its scale (amperes per volt) by 1.078" in found.text()
    assert found.readings().current_pct == found.current_off_pct
    assert found.readings().voltage_pct == 1.0  # as it was: not checked


def test_a_meter_scales_the_voltage() -> None:
    found = check_sensors(LOG, meter_v=23.52, meter_at_s=100.0)
    assert found.voltage_scale == pytest.approx(0.98)
    assert "The voltage reads 2.0 % high" in found.text()
    assert "by 0.980" in found.text()


def test_what_is_as_near_as_the_check_can_tell_is_left() -> None:
    found = check_sensors(LOG, put_back_ah=6.2)
    assert "leave it" in found.text()


def test_a_scale_that_is_far_off_is_doubted() -> None:
    found = check_sensors(LOG, put_back_ah=9.0)
    assert "was the pack full before and after" in found.text()


def test_nothing_to_check_by_is_reported() -> None:
    with pytest.raises(InputError, match="nothing to check by"):
        check_sensors(LOG)
    with pytest.raises(InputError, match=r"-1 is not possible; 0\.01 to 500 Ah"):
        check_sensors(LOG, put_back_ah=-1.0)
    with pytest.raises(InputError, match="980 is not possible; 80 to 100 %"):
        check_sensors(LOG, put_back_ah=6.0, charge_share_pct=980.0)
    with pytest.raises(InputError, match="nothing is logged at 9999 s"):
        check_sensors(LOG, meter_v=24.0, meter_at_s=9999.0)
