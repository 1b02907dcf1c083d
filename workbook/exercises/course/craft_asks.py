"""Exercises: masses, thrust per motor, watts."""

from __future__ import annotations

from functools import cache
from typing import Any

from workbook.craft.craft_types import Multirotor
from workbook.craft.thrust_table import ThrustTable
from workbook.data.notebooks import notebooks_source
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import newton_for_gram_force
from workbook.files.design_file import read_design


@cache
def _table() -> ThrustTable:
    """The demo craft's thrust table, whatever the learner's own design is."""
    craft = read_design(notebooks_source() / "designs" / "survey_six.toml").design.craft
    assert isinstance(craft, Multirotor)
    return craft.table


def _row(table: ThrustTable, row: int) -> tuple[float, float]:
    return table.thrust_gf[row], table.power_w[row]


CRAFT: dict[str, Any] = {
    "rotors": [4, 6, 8],
    "mass": range(1300, 2000, 10),
    "payload": range(100, 450, 10),
    "avionics": [8.0, 11.0, 16.0, 22.0],
    "factor": [1.1, 1.15, 1.2],
    "pack": range(600, 1300, 10),
    "craft": lambda d: Multirotor(
        name="exercise",
        rotors=d.rotors,
        mass_without_pack_g=d.mass,
        payload_g=d.payload,
        table=_table(),
        avionics_w=d.avionics,
        flight_factor=d.factor,
    ),
    "ask": lambda d: d.craft.hover(d.craft.all_up_mass_g(d.pack)),
    "motor_w": lambda d: d.ask.power_per_motor_w,
}

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "craft-thrust-per-motor",
        "A craft with {rotors:.0f} rotors weighs {mass:.0f} g without pack and payload. It "
        "carries {payload:.0f} g and a pack of {pack:.0f} g. How much thrust does each motor "
        "give in hover?",
        "gf",
        0.005,
        draw=CRAFT,
        steps=lambda d: d.ask.steps()[:2],
        slips=lambda d: {
            f"That is for all {d.rotors} motors; one is asked for.": d.answer * d.rotors,
            "The pack is lifted too: its mass is left out.": (d.mass + d.payload) / d.rotors,
            "The payload is left out.": (d.mass + d.pack) / d.rotors,
            **newton_for_gram_force(d.answer),
        },
        hints=(
            "In hover the thrust of all motors together equals the weight of everything that flies.",
            "Add the three masses; 1 g of mass needs 1 gf of thrust. Then share it among the motors.",
        ),
    ),
    NumberExercise(
        "craft-watts-of-one-motor",
        "Each motor must give {thrust:.0f} gf. The thrust table has the rows {low_gf:.0f} gf at "
        "{low_w:.1f} W, {high_gf:.0f} gf at {high_w:.1f} W and, at full throttle, {top_gf:.0f} "
        "gf at {top_w:.1f} W. How many watts does one motor take?",
        "W",
        0.01,
        draw={
            **CRAFT,
            "thrust": lambda d: d.ask.thrust_per_motor_gf,
            "low high": lambda d: d.ask.rows(),
            "low_gf low_w": lambda d: _row(_table(), d.low),
            "high_gf high_w": lambda d: _row(_table(), d.high),
            "top_gf top_w": lambda d: _row(_table(), -1),
        },
        steps=lambda d: d.ask.steps()[2:3],
        slips=lambda d: {
            "That is the row below; the thrust lies between the two rows.": d.low_w,
            "That is the row above; the thrust lies between the two rows.": d.high_w,
            "That uses the gram per watt of the full-throttle row.": d.top_w / d.top_gf * d.thrust,
            "That is for all motors; one motor is asked for.": d.answer * d.rotors,
            "That scales the row below with the thrust; watts rise faster than thrust.": (
                d.low_w * d.thrust / d.low_gf
            ),
            "That scales the row above with the thrust; watts fall faster than thrust.": (
                d.high_w * d.thrust / d.high_gf
            ),
        },
        hints=(
            "Look up thrust and read watts; throttle and full-throttle figures do not matter here.",
            "How far is the thrust from the lower row to the upper one? Go as far between the watts.",
        ),
    ),
    NumberExercise(
        "craft-hover-power",
        "At its hover thrust one motor takes {motor_w:.1f} W on the test bench. The craft has "
        "{rotors:.0f} of them, a flight factor of {factor:g} and avionics of {avionics:g} W. How"
        " many watts must the pack give in hover?",
        "W",
        0.003,
        draw=CRAFT,
        steps=lambda d: d.ask.steps()[-1:],
        slips=lambda d: {
            "The avionics are left out.": d.motor_w * d.rotors * d.factor,
            "The flight factor is left out.": d.motor_w * d.rotors + d.avionics,
            f"That is for one motor; the craft has {d.rotors}.": d.motor_w * d.factor + d.avionics,
            "The avionics are there once only.": (d.motor_w * d.factor + d.avionics) * d.rotors,
            "Avionics take no flight factor.": (d.motor_w * d.rotors + d.avionics) * d.factor,
            "Flight factor and avionics are both left out.": d.motor_w * d.rotors,
        },
        hints=(
            "Motors first: all of them, and in flight a little more than on the bench.",
            "power of one motor x motors x flight factor + avionics",
        ),
    ),
    *choices_of("craft_asks"),
    SettingExercise(
        "craft-lighter",
        "In the figure above, keep a payload of 300 g or more and a pack of 900 g or more, and "
        "bring the hover power down to 300 W or less.",
        {
            "Hover still takes more than 300 W.": lambda r: r.hover.power_w <= 300,
            "The payload is below 300 g.": lambda r: r.craft.payload_g >= 300,
            "The pack is below 900 g.": lambda r: r.pack_mass_g >= 900,
        },
        solution={
            "mass_without_pack_g": 1600.0,
            "payload_g": 300.0,
            "pack_mass_g": 900.0,
            "rotors": 8,
        },
        why="Power falls faster than mass: a fifth off the mass takes more than a quarter off the watts.",
        hints=(
            "What else is there to make lighter, and what do more rotors of the same kind do?",
            "Make the craft itself lighter, or share the weight among eight rotors.",
        ),
    ),
)
