"""The working of an answer that any craft shares: each figure with formula, numbers, unit and source."""

from __future__ import annotations

from typing import Any

from workbook.sizing.design import Design
from workbook.working import Step

CELLS = "IEC 61960-3 terms; arithmetic"
DATASHEET = "the cell's datasheet"
CIRCUIT = "source with a resistance; power = voltage x current"


def pack_steps(design: Design[Any]) -> list[Step]:
    """The pack by arithmetic from the cell."""
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


def mass_step(design: Design[Any], point: Any) -> Step:
    """All-up mass, the head of the chain."""
    craft, pack = design.craft, design.pack
    return Step(
        "all_up_mass_g", "all-up mass", "craft + payload + pack",
        f"{float(craft.mass_without_pack_g):g} g + {float(craft.payload_g):g} g + {float(pack.mass_g):.0f} g",
        float(point.all_up_mass_g), "g", "scale",
    )  # fmt: skip


def run_steps(design: Design[Any], point: Any, steady: str) -> list[Step]:
    """Energy, minutes and currents of steady flight down to its end.

    Args:
        steady: "hover" or "cruise", in words and in keys.
    """
    pack, run = design.pack, point.run
    ends = "the reserve" if not run.landed else "the landing voltage"
    minutes = float(point.endurance_min)
    return [
        Step(
            "energy_used_wh", "energy delivered", f"cells x the cell's voltage summed over charge, down to {ends}",
            f"{float(pack.cells):g} x {float(run.energy_wh):.3f} Wh", float(run.energy_wh * pack.cells), "Wh", CIRCUIT,
        ),
        Step(
            "endurance_min", "endurance", f"60 x energy delivered / {steady} power",
            f"60 x {float(run.energy_wh * pack.cells):.1f} Wh / {float(point.power_w):.1f} W", minutes, "min", CIRCUIT,
        ),
        Step(
            f"{steady}_current_a", f"{steady} current, mean of the flight", "charge delivered / endurance",
            f"60 x {float(run.charge_ah * pack.parallel):.2f} Ah / {minutes:.2f} min", float(point.mean_current_a), "A", CIRCUIT,
        ),
        Step(
            f"{steady}_c_rate", f"{steady} current as a C-rate", f"{steady} current / pack capacity",
            f"{float(point.mean_current_a):.2f} A / {float(pack.capacity_ah):g} Ah", float(point.c_rate), "1/h",
            "IEC 61960-3: It = capacity / 1 h",
        ),
        Step(
            f"{steady}_cell_current_end_a", f"cell current in {steady} at the end", f"{steady} power / cells / cell voltage there",
            f"{float(point.power_w):.1f} W / {float(pack.cells):g} / {float(run.end_v):.3f} V", float(run.end_a), "A", CIRCUIT,
        ),
        Step(
            "landing_cell_v", "cell voltage under load at the end", "(U + sqrt(U^2 - 4 p R)) / 2, p the power per cell",
            f"U {float(run.end_open_circuit_v):.3f} V, p {float(point.cell_power_w):.2f} W", float(run.end_v), "V", CIRCUIT,
        ),
    ]  # fmt: skip
