"""A mission on a pack: the phases of a plan, and the cell through each."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Any, Generic, TypeVar

import numpy as np

from workbook.battery.heat import heat_path
from workbook.battery.power_phases import PowerPhase, power_phases
from workbook.craft.flight_power import BestSpeeds, FlightPower, best_speeds
from workbook.craft.mission import Phase, Profile, Survey, mission_profile, survey
from workbook.errors import InputError, naming
from workbook.numbers import FloatArray, Number
from workbook.sizing.bursts import NO_BURST, Burst, count_bursts
from workbook.sizing.conditions import OUTER_AIR, has_size
from workbook.sizing.design import Design, MissionPhase
from workbook.sizing.figures import plain
from workbook.sizing.operating_point import CraftLoad, OperatingPoint
from workbook.working import Step, step

FORWARD_KINDS = ("climb", "cruise", "loiter", "descent", "legs")
GROUND_KINDS = ("cruise", "loiter", "legs")
KINDS = ("rest", "launch", "hover", "climb", "cruise", "loiter", "descent", "legs")
"""Kinds of phase: those in which the craft moves need an airspeed, those over ground have a best one."""


PointT = TypeVar("PointT", bound=OperatingPoint[Any, Any], covariant=True)


@dataclass(frozen=True)
class MissionModel(ABC, Generic[PointT]):
    """A craft on its own pack as a mission flies it: its power, airspeeds and full power.

    Attributes:
        point: operating point of a single design, allowances put in.
    """

    point: PointT

    @property
    @abstractmethod
    def power(self) -> FlightPower:
        """What the craft draws in each kind of flight."""

    @property
    def speed_caution(self) -> str:
        """What to keep in mind about its best speeds; empty for nothing."""
        return ""

    @abstractmethod
    def airspeed_m_s(self, kind: str) -> float:
        """The airspeed of a kind of phase where the plan states none."""

    def full_power_w(self, depth_of_discharge: Number) -> FloatArray:
        """The most that motors and electronics draw together: at full throttle or at the throttle cap.

        At rest; straight between the states of the pack.
        """
        top, cells = self.states.full_throttle, self.point.load.pack.cells
        return self.between(depth_of_discharge, top.cell_a * top.cell_v * cells)[0]

    @cached_property
    def states(self) -> Any:
        """The three states of the pack as one, of shape (3, 1)."""
        return self.point.together

    def between(self, depth_of_discharge: Number, *figures: FloatArray) -> list[FloatArray]:
        """Figures of the three states at depths of discharge, straight between them.

        Args:
            depth_of_discharge: of the pack.
            figures: each with one row a state, one for each depth or one for all.
        """
        depths = self.states.depth_of_discharge[:, 0]
        shares = np.array(
            [np.interp(depth_of_discharge, depths, state) for state in np.eye(len(depths))]
        ).reshape(len(depths), -1)
        # a state without a share has no say, also where its figure is not known
        found = (np.where(shares > 0, shares * figure, 0.0).sum(axis=0) for figure in figures)
        return [one.reshape(np.shape(depth_of_discharge)) for one in found]

    @abstractmethod
    def needs(
        self, mass_g: FloatArray, airspeed_m_s: FloatArray, climb_m_s: FloatArray
    ) -> dict[str, FloatArray]:
        """What phases of flight ask of wing and propellers, as `PhaseNeeds` names it.

        Args:
            mass_g: of the craft in it.
            airspeed_m_s: through the air.
            climb_m_s: rate of climb, below 0 for a descent.
        """

    @abstractmethod
    def at_most(
        self,
        depth_of_discharge: FloatArray,
        airspeed_m_s: FloatArray,
        climb_m_s: FloatArray,
        stream_m_s: FloatArray,
    ) -> AtMost:
        """The most that the craft can do in flight; straight between the states of the pack.

        Args:
            depth_of_discharge: of the pack.
            airspeed_m_s, climb_m_s: flown.
            stream_m_s: speed of the air through the propellers, along their axis.
        """


@dataclass(frozen=True, eq=False)
class AtMost:
    """The most that a craft can do in phases of flight; NaN where that is not known, or there is no such figure.

    Attributes:
        full_power_w: of motors and electronics, where the stream unloads the propellers.
        pull_gf: of all propellers.
        climb_m_s: straight up.
    """

    full_power_w: FloatArray
    pull_gf: FloatArray
    climb_m_s: FloatArray


@dataclass(frozen=True)
class PhaseNeeds:
    """What a phase of flight asks of wing and propellers; NaN where its craft has no such need.

    Attributes:
        stall_m_s: stall speed at its mass.
        turn_w: power of a level turn at its airspeed.
        thrust_gf: pull of all propellers: drag and climb, of a craft on rotors weight and drag.
        stream_m_s: speed of the air through the propellers, along their axis.
        climb_m_s: rate of climb of a craft that climbs on its rotors.
        sink_m_s: rate of sink of such a craft, above 0.
        wake_m_s: rate of sink at which it meets its own wake; infinite with forward speed enough.
        dive_m_s: rate of sink of a wing, above 0.
    """

    stall_m_s: float = np.nan
    turn_w: float = np.nan
    thrust_gf: float = np.nan
    stream_m_s: float = np.nan
    climb_m_s: float = np.nan
    sink_m_s: float = np.nan
    wake_m_s: float = np.nan
    dive_m_s: float = np.nan


@dataclass(frozen=True)
class PhaseRun:
    """One phase as flown. Figures of the cell are NaN where the pack was empty before it.

    Attributes:
        label, kind: of the phase.
        start_min, end_min: since the mission began.
        mass_g, power_w: of the craft, and from the pack.
        allowed_a: cell current allowed for so long.
        airspeed_m_s, distance_m: through the air, and over ground; NaN where neither counts.
        survey: legs of a field, for a phase of that kind.
        flown: whether the pack, down to its cutoff voltage, lasts to its end.
        cell_a: highest cell current; lowest_v: lowest cell voltage under load.
        worst_min: when the current is highest.
        start_depth_of_discharge, end_depth_of_discharge: of the pack.
        cell_c: highest temperature inside the hottest cell; NaN where the cell's size is not known.
        coldest_cell_c: lowest temperature inside an outermost cell; NaN likewise.
        joint_heat_w: what strips, joints and leads of the pack turn into heat where the current is highest.
        full_power_w: the most that the craft could draw at its end.
        needs: what it asks of wing and propellers.
        pull_gf: the most pull of all propellers at its airspeed, at its end.
        fastest_climb_m_s: straight up, at its end; NaN but for a craft that climbs on its rotors.
        burst: how far the cell's burst is used up at its end.
        find_best: finds its best airspeeds when they are first asked for; None where there are none.
        airspeed_stated: whether the plan states its airspeed; one that it does not keeps the stall margin.
    """

    label: str
    kind: str
    start_min: float
    end_min: float
    mass_g: float
    power_w: float
    allowed_a: float
    airspeed_m_s: float = np.nan
    distance_m: float = np.nan
    survey: Survey | None = None
    flown: bool = False
    cell_a: float = np.nan
    lowest_v: float = np.nan
    worst_min: float = np.nan
    start_depth_of_discharge: float = np.nan
    end_depth_of_discharge: float = np.nan
    cell_c: float = np.nan
    coldest_cell_c: float = np.nan
    joint_heat_w: float = np.nan
    full_power_w: float = np.nan
    needs: PhaseNeeds = PhaseNeeds()
    pull_gf: float = np.nan
    fastest_climb_m_s: float = np.nan
    burst: Burst = NO_BURST
    airspeed_stated: bool = False
    find_best: Callable[[], BestSpeeds] | None = field(default=None, repr=False, compare=False)

    @cached_property
    def _best(self) -> BestSpeeds | None:
        return None if self.find_best is None else self.find_best()

    @property
    def best_endurance_m_s(self) -> float:
        """Airspeed of longest time; NaN but for flight over a distance or a time."""
        return self._best.endurance_m_s if self._best else np.nan

    @property
    def best_range_m_s(self) -> float:
        """Airspeed of furthest distance over ground with its wind; NaN likewise."""
        return self._best.range_m_s if self._best else np.nan

    @property
    def duration_s(self) -> float:
        """How long it takes."""
        return (self.end_min - self.start_min) * 60

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix."""
        figures = {
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
            "coldest_cell_temperature_c": self.coldest_cell_c,
            "joint_heat_w": self.joint_heat_w,
            "best_endurance_m_s": self.best_endurance_m_s,
            "best_range_m_s": self.best_range_m_s,
        }
        field = self.survey
        legs = {} if field is None else {"legs": field.legs, "area_m2": field.area_m2}
        name = {"phase": self.label, "kind": self.kind, "flown": self.flown}
        return {**name, **plain(figures), **legs}


@dataclass(frozen=True)
class MissionRun:
    """A mission on the pack of a single design.

    Attributes:
        phases: in order.
        completes: whether it ends with the reserve, above the landing voltage.
        ends_by, ends_in, ends_min: what comes first where it does not: why, in which phase, when.
        total_min, energy_wh, distance_m: of the whole plan; distance of the phases that have one.
        charge_left_pct: at its end; NaN where the pack is empty before.
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
    cautions: tuple[str, ...]

    @property
    def hottest_cell_c(self) -> float:
        """Highest temperature inside a cell over the phases that the pack lasts for; NaN where none is known."""
        return float(np.fmax.reduce([phase.cell_c for phase in self.phases]))

    @property
    def coldest_cell_c(self) -> float:
        """Lowest temperature inside an outermost cell over those phases; NaN where none is known."""
        return float(np.fmin.reduce([phase.coldest_cell_c for phase in self.phases]))

    @property
    def way_home_share(self) -> float:
        """Of the pack's charge, what the way home takes: the last cruise, in its wind, and all after it.

        NaN where the mission has no cruise, or the pack does not last for it.
        """
        ways = [k for k, phase in enumerate(self.phases) if phase.kind == "cruise"]
        if not ways:
            return np.nan
        return (
            self.phases[-1].end_depth_of_discharge - self.phases[ways[-1]].start_depth_of_discharge
        )

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
                    "hottest_cell_temperature_c": self.hottest_cell_c,
                    "coldest_cell_temperature_c": self.coldest_cell_c,
                }
            ),
            "phases": [phase.as_dict() for phase in self.phases],
            "cautions": list(self.cautions),
        }

    def working(self) -> tuple[Step, ...]:
        """How energy and charge left came about."""
        parts = [f"{p.power_w:.0f} W x {p.end_min - p.start_min:.2f} min" for p in self.phases]
        energy = step("mission_energy_wh", self.energy_wh, phases=" + ".join(parts))
        if not np.isfinite(self.charge_left_pct):
            return (energy,)
        used = [
            f"{100 * (p.end_depth_of_discharge - p.start_depth_of_discharge):.1f} %"
            for p in self.phases
        ]
        charge = step("mission_charge_left_pct", self.charge_left_pct, phases=" + ".join(used))
        return energy, charge


@dataclass(frozen=True)
class _Planned:
    """A phase with its airspeed settled."""

    stated: MissionPhase
    phase: Phase
    survey: Survey | None = None
    distance_m: float = np.nan


def _planned(stated: MissionPhase, model: MissionModel[Any], number: int) -> _Planned:
    """Settle the airspeed of a phase, and turn it into one that has a power."""
    label, kind = stated.label or stated.kind, stated.kind
    if kind not in KINDS:
        raise InputError(
            f'phase {number} ({label}): kind is "{kind}"; {", ".join(KINDS[:-1])} or {KINDS[-1]} is needed.'
        )
    speed = stated.airspeed_m_s
    if speed is None:
        speed = model.airspeed_m_s(kind) if kind in FORWARD_KINDS else 0.0
    phase = Phase(
        label, airspeed_m_s=speed, mass_change_g=-stated.drop_g, gust_factor=stated.gust_factor
    )
    if kind == "legs":
        sides = (stated.length_m or np.nan, stated.width_m or np.nan, stated.spacing_m or np.nan)
        with naming(f"phase {number} ({label})"):
            field = survey(*sides, speed, stated.headwind_m_s, stated.turn_s)
        return _Planned(
            stated, replace(phase, duration_s=field.duration_s), field, field.distance_m
        )
    if kind == "cruise":
        over_ground = replace(phase, distance_m=stated.distance_m, headwind_m_s=stated.headwind_m_s)
        return _Planned(stated, over_ground, None, stated.distance_m or np.nan)
    if kind in ("climb", "descent"):
        sign = 1.0 if kind == "climb" else -1.0
        height, rate = stated.height_m or np.nan, stated.rate_m_s or np.nan
        return _Planned(
            stated, replace(phase, height_change_m=sign * height, climb_m_s=sign * rate)
        )
    timed = replace(phase, duration_s=stated.duration_s)
    if kind == "hover":  # the wind that it holds against
        timed = replace(timed, airspeed_m_s=stated.headwind_m_s)
    elif kind in ("rest", "launch"):
        timed = replace(timed, kind=kind)
    return _Planned(stated, timed)


@dataclass(frozen=True)
class MissionPlan:
    """The phases of a mission with airspeed, time and power settled, before the pack flies them."""

    model: MissionModel[Any]
    planned: list[_Planned]
    profile: Profile


def plan_mission(model: MissionModel[Any]) -> MissionPlan:
    """Settle what the phases of a mission ask of the pack.

    Args:
        model: the craft on its pack; its design states a mission.

    Raises:
        InputError: a phase that the craft cannot fly, with its number.

    Source: `workbook.craft.mission`.
    """
    load = model.point.load
    planned = [_planned(stated, model, k) for k, stated in enumerate(load.design.mission, 1)]
    phases = [p.phase for p in planned]
    return MissionPlan(
        model, planned, mission_profile(model.power, float(load.all_up_mass_g), phases)
    )


def fly_mission(plan: MissionPlan) -> MissionRun:
    """Take the pack of a single design through its mission.

    In launch the cell may go down to its cutoff voltage; in every other phase the landing voltage
    ends the flight. Phases no longer than the cell's burst time may use its burst current, longer
    ones the allowed share of its continuous current; phases in a row above that count as one.

    Args:
        plan: what its phases ask of the pack.

    Source: `workbook.battery.power_phases` and `workbook.battery.heat` for the cell.
    """
    model, planned, profile = plan.model, plan.planned, plan.profile
    load = model.point.load
    design = load.design
    runs = _phase_runs(model, planned, profile)
    cells = _cell_phases(load, planned, profile)
    runs[: len(cells)] = _with_cell(runs, cells, load)
    runs = _with_bursts(_with_full_power(runs, planned, model), design)
    end = next((k for k, cell in enumerate(cells) if cell.ends_by), None)
    distances = np.array([p.distance_m for p in planned])
    fast = any(run.kind in GROUND_KINDS for run in runs)
    caution = (model.speed_caution,) if fast and model.speed_caution else ()
    last = runs[-1]
    return MissionRun(
        phases=tuple(runs),
        completes=end is None,
        ends_by="" if end is None else cells[end].ends_by,
        ends_in="" if end is None else runs[end].label,
        ends_min=np.nan if end is None else runs[end].start_min + cells[end].ends_s / 60,
        total_min=last.end_min,
        energy_wh=float(profile.energy_wh),
        distance_m=float(np.nansum(distances)) if np.isfinite(distances).any() else np.nan,
        charge_left_pct=100.0 * (1.0 - last.end_depth_of_discharge) if last.flown else np.nan,
        cautions=profile.cautions + caution,
    )


def _cell_phases(
    load: CraftLoad[Any], planned: list[_Planned], profile: Profile
) -> tuple[PowerPhase, ...]:
    """One cell of the pack through the mission; resistance and charge are those at take-off, so that warmth is reported
    and does not act. The cold takes charge by the mean power, weighted by energy."""
    cell, flight, joules = load.pack.cell, load.flight, profile.power_w * profile.duration_s
    mean_w = float((profile.power_w * joules).sum() / joules.sum()) if joules.any() else 0.0
    launches = [plan.stated.kind == "launch" for plan in planned]
    return power_phases(
        cell.model,
        profile.power_w / float(load.pack.cells),
        profile.duration_s,
        cutoff_v=cell.cutoff_v,
        landing_v=np.where(launches, cell.cutoff_v, flight.landing_v),
        last_depth_of_discharge=1.0 - float(flight.reserve_pct) / 100.0,
        extra_mohm=float(load.joint_mohm),
        resistance_factor=float(load.allowances.resistance_factor),
        capacity_factor=float(load.capacity_factor(mean_w)),
    )


def _phase_runs(
    model: MissionModel[Any], planned: list[_Planned], profile: Profile
) -> list[PhaseRun]:
    """The phases before it is known what they do to the cell."""
    cell, flight = model.point.load.pack.cell, model.point.load.flight
    continuous_a = cell.continuous_a * float(flight.continuous_share_pct) / 100
    figures = np.stack([profile.mass_g, profile.power_w, profile.duration_s], axis=1).tolist()
    all_needs = _needs(model, planned, profile)
    runs, clock_s = [], 0.0
    for plan, needs, (mass_g, power_w, duration_s) in zip(planned, all_needs, figures, strict=True):
        kind, find_best = plan.stated.kind, None
        if kind in GROUND_KINDS:
            wind_m_s = plan.stated.headwind_m_s if kind == "cruise" else 0.0
            find_best = partial(best_speeds, model.power, mass_g, wind_m_s)
        run = PhaseRun(
            label=plan.phase.label,
            kind=kind,
            start_min=clock_s / 60,
            end_min=(clock_s + duration_s) / 60,
            mass_g=mass_g,
            power_w=power_w,
            allowed_a=cell.burst_a if duration_s <= cell.burst_s else continuous_a,
            airspeed_m_s=float(plan.phase.airspeed_m_s) if plan.phase.kind == "flight" else np.nan,
            distance_m=plan.distance_m,
            survey=plan.survey,
            needs=needs,
            airspeed_stated=plan.stated.airspeed_m_s is not None,
            find_best=find_best,
        )
        runs.append(run)
        clock_s += duration_s
    return runs


def _needs(model: MissionModel[Any], planned: list[_Planned], profile: Profile) -> list[PhaseNeeds]:
    """What each phase asks of wing and propellers, all flights asked at once."""
    needs = [PhaseNeeds() for _ in planned]
    flying = [k for k, plan in enumerate(planned) if plan.phase.kind == "flight"]
    if not flying:
        return needs
    phases = [planned[k].phase for k in flying]
    airspeed_m_s, climb_m_s = (
        np.array([getattr(phase, key) for phase in phases], dtype=float)
        for key in ("airspeed_m_s", "climb_m_s")
    )
    by_name = model.needs(profile.mass_g[flying], airspeed_m_s, climb_m_s)
    columns = {name: np.broadcast_to(x, len(flying)).tolist() for name, x in by_name.items()}
    for number, k in enumerate(flying):
        needs[k] = PhaseNeeds(**{name: column[number] for name, column in columns.items()})
    return needs


def _with_bursts(runs: list[PhaseRun], design: Design[Any]) -> list[PhaseRun]:
    """The phases with their bursts counted together, and the current that each is allowed by that."""
    cell, flight = design.pack.cell, design.flight
    continuous_a = float(cell.continuous_a * flight.continuous_share_pct) / 100
    drawn = [(run.duration_s, run.cell_a if np.isfinite(run.cell_a) else 0.0) for run in runs]
    bursts = count_bursts(cell, continuous_a, drawn)

    def allowed(run: PhaseRun, burst: Burst) -> float:
        return run.allowed_a if burst.over_s <= cell.burst_s + 1e-9 else continuous_a

    return [
        replace(run, burst=burst, allowed_a=allowed(run, burst))
        for run, burst in zip(runs, bursts, strict=True)
    ]


def _with_cell(
    runs: list[PhaseRun], cells: tuple[PowerPhase, ...], load: CraftLoad[Any]
) -> list[PhaseRun]:
    """The phases that the cell sees, with what it did in them."""
    joints_ohm = float(load.joint_mohm * load.pack.cells) / 1000.0
    with_cells = []
    for run, cell, (hottest_c, coldest_c) in zip(runs, cells, _warmth(load, cells), strict=False):
        most = int(np.argmax(cell.current_a))
        cell_a = float(cell.current_a[most])
        with_cells.append(
            replace(
                run,
                flown=cell.flown,
                cell_a=cell_a,
                lowest_v=float(cell.voltage_v.min()),
                worst_min=run.start_min + float(cell.time_s[most]) / 60,
                start_depth_of_discharge=float(cell.depth_of_discharge[0]),
                end_depth_of_discharge=float(cell.depth_of_discharge[-1]),
                joint_heat_w=cell_a**2 * joints_ohm,
                cell_c=hottest_c,
                coldest_cell_c=coldest_c,
            )
        )
    return with_cells


def _warmth(load: CraftLoad[Any], cells: tuple[PowerPhase, ...]) -> list[tuple[float, float]]:
    """The highest temperature inside the hottest cell in each phase, and the lowest inside an outermost one.

    Both carry the same and differ in how they shed their heat; NaN where the cell's size is not known.
    """
    flight = load.flight
    if not has_size(load.design):
        return [(np.nan, np.nan)] * len(cells)
    airs = (flight.pack_airflow, OUTER_AIR[flight.pack_airflow])
    inner, outer = (heat_path(load.pack.cell, air) for air in airs)
    air_c = float(flight.air_temperature_c)
    above_k = float(flight.pack_temperature_c) - air_c
    begins_s = np.cumsum([0.0, *(cell.time_s[-1] for cell in cells[:-1])])
    time_s = np.concatenate([s + cell.time_s for s, cell in zip(begins_s, cells, strict=True)])
    heat_w = np.concatenate([cell.heat_w for cell in cells])
    heat_j = np.concatenate([[0.0, *cell.heat_j] for cell in cells])[
        1:
    ]  # nothing from phase to phase
    inner_k, outer_k = (
        path.above_air_k(time_s, heat_w, heat_j, above_k) for path in (inner, outer)
    )
    first = np.cumsum([0, *(cell.time_s.size for cell in cells[:-1])])
    hottest_k, coldest_k = np.maximum.reduceat(inner_k, first), np.minimum.reduceat(outer_k, first)
    return list(zip((air_c + hottest_k).tolist(), (air_c + coldest_k).tolist(), strict=True))


def _with_full_power(
    runs: list[PhaseRun], planned: list[_Planned], model: MissionModel[Any]
) -> list[PhaseRun]:
    """The phases with what the craft could draw and pull at the end of each, all asked at once."""
    begun = [run for run in runs if np.isfinite(run.end_depth_of_discharge)]
    phases = [plan.phase for plan in planned[: len(begun)]]
    depth, air, up, stream = np.array(
        [
            (run.end_depth_of_discharge, phase.airspeed_m_s, phase.climb_m_s, run.needs.stream_m_s)
            for run, phase in zip(begun, phases, strict=True)
        ],
        dtype=float,
    ).T
    most = model.at_most(depth, air, up, stream)
    flies = [phase.kind == "flight" for phase in phases]
    full_w = np.where(flies, most.full_power_w, model.full_power_w(depth))
    figures = zip(full_w.tolist(), most.pull_gf.tolist(), most.climb_m_s.tolist(), strict=True)
    with_most = [
        replace(run, full_power_w=full, pull_gf=pull, fastest_climb_m_s=climb)
        for run, (full, pull, climb) in zip(begun, figures, strict=True)
    ]
    return [*with_most, *runs[len(begun) :]]
