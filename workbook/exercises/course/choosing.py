"""Exercises: what holds, what is beaten, and what the next gram buys."""

from __future__ import annotations

from math import ceil, floor
from typing import Any

import numpy as np

from workbook.bench.transport import CABIN_WH
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.sizing.candidates import minutes_per_100_g, pareto

PACKS = "ABCDEFG"


def _seven_packs(d: Any) -> tuple[str, int, str]:
    """Seven packs as the question lists them, how many are on the front, and which."""
    while True:
        mass = np.array(sorted(d.random.sample(range(340, 440, 4), len(PACKS))), dtype=float) * 10
        time = np.array([d.random.randrange(240, 390) / 10 for _ in PACKS])
        on = pareto(np.column_stack([mass, -time]))
        if len(set(time)) == len(PACKS) and 2 <= on.sum() <= 5:
            break
    rows = zip(PACKS, mass, time, strict=True)
    listed = "; ".join(f"{name} {grams:.0f} g, {minutes:.1f} min" for name, grams, minutes in rows)
    return listed, on.sum(), ", ".join(np.array(list(PACKS))[on])


EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "choosing-next-gram",
        "One pack on the front flies {short:.1f} min at {light:.0f} g all-up mass, the next one"
        " {long:.1f} min at {heavy:.0f} g. How many minutes does each further 100 g buy on that "
        "step?",
        "min per 100 g",
        0.01,
        draw={
            "light": range(3300, 3900, 10),
            "more": range(220, 450, 10),
            "short": [tenth / 10 for tenth in range(260, 310)],
            "longer": [tenth / 10 for tenth in range(28, 55)],
            "heavy": lambda d: d.light + d.more,
            "long": lambda d: d.short + d.longer,
        },
        answer=lambda d: minutes_per_100_g([d.light, d.heavy], [d.short, d.long])[0],
        slips=lambda d: {
            "That is for the whole flight; the last step is asked for.": 100 * d.long / d.heavy,
            "That is for one gram; 100 g are asked for.": d.answer / 100,
            "The wrong way about: minutes are asked, for a given mass.": 1 / d.answer,
            "The wrong way about: that is grams for a minute.": d.more / d.longer,
            "That is for the whole step, which is not 100 g.": d.longer,
        },
        hints=(
            "How many minutes more, and for how many grams more?",
            "100 x difference in minutes / difference in grams",
        ),
    ),
    NumberExercise(
        "choosing-strings-for-a-peak",
        "At full throttle the motors pull {peak} A for three seconds. A cell may give "
        "{steady} A continuous and {burst} A in a burst of ten seconds. How many cells in "
        "parallel does that peak need at least?",
        "",
        0.004,
        draw={
            "peak": range(70, 120),
            "burst": [14, 16, 18, 20, 22],
            "steady": [9, 10, 12],
            "exact": lambda d: d.peak / d.burst,
        },
        answer=lambda d: ceil(d.exact),
        slips=lambda d: {
            "Strings come whole, and the one that is cut off would have to carry its share.": d.exact,
            "Rounded down: each cell would carry more than its burst current.": floor(d.exact),
            "That uses the continuous current; for seconds the burst one counts.": ceil(
                d.peak / d.steady
            ),
            "Each string carries a cell's current, not one ampere.": d.peak,
        },
        hints=(
            "Which of the two ratings is for seconds?",
            "Divide, and round up: a part of a string does not exist.",
        ),
    ),
    NumberExercise(
        "choosing-count-the-front",
        "Seven packs hold every limit: {listed}. How many of them are on the front of all-up mass "
        "against flight time?",
        "",
        0.004,
        draw={"listed count kept": _seven_packs},
        answer=lambda d: d.count,
        slips=lambda d: {
            "Some are both heavier and shorter than another: those are beaten.": len(PACKS),
            "That is the best in one respect; both ends are on the front, too.": 1,
            "Those are the beaten ones; the others are asked for.": len(PACKS) - d.count,
        },
        hints=(
            "A pack is off the front when another one is lighter and lasts longer.",
            "Go from light to heavy; strike out what does not outlast all before it.",
        ),
    ),
    NumberExercise(
        "choosing-energy-not-charge",
        "A {s_one}S pack of {ah_one:g} Ah stands beside a {s_other}S pack of {ah_other:g} Ah, of"
        " cells with the same nominal voltage. By how many percent is the energy of the second "
        "one above the first (below it: a minus)?",
        "%",
        0.01,
        draw={
            "s_one s_other": [(4, 6), (4, 5), (3, 4), (6, 8), (5, 6), (8, 12)],
            "ah_one ah_other": [(10.0, 8.0), (15.0, 12.0), (9.6, 7.2), (14.0, 10.0), (13.7, 9.1)],
            "ratio": lambda d: d.s_other * d.ah_other / (d.s_one * d.ah_one),
        },
        answer=lambda d: 100 * (d.ratio - 1),
        slips=lambda d: {
            "Ampere-hours are not energy; compare watt-hours.": 100 * (d.ah_other / d.ah_one - 1),
            "That compares the voltages only.": 100 * (d.s_other / d.s_one - 1),
            "That is the second as a share of the first; the difference is asked for.": 100
            * d.ratio,
            "The first pack is the base, not the second.": 100 * (1 - 1 / d.ratio),
        },
        plausible=lambda d: abs(d.answer) > 2,
        hints=(
            "Energy is voltage times charge.",
            "S x Ah of the one, over S x Ah of the other; the cell voltage cancels.",
        ),
    ),
    NumberExercise(
        "choosing-within-100-wh",
        "The pack should stay within 100 Wh. It has {series} cells of {amp_hours:g} Ah and 3.6 V"
        " nominal in series. How many such strings may it have in parallel at most?",
        "",
        0.004,
        draw={
            "series": [2, 3, 4, 5, 6],
            "amp_hours": [2.3, 2.6, 2.8, 3.0, 3.1, 3.4, 3.8, 4.0, 4.3, 4.6, 5.0],
            "strings": lambda d: CABIN_WH / (d.series * d.amp_hours * 3.6),
        },
        answer=lambda d: floor(d.strings),
        slips=lambda d: {
            "A part of a string does not exist, and rounding up goes over the limit.": d.strings,
            "Rounded up: that pack is over the limit.": ceil(d.strings),
            "Those are cells; each string has several in series.": floor(d.strings * d.series),
            "That takes a cell for 1 V; nominal is 3.6 V.": floor(d.strings * 3.6),
        },
        hints=("How many watt-hours has one string?", "Divide 100 Wh by that, and round down."),
    ),
    *choices_of("choosing"),
    SettingExercise(
        "choosing-wider-margin",
        "The lightest pack that lasts has little to spare in time. With 23 min asked for, choose one"
        " that holds every limit, lasts 38 min or more as planned and weighs 4350 g or less all-up.",
        {
            "No pack that holds is chosen.": lambda r: r.chosen is not None and r.chosen.holds,
            "It lasts less than 38 min.": (
                lambda r: r.chosen is not None and r.chosen.endurance_min >= 38
            ),
            "It is heavier than 4350 g all-up.": (
                lambda r: r.chosen is not None and r.chosen.all_up_mass_g <= 4350
            ),
            "Less than 23 min are asked for.": lambda r: r.found.design.flight.wanted_min >= 23,
        },
        solution={"chosen": ("Sedge", 6, 4)},
        why="A few minutes to spare are worth a few hundred grams, as long as every limit holds.",
        hints=(
            "Click a point, or take one from the list of the front.",
            "The front has what you need between 4200 and 4400 g.",
        ),
    ),
    SettingExercise(
        "choosing-the-last-one",
        "How long can this craft fly at all? Raise the time asked for until only one or two packs "
        "hold every limit; leave payload and limits as they are.",
        {
            "Nothing holds any more.": lambda r: r.holding >= 1,
            "More than two packs hold still.": lambda r: r.holding <= 2,
            "The payload is below 350 g.": lambda r: r.found.design.craft.payload_g >= 350,
            "The heaviest take-off is above 4500 g.": (
                lambda r: r.found.design.craft.max_all_up_mass_g <= 4500
            ),
        },
        solution={"wanted_min": 29.0},
        why="What is left then is close to every limit: seldom the pack to build.",
        hints=(
            "Watch how many hold as you raise the time asked for.",
            "It is below 32 min for the demo craft.",
        ),
    ),
)
