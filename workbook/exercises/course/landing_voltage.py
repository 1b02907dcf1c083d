"""Exercises: sag under constant power, landing voltage, flight time."""

from __future__ import annotations

from typing import Any

from workbook.battery.discharge import most_power_w, voltage_under_power
from workbook.battery.pack import Pack
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import other_voltage, reserve_left_out, sixty
from workbook.files.cell_file import find_cell
from workbook.files.club_file import club_rules
from workbook.sizing.constant_power_flight import ConstantPowerFlight, constant_power_flight
from workbook.working import step


def _flight(d: Any) -> ConstantPowerFlight:
    pack = Pack(find_cell(d.name), d.series, d.parallel)
    return constant_power_flight(pack, d.watts, d.rules.landing_v, d.rules.reserve_pct)


WRONG_V = {"the nominal voltage": 3.6, "a full cell's voltage": 4.2}

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "voltage-under-load",
        "Almost empty, a cold cell rests at {u:.2f} V and has {r} mΩ. It must give {watts} W. "
        "What is its voltage under load?",
        "V",
        0.005,
        draw={
            "u": [3.3, 3.35, 3.4, 3.45, 3.5, 3.55],
            "r": [36, 40, 45, 50, 55, 60],
            "watts": [16, 18, 20, 22, 24],
            "ohm": lambda d: d.r / 1000,
        },
        answer=lambda d: voltage_under_power(d.u, d.r, d.watts),
        slips=lambda d: {
            "That is the voltage at rest; under load the cell sags.": d.u,
            "That is the sag, or the other root; the higher voltage counts.": d.u - d.answer,
            "Watts were taken for amperes: the sag is current x resistance.": d.u - d.watts * d.ohm,
            "The sum was not halved.": 2 * d.answer,
        },
        hints=(
            "The current is not known yet: power = V x I, and V = U - I R.",
            "V = (U + sqrt(U^2 - 4 P R)) / 2, with R in Ω.",
        ),
    ),
    NumberExercise(
        "cell-current-at-landing",
        "A pack of {series}S{parallel}P gives {watts} W to a hover. At landing each cell stands at "
        "{loaded:.2f} V under load. What current does one cell carry then?",
        "A",
        0.01,
        draw={
            "series parallel": [(4, 2), (6, 2), (6, 3), (4, 3)],
            "cell_w": [13, 15, 16, 18, 20, 22],
            "watts": lambda d: d.cell_w * d.series * d.parallel,
            "loaded": [3.05, 3.10, 3.15, 3.20, 3.25],
        },
        answer=lambda d: d.cell_w / d.loaded,
        slips=lambda d: {
            f"That is the whole pack's; {d.parallel} cells share it.": d.answer * d.parallel,
            "The watts are shared by all cells, in series as well.": d.answer * d.series,
            **other_voltage(d.answer, d.loaded, WRONG_V, -1),
        },
        hints=(
            "Each cell gives its share of the watts.",
            "The cell's watts over the voltage that it has just then, not over its nominal voltage.",
        ),
    ),
    NumberExercise(
        "minutes-by-energy",
        "A pack of {series}S{parallel}P takes off at {start:.1f} A and gives {watts:.0f} W "
        "throughout. Down to landing, with the reserve left in it, {charge:.2f} Ah are taken, at"
        " a mean of {mean:.2f} V per cell under load. How long is the flight?",
        "min",
        0.005,
        draw={
            "name": ["Bittern", "Sedge", "Lapwing"],
            "series parallel": [(4, 2), (4, 3), (5, 3), (6, 2), (6, 3), (6, 4)],
            "cell_w": [16, 18, 20, 22, 24],
            "watts": lambda d: d.cell_w * d.series * d.parallel,
            "rules": lambda d: club_rules().rules,
            "flight": _flight,
            "start": lambda d: d.flight.start_a,
            "charge": lambda d: round(d.flight.run.charge_ah * d.parallel, 2),
            "mean": lambda d: round(d.flight.run.energy_wh / d.flight.run.charge_ah, 3),
            "energy": lambda d: d.charge * d.mean * d.series,
        },
        steps=lambda d: [step("minutes-by-energy-energy_wh", d.energy, **vars(d))],
        answer=lambda d: 60 * d.energy / d.watts,
        slips=lambda d: {
            "That is charge over take-off current; it rises all the way.": 60 * d.charge / d.start,
            f"One cell's voltage: the pack has {d.series} times as much.": d.answer / d.series,
            "The charge is that of the whole pack already.": d.answer / d.parallel,
            "4.2 V per cell is full and at rest; it is lower all the way.": d.answer * 4.2 / d.mean,
            **sixty(d.answer),
            **reserve_left_out(d.answer, 1 - d.rules.reserve_pct / 100),
        },
        hints=(
            "The watts stay as they are; the amperes do not.",
            "Energy first: charge times S times the mean voltage. Then 60 times energy over power.",
        ),
    ),
    NumberExercise(
        "where-it-collapses",
        "An old cell rests at {u:.1f} V and has {r} mΩ. At which power does it collapse?",
        "W",
        0.01,
        draw={"u": [3.2, 3.3, 3.4, 3.5], "r": range(60, 130, 10), "ohm": lambda d: d.r / 1000},
        answer=lambda d: most_power_w(d.u, d.r),
        slips=lambda d: {
            "U^2 / R is what a short circuit would burn; the 4 is missing.": 4 * d.answer,
            "Half of it heats the cell: U^2 / (2 R) is the whole, inside and out.": 2 * d.answer,
            "The resistance is in milliohms: divide it by 1000 first.": d.answer / 1000,
            "U has to be squared.": d.answer / d.u,
        },
        hints=("Where does the square root of U^2 - 4 P R end?", "P = U^2 / (4 R), with R in Ω."),
    ),
    *choices_of("landing_voltage"),
    SettingExercise(
        "cold-morning",
        "Raise the resistance, as cold does, until the landing voltage ends the flight and not the "
        "reserve, at the power of your hover and your design's landing voltage.",
        {
            "The reserve still comes first.": lambda r: r.run.landed,
            "It does not even take off.": lambda r: r.run.time_s > 0,
            "The resistance is that of a fresh cell at 25 °C.": lambda r: r.factor > 1,
        },
        solution={"resistance_factor": 3.0},
        why="The charge is still in the cells, but it cannot be had at that power: minutes go, and "
        "the reserve with them.",
        hints=(
            "Drag the temperature down, or the resistance up.",
            "At freezing it is about twice that at 25 °C.",
        ),
    ),
    SettingExercise(
        "half-the-estimate",
        "Find a power and a resistance that halve the rough estimate, Ah / A, or worse.",
        {
            "It does not even take off.": lambda r: r.run.time_s > 0,
            "The flight is still more than half of the estimate.": (
                lambda r: r.flight_min < 0.5 * r.naive_min
            ),
        },
        solution={"resistance_factor": 4.0, "power_w": 500.0},
        why="Look where the curve meets the landing line, and how near the collapse is behind it.",
        hints=(
            "More power and more resistance both push the loaded curve down.",
            "Twice the power at a resistance of 2 is a good start.",
        ),
    ),
)
