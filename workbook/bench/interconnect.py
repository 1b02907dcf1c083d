"""The pack as a net: which strip joins which cell ends, and where the balance wires go.

Junction j is all that is at one voltage: 0 is the pack's minus, j joins the plus of group j to the
minus of group j + 1, S is the pack's plus. Balance wire Bj goes to junction j.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from workbook.bench.arrange import DIRECTIONS, CellBlock, CellPlace
from workbook.numbers import FloatArray

LEADS_APART_MM = 10.0
"""Least gap between the plus and the minus tabs. Common practice, no source: a slipped iron or a
loose strand does not reach from one to the other."""


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
        folded: a series link that goes over the edge to the facing end in the next layer.
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

    @property
    def place(self) -> tuple[str, int]:
        """Kind and junction: pieces of one place are side by side."""
        return self.kind, self.junction


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


def _next_to(a: CellPlace, block: CellBlock) -> Iterator[CellPlace]:
    """The cells after this one that stand one step apart on the grid, in the order of their number."""
    beside = [
        block.by_place.get((a.layer, a.row + row, a.column + column)) for row, column in DIRECTIONS
    ]
    yield from sorted((b for b in beside if b and b.number > a.number), key=lambda b: b.number)


def _pairs(
    first: tuple[CellPlace, ...], second: tuple[CellPlace, ...]
) -> list[tuple[CellPlace, CellPlace]]:
    """As many neighbours of two groups as can be paired, each cell once, straight rows preferred."""
    place_a = np.array([(c.row, c.column) for c in first])
    place_b = np.array([(c.row, c.column) for c in second])
    apart = np.abs(place_a[:, None] - place_b[None])
    cost = np.where(apart.sum(axis=-1) == 1, apart[..., 0], 1e3)
    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(cost)
    return [(first[i], second[j]) for i, j in zip(rows, columns, strict=True) if cost[i, j] < 1e3]


def _fold(
    near: tuple[CellPlace, ...], far: tuple[CellPlace, ...], block: CellBlock
) -> tuple[tuple[int, int], list[tuple[CellPlace, CellPlace]]]:
    """The edge over which most cells of two groups, one above the other, can be joined."""
    facing = {(c.row, c.column): c for c in far}
    pairs = {
        way: [
            (c, facing[(c.row, c.column)])
            for c in near
            if way in block.ways[c.number] and way in block.ways[facing[(c.row, c.column)].number]
        ]
        for way in DIRECTIONS
    }
    best = max(DIRECTIONS, key=lambda way: len(pairs[way]))
    return best, pairs[best]


def _tab_cells(block: CellBlock) -> tuple[CellPlace, CellPlace]:
    """The cells for the two terminal tabs: as far apart as they can be, with a way out.

    Opposite corners give every cell the same length of strip, so that the current shares evenly.
    """
    first_cells = [c for c in block.group(1) if block.ways[c.number]]
    last_cells = [c for c in block.group(block.series) if block.ways[c.number]]
    centres = block.centres_mm
    apart = np.square(
        centres[[c.number for c in first_cells]][:, None] - centres[[c.number for c in last_cells]]
    ).sum(-1)
    first, last = divmod(int(np.argmax(np.round(apart, 6))), len(last_cells))
    return first_cells[first], last_cells[last]


@dataclass(frozen=True)
class _Tabs:
    """The tabs of one pole in one way."""

    pole: str
    cells: tuple[CellPlace, ...]
    way: tuple[int, int]
    reach_mm: tuple[float, ...]

    def box(self, block: CellBlock, width_mm: float) -> FloatArray:
        """Least and greatest x, y and z of all of them."""
        root = block.centres_mm[[c.number for c in self.cells]].copy()
        up = [1.0 if face_of(c, self.pole) == "top" else -1.0 for c in self.cells]
        root[:, 2] += np.array(up) * block.cell_height_mm / 2.0
        x, y = self.way
        tip = root + np.outer(self.reach_mm, [x, y, 0.0])
        half = width_mm / 2.0 * np.array([abs(y), abs(x), 0.0])
        both = np.concatenate([root, tip])
        return np.array([both.min(axis=0) - half, both.max(axis=0) + half])


def tabs_apart_mm(block: CellBlock, links: tuple[Interconnect, ...], width_mm: float) -> float:
    """Least distance between the plus and the minus tabs, before they are folded up.

    Args:
        block: the cells as they stand.
        links: what joins them.
        width_mm: of the strip.

    Example:
        >>> import workbook as wb
        >>> layout = wb.layouts(wb.Pack(wb.find_cell("Bittern"), 1, 1))[0]
        >>> round(tabs_apart_mm(layout, layout.links, 8.0), 1)  # the cell's height
        70.2
    """
    boxes = []
    for pole, outside in (("minus", 0), ("plus", block.series)):
        ends = [k for k in links if k.kind == "tab" and k.junction == outside]
        cells = tuple(block.cells[k.from_cell] for k in ends)
        tabs = _Tabs(pole, cells, ends[0].way, tuple(k.length_mm for k in ends))
        boxes.append(tabs.box(block, width_mm))
    return gap_mm(*boxes)


def _tabs(
    block: CellBlock, cell: CellPlace, pole: str, tabs: str, tab_mm: float
) -> Iterator[_Tabs]:
    """The tabs of a pole, for each way out of its tab cell."""
    mates = block.group(cell.group) if tabs == "each" else (cell,)
    for way in block.ways[cell.number]:
        here = tuple(c for c in mates if way in block.ways[c.number])
        reach = [block.ways[c.number][way] + block.diameter_mm / 2.0 + tab_mm for c in here]
        yield _Tabs(pole, here, way, tuple(reach))


def _terminal_tabs(
    block: CellBlock, tabs: str, tab_mm: float, width_mm: float
) -> tuple[_Tabs, _Tabs]:
    """Tabs of both poles: apart first, then as many as can be, then on sides that look away."""
    minus, plus = _tab_cells(block)
    choices = product(
        _tabs(block, minus, "minus", tabs, tab_mm), _tabs(block, plus, "plus", tabs, tab_mm)
    )

    def cost(pair: tuple[_Tabs, _Tabs]) -> tuple[float, ...]:
        a, b = pair
        near = gap_mm(a.box(block, width_mm), b.box(block, width_mm)) < LEADS_APART_MM
        alike = a.way[0] * b.way[0] + a.way[1] * b.way[1]
        return near, -len(a.cells) - len(b.cells), alike, round(sum((*a.reach_mm, *b.reach_mm)), 6)

    return min(choices, key=cost)


def gap_mm(one: FloatArray, other: FloatArray) -> float:
    """Distance between two boxes, each its least and its greatest corner.

    Example:
        >>> gap_mm(np.array([[0.0, 0.0], [1.0, 1.0]]), np.array([[4.0, 5.0], [6.0, 6.0]]))
        5.0
    """
    gap = np.maximum(np.maximum(one[0] - other[1], other[0] - one[1]), 0.0)
    return float(np.linalg.norm(gap))


def _joint(
    number: int,
    kind: str,
    a: CellPlace,
    b: CellPlace | None,
    pole: str,
    length_mm: float,
    way: tuple[int, int] = (0, 0),
) -> Interconnect:
    outside = a.group + (1 if pole == "plus" else -1)
    return Interconnect(
        number=number,
        kind=kind,
        from_cell=a.number,
        to_cell=None if b is None else b.number,
        layer=a.layer,
        face=face_of(a, pole),
        folded=b is not None and a.layer != b.layer,
        junction=a.group if pole == "plus" else a.group - 1,
        groups=(a.group, outside if b is None else b.group),
        length_mm=length_mm,
        way=way,
    )


def connections(
    block: CellBlock, tabs: str = "one", tab_mm: float = 12.0, width_mm: float = 8.0
) -> tuple[Interconnect, ...]:
    """Every piece of strip that makes the cells S groups of P between one minus and one plus.

    On both ends of a group its neighbours are joined (parallel). Between two groups every cell that
    has a neighbour in the next group is paired with one (series), so the pack current shares over as
    many paths as the layout gives. One tab at each end of the chain takes all of
    it, or one on each end cell, all of them soldered to one lead. Plus and minus tabs leave apart, on
    sides that look away from each other where the layout has such.

    Args:
        block: the cells as they stand.
        tabs: "one" or "each".
        tab_mm: how far a tab stands out beyond the cans.
        width_mm: of the strip.

    Returns:
        The interconnects, junction by junction.

    Example:
        >>> import workbook as wb
        >>> links = connections(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 2, 2))[0])
        >>> [(k.kind, k.junction, k.face) for k in links if k.kind != "parallel"]
        [('series', 1, 'top'), ('series', 1, 'top'), ('tab', 0, 'bottom'), ('tab', 2, 'bottom')]
    """
    groups = [block.group(number) for number in range(1, block.series + 1)]
    found: list[Interconnect] = []
    for group in groups:
        for pole in ("minus", "plus"):
            for a in group:
                for b in _next_to(a, block):
                    if b.group == a.group:
                        found.append(_joint(len(found), "parallel", a, b, pole, block.pitch_mm))
    for lower, upper in pairwise(groups):
        way, length_mm = (0, 0), block.pitch_mm
        if lower[0].layer == upper[0].layer:
            pairs = _pairs(lower, upper)
        else:
            way, pairs = _fold(lower, upper, block)
            length_mm = (
                block.diameter_mm + abs(upper[0].z_mm - lower[0].z_mm) - block.cell_height_mm
            )
        for a, b in pairs:
            found.append(_joint(len(found), "series", a, b, "plus", length_mm, way))
    for ends in _terminal_tabs(block, tabs, tab_mm, width_mm):
        for cell, reach_mm in zip(ends.cells, ends.reach_mm, strict=True):
            tab = _joint(len(found), "tab", cell, None, ends.pole, reach_mm, ends.way)
            found.append(tab)
    return tuple(found)


def balance_taps(block: CellBlock, links: tuple[Interconnect, ...]) -> tuple[Tap, ...]:
    """Where the S + 1 balance wires are joined: on the cell of each junction nearest an edge.

    A long edge is preferred, and cells that carry a terminal tab are left free where the group has
    another.

    Args:
        block: the cells as they stand.
        links: what joins them.

    Returns:
        B0 to BS.

    Example:
        >>> import workbook as wb
        >>> [(t.number, t.face) for t in wb.layouts(wb.Pack(wb.find_cell("Bittern"), 2, 2))[0].taps]
        [(0, 'bottom'), (1, 'top'), (2, 'bottom')]
    """
    tabbed = {k.from_cell for k in links if k.kind == "tab"}

    def cost(end: tuple[CellPlace, str]) -> tuple[float, ...]:
        ways, number = block.ways[end[0].number], end[0].number
        aside = min((w[0] != 0 for w, reach in ways.items() if reach < 1e-6), default=True)
        near_mm = min(ways.values(), default=np.inf)
        return number in tabbed, round(near_mm, 6), aside, -round(abs(end[0].y_mm), 6), number

    chosen = []
    for j in range(block.series + 1):
        ends = [(c, "plus") for c in block.group(j)] + [(c, "minus") for c in block.group(j + 1)]
        cell, pole = min(ends, key=cost)
        chosen.append(Tap(j, cell.number, cell.layer, face_of(cell, pole)))
    return tuple(chosen)


def series_path_mm(links: tuple[Interconnect, ...]) -> float:
    """Length of the one strip that would resist as much as all series steps.

    Source: steps in series add, pieces side by side share: sum of 1 / sum of 1/length.
    """
    steps: dict[int, float] = {}
    for link in links:
        if link.kind == "series":
            steps[link.junction] = steps.get(link.junction, 0.0) + 1.0 / link.length_mm
    return sum(1.0 / total for total in steps.values())
