"""Size one design: figures, limits, reasons to stop, notes, working, and the pack of today beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.craft.voltage import drive_for
from workbook.errors import Problem
from workbook.sizing.design import Allowances, Design
from workbook.sizing.limits import Limit, limits, stops
from workbook.sizing.operating_point import NO_ALLOWANCES, OperatingPoint, operate
from workbook.sizing.working import lowest_throttle_pct, working
from workbook.working import Step

CABIN_WH, APPROVAL_WH = 100.0, 160.0
"""Passenger air travel, per battery. Source: IATA dangerous goods rules, table 2.3.A, from memory."""


@dataclass(frozen=True)
class Answer:
    """What the computation says about one design.

    Attributes:
        design, point: what was asked and the operating point.
        limits: each limit with demand, limit, margin and verdict.
        stops: reasons, in words, not to build or fly it as it stands; empty for a sound design.
        notes: what else the builder should know.
        working: how each figure came about.
        today: the same craft with the pack flown today, where the design states one.
    """

    design: Design
    point: OperatingPoint
    limits: tuple[Limit, ...]
    stops: tuple[str, ...]
    notes: tuple[str, ...]
    working: tuple[Step, ...]
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
        point, pack, craft = self.point, self.design.pack, self.design.craft
        run, rotors = point.run, craft.rotors
        worst_ceiling = np.minimum.reduce(
            [np.asarray(s.continuous.thrust_gf) for s in (point.full, point.half, point.end)]
        )
        worst_burst = np.minimum.reduce(
            [np.asarray(s.burst.thrust_gf) for s in (point.full, point.half, point.end)]
        )
        raw: dict[str, Any] = {
            "all_up_mass_g": point.all_up_mass_g,
            "pack_mass_g": pack.mass_g,
            "pack_cells": pack.cells,
            "pack_nominal_v": pack.nominal_v,
            "pack_full_v": pack.full_v,
            "pack_capacity_ah": pack.capacity_ah,
            "pack_energy_wh": pack.energy_wh,
            "pack_continuous_a": pack.continuous_a,
            "pack_burst_a": pack.burst_a,
            "hover_thrust_per_motor_gf": point.thrust_per_motor_gf,
            "hover_power_per_motor_w": point.power_per_motor_w,
            "hover_efficiency_gf_w": point.thrust_per_motor_gf / point.power_per_motor_w,
            "hover_power_w": point.power_w,
            "hover_current_a": point.mean_current_a,
            "hover_current_full_a": run.start_a * pack.parallel,
            "hover_current_end_a": run.end_a * pack.parallel,
            "hover_c_rate": point.c_rate,
            "hover_cell_current_end_a": run.end_a,
            "endurance_min": point.endurance_min,
            "energy_used_wh": run.energy_wh * pack.cells,
            "charge_used_ah": run.charge_ah * pack.parallel,
            "depth_used_pct": 100.0 * run.end_depth,
            "full_cell_v": run.start_v,
            "landing_cell_v": run.end_v,
            "landing_rest_cell_v": run.end_open_circuit_v,
            "lowest_hover_cell_v": point.lowest_hover_cell_v,
            "thrust_ceiling_gf": worst_ceiling * rotors,
            "thrust_ceiling_per_motor_gf": worst_ceiling,
            "burst_thrust_ceiling_gf": worst_burst * rotors,
            "throttle_cap_pct": lowest_throttle_pct(point, "continuous"),
            "burst_throttle_cap_pct": lowest_throttle_pct(point, "burst"),
            "full_throttle_cell_current_a": point.full.full_throttle.cell_a,
            "thrust_to_weight_full": point.full.thrust_to_weight,
            "thrust_to_weight_end": point.end.thrust_to_weight,
        }
        told: dict[str, float | str | None] = {
            key: float(value) if np.isfinite(value) else None for key, value in raw.items()
        }
        told["ends_by"] = "landing voltage" if run.landed else "reserve"
        told["lowest_hover_binds"] = str(point.lowest_hover_binds)
        return told

    def as_dict(self) -> dict[str, Any]:
        """The whole answer as one object of plain values, for JSON."""
        states = {"full": self.point.full, "half": self.point.half, "end": self.point.end}
        return {
            "design": self.design.name,
            "craft": "multirotor",
            "cell": self.design.pack.cell.name,
            "series": int(self.design.pack.series),
            "parallel": int(self.design.pack.parallel),
            "holds": self.holds,
            **self.figures(),
            "states": [
                {
                    "state": name,
                    **_plain(
                        depth_pct=100.0 * state.depth,
                        rest_cell_v=state.open_circuit_v,
                        hover_cell_v=state.steady_v,
                        hover_cell_current_a=state.steady_a,
                        continuous_thrust_per_motor_gf=state.continuous.thrust_gf,
                        continuous_throttle_pct=state.continuous.throttle_pct,
                        burst_thrust_per_motor_gf=state.burst.thrust_gf,
                        burst_throttle_pct=state.burst.throttle_pct,
                        full_throttle_thrust_per_motor_gf=state.full_throttle.thrust_gf,
                        full_throttle_cell_current_a=state.full_throttle.cell_a,
                        thrust_to_weight=state.thrust_to_weight,
                    ),
                }
                for name, state in states.items()
            ],
            "limits": [
                {
                    "name": limit.name,
                    "key": limit.key,
                    **_plain(demand=limit.demand, limit=limit.limit),
                    "unit": limit.unit,
                    **_plain(margin_pct=limit.margin_pct),
                    "verdict": limit.verdict,
                    "worst_at": limit.worst_at,
                }
                for limit in self.limits
            ],
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


def _plain(**values: Any) -> dict[str, float | None]:
    return {key: float(v) if np.isfinite(v) else None for key, v in values.items()}


def _notes(design: Design, point: OperatingPoint, notices: tuple[Problem, ...]) -> tuple[str, ...]:
    cell: Cell = design.pack.cell
    table = design.craft.table
    said = [str(notice) for notice in notices]
    low, high = float(point.run.end_v * design.pack.series), float(design.pack.full_v)
    said.append(
        f"The thrust table was taken at {float(np.nanmean(table.voltage_v)):.1f} V; this pack gives {high:.1f} V full to "
        f"{low:.1f} V under load at the end. At equal thrust the watts carry over and the current is watts over the "
        f"pack's own volts. Basis: {drive_for(table).basis}."
    )
    if cell.model.caution:
        said.append(f"Cell: {cell.model.caution}")
    wh = float(design.pack.energy_wh)
    if wh > CABIN_WH:
        rule = (
            "needs the airline's approval" if wh <= APPROVAL_WH else "is not carried by passengers"
        )
        said.append(
            f"{wh:.0f} Wh: on passenger flights such a battery {rule}; a home-built pack has no UN 38.3 test either. "
            "Check the current rules and your airline."
        )
    said.append(
        "Not checked here: whether the pack fits its bay and keeps the centre of gravity; measure both."
    )
    return tuple(said)


def size(
    design: Design,
    allowances: Allowances = NO_ALLOWANCES,
    notices: tuple[Problem, ...] = (),
) -> Answer:
    """Size a single design.

    Args:
        design: the design, every figure a single number.
        allowances: factors on the plan's figures, neutral by default.
        notices: doubts raised while the files were read; they become notes.

    Returns:
        The answer, with the pack of today beside it where the design states one.
    """
    point = operate(design, allowances)
    today = None
    if design.today is not None:
        present = design.today
        flight = replace(
            design.flight, landing_v=present.landing_v, reserve_pct=present.reserve_pct
        )
        today = size(Design(present.name, design.craft, present.pack, flight, None), allowances)
    return Answer(
        design,
        point,
        limits(design, point),
        stops(design, point),
        _notes(design, point, notices),
        working(design, point),
        today,
    )
