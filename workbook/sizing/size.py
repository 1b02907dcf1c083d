"""Size one design: figures, limits, reasons to stop, notes, working, and the reference pack beside it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Generic, Literal, TypeAlias, overload

import numpy as np
from typing_extensions import TypeVar

from workbook.battery.spread import pack_spread
from workbook.battery.thresholds import RETURN_SHARE, Thresholds, thresholds
from workbook.bench.bench_settings import centre_of_gravity_shift_mm
from workbook.bench.transport import APPROVAL, CABIN, passenger_class
from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.errors import Problem
from workbook.sizing.assumed import unsure_text
from workbook.sizing.conditions import cold_caution, flown_state
from workbook.sizing.craft_type import CraftType
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design, Flight, ReferencePack
from workbook.sizing.doubts import Doubt, doubts
from workbook.sizing.figures import Figures, plain, plain_one
from workbook.sizing.flight_times import FlightTimes, flight_times
from workbook.sizing.limits import (
    Limit,
    Subject,
    half_mission_limits,
    limits_of,
    mission_limits,
    rule_limits,
    stops_of,
    unchecked_texts,
)
from workbook.sizing.notes import Note, notes_on
from workbook.sizing.operating_point import NO_ALLOWANCES, OperatingPoint
from workbook.sizing.origins import assumed_text
from workbook.sizing.pair import Pair, pair_dict, pair_texts
from workbook.units import cached_by_units, with_unit
from workbook.working import Step

if TYPE_CHECKING:
    from workbook.sizing.hover_point import HoverPoint
    from workbook.sizing.mission import MissionRun
    from workbook.sizing.wing_point import WingPoint

PointT = TypeVar("PointT", bound=OperatingPoint[Any, Any], default=Any, covariant=True)

Answer: TypeAlias = Literal[
    "unsafe", "not yet", "not checked", "doubtful", "holds as far as checked", "close", "holds"
]
"""The verdict on a whole design, the worst first; only the last three hold."""

HOLDING: tuple[Answer, ...] = ("holds as far as checked", "close", "holds")

TRAVEL_TEXTS = {
    CABIN: "goes into the cabin",
    APPROVAL: "needs the airline's approval",
}
"""What carrying a pack takes, by its class; any other class is not carried."""


@dataclass(frozen=True, eq=False)
class SizingResult(Generic[PointT]):
    """What the computation finds for one design.

    Attributes:
        design, point: what was asked and the operating point, a `HoverPoint` of a multirotor or a
            `WingPoint` of a fixed wing.
        limits: each limit with demand, limit, margin and verdict.
        stops: reasons, in words, not to build or fly it as it stands; empty for a sound design.
        doubts: about what the design states, answered or open.
        remarks: notes that are not its own, as on the files that were read; they come first.
        flights: how long the flights last beside the plan; None where it does not fly.
        mission: the pack through the mission, where the design states one that can be computed; its
            limits are among `limits`.
        pair: the two packs in the flight, where the cells are divided into two.
        allowances: as put into the point.
    """

    design: Design[Any]
    point: PointT
    limits: tuple[Limit, ...]
    stops: tuple[str, ...]
    remarks: tuple[Note, ...] = ()
    flights: FlightTimes | None = None
    mission: MissionRun | None = None
    doubts: tuple[Doubt, ...] = ()
    pair: Pair | None = None
    allowances: Allowances = NO_ALLOWANCES

    @property
    def craft_type(self) -> CraftType[Any, Any]:
        """The type of its craft."""
        return craft_type_of(self.design)

    @cached_property
    def today(self) -> SizingResult[PointT] | None:
        """The same flight on the reference pack, without a mission, worked out when it is first asked for; None where
        the design states none."""
        design, reference = self.design, self.design.today
        if reference is None:
            return None
        return _size_reference(reference, design.craft, design.flight, self.allowances)

    @cached_property
    def working(self) -> tuple[Step, ...]:
        """How each figure came about, worked out when it is first asked for."""
        own = self.craft_type.working(self.design, self.point)
        return own + (self.mission.working() if self.mission else ())

    @cached_property
    def spread_note(self) -> str:
        """What the spread of new cells does to this pack, in words; drawn when it is first asked for.

        Empty for a pack that is not made of cells at the bench, or without a flight.
        """
        pack, mean_a = self.design.pack, float(self.point.mean_current_a)
        if not mean_a > 0 or pack.cells < 2:
            return ""
        spread = pack_spread(
            pack, mean_a, landing_v=float(self.design.flight.landing_v), draws=SPREAD_DRAWS
        )
        note = (
            "New cells differ (1 % of capacity, 5 % of resistance, one standard deviation): the weakest group "
            f"ends the flight, with {100 - spread.poor_lost_pct:.1f} % of the planned charge or more in "
            "19 packs of 20"
        )
        if pack.parallel < 2:
            return f"{note}."
        return (
            f"{note}, and the cell that leads its group carries up to {spread.poor_share:.2f} times its share "
            "of the current. Matched cells come nearer to the plan."
        )

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """What else the builder should know, each with its topic."""
        design, point, pair, mission = self.design, self.point, self.pair, self.mission
        pair_sentences = pair_texts(pair, self.way_home_share, self.allowances) if pair else ()
        return (
            *self.remarks,
            *notes_on("craft", self.craft_type.notes(design, point)),
            *notes_on("assumed", filter(None, [assumed_text(design)])),
            *_pack_notes(design, point),
            *notes_on("two packs", pair_sentences),
            *notes_on("mission", mission.cautions if mission else ()),
        )

    @property
    def all_notes(self) -> tuple[Note, ...]:
        """The notes, and the one on cells that differ, which takes a moment to draw."""
        return (*self.notes, *notes_on("spread of cells", filter(None, [self.spread_note])))

    @cached_property
    def broken(self) -> tuple[Limit, ...]:
        """The limits that do not hold."""
        return tuple(limit for limit in self.limits if limit.broken)

    @property
    def not_checked(self) -> tuple[Limit, ...]:
        """The limits that could not be checked."""
        return tuple(limit for limit in self.limits if limit.unchecked)

    @property
    def open_doubts(self) -> tuple[Doubt, ...]:
        """The doubts that nobody has answered."""
        return tuple(doubt for doubt in self.doubts if not doubt.answered)

    @cached_property
    def unsure(self) -> str:
        """What must be measured before it can be said to hold, in a sentence; empty where nothing must, or
        where it does not hold as planned."""
        return unsure_text(self.design) if self.kept else ""

    @cached_property
    def verdict(self) -> Answer:
        """The verdict on the whole design."""
        if self.stops:
            return "unsafe"
        if self.broken or self.unsure:
            return "not yet"
        if any(limit.concern != "part" for limit in self.not_checked):
            return "not checked"
        if self.open_doubts:
            return "doubtful"
        if self.not_checked:
            return "holds as far as checked"
        return "close" if any(limit.verdict == "close" for limit in self.limits) else "holds"

    @property
    def holds(self) -> bool:
        """Whether nothing speaks against it: no reason to stop, no limit broken, as planned or with what is
        assumed at its far end, none of pack or flight that could not be checked, no open doubt."""
        return self.verdict in HOLDING

    @property
    def kept(self) -> bool:
        """Whether every limit that could be checked is kept: of a pack of which only the label is known."""
        return not self.stops and not self.broken

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it does not hold, a sentence each; empty where it does."""
        unchecked = unchecked_texts(x for x in self.not_checked if x.concern != "part")
        broken = (limit.broken_text for limit in self.broken)
        unsure = filter(None, [self.unsure])
        return (
            *self.stops,
            *broken,
            *unsure,
            *unchecked,
            *(doubt.line for doubt in self.open_doubts),
        )

    @property
    def flights_text(self) -> str:
        """How long its flights last, beside the plan, in a sentence; empty where it does not fly."""
        if self.flights is None:
            return ""
        flight = self.design.flight
        return self.flights.text(flight.wanted_min, flight.wanted_km)

    def figures(self) -> dict[str, float | str | None]:
        """The figures by name, the unit as suffix; None where there is no such figure."""
        return dict(self._figures)

    def figure(self, key: str) -> float | str | None:
        """One of the figures, the others not worked out."""
        return plain_one(self._given[key])

    @cached_property
    def _figures(self) -> dict[str, float | str | None]:
        return plain(self._given)

    @cached_property
    def _given(self) -> Figures:
        return self.craft_type.figures(self.design, self.point)

    def state_figures(self) -> dict[str, dict[str, float | str | None]]:
        """The figures of each state of the pack, by its name: full, half, end."""
        states = zip(("full", "half", "end"), self.point.states, strict=True)
        return {
            name: plain(self.craft_type.state_figures(self.design, self.point, state))
            for name, state in states
        }

    @property
    def way_home_share(self) -> float:
        """Of the capacity, what the mission's way home takes; what is usual where none is stated."""
        share = self.mission.way_home_share if self.mission else np.nan
        return float(np.fmax(share, RETURN_SHARE))

    def thresholds(self) -> Thresholds | None:
        """Voltages to warn, return, land and stop at, from this pack's own sag; None without a flight."""
        power_w = float(self.point.power_w)
        if not (np.isfinite(power_w) and self.point.run.time_s > 0):
            return None
        flight = self.design.flight
        aged = flown_state(self.design, power_w)
        return thresholds(
            self.design.pack,
            power_w,
            landing_v=flight.landing_v,
            land_depth_of_discharge=1.0 - float(flight.reserve_pct) / 100.0,
            home_share=self.way_home_share,
            resistance_factor=aged.resistance_factor,
            capacity_factor=aged.capacity_factor,
        )

    def as_dict(self) -> dict[str, Any]:
        """The whole result as one object of plain values, for JSON."""
        design, today = self.design, self.today
        return {
            "design": design.name,
            "craft": self.craft_type.name,
            "cell": design.pack.cell.name,
            "series": int(design.pack.series),
            "parallel": int(design.pack.parallel),
            "packs": None
            if self.pair is None
            else pair_dict(self.pair, self.way_home_share, self.allowances),
            "holds": self.holds,
            "verdict": self.verdict,
            "not_checked": [_unchecked_dict(limit) for limit in self.not_checked],
            "unsure": self.unsure,
            "origins": {origin.key: origin.origin for origin in design.origins},
            "doubts": [{**asdict(doubt), "answer": doubt.answer} for doubt in self.doubts],
            **self.figures(),
            "states": [{"state": name, **state} for name, state in self.state_figures().items()],
            **self.craft_type.extra(design, self.point),
            "flights": None if self.flights is None else plain(self.flights.figures()),
            "limits": [_limit_dict(limit) for limit in self.limits],
            "mission": None if self.mission is None else self.mission.as_dict(),
            "thresholds": _thresholds_list(self.thresholds()),
            "stops": list(self.stops),
            "notes": [note.text for note in self.all_notes],
            "today": None
            if today is None
            else {"name": today.design.name, "holds": today.kept, **today.figures()},
        }


def _limit_dict(limit: Limit) -> dict[str, Any]:
    return {
        "name": limit.name,
        "key": limit.key,
        **plain({"demand": limit.demand, "limit": limit.limit}),
        "unit": limit.unit,
        **plain({"margin_pct": limit.margin_pct}),
        "verdict": limit.verdict,
        "worst_at": limit.worst_at,
    }


def _unchecked_dict(limit: Limit) -> dict[str, str]:
    return {
        "key": limit.key,
        "name": limit.name,
        "concern": limit.concern,
        "reason": limit.unchecked,
    }


def _thresholds_list(found: Thresholds | None) -> list[dict[str, Any]]:
    if found is None:
        return []
    levels = (found.alarm, found.return_home, found.land, found.cut)
    return [
        {
            "name": level.name,
            **plain(
                {
                    "loaded_cell_v": level.loaded_v,
                    "rest_cell_v": level.rest_v,
                    "loaded_pack_v": level.pack_loaded_v,
                    "rest_pack_v": level.pack_rest_v,
                    "used_ah": level.used_ah,
                    "flown_min": level.flown_min,
                }
            ),
            "rule_of_thumb": level.rule,
        }
        for level in levels
    ]


RATED_NOTE = (
    "Cell: charge, energy and minutes count on the rated {cell.rated_capacity_ah:g} Ah of a cell, the least that its "
    "maker answers for; its datasheet's curves are of a typical one, {cell.typical_capacity_ah:g} Ah."
)
"""What a plan counts on, where curves and rated capacity differ."""

SPREAD_DRAWS = 100
"""Packs drawn for the spread of cells: enough for two digits, and quick."""


def _mission_share(
    point: OperatingPoint[Any, Any], mission: MissionRun | None, limits: tuple[Limit, ...]
) -> float:
    """Of the charge of steady flight as planned, what the mission takes; NaN where either cannot be flown."""
    if mission is None or not mission.completes:
        return float("nan")
    if any(limit.broken and limit.concern == "flight" for limit in limits):
        return float("nan")  # whatever the pack holds, the craft cannot fly it
    steady = float(point.run.end_depth_of_discharge)
    return mission.phases[-1].end_depth_of_discharge / steady if steady > 0 else np.nan


def _balance_note(design: Design[Any], all_up_mass_g: float) -> str:
    """What moving the pack does, and where it belongs beside the reference pack's place."""
    pack_g = design.pack.mass_g
    two = design.joining.several
    shift_mm = centre_of_gravity_shift_mm(design.one_pack.mass_g, all_up_mass_g, 10.0)
    this = "one of the two packs" if two else "this pack"
    note = (
        f"Not checked here: whether {'each' if two else 'the'} pack fits its bay and keeps the centre of gravity; "
        f"measure both. Moving {this} by {with_unit(10.0, 'mm')} moves the craft's centre of gravity by {with_unit(shift_mm, 'mm', 1)}."
    )
    if two:
        note += " Set them at equal distance on either side of the point of balance, or one above the other."
    if two or design.today is None:
        return note
    there_mm = 100.0 * design.today.pack.mass_g / pack_g  # equal moments about the point of balance
    return (
        f"{note} Where {design.today.name} sits {with_unit(100.0, 'mm')} from the point of balance, this pack belongs "
        f"{with_unit(there_mm, 'mm', 0)} from it."
    )


def _pack_notes(design: Design[Any], point: OperatingPoint[Any, Any]) -> tuple[Note, ...]:
    """What any builder should know of the pack: its cell, cold, travel, balance."""
    pack, notes = design.pack, []
    if pack.cell.model.caution:
        notes.append(Note("cell", f"Cell: {pack.cell.model.caution}"))
    if (beyond := pack.cell.model.trust(float(point.peak_cell_a))) and pack.cell.curves:
        notes.append(Note("cell", f"Cell, at its highest current: {beyond}"))
    if pack.cell.model.capacity_ah < pack.cell.datasheet_model.capacity_ah:
        notes.append(Note("cell", RATED_NOTE.format(cell=pack.cell)))
    if caution := cold_caution(design, float(point.run.end_a)):
        notes.append(Note("cold", caution))
    one_wh = design.one_pack.energy_wh
    travel = TRAVEL_TEXTS.get(int(passenger_class(one_wh)), "is not carried by passengers")
    words = (
        "A home-built pack has no UN 38.3 test: an airline or a parcel service may refuse it whatever its size. "
        f"On passenger flights even a tested battery of {one_wh:.0f} Wh {travel}. Check the current rules and "
        "your airline."
    )
    if design.joining.several:
        words += " Each of the two packs is a battery of its own to these rules."
    notes.append(Note("carrying", words))
    balance = _balance_note(design, float(point.all_up_mass_g))
    return (*notes, Note("place in the craft", balance))


@cached_by_units
def _size_reference(
    reference: ReferencePack, craft: Any, flight: Flight, allowances: Allowances
) -> SizingResult:
    """The same flight on the reference pack, taken as new; asked again, it answers from memory."""
    flight = replace(
        flight,
        landing_v=reference.landing_v,
        reserve_pct=reference.reserve_pct,
        pack_cycles=0.0,
        pack_years=0.0,
        pack_resistance_factor=1.0,
        pack_capacity_factor=1.0,
    )
    return size(Design(reference.name, craft, reference.pack, flight), allowances)


@overload
def size(
    design: Design[Multirotor], allowances: Allowances = ..., notices: tuple[Problem, ...] = ...
) -> SizingResult[HoverPoint]: ...
@overload
def size(
    design: Design[FixedWing], allowances: Allowances = ..., notices: tuple[Problem, ...] = ...
) -> SizingResult[WingPoint]: ...
@overload
def size(
    design: Design[Any], allowances: Allowances = ..., notices: tuple[Problem, ...] = ...
) -> SizingResult: ...
def size(
    design: Design[Any],
    allowances: Allowances = NO_ALLOWANCES,
    notices: tuple[Problem, ...] = (),
) -> SizingResult:
    """Size a single design.

    Args:
        design: the design, every figure a single number.
        allowances: factors on the plan's figures, neutral by default.
        notices: what was noticed while the files were read; they become notes, and doubts where they
            are about something.

    Raises:
        InputError: a phase of the mission that the craft cannot fly.
    """
    point = craft_type_of(design).operate(design, allowances)
    return judged(Subject(design, point, allowances=allowances), notices)


def judged(subject: Subject, notices: tuple[Problem, ...] = ()) -> SizingResult:
    """What is found for a single design whose operating point is known.

    Args:
        subject: the design, its operating point and allowances.
        notices: as `size` takes them.

    Raises:
        InputError: a phase of the mission that the craft cannot fly.
    """
    design, point, plan = subject.design, subject.point, subject.mission_plan
    mission: MissionRun | None = None
    if plan:
        from workbook.sizing.mission import fly_mission

        mission = fly_mission(plan)
    of_mission = mission_limits(design, mission, subject.pair) if mission else ()
    flights = flight_times(
        design, float(point.endurance_min), _mission_share(point, mission, of_mission)
    )
    checked = rule_limits(subject.with_flights(flights))
    return SizingResult(
        design,
        point,
        limits=limits_of(checked)
        + of_mission
        + (half_mission_limits(mission, flights) if mission else ()),
        stops=stops_of(checked, subject),
        remarks=notes_on("file", (str(notice) for notice in notices if not notice.about)),
        flights=flights,
        mission=mission,
        doubts=doubts(design, point, notices),
        pair=subject.pair,
        allowances=subject.allowances,
    )
