"""Exercises of lesson 2: series and parallel."""

from __future__ import annotations

from random import Random

from workbook.battery.pack import Pack
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import (
    Slip,
    apart,
    other_cell_voltage,
    per_cell,
    per_pack,
    thousand,
)
from workbook.files.cell_file import find_cell
from workbook.working import Step

LESSON = "series_parallel"
CELLS = ("Bittern 50E", "Lapwing 45P", "Curlew 34E", "Teal 30P")
WIRED = "IEC 61960-3 terms; arithmetic"


def _pack(draw: Random) -> Pack:
    series, parallel = draw.choice([(4, 2), (4, 3), (6, 2), (6, 4), (8, 3), (12, 2), (5, 3)])
    return Pack(find_cell(draw.choice(CELLS)), series, parallel)


def _numbers(pack: Pack) -> dict[str, float | str]:
    cell = pack.cell
    return {
        "series": float(pack.series), "parallel": float(pack.parallel), "nominal_v": cell.nominal_v,
        "full_v": cell.charge_v, "capacity_ah": cell.rated_capacity_ah,
        "capacity_mah": 1000 * cell.rated_capacity_ah,
    }  # fmt: skip


def _voltage(draw: Random) -> Drawn:
    pack = _pack(draw)
    cell, expected = pack.cell, float(pack.full_v)
    slips = (
        Slip(float(pack.parallel) * cell.charge_v, "That is P times; series is what adds voltage."),
        Slip(expected * float(pack.parallel), "Parallel does not add voltage: only the S count."),
        *other_cell_voltage(expected, cell.charge_v),
    )
    step = Step(
        "pack_full_v", "full pack voltage", "S x cell's charge voltage",
        f"{float(pack.series):g} x {cell.charge_v:g} V", expected, "V", WIRED,
    )  # fmt: skip
    return Drawn(_numbers(pack), expected, apart(expected, slips, VOLTAGE.tolerance), (step,))


VOLTAGE = NumberExercise(
    "wiring-full-voltage",
    LESSON,
    "A pack of {series:.0f}S{parallel:.0f}P is charged to {full_v:g} V per cell; its cells are {nominal_v:g} V nominal. "
    "Which voltage does the speed controller see when the pack is full?",
    _voltage,
    "V",
    0.005,
    ("Only one of the two counts adds voltage.", "S times the voltage of one full cell."),
)


def _capacity(draw: Random) -> Drawn:
    pack = _pack(draw)
    expected = float(pack.capacity_ah)
    slips = (
        *thousand(expected, "Ah", "mAh"),
        Slip(
            pack.cell.rated_capacity_ah * float(pack.series),
            "That is S times; parallel is what adds capacity.",
        ),
        *per_cell(expected, float(pack.parallel)),
        Slip(
            expected * float(pack.series), "All cells were counted; series does not add capacity."
        ),
    )
    step = Step(
        "pack_capacity_ah", "pack capacity", "P x cell's rated capacity",
        f"{float(pack.parallel):g} x {pack.cell.rated_capacity_ah:g} Ah", expected, "Ah", WIRED,
    )  # fmt: skip
    return Drawn(_numbers(pack), expected, apart(expected, slips, CAPACITY.tolerance), (step,))


CAPACITY = NumberExercise(
    "wiring-capacity",
    LESSON,
    "The cells are rated {capacity_mah:.0f} mAh. What is the capacity of {series:.0f}S{parallel:.0f}P, in Ah?",
    _capacity,
    "Ah",
    0.005,
    (
        "In series the same charge goes through every group, one after the other.",
        "P times the cell's capacity; 1000 mAh are 1 Ah.",
    ),
)


def _share(draw: Random) -> Drawn:
    pack, current = _pack(draw), float(draw.randrange(18, 45))
    found = pack.wiring(current)
    expected, s, p = found.cell_a, float(pack.series), float(pack.parallel)
    slips = (
        *per_pack(expected, p),
        Slip(current / s, "Divided by S: in series the same current goes through every group."),
        Slip(current / (s * p), "Divided by all cells: only those side by side share the current."),
    )
    return Drawn(
        {**_numbers(pack), "current": current},
        expected,
        apart(expected, slips, SHARE.tolerance),
        found.steps()[:1],
    )


SHARE = NumberExercise(
    "wiring-current-share",
    LESSON,
    "A pack of {series:.0f}S{parallel:.0f}P gives {current:.0f} A. How much does each cell carry?",
    _share,
    "A",
    0.01,
    ("Where does the current split, and where does it only pass through?", "Pack current over P."),
)


def _energy(draw: Random) -> Drawn:
    pack = _pack(draw)
    cell, expected = pack.cell, float(pack.energy_wh)
    s, p = float(pack.series), float(pack.parallel)
    slips = (
        *thousand(expected, "Wh", "mWh"),
        Slip(
            expected / s,
            "Cell voltage with pack capacity: the voltage of the pack is S times that.",
        ),
        Slip(expected / p, "That leaves the strings in parallel out."),
        Slip(expected / (s * p), "That is the energy of one cell."),
        *other_cell_voltage(expected, cell.nominal_v, 1.0, {"4.2 V when full": cell.charge_v}),
    )
    steps = (
        Step(
            "pack_energy_wh", "pack energy", "S x nominal voltage x P x rated capacity",
            f"{s:g} x {cell.nominal_v:g} V x {p:g} x {cell.rated_capacity_ah:g} Ah", expected, "Wh", WIRED,
        ),
    )  # fmt: skip
    return Drawn(_numbers(pack), expected, apart(expected, slips, ENERGY.tolerance), steps)


ENERGY = NumberExercise(
    "wiring-energy",
    LESSON,
    "Cells of {nominal_v:g} V nominal and {capacity_ah:g} Ah are wired {series:.0f}S{parallel:.0f}P. What is the energy "
    "of the pack, as a label states it?",
    _energy,
    "Wh",
    0.005,
    ("Energy is voltage times charge.", "Every cell counts: S x P of them, each volts times Ah."),
)

COMPARE = ChoiceExercise(
    "wiring-compare-energy",
    LESSON,
    "One pack is 4S of 10 Ah, another 6S of 7 Ah, of the same kind of cell. Which holds more energy?",
    (
        Option("the 4S, it has more ampere-hours", "Ah compares packs of the same voltage only; "
               "take Wh: 4 x 3.6 x 10 = 144 Wh against 6 x 3.6 x 7 = 151 Wh."),
        Option("the 6S, by about 5 %", "4 x 3.6 x 10 = 144 Wh against 6 x 3.6 x 7 = 151 Wh.", right=True),
        Option("the 6S, by half, it has half as many volts again", "It has 1.5 times the volts but "
               "0.7 times the charge: 1.05 times the energy."),
    ),
    ("Which unit takes both volts and charge into account?",),
)  # fmt: skip

SWAP = ChoiceExercise(
    "wiring-mixed-cells",
    LESSON,
    "In one group of a 6S2P pack, both cells have aged to 80 % of their capacity. What becomes of the pack?",
    (
        Option("it loses a sixth of a fifth: 3 %", "The same charge goes through every group; the weak "
               "one is empty first, whatever the others still hold."),
        Option("it can give 80 %, set by that group", "The same charge goes through every group, and the "
               "weakest is empty first.", right=True),
        Option("nothing, the other groups make up for it", "Groups in series cannot lend each other "
               "charge. The weak one is driven below its cutoff, which is dangerous."),
    ),
    ("Does current split among groups in series?",),
)  # fmt: skip

REWIRE = SettingExercise(
    "wiring-twelve-cells",
    LESSON,
    "In the figure above, wire exactly 12 cells so that the pack has 14 to 15 V nominal, draw 30 A or more from it, and let "
    "no cell carry more than 11 A.",
    (
        Condition(lambda r: r.design.pack.cells == 12, "There are not 12 cells."),
        Condition(lambda r: 14 <= r.design.pack.nominal_v <= 15, "It is not 14 to 15 V nominal."),
        Condition(lambda r: r.current_a >= 30, "Less than 30 A is drawn."),
        Condition(lambda r: r.wiring.cell_a <= 11, "A cell carries more than 11 A."),
    ),
    "Four in series set the voltage, and the three side by side share the 30 A.",
    ("Which S gives 14 to 15 V with 3.6 V a cell?", "4S, and then P = 12 / 4."),
)

EXERCISES: tuple[Exercise, ...] = (VOLTAGE, CAPACITY, SHARE, ENERGY, COMPARE, SWAP, REWIRE)
SOLUTIONS = {"wiring-twelve-cells": {"series": 4, "parallel": 3, "current_a": 30.0}}
