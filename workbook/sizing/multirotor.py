"""What sizing has to say of a multirotor: limits, reasons to stop, notes, figures by name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.craft.air import density_kg_m3
from workbook.craft.craft_types import Multirotor
from workbook.craft.flight_power import FlightPower, MultirotorPower
from workbook.craft.voltage import drive_for
from workbook.errors import InputError
from workbook.sizing.design import Allowances, Design
from workbook.sizing.figures import Row, Told, common_figures, pack_rows
from workbook.sizing.limit import (
    END_OF_FLIGHT,
    FULL_PACK,
    LEAST_THRUST_TO_WEIGHT,
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
from workbook.sizing.multirotor_working import lowest_throttle_pct, working
from workbook.sizing.operating_point import OperatingPoint, State, operate
from workbook.sizing.pack_allows import climb_rates, motor_out

__all__ = [
    "NAME", "ROWS", "STATE_ROWS", "extra", "figures", "flier", "limits", "notes", "operate", "state_figures", "stops",
    "working",
]  # fmt: skip

NAME: str = "multirotor"

ROWS: tuple[Row, ...] = (
    *pack_rows(),
    Row("hover_thrust_per_motor_gf", "hover thrust per motor", "gf", 0),
    Row("hover_efficiency_gf_w", "hover thrust per watt", "gf/W", 2),
    Row("hover_power_w", "hover power", "W", 1),
    Row("hover_current_a", "hover current, mean", "A", 2),
    Row("hover_current_end_a", "hover current at the end", "A", 2),
    Row("hover_c_rate", "hover C-rate, mean", "1/h", 2),
    Row("hover_throttle_full_pct", "hover throttle, full pack", "%", 0),
    Row("hover_throttle_end_pct", "hover throttle, end of flight", "%", 0),
    Row("endurance_min", "endurance", "min", 1),
    Row("landing_cell_v", "cell voltage at the end, loaded", "V", 2),
    Row("landing_rest_cell_v", "cell voltage at the end, at rest", "V", 2),
    Row("end_cell_temperature_c", "hottest cell at the end, inside", "C", 0),
    Row("lowest_hover_cell_v", "lowest cell voltage with thrust reserve", "V", 2),
    Row("thrust_ceiling_gf", "thrust ceiling, continuous current", "gf", 0),
    Row("burst_thrust_ceiling_gf", "thrust ceiling, burst current", "gf", 0),
    Row("throttle_cap_pct", "throttle cap, continuous current", "%", 0),
    Row("burst_throttle_cap_pct", "throttle cap, burst current", "%", 0),
    Row("thrust_to_weight_full", "thrust over weight, full pack", "", 2),
    Row("thrust_to_weight_end", "thrust over weight, end of flight", "", 2),
    Row("climb_continuous_m_s", "climb at the end, continuous current", "m/s", 1),
    Row("climb_burst_m_s", "climb at the end, burst current", "m/s", 1),
)

STATE_ROWS: tuple[Row, ...] = (
    Row("hover_cell_v", "cell voltage in hover", "V", 2),
    Row("hover_cell_current_a", "cell current in hover", "A", 2),
    Row("hover_throttle_pct", "hover throttle", "%", 0),
    Row("continuous_thrust_per_motor_gf", "thrust per motor, continuous current", "gf", 0),
    Row("continuous_climb_m_s", "climb, continuous current", "m/s", 1),
    Row("burst_thrust_per_motor_gf", "thrust per motor, burst current", "gf", 0),
    Row("burst_climb_m_s", "climb, burst current", "m/s", 1),
    Row("full_throttle_thrust_per_motor_gf", "thrust per motor, full throttle or cap", "gf", 0),
    Row("thrust_to_weight", "thrust over weight", "", 2),
)


def limits(design: Design[Multirotor], point: OperatingPoint) -> tuple[Limit, ...]:
    """Every limit that the design states, checked at its worst instant; of the point's shape."""
    craft, cell, flight = design.craft, design.pack.cell, design.flight
    top = point.full.full_throttle
    return (
        Limit(
            "table_thrust",
            "thrust per motor in steady flight within the thrust table",
            point.thrust_per_motor_gf,
            np.where(np.isnan(point.power_per_motor_w), np.nan, craft.table.top_thrust_gf),
            "gf",
            "The thrust table does not reach this thrust; its figures cannot be used.",
            "steady flight",
        ),
        steady_current_limit(design, point),
        Limit(
            "burst_cell_current",
            "cell current at full throttle, or at the throttle cap",
            top.cell_a,
            cell.burst_a,
            "A",
            "Full throttle would pull more than the cell's burst current; "
            "set the throttle cap given below.",
            FULL_PACK,
        ),
        Limit(
            "thrust_to_weight",
            "thrust over weight that is left",
            flight.thrust_reserve,
            point.end.thrust_to_weight,
            "",
            "Near the end the pack cannot give the asked thrust over weight.",
            END_OF_FLIGHT,
        ),
        landing_limit(design, point),
        *warmth_limits(design, point),
        Limit(
            "hover_voltage",
            "cell voltage in hover that the thrust reserve needs",
            point.lowest_hover_cell_v,
            point.run.end_v,
            "V",
            "The voltage falls below what the asked thrust reserve needs before the flight ends.",
            END_OF_FLIGHT,
        ),
        *asked_limits(design, point, top.motor_a),
    )


def stops(design: Design[Multirotor], point: OperatingPoint) -> tuple[str, ...]:
    """Reasons, in words, why a single design must not be built or flown as it stands."""
    if np.isnan(point.power_per_motor_w):
        table = design.craft.table
        return (
            f"Steady flight needs {float(point.thrust_per_motor_gf):.0f} gf per motor, outside the thrust "
            f"table ({table.thrust_gf[0]:.0f} to {table.top_thrust_gf:.0f} gf): "
            "nothing about this flight can be computed from it.",
        )
    said = no_flight_stop(design, point) + steady_current_stop(design, point)
    if point.end.thrust_to_weight < LEAST_THRUST_TO_WEIGHT:
        said.append(
            f"At the end of the flight thrust is {float(point.end.thrust_to_weight):.2f} times weight, under "
            f"{LEAST_THRUST_TO_WEIGHT:g}: the craft may not be able to stop its own descent."
        )
    return tuple(said + voltage_stops(design))


def notes(design: Design[Multirotor], point: OperatingPoint) -> tuple[str, ...]:
    """What the builder of a multirotor should know besides."""
    table = design.craft.table
    low, high = float(point.run.end_v * design.pack.series), float(design.pack.full_v)
    if np.isnan(low):
        return ()
    said = [
        f"The thrust table was taken at {float(np.nanmean(table.voltage_v)):.1f} V; this pack gives {high:.1f} V full to "
        f"{low:.1f} V under load at the end. At equal thrust the watts carry over and the current is watts over the "
        f"pack's own volts. Basis: {drive_for(table).basis}."
    ]
    if not np.isnan(point.power_per_motor_w):
        said.append(motor_out(design, point).text)
    return tuple(said)


def figures(design: Design[Multirotor], point: OperatingPoint) -> Told:
    """The figures of a single design by name; not finite where they cannot be told."""
    pack, run, rotors = design.pack, point.run, design.craft.rotors
    every = (point.full, point.half, point.end)
    ceiling = np.minimum.reduce([np.asarray(s.continuous.thrust_gf) for s in every])
    burst = np.minimum.reduce([np.asarray(s.burst.thrust_gf) for s in every])
    climb = climb_rates(design, point, point.end)
    return {
        **common_figures(design, point),
        "hover_thrust_per_motor_gf": point.thrust_per_motor_gf,
        "hover_power_per_motor_w": point.power_per_motor_w,
        "hover_efficiency_gf_w": point.thrust_per_motor_gf / point.power_per_motor_w,
        "hover_power_w": point.power_w,
        "hover_current_a": point.mean_current_a,
        "hover_current_full_a": run.start_a * pack.parallel,
        "hover_current_end_a": run.end_a * pack.parallel,
        "hover_c_rate": point.c_rate,
        "hover_cell_current_end_a": run.end_a,
        "hover_throttle_full_pct": point.full.steady_throttle_pct,
        "hover_throttle_end_pct": point.end.steady_throttle_pct,
        "lowest_hover_cell_v": point.lowest_hover_cell_v,
        "thrust_ceiling_gf": ceiling * rotors,
        "thrust_ceiling_per_motor_gf": ceiling,
        "burst_thrust_ceiling_gf": burst * rotors,
        "throttle_cap_pct": lowest_throttle_pct(point, "continuous"),
        "burst_throttle_cap_pct": lowest_throttle_pct(point, "burst"),
        "burst_s": pack.cell.burst_s,
        "full_throttle_cell_current_a": point.full.full_throttle.cell_a,
        "thrust_to_weight_full": point.full.thrust_to_weight,
        "thrust_to_weight_end": point.end.thrust_to_weight,
        "climb_continuous_m_s": climb.continuous_m_s,
        "climb_burst_m_s": climb.burst_m_s,
        "lowest_hover_binds": str(point.lowest_hover_binds),
    }


def state_figures(design: Design[Multirotor], point: OperatingPoint, state: State) -> Told:
    """The figures of one state of the pack by name."""
    climb = climb_rates(design, point, state)
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


def extra(design: Design[Multirotor], point: OperatingPoint) -> dict[str, Any]:
    """What only a multirotor has: hover with one motor out."""
    if np.isnan(point.power_per_motor_w):
        return {"motor_out": None}
    return {"motor_out": motor_out(design, point).as_dict()}


@dataclass(frozen=True)
class _Flier:
    """A multirotor with its pack, for a mission."""

    design: Design[Multirotor]
    point: OperatingPoint
    allowances: Allowances

    @property
    def power(self) -> FlightPower:
        """By thrust table and momentum theory, allowances put in."""
        craft, flight, allowances = self.design.craft, self.design.flight, self.allowances
        flown = replace(
            craft,
            flight_factor=craft.flight_factor * allowances.power_factor,
            avionics_w=craft.avionics_w * allowances.avionics_factor,
        )
        density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
        return MultirotorPower(flown, density, self.full_power_w(0.0))

    @property
    def speed_caution(self) -> str:
        """Momentum theory knows no limit of blades or tilt."""
        return (
            f"Forward flight by momentum theory with a drag area of {float(self.design.craft.drag_area_m2):g} m2: "
            "the drag of the blades is left out, so fast flight costs more than told and the best "
            "speeds are too high; keep to speeds that you have flown."
        )

    def airspeed_m_s(self, kind: str) -> float:
        """Up and down on the spot; any flight ahead states its airspeed."""
        if kind in ("climb", "descent"):
            return 0.0
        raise InputError(f"airspeed_m_s is missing; a multirotor needs it for {kind}.")

    def full_power_w(self, depth_of_discharge: float) -> float:
        """At the throttle cap, straight between the states of the pack."""
        states = (self.point.full, self.point.half, self.point.end)
        tops = [s.full_throttle for s in states]
        watts = [float(t.cell_a * t.cell_v * self.design.pack.cells) for t in tops]
        return float(
            np.interp(depth_of_discharge, [float(s.depth_of_discharge) for s in states], watts)
        )


def flier(design: Design[Multirotor], point: OperatingPoint, allowances: Allowances) -> Flier:
    """The craft with its pack as a mission flies it."""
    return _Flier(design, point, allowances)
