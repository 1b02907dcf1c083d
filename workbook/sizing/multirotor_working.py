"""The working of a multirotor's answer, in the order in which a builder would do it by hand."""

from __future__ import annotations

import numpy as np

from workbook.craft.craft_types import Multirotor
from workbook.sizing.design import Design
from workbook.sizing.operating_point import Ceiling, OperatingPoint, State
from workbook.sizing.working import mass_step, pack_steps, run_steps
from workbook.working import Step

MOMENTUM = "thrust table; power law between its rows, after momentum theory"


def _steady_steps(design: Design[Multirotor], point: OperatingPoint) -> list[Step]:
    craft, flight = design.craft, design.flight
    mass, rotors = float(point.all_up_mass_g), float(craft.rotors)
    thrust = float(point.thrust_per_motor_gf)
    steps = [
        mass_step(design, point),
        Step(
            "hover_thrust_per_motor_gf", "hover thrust per motor", "all-up mass / motors",
            f"{mass:.0f} g / {rotors:g}", thrust, "gf", "hover: thrust equals weight",
        ),
    ]  # fmt: skip
    if np.isnan(point.power_per_motor_w):
        return steps
    rows = list(craft.table.rows_around(thrust))
    (t1, t2), (p1, p2) = craft.table.thrust_gf[rows], craft.table.power_w[rows]
    air = float(point.power_per_motor_w) / float(
        np.exp(np.interp(np.log(thrust), np.log([t1, t2]), np.log([p1, p2])))
    )
    thin = f" x {air:.3f} for the air" if abs(air - 1) > 5e-4 else ""
    steps += [
        Step(
            "hover_power_per_motor_w", "hover power per motor", "power law between the two rows around it",
            f"{t1:g} gf at {p1:g} W and {t2:g} gf at {p2:g} W, at {thrust:.0f} gf{thin}",
            float(point.power_per_motor_w), "W", MOMENTUM,
        ),
        Step(
            "hover_power_w", "hover power", "motors x power per motor x flight factor + avionics",
            f"{rotors:g} x {float(point.power_per_motor_w):.1f} W x {float(craft.flight_factor):g} + {float(craft.avionics_w):g} W",
            float(point.power_w), "W", "flight factor of 1.05 to 1.25: common practice, no source",
        ),
        *run_steps(design, point, "hover"),
        Step(
            "lowest_hover_cell_v", "lowest cell voltage that keeps the thrust reserve",
            "voltage in hover at which pulling reserve x hover thrust just sags to the last voltage that can give it",
            f"reserve {float(flight.thrust_reserve):g}, limited by the {point.lowest_hover_binds}",
            float(point.lowest_hover_cell_v), "V", "thrust table carried to that voltage",
        ),
    ]  # fmt: skip
    return steps


def _ceiling_step(
    key: str, design: Design[Multirotor], label: str, state: State, ceiling: Ceiling
) -> Step:
    craft, pack = design.craft, design.pack
    power = float(ceiling.cell_v * ceiling.cell_a * pack.cells)
    return Step(
        key,
        f"thrust ceiling at {label} current, end of flight",
        "motors x thrust at (cells x cell voltage x cell current - avionics) / motors / flight factor",
        f"({power:.0f} W - {float(craft.avionics_w):g} W) / {float(craft.rotors):g} / {float(craft.flight_factor):g} "
        f"gives {float(ceiling.thrust_gf):.0f} gf per motor",
        float(ceiling.thrust_gf * craft.rotors),
        "gf",
        MOMENTUM,
    )


def working(design: Design[Multirotor], point: OperatingPoint) -> tuple[Step, ...]:
    """The working of a single design, in the order in which a builder would do it by hand."""
    steps = pack_steps(design) + _steady_steps(design, point)
    if np.isnan(point.power_per_motor_w):
        return tuple(steps)
    end, full = point.end, point.full
    steps += [
        _ceiling_step("thrust_ceiling_gf", design, "continuous", end, end.continuous),
        _ceiling_step("burst_thrust_ceiling_gf", design, "burst", end, end.burst),
        Step(
            "throttle_cap_pct",
            "throttle cap at continuous current",
            "throttle that pulls the continuous current, lowest over the flight",
            f"{float(full.continuous.thrust_gf):.0f} gf per motor at {float(full.continuous.cell_v):.2f} V per cell, full pack",
            lowest_throttle_pct(point, "continuous"),
            "%",
            "thrust table's throttle column, carried to the pack's voltage",
        ),
        Step(
            "thrust_to_weight_end",
            "thrust over weight at the end",
            "motors x thrust available / all-up mass",
            f"{float(design.craft.rotors):g} x {float(end.available_thrust_gf):.0f} gf / {float(point.all_up_mass_g):.0f} g",
            float(end.thrust_to_weight),
            "",
            "full throttle, its cap, or the burst current, whichever is least",
        ),
    ]
    return tuple(steps)


def lowest_throttle_pct(point: OperatingPoint, which: str) -> float:
    """The throttle cap that keeps a current limit (`continuous` or `burst`) over the whole flight.

    NaN where the table has no throttle column or the ceiling lies below its rows.
    """
    caps = [getattr(state, which).throttle_pct for state in (point.full, point.half, point.end)]
    return float(np.minimum.reduce([np.asarray(cap) for cap in caps]))
