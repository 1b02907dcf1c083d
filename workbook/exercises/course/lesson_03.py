"""Exercises of lesson 3: reading a cell's datasheet."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np

from workbook.battery.cell import Cell
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart, other_cell_voltage, thousand
from workbook.files.cell_file import find_cell
from workbook.files.club_file import club_rules
from workbook.working import Step

LESSON = "datasheet"
CELLS = ("Bittern 50E", "Lapwing 45P", "Sedge 48E", "Godwit 42P", "Reedling 35E")


def _cell(draw: Random) -> Cell:
    return find_cell(draw.choice(CELLS))


def _resistance(draw: Random) -> Drawn:
    cell = _cell(draw)
    at_ah = round(draw.choice([0.35, 0.45, 0.55, 0.65]) * cell.rated_capacity_ah, 1)
    seen = cell.read_at(at_ah)
    low_v, high_v = (round(float(v), 2) for v in (seen.voltage_v[0], seen.voltage_v[-1]))
    low_a, high_a = float(seen.current_a[0]), float(seen.current_a[-1])
    # the learner reads two decimals, so the answer is that of the two figures in the question
    expected = 1000.0 * (low_v - high_v) / (high_a - low_a)
    seen = replace(seen, voltage_v=np.array([low_v, high_v]), current_a=np.array([low_a, high_a]),
                   resistance_mohm=expected)  # fmt: skip
    slips = (
        *thousand(expected, "mohm", "ohm")[1:],
        Slip(
            1000.0 * high_v / high_a,
            "That is voltage over current; the drop between the curves counts.",
        ),
        Slip(
            1000.0 * (low_v - high_v) / high_a,
            "The lower curve has a current too: take the difference.",
        ),
        Slip(
            1000.0 * (high_a - low_a) / (low_v - high_v) / 1000.0,
            "Upside down: ohm is volt per ampere.",
        ),
        Slip(
            1000.0 * (cell.charge_v - high_v) / high_a,
            "From 4.2 V down is more than sag: charge is gone too.",
        ),
    )
    step = cell.reading_steps(seen, cell.curve_at(1.0, cell.cutoff_v))[0]
    return Drawn(
        {"at_ah": at_ah, "low_v": low_v, "high_v": high_v, "low_a": low_a, "high_a": high_a},
        expected,
        apart(expected, slips, RESISTANCE.tolerance),
        (step,),
    )


RESISTANCE = NumberExercise(
    "datasheet-resistance",
    LESSON,
    "With {at_ah:g} Ah taken, a cell's curve for {low_a:g} A stands at {low_v:.2f} V and the one for {high_a:g} A at "
    "{high_v:.2f} V. What is the cell's resistance there?",
    _resistance,
    "mohm",
    0.02,
    (
        "The charge taken is the same on both curves, so all that differs is the current.",
        "(voltage at the lower current - at the higher) / (higher current - lower); 1 ohm is 1000 mohm.",
    ),
)


def _loaded(draw: Random) -> Drawn:
    cell = _cell(draw)
    rest_v, r_mohm = draw.choice([3.9, 3.75, 3.6, 3.45]), float(round(cell.resistance_mohm))
    amps = float(draw.choice([6, 7, 9, 11, 12]))
    sag_v = amps * r_mohm / 1000.0
    expected = rest_v - sag_v
    slips = (
        Slip(rest_v, "That is at rest; under load the voltage sags."),
        Slip(rest_v + sag_v, "The sag was added; a discharge pulls the voltage down."),
        Slip(sag_v, "That is the sag alone; take it off the voltage at rest."),
        Slip(rest_v - amps * r_mohm, "mohm were taken for ohm."),
        *other_cell_voltage(expected, expected, 1.0, {"a label's 3.6 V nominal": 3.6}),
    )
    step = Step(
        "own_v", "voltage under load", "voltage at rest - current x resistance",
        f"{rest_v:g} V - {amps:g} A x {r_mohm:g} mohm", expected, "V", "Ohm's law",
    )  # fmt: skip
    return Drawn(
        {"rest_v": rest_v, "r_mohm": r_mohm, "amps": amps},
        expected,
        apart(expected, slips, LOADED.tolerance),
        (step,),
    )


LOADED = NumberExercise(
    "datasheet-loaded-voltage",
    LESSON,
    "A cell has {rest_v:g} V at rest and {r_mohm:g} mohm. What is its voltage while it gives {amps:g} A?",
    _loaded,
    "V",
    0.005,
    ("Sag is current times resistance.", "1 mohm is 0.001 ohm: 10 A through 20 mohm is 0.2 V."),
)


def _energy(draw: Random) -> Drawn:
    cell = _cell(draw)
    landing_v = club_rules().rules.landing_v
    amps = float(draw.choice([4, 5, 6, 8]))
    curve = cell.curve_at(amps, landing_v)
    charge = round(float(curve.run.charge_ah), 2)
    mean_v = round(curve.mean_v, 2)
    expected = charge * mean_v
    rated = cell.rated_capacity_ah
    slips = (
        Slip(
            charge * cell.nominal_v,
            f"That takes the label's {cell.nominal_v:g} V; the mean under load is lower.",
        ),
        Slip(charge * cell.charge_v, "4.2 V is there for a moment at the start; the mean counts."),
        Slip(charge * landing_v, "The landing voltage is there at the end only; the mean counts."),
        Slip(
            rated * cell.nominal_v, "That is the label's energy: at 0.2 It and down to the cutoff."
        ),
        Slip(charge, "That is charge in Ah; energy is charge times voltage."),
        *thousand(expected, "Wh", "mWh"),
    )
    step = Step(
        "energy_wh", "energy", "charge x mean voltage", f"{charge:g} Ah x {mean_v:g} V", expected, "Wh",
        "area under the discharge curve",
    )  # fmt: skip
    return Drawn(
        {
            "amps": amps, "landing_v": landing_v, "charge": charge, "mean_v": mean_v, "rated": rated,
            "nominal_v": cell.nominal_v,
        },
        expected,
        apart(expected, slips, ENERGY.tolerance),
        (step,),
    )  # fmt: skip


ENERGY = NumberExercise(
    "datasheet-energy",
    LESSON,
    "A cell is labelled {rated:g} Ah, {nominal_v:g} V. At {amps:g} A, down to your club's {landing_v:g} V, it gives "
    "{charge:g} Ah at a mean of {mean_v:g} V. How much energy is that?",
    _energy,
    "Wh",
    0.004,
    ("Energy is the area under the curve.", "A mean height times a length is an area: V times Ah."),
)

AXIS = ChoiceExercise(
    "datasheet-own-current",
    LESSON,
    "Your 6S3P pack gives 27 A in hover. The datasheet has curves for 1, 5, 10 and 15 A. Which one is next to your flight?",
    (
        Option("above 15 A, beyond the last curve", "27 A is the pack's current; the curves are for one cell."),
        Option("between 5 and 10 A", "27 A shared by 3 cells side by side is 9 A each.", right=True),
        Option("between 1 and 5 A: 27 A over 6", "Series does not share current; the 3 in parallel do."),
        Option("1 A, since hover is a light load", "At 9 A a cell sags much more than that curve shows."),
    ),
    ("A datasheet shows one cell. What does one of yours carry?",),
)  # fmt: skip

TESTER = ChoiceExercise(
    "datasheet-tester-resistance",
    LESSON,
    "A tester at 1 kHz shows 16 mohm for a cell whose curves give 28 mohm. Which one tells the sag in flight?",
    (
        Option("16 mohm, a measurement beats a printed curve", "At 1 kHz the slow part of the cell does "
               "not show. A flight lasts minutes, and there it counts."),
        Option("28 mohm, from the curves", "Curves are steady currents, as a flight is. A tester's figure is "
               "for comparing cells with each other.", right=True),
        Option("their mean, 22 mohm", "The two measure different things; a mean of them is neither."),
    ),
    ("Over how long does a flight load the cell, and over how long does a 1 kHz tester?",),
)  # fmt: skip

HALF_SAG = SettingExercise(
    "datasheet-find-current",
    LESSON,
    "In the figure above, keep a landing voltage of 3.2 V or more and find a current at which the cell still gives 80 to 86 % "
    "of its rated capacity.",
    (
        Condition(lambda r: r.curve.landing_v >= 3.2, "The landing voltage is below 3.2 V."),
        Condition(
            lambda r: r.curve.of_rated >= 0.80, "It gives less than 80 %: less current is needed."
        ),
        Condition(
            lambda r: r.curve.of_rated <= 0.86, "It gives more than 86 %: more current can be had."
        ),
    ),
    "The same cell gives less charge at more current, since sag meets the landing voltage sooner.",
    (
        "Set the landing voltage first, then slide the current.",
        "Watch 'of rated' among the figures.",
    ),
)

EXERCISES: tuple[Exercise, ...] = (RESISTANCE, LOADED, ENERGY, AXIS, TESTER, HALF_SAG)
SOLUTIONS = {"datasheet-find-current": {"landing_v": 3.2, "current_a": 9.0}}
