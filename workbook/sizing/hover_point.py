"""The operating point of a multirotor: mass to thrust to power to current to minutes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from workbook.battery.discharge import PowerRun, voltage_under_power
from workbook.craft.air import density_ratio
from workbook.craft.craft_types import HoverPower, Multirotor
from workbook.craft.voltage import Drive, DrivePoint, drive_for
from workbook.numbers import FloatArray, Number, held_once
from workbook.sizing.conditions import derate
from workbook.sizing.design import Allowances, Design
from workbook.sizing.operating_point import (
    NO_ALLOWANCES,
    CellPoint,
    CraftLoad,
    CurrentLimitedPoint,
    OperatingPoint,
    State,
    shared_property,
)


@dataclass(frozen=True, eq=False)
class HoverLoad(CraftLoad[Multirotor]):
    """A multirotor with its allowances put in.

    Attributes:
        drive: one motor with its propeller.
        density_ratio: of the air over the standard's.
        hover: what hover asks for by the thrust table.
    """

    drive: Drive
    density_ratio: Number
    hover: HoverPower

    @property
    def motors(self) -> Number:
        """One a rotor."""
        return self.craft.rotors

    @cached_property
    def motors_w(self) -> FloatArray:
        """All motors in hover; NaN outside the thrust table."""
        return np.asarray(self.hover.motors_w * self.allowances.power_factor)

    @property
    def thrust_per_motor_gf(self) -> FloatArray:
        """In hover."""
        return np.asarray(self.all_up_mass_g / self.craft.rotors, dtype=float)

    @property
    def flight_power_factor(self) -> Number:
        """Watts in flight over watts on the bench at equal thrust."""
        return self.craft.flight_factor * self.allowances.power_factor

    @property
    def thrust_kept(self) -> Number:
        """Thrust in flight over that on the bench at equal throttle.

        The watts of a throttle are the same; where equal thrust costs f times the watts, equal
        watts give f^(-2/3) of the thrust (momentum theory, power as thrust^1.5).
        """
        kept = np.asarray(self.flight_power_factor) ** (-2.0 / 3.0)
        return np.asarray(kept * self.allowances.thrust_factor)[()]

    def at_cap(self, pack_v: FloatArray) -> DrivePoint:
        """One motor at the throttle cap."""
        return self.at_throttle_cap(self.drive, pack_v, self.density_ratio)

    def throttle_pct(self, thrust_gf: FloatArray, pack_v: FloatArray) -> FloatArray:
        """Throttle for a thrust; NaN where the table has no throttle column."""
        bench_gf = thrust_gf / self.thrust_kept
        return self.drive.throttle_for_thrust(bench_gf, pack_v, self.density_ratio)


@dataclass(frozen=True, eq=False)
class CurrentLimitedThrust(CurrentLimitedPoint):
    """What one limit of current lets a multirotor do.

    Attributes:
        thrust_gf: thrust per motor; NaN above the thrust table where its full throttle is not known.
    """

    thrust_gf: FloatArray


@dataclass(frozen=True, eq=False)
class FullThrottle(CellPoint):
    """A multirotor at its throttle cap, the pack sagging under it.

    Attributes:
        thrust_gf: thrust per motor.
    """

    thrust_gf: FloatArray


@dataclass(frozen=True, eq=False)
class HoverState(State[HoverLoad, CurrentLimitedThrust, FullThrottle]):
    """A multirotor and its pack at one depth of discharge; steady flight is hover."""

    @shared_property
    def steady_throttle_pct(self) -> FloatArray:
        """Throttle of hover; infinite beyond full throttle, NaN where it is not known."""
        thrust = self.load.thrust_per_motor_gf + 0.0 * self.steady_v
        return np.asarray(self.load.throttle_pct(thrust, self.steady_v * self.load.pack.series))

    @shared_property
    def full_throttle(self) -> FullThrottle:
        """At the throttle cap, full throttle without one."""
        return self._settled(capped=True)

    @shared_property
    def uncapped(self) -> FullThrottle:
        """At full throttle, whatever the throttle cap."""
        return self._settled(capped=False)

    @cached_property
    def available_thrust_gf(self) -> FloatArray:
        """Thrust per motor that cap and burst limit both allow.

        Where the cap keeps the burst current it is the cap's, whatever lies above it.
        """
        capped = self.full_throttle
        allowed_a = self.below_cutoff_a(self.load.pack.cell.burst_a)
        kept = capped.cell_a <= allowed_a
        if np.all(kept | np.isnan(capped.thrust_gf)):  # as of most draws of a sound design
            return capped.thrust_gf
        both = np.minimum(self.burst.thrust_gf, capped.thrust_gf)
        return np.where(kept, capped.thrust_gf, both)

    @cached_property
    def thrust_to_weight(self) -> FloatArray:
        """Available thrust to weight."""
        load = self.load
        return np.asarray(self.available_thrust_gf * load.craft.rotors / load.all_up_mass_g)

    def reserve_within(self, limit_a: Number) -> FloatArray:
        """Thrust over weight at the throttle cap and within a limit of the cell's current."""
        load = self.load
        thrust_gf = np.minimum(self.limited(limit_a).thrust_gf, self.full_throttle.thrust_gf)
        return np.asarray(thrust_gf * load.craft.rotors / load.all_up_mass_g)

    def limited(self, limit_a: Number) -> CurrentLimitedThrust:
        """What a limit of the cell's current lets the craft do."""
        load, cell_a = self.load, self.below_cutoff_a(limit_a)
        cell_v = self.open_circuit_v - cell_a * self.resistance_mohm / 1000.0
        pack_v = cell_v * load.pack.series
        motor_w = (pack_v * cell_a * load.pack.parallel - load.avionics_w) / load.craft.rotors
        driven = load.drive.at_power(motor_w, pack_v, load.density_ratio)
        thrust, reached = driven.thrust_gf * load.thrust_kept, driven.beyond
        if reached.any():  # full throttle asks for less than the limit: there the pack settles
            full = self.uncapped
            cell_a = np.where(reached, full.cell_a, cell_a)
            cell_v = np.where(reached, full.cell_v, cell_v)
            thrust = np.where(reached, full.thrust_gf, thrust)

        def throttle() -> FloatArray:
            return np.where(reached, 100.0, np.minimum(driven.throttle_pct, 100.0))

        return CurrentLimitedThrust(cell_a, cell_v, throttle, thrust)

    def _settled(self, *, capped: bool) -> FullThrottle:
        load = self.load
        throttle = load.cap_pct if capped else None
        cell_v, motor = self.sagged(load.drive, throttle, load.density_ratio)
        pack_w = motor.power_w * load.motors + load.avionics_w
        thrust_gf = motor.thrust_gf * load.thrust_kept
        return FullThrottle(np.asarray(pack_w / load.pack.cells / cell_v), cell_v, thrust_gf)


class HoverPoint(OperatingPoint[HoverLoad, HoverState]):
    """Hover in figures."""

    @cached_property
    def _lowest_hover(self) -> tuple[FloatArray, np.ndarray]:
        return lowest_hover(self.load, self.cell_power_w, self.end.depth_of_discharge)

    @property
    def lowest_hover_cell_v(self) -> FloatArray:
        """Cell voltage in hover below which the asked thrust reserve can no longer be pulled."""
        return self._lowest_hover[0]

    @property
    def lowest_hover_binds(self) -> np.ndarray:
        """What stops it: "motor", the voltage is too low for the thrust; "pack", the burst current or the cutoff
        voltage is reached."""
        return self._lowest_hover[1]

    @property
    def thrust_per_motor_gf(self) -> FloatArray:
        """In hover."""
        return self.load.thrust_per_motor_gf

    @property
    def power_per_motor_w(self) -> FloatArray:
        """In hover on the bench; NaN outside the thrust table."""
        return self.load.hover.power_per_motor_w

    @property
    def reserve(self) -> FloatArray:
        """Thrust over weight at the end."""
        return self.end.thrust_to_weight


def lowest_hover(
    load: HoverLoad, cell_w: FloatArray, end_depth_of_discharge: FloatArray
) -> tuple[FloatArray, np.ndarray]:
    """Cell voltage in hover below which the asked thrust is out of reach, and what stops it.

    While the asked thrust is pulled the cell must stay at or above `pull_v`; let go, it rises to
    the voltage of hover. The resistance is that at the end of the flight.

    Args:
        load: the multirotor.
        cell_w: power of one cell in hover.
        end_depth_of_discharge: at the end of the flight.
    """
    pack, cell, craft = load.pack, load.pack.cell, load.craft
    asked_gf = np.asarray(load.thrust_per_motor_gf * load.flight.thrust_reserve, dtype=float)
    asked_w = load.drive.power_at_thrust(asked_gf, load.density_ratio)
    pull_w = (asked_w * craft.rotors * load.flight_power_factor + load.avionics_w) / pack.cells
    by_pack = np.maximum(pull_w / cell.burst_a, cell.cutoff_v)
    bench_gf = asked_gf / load.thrust_kept
    by_motor = load.drive.voltage_for_thrust(load.cap_pct, bench_gf, load.density_ratio)
    table_v = craft.table.voltage_v[-1]
    within = (by_motor >= 0.2 * table_v) & (by_motor <= 5.0 * table_v)
    by_motor = np.where(within, by_motor, np.nan) / pack.series
    pull_v = np.maximum(by_pack, by_motor)
    r_mohm = load.resistance_mohm(end_depth_of_discharge)
    u = pull_v + pull_w / pull_v * r_mohm / 1000.0
    binds = np.where(by_pack > by_motor, "pack", "motor")
    return voltage_under_power(u, r_mohm, cell_w), binds


def hover_load(design: Design[Multirotor], allowances: Allowances = NO_ALLOWANCES) -> HoverLoad:
    """A multirotor, or arrays of them, with allowances put in: mass and power, before any discharge."""
    craft, flight = design.craft, design.flight
    allowances = derate(flight, allowances, design.pack.cell.model)
    density = density_ratio(flight.field_height_m, flight.air_temperature_c)
    mass_g = craft.all_up_mass_g(design.pack.mass_g) * allowances.mass_factor
    hover = craft.hover(mass_g, density)
    return HoverLoad(
        design,
        allowances,
        hover.all_up_mass_g,
        np.asarray(craft.avionics_w * allowances.avionics_factor, dtype=float),
        drive_for(craft.table),
        density,
        hover,
    )


def hover_point(
    design: Design[Multirotor],
    allowances: Allowances = NO_ALLOWANCES,
    run: PowerRun | None = None,
) -> HoverPoint:
    """Work out the operating point of a multirotor, or of arrays of designs.

    Args:
        design: the design; any of its figures may be an array.
        allowances: factors on the plan's figures, neutral by default; arrays too.
        run: its steady flight where it is known already.

    Returns:
        The operating point. Figures that the thrust table or the cell cannot give are NaN.

    Source: momentum theory for power at equal thrust (as 1/sqrt(air density)); constant-power
        discharge of a source with a resistance; the rest is arithmetic.
    """
    load = hover_load(design, allowances)
    power_w = load.power_w
    if run is None:
        run = load.discharge(power_w)
    end = held_once(np.asarray(run.end_depth_of_discharge, dtype=float))
    return HoverPoint(load, run, *HoverState.of_flight(load, end, power_w))
