"""Figures by name that any craft has, each with its working: the pack, its mass, its steady flight."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

import numpy as np

from workbook.data.tables import data_sections
from workbook.numbers import Number
from workbook.sizing.design import Design
from workbook.sizing.operating_point import OperatingPoint
from workbook.working import Step, step

Figures: TypeAlias = dict[str, Number | str | Callable[[], Number]]
"""Figures of a single design by name, the unit as suffix; not finite where there is no such figure. What takes
long to work out is given as a function, for whoever asks for that figure."""


SHOWN_LISTS = ("keys", "state_keys", "large_keys", "short_keys")
"""Of the flight, of a state of the pack, those that come first on a screen, the six of an answer in short."""


def shown_keys(craft: str) -> tuple[tuple[str, ...], ...]:
    """Which figures of a type of craft are shown to a person, in order, as `data/shown.toml` has them: `SHOWN_LISTS`.

    Example:
        >>> shown_keys("multirotor")[2][0]
        'all_up_mass_g'
    """
    lists = data_sections("shown.toml")[craft]
    return tuple(tuple(lists[name]) for name in SHOWN_LISTS)


def plain(figures: Mapping[str, Any]) -> dict[str, float | str | None]:
    """The same figures as plain numbers and text, None where there is no such figure.

    Example:
        >>> plain({"endurance_min": np.float64(12.5), "ends_by": "reserve", "climb_m_s": np.nan})
        {'endurance_min': 12.5, 'ends_by': 'reserve', 'climb_m_s': None}
    """
    return {key: plain_one(value) for key, value in figures.items()}


def plain_one(figure: Any) -> float | str | None:
    """One of them.

    Example:
        >>> plain_one(lambda: np.float64(2.0)), plain_one(np.nan)
        (2.0, None)
    """
    value = figure() if callable(figure) else figure
    if isinstance(value, str):
        return value
    return float(value) if np.isfinite(value) else None


def common_figures(design: Design[Any], point: OperatingPoint[Any, Any]) -> Figures:
    """The figures of pack and flight that any craft has."""
    pack, run = design.pack, point.run
    return {
        "all_up_mass_g": point.all_up_mass_g,
        "pack_mass_g": pack.mass_g,
        "pack_cells": pack.cells,
        "pack_nominal_v": pack.nominal_v,
        "pack_full_v": pack.full_v,
        "pack_capacity_ah": pack.capacity_ah,
        "pack_energy_wh": pack.energy_wh,
        "pack_continuous_a": pack.continuous_a,
        "pack_burst_a": pack.burst_a,
        "endurance_min": point.endurance_min,
        "energy_used_wh": run.energy_wh * pack.cells,
        "charge_used_ah": run.charge_ah * pack.parallel,
        "depth_used_pct": 100.0 * run.end_depth_of_discharge,
        "full_cell_v": run.start_v,
        "landing_cell_v": run.end_v,
        "landing_rest_cell_v": run.end_open_circuit_v,
        "end_cell_temperature_c": point.end_cell_c,
        "hottest_cell_temperature_c": point.hottest_cell_c,
        "coldest_cell_temperature_c": point.coldest_cell_c,
        "joint_heat_w": point.joint_heat_w,
        "ends_by": np.where(run.landed, "landing voltage", "reserve")[()],
    }


def steady_figures(point: OperatingPoint[Any, Any], steady: str) -> Figures:
    """Power and currents of steady flight.

    Args:
        point: the operating point of a single design.
        steady: "hover" or "cruise", as the keys have it.
    """
    run, parallel = point.run, point.load.pack.parallel
    return {
        f"{steady}_power_w": point.power_w,
        f"{steady}_current_a": point.mean_current_a,
        f"{steady}_current_full_a": run.start_a * parallel,
        f"{steady}_current_end_a": run.end_a * parallel,
        f"{steady}_c_rate": point.c_rate,
        f"{steady}_cell_current_end_a": run.end_a,
    }


def pack_steps(design: Design[Any]) -> tuple[Step, ...]:
    """The pack by arithmetic from the cell."""
    pack, cell = design.pack, design.pack.cell
    overhead = 1 + pack.overhead_pct / 100
    return (
        step("pack_nominal_v", pack.nominal_v, pack=pack, cell=cell),
        step("pack_full_v", pack.full_v, pack=pack, cell=cell),
        step("pack_capacity_ah", pack.capacity_ah, pack=pack, cell=cell),
        step("pack_energy_wh", pack.energy_wh, pack=pack),
        step("pack_continuous_a", pack.continuous_a, pack=pack, cell=cell),
        step("pack_burst_a", pack.burst_a, pack=pack, cell=cell),
        step("pack_mass_g", pack.mass_g, pack=pack, cell=cell, overhead=overhead),
    )


def mass_step(design: Design[Any], point: OperatingPoint[Any, Any]) -> Step:
    """All-up mass, the head of the chain."""
    craft, pack = design.craft, design.pack
    return step("all_up_mass_g", point.all_up_mass_g, craft=craft, pack=pack)


def run_steps(
    design: Design[Any], point: OperatingPoint[Any, Any], steady: str
) -> tuple[Step, ...]:
    """Energy, minutes and currents of steady flight down to its end.

    Args:
        design: a single design.
        point: its operating point.
        steady: "hover" or "cruise", in words and in keys.
    """
    pack, run = design.pack, point.run
    ends = "the landing voltage" if run.landed else "the reserve"
    energy_wh, minutes = run.energy_wh * pack.cells, point.endurance_min
    return (
        step("energy_used_wh", energy_wh, ends=ends, pack=pack, run=run),
        step("endurance_min", minutes, steady=steady, energy_wh=energy_wh, point=point),
        step(
            "steady_current_a",
            point.mean_current_a,
            steady=steady,
            charge_ah=run.charge_ah * pack.parallel,
            minutes=minutes,
        ),
        step("steady_c_rate", point.c_rate, steady=steady, point=point, pack=pack),
        step(
            "steady_cell_current_end_a", run.end_a, steady=steady, point=point, pack=pack, run=run
        ),
        step("landing_cell_v", run.end_v, run=run, point=point),
    )
