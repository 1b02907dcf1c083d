"""A mission on a pack: the phases of a plan, the cell through each, and where each limit is nearest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from workbook.battery.heat import HeatPath, heat_path
from workbook.battery.simulate import Segment, Simulation, Until, simulate
from workbook.craft.flight_power import FlightPower, best_speeds
from workbook.craft.mission import Phase, Survey, mission_profile, survey
from workbook.errors import InputError, Problem
from workbook.sizing.conditions import in_conditions
from workbook.sizing.design import Allowances, Design, MissionPhase
from workbook.sizing.figures import plain
from workbook.sizing.limit import Limit
from workbook.working import Step

STEP_S = 20.0
"""Longest step in time; the method is of fourth order."""

ENERGY_SOURCE = "arithmetic; power of each phase by momentum theory or drag polar"


class Flier(Protocol):
    """What a mission must know of a craft with its pack."""

    @property
    def power(self) -> FlightPower:
        """What the craft draws in each kind of flight."""

    @property
    def speed_caution(self) -> str:
        """What to keep in mind about its best speeds; empty for nothing."""

    def airspeed_m_s(self, kind: str) -> float:
        """The airspeed of a kind of phase where the plan states none."""

    def full_power_w(self, depth_of_discharge: float) -> float:
        """The most that motors and electronics draw together at a depth of discharge."""


@dataclass(frozen=True)
class PhaseRun:
    """One phase as flown. Figures of the cell are NaN where the pack was empty before it.

    Attributes:
        label, kind: of the phase.
        start_min, end_min: since the mission began.
        airspeed_m_s, distance_m: through the air, and over ground; NaN where neither counts.
        mass_g, power_w: of the craft, and from the pack.
        cell_a: highest cell current; lowest_v: lowest cell voltage under load.
        worst_min: when the current is highest.
        start_depth_of_discharge, end_depth_of_discharge: depth of discharge.
        cell_c: highest temperature inside a cell; NaN where the cell's size is not known.
        allowed_a: cell current allowed for so long.
        flown: whether the pack, down to its cutoff voltage, lasts to its end.
        survey: legs of a field, for a phase of that kind.
        best_endurance_m_s, best_range_m_s: airspeeds of longest time and, with this wind, of
            furthest distance over ground; NaN but for flight over a distance or a time.
    """

    label: str
    kind: str
    start_min: float
    end_min: float
    airspeed_m_s: float
    distance_m: float
    mass_g: float
    power_w: float
    cell_a: float
    lowest_v: float
    worst_min: float
    start_depth_of_discharge: float
    end_depth_of_discharge: float
    cell_c: float
    allowed_a: float
    flown: bool
    survey: Survey | None
    best_endurance_m_s: float
    best_range_m_s: float

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix."""
        told: dict[str, Any] = {"phase": self.label, "kind": self.kind, "flown": self.flown}
        told |= plain(
            {
                "start_min": self.start_min,
                "end_min": self.end_min,
                "airspeed_m_s": self.airspeed_m_s,
                "distance_m": self.distance_m,
                "mass_g": self.mass_g,
                "power_w": self.power_w,
                "cell_current_a": self.cell_a,
                "allowed_cell_current_a": self.allowed_a,
                "lowest_cell_v": self.lowest_v,
                "start_depth_pct": 100.0 * self.start_depth_of_discharge,
                "end_depth_pct": 100.0 * self.end_depth_of_discharge,
                "cell_temperature_c": self.cell_c,
                "best_endurance_m_s": self.best_endurance_m_s,
                "best_range_m_s": self.best_range_m_s,
            }
        )
        if self.survey is not None:
            told |= {"legs": self.survey.legs, "area_m2": self.survey.area_m2}
        return told


@dataclass(frozen=True)
class MissionRun:
    """A mission on the pack of a single design.

    Attributes:
        phases: in order.
        completes: whether it ends with the reserve, above the landing voltage.
        ends_by, ends_in, ends_min: what comes first where it does not: why, in which phase, when.
        total_min, energy_wh, distance_m: of the whole plan; distance of the phases that have one.
        charge_left_pct: at its end; NaN where the pack is empty before.
        limits: each limit where it is nearest.
        cautions: sentences about phases that can hurt.
    """

    phases: tuple[PhaseRun, ...]
    completes: bool
    ends_by: str
    ends_in: str
    ends_min: float
    total_min: float
    energy_wh: float
    distance_m: float
    charge_left_pct: float
    limits: tuple[Limit, ...]
    cautions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix."""
        return {
            "completes": self.completes,
            "ends_by": self.ends_by or None,
            "ends_in": self.ends_in or None,
            **plain(
                {
                    "ends_min": self.ends_min,
                    "total_min": self.total_min,
                    "energy_wh": self.energy_wh,
                    "distance_m": self.distance_m,
                    "charge_left_pct": self.charge_left_pct,
                }
            ),
            "phases": [phase.as_dict() for phase in self.phases],
            "cautions": list(self.cautions),
        }

    def working(self) -> tuple[Step, ...]:
        """How energy and charge left came about."""
        parts = [f"{p.power_w:.0f} W x {p.end_min - p.start_min:.2f} min" for p in self.phases]
        steps = [
            Step(
                "mission_energy_wh", "energy of the mission", "sum of power x time of its phases / 60",
                f"({' + '.join(parts)}) / 60", self.energy_wh, "Wh", ENERGY_SOURCE,
            )
        ]  # fmt: skip
        if np.isfinite(self.charge_left_pct):
            used = [
                f"{100 * (p.end_depth_of_discharge - p.start_depth_of_discharge):.1f} %"
                for p in self.phases
            ]
            steps.append(
                Step(
                    "mission_charge_left_pct", "charge left after the mission", "100 % - charge of its phases",
                    f"100 % - ({' + '.join(used)})", self.charge_left_pct, "%",
                    "cell under constant power in each phase, stepped in time",
                )
            )  # fmt: skip
        return tuple(steps)


@dataclass(frozen=True)
class _Planned:
    """A phase with its airspeed settled."""

    asked: MissionPhase
    phase: Phase
    survey: Survey | None
    distance_m: float


def _planned(asked: MissionPhase, flier: Flier, number: int) -> _Planned:
    """Settle the airspeed of a phase, and turn it into one that has a power."""
    nan = float("nan")
    label, kind = asked.label or asked.kind, asked.kind
    moves = kind in ("climb", "cruise", "loiter", "descent", "legs")
    speed = asked.airspeed_m_s
    if speed is None:
        speed = flier.airspeed_m_s(kind) if moves else 0.0
    base = Phase(
        label,
        airspeed_m_s=speed,
        mass_change_g=-asked.drop_g,
        gust_factor=asked.gust_factor,
    )
    if kind in ("rest", "launch"):
        return _Planned(asked, replace(base, kind=kind, duration_s=asked.duration_s), None, nan)
    if kind == "hover":
        held = replace(base, duration_s=asked.duration_s, airspeed_m_s=asked.headwind_m_s)
        return _Planned(asked, held, None, nan)
    if kind == "loiter":
        return _Planned(asked, replace(base, duration_s=asked.duration_s), None, nan)
    if kind == "cruise":
        flown = replace(base, distance_m=asked.distance_m, headwind_m_s=asked.headwind_m_s)
        return _Planned(asked, flown, None, float(asked.distance_m or nan))
    if kind in ("climb", "descent"):
        sign = 1.0 if kind == "climb" else -1.0
        height, rate = asked.height_m or nan, asked.rate_m_s or nan
        flown = replace(base, height_change_m=sign * height, climb_m_s=sign * rate)
        return _Planned(asked, flown, None, nan)
    if kind == "legs":
        sides = (asked.length_m or nan, asked.width_m or nan, asked.spacing_m or nan)
        try:
            field = survey(*sides, speed, asked.headwind_m_s, asked.turn_s)
        except InputError as fault:
            where = f"phase {number} ({label})"
            raise InputError(Problem(p.what, where) for p in fault.problems) from None
        return _Planned(asked, replace(base, duration_s=field.duration_s), field, field.distance_m)
    raise InputError(
        f'phase {number} ({label}): kind is "{kind}"; rest, launch, hover, climb, cruise, loiter, '
        "descent or legs is needed."
    )


@dataclass(frozen=True)
class _Cell:
    """One cell of the pack through the phases, from full."""

    design: Design[Any]
    allowances: Allowances
    heat: HeatPath | None

    def fly(
        self,
        power_w: float,
        duration_s: float,
        until: Until,
        depth_of_discharge: float,
        cell_c: float,
    ) -> Simulation:
        """One phase; resistance and charge are those at take-off, so warmth is told and does not act."""
        pack, allowances = self.design.pack, self.allowances
        return simulate(
            pack.cell.model,
            [Segment(duration_s, "power", power_w / pack.cells)],
            until,
            heat=self.heat,
            air_c=self.design.flight.air_temperature_c,
            start_c=cell_c,
            start_depth_of_discharge=depth_of_discharge,
            extra_mohm=pack.joint_mohm_per_cell * allowances.joint_factor,
            resistance_factor=allowances.resistance_factor,
            capacity_factor=allowances.capacity_factor,
            cold=False,
            step_s=STEP_S,
            record=False,
        )


def fly_mission(
    design: Design[Any], mass_g: float, flier: Flier, allowances: Allowances
) -> MissionRun:
    """Take the pack of a single design through its mission.

    In launch the cell may go down to its cutoff voltage; in every other phase the landing voltage
    ends the flight. Phases no longer than the cell's burst time may use its burst current, longer
    ones the allowed share of its continuous current.

    Args:
        design: a single design with a mission.
        mass_g: all-up mass at the start.
        flier: the craft's power, airspeeds and full power.
        allowances: on capacity, resistance and joints; those on power are the flier's.

    Raises:
        InputError: a phase that the craft cannot fly, with its number.

    Source: `workbook.craft.mission` for power, `workbook.battery.simulate` for the cell.
    """
    flight, cell = design.flight, design.pack.cell
    planned = [_planned(asked, flier, k) for k, asked in enumerate(design.mission, 1)]
    profile = mission_profile(flier.power, mass_g, [p.phase for p in planned])
    sized = cell.diameter_mm > 0 and cell.height_mm > 0
    path = heat_path(cell, flight.pack_airflow) if sized else None
    battery = _Cell(design, in_conditions(flight, allowances), path)
    reserve_depth = 1.0 - float(flight.reserve_pct) / 100.0
    floor = Until(landing_v=cell.cutoff_v, last_depth_of_discharge=1.0)
    depth, clock_s, cell_c = 0.0, 0.0, float(flight.pack_temperature_c)
    runs: list[PhaseRun] = []
    ends: tuple[str, str, float] | None = None
    for number, plan in enumerate(planned):
        duration = float(profile.duration_s[number])
        power, mass = float(profile.power_w[number]), float(profile.mass_g[number])
        empty = bool(runs) and not runs[-1].flown
        sim = None
        if not empty:
            if ends is None:
                landing = cell.cutoff_v if plan.asked.kind == "launch" else flight.landing_v
                planned_end = Until(landing_v=landing, last_depth_of_discharge=reserve_depth)
                first = battery.fly(power, duration, planned_end, depth, cell_c)
                if first.end:
                    ends = (first.end_text, plan.phase.label, (clock_s + float(first.time_s)) / 60)
            sim = battery.fly(power, duration, floor, depth, cell_c)
        start = _phase_run(plan, mass, power, clock_s, duration, flier, design)
        runs.append(start if sim is None else _with_cell(start, sim, depth, sized))
        if sim is not None:
            depth, cell_c = float(sim.end_depth_of_discharge), float(sim.end_c)
        clock_s += duration
    lasted = runs[-1].flown
    fast = any(np.isfinite(run.best_range_m_s) for run in runs)
    caution = (flier.speed_caution,) if fast and flier.speed_caution else ()
    by, label, minute = ends or ("", "", float("nan"))
    distances = np.array([p.distance_m for p in planned])
    return MissionRun(
        tuple(runs),
        ends is None,
        by,
        label,
        minute,
        clock_s / 60,
        float(profile.energy_wh),
        float(np.nansum(distances)) if np.isfinite(distances).any() else float("nan"),
        100.0 * (1.0 - depth) if lasted else float("nan"),
        _limits(design, runs, flier, ends, sized),
        profile.cautions + caution,
    )


def _phase_run(
    plan: _Planned,
    mass_g: float,
    power_w: float,
    clock_s: float,
    duration_s: float,
    flier: Flier,
    design: Design[Any],
) -> PhaseRun:
    """A phase before it is known what it does to the cell."""
    nan = float("nan")
    cell, kind = design.pack.cell, plan.asked.kind
    share = float(design.flight.continuous_share_pct) / 100
    best = None
    if kind in ("cruise", "loiter", "legs"):
        ahead = plan.asked.headwind_m_s if kind == "cruise" else 0.0
        best = best_speeds(flier.power, mass_g, ahead)
    return PhaseRun(
        label=plan.phase.label,
        kind=kind,
        start_min=clock_s / 60,
        end_min=(clock_s + duration_s) / 60,
        airspeed_m_s=float(plan.phase.airspeed_m_s) if plan.phase.kind == "flight" else nan,
        distance_m=plan.distance_m,
        mass_g=mass_g,
        power_w=power_w,
        cell_a=nan,
        lowest_v=nan,
        worst_min=nan,
        start_depth_of_discharge=nan,
        end_depth_of_discharge=nan,
        cell_c=nan,
        allowed_a=cell.burst_a if duration_s <= cell.burst_s else cell.continuous_a * share,
        flown=False,
        survey=plan.survey,
        best_endurance_m_s=best.endurance_m_s if best else nan,
        best_range_m_s=best.range_m_s if best else nan,
    )


def _with_cell(run: PhaseRun, sim: Simulation, depth: float, sized: bool) -> PhaseRun:
    """The phase with what the cell did in it."""
    highest_at_end = bool(sim.end_a >= 0.999 * sim.highest_a)
    return replace(
        run,
        cell_a=float(sim.highest_a),
        lowest_v=float(sim.lowest_v),
        worst_min=run.start_min + float(sim.time_s) / 60 * highest_at_end,
        start_depth_of_discharge=depth,
        end_depth_of_discharge=float(sim.end_depth_of_discharge),
        cell_c=float(sim.highest_c) if sized else float("nan"),
        flown=not sim.end,
    )


def _limits(
    design: Design[Any],
    runs: Sequence[PhaseRun],
    flier: Flier,
    ends: tuple[str, str, float] | None,
    sized: bool,
) -> tuple[Limit, ...]:
    """Each limit in the phase where the least is left of it."""
    cell, flight = design.pack.cell, design.flight
    last = runs[-1]
    why = "" if ends is None else f": {ends[0]} in {ends[1]}, minute {ends[2]:.1f}"
    found = [
        Limit(
            "mission_charge",
            "charge used by the mission",
            100.0 * last.end_depth_of_discharge if last.flown else float("nan"),
            100.0 - float(flight.reserve_pct),
            "%",
            f"The pack does not carry the mission down to its reserve{why}.",
            f"{last.label}, minute {last.end_min:.1f}",
        )
    ]

    def nearest(
        key: str,
        name: str,
        unit: str,
        broken_text: str,
        of: Sequence[PhaseRun],
        demand: Callable[[PhaseRun], float],
        limit: Callable[[PhaseRun], float],
        when: Callable[[PhaseRun], float],
    ) -> None:
        known = [run for run in of if np.isfinite(demand(run)) and np.isfinite(limit(run))]
        if known:
            run = max(known, key=lambda r: demand(r) / limit(r))
            place = f"{run.label}, minute {when(run):.1f}"
            found.append(
                Limit(key, name, demand(run), limit(run), unit, f"{broken_text} ({place}).", place)
            )

    brief = [r for r in runs if (r.end_min - r.start_min) * 60 <= cell.burst_s]
    lasting = [r for r in runs if r not in brief]
    over = "In the mission each cell would carry more than its"
    nearest(
        "mission_continuous_current", "cell current in the mission, continuous", "A",
        f"{over} continuous current; it overheats", lasting,
        lambda r: r.cell_a, lambda r: r.allowed_a, lambda r: r.worst_min,
    )  # fmt: skip
    nearest(
        "mission_burst_current", f"cell current in the mission, up to {cell.burst_s:g} s", "A",
        f"{over} burst current", brief,
        lambda r: r.cell_a, lambda r: r.allowed_a, lambda r: r.worst_min,
    )  # fmt: skip
    nearest(
        "mission_voltage", "cell voltage under load in the mission", "V",
        "In the mission the cell sags below the landing voltage",
        [r for r in runs if r.kind != "launch"],
        lambda r: float(flight.landing_v), lambda r: r.lowest_v, lambda r: r.worst_min,
    )  # fmt: skip
    nearest(
        "mission_launch_voltage", "cell voltage under load at launch", "V",
        "Launch pulls the cell below its cutoff voltage",
        [r for r in runs if r.kind == "launch"],
        lambda r: cell.cutoff_v, lambda r: r.lowest_v, lambda r: r.worst_min,
    )  # fmt: skip
    nearest(
        "mission_power", "power of a phase within full power", "W",
        "The motors cannot give the power that the mission asks for",
        [r for r in runs if r.kind not in ("rest", "launch")],
        lambda r: r.power_w, lambda r: flier.full_power_w(r.end_depth_of_discharge), lambda r: r.end_min,
    )  # fmt: skip
    if sized:
        nearest(
            "mission_temperature", "temperature inside a cell in the mission", "C",
            "In the mission the cells grow hotter than their maker allows",
            runs, lambda r: r.cell_c, lambda r: cell.max_temperature_c, lambda r: r.end_min,
        )  # fmt: skip
    return tuple(found)
