"""Carrying a thrust table to another supply voltage and to thinner air: one drive, two ways.

A `Drive` is one motor with its propeller and controller, asked by supply voltage. `TableDrive`
answers from the table by a stated approximation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from workbook.craft import thrust_table
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.numbers import FloatArray, Number

THRUST_VOLTAGE_EXPONENT = 1.8
"""Thrust at equal throttle as voltage^1.8. Source: common practice, 1.6 to 2; from memory."""

POWER_THRUST_EXPONENT = 1.5
"""Power as thrust^1.5 beyond the table. Source: momentum theory at constant figure of merit."""

THRUST_DENSITY_EXPONENT = 0.8
"""Thrust at equal throttle and voltage as density^0.8: between 1 (speed held) and 1/3 (power
held). Source: first-order motor model, from memory."""

POWER_DENSITY_EXPONENT = -0.5
"""Power at equal thrust as 1/sqrt(density). Source: momentum theory, hover."""


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

    At equal throttle a row carries to supply voltage V with thrust x (V / V_row)^1.8 and power
    x (V / V_row)^2.7, that is power as thrust^1.5. At equal thrust the power is the table's own.
    Full throttle is the table's last row.

    Example:
        >>> thrust = np.array([200.0, 500.0, 1000.0, 1400.0])
        >>> blank = thrust * np.nan
        >>> table = ThrustTable(
        ...     "m", "p", thrust, thrust / 150, thrust * 0 + 22.2, thrust * 0.148,
        ...     np.array([25.0, 45.0, 75.0, 100.0]), blank
        ... )  # fmt: skip
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
            f"thrust as voltage^{THRUST_VOLTAGE_EXPONENT}, common practice 1.6 to 2"
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
            np.full(voltage.shape, table.power_w[-1] * _power_per_volt(table.voltage_v[-1])),
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
        power = _inside(
            throttle, table.throttle_pct, table.power_w * _power_per_volt(table.voltage_v)
        )
        return self._carry(throttle, thrust, power, voltage, sigma)

    def throttle_for_thrust(
        self, thrust_gf: Number, voltage_v: Number, density_ratio: Number = 1.0
    ) -> FloatArray:
        """Throttle at which the carried table gives a thrust."""
        table = self._throttled()
        sigma = np.asarray(density_ratio, dtype=float)
        wanted = (
            np.asarray(thrust_gf, dtype=float)
            * _per_volt(voltage_v)
            / sigma**THRUST_DENSITY_EXPONENT
        )
        known = table.thrust_gf * _per_volt(table.voltage_v)
        wanted = np.where(np.isclose(wanted, known[-1], rtol=1e-12, atol=0), known[-1], wanted)
        throttle = np.interp(wanted, known, table.throttle_pct, left=np.nan, right=np.inf)
        return np.asarray(np.where(np.isnan(wanted), np.nan, throttle))

    def power_at_thrust(self, thrust_gf: Number, density_ratio: Number = 1.0) -> FloatArray:
        """The table's own power at a thrust, as 1/sqrt(density)."""
        power = thrust_table.power_at_thrust(self.table, thrust_gf)
        return np.asarray(power * np.asarray(density_ratio, dtype=float) ** POWER_DENSITY_EXPONENT)

    def _throttled(self) -> ThrustTable:
        if not self.table.has_throttle:
            raise InputError(
                "the thrust table has no throttle column, so throttle cannot be told; "
                "a throttle for every row is needed."
            )
        return self.table

    def _carry(
        self,
        throttle_pct: FloatArray,
        thrust_per_volt: FloatArray,
        power_per_volt: FloatArray,
        voltage_v: FloatArray,
        sigma: FloatArray,
    ) -> DrivePoint:
        thrust = thrust_per_volt / _per_volt(voltage_v) * sigma**THRUST_DENSITY_EXPONENT
        power = (
            power_per_volt
            / _power_per_volt(voltage_v)
            * sigma ** (POWER_THRUST_EXPONENT * THRUST_DENSITY_EXPONENT + POWER_DENSITY_EXPONENT)
        )
        return DrivePoint(throttle_pct, thrust, power, np.asarray(power / voltage_v))


def drive_for(table: ThrustTable) -> Drive:
    """The best drive that a thrust table allows; its `basis` says which."""
    return TableDrive(table)


def _per_volt(voltage_v: Number) -> FloatArray:
    return np.asarray(np.asarray(voltage_v, dtype=float) ** -THRUST_VOLTAGE_EXPONENT)


def _power_per_volt(voltage_v: Number) -> FloatArray:
    return np.asarray(_per_volt(voltage_v) ** POWER_THRUST_EXPONENT)


def _inside(x: FloatArray, known_x: FloatArray, known_y: FloatArray) -> FloatArray:
    return np.asarray(np.interp(x, known_x, known_y, left=np.nan, right=np.nan))
