"""Cells that differ: how parallel cells share the current, and which group ends the flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number

WIDEST = 3.0
"""Draws are cut at this many standard deviations: worse cells are set aside at matching."""


@dataclass(frozen=True)
class Sharing:
    """A discharge of parallel cells at one terminal voltage; groups along the leading axes.

    Attributes:
        start_share: each cell's current over the mean, at the start, shape (..., P).
        highest_share: the most that it becomes on the way, shape (..., P).
        hottest_share: the highest of the group's cells, shape (...).
        heat_factor: heat made in the cell over that of a like cell sharing evenly, shape (..., P).
        end_charge_ah: delivered by the group, per cell on average, until the end, shape (...).
        end_depth_of_discharge: each cell's depth of discharge at the end, shape (..., P).
    """

    start_share: FloatArray
    highest_share: FloatArray
    hottest_share: FloatArray
    heat_factor: FloatArray
    end_charge_ah: FloatArray
    end_depth_of_discharge: FloatArray


def share_current(
    model: CellModel,
    mean_a: Number,
    resistance_factor: FloatArray,
    capacity_factor: Number = 1.0,
    *,
    landing_v: float = 3.0,
    extra_mohm: Number = 0.0,
    from_depth_of_discharge: Number = 0.0,
    steps: int = 400,
) -> Sharing:
    """Discharge cells in parallel at constant total current and find what each one carries.

    All cells of a group stand at one terminal voltage V with I_i = (U(z_i) - V) / R_i and the sum
    of I_i given, so V = (sum U/R - I) / (sum 1/R). A cell of low resistance leads, empties faster,
    and hands the current over to the others. Steps are linearly implicit and centred in time.

    Args:
        model: the cell.
        mean_a: total current over the number of cells, above 0, shape of the leading axes.
        resistance_factor: of each cell over the model's, shape (..., P).
        capacity_factor: likewise, shape (..., P) or one figure.
        landing_v: loaded voltage of the group at which it ends.
        extra_mohm: each cell's own link, shape (..., P) or one figure.
        from_depth_of_discharge: of each cell at the start, shape (..., P) or one figure.
        steps: of equal charge over the cell's capacity.

    Source: Kirchhoff's laws with the cell's U(z) and R(z).

    Example:
        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 5.0, "curves")
        >>> share_current(model, 10.0, np.array([0.9, 1.1])).start_share
        array([1.1, 0.9])
    """
    r_factor, q_factor, extra, depth = np.broadcast_arrays(
        *(
            np.asarray(a, dtype=float)
            for a in (resistance_factor, capacity_factor, extra_mohm, from_depth_of_discharge)
        )
    )
    mean = np.broadcast_to(np.asarray(mean_a, dtype=float), r_factor.shape[:-1])
    cells = r_factor.shape[-1]
    nodes = len(model.depth_of_discharge) - 1
    slope_u = np.diff(model.open_circuit_v) * nodes
    slope_r = np.diff(model.resistance_mohm) * nodes
    z = depth.copy()
    step_ah = model.capacity_ah / steps
    hours = step_ah / mean
    alive = np.ones(mean.shape, dtype=bool)
    highest = np.zeros(r_factor.shape)
    heat, even_heat = np.zeros(r_factor.shape), np.zeros(r_factor.shape)
    delivered = np.zeros(mean.shape)
    end_depth = z.copy()
    start: FloatArray | None = None
    last_z, before = z, np.zeros(mean.shape)
    for _ in range(2 * steps):
        k = np.clip((z * nodes).astype(int), 0, nodes - 1)
        part = z - model.depth_of_discharge[k]
        u = model.open_circuit_v[k] + slope_u[k] * part
        base = np.maximum(model.resistance_mohm[k] + slope_r[k] * part, 1e-3)
        r = (base * r_factor + extra) / 1000.0
        volts = ((u / r).sum(axis=-1) - mean * cells) / (1.0 / r).sum(axis=-1)
        now = (u - volts[..., None]) / r
        if start is None:
            start = now / mean[..., None]
        ended = alive & ((volts < landing_v) | (z >= 1.0).any(axis=-1))
        if ended.any():
            # the end lies inside the step just taken: keep its part above the landing voltage
            fall = np.where(before > volts, before - volts, 1.0)
            kept = np.where(volts < landing_v, np.clip((before - landing_v) / fall, 0.0, 1.0), 1.0)
            cut = np.maximum(delivered - (1.0 - kept) * step_ah, 0.0)
            delivered = np.where(ended, cut, delivered)
            z_cut = z - (1.0 - kept)[..., None] * (z - last_z)
            end_depth = np.where(ended[..., None], z_cut, end_depth)
            alive = alive & ~ended
        if not alive.any():
            break
        live = alive[..., None]
        share = now / mean[..., None]
        highest = np.where(live, np.maximum(highest, share), highest)
        # the voltage of each cell half a step ahead: U + U' z' h / 2, so U' stiffens the resistance
        stiff = -slope_u[k] * (hours / 2.0)[..., None] / (model.capacity_ah * q_factor)
        r_mid = r + np.maximum(stiff, 0.0)
        v_mid = ((u / r_mid).sum(axis=-1) - mean * cells) / (1.0 / r_mid).sum(axis=-1)
        middle = (u - v_mid[..., None]) / r_mid
        heat = np.where(live, heat + middle**2 * r, heat)
        even_heat = np.where(live, even_heat + mean[..., None] ** 2 * base / 1000.0, even_heat)
        last_z, before = z, np.where(alive, volts, before)
        z = np.where(live, z + middle * hours[..., None] / (model.capacity_ah * q_factor), z)
        delivered = np.where(alive, delivered + step_ah, delivered)
    assert start is not None
    end_depth = np.where(alive[..., None], z, end_depth)
    with np.errstate(invalid="ignore", divide="ignore"):
        factor = np.where(even_heat > 0, heat / even_heat, 1.0)
    highest = np.maximum(highest, start)
    return Sharing(start, highest, highest.max(axis=-1), factor, delivered[()], end_depth)


@dataclass(frozen=True)
class CellDraw:
    """Cells drawn at random around the datasheet's, shape (draws, S, P).

    Attributes:
        resistance_factor, capacity_factor: of each cell over the typical one.
    """

    resistance_factor: FloatArray
    capacity_factor: FloatArray


def draw_cells(
    series: int,
    parallel: int,
    draws: int,
    *,
    capacity_spread_pct: float = 1.0,
    resistance_spread_pct: float = 5.0,
    seed: int = 1,
) -> CellDraw:
    """Draw packs of cells, normal around 1 and cut at three standard deviations.

    Args:
        series, parallel, draws: shape of the result.
        capacity_spread_pct, resistance_spread_pct: one standard deviation, 0 to 30.
        seed: the same seed gives the same cells.

    Raises:
        InputError: every count below 1 and every spread out of range.

    Source: spreads of new cells of one batch: common practice, no source (capacity within 1 to 3 %,
        resistance within 5 to 10 %).

    Example:
        >>> draw_cells(4, 3, 100).capacity_factor.shape
        (100, 4, 3)
    """
    problems = [
        Problem(f"{value} cannot be; 1 or more is needed.", key)
        for key, value in (("series", series), ("parallel", parallel), ("draws", draws))
        if value < 1
    ]
    problems += [
        Problem(f"{value:g} % cannot be; 0 to 30 % is right.", key)
        for key, value in (
            ("capacity_spread_pct", capacity_spread_pct),
            ("resistance_spread_pct", resistance_spread_pct),
        )
        if not 0.0 <= value <= 30.0
    ]
    if problems:
        raise InputError(problems)
    generator = np.random.default_rng(seed)
    size = (draws, series, parallel)

    def around(spread_pct: float) -> FloatArray:
        return 1.0 + spread_pct / 100.0 * np.clip(generator.standard_normal(size), -WIDEST, WIDEST)

    return CellDraw(around(resistance_spread_pct), around(capacity_spread_pct))


def weakest_group(capacity_factor: FloatArray) -> FloatArray:
    """Capacity factor of a pack: parallel cells add up, the weakest group in series ends the flight.

    Args:
        capacity_factor: of each cell, shape (..., S, P).

    Returns:
        The least of the groups' means, shape (...).

    Example:
        >>> float(weakest_group(np.array([[1.0, 1.02], [0.97, 0.99], [1.0, 1.0]])))
        0.98
    """
    return np.asarray(np.asarray(capacity_factor).mean(axis=-1).min(axis=-1))


@dataclass(frozen=True)
class PackSpread:
    """What the spread of the cells does to a pack, over many draws.

    Attributes:
        capacity_factor: of the weakest group, shape (draws,).
        hottest_share: highest current of any cell over the mean, shape (draws,).
        likely_capacity_factor, poor_capacity_factor: median, and what 19 packs in 20 reach.
        likely_share, poor_share: median, and what 19 packs in 20 stay under.
    """

    capacity_factor: FloatArray
    hottest_share: FloatArray
    likely_capacity_factor: float
    poor_capacity_factor: float
    likely_share: float
    poor_share: float


def pack_spread(
    pack: Pack,
    pack_a: float,
    *,
    landing_v: float = 3.0,
    capacity_spread_pct: float = 1.0,
    resistance_spread_pct: float = 5.0,
    draws: int = 400,
    seed: int = 1,
) -> PackSpread:
    """Draw packs of differing cells, and discharge them at a constant current.

    Args:
        pack: one pack, S and P plain whole numbers.
        pack_a: its current, above 0.
        landing_v: loaded voltage per cell at the end.
        capacity_spread_pct, resistance_spread_pct: one standard deviation.
        draws, seed: as in `draw_cells`.

    Raises:
        InputError: a figure that cannot be.

    Source: `share_current`, `weakest_group`.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> spread = pack_spread(Pack(find_cell("Bittern 50E"), 4, 2), 16.0, draws=100)
        >>> 0.97 < spread.likely_capacity_factor < 1.0 < spread.likely_share < 1.2
        True
    """
    if not pack_a > 0:
        raise InputError(Problem(f"{pack_a:g} A cannot be; above 0 A is needed.", "pack_a"))
    series, parallel = int(pack.series), int(pack.parallel)
    cells = draw_cells(
        series,
        parallel,
        draws,
        capacity_spread_pct=capacity_spread_pct,
        resistance_spread_pct=resistance_spread_pct,
        seed=seed,
    )
    capacity = weakest_group(cells.capacity_factor)
    if parallel == 1:
        share = np.ones(draws)
    else:
        run = share_current(
            pack.cell.model,
            pack_a / parallel,
            cells.resistance_factor,
            cells.capacity_factor,
            landing_v=landing_v,
            steps=200,
        )
        share = run.hottest_share.max(axis=-1)
    return PackSpread(
        capacity,
        share,
        float(np.median(capacity)),
        float(np.quantile(capacity, 0.05)),
        float(np.median(share)),
        float(np.quantile(share, 0.95)),
    )
