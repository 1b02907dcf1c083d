"""What a multirotor asks for in hover, from its masses and the maker's thrust table alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft.multirotor import Multirotor
from workbook.craft.thrust_table import Bracket, bracket, power_at_thrust
from workbook.numbers import FloatArray, Number
from workbook.working import Step


@dataclass(frozen=True)
class HoverAsk:
    """What hover asks for, at the thrust table's air. Figures of one shape; NaN outside the table.

    Attributes:
        all_up_mass_g: craft, payload and pack.
        thrust_per_motor_gf: of each motor.
        power_per_motor_w: of one motor, on the test bench.
        motors_w: of all motors in flight, flight factor included.
        avionics_w: of the electronics.
        power_w: what the pack must give.
        efficiency_gf_w: thrust over power of one motor.
        thrust_to_weight: the table's last row times motors, over all-up mass.
    """

    all_up_mass_g: FloatArray
    thrust_per_motor_gf: FloatArray
    power_per_motor_w: FloatArray
    motors_w: FloatArray
    avionics_w: FloatArray
    power_w: FloatArray
    efficiency_gf_w: FloatArray
    thrust_to_weight: FloatArray


def hover_ask(craft: Multirotor, pack_mass_g: Number) -> HoverAsk:
    """What a craft asks for in hover with a pack of a given mass.

    Args:
        craft: the craft; its figures may be arrays.
        pack_mass_g: mass of any pack, 0 or more.

    Source: in hover thrust equals weight; power from the maker's table.

    Example:
        >>> row = np.array([400.0, 500.0, 1000.0])
        >>> from workbook.craft.thrust_table import ThrustTable
        >>> blank = row * np.nan
        >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 20, row / 10, blank, blank)
        >>> ask = hover_ask(Multirotor("four", 4, 1200.0, 200.0, table, 10.0, 1.1), 600.0)
        >>> print(ask.thrust_per_motor_gf, ask.power_per_motor_w.round(3), ask.power_w.round(3))
        500.0 50.0 230.0
    """
    mass_g = np.asarray(craft.mass_without_pack_g + craft.payload_g + pack_mass_g, dtype=float)
    thrust_gf = np.asarray(mass_g / craft.rotors)
    motor_w = power_at_thrust(craft.table, thrust_gf)
    motors_w = np.asarray(motor_w * craft.rotors * craft.flight_factor)
    return HoverAsk(
        mass_g,
        thrust_gf,
        motor_w,
        motors_w,
        np.asarray(craft.avionics_w, dtype=float),
        np.asarray(motors_w + craft.avionics_w),
        np.asarray(thrust_gf / motor_w),
        np.asarray(craft.table.top_thrust_gf * craft.rotors / mass_g),
    )


def hover_bracket(craft: Multirotor, ask: HoverAsk) -> Bracket:
    """The two rows of the table around the thrust of a single hover.

    Raises:
        InputError: the thrust is outside the table.
    """
    return bracket(craft.table, float(ask.thrust_per_motor_gf))


def hover_steps(craft: Multirotor, pack_mass_g: float, ask: HoverAsk) -> tuple[Step, ...]:
    """The working of a single hover.

    Raises:
        InputError: the thrust is outside the table.
    """
    table, rows = craft.table, hover_bracket(craft, ask)
    low, high = (
        f"{table.thrust_gf[k]:.0f} gf, {table.power_w[k]:.1f} W" for k in (rows.low, rows.high)
    )
    n, factor, thrust = float(craft.rotors), float(craft.flight_factor), ask.thrust_per_motor_gf
    motor_w = float(ask.power_per_motor_w)
    return (
        Step(
            "all_up_mass_g", "all-up mass", "craft + payload + pack",
            f"{float(craft.mass_without_pack_g):.0f} g + {float(craft.payload_g):.0f} g + {pack_mass_g:.0f} g",
            float(ask.all_up_mass_g), "g", "kitchen scale",
        ),
        Step(
            "thrust_per_motor_gf", "thrust per motor", "all-up mass / motors (thrust = weight in hover)",
            f"{float(ask.all_up_mass_g):.0f} g / {n:g}", float(thrust), "gf", "balance of forces",
        ),
        Step(
            "power_per_motor_w", "power of one motor", "between the table's two rows around that thrust",
            f"between {low} and {high}, at {float(thrust):.0f} gf", motor_w, "W",
            "the maker's thrust table; power law between rows, as momentum theory has it",
        ),
        Step(
            "efficiency_gf_w", "gram per watt", "thrust / power of one motor",
            f"{float(thrust):.0f} gf / {motor_w:.1f} W", float(ask.efficiency_gf_w), "gf/W", "arithmetic",
        ),
        Step(
            "power_w", "hover power", "power of one motor x motors x flight factor + avionics",
            f"{motor_w:.1f} W x {n:g} x {factor:g} + {float(ask.avionics_w):g} W", float(ask.power_w), "W",
            "flight factor 1.05 to 1.25: common practice, no source; avionics: current meter",
        ),
    )  # fmt: skip
