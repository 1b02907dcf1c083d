"""Each limit of a design with what is asked, what there is, the margin and a verdict."""

from __future__ import annotations

from typing import Any

from workbook.sizing.design import Design
from workbook.sizing.kinds import kind_of
from workbook.sizing.limit import (
    CLOSE_PCT,
    FLOOR_LOADED_V,
    HIGHEST_CHARGE_V,
    LEAST_THRUST_TO_WEIGHT,
    Limit,
    worst,
)

__all__ = [
    "CLOSE_PCT", "FLOOR_LOADED_V", "HIGHEST_CHARGE_V", "LEAST_THRUST_TO_WEIGHT", "Limit", "limits", "stops", "worst",
]  # fmt: skip


def limits(design: Design[Any], point: Any) -> tuple[Limit, ...]:
    """Every limit that the design states, checked at its worst instant.

    Args:
        design: the design, or arrays of designs, of any kind of craft.
        point: its operating point.

    Returns:
        The limits; demand and limit have the shape of the point.
    """
    return kind_of(design).limits(design, point)


def stops(design: Design[Any], point: Any) -> tuple[str, ...]:
    """Reasons, in words, why a single design must not be built or flown as it stands."""
    return kind_of(design).stops(design, point)
