"""Each limit with what is asked, what there is, the margin and a verdict, at the worst instant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.numbers import FloatArray, Number
from workbook.sizing.design import Design
from workbook.sizing.operating_point import OperatingPoint

CLOSE_PCT = 10.0
"""A margin below this is called close. Common practice, no source."""

FLOOR_LOADED_V = 2.8
"""No flight is planned below this cell voltage under load. Common practice, no source."""

HIGHEST_CHARGE_V = 4.20
"""Usual full-charge voltage of a lithium-ion cell. Common practice; the cell's datasheet rules."""

LEAST_THRUST_TO_WEIGHT = 1.3
"""Below this a multirotor cannot arrest a descent with any surety. Common practice, no source."""


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


def limits(design: Design, point: OperatingPoint) -> tuple[Limit, ...]:
    """Every limit that the design states, checked at its worst instant.

    Args:
        design: the design, or arrays of designs.
        point: its operating point.

    Returns:
        The limits; demand and limit have the shape of the point.
    """
    craft, pack, flight = design.craft, design.pack, design.flight
    cell = pack.cell
    share = np.asarray(flight.continuous_share_pct) / 100.0
    top = point.full.full_throttle
    end = "end of flight"
    floor = max(FLOOR_LOADED_V, cell.cutoff_v)
    found = [
        Limit(
            "table_thrust",
            "thrust per motor in steady flight within the thrust table",
            point.thrust_per_motor_gf,
            np.where(np.isnan(point.power_per_motor_w), np.nan, craft.table.top_thrust_gf),
            "gf",
            "The thrust table does not reach this thrust; its figures cannot be used.",
            "steady flight",
        ),
        Limit(
            "continuous_cell_current",
            "cell current in steady flight",
            point.end.steady_a,
            cell.continuous_a * share,
            "A",
            "Each cell would carry more than its continuous current; it overheats. "
            "More cells in parallel, less mass or another cell is needed.",
            end,
        ),
        Limit(
            "burst_cell_current",
            "cell current at full throttle, or at the throttle cap",
            top.cell_a,
            cell.burst_a,
            "A",
            "Full throttle would pull more than the cell's burst current; "
            "set the throttle cap given below.",
            "full pack",
        ),
        Limit(
            "thrust_to_weight",
            "thrust over weight that is left",
            flight.thrust_reserve,
            point.end.thrust_to_weight,
            "",
            "Near the end the pack cannot give the asked thrust over weight.",
            end,
        ),
        Limit(
            "landing_voltage",
            "cell voltage under load at landing",
            floor,
            point.run.end_v,
            "V",
            f"The cell would sag below {floor:g} V under load; it is damaged and may fail in flight.",
            end,
        ),
        Limit(
            "hover_voltage",
            "cell voltage in hover that the thrust reserve needs",
            point.lowest_hover_cell_v,
            point.run.end_v,
            "V",
            "The voltage falls below what the asked thrust reserve needs before the flight ends.",
            end,
        ),
    ]
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
                top.motor_a,
                craft.controller_max_a,
                "A",
                "Full throttle pulls more than the speed controllers' current.",
                "full pack",
            )
        )
    return tuple(found)


def stops(design: Design, point: OperatingPoint) -> tuple[str, ...]:
    """Reasons, in words, why a single design must not be built or flown as it stands."""
    cell, flight = design.pack.cell, design.flight
    run = point.run
    said = []
    if np.isnan(point.power_per_motor_w):
        said.append(
            f"Steady flight needs {float(point.thrust_per_motor_gf):.0f} gf per motor, outside the thrust "
            f"table ({design.craft.table.thrust_gf[0]:.0f} to {design.craft.table.top_thrust_gf:.0f} gf): "
            "nothing about this flight can be computed from it."
        )
        return tuple(said)
    if not run.time_s > 0:
        said.append(
            f"Even full, the pack cannot carry this load above {float(flight.landing_v):g} V per cell: "
            "the flight would end at take-off."
        )
    if point.end.steady_a > cell.continuous_a:
        said.append(
            f"Each cell carries {float(point.end.steady_a):.1f} A at the end of the flight; its maker allows "
            f"{cell.continuous_a:g} A continuous. It can overheat, vent and burn."
        )
    if point.end.thrust_to_weight < LEAST_THRUST_TO_WEIGHT:
        said.append(
            f"At the end of the flight thrust is {float(point.end.thrust_to_weight):.2f} times weight, under "
            f"{LEAST_THRUST_TO_WEIGHT:g}: the craft may not be able to stop its own descent."
        )
    floor = max(FLOOR_LOADED_V, cell.cutoff_v)
    if flight.landing_v < floor:
        said.append(
            f"A landing voltage of {float(flight.landing_v):g} V per cell under load is below {floor:g} V."
        )
    if cell.charge_v > HIGHEST_CHARGE_V:
        said.append(
            f"A charge voltage of {cell.charge_v:g} V per cell is above {HIGHEST_CHARGE_V:g} V."
        )
    if design.craft.controller_max_v is not None and np.any(
        design.pack.full_v > design.craft.controller_max_v
    ):
        said.append(
            f"The full pack has {float(design.pack.full_v):.1f} V; the speed controllers allow "
            f"{design.craft.controller_max_v:g} V."
        )
    return tuple(said)


def worst(found: tuple[Limit, ...]) -> tuple[FloatArray, FloatArray]:
    """The smallest margin over all limits and the index of the limit that has it.

    NaN margins count as the smallest. Arrays of designs give arrays.
    """
    margins = np.stack(
        [np.asarray(m, dtype=float) for m in np.broadcast_arrays(*(f.margin_pct for f in found))]
    )
    margins = np.where(np.isnan(margins), -np.inf, margins)
    return margins.min(axis=0), margins.argmin(axis=0)
