"""Exercises of lesson 5: thrust per watt, thrust per ampere, and the voltage between them."""

from __future__ import annotations

import random
from functools import lru_cache
from pathlib import Path
from typing import Any

from workbook.craft.thrust_economy import economy, economy_steps
from workbook.craft.thrust_table import ThrustTable, bracket
from workbook.data.notebooks import notebooks_source
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart
from workbook.files.thrust_table_file import read_thrust_tables
from workbook.working import Step

LESSON = "thrust_per_amp"


@lru_cache(maxsize=1)
def _tables() -> tuple[ThrustTable, ...]:
    return read_thrust_tables(notebooks_source() / Path("tables", "survey_motor.csv")).tables


def _own_volts(draw: random.Random) -> Drawn:
    table = draw.choice(_tables())
    row = draw.randrange(3, 12)
    volts = draw.choice([14.4, 16.5, 18.0, 25.2, 28.8])
    thrust, watts = float(table.thrust_gf[row]), float(table.power_w[row])
    supply = float(table.voltage_v[row])
    cost = economy(table, thrust, volts)
    expected = float(cost.current_a)
    slips = apart(
        expected,
        [
            Slip(watts / supply, "That is the table's current, at the table's voltage; your pack has its own."),
            Slip(watts / supply * volts / supply, "The wrong way about: fewer volts ask for more amperes at equal watts."),
            Slip(thrust / watts, "That is thrust per watt; the current is asked."),
            Slip(watts / volts * 6, "That is six motors; one is asked."),
        ],
        0.02,
    )  # fmt: skip
    return Drawn(
        {
            "thrust": thrust,
            "watts": watts,
            "supply": supply,
            "amps": watts / supply,
            "volts": volts,
        },
        expected,
        slips,
        economy_steps(table, cost)[2:3],
    )


def _between_rows(draw: random.Random) -> Drawn:
    table = draw.choice(_tables())
    row = draw.randrange(2, 9)
    t1, t2 = float(table.thrust_gf[row]), float(table.thrust_gf[row + 1])
    thrust = round(t1 + draw.choice([0.4, 0.5, 0.6]) * (t2 - t1))
    cost = economy(table, float(thrust), table.supply_v)
    expected = float(cost.power_w)
    rows = bracket(table, float(thrust))
    p1, p2 = float(table.power_w[rows.low]), float(table.power_w[rows.high])
    slips = apart(
        expected,
        [
            Slip(p1, "That is the lower row's; the thrust lies between two rows."),
            Slip(p2, "That is the upper row's; the thrust lies between two rows."),
            Slip(
                thrust / float(table.thrust_gf[-1] / table.power_w[-1]),
                "That uses the thrust per watt of the full-throttle row; the rows around the thrust count.",
            ),
            Slip(
                thrust / float(table.thrust_gf[0] / table.power_w[0]),
                "That uses the thrust per watt of the lowest row; the rows around the thrust count.",
            ),
        ],
        0.02,
    )
    return Drawn(
        {"thrust": thrust, "t1": t1, "p1": p1, "t2": t2, "p2": p2},
        expected,
        slips,
        economy_steps(table, cost)[:1],
    )


def _whole_craft(draw: random.Random) -> Drawn:
    table = draw.choice(_tables())
    rotors, mass = draw.choice([(4, 2200), (4, 2600), (6, 3300), (6, 4200), (8, 5200)])
    volts, factor = draw.choice([18.6, 19.8, 20.4, 21.6]), draw.choice([1.10, 1.12, 1.15])
    cost = economy(table, mass / rotors, volts)
    per_watt = round(float(cost.gf_per_w), 1)
    motor_w = mass / rotors / per_watt
    expected = rotors * motor_w * factor / volts
    steps = (
        Step("thrust_gf", "thrust of one motor", "all-up mass / motors", f"{mass} g / {rotors}", mass / rotors, "gf",
             "hover: thrust equals weight"),
        Step("power_w", "power of one motor", "thrust / thrust per watt",
             f"{mass / rotors:.4g} gf / {per_watt} gf/W", motor_w, "W", "thrust table"),
        Step("current_a", "current of all motors", "motors x power of one x flight factor / pack voltage",
             f"{rotors} x {motor_w:.4g} W x {factor} / {volts} V", expected, "A",
             "flight factor: common practice, no source"),
    )  # fmt: skip
    slips = apart(
        expected,
        [
            Slip(expected / rotors, "That is one motor; the pack feeds them all."),
            Slip(expected / factor, "The flight factor is left out: on the craft, watts are more than on the bench."),
            Slip(expected * volts, "Those are the watts; the current is watts over volts."),
            Slip(expected * rotors, "The motors were counted twice: the mass is already shared by them."),
        ],
        0.02,
    )  # fmt: skip
    return Drawn(
        {"rotors": rotors, "mass": mass, "per_watt": per_watt, "factor": factor, "volts": volts},
        expected,
        slips,
        steps,
    )


def _starts_more_economical(result: Any) -> bool:
    return bool(result.asked.gf_per_w >= 1.10 * result.hover.gf_per_w)


EXERCISES = (
    NumberExercise(
        "amps-at-own-volts",
        LESSON,
        "A row of a thrust table says {thrust:.0f} gf at {watts:.1f} W, which was {amps:.2f} A at {supply:.1f} V. "
        "Your pack has {volts:g} V under load. What current does one motor draw for the same thrust?",
        _own_volts,
        "A",
        0.02,
        (
            "At equal thrust one of power, current and voltage stays as it is in the table.",
            "Watts carry over. Current is watts over your own volts.",
        ),
    ),
    NumberExercise(
        "watts-between-rows",
        LESSON,
        "The table has {t1:.0f} gf at {p1:.1f} W and {t2:.0f} gf at {p2:.1f} W. Hover asks for {thrust} gf a motor. "
        "What power does one motor draw on the bench?",
        _between_rows,
        "W",
        0.015,
        (
            "The answer lies between the two rows.",
            "A straight line between the rows is near enough here; the workbook uses a power law.",
        ),
    ),
    NumberExercise(
        "amps-of-the-craft",
        LESSON,
        "A craft of {mass} g all-up hovers on {rotors} motors. At that thrust the table gives {per_watt} gf/W; in flight "
        "the watts are {factor:g} times those of the bench. The pack has {volts:g} V under load. What current do the "
        "motors draw together?",
        _whole_craft,
        "A",
        0.02,
        (
            "First the thrust of one motor, then its watts.",
            "All motors, times the flight factor, over the pack's volts.",
        ),
    ),
    ChoiceExercise(
        "which-motor-is-thrifty",
        LESSON,
        "At your hover thrust, motor A lifts 180 gf per ampere in a table taken at 22.2 V, motor B lifts 133 gf per "
        "ampere in a table taken at 14.8 V. Which asks less of your pack?",
        (
            Option(
                "A, since each ampere lifts more",
                "An ampere at 22.2 V is more watts than an ampere at 14.8 V. Divide each by its volts first.",
            ),
            Option(
                "B",
                "180 / 22.2 = 8.1 gf/W and 133 / 14.8 = 9.0 gf/W: B needs fewer watts for the same thrust.",
                right=True,
            ),
            Option(
                "both the same, since thrust per ampere cannot be compared at all",
                "It can, once each is divided by the voltage it was taken at.",
            ),
        ),
        ("gf/A over volts is gf/W.",),
    ),
    ChoiceExercise(
        "which-row",
        LESSON,
        "A sales page says “up to 14 gf/W”. The table starts there at its lowest row and ends at 5.6 gf/W at full "
        "throttle. Which figure sizes the pack?",
        (
            Option(
                "14 gf/W, the motor's best",
                "That is at a thrust far below your hover: the plan would promise minutes that are not there.",
            ),
            Option(
                "5.6 gf/W, to be on the safe side",
                "The pack would be sized for a flight at full throttle. Limits are checked there, minutes are not.",
            ),
            Option(
                "the figure between the two rows around the hover thrust",
                "Thrust is the key to the table: the hover thrust, and the rows around it.",
                right=True,
            ),
        ),
    ),
    SettingExercise(
        "lighten-until-thrifty",
        LESSON,
        "Lower the thrust of one motor until each watt lifts at least 10 % more than in your hover. Read off how much "
        "lighter the craft would have to be.",
        (
            Condition(
                _starts_more_economical, "A watt does not yet lift 10 % more than in your hover."
            ),
        ),
        "Fewer grams help twice: less thrust is asked, and each gram-force costs fewer watts.",
        (
            "Drag the thrust to the left and watch the upper figure.",
            "Two thirds of the hover thrust is a good try.",
        ),
    ),
    SettingExercise(
        "amps-without-watts",
        LESSON,
        "Leave the thrust at your hover. Make an ampere lift at least 1.3 times what it lifts at the table's voltage.",
        (
            Condition(
                lambda r: abs(r.asked.thrust_gf / r.hover.thrust_gf - 1) < 0.01,
                "The thrust is not that of your hover.",
            ),
            Condition(
                lambda r: bool(r.asked.gf_per_a >= 1.3 * r.at_table.gf_per_a),
                "An ampere does not yet lift 1.3 times as much.",
            ),
        ),
        "More volts, fewer amperes, and the same watts: no minute is won by it. Thinner wire will do, that is all.",
        ("Thrust per ampere is thrust per watt times volts.", "Raise the pack's voltage."),
    ),
)

SOLUTIONS: dict[str, dict[str, object]] = {
    "lighten-until-thrifty": {"thrust_gf": 430.0},
    "amps-without-watts": {"voltage_v": 30.0},
}
