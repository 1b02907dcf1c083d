"""The operating point: mass to thrust to power to current to minutes, at every state of the pack.

Everything broadcasts: a design whose figures are arrays gives an operating point of arrays. What a
state of the pack lets the craft do is worked out when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from workbook.battery.discharge import PowerRun, constant_power, voltage_under_power
from workbook.battery.pack import Pack
from workbook.craft.air import density_ratio
from workbook.craft.craft_types import Multirotor
from workbook.craft.voltage import Drive, DrivePoint, drive_for
from workbook.numbers import FloatArray, Number
from workbook.sizing.conditions import end_temperature_c, in_conditions
from workbook.sizing.design import Allowances, Design, Flight

NO_ALLOWANCES = Allowances()

SETTLED = 1e-13
"""A voltage has settled when it misses its equation by no more than this share."""


@dataclass(frozen=True)
class Ceiling:
    """What one current limit of the pack lets the craft do, at one state of the pack.

    Attributes:
        cell_a: current per cell: the limit, or less where the cutoff voltage or full throttle
            comes first.
        cell_v: cell voltage under it.
        thrust_gf: thrust per motor; NaN below the thrust table.
        throttle_pct: throttle that gives it at that voltage; 100 where full throttle asks for less.
    """

    cell_a: FloatArray
    cell_v: FloatArray
    thrust_gf: FloatArray
    _throttle: Callable[[], FloatArray] = field(repr=False, compare=False)

    @cached_property
    def throttle_pct(self) -> FloatArray:
        """Throttle that gives the thrust at that voltage."""
        return self._throttle()


@dataclass(frozen=True)
class FullThrottle:
    """The craft at its throttle cap (full throttle without one), the pack sagging under it.

    Attributes:
        cell_a, cell_v: current and voltage of one cell.
        motor_a: current of one motor.
        thrust_gf: thrust per motor.
    """

    cell_a: FloatArray
    cell_v: FloatArray
    motor_a: FloatArray
    thrust_gf: FloatArray


@dataclass(frozen=True)
class State:
    """The craft and its pack at one depth of discharge.

    Attributes:
        depth_of_discharge: depth of discharge, 0 full to 1 empty.
        open_circuit_v: cell voltage at rest.
        resistance_mohm: of one cell, with its share of the joints.
        steady_v, steady_a: cell voltage and current in steady flight.
        steady_throttle_pct: throttle of steady flight.
        continuous, burst: ceilings at the two current limits.
        full_throttle, uncapped: at the throttle cap, and without it.
        available_thrust_gf: thrust per motor that cap and burst limit both allow.
        thrust_to_weight: of the craft, from the available thrust.
    """

    depth_of_discharge: FloatArray
    open_circuit_v: FloatArray
    resistance_mohm: FloatArray
    _case: _Case = field(repr=False, compare=False)

    @cached_property
    def steady_v(self) -> FloatArray:
        """Cell voltage in steady flight."""
        return voltage_under_power(self.open_circuit_v, self.resistance_mohm, self._case.cell_w)

    @cached_property
    def steady_a(self) -> FloatArray:
        """Cell current in steady flight."""
        return np.asarray(self._case.cell_w / self.steady_v)

    @cached_property
    def steady_throttle_pct(self) -> FloatArray:
        """Throttle of steady flight; infinite beyond full throttle, NaN where it cannot be told."""
        case = self._case
        thrust = np.asarray(case.steady_gf, dtype=float) + 0.0 * self.steady_v
        return np.asarray(case.throttle(thrust, self.steady_v * case.pack.series))

    @cached_property
    def continuous(self) -> Ceiling:
        """What the allowed share of the continuous current lets the craft do."""
        share = np.asarray(self._case.flight.continuous_share_pct) / 100.0
        return _ceiling(self, self._case.pack.cell.continuous_a * share)

    @cached_property
    def burst(self) -> Ceiling:
        """What the burst current lets the craft do."""
        return _ceiling(self, self._case.pack.cell.burst_a)

    @cached_property
    def full_throttle(self) -> FullThrottle:
        """At the throttle cap."""
        return _full_throttle(self._case, self.open_circuit_v, self.resistance_mohm)

    @cached_property
    def uncapped(self) -> FullThrottle:
        """At full throttle, whatever the throttle cap."""
        return _full_throttle(self._case, self.open_circuit_v, self.resistance_mohm, capped=False)

    @cached_property
    def available_thrust_gf(self) -> FloatArray:
        """Thrust per motor that cap and burst limit both allow."""
        return np.asarray(np.minimum(self.burst.thrust_gf, self.full_throttle.thrust_gf))

    @cached_property
    def thrust_to_weight(self) -> FloatArray:
        """Available thrust over weight."""
        case = self._case
        return np.asarray(self.available_thrust_gf * case.craft.rotors / case.mass_g)


@dataclass(frozen=True)
class OperatingPoint:
    """The answer in figures. `steady` is hover for a multirotor. All of the design's shape.

    Attributes:
        all_up_mass_g: craft, payload and pack.
        thrust_per_motor_gf, power_per_motor_w: in steady flight; NaN outside the thrust table.
        motors_w: all motors, flight factor included; avionics_w: the rest; power_w: the pack's load.
        cell_power_w: the same per cell.
        run: the constant-power discharge of one cell down to the end of the flight.
        endurance_min: minutes of steady flight from full.
        mean_current_a: pack current, mean over the flight.
        c_rate: mean current over the pack's rated capacity, 1/h (It in IEC 61960-3).
        end_cell_c: temperature inside the hottest cell at the end of steady flight.
        lowest_hover_cell_v: cell voltage in steady flight below which the asked thrust reserve
            can no longer be pulled.
        lowest_hover_binds: what stops it: "motor", the voltage is too low for the thrust; "pack",
            the burst current or the cutoff voltage is reached.
        full, half, end: the pack full, half way to the end of the flight, and at its end.
    """

    all_up_mass_g: FloatArray
    thrust_per_motor_gf: FloatArray
    power_per_motor_w: FloatArray
    motors_w: FloatArray
    avionics_w: FloatArray
    power_w: FloatArray
    cell_power_w: FloatArray
    run: PowerRun
    endurance_min: FloatArray
    mean_current_a: FloatArray
    c_rate: FloatArray
    end_cell_c: FloatArray
    lowest_hover_cell_v: FloatArray
    lowest_hover_binds: FloatArray
    full: State
    half: State
    end: State


@dataclass(frozen=True)
class _Case:
    """A design with its allowances put in, as the steps below use it."""

    craft: Multirotor
    pack: Pack
    flight: Flight
    allowances: Allowances
    drive: Drive
    density_ratio: Number
    mass_g: Number
    steady_gf: Number
    cell_w: FloatArray
    avionics_w: Number
    extra_mohm: Number

    @property
    def flight_power_factor(self) -> Number:
        return self.craft.flight_factor * self.allowances.power_factor

    @property
    def thrust_kept(self) -> Number:
        """Thrust in flight over that on the bench at equal throttle.

        The watts of a throttle are the same; where equal thrust costs f times the watts, equal
        watts give f^(-2/3) of the thrust (momentum theory, power as thrust^1.5).
        """
        kept = np.asarray(self.flight_power_factor) ** (-2.0 / 3.0)
        return np.asarray(kept * self.allowances.thrust_factor)[()]

    def resistance_mohm(self, depth_of_discharge: FloatArray) -> FloatArray:
        """Resistance of one cell at a depth of discharge, with its share of the joints."""
        model = self.pack.cell.model
        own = _at_depth(depth_of_discharge, model.resistance_mohm)
        return np.asarray(own * self.allowances.resistance_factor + self.extra_mohm)

    def at_cap(self, voltage_v: FloatArray, capped: bool = True) -> DrivePoint:
        """One motor at the throttle cap; full throttle where the cap is not below the table's top."""
        cap, table = self.flight.throttle_cap_pct, self.craft.table
        top = table.throttle_pct[-1] if table.has_throttle else 100.0
        if not capped or np.all(np.asarray(cap) >= top):
            return self.drive.full_throttle(voltage_v, self.density_ratio)
        return self.drive.at_throttle(cap, voltage_v, self.density_ratio)

    def throttle(self, thrust_gf: FloatArray, voltage_v: FloatArray) -> FloatArray:
        """Throttle for a thrust; NaN where the table has no throttle column."""
        if not self.craft.table.has_throttle:
            return np.full(np.shape(thrust_gf), np.nan)
        bench_gf = thrust_gf / self.thrust_kept
        return self.drive.throttle_for_thrust(bench_gf, voltage_v, self.density_ratio)


def _at_depth(depth: FloatArray, node: FloatArray) -> FloatArray:
    """A figure of the cell's model at a depth of discharge, straight between its uniform nodes."""
    along = np.asarray(depth, dtype=float) * (len(node) - 1)
    with np.errstate(invalid="ignore"):
        low = np.clip(np.nan_to_num(along).astype(np.intp), 0, len(node) - 2)
    first = node[low]
    return np.asarray(first + (along - low) * (node[low + 1] - first))


def _ceiling(state: State, limit_a: Number) -> Ceiling:
    case, u, r_mohm = state._case, state.open_circuit_v, state.resistance_mohm
    cutoff_a = (u - case.pack.cell.cutoff_v) / r_mohm * 1000.0
    cell_a = np.maximum(np.minimum(limit_a, cutoff_a), 0.0)
    cell_v = u - cell_a * r_mohm / 1000.0
    pack_v = cell_v * case.pack.series
    motors_w = pack_v * cell_a * case.pack.parallel - case.avionics_w
    table = case.craft.table
    in_table_air = np.sqrt(np.asarray(case.density_ratio))
    motor_w = motors_w / case.craft.rotors / case.flight_power_factor * in_table_air
    by_power = np.where(
        motor_w > table.power_w[-1], np.inf, table.thrust_at_power(np.maximum(motor_w, 1e-9))
    )
    top = case.drive.full_throttle(pack_v, case.density_ratio).thrust_gf
    top = top * case.thrust_kept
    thrust = np.minimum(by_power, top)
    reached = by_power >= top
    if reached.any():  # full throttle asks for less than the limit: there the pack settles
        full = state.uncapped
        cell_a = np.where(reached, full.cell_a, cell_a)
        cell_v = np.where(reached, full.cell_v, cell_v)
        thrust = np.where(reached, full.thrust_gf, thrust)

    def throttle() -> FloatArray:
        return np.where(reached, 100.0, case.throttle(thrust, pack_v))

    return Ceiling(cell_a, cell_v, thrust, throttle)


def _settle(
    gap: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    slope: Callable[[FloatArray, FloatArray], FloatArray],
    low: FloatArray,
    high: FloatArray,
    tolerance: FloatArray,
) -> FloatArray:
    """Where a falling `gap` is zero, for every element by itself; NaN where it is not within bounds.

    One step by the `slope` given, then the secant through the last two steps. What has not settled
    after some is halved down to it.
    """
    x = start
    last: tuple[FloatArray, FloatArray] | None = None
    for _ in range(14):
        miss = gap(x)
        done = (np.abs(miss) <= tolerance) | np.isnan(miss)
        if done.all():
            return np.where(np.isnan(miss), np.nan, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            steep = slope(x, miss) if last is None else (miss - last[1]) / (x - last[0])
            at = np.clip(x - miss / steep, low, high)
        at = np.where(done | np.isnan(at), x, at)
        last, x = (x, miss), at
    below, above = np.broadcast_arrays(low, high)
    held = (gap(below) > 0.0) & (gap(above) < 0.0)
    for _ in range(60):
        middle = 0.5 * (below + above)
        more = gap(middle) > 0.0
        below, above = np.where(more, middle, below), np.where(more, above, middle)
    halved = np.where(held, 0.5 * (below + above), np.nan)
    return np.where(done, np.where(np.isnan(miss), np.nan, x), halved)


def _full_throttle(
    case: _Case, u: FloatArray, r_mohm: FloatArray, *, capped: bool = True
) -> FullThrottle:
    series, cells, r_ohm = case.pack.series, case.pack.cells, r_mohm / 1000.0

    def gap(v: FloatArray) -> FloatArray:
        watts = case.at_cap(v * series, capped).power_w * case.craft.rotors + case.avionics_w
        return np.asarray(u - r_ohm * (watts / cells / v) - v)

    def slope(v: FloatArray, miss: FloatArray) -> FloatArray:
        return np.asarray(-1.0 - 1.7 * (u - v - miss) / v)  # power about as voltage^2.7

    cell_v = _settle(gap, 0.9 * u, slope, 0.05 * u, u, SETTLED * u)
    motor = case.at_cap(cell_v * series, capped)
    cell_a = (motor.power_w * case.craft.rotors + case.avionics_w) / cells / cell_v
    return FullThrottle(
        cell_a,
        cell_v,
        motor.power_w / (cell_v * series),
        motor.thrust_gf * case.thrust_kept,
    )


def _state(case: _Case, depth: FloatArray) -> State:
    u = _at_depth(depth, case.pack.cell.model.open_circuit_v)
    u, r_mohm, _ = np.broadcast_arrays(u, case.resistance_mohm(depth), case.cell_w)
    return State(depth, u, r_mohm, case)


def _lowest_hover(case: _Case, end_depth: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Cell voltage in steady flight below which the asked thrust is out of reach, and why.

    While the asked thrust is pulled the cell must stay at or above `pull_v`; let go, it rises to
    the voltage of steady flight. The resistance is that at the end of the flight.
    """
    asked_gf = np.asarray(case.steady_gf * case.flight.thrust_reserve, dtype=float)
    asked_w = case.drive.power_at_thrust(asked_gf, case.density_ratio)
    cell_w = (
        asked_w * case.craft.rotors * case.flight_power_factor + case.avionics_w
    ) / case.pack.cells
    by_pack = np.maximum(cell_w / case.pack.cell.burst_a, case.pack.cell.cutoff_v)
    table_v = float(case.craft.table.voltage_v[-1])

    with np.errstate(divide="ignore", invalid="ignore"):
        log_gf = np.log(asked_gf / case.thrust_kept)

    def gap(log_v: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore"):
            return np.asarray(log_gf - np.log(case.at_cap(np.exp(log_v)).thrust_gf))

    def slope(log_v: FloatArray, miss: FloatArray) -> FloatArray:
        return np.full(np.shape(miss), -1.8)  # thrust about as voltage^1.8

    least, most, start = (
        np.full(np.shape(log_gf), np.log(table_v) + by) for by in (np.log(0.2), np.log(5.0), 0.0)
    )
    settled = _settle(gap, start, slope, least, most, np.asarray(SETTLED * 10.0))
    by_motor = np.exp(settled) / case.pack.series
    pull_v = np.maximum(by_pack, by_motor)
    r_mohm = case.resistance_mohm(end_depth)
    u = pull_v + cell_w / pull_v * r_mohm / 1000.0
    binds = np.where(by_pack > by_motor, "pack", "motor")
    return voltage_under_power(u, r_mohm, case.cell_w), binds


def operate(design: Design, allowances: Allowances = NO_ALLOWANCES) -> OperatingPoint:
    """Work out the operating point of a design, or of arrays of designs.

    Args:
        design: the design; any of its figures may be an array.
        allowances: factors on the plan's figures, neutral by default; arrays too.

    Returns:
        The operating point. Figures that the thrust table or the cell cannot give are NaN.

    Source: momentum theory for power at equal thrust (as 1/sqrt(air density)); constant-power
        discharge of a source with a resistance; the rest is arithmetic.
    """
    craft, pack, flight = design.craft, design.pack, design.flight
    allowances = in_conditions(flight, allowances)
    density = density_ratio(flight.field_height_m, flight.air_temperature_c)
    drive = drive_for(craft.table)
    mass_g = craft.all_up_mass_g(pack.mass_g) * allowances.mass_factor
    hover = craft.hover(mass_g, density)
    motors_w = hover.motors_w * allowances.power_factor
    avionics_w = craft.avionics_w * allowances.avionics_factor
    power_w = motors_w + avionics_w
    cell_w = np.asarray(power_w / pack.cells)
    extra_mohm = pack.joint_mohm_per_cell * allowances.joint_factor
    case = _Case(
        craft, pack, flight, allowances, drive, density, mass_g, hover.thrust_per_motor_gf,
        cell_w, avionics_w, extra_mohm,
    )  # fmt: skip
    run = constant_power(
        pack.cell.model,
        cell_w,
        flight.landing_v,
        1.0 - np.asarray(flight.reserve_pct) / 100.0,
        extra_mohm=extra_mohm,
        resistance_factor=allowances.resistance_factor,
        capacity_factor=allowances.capacity_factor,
    )
    endurance_min = np.asarray(run.time_s) / 60.0
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_a = run.charge_ah * pack.parallel / (np.asarray(run.time_s) / 3600.0)
    lowest, binds = _lowest_hover(case, np.asarray(run.end_depth_of_discharge))
    half = _state(case, np.asarray(run.end_depth_of_discharge) / 2.0)
    return OperatingPoint(
        all_up_mass_g=np.asarray(mass_g, dtype=float),
        thrust_per_motor_gf=hover.thrust_per_motor_gf,
        power_per_motor_w=hover.power_per_motor_w,
        motors_w=np.asarray(motors_w),
        avionics_w=np.asarray(avionics_w, dtype=float),
        power_w=np.asarray(power_w),
        cell_power_w=cell_w,
        run=run,
        endurance_min=endurance_min,
        mean_current_a=mean_a,
        c_rate=mean_a / pack.capacity_ah,
        end_cell_c=end_temperature_c(design, run, half.resistance_mohm, allowances),
        lowest_hover_cell_v=lowest,
        lowest_hover_binds=binds,
        full=_state(case, np.zeros_like(np.asarray(run.end_depth_of_discharge, dtype=float))),
        half=half,
        end=_state(case, np.asarray(run.end_depth_of_discharge)),
    )
