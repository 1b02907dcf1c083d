"""A multirotor as sizing knows it: its figures, their working and its notes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from workbook.battery.discharge import PowerRun
from workbook.craft.climb import USUAL
from workbook.craft.craft_types import Multirotor
from workbook.craft.voltage import drive_for
from workbook.numbers import rounded
from workbook.sizing.craft_type import CraftType
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import (
    Figures,
    common_figures,
    mass_step,
    pack_steps,
    run_steps,
    shown_keys,
    steady_figures,
)
from workbook.sizing.hover_point import (
    CurrentLimitedThrust,
    HoverLoad,
    HoverPoint,
    HoverState,
    hover_load,
    hover_point,
)
from workbook.sizing.notes import climb_note, full_throttle_note
from workbook.sizing.operating_point import NO_ALLOWANCES, CraftLoad
from workbook.sizing.performance import climb_rates, gust_note, motor_out
from workbook.units import with_unit
from workbook.working import Step, step

if TYPE_CHECKING:
    from workbook.sizing.mission import MissionModel


class MultirotorType(CraftType[Multirotor, HoverPoint]):
    """A craft held up by its rotors; steady flight is hover."""

    craft = Multirotor
    name = "multirotor"
    steady = "hover"
    measured_in_flight = ("flight_factor",)
    test_airspeed = False
    likely = (1.0, 1.4)
    reserve_key = "thrust_to_weight_end"
    keys, state_keys, large_keys, short_keys = shown_keys(name)

    def load(self, design: Design[Any], allowances: Allowances = NO_ALLOWANCES) -> HoverLoad:
        """Mass and power of a design, or of arrays of designs."""
        return hover_load(design, allowances)

    def test_flight_w(self, load: CraftLoad[Any], airspeed_m_s: float) -> float:
        """In hover."""
        return float(load.power_w)

    def calibrated(
        self, load: CraftLoad[Any], airspeed_m_s: float, ratio: float
    ) -> dict[str, float]:
        """The flight factor is that ratio."""
        return {"flight_factor": rounded(ratio, 3, "up")}

    def operate(
        self,
        design: Design[Any],
        allowances: Allowances = NO_ALLOWANCES,
        run: PowerRun | None = None,
    ) -> HoverPoint:
        """The operating point of a design, or of arrays of designs."""
        return hover_point(design, allowances, run)

    def figures(self, design: Design[Any], point: HoverPoint) -> Figures:
        """The figures of a single design by name."""
        full, end, rotors = point.full, point.end, design.craft.rotors
        ceiling = cache(lambda: point.worst(np.minimum, "continuous.thrust_gf"))
        burst = cache(lambda: point.worst(np.minimum, "burst.thrust_gf"))
        climb = cache(lambda: climb_rates(end, point, USUAL))
        return {
            **common_figures(design, point),
            "hover_thrust_per_motor_gf": point.thrust_per_motor_gf,
            "hover_power_per_motor_w": point.power_per_motor_w,
            "hover_efficiency_gf_w": point.thrust_per_motor_gf / point.power_per_motor_w,
            **steady_figures(point, self.steady),
            "hover_throttle_full_pct": lambda: full.steady_throttle_pct,
            "hover_throttle_end_pct": lambda: end.steady_throttle_pct,
            "lowest_hover_cell_v": point.lowest_hover_cell_v,
            "thrust_ceiling_gf": lambda: ceiling() * rotors,
            "thrust_ceiling_per_motor_gf": ceiling,
            "burst_thrust_ceiling_gf": lambda: burst() * rotors,
            "throttle_cap_pct": cache(lambda: point.throttle_cap_pct("continuous")),
            "burst_throttle_cap_pct": cache(lambda: point.throttle_cap_pct("burst")),
            "burst_s": design.pack.cell.burst_s,
            "full_throttle_cell_current_a": lambda: full.full_throttle.cell_a,
            "thrust_to_weight_full": lambda: full.thrust_to_weight,
            "thrust_to_weight_end": lambda: end.thrust_to_weight,
            "climb_continuous_m_s": lambda: climb().continuous_m_s,
            "climb_burst_m_s": lambda: climb().burst_m_s,
            "lowest_hover_binds": point.lowest_hover_binds[()],
        }

    def state_figures(self, design: Design[Any], point: HoverPoint, state: HoverState) -> Figures:
        """The figures of one state of the pack by name."""
        climb = climb_rates(state, point, USUAL)
        return {
            "depth_pct": 100.0 * state.depth_of_discharge,
            "rest_cell_v": state.open_circuit_v,
            "hover_cell_v": state.steady_v,
            "hover_cell_current_a": state.steady_a,
            "hover_throttle_pct": state.steady_throttle_pct,
            "continuous_thrust_per_motor_gf": state.continuous.thrust_gf,
            "continuous_throttle_pct": state.continuous.throttle_pct,
            "continuous_climb_m_s": climb.continuous_m_s,
            "burst_thrust_per_motor_gf": state.burst.thrust_gf,
            "burst_throttle_pct": state.burst.throttle_pct,
            "burst_climb_m_s": climb.burst_m_s,
            "full_throttle_thrust_per_motor_gf": state.full_throttle.thrust_gf,
            "full_throttle_cell_current_a": state.full_throttle.cell_a,
            "thrust_to_weight": state.thrust_to_weight,
        }

    def working(self, design: Design[Any], point: HoverPoint) -> tuple[Step, ...]:
        """How each figure of a single design came about, in the order of a calculation by hand."""
        thrust = step(
            "hover_thrust_per_motor_gf", point.thrust_per_motor_gf, point=point, design=design
        )
        first = (*pack_steps(design), mass_step(design, point), thrust)
        if np.isnan(point.power_per_motor_w):
            return first
        return (
            *first,
            *_power_steps(design, point),
            *run_steps(design, point, self.steady),
            *_ceiling_steps(design, point),
        )

    def notes(self, design: Design[Any], point: HoverPoint) -> tuple[str, ...]:
        """What the builder of a multirotor should know besides."""
        table = design.craft.table
        low, high = point.run.end_v * design.pack.series, design.pack.full_v
        if np.isnan(low):
            return ()
        basis = (
            f"The thrust table was taken at {np.nanmean(table.voltage_v):.1f} V; this pack gives {high:.1f} V full to "
            f"{low:.1f} V under load at the end. At equal thrust the watts carry over and the current is watts over the "
            f"pack's own volts. Basis: {drive_for(table).basis}."
        )
        if np.isnan(point.power_per_motor_w):
            return (basis,)
        words = (basis, *_table_notes(point), motor_out(point).text, gust_note(point))
        return tuple(note for note in words if note)

    def mission_model(self, point: HoverPoint) -> MissionModel[HoverPoint]:
        """The craft on its pack as a mission flies it; of a single design."""
        from workbook.sizing.multirotor_mission import MultirotorMission

        return MultirotorMission(point)

    def extra(self, design: Design[Any], point: HoverPoint) -> dict[str, Any]:
        """Hover with one motor out."""
        if np.isnan(point.power_per_motor_w):
            return {"motor_out": None}
        return {"motor_out": motor_out(point).as_dict()}


def _table_notes(point: HoverPoint) -> Iterator[str]:
    """Where the flight leaves what the thrust table says, in words."""
    load, table = point.load, point.load.craft.table
    thrust = float(point.thrust_per_motor_gf)
    if table.below_rows(thrust):
        yield (
            f"Hover at {with_unit(thrust, 'gf', 0)} per motor is below the thrust table's first row of "
            f"{with_unit(table.thrust_gf[0], 'gf', 0)}: its power is that row's, carried down as thrust^1.5. Idle losses may "
            "add to it; a row at that thrust would show it."
        )
    if np.isnan(point.full.full_throttle.thrust_gf):
        yield full_throttle_note(table, float(load.motors), float(point.all_up_mass_g))
    yield climb_note(table)


def _power_steps(design: Design[Any], point: HoverPoint) -> tuple[Step, ...]:
    craft, thrust, motor_w = design.craft, point.thrust_per_motor_gf, point.power_per_motor_w
    rule, rows = craft.table.power_words(float(thrust))
    air = motor_w / craft.table.power_at_thrust(thrust)
    thin = f" x {air:.3f} for the air" if abs(air - 1) > 5e-4 else ""
    return (
        step("hover_power_per_motor_w", motor_w, rule=rule, rows=rows, thin=thin),
        step("hover_power_w", point.power_w, craft=craft, motor_w=motor_w),
    )


def _ceiling_steps(design: Design[Any], point: HoverPoint) -> tuple[Step, ...]:
    craft, full, end = design.craft, point.full, point.end

    def ceiling(key: str, label: str, at_end: CurrentLimitedThrust) -> Step:
        power = at_end.cell_v * at_end.cell_a * design.pack.cells
        return step(
            "thrust_ceiling_end_gf",
            at_end.thrust_gf * craft.rotors,
            key=key,
            label=label,
            power=power,
            craft=craft,
            bench_gf=at_end.thrust_gf / point.load.thrust_kept,
            at_end=at_end,
        )

    return (
        step("lowest_hover_cell_v", point.lowest_hover_cell_v, design=design, point=point),
        ceiling("thrust_ceiling_gf", "continuous", end.continuous),
        ceiling("burst_thrust_ceiling_gf", "burst", end.burst),
        step("throttle_cap_pct", point.throttle_cap_pct("continuous"), full=full),
        step("thrust_to_weight_end", end.thrust_to_weight, craft=craft, end=end, point=point),
    )
