"""Exercises: C-rate, limits, charging."""

from __future__ import annotations

from typing import Any

from workbook.battery.pack import Pack
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import burst_for_continuous, per_cell, sixty, thousand
from workbook.files.cell_file import find_cell
from workbook.files.club_file import club_rules

CELLS = ("Bittern", "Lapwing", "Sedge", "Godwit", "Teal")
PACK: dict[str, Any] = {
    "series parallel": [(s, p) for s in (4, 5, 6, 8, 10, 12) for p in (2, 3, 4, 5) if s * p <= 36],
    "cell": lambda d: find_cell(d.random.choice(CELLS)),
    "rated": lambda d: d.cell.rated_capacity_ah,
    "capacity": lambda d: d.parallel * d.rated,
}

HOVER_C = [0.8, 0.9, 1.1, 1.2, 1.25, 1.4, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.5]
"""C-rates at which these packs hover."""

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "c-rate-to-amperes",
        "A pack of {series:.0f}S{parallel:.0f}P, its cells of {rated:g} Ah, is discharged at "
        "{c_rate:g} C. How many amperes leave the pack?",
        "A",
        0.01,
        draw={**PACK, "c_rate": HOVER_C},
        steps=lambda d: Pack(d.cell, d.series, d.parallel).rate(d.c_rate).steps()[1:2],
        slips=lambda d: {
            **per_cell(d.answer, d.parallel),
            "Times S: series adds neither capacity nor current.": d.c_rate * d.rated * d.series,
            "S does not count here: a pack has P times the cell's capacity.": d.answer * d.series,
            "That is the capacity; at 1 C it would be the current.": d.capacity,
            "Divided by the C-rate; it multiplies the capacity.": d.capacity / d.c_rate,
            **thousand(d.answer, "A", "mA"),
        },
        hints=(
            "1 C is the current that empties the capacity in an hour.",
            "C-rate x P x capacity of a cell.",
        ),
    ),
    NumberExercise(
        "c-rate-of-a-draw",
        "A pack of {series:.0f}S{parallel:.0f}P, its cells of {rated:g} Ah, gives {amps:g} A in hover."
        " At which C-rate is that?",
        "C",
        0.01,
        draw={**PACK, "hover_c": HOVER_C, "amps": lambda d: round(d.hover_c * d.capacity)},
        answer=lambda d: d.amps / d.capacity,
        slips=lambda d: {
            "Pack current over one cell's capacity; the pack holds P times that.": d.amps / d.rated,
            "Upside down: those are the hours that it lasts.": 1 / d.answer,
            "Those are the minutes that it lasts.": 60 / d.answer,
            "S does not count: the capacity is P times the cell's.": d.amps / (d.rated * d.series),
            "Over all cells; only those in parallel add capacity.": d.answer / d.series,
            "That is one cell's current; divide it by its capacity.": d.amps / d.parallel,
        },
        plausible=lambda d: 0.5 <= d.answer <= 2.5,
        hints=(
            "The same for the pack and for each cell in it.",
            "Current of the pack over its capacity.",
        ),
    ),
    NumberExercise(
        "c-rate-minutes",
        "Hover takes {c_rate:g} C. After how many minutes would the rated capacity be gone?",
        "min",
        0.01,
        draw={"c_rate": HOVER_C, **PACK},
        steps=lambda d: Pack(d.cell, d.series, 2).rate(d.c_rate).steps()[2:3],
        slips=lambda d: {
            **sixty(d.answer),
            "Multiplied by the C-rate; more C is less time.": 60 * d.c_rate,
        },
        hints=("At 1 C it is an hour.", "60 min over the C-rate."),
    ),
    NumberExercise(
        "c-rate-allowed-current",
        "A datasheet states {continuous:g} A continuous and {burst:g} A for {burst_s:g} s. Your "
        "club allows {share:g} % of the continuous current in a wrapped block. How much may a "
        "pack of {series:.0f}S{parallel:.0f}P give all through a hover?",
        "A",
        0.01,
        draw={
            **PACK,
            "continuous burst": lambda d: (d.cell.continuous_a, d.cell.burst_a),
            "burst_s": lambda d: d.cell.burst_s,
            "share": lambda d: club_rules().rules.continuous_share_pct,
            "cell_a": lambda d: d.continuous * d.share / 100,
        },
        answer=lambda d: d.parallel * d.cell_a,
        slips=lambda d: {
            f"The club's share of {d.share:g} % is left out.": d.parallel * d.continuous,
            **burst_for_continuous(d.answer, d.continuous, d.burst),
            "That is the burst current, for seconds only, without the share.": d.parallel * d.burst,
            **per_cell(d.answer, d.parallel),
            "Times S: in series the current is the same, it does not add.": d.cell_a * d.series,
            "Times all cells: only those in parallel add current.": d.answer * d.series,
        },
        hints=(
            "A hover is no burst.",
            "P cells side by side, each the allowed share of its continuous current.",
        ),
    ),
    NumberExercise(
        "c-rate-charge-current",
        "A cell of {rated:g} Ah has a standard charge current of {standard:g} A and a highest "
        "one of {highest:g} A. What do you set on the charger for a standard charge of a "
        "pack of {series:.0f}S{parallel:.0f}P?",
        "A",
        0.01,
        draw={
            **PACK,
            "standard": lambda d: d.cell.standard_charge_a,
            "highest": lambda d: d.cell.max_charge_a,
        },
        answer=lambda d: d.parallel * d.standard,
        slips=lambda d: {
            **per_cell(d.answer, d.parallel),
            "That is the highest current; the standard one is asked for.": d.parallel * d.highest,
            "That is 1 C of the pack; this cell's standard charge is gentler.": d.capacity,
            "Times S: a charger sends the same current through all groups.": d.series * d.standard,
            "Times all cells: only those in parallel share the current.": d.answer * d.series,
        },
        hints=(
            "The charger's current splits in each group.",
            "P times one cell's standard charge current.",
        ),
    ),
    *choices_of("c_rate"),
    SettingExercise(
        "c-rate-sixty-amperes",
        "In the figure above, set P and the discharge so that the pack gives 60 A or more and "
        "each cell stays within your club's share of its continuous current.",
        {
            "The pack gives less than 60 A.": lambda r: r.rate.pack_a >= 60,
            "Each cell gives more than the club allows.": lambda r: (
                r.rate.cell_a <= r.rate.allowed_a
            ),
        },
        solution={"parallel": 8, "discharge_c": 1.8},
        why="More cells side by side: more amperes of the pack at the same C-rate.",
        hints=(
            "Which of the two sliders raises amperes and leaves the cell where it is?",
            "Raise P, then the discharge.",
        ),
    ),
)
