"""Figures by name, as every view shows them, and those that any craft has."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from workbook.numbers import Number
from workbook.sizing.design import Design

Told: TypeAlias = dict[str, Number | str]
"""Figures of a single design by name, the unit as suffix; not finite where they cannot be told."""


class Row(NamedTuple):
    """One figure as it is shown to a person: its key, in words, unit, decimals."""

    key: str
    words: str
    unit: str
    decimals: int


def plain(told: Mapping[str, Any]) -> dict[str, float | str | None]:
    """The same figures as plain numbers and text, None where one cannot be told.

    Example:
        >>> plain({"endurance_min": np.float64(12.5), "ends_by": "reserve", "climb_m_s": np.nan})
        {'endurance_min': 12.5, 'ends_by': 'reserve', 'climb_m_s': None}
    """
    return {
        key: value if isinstance(value, str) else float(value) if np.isfinite(value) else None
        for key, value in told.items()
    }


def pack_rows() -> tuple[Row, ...]:
    """Mass and pack, which open every list of figures."""
    return (
        Row("all_up_mass_g", "all-up mass", "g", 0),
        Row("pack_mass_g", "pack mass", "g", 0),
        Row("pack_nominal_v", "pack voltage, nominal", "V", 1),
        Row("pack_capacity_ah", "pack capacity, rated", "Ah", 2),
        Row("pack_energy_wh", "pack energy, nominal", "Wh", 1),
        Row("pack_continuous_a", "pack current, continuous", "A", 1),
        Row("pack_burst_a", "pack current, burst", "A", 1),
    )


def common_figures(design: Design[Any], point: Any) -> Told:
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
        "ends_by": "landing voltage" if run.landed else "reserve",
    }
