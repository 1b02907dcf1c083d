"""The strips of a pack under load: currents in every piece, layers for them, pieces to cut, welds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Layout
from workbook.bench.strip import MOST_C, ROUNDING, RULE_A_PER_MM2, STACK_MM, STRIP_C, Strip
from workbook.numbers import FloatArray, Number
from workbook.units import with_unit

IntArray = NDArray[np.int_]

WELD_MOHM = 0.1
"""Contact of strip and cell end, all spots of one end together. Common practice, no source; a good
weld is a tenth or two of a milliohm."""
SPOTS = 4
"""Weld spots a cell end and layer; 4 to 6. Common practice, no source."""
IMBALANCE = 0.2
"""Of one cell's even share, added to every parallel piece for cells that do not share evenly. Common
practice, no source."""
OVERHANG_MM = 4.0
"""How far a piece reaches past the middle of the last cell end that it is welded to: room for two
rows of spots on a plus button. Common practice, no source."""
FEW_NODES = 150
"""Up to here a full matrix is solved sooner than a sparse one is set up."""
MOST_LAYERS = 12
"""Beyond this nothing is tried: the strip is the wrong one."""

_OTHER_WAYS = (
    "take wider strip, lay copper under nickel there, choose a layout with more paths, or bring the "
    "current out over a tab on each end cell"
)


@dataclass(frozen=True)
class StripNetwork:
    """A pack's strips under load. The last axis of an array is the link or the cell.

    Attributes:
        links: the pieces.
        current_a: current in each, positive from `from_cell` to `to_cell` (outwards in a tab).
        drop_mv: voltage along each, same sign.
        cell_current_a: discharge current of each cell.
        joint_mohm: what strips and welds add to the pack, as `Pack.joint_mohm` takes it; leads and
            connector come on top.
    """

    links: tuple[Interconnect, ...]
    current_a: FloatArray
    drop_mv: FloatArray
    cell_current_a: FloatArray
    joint_mohm: float


def solve_strips(
    layout: Layout,
    current_a: Number,
    strip: Strip | None = None,
    layers: int | Sequence[int] = 1,
    *,
    cell_mohm: Number | Sequence[float] = 25.0,
    weld_mohm: float = WELD_MOHM,
    temperature_c: float = 20.0,
) -> StripNetwork:
    """Solve the network of cells and strips at one or many pack currents.

    Every cell is one voltage, the same of all, behind its resistance and two welds; every link is a
    resistor. What comes out: a series step shares the pack current over its paths, a terminal tab
    carries all of it, a parallel link only what the cells do not share evenly, and at the two ends
    of the pack what the tab does not reach directly.

    Args:
        layout: the layout.
        current_a: pack current, discharge positive, any shape.
        strip: the strip.
        layers: layers of strip, 1 or more, for all links or for each.
        cell_mohm: cell resistance, one for all or one a cell, above 0.
        weld_mohm: contact of one cell end, 0 or more.
        temperature_c: of the strips.

    Returns:
        The currents and the joint resistance; arrays have the shape of `current_a` with the
        links or cells as last axis.

    Source: nodal analysis (Kirchhoff's laws), solved directly.

    Example:
        >>> import workbook as wb
        >>> net = solve_strips(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0], 20.0)
        >>> round(net.joint_mohm, 3), float(net.current_a.max().round(2))
        (7.413, 20.0)
    """
    links = layout.links
    count = len(layout.cells)
    inner_mohm = np.asarray(cell_mohm, float)
    inner_mohm = np.broadcast_to(inner_mohm, (count,))
    stack = np.asarray(layers, float)
    length_mm = np.array([k.length_mm for k in links])
    link_mohm = (strip or Strip()).resistance_mohm(length_mm, stack, temperature_c)
    link_ohm = np.asarray(link_mohm, float) / 1000.0
    cell_ohm = (inner_mohm + 2.0 * weld_mohm) / 1000.0

    # nodes: 2k minus end of cell k, 2k + 1 its plus end, then the tabs: minus (ground) last
    plus_tab, ground = 2 * count, 2 * count + 1
    start, end = _ends(layout, links, plus_tab, ground)
    a = np.concatenate([2 * np.arange(count), start])
    b = np.concatenate([2 * np.arange(count) + 1, end])
    siemens = 1.0 / np.concatenate([cell_ohm, link_ohm])
    # of each node under an ampere, below the cells' own voltages
    drop_v = -_node_volts(a, b, siemens, plus_tab)

    pack_a = np.asarray(current_a, float)[..., None]
    across_v = pack_a * (drop_v[end] - drop_v[start])
    cell_a = pack_a * (drop_v[1 : 2 * count : 2] - drop_v[0 : 2 * count : 2]) / cell_ohm
    group = np.array([c.group for c in layout.cells]) - 1
    ideal_ohm = np.sum(1.0 / np.bincount(group, 1000.0 / inner_mohm))
    return StripNetwork(
        links=links,
        current_a=across_v / link_ohm,
        drop_mv=across_v * 1000.0,
        cell_current_a=cell_a,
        joint_mohm=float(1000.0 * (drop_v[plus_tab] - ideal_ohm)),
    )


def _node_volts(a: IntArray, b: IntArray, siemens: FloatArray, drawn: int) -> FloatArray:
    """Voltage of each node over the last one, ground, where an ampere is drawn from one of them."""
    ground = drawn + 1
    into_a = np.zeros(ground)
    into_a[drawn] = -1.0
    rows, columns = np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a])
    values = np.concatenate([siemens, siemens, -siemens, -siemens])
    if ground <= FEW_NODES:
        whole = np.zeros((ground + 1, ground + 1))
        np.add.at(whole, (rows, columns), values)
        volts = np.linalg.solve(whole[:ground, :ground], into_a)
    else:
        from scipy.sparse import coo_array
        from scipy.sparse.linalg import splu

        matrix = coo_array((values, (rows, columns)), shape=(ground + 1, ground + 1)).tocsc()
        volts = splu(matrix[:ground, :ground]).solve(into_a)
    return np.append(volts, 0.0)


def _ends(
    layout: Layout, links: tuple[Interconnect, ...], plus_tab: int, ground: int
) -> tuple[list[int], list[int]]:
    """The two nodes of each link."""
    start, end = [], []
    for k in links:
        cell = layout.cells[k.from_cell]
        on_plus = k.junction == cell.group
        start.append(2 * k.from_cell + on_plus)
        if k.to_cell is None:
            end.append(plus_tab if on_plus else ground)
        else:
            end.append(2 * k.to_cell + (on_plus if k.kind == "parallel" else 0))
    return start, end


@dataclass(frozen=True)
class StripLoad:
    """The most loaded piece of one kind of strip, at one junction or of all.

    Attributes:
        kind: "parallel", "series" or "tab".
        junction: 0 (pack minus) to S (pack plus).
        paths: pieces side by side.
        current_a: in the most loaded piece.
        layers: layers of strip there.
        allowed_a: what they may carry by the current density rule.
        hottest_c: estimated hottest point.
        drop_mv: voltage along the piece.
    """

    kind: str
    junction: int
    paths: int
    current_a: float
    layers: int
    allowed_a: float
    hottest_c: float
    drop_mv: float

    @property
    def holds(self) -> bool:
        """Whether rule and temperature are kept."""
        return self.current_a <= self.allowed_a * ROUNDING and self.hottest_c <= MOST_C


@dataclass(frozen=True)
class CutPiece:
    """Equal pieces to cut off the reel.

    Attributes:
        kind: "parallel", "series", "series, folded" or "tab".
        length_mm: of each piece, with what reaches past the last welds.
        width_mm: strip.
        thickness_mm: of one layer.
        cell_ends: cell ends that one piece is welded to.
        count: pieces, every layer counted.
    """

    kind: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    cell_ends: int
    count: int


@dataclass(frozen=True)
class StripPlan:
    """What to cut and weld.

    Attributes:
        layout: the layout.
        strip: the strip off the reel.
        current_a: the continuous pack current that it is made for.
        places: every kind at every junction.
        network: the solved network with these layers.
        stack: layers of each link.
    """

    layout: Layout
    strip: Strip
    current_a: float
    places: tuple[StripLoad, ...]
    network: StripNetwork
    stack: list[int]

    @property
    def joint_mohm(self) -> float:
        """What strips and welds add to the pack, as `Pack.joint_mohm` takes it."""
        return self.network.joint_mohm

    @cached_property
    def pieces(self) -> tuple[CutPiece, ...]:
        """The cut list, longest first."""
        return tuple(_cut(self.layout, self.network, self.strip, self.stack))

    @property
    def strip_mm(self) -> float:
        """Length off the reel, no waste counted."""
        return sum(p.length_mm * p.count for p in self.pieces)

    @property
    def mass_g(self) -> float:
        """Of all pieces."""
        return self.strip_mm * self.strip.section_mm2 * self.strip.metal.g_per_mm3

    @property
    def spots(self) -> int:
        """Spots a cell end and layer."""
        return SPOTS

    @property
    def welds(self) -> int:
        """Spots, all cell ends and layers."""
        return sum(p.count * p.cell_ends for p in self.pieces) * self.spots

    @property
    def ok(self) -> bool:
        """Whether small spot welders join the thickest stack."""
        return self._verdict[0]

    @property
    def why(self) -> str:
        """The reason in words."""
        return self._verdict[1]

    @cached_property
    def _verdict(self) -> tuple[bool, str]:
        return _verdict(self.places, self.strip)


def _runs(layout: Layout, links: list[Interconnect]) -> list[list[Interconnect]]:
    """Links of one kind and junction gathered into straight runs, each one piece of strip."""
    cells = layout.cells

    def line_key(link: Interconnect) -> tuple[float, ...]:
        a = cells[link.from_cell]
        if link.to_cell is None or link.folded:
            return (link.number, 0.0)  # never part of a longer piece
        b = cells[link.to_cell]
        angle = np.arctan2(b.y_mm - a.y_mm, b.x_mm - a.x_mm) % np.pi
        angle = 0.0 if np.pi - angle < 1e-6 else angle
        along = -np.sin(angle) * a.x_mm + np.cos(angle) * a.y_mm
        return (-1, round(angle, 4) + 0.0, round(float(along), 2) + 0.0, *link.groups)

    lines: dict[tuple[float, ...], list[Interconnect]] = defaultdict(list)
    for link in links:
        lines[line_key(link)].append(link)
    runs: list[list[Interconnect]] = []
    for line in lines.values():
        remaining = list(line)
        while remaining:
            run = [remaining.pop()]
            grown = True
            while grown:
                touched = {end for k in run for end in (k.from_cell, k.to_cell)}
                more = [k for k in remaining if k.from_cell in touched or k.to_cell in touched]
                taken = {k.number for k in more}
                remaining = [k for k in remaining if k.number not in taken]
                run += more
                grown = bool(more)
            runs.append(run)
    return runs


def _cut(layout: Layout, network: StripNetwork, strip: Strip, stack: list[int]) -> list[CutPiece]:
    """The cut list."""
    by_place: dict[tuple[str, int], list[Interconnect]] = defaultdict(list)
    for link in network.links:
        by_place[link.place].append(link)
    counts: dict[tuple[str, float, int], int] = defaultdict(int)
    for (kind, _), links in by_place.items():
        for run in _runs(layout, links):
            ends = len({e for k in run for e in (k.from_cell, k.to_cell) if e is not None})
            past_mm = OVERHANG_MM * (1 if kind == "tab" else 2)
            name = "series, folded" if run[0].folded else kind
            length_mm = round(sum(k.length_mm for k in run) + past_mm, 1)
            counts[(name, length_mm, ends)] += stack[run[0].number]
    return [
        CutPiece(kind, length_mm, strip.width_mm, strip.thickness_mm, ends, count)
        for (kind, length_mm, ends), count in sorted(counts.items(), key=lambda c: -c[0][1])
    ]


def _load(
    kind: str, here: list[int], network: StripNetwork, strip: Strip, least: int, extra_a: float
) -> StripLoad:
    """The most loaded of some pieces, with the layers that it needs: `least` at least."""
    amps = np.abs(network.current_a[here])
    length_mm = max(network.links[k].length_mm for k in here)
    tries = np.arange(1.0, MOST_LAYERS + 1.0)
    current_a = (amps.max() + extra_a).item()
    heat_c = np.asarray(strip.hottest_c(current_a, length_mm, tries))
    good = (strip.allowed_a * tries * ROUNDING >= current_a) & (heat_c <= MOST_C)
    layers = max(least, int(np.argmax(good)) + 1 if good.any() else MOST_LAYERS)
    return StripLoad(
        kind=kind,
        junction=network.links[here[0]].junction,
        paths=len(here),
        current_a=current_a,
        layers=layers,
        allowed_a=strip.allowed_a * layers,
        hottest_c=heat_c[layers - 1].item(),
        drop_mv=np.abs(network.drop_mv[here]).max().item(),
    )


def _layered(
    layout: Layout, current_a: float, strip: Strip, cell_mohm: float
) -> tuple[StripNetwork, tuple[StripLoad, ...], list[int]]:
    """The network with layers enough at every place, the places, and the layers of each piece."""
    places: dict[tuple[str, int], list[int]] = defaultdict(list)
    for link in layout.links:
        places[link.place].append(link.number)
    layers = dict.fromkeys(places, 1)
    extra_a = {"parallel": IMBALANCE * current_a / layout.parallel}
    while True:  # thicker strip draws more current
        stack = [layers[k.place] for k in layout.links]
        network = solve_strips(
            layout, current_a, strip, stack, cell_mohm=cell_mohm, temperature_c=STRIP_C
        )
        loads = tuple(
            _load(place[0], here, network, strip, layers[place], extra_a.get(place[0], 0.0))
            for place, here in places.items()
        )
        needed = {(load.kind, load.junction): load.layers for load in loads}
        if needed == layers:
            return network, loads, stack
        layers = needed


def plan_strips(
    layout: Layout, current_a: float, strip: Strip | None = None, *, cell_mohm: float = 25.0
) -> StripPlan:
    """Choose the layers of strip at every place, then list the pieces and the welds.

    Layers are added where the most loaded piece passes the current density rule or the temperature
    limit, and the network is solved again, because thicker strip draws more current.

    Args:
        layout: the layout.
        current_a: continuous pack current, above 0; bursts of seconds are shorter than the strip's warming.
        strip: the strip off the reel.
        cell_mohm: cell resistance.

    Returns:
        The plan; its `joint_mohm` feeds the pack.

    Source: currents by nodal analysis; current density, spots and stack by common practice, no source;
        heat by I^2 R, led to the cell ends along the strip and to the air through its outer face.

    Example:
        >>> import workbook as wb
        >>> plan = plan_strips(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 4, 2))[0], 20.0)
        >>> [(p.kind, p.junction, p.layers) for p in plan.places if p.kind != "parallel"]
        [('series', 1, 2), ('series', 2, 2), ('series', 3, 2), ('tab', 0, 4), ('tab', 4, 4)]
    """
    strip = strip or Strip()
    network, places, stack = _layered(layout, current_a, strip, cell_mohm)
    return StripPlan(layout, strip, current_a, places, network, stack)


def _verdict(places: tuple[StripLoad, ...], strip: Strip) -> tuple[bool, str]:
    """Whether it can be welded and carries its current, and why."""
    thickest = max(places, key=lambda p: p.layers)
    stack_mm = thickest.layers * strip.thickness_mm
    over = [p for p in places if not p.holds]
    where = f"{thickest.kind} strip at junction {thickest.junction}"
    if over:
        return False, (
            f"The {over[0].kind} strip at junction {over[0].junction} would need more than "
            f"{MOST_LAYERS} layers for {over[0].current_a:.0f} A. Do not build it with this strip: "
            f"{_OTHER_WAYS}."
        )
    if stack_mm > STACK_MM + 1e-9:
        return False, (
            f"The {where} needs {thickest.layers} layers, {with_unit(stack_mm, 'mm')}, for "
            f"{thickest.current_a:.0f} A: more than small spot welders join well in one stack "
            f"({with_unit(STACK_MM, 'mm')}). Instead, {_OTHER_WAYS}."
        )
    return True, (
        f"The most layers are {thickest.layers}, in the {where}; every piece keeps "
        f"{RULE_A_PER_MM2:g} A/mm² and stays under {with_unit(MOST_C, '°C')}."
    )
