"""Exercises of lesson 12: size of a layout, matching, joining, the balance plug."""

from __future__ import annotations

from random import Random
from typing import Any

from workbook.battery.pack import Pack
from workbook.bench.balance import balance_lead, pin_step
from workbook.bench.cell_inspection import joining_step
from workbook.bench.layout import layout_steps, layouts
from workbook.bench.matching import weakest_steps
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

LESSON = "build_sheet"


def _length(draw: Random) -> Drawn:
    cell = find_cell(draw.choice(["Sedge 48E", "Bittern 50E", "Curlew 34E", "Lapwing 45P"]))
    series, parallel = draw.choice([(4, 2), (6, 3), (4, 3), (6, 2), (5, 4)])
    layout = layouts(Pack(cell, series, parallel), packings=("square",), max_layers=1)[0]
    step = layout_steps(layout)[0]
    columns = round((step.result - 0.3) / cell.diameter_mm)
    slips = (
        Slip((columns - 1) * cell.diameter_mm + 0.3, "That is between the outermost middles: half a cell more at each end."),
        Slip(columns * cell.diameter_mm + 0.15, "The wrap is there on both sides."),
        Slip(columns * cell.height_mm + 0.3, "That is with the cell's height; they stand side by side."),
        Slip(series * parallel * cell.diameter_mm + 0.3, "That lays all cells in one row."),
        Slip((columns + 1) * cell.diameter_mm + 0.3, "One cell too many was counted."),
    )  # fmt: skip
    return Drawn(
        {"rows": series * parallel // columns, "columns": columns, "diameter": cell.diameter_mm},
        step.result,
        apart(step.result, slips, LENGTH.tolerance),
        (step,),
    )


LENGTH = NumberExercise(
    "layout-longer-side",
    LESSON,
    "Cells of {diameter:g} mm stand upright and touch, {rows} rows of {columns} in a square grid. A sleeve of 0.15 mm goes "
    "around. How long is the longer side?",
    _length,
    "mm",
    0.0005,
    (
        "How many diameters lie side by side along the row?",
        "cells in a row x diameter + 2 x sleeve",
    ),
)


def _weakest(draw: Random) -> Drawn:
    parallel, groups = draw.choice([2, 3]), 3
    dealt = [[draw.randrange(455, 492) / 100.0 for _ in range(parallel)] for _ in range(groups)]
    sums = [sum(row) for row in dealt]
    steps = weakest_steps(dealt)
    expected = steps[-1].result
    slips = (
        Slip(max(sums), "That is the strongest group; the flight ends with the weakest."),
        Slip(sum(sums), "Groups in series add voltage. Their charge does not add."),
        Slip(sum(sums) / groups, "That is the mean of the groups; the weakest is empty first."),
        Slip(min(min(row) for row in dealt), "That is the weakest cell; its group has more cells."),
        Slip(min(min(row) for row in dealt) * parallel, "That takes every cell of a group as weak as the weakest."),
        *thousand(expected, "Ah", "mAh"),
    )  # fmt: skip
    text = "; ".join(
        f"group {k}: " + " and ".join(f"{ah:.2f}" for ah in row) for k, row in enumerate(dealt, 1)
    )
    return Drawn(
        {"parallel": parallel, "dealt": text},
        expected,
        apart(expected, slips, WEAKEST.tolerance),
        steps,
    )


WEAKEST = NumberExercise(
    "match-pack-charge",
    LESSON,
    "A 3S{parallel}P pack is dealt so, in Ah: {dealt}. How much charge does the pack give?",
    _weakest,
    "Ah",
    0.0004,
    (
        "What does each group hold? The same current runs through all of them.",
        "Add the cells of each group; the pack stops with the smallest sum.",
    ),
)


def _pin(draw: Random) -> Drawn:
    series = draw.choice([4, 5, 6, 8])
    pin = draw.randrange(2, series)
    cell_v = draw.choice([3.48, 3.52, 3.55, 3.66, 3.7])
    step = pin_step(balance_lead(series), pin, cell_v)
    slips = (
        Slip((pin + 1) * cell_v, "Pin 0 is the pack's minus: count the groups between, not the pins."),
        Slip((pin - 1) * cell_v, "One group too few: pin 1 is already one cell above pin 0."),
        Slip(cell_v, "That is one step; against pin 0 the steps add."),
        Slip(series * cell_v, f"That is the last pin, B{series}."),
        *other_cell_voltage(step.result, cell_v),
    )  # fmt: skip
    return Drawn(
        {"series": series, "pin": pin, "cell": cell_v},
        step.result,
        apart(step.result, slips, PIN.tolerance),
        (step,),
    )


PIN = NumberExercise(
    "balance-pin-voltage",
    LESSON,
    "Every cell of a new {series}S pack reads {cell:g} V. What must your meter show from B0 to B{pin} of the balance plug?",
    _pin,
    "V",
    0.002,
    (
        "How many groups lie between the two pins?",
        "groups between x voltage of a cell",
    ),
)


def _joining(draw: Random) -> Drawn:
    millivolts = draw.choice([60.0, 80.0, 100.0, 150.0, 200.0])
    mohm = draw.choice([20.0, 24.0, 25.0, 30.0])
    step = joining_step(millivolts / 1000.0, mohm)
    slips = (
        Slip(step.result * 2.0, "The current runs through both cells: two resistances in a row."),
        *thousand(step.result, "A", "mA"),
        Slip(step.result * 4.0, "Two cells side by side resist half, but here they are in a ring."),
        Slip(mohm / millivolts, "Upside down: volts over ohms."),
    )
    return Drawn(
        {"difference": millivolts, "mohm": mohm},
        step.result,
        apart(step.result, slips, JOINING.tolerance),
        (step,),
    )


JOINING = NumberExercise(
    "join-rush-current",
    LESSON,
    "Two cells of {mohm:g} mohm differ by {difference:g} mV at rest. You weld the second strip across them. What current "
    "runs at that moment?",
    _joining,
    "A",
    0.02,
    (
        "Follow the ring: out of one cell, into the other, and back.",
        "difference in millivolts / (2 x resistance of a cell in milliohm)",
    ),
)

MATCHING = ChoiceExercise(
    "match-or-balance",
    LESSON,
    "What is the difference between matching cells and balancing a pack?",
    (
        Option(
            "none: the charger matches the cells",
            "A charger makes voltages equal. It cannot make a small cell larger.",
        ),
        Option(
            "matching is about size, balancing about the level now",
            "Glasses of one size, filled to one height: matching picks the glasses, balancing fills them.",
            right=True,
        ),
        Option(
            "balancing is done once before welding, matching after each charge",
            "The other way about: cells are matched once, before welding, and balanced at charges.",
        ),
    ),
    ("Which of the two can be done when the pack is finished?",),
)

PLUG = ChoiceExercise(
    "balance-plug-readings",
    LESSON,
    "A new 4S pack of cells at 3.6 V. Against B0 your meter shows B1 3.6 V, B2 10.8 V, B3 7.2 V, B4 14.4 V. What now?",
    (
        Option(
            "plug it in: the last pin is right, so the pack is",
            "The pack may be sound, but B2 and B3 are swapped. The charger would see minus 3.6 V in one step.",
        ),
        Option(
            "do not plug it in: two wires are swapped; change them over and read again",
            "From B1 to B2 it is two cells, from B2 to B3 minus one. Every step must be one cell.",
            right=True,
        ),
        Option(
            "go by the wire colours, the meter must be wrong",
            "Colours differ from maker to maker. The place in the plug and the meter decide.",
        ),
        Option(
            "charge it without balancing",
            "The plug would still be wrong at the next charge, and the groups unwatched until then.",
        ),
    ),
    ("Take each reading less the one before it.",),
)

ARRIVED = ChoiceExercise(
    "incoming-low-cell",
    LESSON,
    "One of thirty new cells arrives at 2.1 V, the others at 3.5 V. After a charge it holds as much as the rest. Do you "
    "build it in?",
    (
        Option(
            "yes, its capacity is good",
            "Copper may have dissolved in it while it was too low. It can grow into a short later.",
        ),
        Option(
            "yes, but in the group with the best cells",
            "Good neighbours feed a short with all they have.",
        ),
        Option(
            "no, it goes to the battery point",
            "Below about 2.5 V a cell may be damaged inside. One cell is cheaper than a craft.",
            right=True,
        ),
    ),
    ("What may happen inside a cell that is taken too low?",),
)

TIGHT = SettingExercise(
    "layout-only-staggered",
    LESSON,
    "Leave packing on any and the gap at 0. Make the bay so tight that some arrangement still fits, and every one that "
    "fits is staggered.",
    (
        Condition(lambda r: len(r.packings) == 2, "Packing is not on any."),
        Condition(lambda r: bool(r.gap_mm == 0.0), "The gap is not 0."),
        Condition(lambda r: bool(r.fitting), "Nothing fits any more."),
        Condition(
            lambda r: all(layout.packing == "staggered" for layout in r.fitting),
            "An arrangement in square rows still fits.",
        ),
    ),
    "Staggered rows lie closer, by 13 % of a diameter each, and pay for it with half a cell in length.",
    (
        "Which side is shorter for staggered rows, and which is longer?",
        "Lower the width, a millimetre at a time, until the square arrangement drops out.",
    ),
)


def _room(result: Any) -> bool:
    return bool(
        result.bay.length_mm <= 190 and result.bay.width_mm <= 85 and result.bay.height_mm <= 80
    )


HOLDERS = SettingExercise(
    "layout-with-holders",
    LESSON,
    "You want holders that keep the cans 1.5 mm apart or more. Find an arrangement that still fits a bay of "
    "190 x 85 x 80 mm or less, and draw it.",
    (
        Condition(lambda r: bool(r.gap_mm >= 1.5), "The cans are less than 1.5 mm apart."),
        Condition(_room, "The bay is larger than 190 x 85 x 80 mm."),
        Condition(lambda r: r.shown.fits, "The arrangement that is drawn does not fit."),
    ),
    "A gap keeps cans of different groups from touching. It costs length and width, cell by cell.",
    ("Set the gap, then look down the list.", "The list has those that fit on top."),
)

EXERCISES: tuple[Exercise, ...] = (
    LENGTH, WEAKEST, PIN, JOINING, MATCHING, PLUG, ARRIVED, TIGHT, HOLDERS,
)  # fmt: skip
SOLUTIONS: dict[str, dict[str, object]] = {
    "layout-only-staggered": {"bay_length_mm": 150.0, "bay_width_mm": 62.0, "bay_height_mm": 76.0},
    "layout-with-holders": {"gap_mm": 1.5},
}
