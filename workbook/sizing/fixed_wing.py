"""A fixed wing as sizing knows it: its figures, their working and its notes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from workbook.battery.discharge import PowerRun
from workbook.craft.craft_types import FixedWing
from workbook.craft.voltage import drive_for
from workbook.craft.wing import level_flight
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, rounded
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
from workbook.sizing.notes import climb_note, full_throttle_note
from workbook.sizing.operating_point import NO_ALLOWANCES, CraftLoad
from workbook.sizing.wing_point import WingLoad, WingPoint, WingState, wing_load, wing_point
from workbook.units import with_unit
from workbook.working import Step, step

if TYPE_CHECKING:
    from workbook.sizing.mission import MissionModel


class FixedWingType(CraftType[FixedWing, WingPoint]):
    """A craft held up by its wing; steady flight is cruise."""

    craft = FixedWing
    name = "fixed wing"
    steady = "cruise"
    measured_in_flight = ("cruise_power_w",)
    test_airspeed = True
    likely = (0.6, 1.6)
    reserve_key = "climb_end_m_s"
    keys, state_keys, large_keys, short_keys = shown_keys(name)

    def load(self, design: Design[Any], allowances: Allowances = NO_ALLOWANCES) -> WingLoad:
        """Mass and power of a design, or of arrays of designs."""
        return wing_load(design, allowances)

    def test_flight_w(self, load: CraftLoad[Any], airspeed_m_s: float) -> float:
        """In cruise at an airspeed."""
        assert isinstance(load, WingLoad)
        return float(load.level_w(airspeed_m_s) + load.avionics_w)

    def calibrated(
        self, load: CraftLoad[Any], airspeed_m_s: float, ratio: float
    ) -> dict[str, float]:
        """Its drag, by a measured cruise."""
        assert isinstance(load, WingLoad)
        power_w = float(load.level_w(airspeed_m_s) * ratio + load.avionics_w)
        return {
            "cruise_power_w": rounded(power_w, 1, "up"),
            "cruise_power_m_s": airspeed_m_s,
            "cruise_power_mass_g": float(load.all_up_mass_g),
        }

    def operate(
        self,
        design: Design[Any],
        allowances: Allowances = NO_ALLOWANCES,
        run: PowerRun | None = None,
    ) -> WingPoint:
        """The operating point of a design, or of arrays of designs."""
        return wing_point(design, allowances, run)

    def figures(self, design: Design[Any], point: WingPoint) -> Figures:
        """The figures of a single design by name."""
        pack, launch, end = design.pack, point.full.full_throttle, point.end
        return {
            **common_figures(design, point),
            "stall_m_s": point.speeds.stall_m_s,
            "best_endurance_m_s": point.speeds.endurance_m_s,
            "best_range_m_s": point.speeds.range_m_s,
            "best_endurance_min": point.longest_min,
            "best_range_km": point.farthest_km,
            "cruise_m_s": point.cruise_m_s,
            "cruise_lift_over_drag": point.lift_over_drag,
            **steady_figures(point, self.steady),
            "cruise_energy_wh_km": point.energy_wh_km,
            "range_km": point.range_km,
            "launch_power_w": launch.power_w,
            "launch_current_a": launch.cell_a * pack.parallel,
            "launch_cell_current_a": launch.cell_a,
            "launch_cell_v": launch.cell_v,
            "burst_s": pack.cell.burst_s,
            "climb_speed_m_s": point.climb_speed_m_s,
            "climb_counted_m_s": point.worst(np.minimum, "continuous.climb_m_s"),
            "climb_continuous_m_s": end.continuous.usual_climb_m_s,
            "climb_burst_m_s": end.burst.usual_climb_m_s,
            "climb_full_power_m_s": end.full_throttle.usual_climb_m_s,
            "throttle_cap_pct": point.throttle_cap_pct("continuous"),
            "burst_throttle_cap_pct": point.throttle_cap_pct("burst"),
        }

    def state_figures(self, design: Design[Any], point: WingPoint, state: WingState) -> Figures:
        """The figures of one state of the pack by name."""
        return {
            "depth_pct": 100.0 * state.depth_of_discharge,
            "rest_cell_v": state.open_circuit_v,
            "cruise_cell_v": state.steady_v,
            "cruise_cell_current_a": state.steady_a,
            "continuous_climb_m_s": state.continuous.usual_climb_m_s,
            "continuous_throttle_pct": state.continuous.throttle_pct,
            "burst_climb_m_s": state.burst.usual_climb_m_s,
            "burst_throttle_pct": state.burst.throttle_pct,
            "full_power_climb_m_s": state.full_throttle.usual_climb_m_s,
            "full_power_cell_current_a": state.full_throttle.cell_a,
            "full_power_cell_v": state.full_throttle.cell_v,
        }

    def working(self, design: Design[Any], point: WingPoint) -> tuple[Step, ...]:
        """How each figure of a single design came about, in the order of a calculation by hand."""
        polar, weight, density = design.craft.polar, _weight_n(point), point.load.density
        stall = step(
            "stall_m_s", point.speeds.stall_m_s, weight=weight, density=density, polar=polar
        )
        first = (*pack_steps(design), mass_step(design, point), stall)
        if np.isnan(point.power_w):
            return first
        return (
            *first,
            *_cruise_steps(design, point),
            *run_steps(design, point, self.steady),
            *_range_and_climb_steps(design, point),
        )

    def notes(self, design: Design[Any], point: WingPoint) -> tuple[str, ...]:
        """What the builder of a fixed wing should know besides."""
        craft = design.craft
        words = [
            f"Drag from a polar (zero-lift drag {craft.polar.zero_lift_drag:.4f}, Oswald efficiency "
            f"{craft.polar.oswald_efficiency:.2f}); propeller {craft.propeller_efficiency:.2f} x motor "
            f"{craft.motor_efficiency:.2f} efficient in cruise and climb alike. Measure cruise watts and "
            "airspeed on a calm day and put them in."
        ]
        if craft.table is None:
            words.append(
                f"Launch power is {with_unit(craft.launch_w_per_kg, 'W/kg')}, a rule of thumb: a static full-throttle "
                "row of a thrust table is better."
            )
        else:
            words.append(
                "Launch current is that of the static thrust table; in the air the propeller unloads and "
                f"draws less. Basis: {drive_for(craft.table).basis}."
            )
            if np.isnan(point.full.full_throttle.power_w):
                words.append(
                    full_throttle_note(craft.table, float(craft.motors), float(point.all_up_mass_g))
                )
        words.append(climb_note(craft.table))
        if point.speeds.endurance_m_s <= point.speeds.stall_m_s:
            words.append(
                "The speed of least power lies below the stall; fly for time as slowly as the stall "
                "margin allows."
            )
        words.append("Distances are in still air: into the wind fly faster, and count on less.")
        return tuple(words)

    def mission_model(self, point: WingPoint) -> MissionModel[WingPoint]:
        """The craft on its pack as a mission flies it; of a single design."""
        from workbook.sizing.wing_mission import WingMission

        return WingMission(point)


def _weight_n(point: WingPoint) -> FloatArray:
    return np.asarray(point.all_up_mass_g / 1000 * STANDARD_GRAVITY_M_S2)


def _cruise_steps(design: Design[Any], point: WingPoint) -> tuple[Step, ...]:
    craft, polar, speed = design.craft, design.craft.polar, point.cruise_m_s
    weight, mass_g = _weight_n(point), point.all_up_mass_g
    level = level_flight(polar, mass_g, speed, point.load.density)
    drag, c_lift = level.drag_n, level.lift_coefficient
    return (
        step("cruise_lift_over_drag", point.lift_over_drag, c_lift=c_lift, polar=polar),
        step(
            "cruise_power_w",
            point.power_w,
            weight=weight,
            speed=speed,
            lift_over_drag=weight / drag,
            craft=craft,
        ),
    )


def _range_and_climb_steps(design: Design[Any], point: WingPoint) -> tuple[Step, ...]:
    launch, end, speed = point.full.full_throttle, point.end, point.cruise_m_s
    climb = step("climb_continuous_m_s", end.continuous.usual_climb_m_s, end=end, point=point)
    by_table = design.craft.table is not None
    basis = "static thrust table" if by_table else "watts by mass, common practice, no source"
    return (
        step("range_km", point.range_km, speed=speed, point=point),
        step("cruise_energy_wh_km", point.energy_wh_km, point=point, speed=speed),
        step("launch_cell_current_a", launch.cell_a, launch=launch, design=design, basis=basis),
        *((climb,) if np.isfinite(end.continuous.usual_climb_m_s) else ()),
    )
