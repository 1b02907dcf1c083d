"""The operating point of a fixed wing: mass to drag to power to current to minutes and kilometres."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Self

import numpy as np

from workbook.battery.discharge import PowerRun, voltage_under_power
from workbook.craft.air import STANDARD_DENSITY_KG_M3, density_kg_m3
from workbook.craft.climb import SLOWEST, USUAL, Propellers, StreamPoint, at_airspeed, stream_of
from workbook.craft.craft_types import FixedWing
from workbook.craft.rotor import NEWTONS_PER_GRAM_FORCE
from workbook.craft.voltage import drive_for
from workbook.craft.wing import STALL_MARGIN, WingSpeeds, level_flight, wing_speeds
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number, held_once
from workbook.sizing.conditions import derate
from workbook.sizing.design import BEST_ENDURANCE, BEST_RANGE, Allowances, Design
from workbook.sizing.operating_point import (
    NO_ALLOWANCES,
    CraftLoad,
    CurrentLimitedPoint,
    OperatingPoint,
    State,
    row_of,
    shared_property,
)

TURN_LOAD = np.sqrt(2.0).item()
"""Lift over weight in the turn that a wing must be able to hold, banked by 45 degrees; its stall speed is then
1.19 times that of level flight. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class CurrentLimitedPower(CurrentLimitedPoint):
    """What one limit of current, or full throttle, lets a wing do at one state of the pack.

    Attributes:
        power_w: what the pack then gives.

    Its throttle is that at rest. Where full throttle does not reach a limit, its ceiling is full throttle.
    """

    power_w: FloatArray
    climb: Callable[[Propellers], FloatArray] = field(repr=False, compare=False)

    def row(self, number: int) -> Self:
        """The same of one state of three."""

        def climb(kind: Propellers) -> FloatArray:
            climbs = self.climb_m_s if kind is SLOWEST else self.usual_climb_m_s
            return np.asarray(row_of(climbs, number))

        return replace(super().row(number), climb=climb)

    @cached_property
    def climb_m_s(self) -> FloatArray:
        """Rate of climb that it pays for, at the climb speed of the point; below 0 it sinks.

        With the slowest propeller of its size, so that it can be counted on. NaN where no thrust table and
        propeller's size give what is left of the thrust in the air.
        """
        return self.climb(SLOWEST)

    @cached_property
    def usual_climb_m_s(self) -> FloatArray:
        """The same with the usual propeller of its size: what is expected."""
        return self.climb(USUAL)


@dataclass(frozen=True, eq=False)
class WingLoad(CraftLoad[FixedWing]):
    """A fixed wing with its allowances put in.

    Attributes:
        density: of the air, kg/m3.
        speeds: stall, best-endurance and best-range speeds; the last with the electronics counted.
        cruise_m_s: airspeed of the plan.
        climb_speed_m_s: airspeed of least power that keeps the stall margin; climbs are flown at it.
    """

    density: Number
    speeds: WingSpeeds
    cruise_m_s: FloatArray
    climb_speed_m_s: FloatArray

    @property
    def motors(self) -> Number:
        """Number of motors."""
        return self.craft.motors

    @cached_property
    def motors_w(self) -> FloatArray:
        """All motors in cruise; NaN below the stall."""
        return self.level_w(self.cruise_m_s)

    @property
    def density_ratio(self) -> FloatArray:
        """Of the air over the standard's."""
        return np.asarray(self.density) / STANDARD_DENSITY_KG_M3

    def level_w(self, airspeed_m_s: Number) -> FloatArray:
        """Electrical power of the motors in level flight; NaN below the stall."""
        level = level_flight(self.craft.polar, self.all_up_mass_g, airspeed_m_s, self.density)
        drive = self.craft.drive_efficiency
        return np.asarray(level.drag_power_w / drive * self.allowances.power_factor)

    def turn_w(self, airspeed_m_s: Number) -> FloatArray:
        """What the pack gives in a level turn at `TURN_LOAD`; NaN where the wing stalls in it."""
        mass_g = self.all_up_mass_g * TURN_LOAD
        turn = level_flight(self.craft.polar, mass_g, airspeed_m_s, self.density)
        motors_w = turn.drag_power_w / self.craft.drive_efficiency * self.allowances.power_factor
        return np.asarray(motors_w + self.avionics_w)

    def climb_m_s(
        self, power_w: FloatArray, pack_v: FloatArray, kind: Propellers = SLOWEST
    ) -> FloatArray:
        """Rate of climb within a pack power and full throttle, or the throttle cap.

        Thrust less drag lifts the weight; and never more than the power left over level flight pays
        for at the efficiencies stated. NaN without a thrust table or the propeller's size.
        """
        weight = self.all_up_mass_g / 1000 * STANDARD_GRAVITY_M_S2
        speed, taken = self.climb_speed_m_s, self.allowances.power_factor
        thrust_n = self.in_flight(speed, pack_v, power_w, kind).thrust_gf * NEWTONS_PER_GRAM_FORCE
        level = level_flight(self.craft.polar, self.all_up_mass_g, speed, self.density)
        by_thrust = np.minimum((thrust_n - level.drag_n * taken) / weight, 1.0) * speed
        motors_w = (power_w - self.avionics_w) * self.allowances.thrust_factor
        spare = motors_w - self.level_w(speed)
        by_power = spare * self.craft.drive_efficiency / taken / weight
        return np.asarray(np.minimum(by_thrust, by_power))

    def in_flight(
        self,
        airspeed_m_s: Number,
        pack_v: FloatArray,
        power_w: Number = np.inf,
        kind: Propellers = SLOWEST,
    ) -> StreamPoint:
        """The most thrust and power of all motors at an airspeed, full throttle or the cap kept.

        Args:
            airspeed_m_s: through the air.
            pack_v: of the pack.
            power_w: what the pack may give, electronics included.
            kind: of its size: the slowest propeller, on which limits count, or the usual one.

        Returns:
            NaN without a thrust table, its full throttle, or the propeller's size.
        """
        table, motors = self.craft.table, self.craft.motors
        stream = None if table is None else stream_of(table.propeller, kind)
        if table is None or stream is None:
            unknown = np.full(np.broadcast(pack_v, airspeed_m_s, power_w).shape, np.nan)
            return StreamPoint(unknown, lambda: unknown)
        drive, ratio = drive_for(table), self.density_ratio
        throttle_gf = self.at_throttle_cap(drive, pack_v, ratio).thrust_gf
        motor_w = (power_w - self.avionics_w) / motors
        one = at_airspeed(drive, stream, airspeed_m_s, throttle_gf, motor_w, ratio)
        thrust = one.thrust_gf * motors * self.allowances.thrust_factor
        return StreamPoint(
            np.asarray(thrust), lambda: np.asarray(one.power_w * motors + self.avionics_w)
        )

    @property
    def stated_launch_w(self) -> FloatArray:
        """What the pack gives in launch by mass, where there is no thrust table."""
        motors_w = self.all_up_mass_g / 1000 * self.craft.launch_w_per_kg
        return np.asarray(motors_w + self.avionics_w)

    def static_throttle_pct(self, power_w: FloatArray, pack_v: FloatArray) -> FloatArray:
        """Throttle at rest for a pack power; 100 where full throttle asks for less."""
        if self.craft.table is None:
            return np.full(np.shape(power_w), np.nan)
        motor_w = (power_w - self.avionics_w) / self.craft.motors
        driven = drive_for(self.craft.table).at_power(motor_w, pack_v, self.density_ratio)
        return np.minimum(driven.throttle_pct, 100.0)


@dataclass(frozen=True, eq=False)
class WingState(State[WingLoad, CurrentLimitedPower, CurrentLimitedPower]):
    """A fixed wing and its pack at one depth of discharge; steady flight is cruise."""

    @shared_property
    def full_throttle(self) -> CurrentLimitedPower:
        """At launch power, or at the throttle cap."""
        load, pack = self.load, self.load.pack
        table = load.craft.table
        if table is None:
            power_w = load.stated_launch_w
            cell_v = voltage_under_power(
                self.open_circuit_v, self.resistance_mohm, power_w / pack.cells
            )
            power_w = power_w + 0.0 * cell_v  # none where the pack cannot give it
        else:
            cell_v, motor = self.sagged(drive_for(table), load.cap_pct, load.density_ratio)
            power_w = np.asarray(motor.power_w * load.motors + load.avionics_w)
        cap_pct = np.minimum(load.flight.throttle_cap_pct, 100.0) + 0.0 * cell_v
        return CurrentLimitedPower(
            np.asarray(power_w / pack.cells / cell_v),
            cell_v,
            lambda: np.asarray(cap_pct),
            power_w,
            lambda kind: load.climb_m_s(power_w, cell_v * pack.series, kind),
        )

    def reserve_within(self, limit_a: Number) -> FloatArray:
        """Climb at the throttle cap and within a limit of the cell's current."""
        climbs = (self.limited(limit_a).climb_m_s, self.full_throttle.climb_m_s)
        return np.asarray(np.minimum(*climbs))

    def limited(self, limit_a: Number) -> CurrentLimitedPower:
        """What a limit of the cell's current lets the craft do."""
        load, full, limit = self.load, self.full_throttle, self.below_cutoff_a(limit_a)
        free = full.cell_a <= limit
        cell_a = np.where(free, full.cell_a, limit)
        cell_v = self.open_circuit_v - cell_a * self.resistance_mohm / 1000.0
        power_w = np.asarray(cell_v * cell_a * load.pack.cells)

        def throttle() -> FloatArray:
            static = load.static_throttle_pct(power_w, cell_v * load.pack.series)
            return np.where(free, full.throttle_pct + 0.0 * static, static)

        def climb(kind: Propellers) -> FloatArray:
            # climbing takes less than full throttle at rest, so the pack has this voltage at least
            pack_v = np.maximum(cell_v, full.cell_v) * load.pack.series
            return load.climb_m_s(power_w, pack_v, kind)

        return CurrentLimitedPower(cell_a, cell_v, throttle, power_w, climb)

    def in_flight(self, airspeed_m_s: Number) -> StreamPoint:
        """The most thrust and power of all motors at an airspeed, at full throttle or its cap."""
        pack_v = self.full_throttle.cell_v * self.load.pack.series
        return self.load.in_flight(airspeed_m_s, pack_v)

    @shared_property
    def in_cruise(self) -> StreamPoint:
        """The same at cruise speed."""
        return self.in_flight(self.load.cruise_m_s)


@dataclass(frozen=True, eq=False)
class WingCurrents:
    """Currents of one design, which people mix up. In amperes, of the whole pack.

    Attributes:
        cruise_a: mean of the flight.
        launch_a: full throttle from the full pack.
        bench_full_a: all motors, full-throttle row of the static table; NaN without a table.
        bench_full_v: at which that row was taken.
        cruise_thrust_gf: drag in cruise, of one motor.
        bench_at_thrust_a: all motors, what the static table says of that thrust; NaN outside its rows.
    """

    cruise_a: float
    launch_a: float
    bench_full_a: float
    bench_full_v: float
    cruise_thrust_gf: float
    bench_at_thrust_a: float


@dataclass(frozen=True, eq=False)
class WingPoint(OperatingPoint[WingLoad, WingState]):
    """Cruise in figures.

    Attributes:
        lift_over_drag: in cruise.
    """

    lift_over_drag: FloatArray

    @property
    def longest_min(self) -> FloatArray:
        """At the speed of best endurance."""
        return np.asarray(self._best_flights_s[0] / 60.0)

    @property
    def farthest_km(self) -> FloatArray:
        """At the speed of best range."""
        return np.asarray(self._best_flights_s[1] * self.speeds.range_m_s / 1000.0)

    @cached_property
    def _best_flights_s(self) -> FloatArray:
        """The flights at the speeds of best endurance and of best range."""
        load, speeds = self.load, self.speeds
        best_m_s = np.stack(np.broadcast_arrays(speeds.endurance_m_s, speeds.range_m_s))
        return load.discharge(load.level_w(best_m_s) + load.avionics_w).time_s

    @property
    def speeds(self) -> WingSpeeds:
        """Stall, best-endurance and best-range speeds."""
        return self.load.speeds

    @property
    def cruise_m_s(self) -> FloatArray:
        """Airspeed of the plan."""
        return self.load.cruise_m_s

    @property
    def climb_speed_m_s(self) -> FloatArray:
        """Airspeed of least power that keeps the stall margin; climbs are flown at it."""
        return self.load.climb_speed_m_s

    @property
    def range_km(self) -> FloatArray:
        """Of the plan, from full, in still air."""
        return np.asarray(self.endurance_min * 60.0 * self.cruise_m_s / 1000.0)

    @property
    def energy_wh_km(self) -> FloatArray:
        """For one kilometre in still air."""
        return np.asarray(self.power_w / (3.6 * self.cruise_m_s))

    def over_ground_km(self, headwind_m_s: float) -> float:
        """Distance over ground of a single plan against a steady wind; 0 where there is no headway."""
        ground = max(float(self.cruise_m_s) - headwind_m_s, 0.0)
        return float(self.endurance_min) * 60.0 * ground / 1000.0

    def ground_energy_wh_km(self, headwind_m_s: float) -> float:
        """Energy for a kilometre over ground in a single plan's cruise; NaN without headway."""
        ground = float(self.cruise_m_s) - headwind_m_s
        return float(self.power_w) / (3.6 * ground) if ground > 0 else np.nan

    def currents(self) -> WingCurrents:
        """Cruise, launch and bench of a single design."""
        table, motors, nan = self.load.craft.table, float(self.load.motors), np.nan
        thrust_gf = float(self.all_up_mass_g / self.lift_over_drag / motors)
        full_a = full_v = at_thrust = nan
        if table is not None:
            full_a, full_v = float(table.current_a[-1]) * motors, float(table.voltage_v[-1])
            row_a = np.interp(thrust_gf, table.thrust_gf, table.current_a, left=nan, right=nan)
            at_thrust = float(row_a) * motors
        return WingCurrents(
            cruise_a=float(self.mean_current_a),
            launch_a=float(self.full.full_throttle.cell_a * self.load.pack.parallel),
            bench_full_a=full_a,
            bench_full_v=full_v,
            cruise_thrust_gf=thrust_gf,
            bench_at_thrust_a=at_thrust,
        )

    @property
    def reserve(self) -> FloatArray:
        """Rate of climb left at the end, with the slowest propeller of its size."""
        return np.asarray(np.minimum(self.end.burst.climb_m_s, self.end.full_throttle.climb_m_s))


def _asked_speed(asked: Number | str, speeds: WingSpeeds, slowest_m_s: FloatArray) -> FloatArray:
    """The cruise speed asked for; one asked by name is no slower than the stall margin allows."""
    if not isinstance(asked, str):
        return np.asarray(asked, dtype=float) + 0.0 * speeds.stall_m_s
    named = {BEST_RANGE: speeds.range_m_s, BEST_ENDURANCE: speeds.endurance_m_s}[asked]
    return np.maximum(named, slowest_m_s)


def wing_load(design: Design[FixedWing], allowances: Allowances = NO_ALLOWANCES) -> WingLoad:
    """A fixed wing, or arrays of them, with allowances put in: mass and power, before any discharge."""
    craft, flight = design.craft, design.flight
    allowances = derate(flight, allowances, design.pack.cell.model)
    density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
    mass_g = craft.all_up_mass_g(design.pack.mass_g) * allowances.mass_factor
    avionics_w = np.asarray(craft.avionics_w * allowances.avionics_factor, dtype=float)
    speeds = wing_speeds(craft.polar, mass_g, density, avionics_w * craft.drive_efficiency)
    slowest = STALL_MARGIN * speeds.stall_m_s
    return WingLoad(
        design,
        allowances,
        np.asarray(mass_g, dtype=float),
        avionics_w,
        density,
        speeds,
        _asked_speed(flight.cruise_m_s, speeds, slowest),
        np.maximum(speeds.endurance_m_s, slowest),
    )


def wing_point(
    design: Design[FixedWing],
    allowances: Allowances = NO_ALLOWANCES,
    run: PowerRun | None = None,
) -> WingPoint:
    """Work out the operating point of a fixed-wing design, or of arrays of designs.

    Args:
        design: the design; any of its figures may be an array.
        allowances: factors on the plan's figures, neutral by default; arrays too.
        run: its steady flight where it is known already.

    Returns:
        The operating point. Below the stall nothing flies: figures are NaN.

    Source: drag polar (Anderson, Introduction to Flight, chapter 6, from memory); constant-power
        discharge of a source with a resistance; the rest is arithmetic.
    """
    load = wing_load(design, allowances)
    power_w = load.power_w
    if run is None:
        run = load.discharge(power_w)
    level = level_flight(design.craft.polar, load.all_up_mass_g, load.cruise_m_s, load.density)
    end = held_once(np.asarray(run.end_depth_of_discharge, dtype=float))
    return WingPoint(
        load,
        run,
        *WingState.of_flight(load, end, power_w),
        lift_over_drag=level.lift_over_drag,
    )
