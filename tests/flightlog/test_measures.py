"""Figures of a flight out of its log, where the answer is known by hand."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.flightlog.log import FlightLog
from workbook.flightlog.measures import measure_log, measure_slip
from workbook.flightlog.phases import find_phases
from workbook.flightlog.slip import ChargerSlip
from workbook.sizing.calibration import Readings
from workbook.sizing.design import Design

TIME = np.arange(0.0, 700.0, 0.5)
AIR = (TIME >= 50.0) & (TIME < 650.0)
AMPS = np.where(AIR, 20.0, 14.0 / 24.0)
LOG = FlightLog("made", TIME, np.full(len(TIME), 24.0), AMPS)
"""Ten minutes at 24 V and 20 A: 480 W, 80 Wh, 3.33 Ah; on the ground the electronics' 14 W."""


def test_energy_charge_and_power_by_hand(census_six: Design) -> None:
    found = measure_log(LOG, find_phases(LOG), census_six, Readings())
    assert found.minutes.value == pytest.approx(10.0, abs=0.05)
    assert found.energy_wh.value == pytest.approx(80.0, rel=0.005)
    assert found.charge_ah.value == pytest.approx(20.0 / 6.0, rel=0.005)
    assert found.steady_power_w.value == pytest.approx(480.0)
    assert found.peak_a.value == pytest.approx(20.0)
    assert found.rest_power_w.value == pytest.approx(14.0)
    assert found.landing_cell_v.value == pytest.approx(4.0)
    assert found.gain_pct == pytest.approx(np.hypot(4.0, 1.0))


def test_a_gap_makes_the_energy_less_sure_and_not_less(census_six: Design) -> None:
    rng = np.random.default_rng(1)
    swung = FlightLog(
        "made", TIME, LOG.voltage_v, AMPS + np.where(AIR, rng.normal(0, 2, len(TIME)), 0)
    )
    may = Readings(current_pct=0.1, voltage_pct=0.1)
    gap = swung.kept((TIME < 200) | (TIME > 320))
    whole, less = (
        measure_log(log, find_phases(log), census_six, may).energy_wh for log in (swung, gap)
    )
    # a fifth of the flight was not logged; its swing of 10 % averages out over the rest
    assert less.value == pytest.approx(whole.value, rel=0.02)
    assert less.uncertainty > 1.2 * whole.uncertainty


def test_a_zero_that_is_off_is_taken_out(census_six: Design) -> None:
    off = FlightLog("made", TIME, LOG.voltage_v, AMPS + 1.2)
    found = measure_log(off, find_phases(off), census_six, Readings())
    assert found.steady_power_w.value == pytest.approx(480.0, rel=0.002)
    assert found.log is not None
    assert found.log.findings[-1].kind == "zero offset"
    assert "+1.20 A was taken for the sensor's zero" in found.log.findings[-1].text


def test_a_slip_by_hand(census_six: Design) -> None:
    found = measure_slip(ChargerSlip(10.0, 3.5), census_six, Readings())
    assert found.charge_ah.value == pytest.approx(3.43)  # 98 % of 3.5
    # 3.43 Ah at some 23.5 V of a pack that sags from 25.2 V
    assert found.energy_wh.value == pytest.approx(3.43 * 23.5, rel=0.03)
    assert found.steady_power_w.value == pytest.approx(found.energy_wh.value * 6.0)
    assert found.fit is None


def test_the_plans_own_steady_flight_is_what_counts(census_six: Design) -> None:
    """Five minutes of hover at 20 A and five of cruise at 18 A: of a multirotor the hover is the steady flight."""
    cruise = AIR & (TIME >= 350.0)
    log = FlightLog(
        "made",
        TIME,
        LOG.voltage_v,
        np.where(cruise, 18.0, AMPS),
        speed_m_s=np.where(cruise, 8.0, 0.0),
    )
    found = measure_log(log, find_phases(log), census_six, Readings())
    assert found.steady_power_w.value == pytest.approx(480.0, rel=0.005)
    assert found.mean_power_w.value == pytest.approx(456.0, rel=0.01)
