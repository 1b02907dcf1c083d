"""Currents in every piece of strip, and what the joints cost: the pack solved as a network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.linalg import splu

from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Layout
from workbook.bench.strip import Strip, resistance_mohm
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number

WELD_MOHM = 0.1
"""Contact of strip and cell end, all spots of one end together. Common practice, no source; a good
weld is a tenth or two of a milliohm."""


@dataclass(frozen=True)
class StripNetwork:
    """A pack's strips under load. The last axis of an array is the link or the cell.

    Attributes:
        links: the pieces.
        link_mohm: resistance of each.
        current_a: current in each, positive from `from_cell` to `to_cell` (outwards in a take-off).
        drop_mv: voltage along each, same sign.
        loss_w: heat in each.
        cell_current_a: discharge current of each cell.
        terminal_v: voltage between the take-off tabs.
        strip_loss_w: heat in all strips.
        joint_mohm: what strips and welds add to the pack, as `Pack.joint_mohm` takes it; leads and
            connector come on top.
        share_spread: most loaded cell over an even share.
    """

    links: tuple[Interconnect, ...]
    link_mohm: FloatArray
    current_a: FloatArray
    drop_mv: FloatArray
    loss_w: FloatArray
    cell_current_a: FloatArray
    terminal_v: Number
    strip_loss_w: Number
    joint_mohm: float
    share_spread: Number


def _each(name: str, value: Number | Sequence[float], count: int, above: float) -> FloatArray:
    """One figure a cell."""
    array = np.asarray(value, float)
    if array.ndim > 1 or array.size not in (1, count):
        raise InputError(f"{name} has {array.size} figures; one, or one for each of {count} cells.")
    if not np.all(np.isfinite(array) & (array > above)):
        raise InputError(f"{name} holds {np.min(array):g}; figures above {above:g} are needed.")
    return np.broadcast_to(array, (count,)).astype(float)


def solve_strips(
    layout: Layout,
    current_a: Number,
    strip: Strip | None = None,
    layers: int | Sequence[int] = 1,
    *,
    cell_v: Number | Sequence[float] = 3.6,
    cell_mohm: Number | Sequence[float] = 25.0,
    weld_mohm: float = WELD_MOHM,
    temperature_c: float = 20.0,
) -> StripNetwork:
    """Solve the network of cells and strips at one or many pack currents.

    Every cell is its open-circuit voltage behind its resistance and two welds; every link is a
    resistor. What comes out: a series step shares the pack current over its paths, a take-off tab
    carries all of it, a parallel link only what the cells do not share evenly, and at the two ends
    of the pack what the tab does not reach directly.

    Args:
        layout: the layout.
        current_a: pack current, discharge positive, any shape.
        strip: the strip.
        layers: layers of strip, for all links or for each.
        cell_v: open-circuit voltage, one for all or one a cell.
        cell_mohm: cell resistance, one for all or one a cell.
        weld_mohm: contact of one cell end.
        temperature_c: of the strips.

    Returns:
        The currents, losses and the joint resistance; arrays have the shape of `current_a` with the
        links or cells as last axis.

    Raises:
        InputError: a count of figures that does not fit, or a figure out of range.

    Source: nodal analysis (Kirchhoff's laws), solved with scipy.sparse.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> net = solve_strips(layouts(example_pack(4, 2))[0], 20.0)
        >>> net.joint_mohm, float(net.strip_loss_w)
        (7.381, 2.782)
    """
    links = layout.links
    count = len(layout.cells)
    open_v = _each("cell_v", cell_v, count, 0.0)
    inner_mohm = _each("cell_mohm", cell_mohm, count, 0.0)
    if not weld_mohm >= 0:
        raise InputError(Problem(f"weld_mohm is {weld_mohm:g}; 0 or more is needed."))
    stack = np.asarray(layers, float)
    if stack.size not in (1, len(links)) or not np.all(stack >= 1):
        raise InputError(
            f"layers needs one figure from 1 up, or one for each of {len(links)} links."
        )
    length_mm = np.array([k.length_mm for k in links])
    link_ohm = (
        np.asarray(resistance_mohm(length_mm, strip or Strip(), stack, temperature_c), float)
        / 1000.0
    )
    cell_ohm = (inner_mohm + 2.0 * weld_mohm) / 1000.0

    # nodes: 2k minus end of cell k, 2k + 1 its plus end, then the tabs: minus (ground) last
    plus_tab, ground = 2 * count, 2 * count + 1
    start, end = _ends(layout, links, plus_tab, ground)
    a = np.concatenate([2 * np.arange(count), start])
    b = np.concatenate([2 * np.arange(count) + 1, end])
    siemens = 1.0 / np.concatenate([cell_ohm, link_ohm])
    matrix = coo_array(
        (
            np.concatenate([siemens, siemens, -siemens, -siemens]),
            (np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a])),
        ),
        shape=(ground + 1, ground + 1),
    ).tocsc()
    solver = splu(matrix[:ground, :ground])
    drawn = np.zeros(ground)
    drawn[plus_tab] = -1.0
    made = np.zeros(ground)
    made[0 : 2 * count : 2] = -open_v / cell_ohm
    made[1 : 2 * count : 2] = open_v / cell_ohm
    unit_v = np.append(solver.solve(drawn), 0.0)
    rest_v = np.append(solver.solve(made), 0.0)

    pack_a = np.asarray(current_a, float)
    node_v = pack_a[..., None] * unit_v + rest_v
    across_v = node_v[..., start] - node_v[..., end]
    link_a = across_v / link_ohm
    cell_a = (open_v - (node_v[..., 1 : 2 * count : 2] - node_v[..., 0 : 2 * count : 2])) / cell_ohm
    loss_w = across_v * link_a
    group = np.array([c.group for c in layout.cells]) - 1
    ideal_ohm = np.sum(1.0 / np.bincount(group, 1000.0 / inner_mohm))
    even_a = np.where(pack_a == 0.0, np.nan, pack_a / layout.parallel)
    return StripNetwork(
        links=links,
        link_mohm=link_ohm * 1000.0,
        current_a=link_a,
        drop_mv=across_v * 1000.0,
        loss_w=loss_w,
        cell_current_a=cell_a,
        terminal_v=node_v[..., plus_tab][()],
        strip_loss_w=loss_w.sum(axis=-1)[()],
        joint_mohm=float(1000.0 * (-unit_v[plus_tab] - ideal_ohm)),
        share_spread=(np.max(cell_a, axis=-1) / even_a)[()],
    )


def _ends(
    layout: Layout, links: tuple[Interconnect, ...], plus_tab: int, ground: int
) -> tuple[list[int], list[int]]:
    """The two nodes of each link."""
    start, end = [], []
    for k in links:
        cell = layout.cells[k.from_cell]
        at_plus = k.junction == cell.group
        start.append(2 * k.from_cell + at_plus)
        if k.to_cell is None:
            end.append(plus_tab if at_plus else ground)
        else:
            end.append(2 * k.to_cell + (at_plus if k.kind == "parallel" else 0))
    return start, end
