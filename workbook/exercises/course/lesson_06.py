"""Exercises of lesson 6: what each added string costs and gains."""

from __future__ import annotations

import random
from typing import Any

from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart
from workbook.sizing.spiral import POWER_MASS_EXPONENT, IdealEndurance
from workbook.working import Step

LESSON = "weight_spiral"
MOMENTUM = "momentum theory: hover power as mass^1.5"


def _heaviest(draw: random.Random) -> Drawn:
    rest = draw.choice([950, 1250, 1450, 1800, 2450, 3100])
    expected = IdealEndurance(rest).best_pack_g
    slips = (
        Slip(rest, "A pack as heavy as the rest gives 92 % of the longest flight; the top lies further out."),
        Slip(3.0 * rest, "That is the all-up mass; the pack's is asked."),
        Slip(1.5 * rest, "1.5 is the exponent, not the ratio: the ratio is 1 / (1.5 - 1)."),
        Slip(rest / 2.0, "The wrong way about: the pack weighs twice the rest, not half of it."),
    )  # fmt: skip
    step = Step(
        "best_pack_g", "pack mass of the longest flight", "rest / (1.5 - 1)", f"{rest} g / 0.5", expected, "g",
        MOMENTUM,
    )  # fmt: skip
    return Drawn({"rest": rest}, expected, slips, (step,))


def _doubled(draw: random.Random) -> Drawn:
    rest = draw.choice([1000, 1500, 2000, 2400])
    ratio = draw.choice([0.25, 0.4, 0.5, 0.75])
    pack = ratio * rest
    share = IdealEndurance(rest).share_of_longest
    grown = float(share(2 * pack) / share(pack))
    expected = 100.0 * (grown - 1.0)
    before, after = 1.0 + ratio, 1.0 + 2.0 * ratio
    linear = 100.0 * (2.0 * before / after - 1.0)
    power = 100.0 * ((after / before) ** POWER_MASS_EXPONENT - 1.0)
    slips = apart(
        expected,
        [
            Slip(100.0, "Twice the charge is not twice the time: the second pack is lifted too."),
            Slip(linear, "Power was taken in proportion to mass; it goes as mass^1.5."),
            Slip(power, "That is what the power grows by; the minutes are energy over power."),
            Slip(100.0 * grown, "That is the new time in percent of the old; the gain is asked."),
        ],
        0.03,
    )
    steps = (
        Step("power_ratio", "power, new over old", "(all-up mass new / old)^1.5",
             f"({rest + 2 * pack:.0f} g / {rest + pack:.0f} g)^1.5", (after / before) ** 1.5, "", MOMENTUM),
        Step("gain_pct", "flight time gained", "100 x (energy new / old / power new / old - 1)",
             f"100 x (2 / {(after / before) ** 1.5:.4g} - 1)", expected, "%", "endurance = energy / power"),
    )  # fmt: skip
    return Drawn({"rest": rest, "pack": pack, "twice": 2 * pack}, expected, slips, steps)


def _heavier(draw: random.Random) -> Drawn:
    watts, mass = draw.choice([(180, 1500), (260, 2000), (430, 3900), (520, 4400)])
    added = draw.choice([200, 300, 400, 500])
    ratio = (mass + added) / mass
    expected = watts * ratio**POWER_MASS_EXPONENT
    slips = apart(
        expected,
        [
            Slip(watts * ratio, "In proportion to mass is too little: power goes as mass^1.5."),
            Slip(watts * ratio**2, "Mass squared is too much: power goes as mass^1.5."),
            Slip(watts * ratio**3, "Mass cubed is too much: power goes as mass^1.5."),
            Slip(watts * (ratio**POWER_MASS_EXPONENT - 1), "That is what the power grows by; the new power is asked."),
            Slip(watts / ratio**POWER_MASS_EXPONENT, "More mass asks for more power, not for less."),
        ],
        0.01,
    )  # fmt: skip
    step = Step(
        "power_w", "hover power", "old power x (new mass / old mass)^1.5",
        f"{watts} W x ({mass + added} g / {mass} g)^1.5", expected, "W", MOMENTUM,
    )  # fmt: skip
    return Drawn({"watts": watts, "mass": mass, "added": added}, expected, slips, (step,))


def _share(result: Any) -> float:
    return float(result.point.endurance_min) / float(result.longest_min)


EXERCISES = (
    NumberExercise(
        "longest-on-paper",
        LESSON,
        "Craft and payload weigh {rest} g. With hover power as mass^1.5 and nothing else in the way, what does the "
        "pack of the longest flight weigh?",
        _heaviest,
        "g",
        0.01,
        (
            "Minutes go as pack / (rest + pack)^1.5. Where is its slope zero?",
            "The pack weighs twice the rest.",
        ),
    ),
    NumberExercise(
        "power-of-a-heavier-craft",
        LESSON,
        "A craft of {mass} g hovers on {watts} W. A string of {added} g is added. What does hover take now, avionics "
        "left out?",
        _heavier,
        "W",
        0.01,
        (
            "Divide the masses first.",
            "The ratio of the powers is the ratio of the masses to the power of 1.5.",
        ),
    ),
    NumberExercise(
        "double-the-pack",
        LESSON,
        "A craft of {rest} g carries a pack of {pack:.0f} g. It is replaced by one of {twice:.0f} g with twice the "
        "energy. By how many percent does the flight grow?",
        _doubled,
        "%",
        0.03,
        (
            "Minutes are energy over power: both grow.",
            "Energy doubles; power grows as the all-up mass to the power of 1.5.",
        ),
    ),
    ChoiceExercise(
        "flat-top",
        LESSON,
        "From P = 9 to P = 12 the curve rises by one minute in fifty, and the craft gains 1.4 kg. What is the better "
        "pack?",
        (
            Option(
                "P = 12, since it flies longest",
                "For one minute it lands 1.4 kg harder, costs a third more cells and leaves less thrust.",
            ),
            Option(
                "P = 9 or fewer",
                "Near its top the curve is flat: the last kilograms buy next to nothing, and thrust over weight "
                "falls all the way.",
                right=True,
            ),
            Option(
                "any: they are all alike within the plan's margin",
                "In minutes they are. In mass, money and thrust that is left they are not.",
            ),
        ),
    ),
    ChoiceExercise(
        "heavier-cells",
        LESSON,
        "Two cells hold the same energy; one is a fifth heavier. How does its curve differ?",
        (
            Option(
                "it is the same, since the energy is",
                "Every gram is lifted: the same minutes would need the same mass.",
            ),
            Option(
                "it lies lower, and its top comes at fewer cells",
                "The top comes where the pack weighs a certain multiple of the rest: heavier cells get there sooner, "
                "with less energy aboard.",
                right=True,
            ),
            Option(
                "it lies lower, and its top comes at more cells",
                "The top comes at a mass of the pack, not at an energy; heavier cells reach it with fewer.",
            ),
        ),
        ("Try it: step the mass of one cell and watch the point named “longest”.",),
    ),
    SettingExercise(
        "find-the-top",
        LESSON,
        "Set P to where your craft's flight is longest.",
        (
            Condition(
                lambda r: float(r.design.pack.parallel) == r.curve.best_parallel,
                "Another P still flies longer.",
            ),
        ),
        "One string more would cost minutes. Look at the mass and at the thrust over weight that it took.",
        (
            "Watch what the last string gained.",
            "The top is where the gain passes through nothing.",
        ),
    ),
    SettingExercise(
        "four-fifths",
        LESSON,
        "Set P so that the flight is at least four fifths of the longest one, with a pack no heavier than the rest "
        "of the craft.",
        (
            Condition(lambda r: _share(r) >= 0.8, "The flight is shorter than four fifths of the longest."),
            Condition(lambda r: r.curve.pack_over_rest <= 1.0, "The pack weighs more than the rest."),
        ),
        "Four fifths of the minutes for less than half of the longest flight's pack.",
        (
            "Pack over the rest is among the figures.",
            "Go up string by string and stop before the ratio passes 1.",
        ),
    ),
)  # fmt: skip

SOLUTIONS: dict[str, dict[str, object]] = {
    "find-the-top": {"parallel": 13},
    "four-fifths": {"parallel": 5},
}
