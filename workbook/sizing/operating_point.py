"""The operating point that any craft has: its load, the discharge it flies, and three states of the pack.

`HoverPoint` and `WingPoint` build on it. Everything broadcasts: a design whose figures are arrays gives
a point of arrays. What a state of the pack lets the craft do is worked out when it is first asked for.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, reduce
from operator import attrgetter
from typing import Any, Generic, Literal, Self, TypeVar

import numpy as np

from workbook.battery.discharge import PowerRun, constant_power, voltage_under_power
from workbook.battery.pack import Pack
from workbook.craft.voltage import Drive, DrivePoint
from workbook.numbers import FloatArray, Number
from workbook.sizing.conditions import OUTER_AIR, CellWarmth, cell_warmth, cold_fade
from workbook.sizing.design import Allowances, Craft, Design, Flight

NO_ALLOWANCES = Allowances()

OF_STATE = ("depth_of_discharge", "open_circuit_v", "resistance_mohm", "cell_w")
"""Figures with which a state of the pack is made."""


@dataclass(frozen=True, eq=False)
class CraftLoad(ABC, Generic[Craft]):
    """A design with its allowances put in, as its discharge and its states use it.

    Attributes:
        design: the design, or arrays of designs.
        allowances: with temperature and age of the pack in them.
        all_up_mass_g: craft, payload and pack.
        avionics_w: the electronics.
    """

    design: Design[Craft]
    allowances: Allowances
    all_up_mass_g: FloatArray
    avionics_w: FloatArray

    @property
    def craft(self) -> Craft:
        """The craft."""
        return self.design.craft

    @property
    def pack(self) -> Pack:
        """The pack."""
        return self.design.pack

    @property
    def flight(self) -> Flight:
        """What is asked of the flight."""
        return self.design.flight

    @property
    @abstractmethod
    def motors(self) -> Number:
        """Number of motors."""

    @property
    @abstractmethod
    def motors_w(self) -> FloatArray:
        """All motors in steady flight; NaN where the craft cannot fly so."""

    @cached_property
    def power_w(self) -> FloatArray:
        """The pack's load in steady flight: motors and electronics."""
        return np.asarray(self.motors_w + self.avionics_w)

    @property
    def joint_mohm(self) -> Number:
        """A cell's share of strips, joints and leads."""
        return self.pack.joint_mohm_per_cell * self.allowances.joint_factor

    def resistance_mohm(self, depth_of_discharge: FloatArray) -> FloatArray:
        """Resistance of one cell at a depth of discharge, with its share of the joints."""
        own = self.pack.cell.model.resistance_at(depth_of_discharge)
        return np.asarray(own * self.allowances.resistance_factor + self.joint_mohm)

    def capacity_factor(self, power_w: Number) -> Number:
        """Usable charge of a cell over the datasheet's, the pack drawn at a power."""
        fade = cold_fade(self.flight, self.pack.cell.model, np.asarray(power_w) / self.pack.cells)
        return np.asarray(self.allowances.capacity_factor * fade)

    def discharge(self, power_w: FloatArray) -> PowerRun:
        """One cell at a constant power of the pack, down to the end of the flight."""
        return constant_power(
            self.pack.cell.model,
            np.asarray(power_w / self.pack.cells),
            self.flight.landing_v,
            1.0 - np.asarray(self.flight.reserve_pct) / 100.0,
            extra_mohm=self.joint_mohm,
            resistance_factor=self.allowances.resistance_factor,
            capacity_factor=self.capacity_factor(power_w),
        )

    @property
    def cap_pct(self) -> Number | None:
        """The throttle cap; None where no design has one."""
        cap_pct = np.asarray(self.flight.throttle_cap_pct)
        return None if np.all(cap_pct >= 100.0) else np.minimum(cap_pct, 100.0)

    def at_throttle_cap(self, drive: Drive, pack_v: FloatArray, ratio: Number) -> DrivePoint:
        """One motor at the throttle cap, full throttle without one; NaN where the table does not tell it.

        Args:
            drive: one motor with its propeller.
            pack_v: voltage of the pack.
            ratio: density of the air over the standard's.
        """
        cap_pct = self.cap_pct
        if cap_pct is None:
            return drive.full_throttle(pack_v, ratio)
        return drive.at_throttle(cap_pct, pack_v, ratio)


Found = TypeVar("Found")


class shared_property(cached_property[Found]):  # a decorator, as the one it builds on
    """A figure or record of a state of the pack, worked out when it is first asked for.

    The three states of a single design work it out together, in one call of three rows: that takes hardly
    longer than one of them, for it is the calls that cost, not the figures.
    """

    def __get__(self, state: Any, owner: type | None = None) -> Found:  # type: ignore[override]
        """Of a state; its own row where it has others beside it."""
        if state is None or state.among is None:
            own: Found = super().__get__(state, owner)
            return own
        together, number = state.among
        name = str(self.attrname)
        found: Found = row_of(getattr(together, name), number)
        state.__dict__[name] = found
        return found


def row_of(found: Any, number: int) -> Any:
    """One state's row of what three worked out together: of an array, or of a record that says itself."""
    if not isinstance(found, np.ndarray):
        return found.row(number)
    if not found.ndim:  # the same for all
        return found
    return np.asarray(found[number, 0] if found.shape[1:] == (1,) else found[number])


@dataclass(frozen=True, eq=False)
class CellPoint:
    """One cell under one load.

    Attributes:
        cell_a, cell_v: its current and voltage.
    """

    cell_a: FloatArray
    cell_v: FloatArray

    def row(self, number: int) -> Self:
        """The same of one state of three."""
        arrays = {k: v for k, v in vars(self).items() if isinstance(v, np.ndarray)}
        names = {one.name for one in fields(self)} & arrays.keys()
        return replace(self, **{name: row_of(arrays[name], number) for name in names})


@dataclass(frozen=True, eq=False)
class CurrentLimitedPoint(CellPoint):
    """What one limit of current lets the craft do at one state of the pack.

    The current is the limit, or less where the cutoff voltage or full throttle comes first.
    """

    throttle: Callable[[], FloatArray] = field(repr=False, compare=False)

    def row(self, number: int) -> Self:
        """The same of one state of three."""
        return replace(super().row(number), throttle=lambda: row_of(self.throttle_pct, number))

    @cached_property
    def throttle_pct(self) -> FloatArray:
        """Throttle that asks for it; 100 where full throttle asks for less, NaN without such a column."""
        return self.throttle()


LoadT = TypeVar("LoadT", bound=CraftLoad[Any], covariant=True)
Limited = TypeVar("Limited", bound=CurrentLimitedPoint, covariant=True)
Full = TypeVar("Full", bound=CellPoint, covariant=True)


@dataclass(frozen=True, eq=False)
class State(ABC, Generic[LoadT, Limited, Full]):
    """The craft and its pack at one depth of discharge.

    Attributes:
        load: the design with its allowances.
        depth_of_discharge: 0 full to 1 empty.
        open_circuit_v: cell voltage at rest.
        resistance_mohm: of one cell, with its share of the joints.
        cell_w: power of one cell in steady flight.
        among: the three states of a single design together, and which of them this is; None of many designs.
    """

    load: LoadT
    depth_of_discharge: FloatArray
    open_circuit_v: FloatArray
    resistance_mohm: FloatArray
    cell_w: FloatArray
    among: Any = field(default=None, init=False, repr=False)

    @classmethod
    def at_depth(cls, load: LoadT, depth_of_discharge: FloatArray, power_w: FloatArray) -> Self:  # type: ignore[misc]
        """The state of a load at a depth of discharge, steady flight drawing `power_w` from the pack."""
        return cls(
            load,
            depth_of_discharge,
            load.pack.cell.model.open_circuit_at(depth_of_discharge),
            load.resistance_mohm(depth_of_discharge),
            np.asarray(power_w / load.pack.cells),
        )

    @classmethod
    def of_flight(
        cls,
        load: LoadT,  # type: ignore[misc]
        end_depth_of_discharge: FloatArray,
        power_w: FloatArray,
    ) -> tuple[Self, Self, Self]:
        """The pack full, half way to the end of the flight, and at its end; `shared_property` says what it is for."""
        end = np.asarray(end_depth_of_discharge, dtype=float)
        depths = (np.zeros(()), end / 2.0, end)
        if end.ndim:
            full, half, last = (cls.at_depth(load, depth, power_w) for depth in depths)
            return full, half, last
        together = cls.at_depth(load, np.array(depths)[:, None], power_w)
        states = []
        for k in range(len(depths)):
            state = cls(load, *(row_of(getattr(together, name), k) for name in OF_STATE))
            object.__setattr__(state, "among", (together, k))
            states.append(state)
        full, half, last = states
        return full, half, last

    @abstractmethod
    def limited(self, limit_a: Number) -> Limited:
        """What a limit of the cell's current lets the craft do."""

    @property
    @abstractmethod
    def full_throttle(self) -> Full:
        """At the throttle cap, full throttle without one, the pack sagging under it."""

    @abstractmethod
    def reserve_within(self, limit_a: Number) -> FloatArray:
        """What is left over steady flight at the throttle cap and within a limit of the cell's current."""

    @cached_property
    def steady_v(self) -> FloatArray:
        """Cell voltage in steady flight."""
        return voltage_under_power(self.open_circuit_v, self.resistance_mohm, self.cell_w)

    @cached_property
    def steady_a(self) -> FloatArray:
        """Cell current in steady flight."""
        return np.asarray(self.cell_w / self.steady_v)

    @shared_property
    def continuous(self) -> Limited:
        """What the allowed share of the continuous current lets the craft do."""
        return self._within(0)

    @shared_property
    def burst(self) -> Limited:
        """What the burst current lets the craft do."""
        return self._within(1)

    def _within(self, which: int) -> Limited:
        """What the first or the second limit of current lets the craft do."""
        both = self._within_both
        return self.limited(self._limits_a[which]) if both is None else both.row(which)

    @property
    def _limits_a(self) -> tuple[Number, Number]:
        """The allowed share of the continuous current of a cell, and its burst current."""
        cell, share_pct = self.load.pack.cell, self.load.flight.continuous_share_pct
        return cell.continuous_a * (np.asarray(share_pct) / 100.0), cell.burst_a

    @cached_property
    def _within_both(self) -> Limited | None:
        """What they let a single design do, in one call; None of many designs, which seldom ask for both."""
        limits_a = self._limits_a
        if self.load.power_w.ndim or any(map(np.ndim, limits_a)):
            return None
        return self.limited(np.array(limits_a).reshape(2, *[1] * self.open_circuit_v.ndim))

    @property
    def motor_w(self) -> FloatArray:
        """Electrical power of one motor at full throttle, or at the throttle cap."""
        load, top = self.load, self.full_throttle
        motors_w = top.cell_a * top.cell_v * load.pack.cells - load.avionics_w
        return np.asarray(motors_w / load.motors)

    @property
    def motor_a(self) -> FloatArray:
        """Current of one motor at full throttle, or at the throttle cap."""
        return np.asarray(self.motor_w / (self.full_throttle.cell_v * self.load.pack.series))

    def below_cutoff_a(self, limit_a: Number) -> FloatArray:
        """A limit of current, or what pulls the cell down to its cutoff voltage where that is less."""
        cutoff_v = self.load.pack.cell.cutoff_v
        cutoff_a = (self.open_circuit_v - cutoff_v) / self.resistance_mohm * 1000.0
        return np.maximum(np.minimum(limit_a, cutoff_a), 0.0)

    def sagged(
        self, drive: Drive, throttle_pct: Number | None, ratio: Number
    ) -> tuple[FloatArray, DrivePoint]:
        """Cell voltage at which motors at a throttle agree with the sag under them, and one of them there.

        Args:
            drive: one motor with its propeller.
            throttle_pct: None for full throttle.
            ratio: density of the air over the standard's.
        """
        load, series = self.load, self.load.pack.series
        rest_v, ohm = self.open_circuit_v * series, self.resistance_mohm / 1000.0 * series**2

        def left_v(pack_v: FloatArray, motor_w: FloatArray) -> FloatArray:
            cell_w = (motor_w * load.motors + load.avionics_w) / load.pack.cells
            return np.asarray(rest_v - ohm * cell_w / pack_v - pack_v)

        pack_v, point = drive.settled(throttle_pct, left_v, np.asarray(rest_v), ratio)
        return np.asarray(pack_v / series), point


StateT = TypeVar("StateT", bound=State[Any, Any, Any], covariant=True)


@dataclass(frozen=True, eq=False)
class OperatingPoint(ABC, Generic[LoadT, StateT]):
    """Steady flight in figures, of the design's shape; NaN where the craft cannot fly so.

    Attributes:
        load: the design with its allowances.
        run: the constant-power discharge of one cell down to the end of the flight.
        full, half, end: the pack full, half way to the end of the flight, and at its end.
    """

    load: LoadT
    run: PowerRun
    full: StateT
    half: StateT
    end: StateT

    @property
    @abstractmethod
    def reserve(self) -> FloatArray:
        """What is left at the end of the flight to stop a descent or to clear an obstacle."""

    @property
    def states(self) -> tuple[StateT, StateT, StateT]:
        """Full, half and end."""
        return self.full, self.half, self.end

    @property
    def together(self) -> StateT:
        """The three states of a single design as one, of shape (3, 1)."""
        full = self.full
        if full.among is not None:
            known: StateT = full.among[0]
            return known
        rows = ([getattr(one, name) for one in self.states] for name in OF_STATE)
        stacked = (np.stack(np.broadcast_arrays(*row))[:, None] for row in rows)
        return type(full)(self.load, *stacked)

    @property
    def all_up_mass_g(self) -> FloatArray:
        """Craft, payload and pack."""
        return self.load.all_up_mass_g

    @property
    def avionics_w(self) -> FloatArray:
        """The electronics."""
        return self.load.avionics_w

    @property
    def motors_w(self) -> FloatArray:
        """All motors in steady flight."""
        return self.load.motors_w

    @property
    def power_w(self) -> FloatArray:
        """The pack's load in steady flight: motors and electronics."""
        return self.load.power_w

    @property
    def cell_power_w(self) -> FloatArray:
        """The same for one cell."""
        return np.asarray(self.power_w / self.load.pack.cells)

    @property
    def endurance_min(self) -> FloatArray:
        """Minutes of steady flight from full."""
        return np.asarray(np.asarray(self.run.time_s) / 60.0)

    @property
    def mean_current_a(self) -> FloatArray:
        """Current of the pack, mean over the flight."""
        with np.errstate(divide="ignore", invalid="ignore"):
            hours = np.asarray(self.run.time_s) / 3600.0
            return np.asarray(self.run.charge_ah * self.load.pack.parallel / hours)

    @property
    def c_rate(self) -> FloatArray:
        """Mean current over the pack's rated capacity, 1/h (It in IEC 61960-3)."""
        return np.asarray(self.mean_current_a / self.load.pack.capacity_ah)

    @cached_property
    def _warmth(self) -> tuple[CellWarmth, ...]:
        """Of the hottest cell and, where cells begin warmer than the air, of an outermost one."""
        load, flight = self.load, self.load.flight
        airs = flight.pack_airflow, OUTER_AIR[flight.pack_airflow]
        cools = np.any(np.asarray(flight.pack_temperature_c) > flight.air_temperature_c)
        return cell_warmth(
            load.design, self.run, self.cell_power_w, load.allowances, airs if cools else airs[:1]
        )

    @property
    def end_cell_c(self) -> FloatArray:
        """Temperature inside the hottest cell at the end of steady flight."""
        return self._warmth[0].end_c

    @property
    def hottest_cell_c(self) -> FloatArray:
        """The highest temperature inside the hottest cell, from take-off to the end of steady flight."""
        return self._warmth[0].highest_c

    @property
    def coldest_cell_c(self) -> FloatArray:
        """The lowest temperature inside an outermost cell, from take-off to the end of steady flight."""
        hottest, *outermost = self._warmth
        if outermost:
            return outermost[0].lowest_c
        # no warmer than the air at take-off, every cell only warms up; where one is not known, none is
        return np.where(np.isnan(hottest.end_c), np.nan, self.load.flight.pack_temperature_c)

    @property
    def joint_heat_w(self) -> FloatArray:
        """What strips, joints and leads of the pack turn into heat in steady flight, at its end."""
        ohm = self.load.joint_mohm / 1000.0
        return np.asarray(self.end.steady_a**2 * ohm * self.load.pack.cells)

    def throttle_cap_pct(self, limit: Literal["continuous", "burst"]) -> FloatArray:
        """The throttle cap that keeps a limit of current over the whole flight.

        NaN where the table has no throttle column or the ceiling lies below its rows.
        """
        return self.worst(np.minimum, f"{limit}.throttle_pct")

    def worst(self, pick: np.ufunc, path: str) -> FloatArray:
        """The least or the most of a figure over the states of the pack, by its path from one of them."""
        return np.asarray(reduce(pick, map(attrgetter(path), self.states)))

    @property
    def peak_cell_a(self) -> FloatArray:
        """Highest current of a cell: full throttle from a full pack, or steady flight at the end."""
        return np.asarray(np.fmax(self.full.full_throttle.cell_a, self.end.steady_a))
