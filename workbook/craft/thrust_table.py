"""A motor maker's thrust table: thrust is the key, watts are what is looked up."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number


@dataclass(frozen=True, eq=False)
class ThrustTable:
    """One motor with one propeller at one supply voltage, rows by rising thrust.

    Attributes (arrays of shape (K,); NaN where the maker left a cell blank):
        motor, propeller: names from the file.
        source: where it was read from, and that it is invented where it is.
        throttle_pct, thrust_gf, current_a, voltage_v, power_w, speed_rpm: the columns;
            thrust, voltage, current and power are complete (the reader fills one from the others and says so).
        row: row numbers in the file, for messages.
        top_thrust_gf: highest thrust in the table.
        supply_v: voltage at which the table was taken, as its maker states it; where no label
            states one, the highest in its rows.
        notices: what was filled in, settled or doubted when the table was read.
    """

    motor: str
    propeller: str
    thrust_gf: FloatArray
    current_a: FloatArray
    voltage_v: FloatArray
    power_w: FloatArray
    throttle_pct: FloatArray
    speed_rpm: FloatArray
    row: tuple[int, ...] = ()
    source: str = ""
    supply_v: float = math.nan
    notices: tuple[Problem, ...] = ()

    @property
    def top_thrust_gf(self) -> float:
        """Highest thrust in the table."""
        return float(self.thrust_gf[-1])

    @property
    def has_throttle(self) -> bool:
        """Whether every row has a throttle."""
        return not bool(np.isnan(self.throttle_pct).any())

    @property
    def has_speed(self) -> bool:
        """Whether every row has a speed."""
        return not bool(np.isnan(self.speed_rpm).any())


@dataclass(frozen=True)
class Bracket:
    """The two rows around a thrust: index in the table, and the share of the way between them."""

    low: int
    high: int


def bracket(table: ThrustTable, thrust_gf: float) -> Bracket:
    """The two rows that bracket a thrust.

    Raises:
        InputError: the thrust is outside the table.
    """
    first, top = float(table.thrust_gf[0]), table.top_thrust_gf
    if not first <= thrust_gf <= top:
        raise InputError(
            f"thrust of {thrust_gf:.0f} gf per motor is outside the thrust table "
            f"({first:.0f} to {top:.0f} gf); a table that reaches it is needed."
        )
    high = int(np.clip(np.searchsorted(table.thrust_gf, thrust_gf), 1, len(table.thrust_gf) - 1))
    return Bracket(high - 1, high)


def _log_interp(x: Number, known_x: FloatArray, known_y: FloatArray) -> FloatArray:
    keep = (known_x > 0) & (known_y > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(
            np.exp(
                np.interp(
                    np.log(np.asarray(x, dtype=float)),
                    np.log(known_x[keep]),
                    np.log(known_y[keep]),
                    left=np.nan,
                    right=np.nan,
                )
            )
        )


def power_at_thrust(table: ThrustTable, thrust_gf: Number) -> FloatArray:
    """Electrical power of one motor at a thrust; NaN outside the table.

    Between two rows power follows a power law of thrust (a straight line on log-log paper), which
    is what momentum theory gives for a propeller at rest (power as thrust^1.5).
    """
    return _log_interp(thrust_gf, table.thrust_gf, table.power_w)


def thrust_at_power(table: ThrustTable, power_w: Number) -> FloatArray:
    """Thrust of one motor at an electrical power, the inverse of `power_at_thrust`."""
    return _log_interp(power_w, table.power_w, table.thrust_gf)


def throttle_at_thrust(table: ThrustTable, thrust_gf: Number) -> FloatArray:
    """Throttle of the table's row at a thrust, straight between rows; NaN outside."""
    return np.asarray(
        np.interp(
            np.asarray(thrust_gf, dtype=float),
            table.thrust_gf,
            table.throttle_pct,
            left=np.nan,
            right=np.nan,
        )
    )
