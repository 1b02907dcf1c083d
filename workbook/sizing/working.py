"""The working of an answer: each figure with formula, numbers put in, unit and source."""

from __future__ import annotations

import numpy as np

from workbook.craft.thrust_table import bracket
from workbook.sizing.design import Design
from workbook.sizing.operating_point import Ceiling, OperatingPoint, State
from workbook.working import Step

CELLS = "IEC 61960-3 terms; arithmetic"
DATASHEET = "the cell's datasheet"
MOMENTUM = "thrust table; power law between its rows, after momentum theory"
CIRCUIT = "source with a resistance; power = voltage x current"


def _pack_steps(design: Design, point: OperatingPoint) -> list[Step]:
    pack, cell = design.pack, design.pack.cell
    s, p, n = float(pack.series), float(pack.parallel), float(pack.cells)
    overhead = 1 + float(pack.overhead_pct) / 100
    return [
        Step(
            "pack_nominal_v", "pack voltage, nominal", "S x cell's nominal voltage",
            f"{s:g} x {cell.nominal_v:g} V", float(pack.nominal_v), "V", CELLS,
        ),
        Step(
            "pack_full_v", "pack voltage, full", "S x cell's charge voltage",
            f"{s:g} x {cell.charge_v:g} V", float(pack.full_v), "V", CELLS,
        ),
        Step(
            "pack_capacity_ah", "pack capacity, rated", "P x cell's rated capacity",
            f"{p:g} x {cell.rated_capacity_ah:g} Ah", float(pack.capacity_ah), "Ah", CELLS,
        ),
        Step(
            "pack_energy_wh", "pack energy, nominal", "pack voltage x pack capacity",
            f"{float(pack.nominal_v):g} V x {float(pack.capacity_ah):g} Ah", float(pack.energy_wh), "Wh", CELLS,
        ),
        Step(
            "pack_continuous_a", "pack current, continuous", "P x cell's continuous current",
            f"{p:g} x {cell.continuous_a:g} A", float(pack.continuous_a), "A", DATASHEET,
        ),
        Step(
            "pack_burst_a", f"pack current, burst (at most {cell.burst_s:g} s)", "P x cell's burst current",
            f"{p:g} x {cell.burst_a:g} A", float(pack.burst_a), "A", DATASHEET,
        ),
        Step(
            "pack_mass_g", "pack mass", "cells x cell mass x (1 + overhead) + leads and connector",
            f"{n:g} x {cell.mass_g:g} g x {overhead:g} + {float(pack.extra_mass_g):g} g",
            float(pack.mass_g), "g", "scale; overhead of 8 to 15 % is common practice, no source",
        ),
    ]  # fmt: skip


def _steady_steps(design: Design, point: OperatingPoint) -> list[Step]:
    craft, pack, flight, run = design.craft, design.pack, design.flight, point.run
    mass, rotors = float(point.all_up_mass_g), float(craft.rotors)
    thrust = float(point.thrust_per_motor_gf)
    steps = [
        Step(
            "all_up_mass_g", "all-up mass", "craft + payload + pack",
            f"{float(craft.mass_without_pack_g):g} g + {float(craft.payload_g):g} g + {float(pack.mass_g):.0f} g",
            mass, "g", "scale",
        ),
        Step(
            "hover_thrust_per_motor_gf", "hover thrust per motor", "all-up mass / motors",
            f"{mass:.0f} g / {rotors:g}", thrust, "gf", "hover: thrust equals weight",
        ),
    ]  # fmt: skip
    if np.isnan(point.power_per_motor_w):
        return steps
    rows = bracket(craft.table, thrust)
    table = craft.table
    t1, t2 = table.thrust_gf[rows.low], table.thrust_gf[rows.high]
    p1, p2 = table.power_w[rows.low], table.power_w[rows.high]
    air = float(point.power_per_motor_w) / float(
        np.exp(np.interp(np.log(thrust), np.log([t1, t2]), np.log([p1, p2])))
    )
    thin = f" x {air:.3f} for the air" if abs(air - 1) > 5e-4 else ""
    ends = "the reserve" if not run.landed else "the landing voltage"
    minutes = float(point.endurance_min)
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
        Step(
            "energy_used_wh", "energy delivered", f"cells x the cell's voltage summed over charge, down to {ends}",
            f"{float(pack.cells):g} x {float(run.energy_wh):.3f} Wh", float(run.energy_wh * pack.cells), "Wh", CIRCUIT,
        ),
        Step(
            "endurance_min", "endurance", "60 x energy delivered / hover power",
            f"60 x {float(run.energy_wh * pack.cells):.1f} Wh / {float(point.power_w):.1f} W", minutes, "min", CIRCUIT,
        ),
        Step(
            "hover_current_a", "hover current, mean of the flight", "charge delivered / endurance",
            f"60 x {float(run.charge_ah * pack.parallel):.2f} Ah / {minutes:.2f} min", float(point.mean_current_a), "A", CIRCUIT,
        ),
        Step(
            "hover_c_rate", "hover current as a C-rate", "hover current / pack capacity",
            f"{float(point.mean_current_a):.2f} A / {float(pack.capacity_ah):g} Ah", float(point.c_rate), "1/h",
            "IEC 61960-3: It = capacity / 1 h",
        ),
        Step(
            "hover_cell_current_end_a", "cell current in hover at the end", "hover power / cells / cell voltage there",
            f"{float(point.power_w):.1f} W / {float(pack.cells):g} / {float(run.end_v):.3f} V", float(run.end_a), "A", CIRCUIT,
        ),
        Step(
            "landing_cell_v", "cell voltage under load at the end", "(U + sqrt(U^2 - 4 p R)) / 2, p the power per cell",
            f"U {float(run.end_open_circuit_v):.3f} V, p {float(point.cell_power_w):.2f} W", float(run.end_v), "V", CIRCUIT,
        ),
        Step(
            "lowest_hover_cell_v", "lowest cell voltage that keeps the thrust reserve",
            "voltage in hover at which pulling reserve x hover thrust just sags to the last voltage that can give it",
            f"reserve {float(flight.thrust_reserve):g}, limited by the {point.lowest_hover_binds}",
            float(point.lowest_hover_cell_v), "V", "thrust table carried to that voltage",
        ),
    ]  # fmt: skip
    return steps


def _ceiling_step(key: str, design: Design, label: str, state: State, ceiling: Ceiling) -> Step:
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


def working(design: Design, point: OperatingPoint) -> tuple[Step, ...]:
    """The working of a single design, in the order in which a builder would do it by hand."""
    steps = _pack_steps(design, point) + _steady_steps(design, point)
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
