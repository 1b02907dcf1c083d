"""The pack as a net: which strip joins which cell ends, and where the balance wires go.

Junction j is all that is at one voltage: 0 is the pack's minus, j joins the plus of group j to the
minus of group j + 1, S is the pack's plus. Balance wire Bj goes to junction j.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linear_sum_assignment

from workbook.bench.arrange import CellPlace

if TYPE_CHECKING:
    from workbook.bench.layout import Layout

DIRECTIONS = ((1, 0), (-1, 0), (0, 1), (0, -1))
"""Ways out of the block, along x and y."""


@dataclass(frozen=True)
class Link:
    """One piece of strip from the end of one cell to the end of another, or to the outside.

    Attributes:
        number: 0 up.
        kind: "parallel", "series" or "take-off".
        from_cell: cell number; in a series link the cell whose plus it is.
        to_cell: cell number; None for a take-off, which goes outside.
        layer: layer of `from_cell`.
        face: "top" or "bottom" end of `from_cell`.
        folded: a series link that goes over the edge to the bottom of the layer above.
        junction: 0 (pack minus) to S (pack plus).
        groups: the two groups it joins, the same twice for a parallel link; outside is 0 at the
            minus and S + 1 at the plus.
        length_mm: between the cells' centres; over the edge where folded; to the tab's end.
        way: direction of a fold or a tab, (x, y) with one of them 1 or -1; (0, 0) else.
    """

    number: int
    kind: str
    from_cell: int
    to_cell: int | None
    layer: int
    face: str
    folded: bool
    junction: int
    groups: tuple[int, int]
    length_mm: float
    way: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class Tap:
    """Where one balance wire is joined.

    Attributes:
        number: j of Bj, 0 to S; its voltage against B0 is that of j cells.
        cell: cell on whose end it is.
        layer: layer of that cell.
        face: "top" or "bottom".
    """

    number: int
    cell: int
    layer: int
    face: str


def face_of(cell: CellPlace, pole: str) -> str:
    """The face, "top" or "bottom", on which a cell's "plus" or "minus" end is.

    Example:
        >>> face_of(CellPlace(0, 0.0, 0.0, 0.0, 0, 1, True, 0, 0), "minus")
        'bottom'
    """
    return "top" if cell.plus_up == (pole == "plus") else "bottom"


def clear_ways(
    cell: CellPlace, cells: tuple[CellPlace, ...], pitch_mm: float
) -> dict[tuple[int, int], float]:
    """Directions in which no cell of the layer stands in front of this one, and how far the edge is.

    Returns:
        Direction to the distance in mm from the cell's centre to the outermost centre that way.
    """
    ways = {}
    layer = [c for c in cells if c.layer == cell.layer]
    for x, y in DIRECTIONS:
        ahead = [(c.x_mm - cell.x_mm) * x + (c.y_mm - cell.y_mm) * y for c in layer]
        aside = [abs((c.x_mm - cell.x_mm) * y) + abs((c.y_mm - cell.y_mm) * x) for c in layer]
        if not any(
            a > 0.1 * pitch_mm and s < 0.6 * pitch_mm for a, s in zip(ahead, aside, strict=True)
        ):
            ways[(x, y)] = max(ahead)
    return ways


def _neighbours(a: CellPlace, b: CellPlace) -> bool:
    return a.layer == b.layer and abs(a.row - b.row) + abs(a.column - b.column) == 1


def _pairs(first: list[CellPlace], second: list[CellPlace]) -> list[tuple[CellPlace, CellPlace]]:
    """As many neighbours of two groups as can be paired, each cell once, straight rows preferred."""
    cost = np.array(
        [[(abs(a.row - b.row) if _neighbours(a, b) else 1e3) for b in second] for a in first]
    )
    rows, columns = linear_sum_assignment(cost)
    return [(first[i], second[j]) for i, j in zip(rows, columns, strict=True) if cost[i, j] < 1e3]


def _fold(
    lower: list[CellPlace], upper: list[CellPlace], cells: tuple[CellPlace, ...], pitch_mm: float
) -> tuple[tuple[int, int], list[tuple[CellPlace, CellPlace]]]:
    """The edge over which most cells of two groups, one above the other, can be joined."""
    above = {(c.row, c.column): c for c in upper}
    ways = [clear_ways(c, cells, pitch_mm) for c in lower]
    best: tuple[tuple[int, int], list[tuple[CellPlace, CellPlace]]] = ((1, 0), [])
    for way in DIRECTIONS:
        pairs = [
            (c, above[(c.row, c.column)])
            for c, clear in zip(lower, ways, strict=True)
            if way in clear
        ]
        if len(pairs) > len(best[1]):
            best = (way, pairs)
    return best


def _tab_cells(
    first: list[CellPlace], last: list[CellPlace], cells: tuple[CellPlace, ...], pitch_mm: float
) -> tuple[CellPlace, CellPlace]:
    """The cells for the two take-off tabs: as far apart as they can be, with a way out.

    Opposite corners give every cell the same length of strip, so that the current shares evenly.
    """
    out = [c for c in first if clear_ways(c, cells, pitch_mm)]
    back = [c for c in last if clear_ways(c, cells, pitch_mm)]
    return max(
        ((a, b) for a in out for b in back),
        key=lambda ab: round(
            (ab[0].x_mm - ab[1].x_mm) ** 2
            + (ab[0].y_mm - ab[1].y_mm) ** 2
            + (ab[0].z_mm - ab[1].z_mm) ** 2,
            6,
        ),
    )


def connections(layout: Layout) -> tuple[Link, ...]:
    """Every piece of strip that makes the cells S groups of P between one minus and one plus.

    On both ends of a group its neighbours are joined (parallel). Between two groups every cell that
    has a neighbour in the next group is paired with one (series), so the pack current shares over as
    many paths as the layout gives. One tab at each end of the chain takes all of
    it (take-off), or one on each end cell, all of them soldered to one lead.

    Args:
        layout: the layout.

    Returns:
        The links, junction by junction.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> links = connections(layouts(example_pack(2, 2))[0])
        >>> [(k.kind, k.junction, k.face) for k in links if k.kind != "parallel"]
        [('series', 1, 'top'), ('series', 1, 'top'), ('take-off', 0, 'bottom'), ('take-off', 2, 'bottom')]
    """
    cells, pitch_mm = layout.cells, layout.pitch_mm
    groups: list[list[CellPlace]] = [[] for _ in range(layout.series)]
    for cell in cells:
        groups[cell.group - 1].append(cell)
    found: list[Link] = []

    def add(
        kind: str,
        a: CellPlace,
        b: CellPlace | None,
        pole: str,
        to_group: int,
        length_mm: float,
        way: tuple[int, int] = (0, 0),
    ) -> None:
        found.append(
            Link(
                number=len(found),
                kind=kind,
                from_cell=a.number,
                to_cell=None if b is None else b.number,
                layer=a.layer,
                face=face_of(a, pole),
                folded=b is not None and a.layer != b.layer,
                junction=a.group if pole == "plus" else a.group - 1,
                groups=(a.group, to_group),
                length_mm=length_mm,
                way=way,
            )
        )

    for group in groups:
        for pole in ("minus", "plus"):
            for i, a in enumerate(group):
                for b in group[i + 1 :]:
                    if _neighbours(a, b):
                        add("parallel", a, b, pole, b.group, pitch_mm)
    for lower, upper in pairwise(groups):
        if lower[0].layer == upper[0].layer:
            for a, b in _pairs(lower, upper):
                add("series", a, b, "plus", b.group, pitch_mm)
        else:
            way, pairs = _fold(lower, upper, cells, pitch_mm)
            gap_mm = upper[0].z_mm - lower[0].z_mm - layout.cell_height_mm
            for a, b in pairs:
                add("series", a, b, "plus", b.group, layout.diameter_mm + gap_mm, way)
    minus, plus = _tab_cells(groups[0], groups[-1], cells, pitch_mm)
    for cell, pole, outside in ((minus, "minus", 0), (plus, "plus", layout.series + 1)):
        mates = groups[cell.group - 1] if layout.fittings.tabs == "each" else [cell]
        free = {c.number: clear_ways(c, cells, pitch_mm) for c in mates}
        own = free[cell.number]
        way = min(own, key=lambda w: (-sum(w in f for f in free.values()), round(own[w], 6)))
        for mate in mates:
            if way in free[mate.number]:
                length_mm = free[mate.number][way] + layout.diameter_mm / 2.0
                add("take-off", mate, None, pole, outside, length_mm + layout.fittings.tab_mm, way)
    return tuple(found)


def taps(layout: Layout) -> tuple[Tap, ...]:
    """Where the S + 1 balance wires are joined: on the cell of each junction nearest the long edges.

    The cells that carry a take-off tab are left free where the group has another.

    Args:
        layout: the layout.

    Returns:
        B0 to BS.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> [(t.number, t.face) for t in taps(layouts(example_pack(2, 2))[0])]
        [(0, 'bottom'), (1, 'top'), (2, 'bottom')]
    """
    tabbed = {k.from_cell for k in connections(layout) if k.kind == "take-off"}
    edge_mm = max(abs(c.y_mm) for c in layout.cells)
    chosen = []
    for j in range(layout.series + 1):
        ends = [(c, "plus") for c in layout.cells if c.group == j]
        ends += [(c, "minus") for c in layout.cells if c.group == j + 1]
        cell, pole = min(
            ends,
            key=lambda e: (e[0].number in tabbed, round(edge_mm - abs(e[0].y_mm), 6), e[0].number),
        )
        chosen.append(Tap(j, cell.number, cell.layer, face_of(cell, pole)))
    return tuple(chosen)
