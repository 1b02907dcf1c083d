"""Exercises: what each added string costs and gains."""

from __future__ import annotations

from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.sizing.spiral import POWER_MASS_EXPONENT, IdealEndurance
from workbook.working import step

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "longest-on-paper",
        "Craft and payload weigh {rest} g. With hover power as mass^1.5 and nothing else in the "
        "way, what does the pack of the longest flight weigh?",
        "g",
        0.01,
        draw={"rest": range(950, 3150, 50)},
        answer=lambda d: IdealEndurance(d.rest).best_pack_g,
        slips=lambda d: {
            "A pack as heavy as the rest gives 92 % of the longest flight.": d.rest,
            "That is the all-up mass; the pack's is asked for.": 3 * d.rest,
            "1.5 is the exponent, not the ratio: the ratio is 1 / (1.5 - 1).": 1.5 * d.rest,
            "The wrong way about: the pack weighs twice the rest, not half of it.": d.rest / 2,
        },
        hints=(
            "Minutes go as pack / (rest + pack)^1.5. Where is its slope zero?",
            "The pack weighs twice the rest.",
        ),
    ),
    NumberExercise(
        "power-of-a-heavier-craft",
        "A craft of {mass} g hovers on {watts} W. A string of {added} g is added. What does "
        "hover take now, avionics left out?",
        "W",
        0.01,
        draw={
            "mass": range(1400, 4600, 100),
            "per_kg": range(105, 135, 5),
            "watts": lambda d: round(d.mass * d.per_kg / 1000),
            "added": [150, 200, 250, 300, 400, 500],
            "heavier": lambda d: d.mass + d.added,
            "ratio": lambda d: d.heavier / d.mass,
        },
        answer=lambda d: d.watts * d.ratio**POWER_MASS_EXPONENT,
        slips=lambda d: {
            "In proportion to mass is too little: power goes as mass^1.5.": d.watts * d.ratio,
            "Mass squared is too much: power goes as mass^1.5.": d.watts * d.ratio**2,
            "Mass cubed is too much: power goes as mass^1.5.": d.watts * d.ratio**3,
            "That is what the power grows by; the new power is asked for.": d.answer - d.watts,
            "More mass asks for more power, not for less.": d.watts**2 / d.answer,
        },
        hints=(
            "Divide the masses first.",
            "The ratio of the powers is the ratio of the masses to the power of 1.5.",
        ),
    ),
    NumberExercise(
        "double-the-pack",
        "A craft of {rest} g carries a pack of {pack:.0f} g. It is replaced by one of "
        "{twice:.0f} g with twice the energy. By how many percent does the flight grow?",
        "%",
        0.03,
        draw={
            "rest": range(1000, 2600, 100),
            "ratio": [0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75],
            "pack": lambda d: d.ratio * d.rest,
            "twice": lambda d: 2 * d.pack,
            "share": lambda d: IdealEndurance(d.rest).share_of_longest,
            "grown": lambda d: d.share(d.twice) / d.share(d.pack),
            "mass": lambda d: (1 + 2 * d.ratio) / (1 + d.ratio),
            "power": lambda d: d.mass**POWER_MASS_EXPONENT,
        },
        steps=lambda d: [
            step(
                "double-the-pack-power_ratio",
                d.power,
                after=d.rest + d.twice,
                before=d.rest + d.pack,
                **vars(d),
            )
        ],
        answer=lambda d: 100 * (d.grown - 1),
        slips=lambda d: {
            "Twice the charge is not twice the time: the second pack is lifted too.": 100,
            "Power was taken in proportion to mass; it goes as mass^1.5.": 100 * (2 / d.mass - 1),
            "The power grows by that; minutes are energy over power.": 100 * (d.power - 1),
            "That is the new time in percent of the old; the gain is asked for.": 100 * d.grown,
        },
        hints=(
            "Minutes are energy over power: both grow.",
            "Energy doubles; power grows as the all-up mass to the power of 1.5.",
        ),
    ),
    *choices_of("weight_spiral"),
    SettingExercise(
        "find-the-top",
        "Set P to where your craft's flight is longest.",
        {"Another P still flies longer.": (lambda r: r.design.pack.parallel == r.best_parallel)},
        solution={"parallel": 13},
        why="One string more would cost minutes. Look at what it took in mass and thrust.",
        hints=(
            "Watch what the last string gained.",
            "The top is where the gain passes through zero.",
        ),
    ),
    SettingExercise(
        "four-fifths",
        "Set P so that the flight is at least four fifths of the longest one, with a pack no "
        "heavier than the rest of the craft.",
        {
            "The flight is shorter than four fifths of the longest.": (
                lambda r: r.point.endurance_min / r.longest_min >= 0.8
            ),
            "The pack weighs more than the rest.": lambda r: r.pack_over_rest <= 1,
        },
        solution={"parallel": 5},
        why="Four fifths of the minutes for less than half of the longest flight's pack.",
        hints=(
            "Pack over the rest is among the figures.",
            "Go up string by string and stop before the ratio passes 1.",
        ),
    ),
)
