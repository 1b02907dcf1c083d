"""Cells that differ: how parallel cells share the current, and which group ends the flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.errors import refuse
from workbook.numbers import JUST_ABOVE_0, FloatArray, Number, range_problems

WIDEST = 3.0
"""Draws are cut at this many standard deviations: worse cells are set aside at matching."""

CAPACITY_SPREAD_PCT, RESISTANCE_SPREAD_PCT = 1.0, 5.0
"""One standard deviation of new cells of one batch. Source: common practice, no source (capacity
within 1 to 3 %, resistance within 5 to 10 %)."""

DRAWS, STEPS = 400, 200
"""Packs drawn, and steps of equal charge over a cell's capacity."""


def highest_shares(
    model: CellModel,
    mean_a: Number,
    resistance_factor: FloatArray,
    capacity_factor: Number = 1.0,
    *,
    landing_v: float = 3.0,
    steps: int = 2 * STEPS,
) -> FloatArray:
    """Discharge cells in parallel at constant total current and find the most that each one carries.

    All cells of a group are at one terminal voltage V with I_i = (U(z_i) - V) / R_i and the sum
    of I_i given, so V = (sum U/R - I) / (sum 1/R). A cell of low resistance leads, empties faster,
    and hands the current over to the others. Steps are linearly implicit and centred in time.

    Args:
        model: the cell.
        mean_a: total current over the number of cells, above 0, shape of the leading axes.
        resistance_factor: of each cell over the model's, shape (..., P).
        capacity_factor: likewise, shape (..., P) or one figure.
        landing_v: loaded voltage of the group at which it ends.
        steps: of equal charge over the cell's capacity.

    Returns:
        Highest current of each cell over the mean, from the start until its group ends, shape (..., P).

    Source: Kirchhoff's laws with the cell's U(z) and R(z).

    Example:
        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 5.0, "curves")
        >>> highest_shares(model, 10.0, np.array([0.9, 1.1])).round(2)
        array([1.1, 1. ])
    """
    r_factor, q_factor = np.broadcast_arrays(
        np.asarray(resistance_factor, dtype=float), np.asarray(capacity_factor, dtype=float)
    )
    mean = np.broadcast_to(np.asarray(mean_a, dtype=float), r_factor.shape[:-1])
    step_hours = (model.capacity_ah / steps / mean)[..., None]
    cell_ah = model.capacity_ah * q_factor
    alive = np.ones(mean.shape, dtype=bool)
    z, highest = np.zeros(r_factor.shape), np.zeros(r_factor.shape)
    for number in range(2 * steps):
        u, slope = open_circuit_line(model, z)
        r = np.maximum(model.resistance_at(z), 1e-3) * r_factor / 1000.0
        volts, now = _split(u, r, mean)
        if number:  # the start counts whatever its voltage
            alive = alive & (volts >= landing_v) & (z < 1.0).all(axis=-1)
        if not alive.any():
            break
        live = alive[..., None]
        highest = np.where(live, np.maximum(highest, now / mean[..., None]), highest)
        # the voltage of each cell half a step ahead: U + U' z' h / 2, so U' stiffens the resistance
        stiffer = r + np.maximum(-slope * step_hours / 2.0 / cell_ah, 0.0)
        _, middle = _split(u, stiffer, mean)
        z = np.where(live, z + middle * step_hours / cell_ah, z)
    return highest


def open_circuit_line(model: CellModel, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Open-circuit voltage and its slope over depth of discharge; straight on past empty and past full.

    Args:
        model: the cell.
        z: depth of discharge; below 0 where the other pack charges a full one.

    Example:
        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 5.0, "curves")
        >>> [x.round(3).tolist() for x in open_circuit_line(model, np.array([1.1, -9.0]))]
        [[2.88, 15.0], [-1.2, -1.2]]
    """
    steps_v = model.steps_v
    place = z * len(steps_v)
    k = np.fmin(np.maximum(place, 0.0), len(steps_v) - 1).astype(np.intp)
    step_v = steps_v[k]
    return model.open_circuit_v[k] + step_v * (place - k), step_v * len(steps_v)


def _split(u: FloatArray, r_ohm: FloatArray, mean_a: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Terminal voltage of each group, and the current of each of its cells."""
    total_a = mean_a * u.shape[-1]
    volts = ((u / r_ohm).sum(axis=-1) - total_a) / (1.0 / r_ohm).sum(axis=-1)
    return volts, (u - volts[..., None]) / r_ohm


def draw_cells(series: int, parallel: int, draws: int) -> tuple[FloatArray, FloatArray]:
    """Draw packs of new cells around the datasheet's, normal and cut at three standard deviations; the same each time.

    Args:
        series, parallel, draws: 1 or more.

    Returns:
        Factors on resistance and on capacity of each cell, both of shape (draws, S, P).

    Example:
        >>> resistance, capacity = draw_cells(4, 3, 100)
        >>> capacity.shape, bool(capacity.std() < resistance.std())
        ((100, 4, 3), True)
    """
    generator = np.random.default_rng(1)
    size = (draws, series, parallel)

    def around(spread_pct: float) -> FloatArray:
        return 1.0 + spread_pct / 100.0 * np.clip(generator.standard_normal(size), -WIDEST, WIDEST)

    return around(RESISTANCE_SPREAD_PCT), around(CAPACITY_SPREAD_PCT)


@dataclass(frozen=True, eq=False)
class PackSpread:
    """What the spread of unmatched cells does to a pack.

    Attributes:
        poor_share: highest current of any cell over the mean, on the way: what 19 in 20 packs stay under.
        poor_lost_pct: of the pack's charge, what its weakest group costs: what 19 in 20 stay under.
    """

    poor_share: float
    poor_lost_pct: float


def pack_spread(
    pack: Pack, pack_a: float, *, landing_v: float = 3.0, draws: int = DRAWS
) -> PackSpread:
    """The share of a pack's worst cell, and what its weakest group costs, over many drawn packs.

    Args:
        pack: one pack, S and P plain whole numbers.
        pack_a: its current, above 0.
        landing_v: loaded voltage per cell at the end.
        draws: packs drawn, 1 or more.

    Raises:
        InputError: a current that is not above 0.

    Source: `highest_shares` of cells drawn by `draw_cells`; parallel cells add up, and the weakest group in
        series ends the flight.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> spread = pack_spread(Pack(find_cell("Bittern"), 4, 2), 16.0)
        >>> 1.0 < spread.poor_share < 1.3, 0.0 < spread.poor_lost_pct < 3.0
        (True, True)
    """
    refuse(range_problems({"pack_a": (pack_a, JUST_ABOVE_0, np.inf, "above 0 A")}))
    series, parallel = int(pack.series), int(pack.parallel)
    resistance, capacity = draw_cells(series, parallel, draws)
    lost_pct = 100.0 * (1.0 - capacity.mean(axis=-1).min(axis=-1))
    share = np.ones(draws)
    if parallel > 1:
        mean_a = pack_a / parallel
        shares = highest_shares(
            pack.cell.model, mean_a, resistance, capacity, landing_v=landing_v, steps=STEPS
        )
        share = shares.max(axis=(-2, -1))
    return PackSpread(float(np.quantile(share, 0.95)), float(np.quantile(lost_pct, 0.95)))
