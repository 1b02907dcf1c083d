"""The pack as a net: which strip joins which cell ends, and where the balance wires go.

Junction j is all that is at one voltage: 0 is the pack's minus, j joins the plus of group j to the
minus of group j + 1, S is the pack's plus. Balance wire Bj goes to junction j.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from scipy.optimize import linear_sum_assignment

from workbook.bench.arrange import CellBlock, CellPlace
from workbook.numbers import FloatArray

DIRECTIONS = ((1, 0), (-1, 0), (0, 1), (0, -1))
"""Ways out of the block, along x and y."""


@dataclass(frozen=True)
class Interconnect:
    """One piece of strip from the end of one cell to the end of another, or to the outside.

    Attributes:
        number: 0 up.
        kind: "parallel", "series" or "tab".
        from_cell: cell number; in a series link the cell whose plus it is.
        to_cell: cell number; None for a tab, which goes outside.
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


def clear_ways(cell: CellPlace, block: CellBlock) -> dict[tuple[int, int], float]:
    """Directions in which no cell of the layer stands in front of this one, and how far the edge is.

    Returns:
        Direction to the distance in mm from the cell's centre to the outermost centre that way.
    """
    layer = np.array([(c.x_mm, c.y_mm) for c in block.cells if c.layer == cell.layer])
    away = layer - (cell.x_mm, cell.y_mm)
    ways = {}
    for x, y in DIRECTIONS:
        ahead, aside = away @ (x, y), np.abs(away @ (y, x))
        if not np.any((ahead > 0.1 * block.pitch_mm) & (aside < 0.6 * block.pitch_mm)):
            ways[(x, y)] = ahead.max().item()
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
    lower: list[CellPlace], upper: list[CellPlace], block: CellBlock
) -> tuple[tuple[int, int], list[tuple[CellPlace, CellPlace]]]:
    """The edge over which most cells of two groups, one above the other, can be joined."""
    above = {(c.row, c.column): c for c in upper}
    ways = [clear_ways(c, block) for c in lower]
    pairs = {
        way: [
            (c, above[(c.row, c.column)]) for c, own in zip(lower, ways, strict=True) if way in own
        ]
        for way in DIRECTIONS
    }
    best = max(DIRECTIONS, key=lambda way: len(pairs[way]))
    return best, pairs[best]


def _tab_cells(block: CellBlock) -> tuple[CellPlace, CellPlace]:
    """The cells for the two terminal tabs: as far apart as they can be, with a way out.

    Opposite corners give every cell the same length of strip, so that the current shares evenly.
    """
    out = [c for c in block.group(1) if clear_ways(c, block)]
    back = [c for c in block.group(block.series) if clear_ways(c, block)]
    at = block.centres_mm
    return max(
        ((a, b) for a in out for b in back),
        key=lambda ab: np.round(np.square(at[ab[0].number] - at[ab[1].number]).sum(), 6),
    )


def _joint(
    number: int,
    kind: str,
    a: CellPlace,
    b: CellPlace | None,
    pole: str,
    to_group: int,
    length_mm: float,
    way: tuple[int, int] = (0, 0),
) -> Interconnect:
    return Interconnect(
        number=number,
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


def connections(
    block: CellBlock, tabs: str = "one", tab_mm: float = 12.0
) -> tuple[Interconnect, ...]:
    """Every piece of strip that makes the cells S groups of P between one minus and one plus.

    On both ends of a group its neighbours are joined (parallel). Between two groups every cell that
    has a neighbour in the next group is paired with one (series), so the pack current shares over as
    many paths as the layout gives. One tab at each end of the chain takes all of
    it, or one on each end cell, all of them soldered to one lead.

    Args:
        block: the cells as they stand.
        tabs: "one" or "each".
        tab_mm: how far a tab stands out beyond the cans.

    Returns:
        The interconnects, junction by junction.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> links = connections(layouts(example_pack(2, 2))[0])
        >>> [(k.kind, k.junction, k.face) for k in links if k.kind != "parallel"]
        [('series', 1, 'top'), ('series', 1, 'top'), ('tab', 0, 'bottom'), ('tab', 2, 'bottom')]
    """
    groups = [block.group(number) for number in range(1, block.series + 1)]
    found: list[Interconnect] = []
    for group in groups:
        for pole in ("minus", "plus"):
            for a, b in combinations(group, 2):
                if _neighbours(a, b):
                    found.append(
                        _joint(len(found), "parallel", a, b, pole, b.group, block.pitch_mm)
                    )
    for lower, upper in pairwise(groups):
        way, length_mm = (0, 0), block.pitch_mm
        if lower[0].layer == upper[0].layer:
            pairs = _pairs(lower, upper)
        else:
            way, pairs = _fold(lower, upper, block)
            gap_mm = upper[0].z_mm - lower[0].z_mm - block.cell_height_mm
            length_mm = block.diameter_mm + gap_mm
        for a, b in pairs:
            found.append(_joint(len(found), "series", a, b, "plus", b.group, length_mm, way))
    minus, plus = _tab_cells(block)
    for cell, pole, outside in ((minus, "minus", 0), (plus, "plus", block.series + 1)):
        mates = groups[cell.group - 1] if tabs == "each" else [cell]
        free = {c.number: clear_ways(c, block) for c in mates}
        own = free[cell.number]
        way = min(own, key=lambda w: (-sum(w in f for f in free.values()), round(own[w], 6)))
        for mate in mates:
            if way in free[mate.number]:
                length_mm = free[mate.number][way] + block.diameter_mm / 2.0 + tab_mm
                joint = _joint(len(found), "tab", mate, None, pole, outside, length_mm, way)
                found.append(joint)
    return tuple(found)


def balance_taps(block: CellBlock, links: tuple[Interconnect, ...]) -> tuple[Tap, ...]:
    """Where the S + 1 balance wires are joined: on the cell of each junction nearest the long edges.

    The cells that carry a terminal tab are left free where the group has another.

    Args:
        block: the cells as they stand.
        links: what joins them.

    Returns:
        B0 to BS.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> [(t.number, t.face) for t in layouts(example_pack(2, 2))[0].taps]
        [(0, 'bottom'), (1, 'top'), (2, 'bottom')]
    """
    tabbed = {k.from_cell for k in links if k.kind == "tab"}
    edge_mm = max(abs(c.y_mm) for c in block.cells)
    chosen = []
    for j in range(block.series + 1):
        ends = [(c, "plus") for c in block.group(j)] + [(c, "minus") for c in block.group(j + 1)]
        cell, pole = min(
            ends,
            key=lambda e: (e[0].number in tabbed, round(edge_mm - abs(e[0].y_mm), 6), e[0].number),
        )
        chosen.append(Tap(j, cell.number, cell.layer, face_of(cell, pole)))
    return tuple(chosen)


def middle_mm(block: CellBlock, link: Interconnect) -> FloatArray:
    """Middle of an interconnect in the pack's frame, shape (3,)."""
    cell = block.cells[link.from_cell]
    up = 1.0 if link.face == "top" else -1.0
    here = block.centres_mm[link.from_cell] + [0.0, 0.0, up * block.cell_height_mm / 2.0]
    out = np.array([*link.way, 0.0])
    if link.to_cell is None:
        middle: FloatArray = here + link.length_mm / 2.0 * out
        return middle
    other = block.cells[link.to_cell]
    if link.folded:
        lift = (other.z_mm - cell.z_mm - block.cell_height_mm) / 2.0
        middle = here + out * block.diameter_mm / 4.0 + [0.0, 0.0, lift]
        return middle
    middle = (here + np.array([other.x_mm, other.y_mm, here[2]])) / 2.0
    return middle


def series_path_mm(links: tuple[Interconnect, ...]) -> float:
    """Length of the one strip that would resist as much as all series steps.

    Source: steps in series add, pieces side by side share: sum of 1 / sum of 1/length.
    """
    steps: dict[int, float] = {}
    for link in links:
        if link.kind == "series":
            steps[link.junction] = steps.get(link.junction, 0.0) + 1.0 / link.length_mm
    return sum(1.0 / total for total in steps.values())
