"""The operating point of a fixed wing: mass to drag to power to current to minutes and kilometres.

Everything broadcasts: a design whose figures are arrays gives a point of arrays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from workbook.battery.discharge import PowerRun, constant_power, voltage_under_power
from workbook.craft.air import STANDARD_DENSITY_KG_M3, density_kg_m3
from workbook.craft.craft_types import FixedWing
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.voltage import POWER_THRUST_EXPONENT, DrivePoint, drive_for
from workbook.craft.wing import WingSpeeds, level_flight, wing_speeds
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number
from workbook.sizing.conditions import end_temperature_c, in_conditions
from workbook.sizing.design import BEST_ENDURANCE, BEST_RANGE, Allowances, Design

STALL_MARGIN = 1.2
"""Least cruise speed over stall speed, for gusts and turns. Common practice, no source."""

NO_ALLOWANCES = Allowances()


@dataclass(frozen=True)
class WingCeiling:
    """What one limit of current, or full power, lets the craft do at one state of the pack.

    Attributes:
        cell_a, cell_v: of one cell.
        power_w: what the pack then gives.
        climb_m_s: rate of climb that it pays for, at the climb speed of the point; below 0 it sinks.
        throttle_pct: throttle at rest that asks for it; NaN without a thrust table that has throttle.

    Where full power does not reach a limit of current, its ceiling is full power.
    """

    cell_a: FloatArray
    cell_v: FloatArray
    power_w: FloatArray
    climb_m_s: FloatArray
    throttle_pct: FloatArray


@dataclass(frozen=True)
class WingState:
    """The craft and its pack at one depth of discharge.

    Attributes:
        depth_of_discharge: depth of discharge, 0 full to 1 empty.
        open_circuit_v: cell voltage at rest.
        resistance_mohm: of one cell, with its share of the joints.
        steady_v, steady_a: cell voltage and current in cruise.
        continuous, burst: ceilings at the two current limits.
        full_power: at launch power, or at the throttle cap.
    """

    depth_of_discharge: FloatArray
    open_circuit_v: FloatArray
    resistance_mohm: FloatArray
    steady_v: FloatArray
    steady_a: FloatArray
    continuous: WingCeiling
    burst: WingCeiling
    full_power: WingCeiling


@dataclass(frozen=True)
class WingPoint:
    """The answer in figures. All of the design's shape; NaN where it cannot fly.

    Attributes:
        all_up_mass_g: craft, payload and pack.
        speeds: stall, best-endurance and best-range speeds; the last with the electronics counted.
        cruise_m_s: airspeed of the plan; lift_over_drag: there.
        climb_speed_m_s: airspeed of least power that keeps the stall margin; climbs are flown at it.
        motors_w: all motors in cruise; avionics_w: the rest; power_w: the pack's load.
        cell_power_w: the same per cell.
        run: the constant-power discharge of one cell down to the end of the flight.
        endurance_min, range_km: of the plan, from full, in still air.
        longest_min: at the speed of best endurance; farthest_km: at that of best range.
        mean_current_a: pack current, mean over the flight.
        c_rate: mean current over the pack's rated capacity, 1/h (It in IEC 61960-3).
        end_cell_c: temperature inside the hottest cell at the end of cruise.
        energy_wh_km: for one kilometre in still air.
        full, half, end: the pack full, half way to the end of the flight, and at its end.
    """

    all_up_mass_g: FloatArray
    speeds: WingSpeeds
    cruise_m_s: FloatArray
    lift_over_drag: FloatArray
    climb_speed_m_s: FloatArray
    motors_w: FloatArray
    avionics_w: FloatArray
    power_w: FloatArray
    cell_power_w: FloatArray
    run: PowerRun
    endurance_min: FloatArray
    range_km: FloatArray
    longest_min: FloatArray
    farthest_km: FloatArray
    mean_current_a: FloatArray
    c_rate: FloatArray
    end_cell_c: FloatArray
    energy_wh_km: FloatArray
    full: WingState
    half: WingState
    end: WingState


def best_speeds_powered(
    craft: FixedWing, mass_g: Number, density: Number, avionics_w: Number
) -> WingSpeeds:
    """Stall, best-endurance and best-range speeds in still air, the electronics counted.

    The electronics draw the same at any speed, so the speed of least power is that of the wing
    alone, while the speed of least energy per distance rises: with D = a V^2 + b / V^2 it is the
    root of 2 a V^4 - A e V - 2 b = 0, A the electronics and e the drive's efficiency.

    Source: Anderson, Introduction to Flight, chapter 6 (from memory); the root by Newton's method.

    Example:
        >>> from workbook.craft.wing import Polar
        >>> heron = FixedWing(
        ...     name="heron",
        ...     motors=1,
        ...     mass_without_pack_g=1600.0,
        ...     payload_g=250.0,
        ...     avionics_w=8.0,
        ...     polar=Polar(0.4, 2.0, 0.03, 0.8, 1.2),
        ... )
        >>> speeds = best_speeds_powered(heron, 2500.0, 1.225, 8.0)
        >>> float(speeds.endurance_m_s), float(speeds.range_m_s)
        (9.132, 11.273)
    """
    polar = craft.polar
    wing = wing_speeds(polar, mass_g, density)
    weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
    area = 0.5 * np.asarray(density) * polar.wing_area_m2
    a, b = area * polar.zero_lift_drag, polar.induced_factor * weight**2 / area
    electronics = np.asarray(avionics_w) * craft.drive_efficiency
    speed = (b / a) ** 0.25 + np.cbrt(electronics / (2 * a))  # above the root: from here it falls
    for _ in range(60):
        step = (2 * a * speed**4 - electronics * speed - 2 * b) / (8 * a * speed**3 - electronics)
        speed = speed - step
        if np.all(~(np.abs(step) > 1e-13 * speed)):
            break
    return WingSpeeds(wing.stall_m_s, wing.endurance_m_s, np.maximum(speed, wing.stall_m_s))


@dataclass(frozen=True)
class _Case:
    """A design with its allowances put in, as the steps below use it."""

    design: Design[FixedWing]
    allowances: Allowances
    density: Number
    mass_g: Number
    avionics_w: Number
    extra_mohm: Number
    climb_speed_m_s: FloatArray

    def level_w(self, speed_m_s: Number) -> FloatArray:
        """Electrical power of the motors in level flight; NaN below the stall."""
        craft = self.design.craft
        level = level_flight(craft.polar, self.mass_g, speed_m_s, self.density)
        return np.asarray(
            level.drag_power_w / craft.drive_efficiency * self.allowances.power_factor
        )

    def climb_m_s(self, power_w: FloatArray) -> FloatArray:
        """Rate of climb that a pack power pays for: what is left over level flight lifts the weight."""
        craft = self.design.craft
        weight = np.asarray(self.mass_g) / 1000 * STANDARD_GRAVITY_M_S2
        motors_w = (power_w - self.avionics_w) * self.allowances.thrust_factor
        spare = motors_w - self.level_w(self.climb_speed_m_s)
        return np.asarray(spare * craft.drive_efficiency / self.allowances.power_factor / weight)

    def launch_point(self, table: ThrustTable, pack_v: FloatArray) -> DrivePoint:
        """One motor at the throttle cap, at rest, full throttle where the table ends below it."""
        cap = np.asarray(self.design.flight.throttle_cap_pct)
        ratio = np.asarray(self.density) / STANDARD_DENSITY_KG_M3
        drive = drive_for(table)
        if np.all(cap >= (table.throttle_pct[-1] if table.has_throttle else 100.0)):
            return drive.full_throttle(pack_v, ratio)
        return drive.at_throttle(cap, pack_v, ratio)

    def launch_w(self, pack_v: FloatArray) -> FloatArray:
        """What the pack gives at launch, full power: static table where there is one, else by mass."""
        craft = self.design.craft
        if craft.table is not None:
            motors = self.launch_point(craft.table, pack_v).power_w * craft.motors
        else:
            motors = np.asarray(self.mass_g) / 1000 * craft.launch_w_per_kg
        return np.asarray(motors + self.avionics_w + 0.0 * pack_v)

    def static_throttle_pct(self, power_w: FloatArray, pack_v: FloatArray) -> FloatArray:
        """Throttle at rest for a pack power; 100 where full throttle asks for less."""
        craft = self.design.craft
        if craft.table is None or not craft.table.has_throttle:
            return np.full(np.shape(power_w), np.nan)
        ratio = np.asarray(self.density) / STANDARD_DENSITY_KG_M3
        motor_w = (power_w - self.avionics_w) / craft.motors
        full = drive_for(craft.table).full_throttle(pack_v, ratio).power_w
        asked_w, top_w = np.maximum(motor_w, 1e-9) * np.sqrt(ratio), craft.table.power_w[-1]
        thrust = craft.table.thrust_at_power(np.minimum(asked_w, top_w))
        thrust = thrust * np.maximum(asked_w / top_w, 1.0) ** (1.0 / POWER_THRUST_EXPONENT)
        throttle = drive_for(craft.table).throttle_for_thrust(thrust, pack_v, ratio)
        return np.where(motor_w >= full, 100.0, np.minimum(throttle, 100.0))


def _sagged(
    u: FloatArray, r_mohm: FloatArray, cells: Number, watts: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Cell voltage at which the load, itself falling with voltage, and the sag agree: halving."""
    low, high = 0.05 * u, u
    for _ in range(50):
        middle = 0.5 * (low + high)
        above = u - watts(middle) / cells / middle * r_mohm / 1000.0 > middle
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return 0.5 * (low + high)


def _state(case: _Case, depth: FloatArray, cell_w: FloatArray) -> WingState:
    pack, flight = case.design.pack, case.design.flight
    model = pack.cell.model
    u = model.open_circuit_at(depth)
    r_mohm = model.resistance_at(depth) * case.allowances.resistance_factor + case.extra_mohm
    u, r_mohm, _ = np.broadcast_arrays(u, r_mohm, cell_w)
    steady_v = voltage_under_power(u, r_mohm, cell_w)

    if case.design.craft.table is None:
        full_v = voltage_under_power(u, r_mohm, case.launch_w(u * pack.series) / pack.cells)
    else:
        full_v = _sagged(u, r_mohm, pack.cells, lambda v: case.launch_w(v * pack.series))
    full_w = case.launch_w(full_v * pack.series)
    full = WingCeiling(
        np.asarray(full_w / pack.cells / full_v),
        full_v,
        full_w,
        case.climb_m_s(full_w),
        np.asarray(np.minimum(flight.throttle_cap_pct, 100.0) + 0.0 * full_v),
    )

    def at_current(limit_a: Number) -> WingCeiling:
        cutoff_a = (u - pack.cell.cutoff_v) / r_mohm * 1000.0
        limit = np.maximum(np.minimum(limit_a, cutoff_a), 0.0)
        free = full.cell_a <= limit  # full power does not reach the limit
        cell_a = np.where(free, full.cell_a, limit)
        cell_v = u - cell_a * r_mohm / 1000.0
        power_w = np.asarray(cell_v * cell_a * pack.cells)
        throttle = case.static_throttle_pct(power_w, cell_v * pack.series)
        return WingCeiling(
            cell_a,
            cell_v,
            power_w,
            case.climb_m_s(power_w),
            np.where(free, full.throttle_pct + 0.0 * throttle, throttle),
        )

    share = np.asarray(flight.continuous_share_pct) / 100.0
    return WingState(
        depth,
        u,
        r_mohm,
        steady_v,
        np.asarray(cell_w / steady_v),
        at_current(pack.cell.continuous_a * share),
        at_current(pack.cell.burst_a),
        full,
    )


def _asked_speed(asked: Number | str, speeds: WingSpeeds, slowest_m_s: FloatArray) -> FloatArray:
    """The cruise speed asked for; one asked by name is no slower than the stall margin allows."""
    if not isinstance(asked, str):
        return np.asarray(asked, dtype=float) + 0.0 * speeds.stall_m_s
    named = {BEST_RANGE: speeds.range_m_s, BEST_ENDURANCE: speeds.endurance_m_s}[asked]
    return np.maximum(named, slowest_m_s)


def operate_wing(design: Design[FixedWing], allowances: Allowances = NO_ALLOWANCES) -> WingPoint:
    """Work out the operating point of a fixed-wing design, or of arrays of designs.

    Args:
        design: the design; any of its figures may be an array.
        allowances: factors on the plan's figures, neutral by default; arrays too.

    Returns:
        The operating point. Below the stall nothing flies: figures are NaN.

    Source: drag polar (Anderson, Introduction to Flight, chapter 6, from memory); constant-power
        discharge of a source with a resistance; the rest is arithmetic.
    """
    craft, pack, flight = design.craft, design.pack, design.flight
    allowances = in_conditions(flight, allowances)
    density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
    mass_g = craft.all_up_mass_g(pack.mass_g) * allowances.mass_factor
    avionics_w = craft.avionics_w * allowances.avionics_factor
    extra_mohm = pack.joint_mohm_per_cell * allowances.joint_factor
    speeds = best_speeds_powered(craft, mass_g, density, avionics_w)
    slowest = STALL_MARGIN * speeds.stall_m_s
    cruise_m_s = _asked_speed(flight.cruise_m_s, speeds, slowest)
    climb_speed = np.maximum(speeds.endurance_m_s, slowest)
    case = _Case(design, allowances, density, mass_g, avionics_w, extra_mohm, climb_speed)
    motors_w = case.level_w(cruise_m_s)

    def fly(power_w: FloatArray) -> PowerRun:
        return constant_power(
            pack.cell.model,
            power_w / pack.cells,
            flight.landing_v,
            1.0 - np.asarray(flight.reserve_pct) / 100.0,
            extra_mohm=extra_mohm,
            resistance_factor=allowances.resistance_factor,
            capacity_factor=allowances.capacity_factor,
        )

    power_w = np.asarray(motors_w + avionics_w)
    cell_w = np.asarray(power_w / pack.cells)
    run = fly(power_w)
    minutes = np.asarray(run.time_s) / 60.0
    longest = fly(case.level_w(speeds.endurance_m_s) + avionics_w)
    farthest = fly(case.level_w(speeds.range_m_s) + avionics_w)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_a = run.charge_ah * pack.parallel / (np.asarray(run.time_s) / 3600.0)
    end_depth = np.asarray(run.end_depth_of_discharge, dtype=float)
    half = _state(case, end_depth / 2.0, cell_w)
    return WingPoint(
        all_up_mass_g=np.asarray(mass_g, dtype=float),
        speeds=speeds,
        cruise_m_s=cruise_m_s,
        lift_over_drag=level_flight(craft.polar, mass_g, cruise_m_s, density).lift_over_drag,
        climb_speed_m_s=climb_speed,
        motors_w=motors_w,
        avionics_w=np.asarray(avionics_w, dtype=float),
        power_w=power_w,
        cell_power_w=cell_w,
        run=run,
        endurance_min=minutes,
        range_km=np.asarray(minutes * 60.0 * cruise_m_s / 1000.0),
        longest_min=np.asarray(longest.time_s) / 60.0,
        farthest_km=np.asarray(farthest.time_s * speeds.range_m_s / 1000.0),
        mean_current_a=mean_a,
        c_rate=mean_a / pack.capacity_ah,
        end_cell_c=end_temperature_c(design, run, half.resistance_mohm, allowances),
        energy_wh_km=np.asarray(power_w / (3.6 * cruise_m_s)),
        full=_state(case, np.zeros_like(end_depth), cell_w),
        half=half,
        end=_state(case, end_depth, cell_w),
    )
