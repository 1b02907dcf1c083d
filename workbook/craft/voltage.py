"""Carrying a thrust table to another supply voltage and to thinner air: one drive, two ways.

A `Drive` is one motor with its propeller and controller, asked by supply voltage. `MotorDrive`
answers from a motor and propeller identified from a table with speed, `TableDrive` from any table
by a stated approximation; `drive_for` picks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.motor import (
    Identified,
    KvNeeded,
    MotorPoint,
    identify,
    run,
)
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.numbers import FloatArray, Number

THRUST_VOLTAGE_EXPONENT = 1.8
"""Thrust at equal throttle as voltage^1.8; 1.6 to 2 is common practice, no source. Held against
600 first-order motors of 68 to 90 % efficiency on three propellers measured at rest (UIUC Propeller
Database), carried from full voltage to 0.8 of it: median 1.82, nine of ten from 1.69 to 1.98."""

POWER_THRUST_EXPONENT = 1.5
"""Power against thrust beyond the table's rows: momentum theory. With the exponent above, power at
equal throttle goes as voltage^2.7; the same 600 motors: median 2.72, nine of ten from 2.56 to 2.93."""

DENSITY_EXPONENT = 0.7
"""Thrust at equal throttle and voltage as density^0.7: the motor turns faster in thin air. The same
600 motors at 0.8 of standard density: median 0.71, all within 0.55 to 0.86."""


@dataclass(frozen=True)
class DrivePoint:
    """What one motor does at one setting: figures or arrays of one shape, NaN where unknown."""

    throttle_pct: FloatArray
    thrust_gf: FloatArray
    power_w: FloatArray
    current_a: FloatArray


class Drive(Protocol):
    """One motor with its propeller, asked by supply voltage and air density over standard."""

    @property
    def basis(self) -> str:
        """Where the answers come from and how far they can be trusted, in a sentence or two."""

    def full_throttle(self, voltage_v: Number, density_ratio: Number = 1.0) -> DrivePoint:
        """What it does at full throttle."""

    def at_throttle(
        self, throttle_pct: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> DrivePoint:
        """What it does at a throttle; NaN where the throttle is outside what is known."""

    def throttle_for_thrust(
        self, thrust_gf: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Throttle (percent) for a thrust; infinite beyond full throttle, NaN below the table."""

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """Electrical power for a thrust, the same at every voltage; NaN outside what is known."""


@dataclass(frozen=True)
class TableDrive:
    """A drive answered from a thrust table without speed, by a stated approximation.

    At equal throttle a row carries to supply voltage V with thrust x (V / V_row)^1.8. At equal
    thrust the power is the table's own, at every voltage; above and below its rows power goes on as
    thrust^1.5. Full throttle is the table's last row.

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
    """

    table: ThrustTable

    @property
    def basis(self) -> str:
        """What the answers rest on."""
        return (
            "thrust table without motor speed, carried to other voltages by an approximation: "
            f"thrust as voltage^{THRUST_VOLTAGE_EXPONENT}; nine of ten motors within 5 % at 0.8 of the "
            "table's voltage"
        )

    def full_throttle(self, voltage_v: Number, density_ratio: Number = 1.0) -> DrivePoint:
        """The table's last row carried to a supply voltage."""
        voltage, sigma = np.broadcast_arrays(
            np.asarray(voltage_v, dtype=float), np.asarray(density_ratio, dtype=float)
        )
        table = self.table
        top_pct = table.throttle_pct[-1] if np.isfinite(table.throttle_pct[-1]) else 100.0
        return self._carry(
            np.full(voltage.shape, top_pct),
            np.full(voltage.shape, table.thrust_gf[-1] * _per_volt(table.voltage_v[-1])),
            voltage,
            sigma,
        )

    def at_throttle(
        self, throttle_pct: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> DrivePoint:
        """The table at a throttle, straight between rows, carried to a supply voltage."""
        table = self._throttled()
        throttle, voltage, sigma = np.broadcast_arrays(
            np.asarray(throttle_pct, dtype=float),
            np.asarray(voltage_v, dtype=float),
            np.asarray(density_ratio, dtype=float),
        )
        thrust = _inside(throttle, table.throttle_pct, table.thrust_gf * _per_volt(table.voltage_v))
        return self._carry(throttle, thrust, voltage, sigma)

    def throttle_for_thrust(
        self, thrust_gf: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Throttle at which the carried table gives a thrust."""
        table = self._throttled()
        sigma = np.asarray(density_ratio, dtype=float)
        wanted = np.asarray(thrust_gf, dtype=float) * _per_volt(voltage_v) / sigma**DENSITY_EXPONENT
        known = table.thrust_gf * _per_volt(table.voltage_v)
        wanted = np.where(np.isclose(wanted, known[-1], rtol=1e-12, atol=0), known[-1], wanted)
        throttle = np.interp(wanted, known, table.throttle_pct, left=np.nan, right=np.inf)
        return np.asarray(np.where(np.isnan(wanted), np.nan, throttle))

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """The table's own power at a thrust, as 1/sqrt(density)."""
        return self.table.power_at_thrust(thrust_gf, density_ratio)

    def _throttled(self) -> ThrustTable:
        if not self.table.has_throttle:
            raise InputError(
                "the thrust table has no throttle column, so throttle is unknown; "
                "a throttle for every row is needed."
            )
        return self.table

    def _carry(
        self,
        throttle_pct: FloatArray,
        thrust_per_volt: FloatArray,
        voltage_v: FloatArray,
        sigma: FloatArray,
    ) -> DrivePoint:
        table = self.table
        thrust = thrust_per_volt / _per_volt(voltage_v) * sigma**DENSITY_EXPONENT
        inside = np.clip(thrust, table.thrust_gf[0], table.thrust_gf[-1])
        beyond = (thrust / inside) ** POWER_THRUST_EXPONENT
        power = self.power_at_thrust(inside, sigma) * beyond
        return DrivePoint(throttle_pct, thrust, power, np.asarray(power / voltage_v))


@dataclass(frozen=True)
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
            f"rpm/V, {motor.resistance_mohm:.0f} mohm); rows come back within "
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
        duty = np.interp(throttle, *self._pairs, left=np.nan, right=np.nan)
        return self._run(throttle, np.asarray(duty), voltage_v, density_ratio)

    def throttle_for_thrust(
        self, thrust_gf: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Throttle whose duty gives a thrust."""
        duty = self._motor(thrust_gf, density_ratio).voltage_v / np.asarray(voltage_v, dtype=float)
        duty = np.where(np.isclose(duty, 1.0, rtol=1e-9, atol=0), 1.0, duty)
        throttles, duties = self._pairs
        throttle = np.interp(duty, duties, throttles, left=np.nan, right=np.inf)
        return np.asarray(np.where(np.isnan(duty), np.nan, throttle))

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """Power at the motor's terminals for a thrust."""
        return self._motor(thrust_gf, density_ratio).power_w

    @property
    def _pairs(self) -> tuple[FloatArray, FloatArray]:
        if self.identified.throttle_is_duty or np.isnan(self.throttle_pct).any():
            return np.array([0.0, 100.0]), np.array([0.0, 1.0])
        return self.throttle_pct, self.identified.duty

    def _motor(self, thrust_gf: Number, density_ratio: Number) -> MotorPoint:
        density = np.asarray(density_ratio, dtype=float) * STANDARD_DENSITY_KG_M3
        propeller = self.identified.propeller
        speed = propeller.speed_for_thrust(thrust_gf, density)
        return self.identified.motor.at_torque(speed, propeller.torque_nm(speed, density))

    def _run(
        self,
        throttle_pct: FloatArray,
        duty: FloatArray,
        voltage_v: Number,
        density_ratio: Number,
    ) -> DrivePoint:
        density = np.asarray(density_ratio, dtype=float) * STANDARD_DENSITY_KG_M3
        point = run(self.identified.motor, self.identified.propeller, voltage_v, duty, density)
        throttle = np.broadcast_to(throttle_pct, point.thrust_gf.shape)
        return DrivePoint(throttle, point.thrust_gf, point.power_w, point.current_a)


@lru_cache(maxsize=64)
def drive_for(table: ThrustTable) -> Drive:
    """The best drive that a thrust table allows; its `basis` says which.

    A table with speed in four rows or more gives a `MotorDrive`, if the propeller's diameter stands
    in its name (10x4.7) and, where throttle is not duty, the motor's KV likewise. Any other table
    gives a `TableDrive`. Asked again for the same table, it answers from memory.

    Raises:
        InputError: rows with speed that cannot be right (see `identify`).
    """
    diameter = table.propeller_diameter_m
    if not table.has_speed or len(table.speed_rpm) < 4 or diameter is None:
        return TableDrive(table)
    try:
        return MotorDrive(identify(table, diameter), table.throttle_pct)
    except KvNeeded:
        return TableDrive(table)


def _per_volt(voltage_v: Number) -> FloatArray:
    return np.asarray(np.asarray(voltage_v, dtype=float) ** -THRUST_VOLTAGE_EXPONENT)


def _inside(x: FloatArray, known_x: FloatArray, known_y: FloatArray) -> FloatArray:
    return np.asarray(np.interp(x, known_x, known_y, left=np.nan, right=np.nan))
