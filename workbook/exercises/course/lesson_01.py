"""Exercises of lesson 1: masses, thrust per motor, watts."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

from workbook.craft.hover import hover_ask, hover_bracket, hover_steps
from workbook.craft.multirotor import Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.data.notebooks import notebooks_source
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart, newton_for_gram_force, per_pack, sixty
from workbook.files.design_file import read_design
from workbook.sizing.design import Design

LESSON = "craft_asks"


def _table() -> ThrustTable:
    """The demo craft's thrust table, whatever the learner's own design is."""
    design: Design[Multirotor] = read_design(
        notebooks_source() / "designs" / "survey_six.toml"
    ).design
    return design.craft.table


def _craft(draw: Random) -> tuple[Multirotor, float]:
    rotors = draw.choice([4, 6, 8])
    craft = Multirotor(
        "exercise", rotors, 10.0 * draw.randrange(130, 200), 10.0 * draw.randrange(10, 45), _table(),
        draw.choice([8.0, 11.0, 16.0]), draw.choice([1.1, 1.15, 1.2]),
    )  # fmt: skip
    return craft, 10.0 * draw.randrange(60, 130)


def _thrust(draw: Random) -> Drawn:
    craft, pack_g = _craft(draw)
    ask = hover_ask(craft, pack_g)
    expected = float(ask.thrust_per_motor_gf)
    bare, empty = replace(craft, payload_g=0.0), hover_ask(craft, 0.0)
    slips = (
        *per_pack(expected, float(craft.rotors), "motors"),
        Slip(float(empty.thrust_per_motor_gf), "The pack is lifted too: its mass is left out."),
        Slip(float(hover_ask(bare, pack_g).thrust_per_motor_gf), "The payload is left out."),
        *newton_for_gram_force(expected),
    )
    return Drawn(
        {
            "rotors": float(craft.rotors), "craft": float(craft.mass_without_pack_g), "payload": float(craft.payload_g),
            "pack": pack_g,
        },
        expected,
        apart(expected, slips, THRUST.tolerance),
        hover_steps(craft, pack_g, ask)[:2],
    )  # fmt: skip


THRUST = NumberExercise(
    "craft-thrust-per-motor",
    LESSON,
    "A craft with {rotors:.0f} rotors weighs {craft:.0f} g without pack and payload. It carries {payload:.0f} g and a "
    "pack of {pack:.0f} g. How much thrust does each motor give in hover?",
    _thrust,
    "gf",
    0.005,
    (
        "In hover the thrust of all motors together equals the weight of everything that flies.",
        "Add the three masses; 1 g of mass needs 1 gf of thrust. Then share it among the motors.",
    ),
)


def _watts(draw: Random) -> Drawn:
    craft, pack_g = _craft(draw)
    ask, table = hover_ask(craft, pack_g), craft.table
    rows, expected = hover_bracket(craft, ask), float(ask.power_per_motor_w)
    low_w, high_w = float(table.power_w[rows.low]), float(table.power_w[rows.high])
    top_w = float(table.power_w[-1]) / table.top_thrust_gf * float(ask.thrust_per_motor_gf)
    slips = (
        Slip(low_w, "That is the row below as it stands; the thrust lies between the two rows."),
        Slip(high_w, "That is the row above as it stands; the thrust lies between the two rows."),
        Slip(
            top_w, "That uses the gram per watt of the full-throttle row, the worst in the table."
        ),
        Slip(expected * float(craft.rotors), "That is for all motors; one motor is asked for."),
        Slip(
            0.5 * (low_w + high_w), "That is the middle of the two rows, wherever the thrust lies."
        ),
    )
    return Drawn(
        {
            "thrust": float(ask.thrust_per_motor_gf),
            "low_gf": float(table.thrust_gf[rows.low]), "low_w": low_w,
            "high_gf": float(table.thrust_gf[rows.high]), "high_w": high_w,
            "top_gf": table.top_thrust_gf, "top_w": float(table.power_w[-1]),
        },
        expected,
        apart(expected, slips, WATTS.tolerance),
        hover_steps(craft, pack_g, ask)[2:3],
    )  # fmt: skip


WATTS = NumberExercise(
    "craft-watts-of-one-motor",
    LESSON,
    "Each motor must give {thrust:.0f} gf. The thrust table has the rows {low_gf:.0f} gf at {low_w:.1f} W, "
    "{high_gf:.0f} gf at {high_w:.1f} W and, at full throttle, {top_gf:.0f} gf at {top_w:.1f} W. How many watts does "
    "one motor take?",
    _watts,
    "W",
    0.01,
    (
        "Look up thrust and read watts; throttle and full-throttle figures do not matter here.",
        "How far is the thrust from the lower row to the upper one? Go as far between the watts.",
    ),
)


def _power(draw: Random) -> Drawn:
    craft, pack_g = _craft(draw)
    ask = hover_ask(craft, pack_g)
    expected, motor_w = float(ask.power_w), float(ask.power_per_motor_w)
    n, factor, avionics = float(craft.rotors), float(craft.flight_factor), float(craft.avionics_w)
    slips = (
        Slip(float(ask.motors_w), "The avionics are left out."),
        Slip(
            motor_w * n + avionics,
            "The flight factor is left out: that is power on the test bench.",
        ),
        Slip(motor_w * factor + avionics, f"That is for one motor; the craft has {n:g}."),
        Slip((motor_w * factor + avionics) * n, "The avionics are there once, not once a motor."),
        Slip(
            (motor_w * n + avionics) * factor, "The flight factor is for motors, not for avionics."
        ),
        *sixty(expected),
    )
    return Drawn(
        {"rotors": n, "motor_w": motor_w, "factor": factor, "avionics": avionics},
        expected,
        apart(expected, slips, POWER.tolerance),
        hover_steps(craft, pack_g, ask)[-1:],
    )


POWER = NumberExercise(
    "craft-hover-power",
    LESSON,
    "At its hover thrust one motor takes {motor_w:.1f} W on the test bench. The craft has {rotors:.0f} of them, a flight "
    "factor of {factor:g} and avionics of {avionics:g} W. How many watts must the pack give in hover?",
    _power,
    "W",
    0.003,
    (
        "Motors first: all of them, and in flight a little more than on the bench.",
        "power of one motor x motors x flight factor + avionics",
    ),
)

LOOKUP = ChoiceExercise(
    "craft-what-to-look-up",
    LESSON,
    "Your thrust table was taken at 22.2 V, and your pack will give 21 V in hover. What do you look up, and what do "
    "you read off?",
    (
        Option(
            "thrust per motor, and read the watts",
            "At equal thrust the watts carry over; the current is watts over your own volts.",
            right=True,
        ),
        Option(
            "thrust per motor, and read the amperes",
            "Those amperes belong to the table's 22.2 V. At 21 V the same watts need more of them.",
        ),
        Option(
            "hover throttle, and read the thrust",
            "Throttle means another thrust at another voltage. Thrust follows from the weight.",
        ),
        Option(
            "the full-throttle row, and halve it",
            "Half the throttle is not half the thrust, and half the thrust is less than half the watts.",
        ),
    ),
    ("Which of the two is the same on your craft as on the maker's stand?",),
)


def _from_four(result: Any) -> bool:
    return float(result.ask.power_w) <= 300.0


LIGHTER = SettingExercise(
    "craft-lighter",
    LESSON,
    "In the figure above, keep a payload of 300 g or more and a pack of 900 g or more, and bring the hover power down to "
    "300 W or less.",
    (
        Condition(_from_four, "Hover still takes more than 300 W."),
        Condition(lambda r: float(r.craft.payload_g) >= 300.0, "The payload is below 300 g."),
        Condition(lambda r: r.pack_mass_g >= 900.0, "The pack is below 900 g."),
    ),
    "Power falls faster than mass does: a fifth off the mass takes more than a quarter off the watts.",
    (
        "What else is there to make lighter, and what do more rotors of the same kind do?",
        "Make the craft itself lighter, or share the weight among eight rotors.",
    ),
)

EXERCISES: tuple[Exercise, ...] = (THRUST, WATTS, POWER, LOOKUP, LIGHTER)
SOLUTIONS = {
    "craft-lighter": {
        "mass_without_pack_g": 1600.0, "payload_g": 300.0, "pack_mass_g": 900.0, "rotors": 8,
    }
}  # fmt: skip
