"""Exercises: reading a cell's datasheet."""

from __future__ import annotations

from typing import Any

from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import thousand
from workbook.files.cell_file import find_cell
from workbook.files.club_file import club_rules

CELLS = ("Bittern", "Lapwing", "Sedge", "Godwit", "Reedling")
CELL: dict[str, Any] = {
    "cell": lambda d: find_cell(d.random.choice(CELLS)),
    "full_v": lambda d: d.cell.charge_v,
}

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "datasheet-resistance",
        "With {at_ah:g} Ah taken, a cell's curve for {low_a:g} A stands at {low_v:.2f} V and the"
        " one for {high_a:g} A at {high_v:.2f} V. What is the cell's resistance there?",
        "mΩ",
        0.01,
        draw={
            **CELL,
            "share": [0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65],
            "at_ah": lambda d: round(d.share * d.cell.rated_capacity_ah, 1),
            "seen": lambda d: d.cell.read_at(d.at_ah),
            # what the learner reads has two decimals, and the answer is that of these figures
            "low_v": lambda d: round(d.seen.voltage_v[0], 2),
            "high_v": lambda d: round(d.seen.voltage_v[-1], 2),
            "low_a": lambda d: d.seen.current_a[0],
            "high_a": lambda d: d.seen.current_a[-1],
            "drop_mv": lambda d: 1000 * (d.low_v - d.high_v),
        },
        answer=lambda d: d.drop_mv / (d.high_a - d.low_a),
        slips=lambda d: {
            "Off by 1000: Ω was taken for mΩ on the way.": d.answer / 1000,
            "That is voltage over current; the drop counts.": 1000 * d.high_v / d.high_a,
            "The lower curve has a current too: take the difference.": d.drop_mv / d.high_a,
            "Upside down: Ω is volt per ampere.": 1000 / d.answer,
            "The fall from 4.2 V is not sag alone: a part of it is charge that is gone.": 1000
            * (d.full_v - d.high_v)
            / d.high_a,
        },
        hints=(
            "The charge taken is the same on both curves, so all that differs is the current.",
            "Drop between the curves over difference in current; 1 Ω is 1000 mΩ.",
        ),
    ),
    NumberExercise(
        "datasheet-loaded-voltage",
        "A cell has {rest_v:g} V at rest and {r_mohm:g} mΩ. What is its voltage while it gives"
        " {amps:g} A?",
        "V",
        0.005,
        draw={
            **CELL,
            "rest_v": [3.9, 3.75, 3.6, 3.45],
            "r_mohm": lambda d: round(d.cell.resistance_mohm),
            "amps": [4, 5, 6, 7, 8, 9, 11, 12],
            "sag_v": lambda d: d.amps * d.r_mohm / 1000,
        },
        answer=lambda d: d.rest_v - d.sag_v,
        slips=lambda d: {
            "That is at rest; under load the voltage sags.": d.rest_v,
            "The sag was added; a discharge pulls the voltage down.": d.rest_v + d.sag_v,
            "That is the sag alone; take it off the voltage at rest.": d.sag_v,
            "mΩ were taken for Ω.": d.rest_v - d.amps * d.r_mohm,
        },
        plausible=lambda d: d.amps <= d.cell.continuous_a,
        hints=("Sag is current times resistance.", "1 mΩ is 0.001 Ω: 10 A through 20 mΩ is 0.2 V."),
    ),
    NumberExercise(
        "datasheet-energy",
        "A cell is labelled {rated:g} Ah, {nominal_v:g} V. At {amps:g} A, down to your club's "
        "{landing_v:g} V, it gives {charge:g} Ah at a mean of {mean_v:g} V. How much energy is "
        "that?",
        "Wh",
        0.004,
        draw={
            **CELL,
            "amps": [3, 4, 5, 6, 7, 8, 9],
            "landing_v": lambda d: club_rules().rules.landing_v,
            "curve": lambda d: d.cell.curve_at(d.amps, d.landing_v),
            "charge": lambda d: round(d.curve.run.charge_ah, 2),
            "mean_v": lambda d: round(d.curve.mean_v, 2),
            "rated nominal_v": lambda d: (d.cell.rated_capacity_ah, d.cell.nominal_v),
        },
        answer=lambda d: d.charge * d.mean_v,
        slips=lambda d: {
            f"That takes the label's {d.nominal_v:g} V; the mean at this current counts.": (
                d.charge * d.nominal_v
            ),
            "4.2 V is there at the start only; the mean counts.": d.charge * d.full_v,
            "The landing voltage is there at the end; the mean counts.": d.charge * d.landing_v,
            "That is the label's energy: at 0.2 It and down to the cutoff.": d.rated * d.nominal_v,
            "That is charge in Ah; energy is charge times voltage.": d.charge,
            **thousand(d.answer, "Wh", "mWh"),
        },
        plausible=lambda d: d.amps <= min(2.5 * d.rated, d.cell.continuous_a),
        hints=(
            "Energy is the area under the curve.",
            "A mean height times a length is an area: V times Ah.",
        ),
    ),
    *choices_of("datasheet"),
    SettingExercise(
        "datasheet-find-current",
        "In the figure above, keep a landing voltage of 3.2 V or more and find a current at "
        "which the cell still gives 80 to 86 % of its rated capacity.",
        {
            "The landing voltage is below 3.2 V.": lambda r: r.curve.landing_v >= 3.2,
            "It gives less than 80 %: less current is needed.": lambda r: r.curve.of_rated >= 0.80,
            "It gives more than 86 %: more current can be had.": lambda r: r.curve.of_rated <= 0.86,
        },
        solution={"landing_v": 3.2, "current_a": 9.0},
        why="More current gives less charge: sag meets the landing voltage sooner.",
        hints=(
            "Set the landing voltage first, then slide the current.",
            "Watch 'of the rated charge' among the figures.",
        ),
    ),
)
