"""Climb of propellers measured in a stream, on motors whose every constant is known.

The truth of each case is found by scipy's root finder: the speed at which the measured propeller,
turned by the first-order motor at full throttle, just carries the weight. What the workbook tells
comes from the bench table at rest of the same motor and propeller, and from the propeller's name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.published.measured_propellers import (
    ELECTRIC_11X55,
    IN_A_STREAM_10X47,
    IN_A_STREAM_11X55,
    SHARES,
    SLOW_FLY_10X47,
    TO_NO_THRUST_10X47,
    runs_in_a_stream,
)
from workbook.craft.climb import (
    SLOWEST,
    USUAL,
    Propellers,
    Stream,
    at_airspeed,
    climb_rate_m_s,
    stream_of,
)
from workbook.craft.motor import Motor, Propeller, run
from workbook.craft.thrust_table import ThrustTable, pitch_from_name_m
from workbook.craft.voltage import Drive, MotorDrive, TableDrive, drive_for

THROTTLE_PCT = np.array([30.0, 40, 50, 60, 70, 80, 90, 100])


@dataclass(frozen=True)
class Flown:
    """A measured propeller on a known motor: coefficients fall with J as measured, over those at rest."""

    size: str
    propeller: Propeller
    stream: np.ndarray
    at_rest: tuple[float, float]
    motor: Motor
    volts: float

    def share(self, column: int, rpm: float, speed: float) -> float:
        """C_T (1) or C_P (2) over that at rest."""
        advance = speed / (rpm / 60 * self.propeller.diameter_m)
        known = np.concatenate([[1.0], self.stream[:, column] / self.at_rest[column - 1]])
        return float(np.interp(advance, np.concatenate([[0.0], self.stream[:, 0]]), known))

    def motor_v_and_w(self, rpm: float, speed: float) -> tuple[float, float]:
        torque = float(self.propeller.torque_nm(rpm)) * self.share(2, rpm, speed)
        point = self.motor.at_torque(rpm, torque)
        return float(point.voltage_v), float(point.power_w)

    def thrust_gf(self, rpm: float, speed: float) -> float:
        return float(self.propeller.thrust_gf(rpm)) * self.share(1, rpm, speed)

    def full_rpm(self, speed: float) -> float:
        top = self.motor.kv_rpm_v * self.volts * 1.2
        return float(brentq(lambda n: self.motor_v_and_w(n, speed)[0] - self.volts, 100, top))

    def climb_m_s(self, weight_gf: float) -> float:
        """At full throttle."""
        return float(brentq(lambda v: self.thrust_gf(self.full_rpm(v), v) - weight_gf, 0, 60))

    def climb_within_m_s(self, weight_gf: float, power_w: float) -> float:
        """At a power, whatever the throttle."""

        def rpm_that_carries(speed: float) -> float:
            return float(brentq(lambda n: self.thrust_gf(n, speed) - weight_gf, 500, 20_000))

        return float(
            brentq(lambda v: self.motor_v_and_w(rpm_that_carries(v), v)[1] - power_w, 0, 25)
        )

    def table(self) -> ThrustTable:
        volts = np.full(THROTTLE_PCT.shape, self.volts)
        at = run(self.motor, self.propeller, volts, THROTTLE_PCT / 100)
        columns = (at.thrust_gf, at.current_a, volts, at.power_w, THROTTLE_PCT, at.speed_rpm)
        return ThrustTable("a motor", self.size, *columns)


SLOW_FLY_ROWS = np.vstack([IN_A_STREAM_10X47, TO_NO_THRUST_10X47])
SLOW_FLY = [
    Flown("10x4.7", SLOW_FLY_10X47, SLOW_FLY_ROWS, (0.1299, 0.0531), Motor(*motor), volts)
    for *motor, volts in (
        (920.0, 96.0, 0.6, 7.57),
        (700.0, 150.0, 0.4, 9.81),
        (900.0, 60.0, 1.0, 7.33),
        (600.0, 250.0, 0.3, 11.76),
    )
]
# at rest at 6000 rpm: between the rows at 4968 and 6473
ELECTRIC = Flown(
    "11x5.5", ELECTRIC_11X55, IN_A_STREAM_11X55, (0.0894, 0.0320), Motor(800.0, 60.0, 0.8), 9.0
)


def told(
    case: Flown,
    drive: Drive,
    weight_gf: float,
    power_w: float = np.inf,
    kind: Propellers = USUAL,
) -> float:
    stream, full = stream_of(case.size, kind), drive.full_throttle(case.volts).thrust_gf
    assert stream is not None
    return float(climb_rate_m_s(drive, stream, weight_gf, full, power_w))


@pytest.mark.parametrize("case", SLOW_FLY, ids=lambda case: f"KV {case.motor.kv_rpm_v:g}")
@pytest.mark.parametrize("model", [drive_for, TableDrive], ids=["motor", "table"])
def test_climb_is_within_a_tenth_and_never_too_fast_up_to_four_times_the_weight(case, model):
    table = case.table()
    drive = model(table)
    assert isinstance(drive, MotorDrive if model is drive_for else TableDrive)
    for ratio in (1.25, 1.5, 2.0, 2.5, 3.0, 4.0):
        weight = table.top_thrust_gf / ratio
        error = told(case, drive, weight) / case.climb_m_s(weight) - 1
        assert (-0.10 if model is drive_for else -0.11) <= error <= 0.0, ratio


def test_a_thin_propeller_is_told_slower_never_faster():
    table = ELECTRIC.table()
    for drive in (drive_for(table), TableDrive(table)):
        for ratio in (1.1, 1.25, 1.5, 2.0, 3.0, 4.0, 5.0):
            weight = table.top_thrust_gf / ratio
            error = told(ELECTRIC, drive, weight) / ELECTRIC.climb_m_s(weight) - 1
            assert (-0.12 if ratio >= 2 else -0.5) <= error <= 0.0, ratio


@pytest.mark.parametrize("case", [*SLOW_FLY, ELECTRIC], ids=lambda c: f"{c.motor.kv_rpm_v:g}")
@pytest.mark.parametrize("model", [drive_for, TableDrive], ids=["motor", "table"])
def test_climb_within_a_power_is_never_too_fast(case, model):
    table = case.table()
    drive = model(table)
    weight = table.top_thrust_gf / 4
    hover = float(drive.power_at_thrust(weight))
    for more in (1.3, 1.6, 2.0, 3.0, 4.0):
        error = told(case, drive, weight, hover * more) / case.climb_within_m_s(
            weight, hover * more
        )
        assert -0.21 <= error - 1 <= 0.0, more


def test_thrust_at_an_airspeed_is_never_too_much():
    for case in (*SLOW_FLY, ELECTRIC):
        drive, stream = drive_for(case.table()), stream_of(case.size, USUAL)
        full = float(drive.full_throttle(case.volts).thrust_gf)
        for speed in (3.0, 6.0, 9.0, 12.0, 15.0):
            found = float(at_airspeed(drive, stream, speed, full).thrust_gf)
            truth = case.thrust_gf(case.full_rpm(speed), speed)
            assert found <= truth + 0.001 * full
            assert found >= truth - 0.2 * full


def test_thrust_of_the_measured_propeller_ends_above_the_pitch_speed():
    """10x4.7 at 6513 rpm: no thrust at J = 0.661, 18.2 m/s; its pitch speed is 13.0 m/s."""
    ends = 0.661 * 6513 / 60 * 0.254
    assert pitch_from_name_m("10x4.7") * 6513.0 / 60 == pytest.approx(0.0254 * 4.7 * 6513 / 60)
    assert ends > 0.0254 * 4.7 * 6513.0 / 60
    thrust_n = float(SLOW_FLY_10X47.thrust_gf(6513.0)) * 9.80665 / 1000
    still = (thrust_n / (2 * 1.225 * np.pi / 4 * 0.254**2)) ** 0.5
    assert 0.9 * ends < stream_of("10x4.7", USUAL).end_of_thrust * still < ends


@dataclass(frozen=True)
class Slowest:
    """How the slowest of the measured propellers flies against what is told of its size: below 1 is slower."""

    counted: int
    slower_than_told: int
    least: float


def against(kind: Propellers, ratio: Callable[[Propellers, dict[str, float]], float]) -> Slowest:
    """Every measured propeller, in the run that flies slowest against what is told."""
    least: dict[float, float] = {}
    for row in runs_in_a_stream():
        name = row["propeller"]
        least[name] = min(least.get(name, np.inf), ratio(kind, row))
    found = np.array([one for one in least.values() if np.isfinite(one)])
    return Slowest(len(found), int((found < 0.9995).sum()), float(found.min()))


def _measured(kind: Propellers, run: dict[str, float]) -> tuple[Stream, np.ndarray, np.ndarray]:
    """What is told of it, the speeds in v0 at which `SHARES` are left, and its power shares there."""
    stream = stream_of(f"{run['diameter_in']:g}x{run['pitch_in']:g}", kind)
    assert stream is not None
    v0 = np.sqrt(
        2.0 * run["rest_thrust_coefficient"] / np.pi
    )  # J n D over the induced speed at rest
    per_cent = [round(100 * share) for share in SHARES]
    speeds = np.array([run[f"advance_{share}"] for share in per_cent]) / v0
    return stream, speeds, np.array([run[f"power_{share}"] for share in per_cent])


def at_equal_speed(kind: Propellers, run: dict[str, float]) -> float:
    stream, speeds, _ = _measured(kind, run)
    return float(np.nanmin(speeds / stream.speed(SHARES)))


def at_equal_power(kind: Propellers, run: dict[str, float]) -> float:
    """A climb that carries one thrust: n goes as 1/sqrt(share), power as C_P n^3."""
    stream, speeds, powers = _measured(kind, run)
    fine = np.geomspace(1.0, 0.02, 600)
    told = stream.speed(fine) / np.sqrt(fine), stream.power_share(fine) / fine**1.5
    known = np.isfinite(speeds)
    order = np.argsort(powers[known] / SHARES[known] ** 1.5)
    taken = (powers[known] / SHARES[known] ** 1.5)[order]
    flown = (speeds[known] / np.sqrt(SHARES[known]))[order]
    asked = [p for p in (1.5, 2.0, 3.0, 4.0, 6.0) if taken[0] <= p <= taken[-1]]
    ratios = np.interp(asked, taken, flown) / np.interp(asked, told[1], told[0])
    return float(min(ratios, default=np.inf))


def test_no_measured_propeller_is_slower_than_the_slowest_told() -> None:
    """Limits and missions count on it: 191 of 191."""
    for ratio, least in ((at_equal_speed, 1.015), (at_equal_power, 1.004)):
        found = against(SLOWEST, ratio)
        assert (found.counted, found.slower_than_told) == (191, 0)
        assert found.least == pytest.approx(least, abs=0.002)  # and none much lower than it need be


def test_what_is_said_of_the_usual_propeller_is_so() -> None:
    for ratio, slower, least in ((at_equal_speed, 28, 0.73), (at_equal_power, 43, 0.77)):
        found = against(USUAL, ratio)
        assert (found.counted, found.slower_than_told) == (191, slower)
        assert found.least == pytest.approx(least, abs=0.006)


def test_the_slowest_is_never_told_faster_than_the_usual() -> None:
    for size in ("7x4", "10x4.7", "9x7", "12x10", "15x4.1"):
        slowest, usual = stream_of(size), stream_of(size, USUAL)
        assert (slowest.speed(SHARES) < usual.speed(SHARES)).all()
        assert slowest.thrust_share(1.0) < usual.thrust_share(1.0)


@pytest.mark.parametrize("case", [*SLOW_FLY, ELECTRIC], ids=lambda c: f"{c.motor.kv_rpm_v:g}")
def test_what_limits_count_on_is_below_what_is_expected_of_every_measured_drive(case) -> None:
    table = case.table()
    for drive in (drive_for(table), TableDrive(table)):
        for ratio in (1.25, 2.0, 3.0, 4.0):
            weight = table.top_thrust_gf / ratio
            sure = told(case, drive, weight, kind=SLOWEST)
            assert 0.0 < sure < told(case, drive, weight) <= case.climb_m_s(weight)
