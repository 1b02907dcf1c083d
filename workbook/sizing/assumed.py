"""What a verdict may count on where figures are assumed: every limit again, with all of them at their far ends.

How far off an assumed figure may be is in `data/origins.csv`. The time and the distance asked for are not
asked again: the spread of the flights, which an assumed figure widens too, decides on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from workbook.errors import InputError
from workbook.numbers import Number
from workbook.sizing.budget_lines import BudgetLine, apply
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.limits import BY_CELL_SHARE, Limit, limits, mission_limits
from workbook.sizing.origins import assumed_lines
from workbook.sizing.pair import pair_of

BY_CELL = (*BY_CELL_SHARE, "mission_continuous_current", "mission_burst_current")
"""Limits of a cell's current, by their keys."""

BY_FLIGHTS = ("endurance", "range")
"""Limits that the spread of the flights decides, by their keys."""


def unsure_text(design: Design[Any]) -> str:
    """What must be measured before a design can be said to hold; empty where nothing must.

    Args:
        design: a single design that keeps its limits as planned.

    Returns:
        The assumed figures with which, all at their far ends, a limit would be broken, and which limit, in
        words. Where to know one of them is enough, it is named.

    Source: the far ends are common practice, no source (`data/origins.csv`).
    """
    lines = assumed_lines(design)
    broken = _broken_at_far_end(design, lines)
    if not broken:
        return ""
    far = ", ".join(f"{line.name} by {line.high:g} %" for line in lines)
    limit = f"the limit of {'; '.join(broken)} would be broken"
    if len(lines) == 1:
        return f"Measure or look up first what is assumed. If it is off the wrong way ({far}), {limit}."
    others = ([x for x in lines if x is not line] for line in lines)
    enough = next(
        (
            line.name
            for line, rest in zip(lines, others, strict=True)
            if not _broken_at_far_end(design, rest, any_will_do=True)
        ),
        "",
    )
    known = f" With {enough} known, none would: begin there." if enough else ""
    return f"Measure or look up first what is assumed. If all are off the wrong way ({far}), {limit}.{known}"


def _broken_at_far_end(
    design: Design[Any], lines: Sequence[BudgetLine], *, any_will_do: bool = False
) -> tuple[str, ...]:
    """The limits that are broken with some assumed figures at their far ends, by their names.

    Args:
        design: a single design.
        lines: of the figures.
        any_will_do: whether the mission is left out where another limit is broken.
    """
    if not lines:
        return ()
    applied = apply(design, lines, np.array([_bad_end(line) for line in lines]))
    craft_type = craft_type_of(design)
    point = craft_type.operate(applied.design, applied.allowances)
    share = applied.cell_share_factor
    pair = pair_of(point)
    broken = _names(limits(applied.design, point), share)
    if not design.mission or (any_will_do and broken):
        return broken
    from workbook.sizing.mission import fly_mission, plan_mission

    try:
        mission = fly_mission(plan_mission(craft_type.mission_model(point)))
    except InputError:
        return (*broken, "the mission, which cannot be flown")
    return broken + _names(mission_limits(applied.design, mission, pair=pair), share)


def _bad_end(line: BudgetLine) -> float:
    """More of everything is worse but of what the cells hold."""
    return line.low if line.applies_to[0].figure == "capacity_factor" else line.high


def _names(found: Sequence[Limit], cell_share: Number) -> tuple[str, ...]:
    """Those that are broken where a cell carries so much of what it was planned to."""
    counted = (limit for limit in found if limit.key not in BY_FLIGHTS)
    shared = (
        replace(limit, demand=limit.demand * cell_share) if limit.key in BY_CELL else limit
        for limit in counted
    )
    return tuple(limit.name for limit in shared if limit.broken)
