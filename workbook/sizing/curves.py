"""Curves for a figure: the flight from take-off to landing, and the weight spiral."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import cumulative_trapezoid

from workbook.battery.discharge import voltage_under_power
from workbook.craft.air import density_kg_m3
from workbook.craft.fixed_wing import FixedWing
from workbook.craft.mission import WingPower
from workbook.numbers import FloatArray
from workbook.sizing.conditions import in_conditions
from workbook.sizing.design import Design
from workbook.sizing.kinds import kind_of
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.wing_point import WingPoint


@dataclass(frozen=True)
class FlightTrace:
    """A cell through steady flight, arrays of shape (K,), from full to the end of the flight.

    Attributes:
        time_min: since take-off.
        cell_v, cell_a: voltage under load and current of one cell.
        rest_v: what the voltage would be at rest.
    """

    time_min: FloatArray
    cell_v: FloatArray
    cell_a: FloatArray
    rest_v: FloatArray


def flight_trace(design: Design[Any], point: Any, points: int = 80) -> FlightTrace:
    """The flight of a single design in time; its end is that of `point.run`.

    Args:
        design: a single design.
        point: its operating point; with no flight in it (outside the thrust table) all is NaN.
        points: number of points.
    """
    model = design.pack.cell.model
    taken = in_conditions(design.flight, NO_ALLOWANCES)
    end = float(np.nan_to_num(point.run.end_depth_of_discharge))
    depth = np.linspace(0.0, end, points)
    rest_v = np.interp(depth, model.depth_of_discharge, model.open_circuit_v)
    own_mohm = (
        np.interp(depth, model.depth_of_discharge, model.resistance_mohm) * taken.resistance_factor
    )
    r_mohm = own_mohm + design.pack.joint_mohm_per_cell
    cell_w = float(point.cell_power_w)
    cell_v = voltage_under_power(rest_v, r_mohm, cell_w)
    cell_a = cell_w / cell_v
    charge_ah = model.capacity_ah * taken.capacity_factor
    minutes = cumulative_trapezoid(60.0 * charge_ah / cell_a, depth, initial=0.0)
    return FlightTrace(minutes, cell_v, cell_a, rest_v)


@dataclass(frozen=True)
class Spiral:
    """The weight spiral: the same craft and cell with 1, 2, 3 ... cells in parallel, shape (K,).

    Attributes:
        parallel: cells in parallel.
        endurance_min: NaN where the thrust table does not reach.
        all_up_mass_g: with that pack.
    """

    parallel: FloatArray
    endurance_min: FloatArray
    all_up_mass_g: FloatArray

    @property
    def best_parallel(self) -> float:
        """The number in parallel with the longest endurance of those computed; NaN without any."""
        if np.all(np.isnan(self.endurance_min)):
            return float("nan")
        return float(self.parallel[np.nanargmax(self.endurance_min)])


def spiral(design: Design[Any], most_parallel: int = 12) -> Spiral:
    """Endurance and all-up mass of a single design against cells in parallel, all else equal."""
    parallel = np.arange(1.0, most_parallel + 1.0)
    point = kind_of(design).operate(design.changed(parallel=parallel))
    return Spiral(parallel, point.endurance_min, point.all_up_mass_g)


@dataclass(frozen=True)
class PowerCurve:
    """Power of a fixed wing against airspeed in level flight, electronics included, shape (K,)."""

    airspeed_m_s: FloatArray
    power_w: FloatArray

    def at(self, airspeed_m_s: float) -> float:
        """Power at an airspeed; NaN outside the curve."""
        return float(np.interp(airspeed_m_s, self.airspeed_m_s, self.power_w, np.nan, np.nan))


def power_curve(design: Design[FixedWing], point: WingPoint, points: int = 60) -> PowerCurve:
    """Power against airspeed of a single wing, from the stall to well beyond its best range speed."""
    flight = design.flight
    density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
    fastest = max(2.0 * float(point.speeds.range_m_s), 1.2 * float(point.cruise_m_s))
    airspeed = np.linspace(float(point.speeds.stall_m_s), fastest, points)
    power = WingPower(design.craft, density).flight_w(point.all_up_mass_g, airspeed)
    return PowerCurve(airspeed, np.asarray(power))
