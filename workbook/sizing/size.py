"""Size one design: figures, limits, reasons to stop, notes, working, and the pack of today beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from workbook.battery.derating import COLD_CAUTION
from workbook.battery.thresholds import Thresholds, thresholds
from workbook.bench.layout import centre_of_gravity_shift_mm
from workbook.bench.transport import APPROVAL, CABIN, passenger_class
from workbook.errors import Problem
from workbook.sizing.conditions import COOL_C, in_conditions
from workbook.sizing.design import Allowances, Design, Flight, Present
from workbook.sizing.figures import plain
from workbook.sizing.kinds import kind_of
from workbook.sizing.limit import Limit
from workbook.sizing.mission import MissionRun, fly_mission
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.working import Step


@dataclass(frozen=True)
class Answer:
    """What the computation says about one design.

    Attributes:
        design, point: what was asked and the operating point, an `OperatingPoint` of a multirotor
            or a `WingPoint` of a fixed wing.
        limits: each limit with demand, limit, margin and verdict.
        stops: reasons, in words, not to build or fly it as it stands; empty for a sound design.
        notes: what else the builder should know.
        working: how each figure came about.
        mission: the pack through the mission, where the design states one that can be computed; its
            limits are among `limits`.
        today: the same craft with the pack flown today, where the design states one.
    """

    design: Design[Any]
    point: Any
    limits: tuple[Limit, ...]
    stops: tuple[str, ...]
    notes: tuple[str, ...]
    working: tuple[Step, ...]
    mission: MissionRun | None = None
    today: Answer | None = None

    @property
    def broken(self) -> tuple[Limit, ...]:
        """The limits that do not hold."""
        return tuple(limit for limit in self.limits if limit.broken)

    @property
    def holds(self) -> bool:
        """Whether every limit holds and there is no reason to stop."""
        return not self.broken and not self.stops

    def figures(self) -> dict[str, float | str | None]:
        """The figures by name, the unit as suffix; None where a figure cannot be told."""
        return plain(kind_of(self.design).figures(self.design, self.point))

    def state_figures(self) -> dict[str, dict[str, float | str | None]]:
        """The figures of each state of the pack, by its name: full, half, end."""
        kind = kind_of(self.design)
        states = {"full": self.point.full, "half": self.point.half, "end": self.point.end}
        return {
            name: plain(kind.state_figures(self.design, self.point, state))
            for name, state in states.items()
        }

    def thresholds(self) -> Thresholds | None:
        """Voltages to warn, return, land and stop at, from this pack's own sag; None without a flight."""
        design, power_w = self.design, float(self.point.power_w)
        if not (np.isfinite(power_w) and self.point.run.time_s > 0):
            return None
        flight, taken = design.flight, in_conditions(design.flight, NO_ALLOWANCES)
        return thresholds(
            design.pack,
            power_w,
            landing_v=flight.landing_v,
            land_depth_of_discharge=1.0 - float(flight.reserve_pct) / 100.0,
            resistance_factor=taken.resistance_factor,
            capacity_factor=taken.capacity_factor,
        )

    def _thresholds_told(self) -> list[dict[str, Any]]:
        found = self.thresholds()
        if found is None:
            return []
        return [
            {
                "name": at.name,
                **plain(
                    {
                        "loaded_cell_v": at.loaded_v,
                        "rest_cell_v": at.rest_v,
                        "loaded_pack_v": at.pack_loaded_v,
                        "rest_pack_v": at.pack_rest_v,
                        "used_ah": at.used_ah,
                    }
                ),
                "rule_of_thumb": at.rule,
            }
            for at in (found.alarm, found.return_home, found.land, found.cut)
        ]

    def as_dict(self) -> dict[str, Any]:
        """The whole answer as one object of plain values, for JSON."""
        kind = kind_of(self.design)
        return {
            "design": self.design.name,
            "craft": kind.NAME,
            "cell": self.design.pack.cell.name,
            "series": int(self.design.pack.series),
            "parallel": int(self.design.pack.parallel),
            "holds": self.holds,
            **self.figures(),
            "states": [{"state": name, **told} for name, told in self.state_figures().items()],
            **kind.extra(self.design, self.point),
            "limits": [
                {
                    "name": limit.name,
                    "key": limit.key,
                    **plain({"demand": limit.demand, "limit": limit.limit}),
                    "unit": limit.unit,
                    **plain({"margin_pct": limit.margin_pct}),
                    "verdict": limit.verdict,
                    "worst_at": limit.worst_at,
                }
                for limit in self.limits
            ],
            "mission": None if self.mission is None else self.mission.as_dict(),
            "thresholds": self._thresholds_told(),
            "stops": list(self.stops),
            "notes": list(self.notes),
            "today": None
            if self.today is None
            else {
                "name": self.today.design.name,
                "holds": self.today.holds,
                **self.today.figures(),
            },
        }


def _notes(design: Design[Any], point: Any, notices: tuple[Problem, ...]) -> tuple[str, ...]:
    said = [*map(str, notices), *kind_of(design).notes(design, point)]
    caution = design.pack.cell.model.caution
    if caution:
        said.append(f"Cell: {caution}")
    if float(design.flight.pack_temperature_c) < COOL_C:
        said.append(COLD_CAUTION)
    wh = float(design.pack.energy_wh)
    travel = int(passenger_class(wh))
    if travel != CABIN:
        rule = (
            "needs the airline's approval" if travel == APPROVAL else "is not carried by passengers"
        )
        said.append(
            f"{wh:.0f} Wh: on passenger flights such a battery {rule}; a home-built pack has no UN 38.3 test either. "
            "Check the current rules and your airline."
        )
    shift_mm = centre_of_gravity_shift_mm(design.pack.mass_g, float(point.all_up_mass_g), 10.0)
    said.append(
        "Not checked here: whether the pack fits its bay and keeps the centre of gravity; measure both. "
        f"Moving this pack by 10 mm moves the craft's centre of gravity by {shift_mm:.1f} mm."
    )
    return tuple(said)


@lru_cache(maxsize=32)
def _size_today(present: Present, craft: Any, flight: Flight, allowances: Allowances) -> Answer:
    """The same flight on the pack flown today, taken as new; asked again, it answers from memory."""
    flight = replace(
        flight,
        landing_v=present.landing_v,
        reserve_pct=present.reserve_pct,
        pack_cycles=0.0,
        pack_years=0.0,
    )
    return size(Design(present.name, craft, present.pack, flight, None), allowances)


def size(
    design: Design[Any],
    allowances: Allowances = NO_ALLOWANCES,
    notices: tuple[Problem, ...] = (),
) -> Answer:
    """Size a single design.

    Args:
        design: the design, every figure a single number.
        allowances: factors on the plan's figures, neutral by default.
        notices: doubts raised while the files were read; they become notes.

    Returns:
        The answer, with the pack of today beside it where the design states one (without a mission).

    Raises:
        InputError: a phase of the mission that the craft cannot fly.
    """
    kind = kind_of(design)
    point = kind.operate(design, allowances)
    today = None
    if design.today is not None:
        today = _size_today(design.today, design.craft, design.flight, allowances)
    mission = None
    if design.mission and np.isfinite(point.power_w):
        flier = kind.flier(design, point, allowances)
        mission = fly_mission(design, float(point.all_up_mass_g), flier, allowances)
    return Answer(
        design,
        point,
        kind.limits(design, point) + (() if mission is None else mission.limits),
        kind.stops(design, point),
        _notes(design, point, notices) + (() if mission is None else mission.cautions),
        kind.working(design, point) + (() if mission is None else mission.working()),
        mission,
        today,
    )
