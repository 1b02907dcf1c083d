"""What the state of the pack does to a plan: cold and age on the way in, warmth on the way out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from scipy.integrate import cumulative_trapezoid

from workbook.battery.derating import (
    REFERENCE_C,
    age,
    capacity_at_temperature,
    resistance_at_temperature,
)
from workbook.battery.discharge import PowerRun
from workbook.battery.heat import heat_path
from workbook.battery.model import CellModel
from workbook.numbers import FloatArray, Number
from workbook.sizing.design import Allowances, Design, Flight

COOL_C = 15.0
"""Below this temperature of the cells a plan is only roughly predicted; `COLD_CAUTION` says how roughly."""


def derate(flight: Flight, allowances: Allowances) -> Allowances:
    """The allowances with what temperature and age of the pack take as well.

    The cells are taken to stay as they are at take-off: they warm up in flight, so that a plan in the
    cold errs on the side of less.

    Args:
        flight: its `pack_temperature_c`, `pack_cycles` and `pack_years` count.
        allowances: to which they are added; arrays too.

    Source: `workbook.battery.derating`.

    Example:
        >>> cold = derate(Flight(3.0, 15.0, 1.5, pack_temperature_c=0.0), Allowances())
        >>> float(cold.resistance_factor), float(cold.capacity_factor)
        (2.09, 0.896)
    """
    cells_c = flight.pack_temperature_c
    fresh = np.ndim(flight.pack_cycles) == np.ndim(flight.pack_years) == 0 and (
        flight.pack_cycles == flight.pack_years == 0
    )
    if fresh and np.ndim(cells_c) == 0 and cells_c == REFERENCE_C:
        return allowances
    aged = age(flight.pack_cycles, flight.pack_years)
    return replace(
        allowances,
        capacity_factor=allowances.capacity_factor
        * capacity_at_temperature(cells_c)
        * aged.capacity_factor,
        resistance_factor=allowances.resistance_factor
        * resistance_at_temperature(cells_c)
        * aged.resistance_factor,
    )


def has_size(design: Design[Any]) -> bool:
    """Whether the cell has a diameter and a height, so that its surface is known."""
    return design.pack.cell.diameter_mm > 0 and design.pack.cell.height_mm > 0


def end_temperature_c(
    design: Design[Any], run: PowerRun, half_mohm: Number, allowances: Allowances
) -> FloatArray:
    """Temperature inside the hottest cell at the end of steady flight: an estimate.

    The cell stores and sheds heat as `workbook.battery.heat.heat_path` has it for the flight's
    `pack_airflow`; the heat made is the mean of the flight, so that
    T = air + rise + (T_0 - air - rise) exp(-t / tau), rise = mean watts / loss. Bursts are not in it.

    Args:
        design: whose figures may be arrays.
        run: the discharge of one cell in steady flight.
        half_mohm: of one cell half way, with its share of the joints.
        allowances: as put into the discharge.

    Returns:
        NaN where the cell has no size or the flight does not begin.

    Source: first-order heat balance, its closed form.
    """
    pack, flight = design.pack, design.flight
    if not has_size(design):
        return np.full(np.shape(run.time_s), np.nan)
    own = 1.0 - pack.joint_mohm_per_cell * allowances.joint_factor / half_mohm
    path = heat_path(pack.cell, flight.pack_airflow)
    time_s = np.asarray(run.time_s, dtype=float)
    rest_wh = _energy_at_rest_wh(pack.cell.model, run.end_depth_of_discharge)
    with np.errstate(divide="ignore", invalid="ignore"):
        heat_w = (rest_wh * allowances.capacity_factor - run.energy_wh) * 3600.0 / time_s * own
        rise = np.where(time_s > 0, heat_w, 0.0) / path.loss_w_k
        left = np.exp(-time_s / path.time_constant_s)
    air, start = flight.air_temperature_c, flight.pack_temperature_c
    return np.asarray(air + rise + (start - air - rise) * left)


def _energy_at_rest_wh(model: CellModel, depth_of_discharge: Number) -> FloatArray:
    """What a cell without resistance would give down to a depth of discharge."""
    nodes, rest_v = model.depth_of_discharge, model.open_circuit_v
    whole = cumulative_trapezoid(rest_v, nodes, initial=0.0)
    depth = np.asarray(depth_of_discharge, dtype=float)
    low = np.clip(np.searchsorted(nodes, depth, side="right") - 1, 0, len(nodes) - 2)
    part = 0.5 * (depth - nodes[low]) * (rest_v[low] + model.open_circuit_at(depth))
    return np.asarray(model.capacity_ah * (whole[low] + part))
