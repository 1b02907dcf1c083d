"""Every limit of a design: one table of rules, read as limits, as reasons to stop, and as constraints of a choice.

To add a limit, add one `Rule` to `RULES` (or `MissionRule` to `MISSION_RULES`) where it should stand in the
order of the table: its key, its words, the quantity that gives the unit, what is asked, what there is, when
that is worst, and what a broken one means. `stop` says why a broken one is unsafe (UNSAFE); without it a broken
limit means NOT YET. Command line, JSON, sheet, bench, sweep and budget read the table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.numbers import FloatArray, Number
from workbook.quantities import unit_of
from workbook.sizing.conditions import has_size
from workbook.sizing.constraints import NO_CONSTRAINTS, Constraints, price
from workbook.sizing.design import Design
from workbook.sizing.mission import MissionRun, PhaseRun
from workbook.sizing.operating_point import OperatingPoint
from workbook.sizing.wing_point import STALL_MARGIN

DENSEST = np.pi / (2.0 * np.sqrt(3.0))
"""Share of a space that parallel round cells can fill at most: 0.9069, the hexagonal packing.
Source: Thue; Fejes Toth (1940)."""

CLOSE_PCT = 10.0
"""A margin below this is called close. Common practice, no source."""

FLOOR_LOADED_V = 2.8
"""No flight is planned below this cell voltage under load. Common practice, no source."""

HIGHEST_CHARGE_V = 4.20
"""Usual full-charge voltage of a lithium-ion cell. Common practice; the cell's datasheet rules."""

LEAST_THRUST_TO_WEIGHT = 1.3
"""Below this a multirotor cannot arrest a descent with any surety. Common practice, no source."""

LEAST_CLIMB_M_S = 1.0
"""A wing that climbs more slowly on its burst current or full power cannot clear trees or sinking
air with any surety. Common practice, no source."""

END_OF_FLIGHT, FULL_PACK, WHOLE_FLIGHT = "end of flight", "full pack", "whole flight"
TAKE_OFF, GROUND = "take-off", "on the ground"
"""Instants at which a limit is checked."""

Verdict: TypeAlias = Literal["holds", "close", "broken", "not checked"]


@dataclass(frozen=True)
class Limit:
    """One limit: it holds where the demand is not above the limit.

    Attributes:
        key: short name in lower case with underscores.
        name: in words.
        demand: what the design asks for; NaN where it has no value, which counts as broken.
        limit: what there is to give.
        unit: of both; empty for a ratio.
        broken_text: what a broken limit means, in words.
        worst_at: the instant at which it was checked.
        unchecked: why it could not be checked; empty where it was.

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
    unchecked: str = ""

    @property
    def margin_pct(self) -> Number:
        """What is left of the limit, percent of it; NaN where there is no such figure."""
        with np.errstate(divide="ignore", invalid="ignore"):
            margin = 100.0 * (1.0 - np.divide(self.demand, self.limit))
        return margin if np.ndim(margin) else float(margin)

    @property
    def sound_margin_pct(self) -> FloatArray:
        """The margin; NaN too where it has no sense, as where a climb asked for is a sink."""
        margin = np.asarray(self.margin_pct, dtype=float)
        return np.where(self.broken & ~(margin < 0.0), np.nan, margin)

    @property
    def broken(self) -> np.ndarray:
        """Where the limit does not hold."""
        return ~(np.asarray(self.demand) <= np.asarray(self.limit))

    @property
    def verdict(self) -> Verdict:
        """Its state, for a single design."""
        if self.unchecked:
            return "not checked"
        if self.broken:
            return "broken"
        return "close" if self.margin_pct < CLOSE_PCT - 1e-9 else "holds"


@dataclass(frozen=True)
class Subject:
    """What a rule looks at: a design, its operating point where there is one, and what a choice must keep to."""

    design: Design[Any]
    flown: OperatingPoint[Any, Any] | None = None
    constraints: Constraints = NO_CONSTRAINTS

    @property
    def point(self) -> Any:
        """The operating point, of the craft that the rule is for."""
        return self.flown

    @property
    def all_up_mass_g(self) -> Number:
        """Of the operating point, or by the scale where there is none."""
        if self.flown is not None:
            return self.flown.all_up_mass_g
        mass_g: Number = self.design.craft.all_up_mass_g(self.design.pack.mass_g)
        return mass_g

    @property
    def floor_v(self) -> float:
        """Lowest cell voltage under load that any plan may reach."""
        return max(FLOOR_LOADED_V, self.design.pack.cell.cutoff_v)


Text: TypeAlias = str | Callable[[Subject], str]
Asked: TypeAlias = Callable[[Subject], Number | None]


@dataclass(frozen=True)
class Rule:
    """The definition of one limit.

    Attributes:
        key, name: of the limit.
        quantity: a name whose suffix gives the unit.
        demand, limit: what is asked and what there is; None where the design asks for nothing of the kind.
        worst_at: the instant at which it is checked.
        broken_text: what a broken limit means.
        missing: what a design must still state for it to be checked, in words; such a limit is left out.
        stop: why a broken one must not be built or flown, in words (UNSAFE); None where a broken one only
            means NOT YET.
        listed: whether it is among `limits`; the others only stop, or bound a choice.
        implied: whether a listed limit is always broken with it, so that a choice need not ask.
        alone: whether nothing else can be said once it is broken.
        on_ground: whether it needs no operating point.
        craft: the craft that has it.
    """

    key: str
    name: str
    quantity: str
    demand: Asked
    limit: Asked
    worst_at: str
    broken_text: Text = ""
    missing: Callable[[Subject], str] = lambda subject: ""
    stop: Callable[[Subject], str] | None = None
    listed: bool = True
    implied: bool = False
    alone: bool = False
    on_ground: bool = False
    craft: type = object

    def of(self, subject: Subject) -> Limit | None:
        """The limit of one subject; None where its craft has none, or its design asks for none."""
        if not isinstance(subject.design.craft, self.craft) or self.missing(subject):
            return None
        demand, limit, text = self.demand(subject), self.limit(subject), self.broken_text
        if demand is None or limit is None:
            return None
        return Limit(
            self.key,
            self.name,
            demand,
            limit,
            unit_of(self.quantity),
            text if isinstance(text, str) else text(subject),
            self.worst_at,
        )


def _no_table_text(s: Subject) -> str:
    table = s.design.craft.table
    return (
        f"Steady flight needs {s.point.thrust_per_motor_gf:.0f} gf per motor, outside the thrust "
        f"table ({table.thrust_gf[0]:.0f} to {table.top_thrust_gf:.0f} gf): "
        "nothing about this flight can be computed from it."
    )


def _no_descent_text(s: Subject) -> str:
    left = s.point.reserve
    return (
        ""
        if np.isnan(left)
        else (
            f"At the end of the flight thrust is {left:.2f} times weight, under "
            f"{LEAST_THRUST_TO_WEIGHT:g}: the craft may not be able to stop its own descent."
        )
    )


def _no_climb_text(s: Subject) -> str:
    left = s.point.reserve
    return (
        ""
        if np.isnan(left) or not s.point.run.time_s > 0
        else (
            f"At the end of the flight the craft climbs {left:.1f} m/s at most, under "
            f"{LEAST_CLIMB_M_S:g} m/s: it may not clear obstacles or sinking air."
        )
    )


RULES: tuple[Rule, ...] = (
    Rule(
        key="table_thrust",
        name="thrust per motor in steady flight within the thrust table",
        quantity="hover_thrust_per_motor_gf",
        demand=lambda s: s.point.thrust_per_motor_gf,
        limit=lambda s: np.where(
            np.isnan(s.point.power_per_motor_w), np.nan, s.design.craft.table.top_thrust_gf
        ),
        worst_at="steady flight",
        broken_text="The thrust table does not reach this thrust; its figures cannot be used.",
        stop=_no_table_text,
        alone=True,
        craft=Multirotor,
    ),
    Rule(
        key="stall",
        name="stall speed below cruise speed",
        quantity="stall_m_s",
        demand=lambda s: np.where(np.isnan(s.point.power_w), np.nan, s.point.speeds.stall_m_s),
        limit=lambda s: s.point.cruise_m_s,
        worst_at="cruise",
        stop=lambda s: (
            f"Cruise at {s.point.cruise_m_s:.1f} m/s is below the stall speed of "
            f"{s.point.speeds.stall_m_s:.1f} m/s at {s.all_up_mass_g:.0f} g: it cannot fly so slowly."
        ),
        listed=False,
        implied=True,
        alone=True,
        craft=FixedWing,
    ),
    Rule(
        key="takes_off",
        name="the full pack carries the load above the landing voltage",
        quantity="",
        demand=lambda s: np.where(np.asarray(s.point.run.time_s) > 0, 0.0, np.nan),
        limit=lambda s: 1.0,
        worst_at=FULL_PACK,
        broken_text="Even full, the pack cannot carry this load; the flight would end at take-off.",
        stop=lambda s: (
            f"Even full, the pack cannot carry this load above {s.design.flight.landing_v:g} V per "
            "cell: the flight would end at take-off."
        ),
        listed=False,
    ),
    Rule(
        key="rated_cell_current",
        name="cell current in steady flight within the maker's rating",
        quantity="peak_cell_a",
        demand=lambda s: np.nan_to_num(s.point.end.steady_a),
        limit=lambda s: s.design.pack.cell.continuous_a,
        worst_at=END_OF_FLIGHT,
        stop=lambda s: (
            f"Each cell carries {s.point.end.steady_a:.1f} A at the end of the flight; its maker "
            f"allows {s.design.pack.cell.continuous_a:g} A continuous. It can overheat, vent and burn."
        ),
        listed=False,
        implied=True,
    ),
    Rule(
        key="descent",
        name="thrust over weight to stop a descent",
        quantity="thrust_to_weight_end",
        demand=lambda s: LEAST_THRUST_TO_WEIGHT,
        limit=lambda s: s.point.reserve,
        worst_at=END_OF_FLIGHT,
        broken_text="The craft may not be able to stop its own descent.",
        stop=_no_descent_text,
        listed=False,
        craft=Multirotor,
    ),
    Rule(
        key="climb_left",
        name="climb to clear obstacles and sinking air",
        quantity="climb_end_m_s",
        demand=lambda s: LEAST_CLIMB_M_S,
        limit=lambda s: s.point.reserve,
        worst_at=END_OF_FLIGHT,
        broken_text="The craft may not clear obstacles or sinking air.",
        stop=_no_climb_text,
        listed=False,
        craft=FixedWing,
    ),
    Rule(
        key="landing_setting",
        name="landing voltage set",
        quantity="landing_cell_v",
        demand=lambda s: s.floor_v,
        limit=lambda s: s.design.flight.landing_v,
        worst_at=END_OF_FLIGHT,
        broken_text="The landing voltage is below what a cell stands under load.",
        stop=lambda s: (
            f"A landing voltage of {s.design.flight.landing_v:g} V per cell under load is below {s.floor_v:g} V."
        ),
        listed=False,
    ),
    Rule(
        key="charge_voltage",
        name="cell's charge voltage",
        quantity="full_cell_v",
        demand=lambda s: s.design.pack.cell.charge_v,
        limit=lambda s: HIGHEST_CHARGE_V,
        worst_at=GROUND,
        broken_text="A charge voltage above the usual one needs its own charger setting and care.",
        stop=lambda s: (
            f"A charge voltage of {s.design.pack.cell.charge_v:g} V per cell is above {HIGHEST_CHARGE_V:g} V."
        ),
        listed=False,
        on_ground=True,
    ),
    Rule(
        key="stall_margin",
        name="cruise speed over stall speed",
        quantity="",
        demand=lambda s: STALL_MARGIN,
        limit=lambda s: s.point.cruise_m_s / s.point.speeds.stall_m_s,
        worst_at="cruise",
        broken_text=f"Cruise is slower than {STALL_MARGIN:g} times the stall speed; a gust or a turn can stall it.",
        craft=FixedWing,
    ),
    Rule(
        key="continuous_cell_current",
        name="cell current in steady flight",
        quantity="peak_cell_a",
        demand=lambda s: s.point.end.steady_a,
        limit=lambda s: (
            s.design.pack.cell.continuous_a
            * (np.asarray(s.design.flight.continuous_share_pct) / 100.0)
        ),
        worst_at=END_OF_FLIGHT,
        broken_text="Each cell would carry more than its continuous current; it overheats. "
        "More cells in parallel, less mass or another cell is needed.",
    ),
    Rule(
        key="burst_cell_current",
        name="cell current at full throttle, or at the throttle cap",
        quantity="peak_cell_a",
        demand=lambda s: s.point.full.full_throttle.cell_a,
        limit=lambda s: s.design.pack.cell.burst_a,
        worst_at=FULL_PACK,
        broken_text="Full throttle would pull more than the cell's burst current; "
        "set the throttle cap given below.",
        craft=Multirotor,
    ),
    Rule(
        key="burst_cell_current",
        name="cell current at launch, full power",
        quantity="peak_cell_a",
        demand=lambda s: s.point.full.full_throttle.cell_a,
        limit=lambda s: s.design.pack.cell.burst_a,
        worst_at=FULL_PACK,
        broken_text="Launch would pull more than the cell's burst current; set a throttle cap or use more "
        "cells in parallel.",
        craft=FixedWing,
    ),
    Rule(
        key="thrust_to_weight",
        name="thrust over weight that is left",
        quantity="thrust_to_weight_end",
        demand=lambda s: s.design.flight.thrust_reserve,
        limit=lambda s: s.point.reserve,
        worst_at=END_OF_FLIGHT,
        broken_text="Near the end the pack cannot give the asked thrust over weight.",
        craft=Multirotor,
    ),
    Rule(
        key="launch_voltage",
        name="cell voltage at launch, full power",
        quantity="launch_cell_v",
        demand=lambda s: s.design.pack.cell.cutoff_v,
        limit=lambda s: s.point.full.full_throttle.cell_v,
        worst_at=FULL_PACK,
        broken_text="Launch would pull the cells below their cutoff voltage.",
        craft=FixedWing,
    ),
    Rule(
        key="landing_voltage",
        name="cell voltage under load at landing",
        quantity="landing_cell_v",
        demand=lambda s: s.floor_v,
        limit=lambda s: s.point.run.end_v,
        worst_at=END_OF_FLIGHT,
        broken_text=lambda s: (
            f"The cell would sag below {s.floor_v:g} V under load; it is damaged and may fail in flight."
        ),
    ),
    Rule(
        key="cell_temperature",
        name="temperature inside the hottest cell after steady flight",
        quantity="end_cell_temperature_c",
        demand=lambda s: s.point.end_cell_c,
        limit=lambda s: s.design.pack.cell.max_temperature_c,
        worst_at=END_OF_FLIGHT,
        broken_text="The cells would end hotter than their maker allows; they age fast and may vent.",
        missing=lambda s: "" if has_size(s.design) else "the cell's diameter and height",
    ),
    Rule(
        key="hover_voltage",
        name="cell voltage in hover that the thrust reserve needs",
        quantity="lowest_hover_cell_v",
        demand=lambda s: s.point.lowest_hover_cell_v,
        limit=lambda s: s.point.run.end_v,
        worst_at=END_OF_FLIGHT,
        broken_text="The voltage falls below what the asked thrust reserve needs before the flight ends.",
        craft=Multirotor,
    ),
    Rule(
        key="climb",
        name="rate of climb within the continuous current",
        quantity="climb_continuous_m_s",
        demand=lambda s: s.design.flight.climb_m_s,
        limit=lambda s: s.point.end.continuous.climb_m_s,
        worst_at=END_OF_FLIGHT,
        broken_text="Near the end the pack cannot give the asked climb within its continuous current.",
        craft=FixedWing,
    ),
    Rule(
        key="range",
        name="distance asked for, still air",
        quantity="range_km",
        demand=lambda s: s.design.flight.wanted_km,
        limit=lambda s: s.point.range_km,
        worst_at=WHOLE_FLIGHT,
        broken_text="The pack does not carry the craft the asked distance.",
        craft=FixedWing,
    ),
    Rule(
        key="endurance",
        name="flight time asked for",
        quantity="endurance_min",
        demand=lambda s: s.design.flight.wanted_min,
        limit=lambda s: s.point.endurance_min,
        worst_at=WHOLE_FLIGHT,
        broken_text="The pack does not last the asked flight time.",
    ),
    Rule(
        key="all_up_mass",
        name="all-up mass",
        quantity="all_up_mass_g",
        demand=lambda s: s.all_up_mass_g,
        limit=lambda s: s.design.craft.max_all_up_mass_g,
        worst_at=TAKE_OFF,
        broken_text="The craft would be heavier than its highest take-off mass.",
        on_ground=True,
    ),
    Rule(
        key="controller_voltage",
        name="voltage of the full pack at the speed controllers",
        quantity="pack_full_v",
        demand=lambda s: s.design.pack.full_v,
        limit=lambda s: s.design.craft.controller_max_v,
        worst_at=FULL_PACK,
        broken_text="The full pack is above the speed controllers' highest voltage; they can burn.",
        stop=lambda s: (
            f"The full pack has {s.design.pack.full_v:.1f} V; the speed controllers allow "
            f"{s.design.craft.controller_max_v:g} V."
        ),
        on_ground=True,
    ),
    Rule(
        key="controller_current",
        name="motor current at full throttle, or at the throttle cap",
        quantity="controller_max_a",
        demand=lambda s: s.point.full.motor_a,
        limit=lambda s: s.design.craft.controller_max_a,
        worst_at=FULL_PACK,
        broken_text="Full throttle pulls more than the speed controllers' current.",
    ),
    Rule(
        key="bay_size",
        name="a cell's size in the bay",
        quantity="bay_length_mm",
        demand=lambda s: _tightest_side_mm(s)[0] if s.constraints.bay else None,
        limit=lambda s: _tightest_side_mm(s)[1] if s.constraints.bay else None,
        worst_at=GROUND,
        broken_text="Not even one cell fits the bay, or its size is not known.",
        listed=False,
        on_ground=True,
    ),
    Rule(
        key="bay_volume",
        name="the cells' volume, packed as densely as can be, in the bay",
        quantity="bay_cm3",
        demand=lambda s: (
            s.design.pack.cells * _cell_cm3(s) / DENSEST if s.constraints.bay else None
        ),
        limit=lambda s: np.prod(s.constraints.bay_sides_mm).item() / 1000.0,
        worst_at=GROUND,
        broken_text="The cells take more room than the bay has, or their size is not known.",
        listed=False,
        on_ground=True,
    ),
    Rule(
        key="price",
        name="money for the cells",
        quantity="",
        demand=lambda s: price(s.design),
        limit=lambda s: s.constraints.max_price,
        worst_at=GROUND,
        broken_text="The cells cost more than is there, or their price is not known.",
        listed=False,
        on_ground=True,
    ),
    Rule(
        key="transport",
        name="pack energy by the transport class",
        quantity="pack_energy_wh",
        demand=lambda s: s.design.pack.energy_wh,
        limit=lambda s: s.constraints.most_wh,
        worst_at=GROUND,
        broken_text="The pack has more energy than the transport class allows.",
        listed=False,
        on_ground=True,
    ),
    Rule(
        key="pack_mass",
        name="pack mass",
        quantity="pack_mass_g",
        demand=lambda s: s.design.pack.mass_g,
        limit=lambda s: s.constraints.max_pack_mass_g,
        worst_at=GROUND,
        broken_text="The pack is heavier than is asked.",
        listed=False,
        on_ground=True,
    ),
)
"""Every limit, in the order in which they are shown."""


def _tightest_side_mm(s: Subject) -> tuple[float, float]:
    """The side of a cell that fits the bay least, and that of the bay."""
    cell = s.design.pack.cell
    if not has_size(s.design):
        return np.nan, s.constraints.bay_sides_mm[0]
    size = sorted((cell.diameter_mm, cell.diameter_mm, cell.height_mm))
    pairs = zip(size, s.constraints.bay_sides_mm, strict=True)
    return max(pairs, key=lambda pair: pair[0] / pair[1])


def _cell_cm3(s: Subject) -> float:
    cell = s.design.pack.cell
    known = 1.0 if has_size(s.design) else np.nan
    return known * np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm / 1000.0


def _of(subject: Subject, which: Callable[[Rule], bool]) -> tuple[Limit, ...]:
    """The limits of a subject by those rules that are meant."""
    found = (rule.of(subject) for rule in RULES if which(rule))
    return tuple(limit for limit in found if limit is not None)


def limits(design: Design[Any], point: OperatingPoint[Any, Any]) -> tuple[Limit, ...]:
    """Every limit that the design states, checked at its worst instant.

    Args:
        design: the design, or arrays of designs, of any craft.
        point: its operating point.

    Returns:
        The limits; demand and limit have the shape of the point.
    """
    return _of(Subject(design, point), lambda rule: rule.listed)


def stops(design: Design[Any], point: OperatingPoint[Any, Any]) -> tuple[str, ...]:
    """Reasons, in words, why a single design must not be built or flown as it stands."""
    subject, reasons = Subject(design, point), []
    for rule in RULES:
        limit = rule.of(subject) if rule.stop is not None else None
        if rule.stop is None or limit is None or not limit.broken:
            continue
        if rule.alone:
            return (rule.stop(subject),)
        reasons.append(rule.stop(subject))
    return tuple(reason for reason in reasons if reason)


def ground_limits(
    design: Design[Any], constraints: Constraints = NO_CONSTRAINTS
) -> tuple[Limit, ...]:
    """The limits that need no operating point: a choice sets a pack aside by them before it flies.

    Args:
        design: the design, or arrays of designs.
        constraints: what the choice must keep to.
    """
    return _of(Subject(design, None, constraints), lambda rule: rule.on_ground)


def flight_limits(design: Design[Any], point: OperatingPoint[Any, Any]) -> tuple[Limit, ...]:
    """The limits of a design, and the reasons to stop that none of them implies, as limits.

    Args:
        design: the design, or arrays of designs.
        point: its operating point.
    """

    def only_stops(rule: Rule) -> bool:
        return not (rule.listed or rule.implied or rule.on_ground)

    return (*limits(design, point), *_of(Subject(design, point), only_stops))


@dataclass(frozen=True)
class MissionRule:
    """The definition of one limit of a mission, checked in the phase where the least is left of it.

    Attributes:
        key, name: of the limit.
        quantity: a name whose suffix gives the unit.
        broken_text: what a broken limit means, without a full stop.
        of: whether a phase is asked; from the phase and the design.
        demand, limit: what is asked and what there is, in a phase of the design.
        at_end: whether it is worst at the end of the phase, not where the current is highest.
    """

    key: str
    name: str
    quantity: str
    broken_text: str
    of: Callable[[PhaseRun, Design[Any]], bool]
    demand: Callable[[PhaseRun, Design[Any]], float]
    limit: Callable[[PhaseRun, Design[Any]], float]
    at_end: bool = False

    def nearest(self, phases: tuple[PhaseRun, ...], design: Design[Any]) -> Limit | None:
        """The limit in the phase that is nearest to it; None where no phase has it."""
        found = [
            (self.demand(run, design), self.limit(run, design), run)
            for run in phases
            if self.of(run, design)
        ]
        known = [
            (d, limit, run) for d, limit, run in found if np.isfinite(d) and np.isfinite(limit)
        ]
        if not known:
            return None
        demand, limit, run = max(known, key=lambda one: one[0] / one[1])
        place = f"{run.label}, minute {run.end_min if self.at_end else run.worst_min:.1f}"
        name = self.name.format(cell=design.pack.cell)
        text = f"{self.broken_text} ({place})."
        return Limit(self.key, name, demand, limit, unit_of(self.quantity), text, place)


def _brief(run: PhaseRun, design: Design[Any]) -> bool:
    return run.duration_s <= design.pack.cell.burst_s


MISSION_RULES: tuple[MissionRule, ...] = (
    MissionRule(
        key="mission_continuous_current",
        name="cell current in the mission, continuous",
        quantity="peak_cell_a",
        broken_text="In the mission each cell would carry more than its continuous current; it overheats",
        of=lambda run, design: not _brief(run, design),
        demand=lambda run, design: run.cell_a,
        limit=lambda run, design: run.allowed_a,
    ),
    MissionRule(
        key="mission_burst_current",
        name="cell current in the mission, up to {cell.burst_s:g} s",
        quantity="peak_cell_a",
        broken_text="In the mission each cell would carry more than its burst current",
        of=_brief,
        demand=lambda run, design: run.cell_a,
        limit=lambda run, design: run.allowed_a,
    ),
    MissionRule(
        key="mission_voltage",
        name="cell voltage under load in the mission",
        quantity="landing_cell_v",
        broken_text="In the mission the cell sags below the landing voltage",
        of=lambda run, design: run.kind != "launch",
        demand=lambda run, design: float(design.flight.landing_v),
        limit=lambda run, design: run.lowest_v,
    ),
    MissionRule(
        key="mission_launch_voltage",
        name="cell voltage under load at launch",
        quantity="launch_cell_v",
        broken_text="Launch pulls the cell below its cutoff voltage",
        of=lambda run, design: run.kind == "launch",
        demand=lambda run, design: design.pack.cell.cutoff_v,
        limit=lambda run, design: run.lowest_v,
    ),
    MissionRule(
        key="mission_power",
        name="power of a phase within full power",
        quantity="hover_power_w",
        broken_text="The motors cannot give the power that the mission asks for",
        of=lambda run, design: run.kind not in ("rest", "launch"),
        demand=lambda run, design: run.power_w,
        limit=lambda run, design: run.full_power_w,
        at_end=True,
    ),
    MissionRule(
        key="mission_temperature",
        name="temperature inside a cell in the mission",
        quantity="end_cell_temperature_c",
        broken_text="In the mission the cells grow hotter than their maker allows",
        of=lambda run, design: has_size(design),
        demand=lambda run, design: run.cell_c,
        limit=lambda run, design: design.pack.cell.max_temperature_c,
        at_end=True,
    ),
)
"""Every limit of a mission but its charge, in the order in which they are shown."""


def mission_limits(design: Design[Any], mission: MissionRun) -> tuple[Limit, ...]:
    """Every limit of a mission, each in the phase where the least is left of it.

    Args:
        design: a single design with a mission.
        mission: that mission on its pack.
    """
    last = mission.phases[-1]
    why = (
        ""
        if mission.completes
        else f": {mission.ends_by} in {mission.ends_in}, minute {mission.ends_min:.1f}"
    )
    charge = Limit(
        "mission_charge",
        "charge used by the mission",
        100.0 * last.end_depth_of_discharge if last.flown else float("nan"),
        100.0 - float(design.flight.reserve_pct),
        "%",
        f"The pack does not carry the mission down to its reserve{why}.",
        f"{last.label}, minute {last.end_min:.1f}",
    )
    others = (rule.nearest(mission.phases, design) for rule in MISSION_RULES)
    return (charge, *(limit for limit in others if limit is not None))
