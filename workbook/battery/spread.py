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


@dataclass(frozen=True)
class Sharing:
    """A discharge of parallel cells at one terminal voltage; groups along the leading axes.

    Attributes:
        start_share: each cell's current over the mean, at the start, shape (..., P).
        highest_share: the most that it becomes on the way, shape (..., P).
        end_charge_ah: delivered by the group, per cell on average, until the end, shape (...).
        end_depth_of_discharge: each cell's at the end, shape (..., P).
    """

    start_share: FloatArray
    highest_share: FloatArray
    end_charge_ah: FloatArray
    end_depth_of_discharge: FloatArray

    @property
    def hottest_share(self) -> FloatArray:
        """The highest of each group's cells, shape (...)."""
        return np.asarray(self.highest_share.max(axis=-1))


def share_current(
    model: CellModel,
    mean_a: Number,
    resistance_factor: FloatArray,
    capacity_factor: Number = 1.0,
    *,
    landing_v: float = 3.0,
    steps: int = 2 * STEPS,
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
        steps: of equal charge over the cell's capacity.

    Source: Kirchhoff's laws with the cell's U(z) and R(z).

    Example:
        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 5.0, "curves")
        >>> share_current(model, 10.0, np.array([0.9, 1.1])).start_share
        array([1.1, 0.9])
    """
    r_factor, q_factor = np.broadcast_arrays(
        np.asarray(resistance_factor, dtype=float), np.asarray(capacity_factor, dtype=float)
    )
    mean = np.broadcast_to(np.asarray(mean_a, dtype=float), r_factor.shape[:-1])
    step_ah = model.capacity_ah / steps
    cell_ah, hours = model.capacity_ah * q_factor, (step_ah / mean)[..., None]
    alive = np.ones(mean.shape, dtype=bool)
    delivered, before = np.zeros(mean.shape), np.zeros(mean.shape)
    z = last_z = end_depth = np.zeros(r_factor.shape)
    start, highest = None, np.zeros(r_factor.shape)
    for _ in range(2 * steps):
        u, slope = open_circuit_line(model, z)
        r = np.maximum(model.resistance_at(z), 1e-3) * r_factor / 1000.0
        volts, now = _split(u, r, mean)
        share = now / mean[..., None]
        start = share if start is None else start
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
        highest = np.where(live, np.maximum(highest, share), highest)
        # the voltage of each cell half a step ahead: U + U' z' h / 2, so U' stiffens the resistance
        _, middle = _split(u, r + np.maximum(-slope * hours / 2.0 / cell_ah, 0.0), mean)
        last_z, before = z, np.where(alive, volts, before)
        z = np.where(live, z + middle * hours / cell_ah, z)
        delivered = np.where(alive, delivered + step_ah, delivered)
    assert start is not None
    end_depth = np.where(alive[..., None], z, end_depth)
    return Sharing(start, np.maximum(highest, start), delivered[()], end_depth)


def open_circuit_line(model: CellModel, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Open-circuit voltage and its slope over depth of discharge; straight on past empty.

    Args:
        model: the cell.
        z: depth of discharge, 0 and more.

    Example:
        >>> depth = np.linspace(0, 1, 201)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, 20.0), 5.0, "curves")
        >>> [float(x.round(3)) for x in open_circuit_line(model, np.array(1.1))]
        [2.88, -1.2]
    """
    nodes = len(model.depth_of_discharge) - 1
    k = np.clip(np.nan_to_num(z * nodes).astype(int), 0, nodes - 1)
    slope = (np.diff(model.open_circuit_v) * nodes)[k]
    return model.open_circuit_v[k] + slope * (z - model.depth_of_discharge[k]), slope


def _split(u: FloatArray, r_ohm: FloatArray, mean_a: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Terminal voltage of each group, and the current of each of its cells."""
    total_a = mean_a * u.shape[-1]
    volts = ((u / r_ohm).sum(axis=-1) - total_a) / (1.0 / r_ohm).sum(axis=-1)
    return volts, (u - volts[..., None]) / r_ohm


@dataclass(frozen=True)
class CellDraw:
    """Cells drawn at random around the datasheet's, shape (draws, S, P).

    Attributes:
        resistance_factor, capacity_factor: of each cell over that of the plan.
    """

    resistance_factor: FloatArray
    capacity_factor: FloatArray


def draw_cells(
    series: int,
    parallel: int,
    draws: int = DRAWS,
    *,
    capacity_spread_pct: float = CAPACITY_SPREAD_PCT,
    resistance_spread_pct: float = RESISTANCE_SPREAD_PCT,
    seed: int = 1,
) -> CellDraw:
    """Draw packs of cells, normal around 1 and cut at three standard deviations.

    Args:
        series, parallel, draws: shape of the result.
        capacity_spread_pct, resistance_spread_pct: one standard deviation, 0 to 30.
        seed: the same seed gives the same cells.

    Raises:
        InputError: every count below 1 and every spread out of range.

    Example:
        >>> draw_cells(4, 3, 100).capacity_factor.shape
        (100, 4, 3)
    """
    counts, spreads = (1, np.inf, "1 or more"), (0.0, 30.0, "0 to 30 %")
    problems = range_problems(
        {
            "series": (series, *counts),
            "parallel": (parallel, *counts),
            "draws": (draws, *counts),
            "capacity_spread_pct": (capacity_spread_pct, *spreads),
            "resistance_spread_pct": (resistance_spread_pct, *spreads),
        }
    )
    refuse(problems)
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

    Source: `share_current` and `weakest_group` of cells drawn by `draw_cells`.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> spread = pack_spread(Pack(find_cell("Bittern"), 4, 2), 16.0)
        >>> 1.0 < spread.poor_share < 1.3, 0.0 < spread.poor_lost_pct < 3.0
        (True, True)
    """
    refuse(range_problems({"pack_a": (pack_a, JUST_ABOVE_0, np.inf, "above 0 A")}))
    series, parallel = int(pack.series), int(pack.parallel)
    cells = draw_cells(series, parallel, draws)
    lost_pct = 100.0 * (1.0 - weakest_group(cells.capacity_factor))
    share = np.ones(draws)
    if parallel > 1:
        run = share_current(
            pack.cell.model,
            pack_a / parallel,
            cells.resistance_factor,
            cells.capacity_factor,
            landing_v=landing_v,
            steps=STEPS,
        )
        share = run.hottest_share.max(axis=-1)
    return PackSpread(float(np.quantile(share, 0.95)), float(np.quantile(lost_pct, 0.95)))
