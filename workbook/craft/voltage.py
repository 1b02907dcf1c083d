"""Carrying a thrust table to another supply voltage and to thinner air: one drive, two ways.

A `Drive` is one motor with its propeller and controller, asked by supply voltage. `MotorDrive`
answers from a motor and propeller identified from a table with speed, `TableDrive` from any table
by a stated approximation; `drive_for` picks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TypeAlias

import numpy as np

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.motor import (
    Identified,
    MotorPoint,
    NotIdentified,
    identify,
    run,
    running_rpm,
    speed_for_power,
)
from workbook.craft.thrust_table import FULL_THROTTLE_PCT, POWER_THRUST_EXPONENT, ThrustTable
from workbook.fitting import SETTLED, falling_root
from workbook.numbers import FloatArray, Number

THRUST_VOLTAGE_EXPONENT = 1.8
"""Thrust at equal throttle as voltage^1.8; 1.6 to 2 is common practice, no source. Held against
600 first-order motors of 68 to 90 % efficiency on three propellers measured at rest (UIUC Propeller
Database), carried from full voltage to 0.8 of it: median 1.82, nine of ten from 1.69 to 1.98."""

UNKNOWN_MOTOR_DROP = 0.12
"""Share of the voltage lost in the resistance of a motor that is not known, at full throttle: on the low
side of the 0.08 to 0.28 of the same 600 motors. A propeller that unloads lets the motor turn faster by it;
were it 0.08, a climb would be computed 2 % too fast, within what the propeller's model errs to the slow side."""

CURRENT_VOLTAGE_EXPONENT = 1.7
"""Power at equal throttle about as voltage^2.7, current as voltage^1.7: where a trial begins; ends do not rest on it."""

DENSITY_EXPONENT = 0.7
"""Thrust at equal throttle and voltage as density^0.7: the motor turns faster in thin air. The same
600 motors at 0.8 of standard density: median 0.71, all within 0.55 to 0.86."""


@dataclass(frozen=True, eq=False)
class DrivePoint:
    """What one motor does at one setting: figures or arrays of one shape, NaN where unknown."""

    throttle_pct: FloatArray
    thrust_gf: FloatArray
    power_w: FloatArray
    current_a: FloatArray


@dataclass(frozen=True, eq=False)
class StreamLoad:
    """A motor with its propeller in a stream: figures of one shape.

    Attributes:
        power_w: electrical power.
        by_throttle: finds `throttle_gf`.
    """

    power_w: FloatArray
    by_throttle: Callable[[], FloatArray]

    @cached_property
    def throttle_gf(self) -> FloatArray:
        """Thrust that the same throttle and supply voltage give at rest."""
        return self.by_throttle()


@dataclass(frozen=True, eq=False)
class PoweredPoint:
    """What one motor does at rest with a power: figures of one shape.

    Attributes:
        thrust_gf: NaN above the thrust table where its full throttle is not known.
        beyond: where full throttle asks for no more than that power.
        by_power: finds `throttle_pct`.
    """

    thrust_gf: FloatArray
    beyond: np.ndarray
    by_power: Callable[[], FloatArray]

    @cached_property
    def throttle_pct(self) -> FloatArray:
        """Throttle that asks for it; infinite beyond full throttle, NaN where the table does not tell it."""
        return self.by_power()


@dataclass(frozen=True, eq=False)
class TableDrive:
    """A drive answered from a thrust table without a motor found in it, by a stated approximation.

    At equal throttle a row carries to supply voltage V with thrust x (V / V_row)^1.8. At equal
    thrust the power is the table's own, at every voltage; above and below its rows power goes on as
    thrust^1.5. Full throttle is the table's last row where that row says so, else unknown (NaN).

    Attributes:
        table: the thrust table.
        why: why no motor was found in it, in words.

    Example:
        >>> thrust = np.array([200.0, 500.0, 1000.0, 1400.0])
        >>> blank = thrust * np.nan
        >>> amps, volts, watts = thrust / 150, thrust * 0 + 22.2, thrust * 0.148
        >>> throttle = np.array([25.0, 45.0, 75.0, 100.0])
        >>> table = ThrustTable("m", "p", thrust, amps, volts, watts, throttle, blank)
        >>> drive = TableDrive(table)
        >>> full = drive.full_throttle(np.array([25.2, 22.2, 19.2]))
        >>> full.thrust_gf.round()
        array([1759., 1400., 1078.])
        >>> drive.throttle_for_thrust(np.array([500.0, 1200.0]), 19.2)
        array([53.96, inf])
        >>> watts = drive.at_throttle(60.0, 19.2).power_w
        >>> drive.at_power(watts, 19.2).throttle_pct
        array(60.)
    """

    table: ThrustTable
    why: str = "thrust table without motor speed,"

    @property
    def basis(self) -> str:
        """What the answers rest on."""
        return (
            f"{self.why} carried to other voltages by an approximation: "
            f"thrust as voltage^{THRUST_VOLTAGE_EXPONENT}; nine of ten motors within 5 % at 0.8 of the "
            "table's voltage"
        )

    def full_throttle(self, voltage_v: Number, density_ratio: Number = 1.0) -> DrivePoint:
        """The table's last row carried to a supply voltage; NaN where that row is not full throttle."""
        return self.at_throttle(self._top_pct, voltage_v, density_ratio)

    def at_throttle(
        self, throttle_pct: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> DrivePoint:
        """The table at a throttle, straight between rows, carried to a supply voltage; NaN outside its rows."""
        table = self.table
        throttle, voltage, sigma = np.broadcast_arrays(
            np.asarray(throttle_pct, dtype=float),
            np.asarray(voltage_v, dtype=float),
            np.asarray(density_ratio, dtype=float),
        )
        per_volt = self._per_volt_at(throttle)
        thrust = per_volt / _per_volt(voltage) * sigma**DENSITY_EXPONENT
        inside = np.clip(thrust, table.thrust_gf[0], table.thrust_gf[-1])
        beyond = (thrust / inside) ** POWER_THRUST_EXPONENT
        power = self.power_at_thrust(inside, sigma) * beyond
        return DrivePoint(throttle, thrust, power, np.asarray(power / voltage))

    def _per_volt_at(self, throttle: FloatArray) -> FloatArray:
        """Thrust of a throttle at 1 V in standard air."""
        table, known = self.table, self._thrust_per_volt
        if table.has_throttle:
            per_volt = np.interp(throttle, table.throttle_pct, known, left=np.nan, right=np.nan)
        else:  # the last row alone may have one
            per_volt = np.where(throttle == table.throttle_pct[-1], known[-1], np.nan)
        if table.reaches_full_throttle:
            last = (throttle >= table.throttle_pct[-1]) & (throttle <= 100.0)
            per_volt = np.where(last, known[-1], per_volt)
        return per_volt

    def settled(
        self,
        throttle_pct: Number | None,
        left_v: Callable[[FloatArray, FloatArray], FloatArray],
        rest_v: FloatArray,
        density_ratio: Number = 1.0,
    ) -> tuple[FloatArray, DrivePoint]:
        """The supply voltage that sags under it to just that voltage, and what it does there, by trial of voltages.

        Args:
            throttle_pct: of every motor; None for full throttle.
            left_v: what the supply has left at a voltage, one motor drawing so many watts: its voltage under
                that load less that voltage; falling.
            rest_v: of the supply at rest.
            density_ratio: of the air over standard.
        """
        throttle = self._top_pct if throttle_pct is None else throttle_pct

        def residual(voltage: FloatArray) -> FloatArray:
            return left_v(voltage, self.at_throttle(throttle, voltage, density_ratio).power_w)

        def slope(voltage: FloatArray, miss: FloatArray) -> FloatArray:
            return np.asarray(-1.0 - CURRENT_VOLTAGE_EXPONENT * (rest_v - voltage - miss) / voltage)

        low, start = 0.05 * rest_v, 0.9 * rest_v
        voltage = falling_root(residual, start, slope, low, rest_v, SETTLED * rest_v)
        return voltage, self.at_throttle(throttle, voltage, density_ratio)

    def voltage_for_thrust(
        self, throttle_pct: Number | None, thrust_gf: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Supply voltage at which a throttle, full where None, gives a thrust: the carrying of thrust turned around."""
        throttle = self._top_pct if throttle_pct is None else throttle_pct
        per_volt = self._per_volt_at(np.asarray(throttle, dtype=float))
        thin = np.asarray(density_ratio, dtype=float) ** DENSITY_EXPONENT
        ratio = np.asarray(thrust_gf, dtype=float) / (per_volt * thin)
        return np.asarray(ratio ** (1.0 / THRUST_VOLTAGE_EXPONENT))

    def throttle_for_thrust(
        self, thrust_gf: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Throttle at which the carried table gives a thrust; infinite beyond full throttle, NaN below the table and
        without a throttle column."""
        table, known = self.table, self._thrust_per_volt
        sigma = np.asarray(density_ratio, dtype=float)
        wanted = np.asarray(thrust_gf, dtype=float) * _per_volt(voltage_v) / sigma**DENSITY_EXPONENT
        if not table.has_throttle:
            return np.full(wanted.shape, np.nan)
        for end in (known[0], known[-1]):
            wanted = np.where(np.isclose(wanted, end, rtol=1e-12, atol=0), end, wanted)
        above = np.inf if table.reaches_full_throttle else np.nan
        throttle = np.interp(wanted, known, table.throttle_pct, left=np.nan, right=above)
        return np.asarray(np.where(np.isnan(wanted), np.nan, throttle))

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """The table's own power at a thrust, as 1/sqrt(density)."""
        return self.table.power_at_thrust(thrust_gf, density_ratio)

    def at_power(
        self, power_w: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> PoweredPoint:
        """The table's own thrust at a power, above and below its rows as power^(2/3), at the throttle that gives it."""
        table, full_w = self.table, self.full_throttle(voltage_v, density_ratio).power_w
        power = np.asarray(power_w, dtype=float) * np.sqrt(np.asarray(density_ratio, dtype=float))
        power = np.maximum(power, 0.0)
        inside = np.clip(power, table.power_w[0], table.power_w[-1])
        with np.errstate(divide="ignore", invalid="ignore"):
            beyond = (power / inside) ** (1.0 / POWER_THRUST_EXPONENT)
        thrust = np.asarray(table.thrust_at_power(inside) * beyond)
        known = np.isfinite(full_w) | (thrust <= table.top_thrust_gf)
        return PoweredPoint(
            np.where(known, thrust, np.nan),
            np.asarray(power_w >= full_w),
            lambda: self.throttle_for_thrust(thrust, voltage_v, density_ratio),
        )

    def in_stream(
        self, rest_gf: Number, power_share: Number, density_ratio: Number = 1.0
    ) -> StreamLoad:
        """What the motor takes where the stream asks for only a share of the propeller's shaft power: by the table's
        power at rest and the least that an unloaded motor gains in speed.

        Args:
            rest_gf: thrust that the same speed of rotation gives at rest.
            power_share: shaft power over that at rest at the same speed of rotation.
            density_ratio: of the air over standard.
        """
        rest, share = np.asarray(rest_gf, dtype=float), np.asarray(power_share, dtype=float)
        table = self.table
        inside = np.clip(rest, table.thrust_gf[0], table.thrust_gf[-1])
        power = self.power_at_thrust(inside, density_ratio)
        power = power * (rest / inside) ** POWER_THRUST_EXPONENT * share
        less_voltage = 1.0 - UNKNOWN_MOTOR_DROP * (1.0 - share)
        kept = less_voltage**THRUST_VOLTAGE_EXPONENT
        return StreamLoad(np.asarray(power), lambda: rest * kept)

    @property
    def _top_pct(self) -> float:
        return float(self.table.throttle_pct[-1]) if self.table.reaches_full_throttle else np.nan

    @property
    def _thrust_per_volt(self) -> FloatArray:
        return np.asarray(self.table.thrust_gf * _per_volt(self.table.voltage_v))


@dataclass(frozen=True, eq=False)
class MotorDrive:
    """A drive answered from a motor and a propeller identified from a thrust table with speed.

    Where the table's throttle is duty, any throttle from 0 to 100 % is answered; where it is not,
    throttle and duty are paired by the table's rows, straight between them, NaN below the first.
    """

    identified: Identified
    throttle_pct: FloatArray

    @property
    def basis(self) -> str:
        """What the answers rest on."""
        found = self.identified
        motor = found.motor
        return (
            f"motor and propeller identified from the table's speeds (KV {motor.kv_rpm_v:.0f} "
            f"rpm/V, {motor.resistance_mohm:.0f} mΩ); rows come back within "
            f"{100 * np.abs(found.thrust_miss).max():.1f} % of thrust and "
            f"{100 * np.abs(found.power_miss).max():.1f} % of power; another voltage within 3 % of "
            "thrust and 4 % of current in checks"
        )

    def full_throttle(self, voltage_v: Number, density_ratio: Number = 1.0) -> DrivePoint:
        """Motor and propeller at full duty."""
        return self._run(np.asarray(100.0), np.asarray(1.0), voltage_v, density_ratio)

    def at_throttle(
        self, throttle_pct: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> DrivePoint:
        """Motor and propeller at the duty of a throttle."""
        throttle = np.asarray(throttle_pct, dtype=float)
        return self._run(throttle, self._duty(throttle), voltage_v, density_ratio)

    def _duty(self, throttle_pct: Number | None) -> FloatArray:
        """Of a throttle; full without one, NaN below what is known."""
        if throttle_pct is None:
            return np.asarray(1.0)
        return np.asarray(np.interp(throttle_pct, *self._pairs, left=np.nan, right=np.nan))

    def settled(
        self,
        throttle_pct: Number | None,
        left_v: Callable[[FloatArray, FloatArray], FloatArray],
        rest_v: FloatArray,
        density_ratio: Number = 1.0,
    ) -> tuple[FloatArray, DrivePoint]:
        """By trial of speeds: a speed gives the voltage outright, a voltage its speed only by trial again."""
        duty, kv = self._duty(throttle_pct), np.asarray(self.identified.motor.kv_rpm_v)
        unloaded = kv * duty * rest_v
        tried: tuple[FloatArray, tuple[FloatArray, FloatArray]] | None = None

        def point_at(speed: FloatArray) -> tuple[FloatArray, FloatArray]:
            nonlocal tried
            if tried is None or tried[0] is not speed:  # the gap at a speed, then its slope
                point = self._at_speed(speed, 1.0, density_ratio)
                tried = speed, (np.asarray(point.voltage_v / duty), point.power_w)
            return tried[1]

        def slope(speed: FloatArray, miss: FloatArray) -> FloatArray:
            voltage, _ = point_at(speed)
            by_voltage = -1.0 - CURRENT_VOLTAGE_EXPONENT * (rest_v - voltage - miss) / voltage
            return np.asarray(by_voltage * 1.3 * voltage / speed)  # voltage about as speed^1.3

        speed = falling_root(
            lambda speed: left_v(*point_at(speed)),
            np.asarray(0.7 * unloaded),
            slope,
            np.asarray(0.02 * unloaded),
            unloaded,
            SETTLED * rest_v,
        )
        voltage, power = point_at(speed)
        thrust = self.identified.propeller.thrust_gf(speed, _density(density_ratio))
        throttle = np.broadcast_to(100.0 if throttle_pct is None else throttle_pct, speed.shape)
        return voltage, DrivePoint(throttle, thrust, power, np.asarray(power / voltage))

    def voltage_for_thrust(
        self, throttle_pct: Number | None, thrust_gf: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """What the motor sees at that thrust, over the duty."""
        return np.asarray(
            self._motor(thrust_gf, density_ratio).voltage_v / self._duty(throttle_pct)
        )

    def throttle_for_thrust(
        self, thrust_gf: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Throttle whose duty gives a thrust."""
        return self._throttle(self._motor(thrust_gf, density_ratio).voltage_v, voltage_v)

    def at_power(
        self, power_w: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> PoweredPoint:
        """By the speed at which the motor takes that power."""
        found, density = self.identified, _density(density_ratio)
        speed = speed_for_power(found.motor, found.propeller, power_w, density)
        motor_v = self._at_speed(speed, 1.0, density_ratio).voltage_v
        return PoweredPoint(
            found.propeller.thrust_gf(speed, density),
            np.asarray(motor_v >= voltage_v),
            lambda: self._throttle(motor_v, voltage_v),
        )

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """Power at the motor's terminals for a thrust."""
        return self._motor(thrust_gf, density_ratio).power_w

    def in_stream(
        self, rest_gf: Number, power_share: Number, density_ratio: Number = 1.0
    ) -> StreamLoad:
        """The motor at the propeller's speed and a share of its torque."""
        found, density = self.identified, _density(density_ratio)
        speed = found.propeller.speed_for_thrust(rest_gf, density)
        point = self._at_speed(speed, power_share, density_ratio)

        def throttle_gf() -> FloatArray:
            at_rest = running_rpm(found.motor, found.propeller, point.voltage_v, density)
            return found.propeller.thrust_gf(at_rest, density)

        return StreamLoad(point.power_w, throttle_gf)

    @property
    def _pairs(self) -> tuple[FloatArray, FloatArray]:
        if self.identified.throttle_is_duty:
            return np.array([0.0, 100.0]), np.array([0.0, 1.0])
        full = self.throttle_pct >= FULL_THROTTLE_PCT
        return np.where(full, 100.0, self.throttle_pct), self.identified.duty

    def _throttle(self, motor_v: FloatArray, voltage_v: Number) -> FloatArray:
        """Throttle at which the motor sees a voltage."""
        duty = motor_v / np.asarray(voltage_v, dtype=float)
        duty = np.where(np.isclose(duty, 1.0, rtol=1e-9, atol=0), 1.0, duty)
        throttles, duties = self._pairs
        throttle = np.interp(duty, duties, throttles, left=np.nan, right=np.inf)
        return np.asarray(np.where(np.isnan(duty), np.nan, throttle))

    def _at_speed(
        self, speed_rpm: FloatArray, power_share: Number, density_ratio: Number
    ) -> MotorPoint:
        torque = (
            self.identified.propeller.torque_nm(speed_rpm, _density(density_ratio)) * power_share
        )
        return self.identified.motor.at_torque(speed_rpm, torque)

    def _motor(self, thrust_gf: Number, density_ratio: Number) -> MotorPoint:
        speed = self.identified.propeller.speed_for_thrust(thrust_gf, _density(density_ratio))
        return self._at_speed(speed, 1.0, density_ratio)

    def _run(
        self, throttle_pct: FloatArray, duty: FloatArray, voltage_v: Number, density_ratio: Number
    ) -> DrivePoint:
        found = self.identified
        point = run(found.motor, found.propeller, voltage_v, duty, _density(density_ratio))
        throttle = np.broadcast_to(throttle_pct, point.thrust_gf.shape)
        return DrivePoint(throttle, point.thrust_gf, point.power_w, point.current_a)


Drive: TypeAlias = TableDrive | MotorDrive
"""One motor with its propeller, asked by supply voltage and air density over standard."""


@lru_cache(maxsize=64)
def drive_for(table: ThrustTable) -> Drive:
    """The best drive that a thrust table allows; its `basis` says which.

    A table with speed in four rows or more gives a `MotorDrive`, if the propeller's diameter is
    in its name (10x4.7) and, where throttle is not duty, the motor's KV likewise. Any other table
    gives a `TableDrive`. Asked again for the same table, it answers from memory.

    Raises:
        InputError: rows with speed that cannot be right (see `identify`).
    """
    diameter = table.propeller_diameter_m
    if not table.has_speed:
        return TableDrive(table)
    if len(table.speed_rpm) < 4:
        return TableDrive(table, "thrust table with speed in fewer than four rows,")
    if diameter is None:
        return TableDrive(table, "thrust table whose propeller's name does not state its diameter,")
    try:
        return MotorDrive(identify(table, diameter), table.throttle_pct)
    except NotIdentified as fault:
        return TableDrive(table, f"no motor was found in the thrust table ({fault.why}); it is")


def _density(ratio: Number) -> FloatArray:
    return np.asarray(ratio, dtype=float) * STANDARD_DENSITY_KG_M3


def _per_volt(voltage_v: Number) -> FloatArray:
    return np.asarray(np.asarray(voltage_v, dtype=float) ** -THRUST_VOLTAGE_EXPONENT)
