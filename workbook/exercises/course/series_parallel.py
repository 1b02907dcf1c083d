"""Exercises: series and parallel."""

from __future__ import annotations

from typing import Any

from workbook.battery.pack import Pack
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import other_voltage, per_cell, per_pack, thousand
from workbook.files.cell_file import find_cell

CELLS = ("Bittern", "Lapwing", "Sedge", "Curlew", "Teal")
PACK: dict[str, Any] = {
    "series parallel": [
        (s, p) for s in (3, 4, 5, 6, 7, 8, 10, 12) for p in (2, 3, 4, 5) if s * p <= 36
    ],
    "cell": lambda d: find_cell(d.random.choice(CELLS)),
    "capacity_ah": lambda d: d.cell.rated_capacity_ah,
    "capacity_mah": lambda d: 1000 * d.capacity_ah,
    "nominal_v full_v": lambda d: (d.cell.nominal_v, d.cell.charge_v),
}

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "wiring-full-voltage",
        "A pack of {series:.0f}S{parallel:.0f}P is charged to {full_v:g} V per cell; its cells "
        "are {nominal_v:g} V nominal. Which voltage does the speed controller see when the pack "
        "is full?",
        "V",
        0.005,
        draw=PACK,
        answer=lambda d: d.series * d.full_v,
        slips=lambda d: {
            "That is P times; series is what adds voltage.": d.parallel * d.full_v,
            "Parallel does not add voltage: only the S count.": d.answer * d.parallel,
            **other_voltage(d.answer, d.full_v, {"the nominal voltage": d.nominal_v}),
        },
        hints=("Only one of the two counts adds voltage.", "S times the voltage of one full cell."),
    ),
    NumberExercise(
        "wiring-capacity",
        "Cells are rated {capacity_mah:.0f} mAh. How many Ah has a pack of {series}S{parallel}P?",
        "Ah",
        0.005,
        draw=PACK,
        answer=lambda d: d.parallel * d.capacity_ah,
        slips=lambda d: {
            **thousand(d.answer, "Ah", "mAh"),
            "That is S times; parallel is what adds capacity.": d.capacity_ah * d.series,
            **per_cell(d.answer, d.parallel),
            "All cells were counted; series does not add capacity.": d.answer * d.series,
        },
        hints=(
            "In series the same charge goes through every group, one after the other.",
            "P times the cell's capacity; 1000 mAh are 1 Ah.",
        ),
    ),
    NumberExercise(
        "wiring-current-share",
        "A pack of {series}S{parallel}P gives {current} A. How much does each cell carry?",
        "A",
        0.01,
        draw={**PACK, "current": lambda d: d.random.randrange(4 * d.parallel, 9 * d.parallel)},
        steps=lambda d: Pack(d.cell, d.series, d.parallel).wiring(d.current).steps()[:1],
        slips=lambda d: {
            **per_pack(d.answer, d.parallel),
            "Divided by S: in series every group has the whole current.": d.current / d.series,
            "Divided by all cells: only those side by side share the current.": d.answer / d.series,
        },
        plausible=lambda d: 0.5 <= d.answer / d.capacity_ah <= 2.5,
        hints=(
            "Where does the current split, and where does it only pass through?",
            "Pack current over P.",
        ),
    ),
    NumberExercise(
        "wiring-energy",
        "Cells of {nominal_v:g} V nominal and {capacity_ah:g} Ah are wired "
        "{series:.0f}S{parallel:.0f}P. What is the energy of the pack, as a label states it?",
        "Wh",
        0.005,
        draw=PACK,
        answer=lambda d: d.series * d.nominal_v * d.parallel * d.capacity_ah,
        slips=lambda d: {
            **thousand(d.answer, "Wh", "mWh"),
            "One cell's voltage was taken: the pack has S times that.": d.answer / d.series,
            "That leaves the strings in parallel out.": d.answer / d.parallel,
            "That is the energy of one cell.": d.nominal_v * d.capacity_ah,
            "The cells' volts are left out: that is no energy yet.": (
                d.series * d.parallel * d.capacity_ah
            ),
            **other_voltage(d.answer, d.nominal_v, {"a full cell's voltage": d.full_v}),
        },
        hints=(
            "Energy is voltage times charge.",
            "Every cell counts: S x P of them, each volts times Ah.",
        ),
    ),
    *choices_of("series_parallel"),
    SettingExercise(
        "wiring-twelve-cells",
        "In the figure above, wire exactly 12 cells so that the pack has 14 to 15 V nominal, "
        "draw 30 A or more from it, and let no cell carry more than 11 A.",
        {
            "There are not 12 cells.": lambda r: r.design.pack.cells == 12,
            "It is not 14 to 15 V nominal.": lambda r: 14 <= r.design.pack.nominal_v <= 15,
            "Less than 30 A is drawn.": lambda r: r.wiring.current_a >= 30,
            "A cell carries more than 11 A.": lambda r: r.wiring.cell_a <= 11,
        },
        solution={"series": 4, "parallel": 3, "current_a": 30.0},
        why="Four in series set the voltage, and the three side by side share the 30 A.",
        hints=("Which S gives 14 to 15 V with 3.6 V per cell?", "4S, and then P = 12 / 4."),
    ),
)
