"""What the state of the pack does to a plan: cold and age on the way in, warmth on the way out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.battery.derating import COLD_CAUTION, LEAST_CHARGE, REFERENCE_C, age
from workbook.battery.discharge import PowerRun
from workbook.battery.heat import Air, HeatPath, heat_path
from workbook.battery.model import CellModel
from workbook.numbers import FloatArray, Number, flat
from workbook.sizing.design import Allowances, Design, Flight

COOL_C = 15.0
"""Below this temperature of the cells a plan is only roughly predicted; `COLD_CAUTION` says how roughly."""

KNOWN_COLD_SHARE = 0.15
"""Of what the budget allows for cold, the share that stays where curves at other temperatures show what it does.

Source: against electrochemical models the plan is then within 5 %, not within a quarter."""

NEAR_END_V = 0.1
"""Above the landing voltage: where a cold cell's charge is read over current. Fitted in tests/published."""

WARMTH_PARTS = 14
"""Parts of equal charge in which the heat of a flight is summed, each by Simpson's rule: of a million packs 0.02 K
below an integration at most, and 0.01 K above."""

OUTER_AIR: dict[str, Air] = {"wrapped": "still", "still": "still", "forced": "forced"}
"""How the outermost cell of a pack sheds its heat, by the pack's airflow: the wrap keeps a stream off it, but
no neighbour keeps it warm. Common practice, no source."""


def derate(flight: Flight, allowances: Allowances, model: CellModel) -> Allowances:
    """The allowances with what temperature and age of the pack take as well.

    The cells are taken to stay as they are at take-off: they warm up in flight, so that a plan in the
    cold errs on the side of less.

    Args:
        flight: its `pack_temperature_c`, `pack_cycles`, `pack_years` and measured factors count.
        allowances: to which they are added; arrays too. `cold_factor` says how hard the cold bears on the
            cells against what is known, less where curves at other temperatures show it.
        model: of the cell, which knows what cold does to it where its curves show it.

    Source: `workbook.battery.derating`.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> model = find_cell("Bittern").model
        >>> cold = derate(Flight(3.0, 15.0, 1.5, pack_temperature_c=0.0), Allowances(), model)
        >>> float(cold.resistance_factor), float(cold.capacity_factor)
        (2.09, 0.896)
    """
    cells_c = flight.pack_temperature_c
    allowances = _measured(flight, allowances)
    fresh = np.ndim(flight.pack_cycles) == np.ndim(flight.pack_years) == 0 and (
        flight.pack_cycles == flight.pack_years == 0
    )
    if fresh and np.ndim(cells_c) == 0 and cells_c == REFERENCE_C:
        return allowances
    aged = age(flight.pack_cycles, flight.pack_years)
    unknown = 1.0 if model.temperature is None else KNOWN_COLD_SHARE
    bears = 1.0 + (np.asarray(allowances.cold_factor) - 1.0) * unknown
    more = np.asarray(model.resistance_factor_at(cells_c)) - 1.0
    less = 1.0 - np.asarray(model.capacity_factor_at(cells_c))
    return replace(
        allowances,
        capacity_factor=allowances.capacity_factor
        * np.maximum(1.0 - less * np.where(less > 0.0, bears, 1.0), LEAST_CHARGE)
        * aged.capacity_factor,
        resistance_factor=allowances.resistance_factor
        * (1.0 + more * np.where(more > 0.0, bears, 1.0))
        * aged.resistance_factor,
    )


def _measured(flight: Flight, allowances: Allowances) -> Allowances:
    """The allowances with what was measured of the pack in flight."""
    resistance, capacity = flight.pack_resistance_factor, flight.pack_capacity_factor
    if np.ndim(resistance) == np.ndim(capacity) == 0 and resistance == capacity == 1.0:
        return allowances
    return replace(
        allowances,
        resistance_factor=allowances.resistance_factor * resistance,
        capacity_factor=allowances.capacity_factor * capacity,
    )


def cold_fade(flight: Flight, model: CellModel, cell_w: Number) -> FloatArray:
    """Of the charge that cold leaves at a low current, the share that it leaves at a flight's own current.

    A cold cell runs short the sooner the more it carries near the end, at `NEAR_END_V` above the landing
    voltage. 1 where no curves at other temperatures show it.

    Args:
        flight: its `pack_temperature_c` and `landing_v` count.
        model: of the cell.
        cell_w: power of one cell.

    Source: common practice, no source; checked against electrochemical models in tests/published.
    """
    if model.temperature is None:
        return np.asarray(1.0)
    cells_c = flight.pack_temperature_c
    late_a = np.nan_to_num(np.asarray(cell_w) / (np.asarray(flight.landing_v) + NEAR_END_V))
    return np.asarray(model.capacity_factor_at(cells_c, late_a) / model.capacity_factor_at(cells_c))


def flown_state(design: Design[Any], power_w: Number) -> Allowances:
    """What temperature and age take from a pack flown at a power: factors on its charge and resistance."""
    model, flight = design.pack.cell.model, design.flight
    taken = derate(flight, Allowances(), model)
    fade = cold_fade(flight, model, np.asarray(power_w) / design.pack.cells)
    return replace(taken, capacity_factor=taken.capacity_factor * fade)


def cold_caution(design: Design[Any], end_a: float) -> str:
    """What to keep in mind about a plan in the cold; empty where its cells are not cold, or their curves show it.

    Args:
        design: a single design.
        end_a: current of one cell at the end of the flight.
    """
    cells_c, law = float(design.flight.pack_temperature_c), design.pack.cell.model.temperature
    if cells_c >= COOL_C:
        return ""
    return COLD_CAUTION if law is None else law.doubt(cells_c, end_a)


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


HEAT_BLOCK = 2048
"""Designs whose warmth is worked out at a time: all parts of them fit the processor's cache."""


def cell_warmth(
    design: Design[Any], run: PowerRun, cell_w: Number, allowances: Allowances, airs: Sequence[Air]
) -> tuple[CellWarmth, ...]:
    """The heat balance of a cell through steady flight, as the mission has it too, in each of several places.

    The cell makes I^2 times its own resistance; what joints, strips and leads make is made outside it.
    Resistance and charge stay those at take-off, and bursts are not in it.

    Args:
        design: whose figures may be arrays.
        run: the discharge of one cell in steady flight.
        cell_w: the power of that flight.
        allowances: as put into the discharge.
        airs: how the cell sheds its heat, see `workbook.battery.heat.heat_path`.

    Returns:
        The warmth in each; NaN where the cell has no size or the flight does not begin.

    Source: I^2 R, the heat of each of `WARMTH_PARTS` parts of equal charge spread evenly over its time; first-order
        heat balance, exact for such heat.
    """
    flight, air_c = design.flight, np.asarray(design.flight.air_temperature_c, dtype=float)
    joints_mohm = design.pack.joint_mohm_per_cell * allowances.joint_factor
    ends, factor = run.end_depth_of_discharge, allowances.resistance_factor
    start_k = flight.pack_temperature_c - air_c
    shape, (start_k, *figures) = flat(
        start_k, run.time_s, ends, run.charge_ah, cell_w, factor, joints_mohm
    )
    found = np.full((len(airs), 3, start_k.size), np.nan)
    paths = [heat_path(design.pack.cell, air) for air in airs] if has_size(design) else []
    deepest = figures[1] == np.fmax.reduce(
        figures[1], initial=0.0
    )  # as all are that go down to the reserve
    for alike in (np.flatnonzero(deepest), np.flatnonzero(~deepest)):
        for first in range(0, alike.size, HEAT_BLOCK):
            rows = alike[first : first + HEAT_BLOCK]
            part_s, heat_w = _heat(design.pack.cell.model, *(figure[rows] for figure in figures))
            for path, ends_k in zip(paths, found, strict=False):
                above_k = _above_air_k(path, part_s, heat_w, start_k[rows])
                ends_k[:, rows] = above_k[-1], above_k.max(axis=0), above_k.min(axis=0)
    return tuple(CellWarmth(*(air_c + k.reshape(shape) for k in ends_k)) for ends_k in found)


def _above_air_k(
    path: HeatPath, part_s: FloatArray, heat_w: FloatArray, start_k: FloatArray
) -> FloatArray:
    """How far cells are above the air at the start and after each part, at a steady heat in each.

    In each part a cell comes nearer to where that heat would hold it for ever.
    """
    lost = np.expm1(part_s * (-1.0 / path.time_constant_s))
    held_k = heat_w * (1.0 / path.loss_w_k)
    above_k = np.empty((len(part_s) + 1, len(start_k)))
    above_k[0] = start_k
    for k, (share, steady_k) in enumerate(zip(lost, held_k, strict=True)):
        above_k[k + 1] = above_k[k] + share * (above_k[k] - steady_k)
    return above_k


def _heat(
    model: CellModel,
    time_s: FloatArray,
    end_depth_of_discharge: FloatArray,
    charge_ah: FloatArray,
    cell_w: FloatArray,
    resistance_factor: FloatArray,
    joints_mohm: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Time and mean heat of each part of the flight, of designs in a row."""
    if not np.ptp(end_depth_of_discharge):
        end_depth_of_discharge = end_depth_of_discharge[:1]
    depth = np.linspace(0.0, 1.0, 2 * WARMTH_PARTS + 1)[:, None] * end_depth_of_discharge
    rest_v, own_mohm = model.voltage_and_resistance_at(depth)
    # twice the voltage, U + sqrt(U^2 - 4 P R); U where the power gives out just there
    twice_v = own_mohm * (4e-3 * cell_w * resistance_factor)
    twice_v += 4e-3 * cell_w * joints_mohm
    np.subtract(rest_v**2, twice_v, out=twice_v)
    np.sqrt(np.maximum(twice_v, 0.0, out=twice_v), out=twice_v)
    twice_v += rest_v
    swept_v, mohm_per_v = _simpson_sums(twice_v), _simpson_sums(own_mohm / twice_v)
    with np.errstate(divide="ignore", invalid="ignore"):
        share_s = time_s / swept_v.sum(axis=0)
        # I^2 R is (P / V) R x I; 1.2 has Ah, milliohm, the six of the sums and twice the voltage in it
        share_ah = np.where(time_s > 0, charge_ah / (WARMTH_PARTS * share_s), 0.0)
        heat_w = mohm_per_v / swept_v * (1.2 * cell_w * resistance_factor * share_ah)
    return swept_v * share_s, heat_w


def _simpson_sums(figures: FloatArray) -> FloatArray:
    """Six times the mean of each part, from its ends and its middle."""
    sums = 4.0 * figures[1::2]
    sums += figures[:-2:2]
    sums += figures[2::2]
    return np.asarray(sums)
