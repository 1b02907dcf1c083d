"""The figures that a choice or a budget is read by, for any kind of craft and arrays of designs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from workbook.numbers import FloatArray
from workbook.sizing import fixed_wing, multirotor
from workbook.sizing.design import Design
from workbook.sizing.kinds import kind_of
from workbook.sizing.limit import LEAST_THRUST_TO_WEIGHT, Limit, floor_v

Better: TypeAlias = Literal["high", "low"]


@dataclass(frozen=True)
class Figure:
    """A figure that is read.

    Attributes:
        key: its name, unit as suffix.
        name: in words.
        unit: empty for a ratio.
        better: which way is better.
    """

    key: str
    name: str
    unit: str
    better: Better


ENDURANCE = Figure("endurance_min", "flight time", "min", "high")
PEAK = Figure("peak_cell_a", "highest cell current", "A", "low")
LANDING = Figure("landing_cell_v", "cell voltage under load at the end", "V", "high")


@dataclass(frozen=True)
class _Reserve:
    """What a kind of craft has left at the end of the flight, and its highest current."""

    figure: Figure
    left: Callable[[Any], FloatArray]
    least: float
    stop: tuple[str, str, str]
    full_a: Callable[[Any], FloatArray]


_RESERVES = {
    multirotor.NAME: _Reserve(
        Figure("thrust_to_weight_end", "thrust over weight at the end", "", "high"),
        lambda point: np.asarray(point.end.thrust_to_weight),
        LEAST_THRUST_TO_WEIGHT,
        (
            "descent",
            "thrust over weight to stop a descent",
            "The craft may not be able to stop its own descent.",
        ),
        lambda point: np.asarray(point.full.full_throttle.cell_a),
    ),
    fixed_wing.NAME: _Reserve(
        Figure("climb_end_m_s", "climb left at the end", "m/s", "high"),
        lambda point: np.minimum(point.end.burst.climb_m_s, point.end.full_power.climb_m_s),
        fixed_wing.LEAST_CLIMB_M_S,
        (
            "climb_left",
            "climb to clear obstacles and sinking air",
            "The craft may not clear obstacles or sinking air.",
        ),
        lambda point: np.asarray(point.full.full_power.cell_a),
    ),
}


def reserve_figure(design: Design[Any]) -> Figure:
    """What is left at the end: thrust over weight of a multirotor, climb of a wing.

    Example:
        >>> _RESERVES["multirotor"].figure.key
        'thrust_to_weight_end'
    """
    return _RESERVES[kind_of(design).NAME].figure


def reserve(design: Design[Any], point: Any) -> FloatArray:
    """That figure, of the point's shape."""
    return _RESERVES[kind_of(design).NAME].left(point)


def peak_cell_a(design: Design[Any], point: Any) -> FloatArray:
    """Highest current of a cell: full power from a full pack, or steady flight at the end."""
    full_a = _RESERVES[kind_of(design).NAME].full_a(point)
    return np.asarray(np.fmax(full_a, np.asarray(point.end.steady_a)))


def stop_limits(design: Design[Any], point: Any) -> tuple[Limit, ...]:
    """The reasons to stop (`workbook.sizing.limits.stops`) that no other limit holds, as limits.

    Args:
        design: the design, or arrays of designs.
        point: its operating point.
    """
    flies = np.asarray(point.run.time_s, dtype=float) > 0
    own = _RESERVES[kind_of(design).NAME]
    key, name, text = own.stop
    return (
        Limit(
            "takes_off", "the full pack carries the load above the landing voltage",
            np.where(flies, 0.0, np.nan), 1.0, "",
            "Even full, the pack cannot carry this load; the flight would end at take-off.",
            "full pack",
        ),
        Limit(key, name, own.least, own.left(point), own.figure.unit, text, "end of flight"),
        Limit(
            "landing_setting", "landing voltage set", floor_v(design), design.flight.landing_v, "V",
            "The landing voltage is below what a cell stands under load.", "end of flight",
        ),
    )  # fmt: skip


def margin_pct(limit: Limit) -> FloatArray:
    """A limit's margin; NaN where it cannot be told or has no sense (a climb that is a sink)."""
    margin = np.asarray(limit.margin_pct, dtype=float)
    return np.where(limit.broken & ~(margin < 0.0), np.nan, margin)
