"""What thrust costs: gram-force per watt and per ampere, at any supply voltage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft.thrust_table import ThrustTable, bracket, power_at_thrust
from workbook.numbers import FloatArray, Number
from workbook.working import Step


@dataclass(frozen=True)
class Economy:
    """What one motor's thrust costs; arrays of one shape, NaN outside the thrust table.

    Attributes:
        thrust_gf: thrust.
        voltage_v: supply voltage that it is asked at.
        power_w: electrical power, the same at every supply voltage.
        current_a: power over that voltage.
        gf_per_w: thrust per watt, the same at every supply voltage.
        gf_per_a: thrust per ampere, in proportion to the voltage.
    """

    thrust_gf: FloatArray
    voltage_v: FloatArray
    power_w: FloatArray
    current_a: FloatArray
    gf_per_w: FloatArray
    gf_per_a: FloatArray


def economy(table: ThrustTable, thrust_gf: Number, voltage_v: Number) -> Economy:
    """What a thrust costs at a supply voltage: the watts carry over, amperes are watts over volts.

    Args:
        table: of one motor and propeller.
        thrust_gf: of one motor, above 0.
        voltage_v: supply voltage under load, above 0; need not be the table's.

    Returns:
        Figures of the shape of both arguments together.

    Source: power = voltage x current; at equal thrust the propeller asks for the same shaft power,
        and the change of the motor's own losses with the supply voltage is left out.

    Example:
        >>> row = np.array([400.0, 600.0, 800.0])
        >>> blank = row * np.nan
        >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 20.0, row / 10, blank, blank)
        >>> cost = economy(table, 600.0, np.array([20.0, 15.0]))
        >>> cost.power_w.round(1), cost.current_a.round(1), cost.gf_per_a.round(1)
        (array([60., 60.]), array([3., 4.]), array([200., 150.]))
    """
    thrust, volts = np.broadcast_arrays(
        np.asarray(thrust_gf, dtype=float), np.asarray(voltage_v, dtype=float)
    )
    power = power_at_thrust(table, thrust)
    current = power / volts
    return Economy(thrust, volts, power, current, thrust / power, thrust / current)


@dataclass(frozen=True)
class Peak:
    """The row of a thrust table with the most thrust per watt.

    Attributes:
        index: of the row, 0 the lowest thrust.
        thrust_gf, gf_per_w: of that row.
        at_first_row: whether it is the lowest row: the true peak may then lie below the table.
    """

    index: int
    thrust_gf: float
    gf_per_w: float
    at_first_row: bool


def peak(table: ThrustTable) -> Peak:
    """Where a thrust table gives the most thrust per watt. A row of no thrust is left out.

    Source: arithmetic on the table's rows.

    Example:
        >>> thrust = np.array([100.0, 200.0, 400.0])
        >>> watts, blank = np.array([12.0, 20.0, 50.0]), thrust * np.nan
        >>> peak(ThrustTable("m", "p", thrust, watts / 20, thrust * 0 + 20, watts, blank, blank))
        Peak(index=1, thrust_gf=200.0, gf_per_w=10.0, at_first_row=False)
    """
    usable = (table.thrust_gf > 0) & (table.power_w > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.where(usable, table.thrust_gf / table.power_w, -np.inf)
    index = int(np.argmax(each))
    first = int(np.argmax(usable))
    return Peak(index, float(table.thrust_gf[index]), float(each[index]), index == first)


def economy_steps(table: ThrustTable, cost: Economy) -> tuple[Step, ...]:
    """How a single motor's economy comes about.

    Raises:
        InputError: the thrust is outside the table.

    Example:
        >>> row = np.array([400.0, 800.0])
        >>> blank = row * np.nan
        >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 20, row / 10, blank, blank)
        >>> economy_steps(table, economy(table, 600.0, 20.0))[-1].text()
        'thrust per ampere = thrust / current = 600 gf / 3 A = 200 gf/A  [arithmetic]'
    """
    thrust, volts = float(cost.thrust_gf), float(cost.voltage_v)
    watts, amperes = float(cost.power_w), float(cost.current_a)
    rows = bracket(table, thrust)
    (t1, t2), (p1, p2) = (
        (float(column[rows.low]), float(column[rows.high]))
        for column in (table.thrust_gf, table.power_w)
    )
    return (
        Step(
            "power_w", "power of one motor", "P1 x (T / T1)^k, k = ln(P2 / P1) / ln(T2 / T1), rows 1 and 2 around T",
            f"{p1:g} W x ({thrust:.4g} gf / {t1:g} gf)^k, k = ln({p2:g} / {p1:g}) / ln({t2:g} / {t1:g})",
            watts, "W", "thrust table; power law between its rows, after momentum theory",
        ),
        Step(
            "gf_per_w", "thrust per watt", "thrust / power", f"{thrust:.4g} gf / {watts:.4g} W",
            float(cost.gf_per_w), "gf/W", "arithmetic; the same at every supply voltage",
        ),
        Step(
            "current_a", "current of one motor", "power / the pack's own voltage under load",
            f"{watts:.4g} W / {volts:.4g} V", amperes, "A", "power = voltage x current",
        ),
        Step(
            "gf_per_a", "thrust per ampere", "thrust / current", f"{thrust:.4g} gf / {amperes:.3g} A",
            float(cost.gf_per_a), "gf/A", "arithmetic",
        ),
    )  # fmt: skip
