"""The lines of a margin budget: what reality may take, how much, and on which figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Literal, TypeAlias

import numpy as np
from scipy.special import ndtri

from workbook.battery.derating import (
    CAPACITY_LOSS_PCT_PER_100_CYCLES,
    RESISTANCE_GROWTH_PCT_PER_100_CYCLES,
)
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number
from workbook.sizing.design import Allowances, Design

Distribution: TypeAlias = Literal["triangular", "uniform", "normal"]
How: TypeAlias = Literal["share", "plus"]

NORMAL_ENDS = float(ndtri(0.95))
"""A normal line's low and high are its 5 % and 95 % points: so many standard deviations away."""

NORMAL_CUT = 4.0
"""Normal draws are cut at so many standard deviations, so that no factor turns negative."""

FACTORS = tuple(f.name for f in fields(Allowances))
CELL_SHARE = "cell_share_factor"
"""Current of the worst cell over the mean of its parallel group; only the budget knows it."""


@dataclass(frozen=True)
class Effect:
    """What one unit of a line does to one figure.

    Attributes:
        figure: a factor of `Allowances`, `cell_share_factor`, or a figure of the craft, the pack or
            the flight (`reserve_pct`, `payload_g`, ...).
        gain: how strongly, and which way.
        how: "share": the figure is multiplied by 1 + gain x / 100; "plus": gain x is added to it.
    """

    figure: str
    gain: float = 1.0
    how: How = "share"


@dataclass(frozen=True)
class BudgetLine:
    """One allowance: a quantity x that is 0 in the plan, how far it may go, and what it does.

    Attributes:
        key: short name in lower case with underscores.
        name: in words.
        low, expected, high: x at its low end, as expected, and at its high end, low <= expected <= high.
        distribution: "triangular" (peak at expected) or "uniform" between low and high; "normal" about
            expected, in the middle between them, with 5 % below low and 5 % above high.
        applies_to: what x does.
        unit: of x; "%" mostly.
        why: in a few words.
        source: standard, document, or "common practice, no source".

    Example:
        >>> wind = BudgetLine("wind", "wind", 0.0, 5.0, 15.0, "uniform", (Effect("power_factor"),))
        >>> wind.at_share(np.array([0.0, 0.5, 1.0]))
        array([ 0. ,  7.5, 15. ])
    """

    key: str
    name: str
    low: float
    expected: float
    high: float
    distribution: Distribution
    applies_to: tuple[Effect, ...]
    unit: str = "%"
    why: str = ""
    source: str = "common practice, no source"

    @property
    def fixed(self) -> bool:
        """Whether nothing about it is open."""
        return self.low == self.high

    def at_share(self, share: Number) -> FloatArray:
        """x below which a share of the draws lies, 0 to 1 (the inverse of its distribution)."""
        q = np.asarray(share, dtype=float)
        if self.fixed:
            return np.full(q.shape, self.expected)
        if self.distribution == "uniform":
            return np.asarray(self.low + q * (self.high - self.low))
        if self.distribution == "normal":
            away = np.clip(ndtri(q), -NORMAL_CUT, NORMAL_CUT)
            return np.asarray(self.expected + away * (self.high - self.low) / (2.0 * NORMAL_ENDS))
        width, rise, fall = (
            self.high - self.low,
            self.expected - self.low,
            self.high - self.expected,
        )
        return np.asarray(
            np.where(
                q * width < rise,
                self.low + np.sqrt(q * width * rise),
                self.high - np.sqrt((1.0 - q) * width * fall),
            )
        )

    def settled(self) -> BudgetLine:
        """The same line with nothing open: x is what is expected."""
        return replace(self, low=self.expected, high=self.expected)


_PRACTICE = "common practice, no source"

STANDARD_LINES = (
    BudgetLine(
        "thrust_table", "thrust table's tolerance", -5.0, 0.0, 10.0, "triangular",
        (Effect("power_factor"),), why="motors, propellers and meters differ from the maker's",
    ),
    BudgetLine(
        "scale", "scale error and things forgotten", -1.0, 0.5, 2.0, "triangular",
        (Effect("mass_factor"),), why="kitchen scale; straps, screws, tape",
    ),
    BudgetLine(
        "wind", "wind and gusts", 0.0, 5.0, 15.0, "triangular",
        (Effect("power_factor"),), why="holding place and attitude in moving air",
    ),
    BudgetLine(
        "climb", "share of climbing", 0.0, 3.0, 8.0, "triangular",
        (Effect("power_factor"),), why="watts above steady flight, averaged over the flight",
    ),
    BudgetLine(
        "avionics", "avionics at work", -10.0, 0.0, 30.0, "triangular",
        (Effect("avionics_factor"),), why="radio, camera and computer draw more in use than at rest",
    ),
    BudgetLine(
        "cold", "cells colder than planned", 0.0, 5.0, 20.0, "triangular",
        (Effect("pack_temperature_c", -1.0, "plus"),), "K",
        "less charge and more sag in the cold", "workbook.battery.derating",
    ),
    BudgetLine(
        "ageing", "age of the pack", 0.0, 50.0, 150.0, "triangular",
        (
            Effect("capacity_factor", -CAPACITY_LOSS_PCT_PER_100_CYCLES / 100.0),
            Effect("resistance_factor", RESISTANCE_GROWTH_PCT_PER_100_CYCLES / 100.0),
        ), "cycles", "less charge and more sag with each cycle", "workbook.battery.derating",
    ),
    BudgetLine(
        "cell_spread", "cells unlike each other", 0.0, 1.0, 3.0, "triangular",
        (Effect("capacity_factor", -1.0), Effect(CELL_SHARE, 4.0)),
        why="the weakest group ends the flight; the cell of least resistance carries most",
    ),
    BudgetLine(
        "capacity", "charge against the datasheet's curves", -4.0, -1.0, 2.0, "triangular",
        (Effect("capacity_factor"),), why="batches differ; curves are of a typical cell",
    ),
    BudgetLine(
        "joints", "resistance of joints and leads", -20.0, 0.0, 100.0, "triangular",
        (Effect("joint_factor"),), why="a poor joint or connector, longer leads",
    ),
    BudgetLine(
        "reserve", "landing before the plan's reserve", 0.0, 2.0, 5.0, "triangular",
        (Effect("reserve_pct", 1.0, "plus"),), why="the gauge is not exact and landing takes time",
    ),
)  # fmt: skip
"""Allowances to start from: all common practice, no source, where the line names none."""


@dataclass(frozen=True)
class Applied:
    """A design with its lines put in; arrays where the values were.

    Attributes:
        design: with the figures that lines add to or share.
        allowances: factors.
        cell_share_factor: current of the worst cell over the mean.
    """

    design: Design[Any]
    allowances: Allowances
    cell_share_factor: Number


def check_lines(lines: Sequence[BudgetLine], design: Design[Any] | None = None) -> None:
    """Refuse lines that cannot be used.

    Args:
        lines: the lines.
        design: where given, the figures that the lines name are looked for in it.

    Raises:
        InputError: every reason, one sentence each.
    """
    problems, seen = [], set()
    for line in lines:
        ends = (line.low, line.expected, line.high)
        told = f"low {line.low:g}, expected {line.expected:g}, high {line.high:g}"
        if line.key in seen:
            problems.append(Problem("two lines have this key; each needs its own.", line.key))
        seen.add(line.key)
        if not np.isfinite(ends).all() or not line.low <= line.expected <= line.high:
            problems.append(Problem(f"{told}: they must be numbers that do not fall.", line.key))
        elif line.distribution == "normal" and not np.isclose(
            line.low + line.high, 2.0 * line.expected, atol=1e-9 * (line.high - line.low + 1e-12)
        ):
            problems.append(
                Problem(
                    f"{told}: a normal line is expected in the middle; triangular is not.", line.key
                )
            )
        if line.distribution not in ("triangular", "uniform", "normal"):
            problems.append(
                Problem(
                    f"{line.distribution!r}; triangular, uniform or normal is needed.", line.key
                )
            )
        if not line.applies_to:
            problems.append(Problem("it applies to nothing; a figure is needed.", line.key))
        for effect in line.applies_to:
            problems += [Problem(fault, line.key) for fault in _faults(line, effect, design)]
    if problems:
        raise InputError(problems)


def _faults(line: BudgetLine, effect: Effect, design: Design[Any] | None) -> list[str]:
    """What is wrong with an effect, in sentences."""
    faults = []
    if effect.how not in ("share", "plus"):
        faults.append(f"how is {effect.how!r}; share or plus is needed.")
    known = effect.figure in FACTORS or effect.figure == CELL_SHARE
    if known and effect.how == "plus":
        faults.append(f"{effect.figure} is a factor; how must be share.")
    if effect.how == "share":
        least = min(1.0 + effect.gain * x / 100.0 for x in (line.low, line.expected, line.high))
        if least <= 0:
            faults.append(
                f"at its worst it takes all of {effect.figure} or more; ends nearer 0 are needed."
            )
    if (
        design is not None
        and not known
        and not isinstance(_figure(design, effect.figure), int | float | np.ndarray)
    ):
        faults.append(
            f"{effect.figure} is not a figure of this design; {', '.join((*FACTORS, CELL_SHARE))} "
            "or a number of the craft, the pack or the flight is needed."
        )
    return faults


def _figure(design: Design[Any], name: str) -> Any:
    for part in (design.craft, design.pack, design.flight):
        if name in {f.name for f in fields(part)}:
            return getattr(part, name)
    return None


def apply(
    design: Design[Any],
    lines: Sequence[BudgetLine],
    values: FloatArray,
    allowances: Allowances | None = None,
) -> Applied:
    """Put values of the lines into a design.

    Args:
        design: the design.
        lines: K lines, checked (`check_lines`).
        values: x of each line, shape (K, ...).
        allowances: what is allowed for besides.

    Returns:
        The design, its allowances, and the share of the worst cell.
    """
    factors: dict[str, Any] = {CELL_SHARE: 1.0}
    for name in FACTORS:
        factors[name] = 1.0 if allowances is None else getattr(allowances, name)
    figures: dict[str, Any] = {}
    for line, x in zip(lines, values, strict=True):
        for effect in line.applies_to:
            into = factors if effect.figure in factors else figures
            before = into.get(effect.figure)
            if before is None:
                before = _figure(design, effect.figure)
            change = effect.gain * x
            into[effect.figure] = (
                before + change if effect.how == "plus" else before * (1.0 + change / 100.0)
            )
    share = factors.pop(CELL_SHARE)
    return Applied(design.changed(**figures) if figures else design, Allowances(**factors), share)
