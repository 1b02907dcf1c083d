"""Exercises of lesson 8: what reality takes, how it adds up, and what may be promised."""

from __future__ import annotations

from random import Random

from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart, reserve_left_out, sixty
from workbook.sizing.budget_views import compounded_pct, together
from workbook.working import Step

LESSON = "margin_budget"
ARITHMETIC = "shares multiply; they do not add"


def _power(draw: Random) -> Drawn:
    table, wind, climb = draw.randrange(12, 25), draw.randrange(18, 32), draw.randrange(8, 16)
    expected = float(compounded_pct([table, wind, climb]))
    slips = (
        Slip(float(table + wind + climb), "Shares were added; each acts on what the others left."),
        Slip(float(compounded_pct([table, wind])), "The climbing is left out."),
        Slip(float(compounded_pct([wind, climb])), "The thrust table's tolerance is left out."),
        Slip(100.0 + expected, "That is the power over the plan's; what comes on top is asked."),
        Slip(expected / 100.0, "That is the share as a factor; percent is asked."),
    )
    step = Step(
        "power_more_pct", "power on top of the plan", "(1 + a) (1 + b) (1 + c) - 1",
        f"1.{table:02d} x 1.{wind:02d} x 1.{climb:02d} - 1", expected, "%", ARITHMETIC,
    )  # fmt: skip
    return Drawn(
        {"table": table, "wind": wind, "climb": climb},
        expected,
        apart(expected, slips, POWER.tolerance),
        (step,),
    )


POWER = NumberExercise(
    "margin-power-on-top",
    LESSON,
    "On a bad day the thrust table is {table} % off, the wind takes {wind} % and climbing {climb} %, each on top of the "
    "power of steady flight. How many percent more power than planned is that?",
    _power,
    "%",
    0.01,
    (
        "The wind takes its share of the power that the table's error has already raised.",
        "Write each share as a factor, 1.10 for 10 %, and multiply.",
    ),
)


def _time(draw: Random) -> Drawn:
    plan, power, charge = draw.randrange(24, 40), draw.randrange(12, 26), draw.randrange(10, 22)
    expected = plan * (1 - charge / 100) / (1 + power / 100)
    slips = (
        Slip(plan * (1 - (power + charge) / 100), "Shares were taken off one after the other from the plan; "
             "time is charge over power, so divide by the power."),
        Slip(plan * (1 - charge / 100) * (1 - power / 100), "More power divides the time; it does not take its own "
             "share off."),
        Slip(plan / (1 + power / 100), "The charge is left out."),
        Slip(plan * (1 - charge / 100), "The power is left out."),
        Slip(plan * (1 - charge / 100) * (1 + power / 100), "More power shortens the flight."),
        *sixty(expected),
    )  # fmt: skip
    step = Step(
        "left_min", "flight time left", "plan x (1 - charge lost) / (1 + power on top)",
        f"{plan} min x {1 - charge / 100:.2f} / {1 + power / 100:.2f}", expected, "min",
        "energy = power x time; the voltage taken as unchanged",
    )  # fmt: skip
    return Drawn(
        {"plan": plan, "power": power, "charge": charge},
        expected,
        apart(expected, slips, TIME.tolerance),
        (step,),
    )


TIME = NumberExercise(
    "margin-time-left",
    LESSON,
    "A plan gives {plan} min. In flight it takes {power} % more power, and age and cold leave the pack {charge} % less "
    "charge. How many minutes are left, sag set aside?",
    _time,
    "min",
    0.004,
    (
        "Time is what is in the pack over what the flight takes from it.",
        "Less charge multiplies the time by less than 1; more power divides it by more than 1.",
    ),
)


def _spread(draw: Random) -> Drawn:
    wind, table, cold = (
        draw.randrange(30, 45) / 10,
        draw.randrange(18, 29) / 10,
        draw.choice([1.0, 1.2, 1.4]),
    )
    expected = float(together([wind, table, cold]))
    slips = (
        Slip(wind + table + cold, "That has all three bad at once; they know nothing of each other, so most often "
             "one helps where another hurts."),
        Slip((wind + table + cold) / 3, "That is their mean; three sources spread more than each of them."),
        Slip(wind, "That is the largest alone; the others still add a little."),
        Slip(expected**2, "The root is missing."),
    )  # fmt: skip
    step = Step(
        "together_min", "spread together", "sqrt(a^2 + b^2 + c^2)",
        f"sqrt({wind:g}^2 + {table:g}^2 + {cold:g}^2)", expected, "min", "JCGM 100:2008, equation 11a",
    )  # fmt: skip
    return Drawn(
        {"wind": wind, "table": table, "cold": cold},
        expected,
        apart(expected, slips, SPREAD.tolerance),
        (step,),
    )


SPREAD = NumberExercise(
    "margin-spread-together",
    LESSON,
    "From flight to flight the wind moves the flight time by ±{wind:g} min, the motors' tolerance by ±{table:g} min and "
    "the cold by ±{cold:g} min. None of them knows of the others. By how much do all three together move it?",
    _spread,
    "min",
    0.01,
    (
        "More than the largest alone, and less than all three put end to end.",
        "Square them, add, and take the root.",
    ),
)


def _share(draw: Random) -> Drawn:
    wind, cold = draw.choice(
        [(4.0, 3.0), (5.0, 3.0), (4.5, 2.5), (5.0, 2.0), (6.0, 4.0), (5.5, 3.5)]
    )
    expected = 100.0 * wind**2 / float(together([wind, cold])) ** 2
    slips = (
        Slip(100.0 * wind / (wind + cold), "Shares of the spread go by squares."),
        Slip(100.0 * cold**2 / (wind**2 + cold**2), "That is the share of the cold."),
        Slip(100.0 * wind / float(together([wind, cold])), "The root was taken: shares are of the squares."),
        Slip(expected / 100.0, "That is a factor; percent is asked."),
    )  # fmt: skip
    step = Step(
        "share_pct", "share of the wind", "100 x a^2 / (a^2 + b^2)",
        f"100 x {wind:g}^2 / ({wind:g}^2 + {cold:g}^2)", expected, "%",
        "first-order Sobol' index of a sum; Saltelli et al. (2010)",
    )  # fmt: skip
    return Drawn(
        {"wind": wind, "cold": cold}, expected, apart(expected, slips, SHARE.tolerance), (step,)
    )


SHARE = NumberExercise(
    "margin-share-of-spread",
    LESSON,
    "The wind moves the flight time by ±{wind:g} min and the cold by ±{cold:g} min; they add up and know nothing of each "
    "other. What share of the spread (its variance) is the wind's?",
    _share,
    "%",
    0.01,
    ("The bars of the figure above add up to about 100 %; they are shares of squares.",
     "Square both, and set the wind's square against the sum."),
)  # fmt: skip


def _usable(draw: Random) -> Drawn:
    capacity, curve, reserve = (
        draw.choice([9.4, 14.1, 18.8]),
        draw.choice([90, 92, 94]),
        draw.choice([15, 20, 25]),
    )
    expected = capacity * (1 - reserve / 100)
    slips = (
        Slip(expected * curve / 100, "Two rules were stacked. The flight ends at whichever comes first: the reserve "
             "or the landing voltage."),
        Slip(capacity * curve / 100, "At that charge the reserve is long gone: it comes first."),
        Slip(capacity * (curve - reserve) / 100, "The reserve was taken off the landing-voltage figure: two rules "
             "stacked."),
        *reserve_left_out(expected, 1 - reserve / 100),
    )  # fmt: skip
    step = Step(
        "usable_ah", "usable charge", "rated capacity x the smaller of (1 - reserve) and the share down to landing",
        f"{capacity:g} Ah x min({1 - reserve / 100:.2f}, {curve / 100:.2f})", expected, "Ah",
        "whichever end comes first",
    )  # fmt: skip
    return Drawn(
        {"capacity": capacity, "curve": curve, "reserve": reserve},
        expected,
        apart(expected, slips, USABLE.tolerance),
        (step,),
    )


USABLE = NumberExercise(
    "margin-reserve-once",
    LESSON,
    "A pack is rated {capacity:g} Ah. At your current it reaches the landing voltage after {curve} % of that. Your rule is "
    "to keep {reserve} % of the charge in reserve, whichever end comes first. How much charge may the flight use?",
    _usable,
    "Ah",
    0.005,
    (
        "Which of the two ends does the flight meet first?",
        "A reserve is an allowance: it stands in the budget once.",
    ),
)

MEASURE = ChoiceExercise(
    "margin-what-to-measure",
    LESSON,
    "You can measure one thing before the next flight. In the figure above the longest bar is the thrust table's tolerance, "
    "and the all-up mass has the finest spread. What do you measure?",
    (
        Option(
            "the watts in hover, with a meter on the craft",
            "It settles the line with the longest bar, so the spread shrinks most.",
            right=True,
        ),
        Option(
            "the mass, on a better scale",
            "It is known already: its bar is short, so little would change.",
        ),
        Option(
            "the lead's resistance, to the tenth of a milliohm",
            "Joints and leads hardly move the flight time of this craft.",
        ),
        Option(
            "nothing; put 20 % on everything instead",
            "A flat margin is spent where nothing is open, and too thin where much is.",
        ),
    ),
    ("What goes away when a line is known is the length of its bar.",),
)

DECIMALS = ChoiceExercise(
    "margin-decimals",
    LESSON,
    "The sheet says 24.37 min, and the spread from the 5 % to the 95 % point is 6 min. What do you tell the club?",
    (
        Option(
            "about 24 min, and 21 to 27 min on most days",
            "The band is the honest figure; it also tells what to promise.",
            right=True,
        ),
        Option(
            "24.37 min",
            "The .37 is false: the next flight may be three minutes off. More decimals are not more truth.",
        ),
        Option("24.4 min", "Rounding to a tenth still claims what nobody knows."),
        Option(
            "27 min, on a good day",
            "That is the 95 % point: nineteen flights of twenty end before it.",
        ),
    ),
    ("How far off may the next flight be?",),
)


PROMISE = SettingExercise(
    "margin-promise",
    LESSON,
    "With your pack and the allowances as they are, find the longest flight time that you may promise: set the asked time "
    "so that 90 to 97 of 100 flights last it.",
    (
        Condition(lambda r: r.met_pct >= 90.0, "Too many flights end before the asked time."),
        Condition(lambda r: r.met_pct <= 97.0, "You could promise more."),
    ),
    "What holds in flight is well below the plan, and well above everything bad at once.",
    (
        "Read the curve of flights at 95 %.",
        "Move the asked time down until the chance stands between 90 and 97 %.",
    ),
)


EXERCISES: tuple[Exercise, ...] = (
    POWER, TIME, SPREAD, SHARE, USABLE, MEASURE, DECIMALS, PROMISE,
)  # fmt: skip
SOLUTIONS = {"margin-promise": {"wanted_min": 24.0}}
