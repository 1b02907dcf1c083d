"""Thrust, current and voltage along the throttle, the pack sagging under each, full to almost empty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.design import Allowances, Design
from workbook.sizing.limit import LEAST_THRUST_TO_WEIGHT
from workbook.sizing.multirotor_working import lowest_throttle_pct
from workbook.sizing.operating_point import (
    NO_ALLOWANCES,
    FullThrottle,
    OperatingPoint,
    operate,
)
from workbook.working import Step


@dataclass(frozen=True)
class StickCurves:
    """What each throttle does, shape (K,), at three states of the pack.

    Attributes:
        throttle_pct: throttle.
        full, half, end: thrust per motor, cell current and voltage at that throttle; NaN where the
            thrust table says nothing about it.
    """

    throttle_pct: FloatArray
    full: FullThrottle
    half: FullThrottle
    end: FullThrottle


def stick_curves(
    design: Design, throttle_pct: FloatArray, allowances: Allowances = NO_ALLOWANCES
) -> StickCurves:
    """What a single design does at each throttle, the pack settled under it, whatever its cap.

    Args:
        design: a single design; its thrust table needs a throttle column.
        throttle_pct: shape (K,), 0 to 100.
        allowances: factors on the plan's figures.

    Raises:
        InputError: the thrust table has no throttle column.

    Source: as `workbook.sizing.operating_point.operate`, asked with every throttle as the cap.
    """
    throttle = np.asarray(throttle_pct, dtype=float)
    point = operate(design.changed(throttle_cap_pct=throttle), allowances)
    return StickCurves(
        throttle, point.full.full_throttle, point.half.full_throttle, point.end.full_throttle
    )


@dataclass(frozen=True)
class StickFlight:
    """A single design with its stick at one place.

    Attributes:
        design, point: the design and its operating point.
        stick_pct: where the stick is.
        throttle_pct: what the cap lets through of it.
        curves: along all of the throttle, whatever the cap.
        here: at the throttle let through, shape (1,).
        allowed_a: allowed share of the cell's continuous current.
        continuous_cap_pct, burst_cap_pct: throttle caps that keep each limit over the whole flight.
    """

    design: Design
    point: OperatingPoint
    stick_pct: float
    throttle_pct: float
    curves: StickCurves
    here: StickCurves
    allowed_a: float
    continuous_cap_pct: float
    burst_cap_pct: float

    @property
    def held_by_cap(self) -> bool:
        """Whether the stick is above the cap."""
        return self.throttle_pct < self.stick_pct

    @property
    def lowest_hover_cell_v(self) -> float:
        """Cell voltage in hover below which the asked thrust is out of reach; NaN where it always is."""
        lowest = float(self.point.lowest_hover_cell_v)
        return lowest if lowest <= float(self.point.full.steady_v) else float("nan")

    def cautions(self) -> tuple[str, ...]:
        """What is to be said about the cap, in words."""
        cell, end = self.design.pack.cell, self.point.end
        said = []
        over = float(self.point.full.full_throttle.cell_a)
        if over > cell.burst_a:
            said.append(
                f"With this cap a full pack gives {over:.1f} A a cell, over its burst current of {cell.burst_a:g} A: "
                "it overheats and can vent. Lower the cap."
            )
        left, fix = (
            float(end.thrust_to_weight),
            "Raise the cap where the burst current allows it, land earlier",
        )
        if left < 1.0:
            said.append(
                f"Almost empty, thrust is {left:.2f} times weight: the craft cannot hold itself up and comes down. "
                f"{fix}, add cells in parallel or take mass off."
            )
        elif left < LEAST_THRUST_TO_WEIGHT:
            said.append(
                f"Almost empty, thrust is {left:.2f} times weight, under {LEAST_THRUST_TO_WEIGHT:g}: the craft may not "
                f"be able to stop its own descent. {fix}, add cells in parallel or take mass off."
            )
        elif left < float(self.design.flight.thrust_reserve):
            said.append(
                f"Almost empty, thrust is {left:.2f} times weight; {float(self.design.flight.thrust_reserve):g} is asked."
            )
        if np.isnan(self.lowest_hover_cell_v):
            said.append("The asked thrust over weight is out of reach even on a full pack.")
        elif float(self.point.run.end_v) < self.lowest_hover_cell_v:
            said.append(
                f"The flight ends at {float(self.point.run.end_v):.2f} V a cell in hover; from "
                f"{self.lowest_hover_cell_v:.2f} V down the asked thrust is out of reach, stopped by "
                f"the {self.point.lowest_hover_binds}."
            )
        return tuple(said)


def stick_flight(design: Design, stick_pct: float, points: int = 76) -> StickFlight:
    """What a single design does with its stick at one place, and along all of the throttle.

    Args:
        design: a single design; its thrust table needs a throttle column.
        stick_pct: 0 to 100; above the design's throttle cap it is held there.
        points: of the curves.

    Raises:
        InputError: the thrust table has no throttle column, or does not reach the hover thrust.
    """
    table = design.craft.table
    if not table.has_throttle:
        raise InputError(
            Problem("the table has no throttle column; a throttle for every row is needed.", table.source)
        )  # fmt: skip
    point = operate(design)
    table.rows_around(float(point.thrust_per_motor_gf))
    throttle = min(float(stick_pct), float(design.flight.throttle_cap_pct))
    along = np.linspace(float(table.throttle_pct[0]), 100.0, points)
    return StickFlight(
        design,
        point,
        float(stick_pct),
        throttle,
        stick_curves(design, along),
        stick_curves(design, np.array([throttle])),
        float(design.pack.cell.continuous_a * design.flight.continuous_share_pct) / 100.0,
        lowest_throttle_pct(point, "continuous"),
        lowest_throttle_pct(point, "burst"),
    )


def stick_steps(flight: StickFlight) -> tuple[Step, ...]:
    """The working of the ceiling almost empty, of the cap and of the thrust that is left."""
    design, point = flight.design, flight.point
    craft, pack, end, full = design.craft, design.pack, point.end, point.full
    cells, rotors = float(pack.cells), float(craft.rotors)
    ceiling, top = end.continuous, end.full_throttle
    pack_w = cells * float(ceiling.cell_a * ceiling.cell_v)
    motor_w = (pack_w - float(point.avionics_w)) / rotors / float(craft.flight_factor)
    r_ohm = float(end.resistance_mohm) / 1000.0
    found = "thrust at that power, from the thrust table"
    if float(ceiling.throttle_pct) >= 100.0:
        found = "full throttle, which asks for less than the limit"
    return (
        Step("ceiling_cell_v", "cell voltage at the allowed current, almost empty", "U - I R",
             f"{float(end.open_circuit_v):.3f} V - {float(ceiling.cell_a):.2f} A x {r_ohm:.4f} ohm",
             float(ceiling.cell_v), "V", "source with a resistance"),
        Step("ceiling_power_w", "power of one motor there", "(cells x I x V - avionics) / motors / flight factor",
             f"({cells:g} x {float(ceiling.cell_a):.2f} A x {float(ceiling.cell_v):.3f} V - {float(point.avionics_w):g} W) "
             f"/ {rotors:g} / {float(craft.flight_factor):g}", motor_w, "W", "power = voltage x current"),
        Step("continuous_thrust_gf", "thrust ceiling of one motor, almost empty", found,
             f"at {motor_w:.1f} W", float(ceiling.thrust_gf), "gf",
             "thrust table; power law between its rows, after momentum theory"),
        Step("continuous_cap_pct", "throttle cap for the allowed continuous current", "the throttle that asks for it, lowest over the flight",
             f"full pack: {float(full.continuous.thrust_gf):.0f} gf a motor at {float(full.continuous.cell_v) * float(pack.series):.1f} V",
             flight.continuous_cap_pct, "%", "thrust table's throttle column, carried to the pack's voltage"),
        Step("thrust_to_weight_end", "thrust over weight, almost empty", "motors x least of (thrust at the cap, burst ceiling) / all-up mass",
             f"{rotors:g} x least of ({float(top.thrust_gf):.0f} gf, {float(end.burst.thrust_gf):.0f} gf) / {float(point.all_up_mass_g):.0f} g",
             float(end.thrust_to_weight), "", "the pack sags under the throttle; see the table of states"),
    )  # fmt: skip
