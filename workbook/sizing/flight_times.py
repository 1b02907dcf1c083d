"""How long flights last beside what is planned: the margin budget's reading that stands by every verdict.

A plan is met only if nothing is taken from it. Of flights as they come, with the lines of the
margin budget, this says how long one in two lasts, how long nineteen in twenty, and how many in a hundred
meet what is asked. `workbook.sizing.budget` says where the rest went.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from workbook.numbers import FloatArray, Number
from workbook.quantities import RESULTS
from workbook.sizing.budget_lines import SEED, BudgetLine, DrawnLines, draw_lines
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.origins import lines_of
from workbook.units import with_unit

DRAWS = 1024
"""Draws of all lines, a scrambled Sobol' sequence with a fixed seed, so that a design always reads the same.
Against 100,000 draws half of the flights are right to 0.3 % of the plan's time, nineteen in twenty to 0.7 %
(`tests/sizing/test_flight_times.py`)."""

WIDEST = 1.15
"""Flight time with every line at its middle over that of half of the flights: 1.0 to this. It was 1.01 to 1.10
in designs that otherwise hold."""

FIRST, ASIDE = 16, 0.01
"""Of many designs that the middle does not decide, so many tell how far over half of the flights it is, and so far
beside what they tell the others may be. Of 2336 survey craft it was 0.4 % at most (`tests/sizing/test_flight_times.py`)."""

AT_ONCE = 64
"""Designs that are drawn together; memory goes with it."""

HALF, FEW = 0.5, 0.05
"""Points of the distribution: half of the flights are shorter, and one in twenty."""


@dataclass(frozen=True, eq=False)
class HalfOfFlights:
    """What half of the flights reach, of one design or of many.

    Attributes:
        endurance_p50_min: half of the flights last at least so long.
        range_p50_km: half of the flights go at least so far in still air; NaN of a craft without a range.
    """

    endurance_p50_min: Number
    range_p50_km: Number = np.nan

    @property
    def too_short(self) -> str:
        """What is short of the time asked for, in words; empty of many designs."""
        return ""

    @property
    def too_near(self) -> str:
        """What is short of the distance asked, in words; empty of many designs."""
        return ""


@dataclass(frozen=True, eq=False)
class FlightTimes(HalfOfFlights):
    """How long the flights of one design last, and how far they go.

    A drawn flight that the craft cannot fly lasts 0 min.

    Attributes:
        endurance_plan_min: as planned, with no allowance at all.
        endurance_p05_min: nineteen in twenty last at least so long (5 % point).
        met_pct: of a hundred flights, those that last the time asked for; NaN where none is asked.
        met_km_pct: of a hundred flights, those that go the distance asked; NaN where none is asked.
        mission_pct: of what the pack gives down to its reserve, what the mission takes as planned; NaN without one.
        mission_p50_pct: half of the flights take no more.
        mission_p95_pct: one flight in twenty takes more.
        mission_met_pct: of a hundred flights, those that complete it.
    """

    endurance_plan_min: float = np.nan
    endurance_p05_min: float = np.nan
    met_pct: float = np.nan
    met_km_pct: float = np.nan
    mission_pct: float = np.nan
    mission_p50_pct: float = np.nan
    mission_p95_pct: float = np.nan
    mission_met_pct: float = np.nan

    @property
    def too_short(self) -> str:
        """What is short of the time asked for, in words."""
        shown = self._shown()
        return f": {shown['met_pct']} in a hundred do, and one in two lasts {shown['endurance_p50_min']} min"

    @property
    def too_near(self) -> str:
        """What is short of the distance asked, in words."""
        shown = self._shown()
        return f": {shown['met_km_pct']} in a hundred do, and one in two goes {RESULTS['range_p50_km'].text(self.range_p50_km)}"

    def _shown(self) -> dict[str, str]:
        return {key: RESULTS[key].number(value) for key, value in self.figures().items()}

    def figures(self) -> dict[str, Any]:
        """The figures by their names in the table of quantities; NaN where there is no such figure."""
        return vars(self)

    def text(self, wanted_min: Number | None = None, wanted_km: Number | None = None) -> str:
        """The reading in one sentence.

        Args:
            wanted_min, wanted_km: what the design asks for, where it does.

        Example:
            >>> read = FlightTimes(
            ...     26.99, endurance_plan_min=35.2, endurance_p05_min=23.81, met_pct=93.7
            ... )
            >>> print(read.text(24.0))
            35.2 min as planned; one flight in two lasts 26.9 min or more, one in twenty less than 23.8 min; \
93 in a hundred last the 24 min asked for.
        """
        shown = self._shown()
        message = (
            f"{shown['endurance_plan_min']} min as planned; one flight in two lasts "
            f"{shown['endurance_p50_min']} min or more, one in twenty less than "
            f"{shown['endurance_p05_min']} min"
        )
        if wanted_min is not None:
            message += (
                f"; {shown['met_pct']} in a hundred last the {float(wanted_min):g} min asked for"
            )
        if wanted_km is not None:
            message += (
                f"; {shown['met_km_pct']} in a hundred go the {with_unit(float(wanted_km), 'km')} asked, one in two "
                f"{RESULTS['range_p50_km'].text(self.range_p50_km)} or more"
            )
        if np.isfinite(self.mission_pct):
            message += (
                f"; the mission takes {shown['mission_pct']} % of what the pack gives as planned, "
                f"{shown['mission_p50_pct']} % in one flight in two, more than {shown['mission_p95_pct']} % in one in "
                f"twenty; {shown['mission_met_pct']} in a hundred complete it"
            )
        return message + "."


@lru_cache(maxsize=64)
def _draws(lines: tuple[BudgetLine, ...]) -> DrawnLines:
    """The lines drawn `DRAWS` times."""
    return DrawnLines(lines, draw_lines(lines, DRAWS, SEED))


@lru_cache(maxsize=64)
def _middle(lines: tuple[BudgetLine, ...]) -> DrawnLines:
    """Every line once, at its own middle."""
    return DrawnLines(lines, np.array([line.ppf(np.array([HALF])) for line in lines]))


def _flown(design: Design[Any], drawn: DrawnLines) -> tuple[FloatArray, FloatArray]:
    """Minutes and kilometres with these values of the budget's lines; 0 where it does not fly."""
    applied = drawn.put_into(design)
    load = craft_type_of(design).load(applied.design, applied.allowances)
    time_s = np.nan_to_num(load.discharge(load.power_w).time_s)
    cruise_m_s = np.nan_to_num(getattr(load, "cruise_m_s", np.nan))
    return np.asarray(time_s / 60.0), np.asarray(time_s * cruise_m_s / 1000.0)


def flight_times(
    design: Design[Any], plan_min: float, mission_share: float = np.nan
) -> FlightTimes | None:
    """How long the flights of a single design last; None where it does not fly as planned.

    Args:
        design: every figure a single number. Its mission is not flown: this is steady flight.
        plan_min: its flight time as planned.
        mission_share: of the charge of that flight, what its mission takes; NaN without one. A drawn mission
            takes as much more of it as drawn steady flight is shorter than planned.

    Source: Monte Carlo propagation, JCGM 101:2008; quasi-random draws, scipy.stats.qmc.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> from workbook.sizing.craft_types import operate
        >>> design = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> read = flight_times(design, float(operate(design).endurance_min))
        >>> read.endurance_p05_min < read.endurance_p50_min < read.endurance_plan_min
        True
    """
    if not plan_min > 0:
        return None
    flight, flown = design.flight, _flown(design, _draws(lines_of(design)))
    lasts_min, goes_km = flown
    (half_min, half_km), (low_min, _) = np.quantile(flown, (HALF, FEW), axis=1).tolist()

    def met_pct(drawn: FloatArray, wanted: Number | None) -> float:
        return np.nan if wanted is None else 100.0 * float(np.mean(drawn >= wanted))

    with np.errstate(divide="ignore"):
        half, few = 100.0 * mission_share * plan_min / np.array([half_min, low_min])
    has_mission = np.isfinite(mission_share)
    return FlightTimes(
        half_min,
        half_km,
        plan_min,
        low_min,
        met_pct(lasts_min, flight.wanted_min),
        met_pct(goes_km, flight.wanted_km),
        100.0 * mission_share,
        float(half),
        float(few),
        met_pct(lasts_min, mission_share * plan_min if has_mission else None),
    )


def half_of_flights(
    design_of: Callable[[np.ndarray], Design[Any]], rows: np.ndarray
) -> HalfOfFlights:
    """What half of the flights reach, for many designs that a plan would otherwise hold.

    All lines at their middles fly a little longer than half of the flights do. Where that alone decides
    whether half of them meet what is asked, it is enough; the other designs are drawn as `flight_times` does.
    Of many, some are drawn first: how much longer it is differs little between designs of one cell and craft.

    Args:
        design_of: from numbers of rows, shape (n,), the designs with figures of shape (n, 1).
        rows: numbers of those that are asked for.

    Returns:
        Figures of shape (len(rows),), within about 5 % where nothing was drawn.
    """
    designs = design_of(rows)
    flight, lines = designs.flight, lines_of(designs)
    middles = np.stack(_flown(designs, _middle(lines)))[..., 0]
    asked = np.full(middles.shape, np.nan)  # nothing is near to what is not asked
    for row, wanted in zip(asked, (flight.wanted_min, flight.wanted_km), strict=True):
        row[:] = np.nan if wanted is None else np.ravel(wanted)
    halves, drawn = middles / np.sqrt(WIDEST), np.zeros(len(rows), dtype=bool)

    def draw(some: np.ndarray) -> None:
        for few in np.array_split(some, 1 + len(some) // AT_ONCE):
            if len(few):
                flown = _flown(design_of(rows[few]), _draws(lines))
                halves[:, few] = np.quantile(flown, HALF, axis=-1)
        drawn[some] = True

    def near(least: Number, most: Number) -> np.ndarray:
        open_ = (middles >= least * asked) & (middles < most * asked)
        return np.flatnonzero(open_.any(axis=0) & ~drawn)

    some = near(1.0, WIDEST)
    if len(some) > 2 * FIRST:
        first = some[np.linspace(0, len(some) - 1, FIRST).astype(int)]
        draw(first)
        with np.errstate(divide="ignore", invalid="ignore"):
            over = middles[:, first] / halves[:, first]
        least = np.maximum(over.min(axis=1, keepdims=True) * (1.0 - ASIDE), 1.0)
        most = np.minimum(over.max(axis=1, keepdims=True) * (1.0 + ASIDE), WIDEST)
        halves = np.where(drawn, halves, middles / np.sqrt(least * most))
        some = near(least, most)
    draw(some)
    return HalfOfFlights(*halves)
