"""Exercises: what reality takes, how it adds up, and what may be promised."""

from __future__ import annotations

from math import hypot, prod

from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import reserve_left_out, sixty


def _compounded_pct(*shares_pct: float) -> float:
    """What shares put on one after the other come to, percent."""
    return 100.0 * (prod(1.0 + share / 100.0 for share in shares_pct) - 1.0)


EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "margin-power-on-top",
        "On a bad day the thrust table is {table} % off, the wind takes {wind} % and climbing "
        "{climb} %, each on top of the power of steady flight. How many percent more power than "
        "planned is that?",
        "%",
        0.01,
        draw={"table": range(12, 25), "wind": range(18, 32), "climb": range(8, 16)},
        answer=lambda d: _compounded_pct(d.table, d.wind, d.climb),
        slips=lambda d: {
            "Shares were added; each acts on what the others left.": d.table + d.wind + d.climb,
            "The climbing is left out.": _compounded_pct(d.table, d.wind),
            "The thrust table's tolerance is left out.": _compounded_pct(d.wind, d.climb),
            "That is the power over the plan's; what comes on top is asked for.": 100 + d.answer,
            "That is the share as a factor; percent is asked for.": d.answer / 100,
        },
        hints=(
            "The wind takes its share of the power that the table's error has already raised.",
            "Write each share as a factor, 1.10 for 10 %, and multiply.",
        ),
    ),
    NumberExercise(
        "margin-time-left",
        "A plan gives {plan} min. In flight it takes {power} % more power, and age and cold "
        "leave the pack {charge} % less charge. How many minutes are left, sag set aside?",
        "min",
        0.004,
        draw={
            "plan": range(24, 40),
            "power": range(12, 26),
            "charge": range(10, 22),
            "less": lambda d: 1 - d.charge / 100,
            "more": lambda d: 1 + d.power / 100,
        },
        answer=lambda d: d.plan * d.less / d.more,
        slips=lambda d: {
            "Both were taken off; power divides the time.": d.plan * (d.less + 1 - d.more),
            "More power divides the time, it is not taken off.": d.plan * d.less * (2 - d.more),
            "The charge is left out.": d.plan / d.more,
            "The power is left out.": d.plan * d.less,
            "More power shortens the flight.": d.plan * d.less * d.more,
            **sixty(d.answer),
        },
        hints=(
            "Time is what is in the pack over what the flight takes from it.",
            "Less charge multiplies the time by less than 1; more power divides it by more than 1.",
        ),
    ),
    NumberExercise(
        "margin-spread-together",
        "From flight to flight the wind moves the flight time by ±{wind:g} min, the motors' "
        "tolerance by ±{table:g} min and the cold by ±{cold:g} min. They are independent of each "
        "other. By how much do all three together move it?",
        "min",
        0.01,
        draw={
            "wind": [tenth / 10 for tenth in range(30, 45)],
            "table": [tenth / 10 for tenth in range(18, 29)],
            "cold": [1.0, 1.2, 1.4, 1.6],
            "total": lambda d: d.wind + d.table + d.cold,
        },
        answer=lambda d: hypot(d.wind, d.table, d.cold),
        slips=lambda d: {
            "That has all three bad at once; most often one helps where another hurts.": d.total,
            "That is their mean; three sources spread more than each of them.": d.total / 3,
            "That is the largest alone; the others still add a little.": d.wind,
            "The root is missing.": d.answer**2,
        },
        hints=(
            "More than the largest alone, and less than all three put end to end.",
            "Square them, add, and take the root.",
        ),
    ),
    NumberExercise(
        "margin-share-of-spread",
        "The wind moves the flight time by ±{wind:g} min and the cold by ±{cold:g} min; they add"
        " up and are independent of each other. What share of the spread (its variance) is the "
        "wind's?",
        "%",
        0.01,
        draw={
            "wind": [half / 2 for half in range(6, 14)],
            "cold": [half / 2 for half in range(3, 9)],
        },
        answer=lambda d: 100 * d.wind**2 / (d.wind**2 + d.cold**2),
        slips=lambda d: {
            "Shares of the spread go by squares.": 100 * d.wind / (d.wind + d.cold),
            "That is the share of the cold.": 100 - d.answer,
            "The root was taken: shares are of the squares.": 100 * d.wind / hypot(d.wind, d.cold),
            "That is a factor; percent is asked for.": d.answer / 100,
        },
        hints=(
            "Shares of the spread add up to 100 %, and they are shares of squares.",
            "Square both, and set the wind's square against the sum.",
        ),
    ),
    NumberExercise(
        "margin-reserve-once",
        "A pack is rated {capacity:g} Ah. At your current it reaches the landing voltage after "
        "{curve} % of that. Your rule is to keep {reserve} % of the charge in reserve, whichever"
        " end comes first. How much charge may the flight use?",
        "Ah",
        0.005,
        draw={
            "capacity": [8.5, 9.4, 10.1, 12.8, 14.1, 15.1, 18.8],
            "curve": [90, 92, 94],
            "reserve": [15, 20, 25],
            "may down": lambda d: (1 - d.reserve / 100, d.curve / 100),
        },
        answer=lambda d: d.capacity * d.may,
        slips=lambda d: {
            "Two rules were stacked; the flight ends at the first.": d.answer * d.down,
            "At that charge the reserve is long gone: it comes first.": d.capacity * d.down,
            "The reserve came off the other rule's charge.": d.capacity * (d.down + d.may - 1),
            **reserve_left_out(d.answer, d.may),
        },
        hints=(
            "Which of the two ends does the flight meet first?",
            "A reserve is an allowance: it stands in the budget once.",
        ),
    ),
    *choices_of("margin_budget"),
    SettingExercise(
        "margin-promise",
        "With your pack and the allowances as they are, find the longest flight time that you "
        "may promise: set the time asked for so that 94 to 98 of 100 flights last it.",
        {
            "Too many flights end before the time asked for.": lambda r: r.budget.met_pct >= 94,
            "You could promise more.": lambda r: r.budget.met_pct <= 98,
        },
        solution={"wanted_min": 21.0},
        why="What holds in flight is well below the plan, and well above everything at its worst together.",
        hints=(
            "Read the curve of flights at 96 %.",
            "Move the time asked for down until the chance stands between 94 and 98 %.",
        ),
    ),
)
