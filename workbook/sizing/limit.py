"""One limit: what is asked, what there is, the margin and a verdict; and those that every craft has."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.numbers import FloatArray, Number
from workbook.sizing.conditions import has_size
from workbook.sizing.design import Design

CLOSE_PCT = 10.0
"""A margin below this is called close. Common practice, no source."""

FLOOR_LOADED_V = 2.8
"""No flight is planned below this cell voltage under load. Common practice, no source."""

HIGHEST_CHARGE_V = 4.20
"""Usual full-charge voltage of a lithium-ion cell. Common practice; the cell's datasheet rules."""
LEAST_THRUST_TO_WEIGHT = 1.3
"""Below this a multirotor cannot arrest a descent with any surety. Common practice, no source."""

END_OF_FLIGHT, FULL_PACK = "end of flight", "full pack"
"""Instants at which a limit is checked."""


@dataclass(frozen=True)
class Limit:
    """One limit: it holds where the demand is not above the limit.

    Attributes:
        key: short name in lower case with underscores.
        name: in words.
        demand: what the design asks for; NaN where it cannot be told, which counts as broken.
        limit: what there is to give.
        unit: of both; empty for a ratio.
        broken_text: what a broken limit means, in words.
        worst_at: the instant at which it was checked.

    Example:
        >>> cell = Limit("cell_current", "cell current", 9.0, 10.0, "A", "too much current.", "end")
        >>> cell.margin_pct, cell.verdict
        (10.0, 'holds')
    """

    key: str
    name: str
    demand: Number
    limit: Number
    unit: str
    broken_text: str
    worst_at: str

    @property
    def margin_pct(self) -> Number:
        """What is left of the limit, percent of it; NaN where it cannot be told."""
        with np.errstate(divide="ignore", invalid="ignore"):
            margin = 100.0 * (1.0 - np.divide(self.demand, self.limit))
        return margin if np.ndim(margin) else float(margin)

    @property
    def broken(self) -> np.ndarray:
        """Where the limit does not hold."""
        return ~(np.asarray(self.demand) <= np.asarray(self.limit))

    @property
    def verdict(self) -> str:
        """`holds`, `close` or `broken`, for a single design."""
        if self.broken:
            return "broken"
        return "close" if self.margin_pct < CLOSE_PCT - 1e-9 else "holds"


def floor_v(design: Design[Any]) -> float:
    """Lowest cell voltage under load that any plan may reach."""
    return max(FLOOR_LOADED_V, design.pack.cell.cutoff_v)


def steady_current_limit(design: Design[Any], point: Any) -> Limit:
    """Cell current in steady flight against the allowed share of the continuous current."""
    share = np.asarray(design.flight.continuous_share_pct) / 100.0
    return Limit(
        "continuous_cell_current",
        "cell current in steady flight",
        point.end.steady_a,
        design.pack.cell.continuous_a * share,
        "A",
        "Each cell would carry more than its continuous current; it overheats. "
        "More cells in parallel, less mass or another cell is needed.",
        END_OF_FLIGHT,
    )


def warmth_limits(design: Design[Any], point: Any) -> tuple[Limit, ...]:
    """The hottest cell against its highest temperature; none where the cell's size is not known."""
    if not has_size(design):
        return ()
    return (
        Limit(
            "cell_temperature",
            "temperature inside the hottest cell after steady flight",
            point.end_cell_c,
            design.pack.cell.max_temperature_c,
            "C",
            "The cells would end hotter than their maker allows; they age fast and may vent.",
            END_OF_FLIGHT,
        ),
    )


def landing_limit(design: Design[Any], point: Any) -> Limit:
    """Cell voltage under load at landing against the floor."""
    floor = floor_v(design)
    return Limit(
        "landing_voltage",
        "cell voltage under load at landing",
        floor,
        point.run.end_v,
        "V",
        f"The cell would sag below {floor:g} V under load; it is damaged and may fail in flight.",
        END_OF_FLIGHT,
    )


def asked_limits(design: Design[Any], point: Any, motor_a: Number) -> tuple[Limit, ...]:
    """The limits that a design may state, whatever holds it up: time, mass, speed controllers.

    Args:
        motor_a: highest current of one motor.
    """
    craft, pack, flight = design.craft, design.pack, design.flight
    found = []
    if flight.wanted_min is not None:
        found.append(
            Limit(
                "endurance",
                "flight time asked for",
                flight.wanted_min,
                point.endurance_min,
                "min",
                "The pack does not last the asked flight time.",
                "whole flight",
            )
        )
    if craft.max_all_up_mass_g is not None:
        found.append(
            Limit(
                "all_up_mass",
                "all-up mass",
                point.all_up_mass_g,
                craft.max_all_up_mass_g,
                "g",
                "The craft would be heavier than its highest take-off mass.",
                "take-off",
            )
        )
    if craft.controller_max_v is not None:
        found.append(
            Limit(
                "controller_voltage",
                "voltage of the full pack at the speed controllers",
                pack.full_v,
                craft.controller_max_v,
                "V",
                "The full pack is above the speed controllers' highest voltage; they can burn.",
                "full pack",
            )
        )
    if craft.controller_max_a is not None:
        found.append(
            Limit(
                "controller_current",
                "motor current at full throttle, or at the throttle cap",
                motor_a,
                craft.controller_max_a,
                "A",
                "Full throttle pulls more than the speed controllers' current.",
                "full pack",
            )
        )
    return tuple(found)


def no_flight_stop(design: Design[Any], point: Any) -> list[str]:
    """A pack that cannot carry the load even when full."""
    if point.run.time_s > 0:
        return []
    return [
        f"Even full, the pack cannot carry this load above {float(design.flight.landing_v):g} V per "
        "cell: the flight would end at take-off."
    ]


def steady_current_stop(design: Design[Any], point: Any) -> list[str]:
    """Cells that carry more than their maker allows."""
    cell = design.pack.cell
    if not point.end.steady_a > cell.continuous_a:
        return []
    return [
        f"Each cell carries {float(point.end.steady_a):.1f} A at the end of the flight; its maker "
        f"allows {cell.continuous_a:g} A continuous. It can overheat, vent and burn."
    ]


def voltage_stops(design: Design[Any]) -> list[str]:
    """Voltages that are too low to land at, to charge to, or for the speed controllers."""
    cell, flight, craft, said = design.pack.cell, design.flight, design.craft, []
    floor = floor_v(design)
    if flight.landing_v < floor:
        said.append(
            f"A landing voltage of {float(flight.landing_v):g} V per cell under load is below {floor:g} V."
        )
    if cell.charge_v > HIGHEST_CHARGE_V:
        said.append(
            f"A charge voltage of {cell.charge_v:g} V per cell is above {HIGHEST_CHARGE_V:g} V."
        )
    if craft.controller_max_v is not None and np.any(design.pack.full_v > craft.controller_max_v):
        said.append(
            f"The full pack has {float(design.pack.full_v):.1f} V; the speed controllers allow "
            f"{craft.controller_max_v:g} V."
        )
    return said


def worst(found: tuple[Limit, ...]) -> tuple[FloatArray, FloatArray]:
    """The smallest margin over all limits and the index of the limit that has it.

    NaN margins count as the smallest. Arrays of designs give arrays.
    """
    margins = np.stack(
        [np.asarray(m, dtype=float) for m in np.broadcast_arrays(*(f.margin_pct for f in found))]
    )
    margins = np.where(np.isnan(margins), -np.inf, margins)
    return margins.min(axis=0), margins.argmin(axis=0)
