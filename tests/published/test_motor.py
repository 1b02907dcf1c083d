"""The first-order motor against printed rows, a root finder and a run held back."""

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.published.measured_propellers import SLOW_FLY_10X47, bench_table
from workbook.craft.motor import (
    Motor,
    Propeller,
    identify,
    run,
)
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.voltage import MotorDrive, TableDrive, drive_for
from workbook.errors import InputError

# 920 rpm/V, 96 mohm, 0.6 A: rows worked by hand from Drela, First-Order DC Electric Motor Model
# (2007): I = (V - n/KV)/R, Q = (I - I0)/KV
MOTOR = Motor(920.0, 96.0, 0.6)
ROWS = [
    # motor, rpm, Q, V, I, shaft W, electric W
    (MOTOR, 8000.0, 0.253734, 11.1, 25.04529, 212.567738, 278.002717),
    (MOTOR, 12291.2, 0.149467, 14.8, 15.0, 192.384, 222.0),
    (MOTOR, 6513.0, 0.21, 9.079206, 20.831857, 143.228351, 189.136720),
    (Motor(1000.0, 100.0, 0.4), 4700.0, 0.02482817, 5.0, 3.0, 12.22, 15.0),
]


@pytest.mark.parametrize(("motor", "rpm", "torque_nm", "volts", "amps", "shaft_w", "watts"), ROWS)
def test_first_order_motor_rows(motor, rpm, torque_nm, volts, amps, shaft_w, watts):
    point = motor.at_torque(rpm, torque_nm)
    found = [point.voltage_v, point.current_a, point.shaft_power_w, point.power_w]
    assert np.array(found) == pytest.approx([volts, amps, shaft_w, watts], rel=2e-5)


def test_a_hundred_motors_settle_where_a_root_finder_says():
    # reference: scipy.optimize.brentq on V = n/KV + R (I0 + KV Q(n)), the same propeller rows
    rng = np.random.default_rng(7)
    for _ in range(100):
        motor = Motor(rng.uniform(300, 1500), rng.uniform(20, 300), rng.uniform(0.1, 1.5))
        volts, duty = rng.uniform(5, 26), rng.uniform(0.2, 1.0)
        density = rng.uniform(0.8, 1.3)

        def gap(n, motor=motor, volts=volts, duty=duty, density=density):
            rpm = 60 * n
            c_p = np.interp(rpm, SLOW_FLY_10X47.speed_rpm, SLOW_FLY_10X47.power_coefficient)
            torque = c_p * density * n**2 * 0.254**5 / (2 * np.pi)
            kv_si = motor.kv_rpm_v * 2 * np.pi / 60
            current = motor.no_load_current_a + torque * kv_si
            back = rpm / motor.kv_rpm_v
            return duty * volts - back - motor.resistance_mohm / 1000 * current

        root = 60 * brentq(gap, 1e-6, motor.kv_rpm_v * volts / 60, xtol=1e-12, rtol=1e-14)
        found = run(motor, SLOW_FLY_10X47, volts, duty, density)
        assert float(found.speed_rpm) == pytest.approx(root, rel=1e-9)


# Motors chosen here so that the propeller runs at about 6000 rpm at full throttle; the voltage is
# that of the made table, sagging by up to 4 % as a bench supply does.
CHOSEN = [
    (Motor(920.0, 96.0, 0.6), 7.57),
    (Motor(700.0, 150.0, 0.4), 9.81),
    (Motor(900.0, 60.0, 1.0), 7.33),
    (Motor(1000.0, 180.0, 0.8), 8.16),
    (Motor(600.0, 250.0, 0.3), 11.76),
]
THROTTLE_PCT = np.array([30.0, 40, 50, 60, 70, 80, 90, 100])


@pytest.mark.parametrize(("motor", "volts"), CHOSEN)
@pytest.mark.parametrize("ratio", [0.75, 0.85, 1.1, 1.2])
def test_a_motor_identified_at_one_voltage_predicts_another(motor, volts, ratio):
    """Held against the true model: thrust within 3 %, current within 4 %."""
    supply = volts * (1 - 0.04 * (THROTTLE_PCT / 100) ** 2)
    drive = drive_for(bench_table(motor, supply, THROTTLE_PCT))
    assert isinstance(drive, MotorDrive)
    throttle = np.array([60.0, 100.0])
    found = drive.at_throttle(throttle, volts * ratio)
    truth = run(motor, SLOW_FLY_10X47, volts * ratio, throttle / 100)
    np.testing.assert_allclose(found.thrust_gf, truth.thrust_gf, rtol=0.03)
    np.testing.assert_allclose(found.current_a, truth.current_a, rtol=0.04)


@pytest.mark.parametrize(("motor", "volts"), CHOSEN)
def test_in_thin_air_too(motor, volts):
    drive = drive_for(bench_table(motor, volts, THROTTLE_PCT))
    found = drive.full_throttle(volts, 0.75)
    truth = run(motor, SLOW_FLY_10X47, volts, 1.0, 0.75 * 1.225)
    np.testing.assert_allclose(found.thrust_gf, truth.thrust_gf, rtol=0.03)
    np.testing.assert_allclose(found.current_a, truth.current_a, rtol=0.04)


def second_order_table(motor: Motor, volts: float, duty: np.ndarray, name: str) -> ThrustTable:
    """A bench table of the 10x4.7 whose motor's idle current rises with speed, rounded as makers round."""
    rows = [run(motor, SLOW_FLY_10X47, volts, share) for share in duty]
    thrust, current, speed = (
        np.array([float(getattr(row, name)) for row in rows])
        for name in ("thrust_gf", "current_a", "speed_rpm")
    )
    supply, current = np.full(len(duty), volts), current.round(2)
    return ThrustTable(
        name,
        "10x4.7",
        thrust.round(0),
        current,
        supply,
        (current * supply).round(1),
        THROTTLE_PCT,
        speed.round(-1),
    )


@pytest.mark.parametrize(("motor", "volts"), CHOSEN)
@pytest.mark.parametrize("named", [False, True], ids=["duty", "named KV"])
@pytest.mark.parametrize(("rise_share", "within"), [(0.0, 0.055), (0.5, 0.09)])
def test_the_idle_current_is_told_from_the_propellers(motor, volts, named, rise_share, within):
    """Shaft power down to 2700 rpm against the measured propeller; idle current constant, or half of it
    at 6000 rpm rising with speed (Drela, Second-Order DC Electric Motor Model, 2006)."""
    idle = motor.no_load_current_a
    true = Motor(
        motor.kv_rpm_v, motor.resistance_mohm, idle * (1 - rise_share), idle * rise_share / 6
    )
    duty = (THROTTLE_PCT / 100) ** (1.25 if named else 1.0)
    name = f"motor {motor.kv_rpm_v:.0f}KV" if named else "motor"
    found = identify(second_order_table(true, volts, duty, name), 0.254)
    assert found.throttle_is_duty is not named
    for rpm in (2700.0, 3500.0, 4500.0, 5800.0):
        truth = float(SLOW_FLY_10X47.shaft_power_w(rpm))
        assert float(found.propeller.shaft_power_w(rpm)) == pytest.approx(truth, rel=within), rpm


def test_a_motor_whose_idle_current_rises_settles_where_its_equations_meet():
    # by insertion: V = n / KV + R I, I = I0 + rise n + KV Q(n)
    motor = Motor(920.0, 96.0, 0.4, 0.05)
    found = run(motor, SLOW_FLY_10X47, 7.4, 0.8)
    rpm = float(found.speed_rpm)
    torque = float(SLOW_FLY_10X47.torque_nm(rpm))
    amps = 0.4 + 0.05 * rpm / 1000 + torque * 920.0 * np.pi / 30
    assert rpm / 920.0 + 0.096 * amps == pytest.approx(0.8 * 7.4, rel=1e-10)
    assert float(found.motor.current_a) == pytest.approx(amps, rel=1e-10)


def test_coefficients_go_on_rising_gently_beyond_the_rows():
    found = identify(bench_table(MOTOR, 7.57, THROTTLE_PCT), 0.254).propeller
    top = float(found.speed_rpm[-2])
    for more in (1.2, 1.5, 2.0):
        ratio = float(found.thrust_gf(more * top) / found.thrust_gf(top)) / more**2
        assert 1.0 <= ratio <= 1.5**0.15


def test_kv_and_resistance_come_back_from_a_rounded_table():
    found = identify(bench_table(MOTOR, 7.57, THROTTLE_PCT), 0.254)
    assert found.throttle_is_duty
    assert found.motor.kv_rpm_v == pytest.approx(920, rel=0.01)
    assert found.motor.resistance_mohm == pytest.approx(96, rel=0.06)
    assert np.abs(found.thrust_miss).max() < 0.02
    assert np.abs(found.power_miss).max() < 0.02


@pytest.mark.parametrize(
    "duty_of", [lambda x: x**1.25, lambda x: 0.1 + 0.9 * x], ids=["curved", "shifted"]
)
def test_a_throttle_that_is_not_duty_is_seen_and_duty_told_from_the_physics(duty_of):
    duty = duty_of(THROTTLE_PCT / 100)
    table = bench_table(MOTOR, 7.57, THROTTLE_PCT, duty, name="motor 920KV")
    drive = drive_for(table)
    assert isinstance(drive, MotorDrive)
    assert not drive.identified.throttle_is_duty
    np.testing.assert_allclose(drive.identified.duty, duty, rtol=0.02)
    found = drive.at_throttle(np.array([60.0, 100.0]), 6.4)
    truth = run(MOTOR, SLOW_FLY_10X47, 6.4, duty_of(np.array([0.6, 1.0])))
    np.testing.assert_allclose(found.thrust_gf, truth.thrust_gf, rtol=0.03)
    np.testing.assert_allclose(found.current_a, truth.current_a, rtol=0.04)


def test_without_kv_such_a_table_is_carried_by_the_approximation():
    duty = (THROTTLE_PCT / 100) ** 1.25
    table = bench_table(MOTOR, 7.57, THROTTLE_PCT, duty)
    with pytest.raises(InputError, match="its KV"):
        identify(table, 0.254)
    assert isinstance(drive_for(table), TableDrive)


def test_a_propeller_better_than_ideal_is_refused_with_its_row():
    table = bench_table(MOTOR, 7.57, THROTTLE_PCT)
    # twice the thrust in row 4 (third row of figures): figure of merit over 1 with electrical power
    thrust = table.thrust_gf * 2.5
    wrong = type(table)(
        "m",
        "10x4.7",
        thrust,
        table.current_a,
        table.voltage_v,
        table.power_w,
        table.throttle_pct,
        table.speed_rpm,
        table.row,
        table.source,
    )
    with pytest.raises(InputError, match=r"bench.csv, row \d+: .*figure of merit"):
        identify(wrong, 0.254)


def test_a_motor_faster_than_its_voltage_allows_is_refused_with_its_row():
    table = bench_table(MOTOR, 7.57, THROTTLE_PCT, name="motor 700KV")
    with pytest.raises(InputError, match=r"row 9: .*efficiency over 100 %"):
        identify(table, 0.254)  # 5900 rpm at 7.57 V needs 780 rpm/V and more


def test_speed_that_falls_while_thrust_rises_is_refused():
    table = bench_table(MOTOR, 7.57, THROTTLE_PCT)
    speed = table.speed_rpm.copy()
    speed[4] = speed[3] - 100
    wrong = type(table)(
        "m",
        "10x4.7",
        table.thrust_gf,
        table.current_a,
        table.voltage_v,
        table.power_w,
        table.throttle_pct,
        speed,
        table.row,
        table.source,
    )
    with pytest.raises(InputError, match=r"row 6: speed of"):
        identify(wrong, 0.254)


@pytest.mark.parametrize(("motor", "volts"), CHOSEN)
def test_the_error_of_the_voltage_approximation_is_what_it_says(motor, volts):
    table = bench_table(motor, volts, THROTTLE_PCT)
    supply = volts * np.array([0.7, 0.8, 0.9, 1.0, 1.1, 1.2])
    rough, fine = TableDrive(table).full_throttle(supply), drive_for(table).full_throttle(supply)
    thrust_error = rough.thrust_gf / fine.thrust_gf - 1
    assert np.abs(thrust_error).max() < 0.13
    assert np.abs(rough.power_w / fine.power_w - 1).max() < 0.15
    assert np.abs(thrust_error[1:5]).max() < 0.08
    assert abs(thrust_error[3]) < 0.02  # the table's own row
    # what the exponent should have been: measured C_T and C_P rise with speed, so a little wider
    # than the 1.6 to 2 of common practice
    others = np.array([0, 1, 2, 4, 5])
    exponents = np.log(fine.thrust_gf[others] / fine.thrust_gf[3]) / np.log(supply[others] / volts)
    assert ((exponents > 1.5) & (exponents < 2.2)).all()


def test_a_propeller_of_constant_coefficients_follows_the_square_and_the_cube():
    # closed form: T as n^2, P as n^3 when C_T and C_P do not change
    plain = Propeller(0.254, np.array([1000.0, 9000.0]), np.full(2, 0.11), np.full(2, 0.05))
    assert float(plain.thrust_gf(6000.0) / plain.thrust_gf(3000.0)) == pytest.approx(4.0)
    assert float(plain.shaft_power_w(6000.0) / plain.shaft_power_w(3000.0)) == pytest.approx(8.0)
