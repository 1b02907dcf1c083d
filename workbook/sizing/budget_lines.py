"""The lines of a margin budget: what reality may take, how much, and on which figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from pathlib import Path
from statistics import NormalDist
from typing import Any, Literal, TypeAlias

import numpy as np

from workbook.battery.derating import (
    CAPACITY_LOSS_PCT_PER_100_CYCLES,
    RESISTANCE_GROWTH_PCT_PER_100_CYCLES,
)
from workbook.data.tables import data_rows
from workbook.errors import InputError, Problem, refuse
from workbook.numbers import FloatArray, Number
from workbook.sizing.design import Allowances, Design

Distribution: TypeAlias = Literal["triangular", "uniform", "normal"]
How: TypeAlias = Literal["share", "plus"]

NORMAL_ENDS = NormalDist().inv_cdf(0.95)
"""A normal line's low and high are its 5 % and 95 % points: so many standard deviations away."""

LEAST_LEFT = 0.05
"""Of a figure that is drawn: the tail of a wide normal line would leave nothing of it, or less."""
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

    def changed(self, figure: Number, x: FloatArray) -> Number:
        """The figure with so much of its line.

        Example:
            >>> float(Effect("reserve_pct", 1.0, "plus").changed(20.0, 5.0))
            25.0
            >>> float(Effect("power_factor").changed(2.0, 5.0))
            2.1
        """
        change = self.gain * x
        if self.how == "plus":
            return figure + change
        return figure * np.maximum(1.0 + change / 100.0, LEAST_LEFT)


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
        >>> wind.ppf(np.array([0.0, 0.5, 1.0]))
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

    def ppf(self, share: FloatArray) -> FloatArray:
        """x below which a share of the draws lies, 0 to 1: the inverse of its distribution."""
        low, middle, width = self.low, self.expected, self.high - self.low
        if self.fixed:
            return np.full(share.shape, middle)
        if self.distribution == "uniform":
            return np.asarray(low + share * width)
        if self.distribution == "normal":
            from scipy.special import ndtri

            away = np.clip(ndtri(share), -NORMAL_CUT, NORMAL_CUT)
            return np.asarray(middle + away * width / (2.0 * NORMAL_ENDS))
        rising = low + np.sqrt(share * width * (middle - low))
        falling = self.high - np.sqrt((1.0 - share) * width * (self.high - middle))
        return np.where(share * width < middle - low, rising, falling)

    def settled(self, value: float | None = None) -> BudgetLine:
        """The same line with nothing open: x is what was measured, or what is expected."""
        known = self.expected if value is None else value
        return replace(self, low=known, expected=known, high=known)


def settle(
    lines: Sequence[BudgetLine], key: str, value: float | None = None
) -> tuple[BudgetLine, ...]:
    """The lines with one of them known: at what was expected of it, or at what was measured.

    Raises:
        InputError: no line has that key.

    Example:
        >>> line = settle(STANDARD_LINES, "scale", 0.2)[1]
        >>> line.low, line.expected, line.high
        (0.2, 0.2, 0.2)
    """
    keys = [line.key for line in lines]
    if key not in keys:
        raise InputError(f"no line has this key; there are {', '.join(keys)}.", key)
    return tuple(line.settled(value) if line.key == key else line for line in lines)


_ACTS_ON = {
    "thrust_table": (Effect("power_factor"),),
    "scale": (Effect("mass_factor"),),
    "wind": (Effect("power_factor"),),
    "climb": (Effect("power_factor"),),
    "avionics": (Effect("avionics_factor"),),
    "cold": (Effect("pack_temperature_c", -1.0, "plus"),),
    "cold_cells": (Effect("cold_factor"),),
    "ageing": (
        Effect("capacity_factor", -CAPACITY_LOSS_PCT_PER_100_CYCLES / 100.0),
        Effect("resistance_factor", RESISTANCE_GROWTH_PCT_PER_100_CYCLES / 100.0),
    ),
    "cell_spread": (Effect("capacity_factor", -1.0), Effect(CELL_SHARE, 4.0)),
    "capacity": (Effect("capacity_factor"),),
    "joints": (Effect("joint_factor"),),
    "reserve": (Effect("reserve_pct", 1.0, "plus"),),
}


def _standard_lines() -> tuple[BudgetLine, ...]:
    rows: list[dict[str, Any]] = [*data_rows("allowances.csv")]
    for row in rows:
        row |= {end: float(row[end]) for end in ("low", "expected", "high")}
        row |= {"distribution": "triangular", "applies_to": _ACTS_ON[row["key"]]}
    return tuple(BudgetLine(**row) for row in rows)


STANDARD_LINES = _standard_lines()
"""Allowances to start from: all common practice, no source, where the line names none."""


@dataclass(frozen=True, eq=False)
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
    keys = [line.key for line in lines]
    problems = [
        Problem("two lines have this key; each needs its own.", key)
        for key in dict.fromkeys(keys)
        if keys.count(key) > 1
    ]
    for line in lines:
        faults = _faults_of_ends(line)
        if line.distribution not in ("triangular", "uniform", "normal"):
            faults.append(f"{line.distribution!r}; triangular, uniform or normal is needed.")
        if not line.applies_to:
            faults.append("it applies to nothing; a figure is needed.")
        for effect in line.applies_to:
            faults += _faults_of_effect(line, effect, design)
        problems += [Problem(fault, line.key) for fault in faults]
    refuse(problems)


def _faults_of_ends(line: BudgetLine) -> list[str]:
    low, middle, high = line.low, line.expected, line.high
    stated = f"low {low:g}, expected {middle:g}, high {high:g}"
    if not np.isfinite([low, middle, high]).all() or not low <= middle <= high:
        return [f"{stated}: they must be numbers that do not fall."]
    lopsided = abs(low + high - 2.0 * middle) > 1e-9 * (high - low) + 2e-5 * abs(middle)
    if line.distribution == "normal" and lopsided:
        return [f"{stated}: a normal line is expected in the middle; triangular is not."]
    return []


def _faults_of_effect(line: BudgetLine, effect: Effect, design: Design[Any] | None) -> list[str]:
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


@dataclass(frozen=True, eq=False)
class DrawnLines:
    """Lines with a value of each, of which the factors are worked out once, whatever designs they are put into.

    Attributes:
        lines: K lines, checked (`check_lines`).
        values: x of each line, shape (K, ...).
    """

    lines: Sequence[BudgetLine]
    values: FloatArray

    def _effects(self) -> Iterator[tuple[Effect, FloatArray]]:
        for line, x in zip(self.lines, self.values, strict=True):
            for effect in line.applies_to:
                yield effect, x

    @cached_property
    def _factors(self) -> dict[str, Number]:
        factors: dict[str, Number] = dict.fromkeys((*FACTORS, CELL_SHARE), 1.0)
        for effect, x in self._effects():
            if effect.figure in factors:
                factors[effect.figure] = effect.changed(factors[effect.figure], x)
        return factors

    def put_into(self, design: Design[Any]) -> Applied:
        """A design with these values, its allowances, and the share of the worst cell."""
        figures: dict[str, Number] = {}
        for effect, x in self._effects():
            if (name := effect.figure) not in self._factors:
                before = figures[name] if name in figures else _figure(design, name)
                figures[name] = effect.changed(before, x)
        factors = dict(self._factors)
        share = factors.pop(CELL_SHARE)
        return Applied(
            design.changed(**figures) if figures else design, Allowances(**factors), share
        )


def apply(design: Design[Any], lines: Sequence[BudgetLine], values: FloatArray) -> Applied:
    """Put values of the lines into a design.

    Args:
        design: the design.
        lines, values: as in `DrawnLines`.

    Returns:
        The design, its allowances, and the share of the worst cell.
    """
    return DrawnLines(lines, values).put_into(design)


def draw_lines(lines: Sequence[BudgetLine], draws: int, seed: int) -> FloatArray:
    """Values of all lines, drawn by a scrambled Sobol' sequence, shape (K, draws).

    Args:
        lines: the lines; those with nothing open keep what is expected.
        draws: at least 1; a power of 2 covers best.
        seed: the same seed gives the same values.

    Raises:
        InputError: fewer than 1 draw.

    Source: Sobol' sequence with Owen's scrambling, scipy.stats.qmc.
    """
    if draws < 1:
        raise InputError(f"{draws} draws are not possible; 1 or more is needed.", "draws")
    bits = int(np.ceil(np.log2(draws)))
    shares = _stored_shares(len(lines), bits) if seed == SEED else None
    if shares is None:
        from scipy.stats import qmc

        engine = qmc.Sobol(max(1, len(lines)), scramble=True, rng=np.random.default_rng(seed))
        shares = engine.random_base2(bits).T
    return values_of(lines, shares[: len(lines), :draws])


SEED = 1
SOBOL_CSV = Path(__file__).parents[1] / "data" / "sobol.csv"
"""The draws of that seed without loading the library that draws them: a column a line, of a sequence in units of
2^-30 the first point, and how the n-th follows from the one before it, by the lowest bit of n."""


def _stored_shares(lines: int, bits: int) -> FloatArray | None:
    """The kept sequence, shape (lines, 2^bits); None where it is not of so many lines or is not so long."""
    kept = np.loadtxt(SOBOL_CSV, dtype=np.uint32, delimiter=",", ndmin=2)
    if kept.shape[1] != lines or kept.shape[0] <= bits:
        return None
    number = np.arange(1, 2**bits)
    lowest_bit = np.log2(number & -number).astype(int)
    points = np.bitwise_xor.accumulate(np.vstack([kept[:1], kept[1:][lowest_bit]]))
    return np.asarray(points.T / 2.0**30)


def values_of(lines: Sequence[BudgetLine], shares: FloatArray) -> FloatArray:
    """Values of all lines, shape (K, n), from the share of draws below each, of the same shape."""
    drawn = [line.ppf(share) for line, share in zip(lines, shares, strict=True)]
    return np.array(drawn).reshape(len(lines), shares.shape[-1])
