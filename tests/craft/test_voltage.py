"""Carrying a table to another voltage: hand cases, edges, and what the two drives agree on."""

from dataclasses import replace

import numpy as np
import pytest

from tests.published.measured_propellers import SLOW_FLY_10X47, bench_table
from workbook.craft.motor import Motor, run
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.voltage import MotorDrive, TableDrive, drive_for

THRUST = np.array([200.0, 500.0, 1000.0, 1400.0])
BLANK = THRUST * np.nan
TABLE = ThrustTable(
    "m",
    "p",
    THRUST,
    THRUST / 150,
    np.array([22.2, 22.1, 22.0, 21.8]),
    THRUST * 0.148,
    np.array([25.0, 45.0, 75.0, 100.0]),
    BLANK,
    (2, 3, 4, 5),
    "bench.csv",
)
NO_THROTTLE = ThrustTable(
    "m", "p", THRUST, THRUST / 150, THRUST * 0 + 22.2, THRUST * 0.148, BLANK, BLANK
)
BENCH = bench_table(Motor(920.0, 96.0, 0.6), 7.57, np.array([30.0, 40, 50, 60, 70, 80, 90, 100]))


def test_the_rule_by_hand():
    # the last row at 0.8 of its voltage: thrust x 0.8^1.8 = 0.66925, power x 0.8^2.7 = 0.54748
    full = TableDrive(TABLE).full_throttle(0.8 * 21.8)
    assert float(full.thrust_gf) == pytest.approx(1400 * 0.66925, rel=1e-4)
    assert float(full.power_w) == pytest.approx(
        1400 * 0.66925 * 0.148, rel=1e-4
    )  # the table's own, at that thrust
    assert float(full.current_a) == pytest.approx(float(full.power_w) / (0.8 * 21.8))


def test_at_the_tables_own_voltage_the_rows_come_back():
    found = TableDrive(TABLE).at_throttle(TABLE.throttle_pct, TABLE.voltage_v)
    np.testing.assert_allclose(found.thrust_gf, TABLE.thrust_gf, rtol=1e-12)
    np.testing.assert_allclose(found.power_w, TABLE.power_w, rtol=1e-12)
    back = TableDrive(TABLE).throttle_for_thrust(TABLE.thrust_gf, TABLE.voltage_v)
    np.testing.assert_allclose(back, TABLE.throttle_pct, rtol=1e-9)


@pytest.mark.parametrize("drive", [TableDrive(TABLE), drive_for(BENCH)], ids=["table", "motor"])
def test_edges_are_infinite_above_and_unknown_below_or_outside(drive):
    full = float(drive.full_throttle(7.0).thrust_gf)
    assert drive.throttle_for_thrust(full * 1.01, 7.0) == np.inf
    assert float(drive.throttle_for_thrust(full, 7.0)) == pytest.approx(100)
    assert np.isnan(drive.throttle_for_thrust(np.nan, 7.0))
    assert np.isnan(drive.at_throttle(101.0, 7.0).thrust_gf)
    assert np.isnan(drive.at_throttle(np.nan, 7.0).power_w)


def test_equal_thrust_costs_the_tables_watts_and_thin_air_one_over_root_density():
    drive = TableDrive(TABLE)
    at_sea = drive.power_at_thrust(700.0)
    assert float(at_sea) == pytest.approx(float(TABLE.power_at_thrust(700.0)))
    assert float(drive.power_at_thrust(700.0, 0.81) / at_sea) == pytest.approx(1 / 0.9)


def test_a_table_without_throttle_tells_neither_full_throttle_nor_any_other():
    drive = drive_for(NO_THROTTLE)
    assert np.isnan(drive.full_throttle(22.2).thrust_gf)
    assert np.isnan(drive.at_throttle(50.0, 22.2).power_w)
    assert np.isnan(drive.throttle_for_thrust(500.0, 22.2))
    assert np.isnan(drive.at_power(74.0, 22.2).throttle_pct)
    assert float(drive.power_at_thrust(500.0)) == pytest.approx(74.0)


def test_a_table_that_ends_at_70_percent_does_not_stand_for_full_throttle():
    short = replace(TABLE, throttle_pct=np.array([20.0, 35.0, 55.0, 70.0]))
    drive = TableDrive(short)
    assert np.isnan(drive.full_throttle(21.8).thrust_gf)
    assert float(drive.at_throttle(70.0, 21.8).thrust_gf) == pytest.approx(1400)
    assert np.isnan(drive.throttle_for_thrust(1500.0, 21.8))
    nearly = replace(TABLE, throttle_pct=np.array([20.0, 45.0, 75.0, 99.0]))  # rounded
    assert float(TableDrive(nearly).full_throttle(21.8).thrust_gf) == pytest.approx(1400)


def test_the_identified_motor_goes_on_to_full_throttle():
    """A run of 30 to 70 % of the known motor, its throttle the duty: 100 % within 6 % of that motor."""
    motor = Motor(920.0, 96.0, 0.6)
    drive = drive_for(bench_table(motor, 7.57, np.array([30.0, 40, 50, 60, 70])))
    assert isinstance(drive, MotorDrive)
    found, truth = drive.full_throttle(7.57), run(motor, SLOW_FLY_10X47, 7.57)
    assert float(found.thrust_gf) == pytest.approx(float(truth.thrust_gf), rel=0.06)
    assert float(found.power_w) == pytest.approx(float(truth.power_w), rel=0.06)


def test_a_throttle_that_is_not_duty_and_ends_early_identifies_no_motor():
    throttle = np.array([30.0, 40, 50, 60, 70])
    table = bench_table(Motor(920.0, 96.0, 0.6), 7.57, throttle, (throttle / 100) ** 1.4, "920KV")
    drive = drive_for(table)
    assert isinstance(drive, TableDrive)
    assert "no row is at full throttle" in drive.basis
    assert np.isnan(drive.full_throttle(7.57).thrust_gf)


def test_which_drive_and_why():
    assert isinstance(drive_for(TABLE), TableDrive)
    assert "approximation" in drive_for(TABLE).basis
    assert isinstance(drive_for(BENCH), MotorDrive)
    assert "identified" in drive_for(BENCH).basis
    nameless = ThrustTable(
        "m",
        "two-blade",
        BENCH.thrust_gf,
        BENCH.current_a,
        BENCH.voltage_v,
        BENCH.power_w,
        BENCH.throttle_pct,
        BENCH.speed_rpm,
    )
    assert isinstance(drive_for(nameless), TableDrive)
    assert "does not state its diameter" in drive_for(nameless).basis
    coarse = replace(
        BENCH,
        **{
            name: getattr(BENCH, name)[::3]
            for name in (
                "thrust_gf",
                "current_a",
                "voltage_v",
                "power_w",
                "throttle_pct",
                "speed_rpm",
            )
        },
    )
    assert isinstance(drive_for(coarse), TableDrive)
    assert "speed in fewer than four rows, carried" in drive_for(coarse).basis


def test_the_motor_model_gives_back_the_rows_it_came_from():
    drive = drive_for(BENCH)
    np.testing.assert_allclose(drive.power_at_thrust(BENCH.thrust_gf), BENCH.power_w, rtol=0.03)
    found = drive.at_throttle(BENCH.throttle_pct, BENCH.voltage_v)
    np.testing.assert_allclose(found.thrust_gf, BENCH.thrust_gf, rtol=0.02)
    throttle = drive.throttle_for_thrust(found.thrust_gf, BENCH.voltage_v)
    np.testing.assert_allclose(throttle, BENCH.throttle_pct, rtol=1e-6)


def test_a_scalar_and_an_array_run_the_same_code():
    for drive in (TableDrive(TABLE), drive_for(BENCH)):
        volts = np.linspace(6.0, 8.0, 5)
        together = drive.full_throttle(volts, 0.9).thrust_gf
        alone = [float(drive.full_throttle(v, 0.9).thrust_gf) for v in volts]
        np.testing.assert_allclose(together, alone, rtol=1e-10)
        assert drive.at_throttle(np.full((3, 1), 50.0), volts).power_w.shape == (3, 5)


EACH_DRIVE = pytest.mark.parametrize(
    "drive", [TableDrive(TABLE), drive_for(BENCH)], ids=["table", "motor"]
)


@EACH_DRIVE
@pytest.mark.parametrize("throttle_pct", [None, 60.0, np.array([45.0, 80.0, 100.0])])
def test_the_voltage_that_a_motor_settles_at_is_the_supplys_under_its_watts(drive, throttle_pct):
    """The supply: rest_v behind a resistance, V = rest_v - I R, with the motor's watts at that V asked anew."""
    rest_v, ohm = np.array([6.0, 8.0, 12.0]), 0.05

    def left_v(voltage, watts):
        return rest_v - watts / voltage * ohm - voltage

    voltage, point = drive.settled(throttle_pct, left_v, rest_v, 0.9)
    asked = (
        drive.full_throttle(voltage, 0.9)
        if throttle_pct is None
        else drive.at_throttle(throttle_pct, voltage, 0.9)
    )
    np.testing.assert_allclose(voltage, rest_v - asked.power_w / voltage * ohm, rtol=1e-11)
    for name in ("throttle_pct", "thrust_gf", "power_w", "current_a"):
        np.testing.assert_allclose(getattr(point, name), getattr(asked, name), rtol=1e-10)


@EACH_DRIVE
@pytest.mark.parametrize("throttle_pct", [None, 60.0])
def test_the_voltage_for_a_thrust_gives_that_thrust(drive, throttle_pct):
    thrust_gf = np.array([210.0, 390.0])
    voltage = drive.voltage_for_thrust(throttle_pct, thrust_gf, 0.9)
    full = 100.0 if throttle_pct is None else throttle_pct
    np.testing.assert_allclose(drive.at_throttle(full, voltage, 0.9).thrust_gf, thrust_gf, 1e-9)


@EACH_DRIVE
def test_a_throttle_that_is_not_known_settles_nowhere(drive):
    voltage, point = drive.settled(101.0, lambda v, w: 8.0 - w / v * 0.05 - v, np.asarray(8.0))
    assert np.isnan(voltage)
    assert np.isnan(point.thrust_gf)
