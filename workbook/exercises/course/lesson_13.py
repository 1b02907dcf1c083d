"""Exercises of lesson 13: what holds, what is beaten, and what the next gram buys."""

from __future__ import annotations

import math
from random import Random
from typing import Any

import numpy as np

from workbook.bench.transport import CABIN_WH
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart
from workbook.sizing.candidates import minutes_per_100_g
from workbook.sizing.pareto import pareto
from workbook.working import Step

LESSON = "choosing"


def _gain(draw: Random) -> Drawn:
    light, more = 10.0 * draw.randrange(330, 390), 10.0 * draw.randrange(22, 45)
    short, longer = draw.randrange(260, 310) / 10, draw.randrange(28, 55) / 10
    heavy, long = light + more, short + longer
    expected = float(minutes_per_100_g([light, heavy], [short, long])[0])
    slips = (
        Slip(100 * long / heavy, "That is the whole flight over the whole mass; what the last step adds is asked."),
        Slip(expected / 100, "That is for one gram; 100 g are asked."),
        Slip(1 / expected, "The wrong way about: minutes are asked, for a given mass."),
        Slip(more / longer, "The wrong way about: that is grams for a minute."),
        Slip(longer, "That is for the whole step, which is not 100 g."),
    )  # fmt: skip
    step = Step(
        "gain", "minutes for 100 g more", "100 x more minutes / more grams",
        f"100 x ({long:.1f} - {short:.1f}) min / ({heavy:.0f} - {light:.0f}) g", expected,
        "min per 100 g", "arithmetic",
    )  # fmt: skip
    return Drawn(
        {"light": light, "heavy": heavy, "short": short, "long": long},
        expected,
        apart(expected, slips, GAIN.tolerance),
        (step,),
    )


GAIN = NumberExercise(
    "choosing-next-gram",
    LESSON,
    "One pack on the front brings {short:.1f} min at {light:.0f} g all-up mass, the next one {long:.1f} min at {heavy:.0f} g. "
    "How many minutes does each further 100 g buy on that step?",
    _gain,
    "min per 100 g",
    0.01,
    (
        "How many minutes more, and for how many grams more?",
        "100 x difference in minutes / difference in grams",
    ),
)


def _strings(draw: Random) -> Drawn:
    peak, burst, continuous = (
        draw.randrange(70, 120),
        draw.choice([16, 18, 20, 22]),
        draw.choice([9, 10, 12]),
    )
    expected = float(math.ceil(peak / burst))
    exact = peak / burst
    slips = (
        Slip(exact, "Strings come whole, and the one that is cut off would have to carry its share."),
        Slip(float(math.floor(exact)), "Rounded down: each cell would carry more than its burst current."),
        Slip(float(math.ceil(peak / continuous)), "That uses the continuous current; the peak lasts seconds, so the "
             "burst current counts."),
        Slip(float(peak), "Each string carries a cell's current, not one ampere."),
    )  # fmt: skip
    step = Step(
        "parallel", "cells in parallel", "peak current / cell's burst current, rounded up",
        f"{peak} A / {burst} A = {exact:.2f}, up", expected, "", "the cell's datasheet",
    )  # fmt: skip
    return Drawn(
        {"peak": peak, "burst": burst, "continuous": continuous},
        expected,
        apart(expected, slips, STRINGS.tolerance),
        (step,),
    )


STRINGS = NumberExercise(
    "choosing-strings-for-a-peak",
    LESSON,
    "At full throttle the motors pull {peak} A for three seconds. A cell may give {continuous} A continuous and {burst} A in "
    "a burst of ten seconds. How many cells in parallel does that peak need at least?",
    _strings,
    "",
    0.004,
    (
        "Which of the two ratings is for seconds?",
        "Divide, and round up: a part of a string does not exist.",
    ),
)

PACKS = "ABCDE"


def _front(draw: Random) -> Drawn:
    while True:
        mass = np.array(sorted(draw.sample(range(340, 440, 4), 5)), dtype=float) * 10
        time = np.array([draw.randrange(240, 390) / 10 for _ in range(5)])
        on = pareto(np.column_stack([mass, -time]))
        count = int(on.sum())
        if len(set(time)) == 5 and 2 <= count <= 4 and not on[3]:
            break
    expected = float(count)
    slips = (
        Slip(5.0, "Some are both heavier and shorter than another: those are beaten."),
        Slip(1.0, "That is only the best in one respect; whoever is lightest or lasts longest is on the front, too."),
        Slip(float(5 - count), "Those are the beaten ones; the others are asked."),
    )  # fmt: skip
    told = "; ".join(
        f"{n} {m:.0f} g, {t:.1f} min" for n, m, t in zip(PACKS, mass, time, strict=True)
    )
    kept = ", ".join(n for n, good in zip(PACKS, on, strict=True) if good)
    step = Step(
        "front", "packs on the front", "go from light to heavy; keep what lasts longer than all before",
        kept, expected, "", "definition of the Pareto front",
    )  # fmt: skip
    return Drawn({"told": told}, expected, apart(expected, slips, FRONT.tolerance), (step,))


FRONT = NumberExercise(
    "choosing-count-the-front",
    LESSON,
    "Five packs hold every limit: {told}. How many of them are on the front of all-up mass against flight time?",
    _front,
    "",
    0.004,
    (
        "A pack is off the front when another one is lighter and lasts longer.",
        "Go from the lightest to the heaviest, and strike out each that does not last longer than all before it.",
    ),
)


def _energy(draw: Random) -> Drawn:
    s_one, s_other = draw.choice([(4, 6), (4, 5), (3, 4), (6, 8)])
    ah_one, ah_other = draw.choice([(10.0, 8.0), (15.0, 12.0), (9.6, 7.2), (14.0, 10.0)])
    expected = 100.0 * (s_other * ah_other / (s_one * ah_one) - 1.0)
    slips = (
        Slip(100.0 * (ah_other / ah_one - 1.0), "Ampere-hours at different voltages are not energy; compare "
             "watt-hours."),
        Slip(100.0 * (s_other / s_one - 1.0), "That compares the voltages only."),
        Slip(100.0 * s_other * ah_other / (s_one * ah_one), "That is the second as a share of the first; the "
             "difference is asked."),
        Slip(100.0 * (1.0 - s_one * ah_one / (s_other * ah_other)), "The first pack is the base, not the second."),
    )  # fmt: skip
    step = Step(
        "energy_pct", "energy of the second over the first", "100 x (S2 x Ah2 / (S1 x Ah1) - 1)",
        f"100 x ({s_other} x {ah_other:g} / ({s_one} x {ah_one:g}) - 1)", expected, "%",
        "energy = voltage x charge, with the same nominal cell voltage",
    )  # fmt: skip
    return Drawn(
        {"s_one": s_one, "s_other": s_other, "ah_one": ah_one, "ah_other": ah_other},
        expected,
        apart(expected, slips, ENERGY.tolerance),
        (step,),
    )


ENERGY = NumberExercise(
    "choosing-energy-not-charge",
    LESSON,
    "A {s_one}S pack of {ah_one:g} Ah stands beside a {s_other}S pack of {ah_other:g} Ah, of cells with the same nominal "
    "voltage. By how many percent is the energy of the second one above the first (below it: a minus)?",
    _energy,
    "%",
    0.01,
    (
        "Energy is voltage times charge.",
        "S x Ah of the one, over S x Ah of the other; the cell voltage cancels.",
    ),
)


def _cabin(draw: Random) -> Drawn:
    series, amp_hours = draw.choice([3, 4, 6]), draw.choice([2.6, 3.0, 3.4, 4.0, 5.0])
    one_string = series * amp_hours * 3.6
    expected = float(math.floor(CABIN_WH / one_string))
    slips = (
        Slip(CABIN_WH / one_string, "A part of a string does not exist, and rounding up goes over the limit."),
        Slip(float(math.ceil(CABIN_WH / one_string)), "Rounded up: that pack is over the limit."),
        Slip(float(math.floor(CABIN_WH / (amp_hours * 3.6))), "Those are cells; each string has several in series."),
        Slip(float(math.floor(CABIN_WH / (series * amp_hours))), "That takes a cell for 1 V; nominal is 3.6 V."),
    )  # fmt: skip
    step = Step(
        "parallel", "strings within 100 Wh", "100 Wh / (S x cell's Ah x 3.6 V), rounded down",
        f"100 Wh / ({series} x {amp_hours:g} Ah x 3.6 V) = {CABIN_WH / one_string:.2f}, down", expected, "",
        "IATA dangerous goods rules, table 2.3.A (from memory)",
    )  # fmt: skip
    return Drawn(
        {"series": series, "amp_hours": amp_hours},
        expected,
        apart(expected, slips, CABIN.tolerance),
        (step,),
    )


CABIN = NumberExercise(
    "choosing-within-100-wh",
    LESSON,
    "The pack should stay within 100 Wh. It has {series} cells of {amp_hours:g} Ah and 3.6 V nominal in series. How many such "
    "strings may it have in parallel at most?",
    _cabin,
    "",
    0.004,
    (
        "How many watt-hours has one string?",
        "Divide 100 Wh by that, and round down.",
    ),
)

BEATEN = ChoiceExercise(
    "choosing-why-a-front",
    LESSON,
    "A pack is in the middle of the cloud, below the line of the front. When would you still build it?",
    (
        Option(
            "when something matters that the chart does not show",
            "Price, cells at hand, the bay or a wider margin: the front is only of mass and time.",
            right=True,
        ),
        Option(
            "never",
            "The front is of two figures only; a beaten pack may have the wider margin or cost half.",
        ),
        Option(
            "when it lasts longer than the lightest",
            "So does a lighter one on the front: that is what beaten means.",
        ),
    ),
    ("What does the chart not show?",),
)

REASONS = ChoiceExercise(
    "choosing-reason-for-rejection",
    LESSON,
    "Of a thousand rejected packs most fall out for the heaviest take-off mass. What does that tell?",
    (
        Option(
            "that many were too large to begin with; not that mass is what limits the good ones",
            "The list counts every candidate tried. What binds near the front stands in the table of those that hold.",
            right=True,
        ),
        Option(
            "that the highest take-off mass should be raised",
            "It is a limit of the craft, not a wish; look at what binds for the packs near the front first.",
        ),
        Option(
            "that cells with more capacity are needed",
            "Large packs of any cell fall out by mass; the count depends on the ranges that you tried.",
        ),
    ),
    ("How does the count change when you try fewer cells in parallel?",),
)


def _chosen(result: Any) -> Any:
    return result.chosen


WIDER = SettingExercise(
    "choosing-wider-margin",
    LESSON,
    "The lightest pack that lasts has little to spare in time. With 30 min asked, choose one that holds every limit, lasts "
    "34 min or more and weighs 4100 g or less all-up.",
    (
        Condition(lambda r: _chosen(r) is not None and _chosen(r).holds, "No pack that holds is chosen."),
        Condition(
            lambda r: _chosen(r) is not None and _chosen(r).endurance_min >= 34.0,
            "It lasts less than 34 min.",
        ),
        Condition(
            lambda r: _chosen(r) is not None and _chosen(r).all_up_mass_g <= 4100.0,
            "It is heavier than 4100 g all-up.",
        ),
        Condition(
            lambda r: float(r.found.design.flight.wanted_min) >= 30.0, "Less than 30 min are asked."
        ),
    ),
    "A few minutes to spare are worth a few hundred grams, as long as every limit holds.",
    (
        "Click a point, or take one from the list of the front.",
        "The front has what you need between 3800 and 4100 g.",
    ),
)  # fmt: skip

FARTHEST = SettingExercise(
    "choosing-the-last-one",
    LESSON,
    "How long can this craft fly at all? Raise the asked time until only one or two packs hold every limit; leave payload and "
    "limits as they are.",
    (
        Condition(lambda r: r.holding >= 1, "Nothing holds any more."),
        Condition(lambda r: r.holding <= 2, "More than two packs hold still."),
        Condition(
            lambda r: float(r.found.design.craft.payload_g) >= 350.0, "The payload is below 350 g."
        ),
        Condition(
            lambda r: float(r.found.design.craft.max_all_up_mass_g) <= 4500.0,
            "The heaviest take-off is above 4500 g.",
        ),
    ),
    "What is left then has no room anywhere: each limit is close. That is seldom the pack to build.",
    (
        "Watch how many hold as you raise the asked time.",
        "It is below 40 min for the demo craft.",
    ),
)

EXERCISES: tuple[Exercise, ...] = (
    GAIN, STRINGS, FRONT, ENERGY, CABIN, BEATEN, REASONS, WIDER, FARTHEST,
)  # fmt: skip
SOLUTIONS: dict[str, dict[str, Any]] = {
    "choosing-wider-margin": {"chosen": ("Teal 30P", 6, 5)},
    "choosing-the-last-one": {"wanted_min": 39.0},
}
