"""Exercises: thrust per watt, thrust per ampere, and the voltage between them."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from workbook.craft.thrust_table import ThrustTable
from workbook.data.notebooks import notebooks_source
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.files.thrust_table_file import read_thrust_tables
from workbook.working import step


@cache
def _tables() -> tuple[ThrustTable, ...]:
    return read_thrust_tables(notebooks_source() / "tables" / "survey_motor.csv").tables


TABLE: dict[str, Any] = {"table": lambda d: d.random.choice(_tables())}

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "amps-at-own-volts",
        "A row of a thrust table says {thrust:.0f} gf at {watts:.1f} W, which was {amps:.2f} A "
        "at {supply:.1f} V. Your pack has {volts:g} V under load. What current does one motor "
        "draw for the same thrust?",
        "A",
        0.01,
        draw={
            **TABLE,
            "row": range(3, 12),
            "volts": [13.6, 14.2, 17.0, 17.6, 20.1, 20.7, 21.3, 27.6, 28.4],
            "thrust": lambda d: d.table.thrust_gf[d.row],
            "watts": lambda d: d.table.power_w[d.row],
            "supply": lambda d: d.table.voltage_v[d.row],
            "amps": lambda d: d.watts / d.supply,
        },
        steps=lambda d: d.table.efficiency(d.thrust, d.volts).steps()[2:3],
        slips=lambda d: {
            "That is the table's current, at the table's voltage; your pack has its own.": d.amps,
            "The wrong way about: fewer volts need more amperes, more volts fewer.": (
                d.amps * d.volts / d.supply
            ),
            "That is thrust per watt; the current is asked for.": d.thrust / d.watts,
        },
        hints=(
            "At equal thrust one of power, current and voltage stays as it is in the table.",
            "Watts carry over. Current is watts over your own volts.",
        ),
    ),
    NumberExercise(
        "watts-between-rows",
        "The table has {t1:.0f} gf at {p1:.1f} W and {t2:.0f} gf at {p2:.1f} W. Hover asks for "
        "{thrust} gf per motor. What power does one motor draw on the bench?",
        "W",
        0.01,
        draw={
            **TABLE,
            "row": range(2, 11),
            "part": [0.3, 0.4, 0.5, 0.6, 0.7],
            "t1 t2": lambda d: d.table.thrust_gf[d.row : d.row + 2].tolist(),
            "thrust": lambda d: round(d.t1 + d.part * (d.t2 - d.t1)),
            "low high": lambda d: d.table.rows_around(d.thrust),
            "p1": lambda d: d.table.power_w[d.low],
            "p2": lambda d: d.table.power_w[d.high],
            "gf_per_w": lambda d: d.table.thrust_gf / d.table.power_w,
        },
        steps=lambda d: d.table.efficiency(d.thrust, d.table.supply_v).steps()[:1],
        slips=lambda d: {
            "That is the lower row's; the thrust lies between two rows.": d.p1,
            "That is the upper row's; the thrust lies between two rows.": d.p2,
            "That uses the gram per watt of the full-throttle row.": d.thrust / d.gf_per_w[-1],
            "That uses the gram per watt of the lowest row.": d.thrust / d.gf_per_w[0],
            "That scales the lower row with the thrust; watts rise faster than thrust.": (
                d.p1 * d.thrust / d.t1
            ),
            "That scales the upper row with the thrust; watts fall faster than thrust.": (
                d.p2 * d.thrust / d.t2
            ),
        },
        hints=(
            "The answer lies between the two rows.",
            "A straight line between the rows is near enough here; the workbook uses a power law.",
        ),
    ),
    NumberExercise(
        "amps-of-the-craft",
        "A craft of {mass} g all-up hovers on {rotors} motors. At that thrust the table gives "
        "{per_watt} gf/W; in flight the watts are {factor:g} times those of the bench. The pack "
        "has {volts:g} V under load. What current do the motors draw together?",
        "A",
        0.02,
        draw={
            **TABLE,
            "rotors": [4, 6, 8],
            "mass": lambda d: d.rotors * d.random.randrange(480, 720, 20),
            "volts": [18.6, 19.8, 20.4, 21.6],
            "factor": [1.10, 1.12, 1.15],
            "motor_gf": lambda d: d.mass / d.rotors,
            "per_watt": lambda d: np.round(d.table.efficiency(d.motor_gf, d.volts).gf_per_w, 1),
            "motor_w": lambda d: d.motor_gf / d.per_watt,
        },
        steps=lambda d: (
            step("amps-of-the-craft-thrust_gf", d.motor_gf, **vars(d)),
            step("amps-of-the-craft-power_w", d.motor_w, **vars(d)),
        ),
        answer=lambda d: d.rotors * d.motor_w * d.factor / d.volts,
        slips=lambda d: {
            "That is one motor; the pack feeds them all.": d.answer / d.rotors,
            "The flight factor is left out: that is bench power.": d.answer / d.factor,
            "Those are the watts; the current is watts over volts.": d.answer * d.volts,
            "The motors were counted twice: they share the mass already.": d.answer * d.rotors,
        },
        hints=(
            "First the thrust of one motor, then its watts.",
            "All motors, times the flight factor, over the pack's volts.",
        ),
    ),
    *choices_of("thrust_per_amp"),
    SettingExercise(
        "lighten-until-thrifty",
        "Lower the thrust of one motor until each watt lifts at least 10 % more than in your "
        "hover. Read off how much lighter the craft would have to be.",
        {
            "A watt does not yet lift 10 % more than in your hover.": (
                lambda r: r.pack_efficiency.gf_per_w >= 1.10 * r.hover_efficiency.gf_per_w
            )
        },
        solution={"thrust_gf": 430.0},
        why="Fewer grams help twice: less thrust is asked, and each gram-force costs fewer watts.",
        hints=(
            "Drag the thrust to the left and watch the upper figure.",
            "Two thirds of the hover thrust is a good start.",
        ),
    ),
    SettingExercise(
        "amps-without-watts",
        "Leave the thrust at your hover. Make an ampere lift at least 1.3 times what it lifts at"
        " the table's voltage.",
        {
            "The thrust is not that of your hover.": (
                lambda r: abs(r.pack_efficiency.thrust_gf / r.hover_efficiency.thrust_gf - 1) < 0.01
            ),
            "An ampere does not yet lift 1.3 times as much.": (
                lambda r: r.pack_efficiency.gf_per_a >= 1.3 * r.table_efficiency.gf_per_a
            ),
        },
        solution={"voltage_v": 30.0},
        why="More volts, fewer amperes, the same watts: thinner wire, not one minute more.",
        hints=("Thrust per ampere is thrust per watt times volts.", "Raise the pack's voltage."),
    ),
)
