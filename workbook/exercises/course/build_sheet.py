"""Exercises: size of a layout, matching, joining, the balance plug."""

from __future__ import annotations

from typing import Any

from workbook.battery.pack import Pack
from workbook.bench.balance import pin_step
from workbook.bench.cell_inspection import joining_step
from workbook.bench.layout import Fittings, layout_steps, layouts
from workbook.bench.matching import weakest_steps
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import other_voltage, thousand
from workbook.files.cell_file import find_cell


def _layout(d: Any) -> Any:
    pack = Pack(d.cell, d.series, d.parallel)
    touching = Fittings(barrier_mm=0.0)
    return layouts(pack, None, touching, packings=("square",), max_layers=1)[0]


def _deal(d: Any) -> list[list[float]]:
    return [[d.random.randrange(455, 492) / 100 for _ in range(d.parallel)] for _ in range(3)]


def _dealt_text(d: Any) -> str:
    groups = (" and ".join(f"{ah:.2f}" for ah in group) for group in d.groups)
    return "; ".join(f"group {k}: {cells}" for k, cells in enumerate(groups, 1))


EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "layout-longer-side",
        "Cells of {diameter:g} mm stand upright and touch, {rows} rows of {columns} in a square "
        "grid. A sleeve of 0.15 mm goes around. How long is the longer side?",
        "mm",
        0.0005,
        draw={
            "name": ["Sedge", "Bittern", "Curlew", "Lapwing"],
            "series parallel": [
                (4, 2),
                (6, 3),
                (4, 3),
                (6, 2),
                (5, 4),
                (7, 2),
                (8, 2),
                (5, 3),
                (7, 3),
            ],
            "cell": lambda d: find_cell(d.name),
            "step": lambda d: layout_steps(_layout(d))[0],
            "diameter height": lambda d: (d.cell.diameter_mm, d.cell.height_mm),
            "columns": lambda d: round((d.step.result - 0.3) / d.diameter),
            "rows": lambda d: d.series * d.parallel // d.columns,
        },
        steps=lambda d: [d.step],
        slips=lambda d: {
            "That is from middle to middle: half a cell more at each end.": d.answer - d.diameter,
            "The wrap is there on both sides.": d.answer - 0.15,
            "That is with the height; the cells stand side by side.": d.columns * d.height + 0.3,
            "That lays all cells in one row.": d.series * d.parallel * d.diameter + 0.3,
            "One cell too many was counted.": d.answer + d.diameter,
        },
        hints=(
            "How many diameters lie side by side along the row?",
            "cells in a row x diameter + 2 x sleeve",
        ),
    ),
    NumberExercise(
        "match-pack-charge",
        "A 3S{parallel}P pack is dealt so, in Ah: {dealt}. How much charge does the pack give?",
        "Ah",
        0.0004,
        draw={
            "parallel": [2, 3],
            "groups": _deal,
            "dealt": _dealt_text,
            "sums": lambda d: [sum(group) for group in d.groups],
            "weakest": lambda d: min(min(group) for group in d.groups),
        },
        steps=lambda d: weakest_steps(d.groups),
        slips=lambda d: {
            "That is the strongest group; the flight ends with the weakest.": max(d.sums),
            "Groups in series add voltage. Their charge does not add.": sum(d.sums),
            "That is the mean of the groups; the weakest is empty first.": sum(d.sums) / 3,
            "That is the weakest cell; its group has more cells.": d.weakest,
            "That takes every cell of a group as weak as the weakest.": d.weakest * d.parallel,
            **thousand(d.answer, "Ah", "mAh"),
        },
        hints=(
            "What does each group hold? The same current runs through all of them.",
            "Add the cells of each group; the pack stops with the smallest sum.",
        ),
    ),
    NumberExercise(
        "balance-pin-voltage",
        "Every cell of a new {series}S pack reads {cell:g} V. What must your meter show from B0 "
        "to B{pin} of the balance plug?",
        "V",
        0.002,
        draw={
            "series": [4, 5, 6, 8],
            "pin": lambda d: d.random.randrange(2, d.series),
            "cell": [3.48, 3.52, 3.55, 3.66, 3.7],
        },
        steps=lambda d: [pin_step(d.pin, d.cell)],
        slips=lambda d: {
            "Pin 0 is the pack's minus: count the groups between, not the pins.": d.answer + d.cell,
            "One group too few: pin 1 is already one cell above pin 0.": d.answer - d.cell,
            **({"That is one step; against pin 0 the steps add.": d.cell} if d.pin > 2 else {}),
            **(
                {f"That is the last pin, B{d.series}.": d.series * d.cell}
                if d.pin < d.series - 1
                else {}
            ),
            **other_voltage(d.answer, d.cell, {"a full cell's voltage": 4.2}),
        },
        hints=("How many groups lie between the two pins?", "groups between x voltage of a cell"),
    ),
    NumberExercise(
        "join-rush-current",
        "Two cells of {mohm:g} mΩ differ by {difference:g} mV at rest. You weld the second "
        "strip across them. What current runs at that moment?",
        "A",
        0.02,
        draw={"difference": range(40, 210, 10), "mohm": [18, 20, 22, 24, 25, 28, 30, 34]},
        steps=lambda d: [joining_step(d.difference / 1000, d.mohm)],
        slips=lambda d: {
            "The current runs through both cells: two resistances in a row.": d.answer * 2,
            **thousand(d.answer, "A", "mA"),
            "Two cells side by side resist half, but here they are in a ring.": d.answer * 4,
            "Upside down: volts over ohms.": d.mohm / d.difference,
        },
        hints=(
            "Follow the ring: out of one cell, into the other, and back.",
            "difference in millivolts / (2 x resistance of a cell in mΩ)",
        ),
    ),
    *choices_of("build_sheet"),
    SettingExercise(
        "layout-only-staggered",
        "Leave packing on any and the gap at 0. Make the bay so tight that some arrangement "
        "still fits, and every one that fits is staggered.",
        {
            "Packing is not on any.": lambda r: len(r.packings) == 2,
            "The gap is not 0.": lambda r: r.shown.fittings.spacing_mm == 0,
            "Nothing fits any more.": lambda r: r.fitting,
            "An arrangement in square rows still fits.": (
                lambda r: all(layout.grid.packing == "staggered" for layout in r.fitting)
            ),
        },
        solution={"bay_length_mm": 150.0, "bay_width_mm": 62.0, "bay_height_mm": 76.0},
        why="Each staggered row saves 13 % of a diameter, and costs half a cell in length.",
        hints=(
            "Which side is shorter for staggered rows, and which is longer?",
            "Lower the width, a millimetre at a time, until the square arrangement drops out.",
        ),
    ),
    SettingExercise(
        "layout-with-holders",
        "You want holders that keep the cans 1.5 mm apart or more. Find an arrangement that "
        "still fits a bay of 190 x 85 x 80 mm or less, and draw it.",
        {
            "The cans are less than 1.5 mm apart.": lambda r: r.shown.fittings.spacing_mm >= 1.5,
            "The bay is larger than 190 x 85 x 80 mm.": (
                lambda r: r.bay.length_mm <= 190 and r.bay.width_mm <= 85 and r.bay.height_mm <= 80
            ),
            "The arrangement that is drawn does not fit.": lambda r: r.shown.fits,
        },
        solution={"gap_mm": 1.5},
        why="A gap keeps groups from touching. It costs length and width, cell by cell.",
        hints=("Set the gap, then look down the list.", "The list has those that fit on top."),
    ),
)
