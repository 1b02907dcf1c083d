"""What sizing has to say of a fixed wing: limits, reasons to stop, notes, figures by name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.craft.air import density_kg_m3
from workbook.craft.craft_types import FixedWing
from workbook.craft.flight_power import FlightPower, WingPower
from workbook.craft.voltage import drive_for
from workbook.numbers import FloatArray
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import Row, Told, common_figures, pack_rows
from workbook.sizing.fixed_wing_working import working
from workbook.sizing.limit import (
    END_OF_FLIGHT,
    FULL_PACK,
    Limit,
    asked_limits,
    landing_limit,
    no_flight_stop,
    steady_current_limit,
    steady_current_stop,
    voltage_stops,
    warmth_limits,
)
from workbook.sizing.mission import Flier
from workbook.sizing.wing_point import STALL_MARGIN, WingPoint, WingState
from workbook.sizing.wing_point import operate_wing as operate

__all__ = [
    "NAME", "ROWS", "STATE_ROWS", "extra", "figures", "flier", "limits", "notes", "operate", "state_figures", "stops",
    "working",
]  # fmt: skip

NAME: str = "fixed wing"

LEAST_CLIMB_M_S = 1.0
"""A wing that climbs more slowly on its burst current or full power cannot clear trees or sinking
air with any surety. Common practice, no source."""

ROWS: tuple[Row, ...] = (
    *pack_rows(),
    Row("stall_m_s", "stall speed", "m/s", 1),
    Row("best_endurance_m_s", "speed of best endurance", "m/s", 1),
    Row("best_range_m_s", "speed of best range, still air", "m/s", 1),
    Row("cruise_m_s", "cruise speed", "m/s", 1),
    Row("cruise_lift_over_drag", "lift over drag in cruise", "", 1),
    Row("cruise_power_w", "cruise power", "W", 1),
    Row("cruise_current_a", "cruise current, mean", "A", 2),
    Row("cruise_current_end_a", "cruise current at the end", "A", 2),
    Row("cruise_c_rate", "cruise C-rate, mean", "1/h", 2),
    Row("cruise_energy_wh_km", "energy per distance, still air", "Wh/km", 2),
    Row("endurance_min", "endurance", "min", 1),
    Row("range_km", "range in still air", "km", 1),
    Row("best_range_km", "range at its best speed", "km", 1),
    Row("landing_cell_v", "cell voltage at the end, loaded", "V", 2),
    Row("landing_rest_cell_v", "cell voltage at the end, at rest", "V", 2),
    Row("end_cell_temperature_c", "hottest cell at the end, inside", "C", 0),
    Row("launch_current_a", "launch current, full pack", "A", 1),
    Row("launch_cell_v", "cell voltage at launch, full pack", "V", 2),
    Row("climb_continuous_m_s", "climb at the end, continuous current", "m/s", 1),
    Row("climb_burst_m_s", "climb at the end, burst current", "m/s", 1),
    Row("climb_full_power_m_s", "climb at the end, full power", "m/s", 1),
    Row("throttle_cap_pct", "throttle cap at rest, continuous current", "%", 0),
    Row("burst_throttle_cap_pct", "throttle cap at rest, burst current", "%", 0),
)

STATE_ROWS: tuple[Row, ...] = (
    Row("cruise_cell_v", "cell voltage in cruise", "V", 2),
    Row("cruise_cell_current_a", "cell current in cruise", "A", 2),
    Row("continuous_climb_m_s", "climb, continuous current", "m/s", 1),
    Row("burst_climb_m_s", "climb, burst current", "m/s", 1),
    Row("full_power_climb_m_s", "climb, full power", "m/s", 1),
    Row("full_power_cell_current_a", "cell current, full power", "A", 2),
    Row("full_power_cell_v", "cell voltage, full power", "V", 2),
)


def limits(design: Design[FixedWing], point: WingPoint) -> tuple[Limit, ...]:
    """Every limit that the design states, checked at its worst instant; of the point's shape."""
    craft, pack, flight = design.craft, design.pack, design.flight
    launch = point.full.full_power
    with np.errstate(divide="ignore", invalid="ignore"):
        margin = point.cruise_m_s / point.speeds.stall_m_s
    found = [
        Limit(
            "stall_margin",
            "cruise speed over stall speed",
            STALL_MARGIN,
            margin,
            "",
            f"Cruise is slower than {STALL_MARGIN:g} times the stall speed; a gust or a turn can stall it.",
            "cruise",
        ),
        steady_current_limit(design, point),
        Limit(
            "burst_cell_current",
            "cell current at launch, full power",
            launch.cell_a,
            pack.cell.burst_a,
            "A",
            "Launch would pull more than the cell's burst current; set a throttle cap or use more "
            "cells in parallel.",
            FULL_PACK,
        ),
        Limit(
            "launch_voltage",
            "cell voltage at launch, full power",
            pack.cell.cutoff_v,
            launch.cell_v,
            "V",
            "Launch would pull the cells below their cutoff voltage.",
            FULL_PACK,
        ),
        landing_limit(design, point),
        *warmth_limits(design, point),
    ]
    if flight.climb_m_s is not None:
        found.append(
            Limit(
                "climb",
                "rate of climb within the continuous current",
                flight.climb_m_s,
                point.end.continuous.climb_m_s,
                "m/s",
                "Near the end the pack cannot give the asked climb within its continuous current.",
                END_OF_FLIGHT,
            )
        )
    if flight.wanted_km is not None:
        found.append(
            Limit(
                "range",
                "distance asked for, still air",
                flight.wanted_km,
                point.range_km,
                "km",
                "The pack does not carry the craft the asked distance.",
                "whole flight",
            )
        )
    motor_a = launch.power_w - point.avionics_w
    motor_a = motor_a / (launch.cell_v * pack.series) / craft.motors
    return (*found, *asked_limits(design, point, motor_a))


def stops(design: Design[FixedWing], point: WingPoint) -> tuple[str, ...]:
    """Reasons, in words, why a single design must not be built or flown as it stands."""
    if np.isnan(point.power_w):
        return (
            f"Cruise at {float(point.cruise_m_s):.1f} m/s is below the stall speed of "
            f"{float(point.speeds.stall_m_s):.1f} m/s at {float(point.all_up_mass_g):.0f} g: it cannot fly so slowly.",
        )
    said = no_flight_stop(design, point) + steady_current_stop(design, point)
    best = point.end.burst.climb_m_s
    if point.run.time_s > 0 and not best >= LEAST_CLIMB_M_S:
        said.append(
            f"At the end of the flight the craft climbs {float(best):.1f} m/s at most, under "
            f"{LEAST_CLIMB_M_S:g} m/s: it may not clear obstacles or sinking air."
        )
    return tuple(said + voltage_stops(design))


def notes(design: Design[FixedWing], point: WingPoint) -> tuple[str, ...]:
    """What the builder of a fixed wing should know besides."""
    craft = design.craft
    said = [
        f"Drag from a polar (zero-lift drag {float(craft.polar.zero_lift_drag):.4f}, Oswald efficiency "
        f"{float(craft.polar.oswald_efficiency):.2f}); propeller {float(craft.propeller_efficiency):.2f} x motor "
        f"{float(craft.motor_efficiency):.2f} efficient in cruise and climb alike. Measure cruise watts and "
        "airspeed on a calm day and put them in."
    ]
    if craft.table is None:
        said.append(
            f"Launch power is {float(craft.launch_w_per_kg):g} W/kg, a rule of thumb: a static full-throttle "
            "row of a thrust table is better."
        )
    else:
        said.append(
            "Launch current is that of the static thrust table; in the air the propeller unloads and "
            f"draws less. Basis: {drive_for(craft.table).basis}."
        )
    if point.speeds.endurance_m_s <= point.speeds.stall_m_s:
        said.append(
            "The speed of least power lies below the stall; fly for time as slowly as the stall "
            "margin allows."
        )
    said.append("Distances are in still air: into the wind fly faster, and count on less.")
    return tuple(said)


def figures(design: Design[FixedWing], point: WingPoint) -> Told:
    """The figures of a single design by name; not finite where they cannot be told."""
    pack, run, launch = design.pack, point.run, point.full.full_power
    every = (point.full, point.half, point.end)

    def cap(name: str) -> FloatArray:
        caps: list[FloatArray] = [getattr(s, name).throttle_pct for s in every]
        return np.asarray(np.minimum.reduce(caps))

    return {
        **common_figures(design, point),
        "stall_m_s": point.speeds.stall_m_s,
        "best_endurance_m_s": point.speeds.endurance_m_s,
        "best_range_m_s": point.speeds.range_m_s,
        "best_endurance_min": point.longest_min,
        "best_range_km": point.farthest_km,
        "cruise_m_s": point.cruise_m_s,
        "cruise_lift_over_drag": point.lift_over_drag,
        "cruise_power_w": point.power_w,
        "cruise_current_a": point.mean_current_a,
        "cruise_current_full_a": run.start_a * pack.parallel,
        "cruise_current_end_a": run.end_a * pack.parallel,
        "cruise_c_rate": point.c_rate,
        "cruise_cell_current_end_a": run.end_a,
        "cruise_energy_wh_km": point.energy_wh_km,
        "range_km": point.range_km,
        "launch_power_w": launch.power_w,
        "launch_current_a": launch.cell_a * pack.parallel,
        "launch_cell_current_a": launch.cell_a,
        "launch_cell_v": launch.cell_v,
        "burst_s": pack.cell.burst_s,
        "climb_speed_m_s": point.climb_speed_m_s,
        "climb_continuous_m_s": point.end.continuous.climb_m_s,
        "climb_burst_m_s": point.end.burst.climb_m_s,
        "climb_full_power_m_s": point.end.full_power.climb_m_s,
        "throttle_cap_pct": cap("continuous"),
        "burst_throttle_cap_pct": cap("burst"),
    }


def state_figures(design: Design[FixedWing], point: WingPoint, state: WingState) -> Told:
    """The figures of one state of the pack by name."""
    return {
        "depth_pct": 100.0 * state.depth_of_discharge,
        "rest_cell_v": state.open_circuit_v,
        "cruise_cell_v": state.steady_v,
        "cruise_cell_current_a": state.steady_a,
        "continuous_climb_m_s": state.continuous.climb_m_s,
        "continuous_throttle_pct": state.continuous.throttle_pct,
        "burst_climb_m_s": state.burst.climb_m_s,
        "burst_throttle_pct": state.burst.throttle_pct,
        "full_power_climb_m_s": state.full_power.climb_m_s,
        "full_power_cell_current_a": state.full_power.cell_a,
        "full_power_cell_v": state.full_power.cell_v,
    }


def extra(design: Design[FixedWing], point: WingPoint) -> dict[str, Any]:
    """Nothing that a fixed wing alone has."""
    return {}


@dataclass(frozen=True)
class _Flier:
    """A fixed wing with its pack, for a mission."""

    design: Design[FixedWing]
    point: WingPoint
    allowances: Allowances

    @property
    def power(self) -> FlightPower:
        """By the drag polar, allowances put in."""
        craft, flight, allowances = self.design.craft, self.design.flight, self.allowances
        flown = replace(
            craft,
            motor_efficiency=craft.motor_efficiency / allowances.power_factor,
            avionics_w=craft.avionics_w * allowances.avionics_factor,
        )
        density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
        return WingPower(flown, density, self.full_power_w(0.0))

    @property
    def speed_caution(self) -> str:
        """None: the polar holds at any speed above the stall."""
        return ""

    def airspeed_m_s(self, kind: str) -> float:
        """Slow in loiter and climb, with the stall margin kept; else the plan's cruise."""
        slow = kind in ("climb", "loiter")
        return float(self.point.climb_speed_m_s if slow else self.point.cruise_m_s)

    def full_power_w(self, depth_of_discharge: float) -> float:
        """At full power, straight between the states of the pack."""
        states = (self.point.full, self.point.half, self.point.end)
        watts = [float(s.full_power.power_w) for s in states]
        return float(
            np.interp(depth_of_discharge, [float(s.depth_of_discharge) for s in states], watts)
        )


def flier(design: Design[FixedWing], point: WingPoint, allowances: Allowances) -> Flier:
    """The craft with its pack as a mission flies it."""
    return _Flier(design, point, allowances)
