"""What a margin budget is read from: how long flights last, how lines add up, and the working."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray, Number
from workbook.sizing.budget import MarginBudget
from workbook.sizing.budget_lines import FACTORS, apply
from workbook.working import Step

MONTE_CARLO = "Monte Carlo propagation; JCGM 101:2008"


@dataclass(frozen=True, eq=False)
class Lasting:
    """How many flights last how long.

    Attributes:
        time_min: shape (n,), rising.
        share_pct: of the flights drawn, those that last at least so long; shape (n,), falling.
    """

    time_min: FloatArray
    share_pct: FloatArray


def lasting(budget: MarginBudget, points: int = 101) -> Lasting:
    """The share of a budget's draws that fly at least so long, from all of them down.

    Args:
        budget: the budget; a draw whose flight time cannot be told does not last at all.
        points: 2 or more, evenly spread over the shares.

    Raises:
        InputError: no draw's flight time can be told.

    Source: the empirical distribution turned about.

    Example:
        >>> lasting_of(np.array([20.0, 30.0, 25.0, np.nan]), 3).share_pct
        array([75., 50., 25.])
    """
    return lasting_of(budget.samples["endurance_min"], points)


def lasting_of(times_min: FloatArray, points: int = 101) -> Lasting:
    """The same of flight times, shape (draws,); NaN for those that do not fly."""
    known = np.sort(times_min[~np.isnan(times_min)])
    if not len(known):
        raise InputError("the flight time cannot be told in any draw, so none lasts.")
    at = np.unique(np.round(np.linspace(0, len(known) - 1, points)).astype(int))
    longer = len(known) - np.searchsorted(known, known[at], side="left")
    return Lasting(known[at], 100.0 * longer / len(times_min))


def together(spreads: Sequence[Number]) -> FloatArray:
    """Spread of a sum whose parts know nothing of each other: the root of the sum of squares.

    Args:
        spreads: half-widths or standard deviations, all of one kind and unit.

    Source: JCGM 100:2008, equation 11a, with sensitivities of 1.

    Example:
        >>> together([3.0, 4.0])
        array(5.)
    """
    return np.asarray(np.sqrt(sum(np.square(np.asarray(s, dtype=float)) for s in spreads)))


def compounded_pct(shares_pct: Sequence[Number]) -> FloatArray:
    """What shares put on one after the other come to, percent: (1 + a) (1 + b) ... - 1.

    Example:
        >>> compounded_pct([10.0, 20.0])
        array(32.)
    """
    factor = np.asarray(1.0)
    for share in shares_pct:
        factor = factor * (1.0 + np.asarray(share, dtype=float) / 100.0)
    return np.asarray(100.0 * (factor - 1.0))


FACTOR_WORDS = {
    "mass_factor": "mass as flown over mass as weighed",
    "power_factor": "watts in flight over watts of the plan",
    "avionics_factor": "avionics at work over avionics of the plan",
    "thrust_factor": "full-throttle thrust over that of the table",
    "capacity_factor": "charge over that of the datasheet",
    "resistance_factor": "cell resistance over that of the datasheet",
    "joint_factor": "joint resistance over that of the plan",
}


def budget_steps(budget: MarginBudget) -> tuple[Step, ...]:
    """How the expected flight time, the one with everything bad, and the chances come about."""
    lines, design = budget.lines, budget.design
    expected = np.array([[line.expected] for line in lines]).reshape(len(lines), 1)
    allowed = apply(design, lines, expected, budget.allowances).allowances
    time = budget.reading("endurance_min")
    steps = [
        Step(
            "endurance_plan_min", "flight time of the plan", "as sized, with no allowance at all",
            f"{design.name}", time.plan, "min", "the operating point of the design",
        )
    ]  # fmt: skip
    for name in FACTORS:
        found = [
            (line.expected * effect.gain)
            for line in lines
            for effect in line.applies_to
            if effect.figure == name and effect.gain * line.expected
        ]
        if not found:
            continue
        factor = float(np.asarray(getattr(allowed, name)).reshape(-1)[0])
        steps.append(
            Step(
                name, FACTOR_WORDS[name], "each line as expected, multiplied",
                " x ".join(f"(1 {'+' if share >= 0 else '-'} {abs(share):.4g} %)" for share in found),
                factor, "", "shares multiply; they do not add",
            )
        )  # fmt: skip
    gone = time.plan - time.expected
    width = time.p95 - time.p05
    steps += [
        Step(
            "endurance_expected_min", "flight time as expected",
            "sized again with these factors; plan less what the lines take",
            f"{time.plan:.4g} min - {gone:.4g} min", time.expected, "min",
            "the operating point with every line as expected",
        ),
        Step(
            "endurance_worst_min", "flight time with everything bad at once",
            "sized again with every line at its worse end",
            f"{len(lines)} lines, each at the end that shortens the flight", time.worst, "min",
            "worst case stacked",
        ),
        Step(
            "endurance_p05_min", "flight time that 95 of 100 flights reach",
            "5 % point of the draws", f"{budget.draws} draws of all lines, seed {budget.seed}",
            time.p05, "min", MONTE_CARLO,
        ),
        Step(
            "endurance_spread_min", "spread of the flight time", "95 % point - 5 % point",
            f"{time.p95:.4g} min - {time.p05:.4g} min", width, "min", MONTE_CARLO,
        ),
    ]  # fmt: skip
    if budget.met_share is not None:
        met = round(budget.met_share * budget.draws)
        steps.append(
            Step(
                "met_pct", "chance that the asked time is met", "100 x draws that last / all draws",
                f"100 x {met} / {budget.draws}", 100.0 * budget.met_share, "%", MONTE_CARLO,
            )
        )  # fmt: skip
    return tuple(steps)
