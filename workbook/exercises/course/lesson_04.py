"""Exercises of lesson 4: C-rate, limits, charging."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from workbook.battery.pack import IT, Pack
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
    burst_for_continuous,
    per_cell,
    sixty,
    thousand,
)
from workbook.files.cell_file import find_cell
from workbook.files.club_file import club_rules
from workbook.working import Step

LESSON = "c_rate"
CELLS = ("Bittern 50E", "Lapwing 45P", "Sedge 48E", "Godwit 42P", "Teal 30P")


def _pack(draw: Random) -> Pack:
    series, parallel = draw.choice([(4, 2), (4, 3), (6, 2), (6, 4), (6, 5), (8, 3)])
    return Pack(find_cell(draw.choice(CELLS)), series, parallel)


def _amperes(draw: Random) -> Drawn:
    pack, c_rate = _pack(draw), draw.choice([1.5, 2.0, 2.5, 3.0])
    ask = pack.rate(c_rate)
    expected, s = float(ask.pack_a), float(pack.series)
    slips = (
        *per_cell(expected, float(pack.parallel)),
        Slip(
            float(ask.cell_a) * s, "Times S: series does not add capacity, so not amperes either."
        ),
        Slip(expected * s, "S does not count here: the capacity of a pack is P times the cell's."),
        Slip(float(pack.capacity_ah), "That is the capacity; at 1 C it would be the current."),
        Slip(
            float(pack.capacity_ah) / c_rate, "Divided by the C-rate; it multiplies the capacity."
        ),
        *thousand(expected, "A", "mA"),
    )
    return Drawn(
        {
            "series": s, "parallel": float(pack.parallel), "rated": pack.cell.rated_capacity_ah,
            "c_rate": c_rate,
        },
        expected,
        apart(expected, slips, AMPERES.tolerance),
        ask.steps()[1:2],
    )  # fmt: skip


AMPERES = NumberExercise(
    "c-rate-to-amperes",
    LESSON,
    "A {series:.0f}S{parallel:.0f}P pack of cells of {rated:g} Ah is discharged at {c_rate:g} C. How many amperes leave the pack?",
    _amperes,
    "A",
    0.01,
    (
        "1 C is the current that empties the capacity in an hour.",
        "C-rate x P x capacity of a cell.",
    ),
)


def _rate(draw: Random) -> Drawn:
    pack, amps = _pack(draw), float(draw.randrange(18, 55))
    rated, p, s = pack.cell.rated_capacity_ah, float(pack.parallel), float(pack.series)
    expected = amps / float(pack.capacity_ah)
    slips = (
        Slip(amps / rated, "Pack current over one cell's capacity; the pack holds P times that."),
        Slip(1.0 / expected, "Upside down: that is the hours that it lasts."),
        Slip(60.0 / expected, "That is the minutes that it lasts."),
        Slip(amps / (rated * s), "S does not count: the capacity is P times the cell's."),
        Slip(amps / (rated * s * p), "Over all cells; only those in parallel add capacity."),
        Slip(amps / p, "That is the current of one cell, in A; divide it by the cell's capacity."),
    )
    step = Step(
        "c_rate", "C-rate", "current / capacity", f"{amps:g} A / ({p:g} x {rated:g} Ah)", expected, "C", IT,
    )  # fmt: skip
    return Drawn(
        {"series": s, "parallel": p, "rated": rated, "amps": amps},
        expected,
        apart(expected, slips, RATE.tolerance),
        (step,),
    )


RATE = NumberExercise(
    "c-rate-of-a-draw",
    LESSON,
    "A {series:.0f}S{parallel:.0f}P pack of cells of {rated:g} Ah gives {amps:g} A in hover. At which C-rate is that?",
    _rate,
    "C",
    0.01,
    ("The same for the pack and for each cell in it.", "Current of the pack over its capacity."),
)


def _allowed(draw: Random) -> Drawn:
    pack, share = _pack(draw), club_rules().rules.continuous_share_pct
    ask = pack.rate(1.0, share)
    cell, p, s = pack.cell, float(pack.parallel), float(pack.series)
    expected = float(ask.allowed_a) * p
    slips = (
        Slip(float(pack.continuous_a), f"The club's share of {share:g} % is left out."),
        *burst_for_continuous(expected, cell.continuous_a, cell.burst_a),
        Slip(
            float(pack.burst_a),
            "That is the burst current, for seconds only, and without the share.",
        ),
        *per_cell(expected, p),
        Slip(
            float(ask.allowed_a) * s, "Times S: in series the current is the same, it does not add."
        ),
        Slip(expected * s, "Times all cells: only those in parallel add current."),
    )
    numbers = ask.steps()[4]
    step = Step(
        "pack_allowed_a", "pack current allowed", "P x continuous current x allowed share",
        f"{p:g} x {numbers.numbers}", expected, "A", "the cell's datasheet; the club's rule",
    )  # fmt: skip
    return Drawn(
        {
            "series": s, "parallel": p, "continuous": cell.continuous_a, "burst": cell.burst_a,
            "burst_s": cell.burst_s, "share": share,
        },
        expected,
        apart(expected, slips, ALLOWED.tolerance),
        (step,),
    )  # fmt: skip


ALLOWED = NumberExercise(
    "c-rate-allowed-current",
    LESSON,
    "A datasheet states {continuous:g} A continuous and {burst:g} A for {burst_s:g} s. Your club allows {share:g} % of the continuous "
    "current in a wrapped block. How much may a {series:.0f}S{parallel:.0f}P pack give all through a hover?",
    _allowed,
    "A",
    0.01,
    (
        "A hover is no burst.",
        "P cells side by side, each the allowed share of its continuous current.",
    ),
)


def _charge(draw: Random) -> Drawn:
    pack = _pack(draw)
    cell, p, s = pack.cell, float(pack.parallel), float(pack.series)
    expected = p * cell.standard_charge_a
    slips = (
        *per_cell(expected, p),
        Slip(p * cell.max_charge_a, "That is the highest current; the standard one is asked."),
        Slip(
            float(pack.capacity_ah),
            "That is 1 C of the pack; this cell's standard charge is gentler.",
        ),
        Slip(
            s * cell.standard_charge_a,
            "Times S: a charger sends the same current through all groups.",
        ),
        Slip(
            s * p * cell.standard_charge_a,
            "Times all cells: only those in parallel share the current.",
        ),
    )
    step = Step(
        "charge_a", "charge current of the pack", "P x cell's standard charge current",
        f"{p:g} x {cell.standard_charge_a:g} A", expected, "A", "the cell's datasheet",
    )  # fmt: skip
    return Drawn(
        {
            "series": s, "parallel": p, "standard": cell.standard_charge_a, "highest": cell.max_charge_a,
            "rated": cell.rated_capacity_ah,
        },
        expected,
        apart(expected, slips, CHARGE.tolerance),
        (step,),
    )  # fmt: skip


CHARGE = NumberExercise(
    "c-rate-charge-current",
    LESSON,
    "A cell of {rated:g} Ah has a standard charge current of {standard:g} A and a highest one of {highest:g} A. What do you set on "
    "the charger for a standard charge of a {series:.0f}S{parallel:.0f}P pack?",
    _charge,
    "A",
    0.01,
    ("The charger's current splits in each group.", "P times one cell's standard charge current."),
)


def _minutes(draw: Random) -> Drawn:
    c_rate = draw.choice([1.2, 1.6, 1.8, 2.4, 2.5, 3.2])
    pack = replace(_pack(draw), parallel=2)
    ask = pack.rate(c_rate)
    expected = float(ask.minutes)
    slips = (
        *sixty(expected),
        Slip(60.0 * c_rate, "Multiplied by the C-rate; more C is less time."),
    )
    return Drawn(
        {"c_rate": c_rate},
        expected,
        apart(expected, slips, MINUTES.tolerance),
        ask.steps()[2:3],
    )


MINUTES = NumberExercise(
    "c-rate-minutes",
    LESSON,
    "Hover takes {c_rate:g} C. After how many minutes would the rated capacity be gone, with nothing held back?",
    _minutes,
    "min",
    0.01,
    ("At 1 C it is an hour.", "60 min over the C-rate."),
)

DOUBLE = ChoiceExercise(
    "c-rate-double-parallel",
    LESSON,
    "You double P and the craft draws the same current as before. What becomes of the C-rate, and of what each cell can stand?",
    (
        Option("the C-rate doubles", "Twice the capacity for the same current is half the C-rate."),
        Option("half the C-rate; a cell's limits stay what they are", "P shares the current. A cell's "
               "limits, in A and in C, are the cell's own.", right=True),
        Option("the C-rate stays; the cells' limit in C doubles", "Limits in amperes of the pack double; "
               "as a C-rate they are the same for one cell and for ten."),
    ),
    ("C-rate is current over capacity. Which of the two changed?",),
)  # fmt: skip

COLD = ChoiceExercise(
    "c-rate-cold-charge",
    LESSON,
    "After a winter flight the pack is at -3 °C. The car has a charger. What do you do?",
    (
        Option("charge at a tenth of the current", "Below 0 °C lithium plates at any current worth "
               "charging with, and it stays. The cell may short inside, weeks later."),
        Option("charge at once, charging warms it", "The harm is done while it is still cold."),
        Option("let it warm up in a room first, then charge", "Above 0 °C, better at room temperature, and "
               "attended.", right=True),
    ),
    ("Look at the caution that the figure gives with cells below 0 °C.",),
)  # fmt: skip

SIXTY_AMPERES = SettingExercise(
    "c-rate-sixty-amperes",
    LESSON,
    "In the figure above, set P and the discharge so that the pack gives 60 A or more and each cell stays within your club's share "
    "of its continuous current.",
    (
        Condition(lambda r: float(r.ask.pack_a) >= 60, "The pack gives less than 60 A."),
        Condition(lambda r: r.ask.cell_a <= r.ask.allowed_a, "Each cell gives more than the club allows."),
    ),
    "More cells side by side: the same C-rate is more amperes of the pack, and no more of a cell.",
    ("Which of the two dials raises amperes and leaves the cell where it is?", "Raise P, then the discharge."),
)  # fmt: skip

EXERCISES: tuple[Exercise, ...] = (
    AMPERES, RATE, MINUTES, ALLOWED, CHARGE, DOUBLE, COLD, SIXTY_AMPERES,
)  # fmt: skip
SOLUTIONS = {"c-rate-sixty-amperes": {"parallel": 8, "discharge_c": 1.8}}
