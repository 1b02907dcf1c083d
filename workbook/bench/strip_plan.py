"""How many layers of strip each place needs, the pieces to cut and the welds to make."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from workbook.bench.interconnect import Interconnect
from workbook.bench.layout import Layout
from workbook.bench.strip import (
    MATERIALS,
    RULE_A_PER_MM2,
    STACK_MM,
    WRAPPED_W_PER_M2_K,
    Strip,
    allowed_a,
    hottest_c,
)
from workbook.bench.strip_network import WELD_MOHM, StripNetwork, solve_strips
from workbook.errors import InputError, Problem

OVERHANG_MM = 4.0
"""How far a piece reaches past the middle of the last cell end that it is welded to: room for two
rows of spots on a plus button. Common practice, no source."""

MOST_LAYERS = 12
"""Beyond this nothing is tried: the strip is the wrong one."""

ROUNDING = 1.01
"""A rule of thumb is not broken by a hundredth."""

_INSTEAD = (
    "take wider strip, lay copper under nickel there, choose a layout with more paths, or bring the "
    "current out over a tab on each end cell"
)


@dataclass(frozen=True)
class StripPlace:
    """One kind of strip at one junction.

    Attributes:
        kind: "parallel", "series" or "take-off".
        junction: 0 (pack minus) to S (pack plus).
        paths: pieces side by side.
        current_a: in the most loaded piece.
        layers: layers that keep both limits.
        allowed_a: what those layers may carry by the current density rule.
        hottest_c: estimated hottest point of the most loaded piece.
        why: the reason in words.
    """

    kind: str
    junction: int
    paths: int
    current_a: float
    layers: int
    allowed_a: float
    hottest_c: float
    why: str


@dataclass(frozen=True)
class CutPiece:
    """Equal pieces to cut off the reel.

    Attributes:
        kind: "parallel", "series", "series, folded" or "take-off".
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
        strip: the strip off the reel.
        current_a: the continuous pack current that it is made for.
        places: every kind at every junction.
        network: the solved network with these layers.
        pieces: the cut list, longest first.
        strip_mm: length off the reel, no waste counted.
        mass_g: of all pieces.
        welds: spots, all cell ends and layers.
        spots: spots a cell end and layer.
        ok: whether small spot welders join the thickest stack.
        why: the reason in words.
        source: where the rules come from.
    """

    strip: Strip
    current_a: float
    places: tuple[StripPlace, ...]
    network: StripNetwork
    pieces: tuple[CutPiece, ...]
    strip_mm: float
    mass_g: float
    welds: int
    spots: int
    ok: bool
    why: str
    source: str = (
        "currents by nodal analysis; current density, spots and stack by common practice, no source; "
        "heat by I^2 R, led to the cell ends along the strip and to the air through its outer face"
    )

    @property
    def joint_mohm(self) -> float:
        """What strips and welds add to the pack, as `Pack.joint_mohm` takes it."""
        return self.network.joint_mohm


def _runs(layout: Layout, links: list[Interconnect]) -> list[list[Interconnect]]:
    """Links of one kind and junction gathered into straight runs, each one piece of strip."""
    cells = layout.cells

    def course(link: Interconnect) -> tuple[float, ...]:
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
        lines[course(link)].append(link)
    runs: list[list[Interconnect]] = []
    for line in lines.values():
        left = list(line)
        while left:
            run = [left.pop()]
            grown = True
            while grown:
                touched = {end for k in run for end in (k.from_cell, k.to_cell)}
                more = [k for k in left if k.from_cell in touched or k.to_cell in touched]
                left = [k for k in left if k not in more]
                run += more
                grown = bool(more)
            runs.append(run)
    return runs


def _cut(layout: Layout, network: StripNetwork, strip: Strip, stack: list[int]) -> list[CutPiece]:
    """The cut list."""
    by_place: dict[tuple[str, int], list[Interconnect]] = defaultdict(list)
    for link in network.links:
        by_place[(link.kind, link.junction)].append(link)
    counts: dict[tuple[str, float, int], int] = defaultdict(int)
    for (kind, _), links in by_place.items():
        for run in _runs(layout, links):
            ends = len({e for k in run for e in (k.from_cell, k.to_cell) if e is not None})
            past_mm = OVERHANG_MM * (1 if kind == "take-off" else 2)
            name = "series, folded" if run[0].folded else kind
            length_mm = round(sum(k.length_mm for k in run) + past_mm, 1)
            counts[(name, length_mm, ends)] += stack[run[0].number]
    return [
        CutPiece(kind, length_mm, strip.width_mm, strip.thickness_mm, ends, count)
        for (kind, length_mm, ends), count in sorted(counts.items(), key=lambda c: -c[0][1])
    ]


def plan_strips(
    layout: Layout,
    current_a: float,
    strip: Strip | None = None,
    *,
    cell_mohm: float = 25.0,
    weld_mohm: float = WELD_MOHM,
    imbalance_pct: float = 20.0,
    a_per_mm2: float = RULE_A_PER_MM2,
    max_strip_c: float = 80.0,
    cell_c: float = 50.0,
    air_c: float = 35.0,
    film_w_per_m2_k: float = WRAPPED_W_PER_M2_K,
    strip_c: float = 60.0,
    spots: int = 4,
) -> StripPlan:
    """Choose the layers of strip at every place, then list the pieces and the welds.

    Layers are added where the most loaded piece passes the current density rule or the temperature
    limit, and the network is solved again, because thicker strip draws more current.

    Args:
        layout: the layout.
        current_a: continuous pack current; bursts of seconds are shorter than the strip's warming.
        strip: the strip off the reel.
        cell_mohm: cell resistance.
        weld_mohm: contact of one cell end.
        imbalance_pct: of one cell's even share, added to every parallel piece for cells that do not
            share evenly (common practice, no source).
        a_per_mm2: current density rule for nickel as sold.
        max_strip_c: hottest a strip may get; 80 C as for the leads (common practice, no source).
        cell_c: temperature of the cell ends.
        air_c: air around the pack.
        film_w_per_m2_k: heat loss of the strip's outer face.
        strip_c: strip temperature at which the joint resistance is stated.
        spots: weld spots a cell end and layer; 4 to 6 (common practice, no source).

    Returns:
        The plan; its `joint_mohm` feeds the pack.

    Raises:
        InputError: a current or limit that is not above 0.

    Source: nodal analysis; rules by common practice as named.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> plan = plan_strips(layouts(example_pack(4, 2))[0], 20.0)
        >>> [(p.kind, p.junction, p.layers) for p in plan.places if p.kind != "parallel"]
        [('series', 1, 2), ('series', 2, 2), ('series', 3, 2), ('take-off', 0, 4), ('take-off', 4, 4)]
    """
    strip = strip or Strip()
    wrong = [
        Problem(f"{name} is {value:g}; a figure above 0 is needed.")
        for name, value in (
            ("current_a", current_a),
            ("a_per_mm2", a_per_mm2),
            ("max_strip_c - cell_c", max_strip_c - cell_c),
            ("film_w_per_m2_k", film_w_per_m2_k),
            ("spots", spots),
        )
        if not (np.isfinite(value) and value > 0)
    ]
    if not (np.isfinite(imbalance_pct) and imbalance_pct >= 0):
        wrong.append(Problem(f"imbalance_pct is {imbalance_pct:g}; 0 or more is needed."))
    if wrong:
        raise InputError(wrong)

    tries = np.arange(1.0, MOST_LAYERS + 1.0)
    rule_a = np.asarray(allowed_a(strip, tries, a_per_mm2))
    layers: dict[tuple[str, int], int] = defaultdict(lambda: 1)
    while True:
        network = solve_strips(
            layout,
            current_a,
            strip,
            [layers[(k.kind, k.junction)] for k in layout.links],
            cell_mohm=cell_mohm,
            weld_mohm=weld_mohm,
            temperature_c=strip_c,
        )
        worst: dict[tuple[str, int], float] = defaultdict(float)
        paths: dict[tuple[str, int], int] = defaultdict(int)
        length_mm: dict[tuple[str, int], float] = defaultdict(float)
        extra_a = imbalance_pct / 100.0 * current_a / layout.parallel
        for link, amps in zip(network.links, np.abs(network.current_a), strict=True):
            place = (link.kind, link.junction)
            more = extra_a if link.kind == "parallel" else 0.0
            worst[place] = max(worst[place], float(amps) + more)
            paths[place] += 1
            length_mm[place] = max(length_mm[place], link.length_mm)
        grew = False
        hot_c = {}
        for place, amps in worst.items():
            heat_c = np.asarray(
                hottest_c(amps, length_mm[place], strip, tries, cell_c, air_c, film_w_per_m2_k)
            )
            good = np.flatnonzero((rule_a * ROUNDING >= amps) & (heat_c <= max_strip_c))
            need = int(tries[good[0]]) if good.size else MOST_LAYERS
            if need > layers[place]:
                layers[place] = need
                grew = True
            hot_c[place] = float(heat_c[layers[place] - 1])
        if not grew:
            break

    places = tuple(
        StripPlace(
            kind,
            junction,
            paths[(kind, junction)],
            amps,
            layers[(kind, junction)],
            float(rule_a[layers[(kind, junction)] - 1]),
            hot_c[(kind, junction)],
            f"{amps:.1f} A in the most loaded piece; {layers[(kind, junction)]} of "
            f"{strip.thickness_mm:g} x {strip.width_mm:g} mm may carry "
            f"{rule_a[layers[(kind, junction)] - 1]:.1f} A and reaches about "
            f"{hot_c[(kind, junction)]:.0f} C",
        )
        for (kind, junction), amps in worst.items()
    )
    stack = [layers[(k.kind, k.junction)] for k in network.links]
    pieces = _cut(layout, network, strip, stack)
    strip_mm = sum(p.length_mm * p.count for p in pieces)
    thickest = max(places, key=lambda p: p.layers)
    stack_mm = thickest.layers * strip.thickness_mm
    over = [p for p in places if p.allowed_a * ROUNDING < p.current_a or p.hottest_c > max_strip_c]
    ok = stack_mm <= STACK_MM + 1e-9 and not over
    where = f"{thickest.kind} strip at junction {thickest.junction}"
    if over:
        why = (
            f"The {over[0].kind} strip at junction {over[0].junction} would need more than "
            f"{MOST_LAYERS} layers for {over[0].current_a:.0f} A. Do not build it with this strip: "
            f"{_INSTEAD}."
        )
    elif not ok:
        why = (
            f"The {where} needs {thickest.layers} layers, {stack_mm:.2g} mm, for "
            f"{thickest.current_a:.0f} A: more than small spot welders join well in one stack "
            f"({STACK_MM:g} mm). Instead, {_INSTEAD}."
        )
    else:
        why = (
            f"The most layers are {thickest.layers}, in the {where}; every piece keeps "
            f"{a_per_mm2:g} A/mm2 and stays under {max_strip_c:g} C."
        )
    return StripPlan(
        strip=strip,
        current_a=current_a,
        places=places,
        network=network,
        pieces=tuple(pieces),
        strip_mm=strip_mm,
        mass_g=strip_mm * strip.section_mm2 * MATERIALS[strip.material].g_per_mm3,
        welds=sum(p.count * p.cell_ends for p in pieces) * spots,
        spots=spots,
        ok=ok,
        why=why,
    )
