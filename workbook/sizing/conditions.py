"""What the state of the pack does to a plan: cold and age on the way in, warmth on the way out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.battery.derating import (
    REFERENCE_C,
    age,
    capacity_at_temperature,
    resistance_at_temperature,
)
from workbook.battery.discharge import PowerRun, voltage_under_power
from workbook.battery.heat import Air, heat_path
from workbook.numbers import FloatArray, Number
from workbook.sizing.design import Allowances, Design, Flight

COOL_C = 15.0
"""Below this temperature of the cells a plan is only roughly predicted; `COLD_CAUTION` says how roughly."""

WARMTH_PARTS = 40
"""Parts of equal charge in which the heat of a flight is summed: within 0.1 K of an integration."""

OUTER: dict[str, Air] = {"wrapped": "still", "still": "still", "forced": "forced"}
"""How the outermost cell of a pack sheds its heat, by the pack's airflow: the wrap keeps a stream off it, but
no neighbour keeps it warm. Common practice, no source."""


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


@dataclass(frozen=True, eq=False)
class CellWarmth:
    """Temperature inside one cell through steady flight, of the design's shape.

    Attributes:
        end_c: at the end of the flight.
        highest_c, lowest_c: from take-off to the end.
    """

    end_c: FloatArray
    highest_c: FloatArray
    lowest_c: FloatArray


def cell_warmth(
    design: Design[Any], run: PowerRun, cell_w: Number, allowances: Allowances, air: Air
) -> CellWarmth:
    """The heat balance of one cell through steady flight, as the mission has it too.

    The cell makes I^2 times its own resistance; what joints, strips and leads make is made outside it.
    Resistance and charge stay those at take-off, and bursts are not in it.

    Args:
        design: whose figures may be arrays.
        run: the discharge of one cell in steady flight.
        cell_w: the power of that flight.
        allowances: as put into the discharge.
        air: how the cell sheds its heat, see `workbook.battery.heat.heat_path`.

    Returns:
        NaN where the cell has no size or the flight does not begin.

    Source: first-order heat balance, exact between `WARMTH_PARTS` + 1 states of the cell, the heat of each
        part spread evenly over its time.
    """
    pack, flight = design.pack, design.flight
    time_s = np.asarray(run.time_s, dtype=float)
    if not has_size(design):
        unknown = np.full(time_s.shape, np.nan)
        return CellWarmth(unknown, unknown, unknown)
    path = heat_path(pack.cell, air)
    share = np.linspace(0.0, 1.0, WARMTH_PARTS + 1).reshape(-1, *(1,) * time_s.ndim)
    depth = share * run.end_depth_of_discharge
    rest_v = pack.cell.model.open_circuit_at(depth)
    own_ohm = pack.cell.model.resistance_at(depth) * allowances.resistance_factor / 1000.0
    joints_ohm = pack.joint_mohm_per_cell * allowances.joint_factor / 1000.0
    with np.errstate(divide="ignore", invalid="ignore"):
        cell_v = voltage_under_power(rest_v, 1000.0 * (own_ohm + joints_ohm), cell_w)
        cell_v = np.where(np.isnan(cell_v), 0.5 * rest_v, cell_v)  # the power gives out just there
        swept_v = 0.5 * (cell_v[1:] + cell_v[:-1])
        part_s = time_s * swept_v / swept_v.sum(axis=0)
        lost_v = cell_w / cell_v * own_ohm
        made_j = 1800.0 * (lost_v[1:] + lost_v[:-1]) * (run.charge_ah / WARMTH_PARTS)
        after = part_s / path.time_constant_s
        kept = np.exp(-after)
        spread = np.where(after > 0, -np.expm1(-after) / after, 1.0)
        above = np.asarray(flight.pack_temperature_c - flight.air_temperature_c, dtype=float)
        above = above + np.zeros(part_s.shape[1:])
        highest = lowest = above
        for left, warmed in zip(kept, made_j / path.stored_j_k * spread, strict=True):
            above = above * left + warmed
            highest, lowest = np.maximum(highest, above), np.minimum(lowest, above)
    air_c = flight.air_temperature_c
    return CellWarmth(*(np.asarray(air_c + k) for k in (above, highest, lowest)))
