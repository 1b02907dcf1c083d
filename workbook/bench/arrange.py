"""Where each cell of a pack can stand, and which group it belongs to: the grids that are worth trying.

A layer is cells stood side by side on a grid; further layers stand on it end to end. The groups fill
a layer along one path that goes up and down like a furrow, so every group is in one piece and touches
the next. Over several layers the series path goes one of two ways:

- "stacks": up through all layers, one step aside, down again, so that what lies face to face differs
  by one cell's voltage and the path starts and ends on outer faces at the two ends of the pack;
- "back": all of a layer, then back along it in the next, which lays the first group under the last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from workbook.numbers import FloatArray

IntArray = NDArray[np.int_]

HEXAGONAL = float(np.sqrt(3.0) / 2.0)
"""Distance between staggered rows over the pitch in a row: height of an equilateral triangle."""


DIRECTIONS = ((1, 0), (-1, 0), (0, 1), (0, -1))
"""Ways out of the block, along x and y."""

MOST_BANDS = 2
"""Of stacks: further bands would have stacks without an edge to fold a strip over."""


@dataclass(frozen=True)
class CellPlace:
    """One cell of a layout, in the pack's own frame: z along the cells, x along its longer side.

    Attributes:
        number: 0 to S x P - 1, in the order of the path.
        x_mm: centre, from the middle of the block of cells.
        y_mm: the same, across.
        z_mm: the same, along the cells' axis, up.
        layer: 0 is the lowest.
        group: 1 to S; group 1 holds the pack's minus.
        plus_up: the plus end looks up.
        row: row on the grid.
        column: column on the grid; cells of one layer that are one step apart there are neighbours.
    """

    number: int
    x_mm: float
    y_mm: float
    z_mm: float
    layer: int
    group: int
    plus_up: bool
    row: int
    column: int


@dataclass(frozen=True)
class Grid:
    """One way to stand the cells.

    Attributes:
        packing: "square" or "staggered" (hexagonal).
        across: staggered columns instead of staggered rows.
        layers: layers end to end.
        groups_per_layer: groups in every layer but perhaps the last.
        strip: rows that the path takes in one go.
        strips: how often it does.
        columns: columns.
        order: "back" or "stacks", how the series path goes through several layers.
    """

    packing: str
    across: bool
    layers: int
    groups_per_layer: int
    strip: int
    strips: int
    columns: int
    order: str = "back"

    def path(self, cells: int) -> IntArray:
        """Row and column of the first `cells` places along the path, shape (cells, 2).

        Example:
            >>> Grid("square", False, 1, 4, 1, 2, 2).path(4).tolist()
            [[0, 0], [0, 1], [1, 1], [1, 0]]
        """
        column, row = np.divmod(np.arange(cells), self.strip)
        band, column = np.divmod(column, self.columns)
        back = band % 2 == 1
        return np.column_stack(
            [band * self.strip + row, np.where(back, self.columns - 1 - column, column)]
        )

    def xy_mm(self, places: IntArray, pitch_mm: float) -> FloatArray:
        """Centres of places, shape (places, 2), with the longer side along x and the middle at 0."""
        row, column = places.T.astype(float)
        if self.packing == "square":
            xy = np.column_stack([column, row])
        elif self.across:
            xy = np.column_stack([column * HEXAGONAL, row + 0.5 * (column % 2)])
        else:
            xy = np.column_stack([column + 0.5 * (row % 2), row * HEXAGONAL])
        xy = pitch_mm * (xy - (xy.max(axis=0) + xy.min(axis=0)) / 2.0)
        if np.ptp(xy[:, 1]) > np.ptp(xy[:, 0]) + 1e-9:
            xy = np.column_stack([xy[:, 1], -xy[:, 0]])  # a quarter turn, never a mirror image
        centred: FloatArray = xy
        return centred


def grids(series: int, parallel: int, packings: tuple[str, ...], max_layers: int) -> Iterator[Grid]:
    """Every grid worth trying for S groups of P.

    Args:
        series: S.
        parallel: P.
        packings: of "square" and "staggered".
        max_layers: most layers end to end.

    Example:
        >>> sum(1 for _ in grids(4, 2, ("square",), 1))
        8
    """
    for layers in range(1, min(series, max_layers) + 1):
        per_layer = -(-series // layers)
        if -(-series // per_layer) != layers:
            continue  # the same split with fewer layers
        cells = per_layer * parallel
        for strip in range(1, parallel + 1):
            seen = set()
            for strips in range(1, -(-cells // strip) + 1):
                columns = -(-cells // (strip * strips))
                if columns in seen:
                    continue
                seen.add(columns)
                size = (layers, per_layer, strip, strips, columns)
                for order in _orders(series, layers, per_layer, strips):
                    for packing in packings:
                        for across in (False, True) if packing == "staggered" else (False,):
                            yield Grid(packing, across, *size, order)


def _orders(series: int, layers: int, per_layer: int, bands: int) -> list[str]:
    """How the series path can go without a terminal tab between two layers."""
    last = series - (layers - 1) * per_layer
    orders = []
    # going back, a layer is entered below with minus and left above with plus: an odd count of groups
    if layers == 1 or (per_layer % 2 == 1 and last % 2 == 1):
        orders.append("back")
    if layers > 1 and per_layer > 1 and bands <= MOST_BANDS:
        orders.append("stacks")
    return orders


@dataclass(frozen=True)
class GroupPlace:
    """Where a group stands.

    Attributes:
        layer: 0 is the lowest.
        stack: which run of the path its cells take, 0 up.
        plus_up: the plus ends look up.
    """

    layer: int
    stack: int
    plus_up: bool


def place_groups(grid: Grid, series: int) -> tuple[GroupPlace, ...]:
    """The layer, the run of the path and the polarity of each group, 1 to S.

    Args:
        grid: the grid.
        series: S.

    Example:
        >>> stacks = Grid("square", False, 2, 2, 1, 1, 2, "stacks")
        >>> [(g.layer, g.stack, g.plus_up) for g in place_groups(stacks, 4)]
        [(0, 0, True), (1, 0, True), (1, 1, False), (0, 1, False)]
    """
    each = grid.layers if grid.order == "stacks" else grid.groups_per_layer
    runs = [divmod(number, each) for number in range(series)]
    if grid.order == "stacks":
        # a part-filled last stack stands on the ground
        filled, left = divmod(series, each)
        first_up = not (left and filled % 2 == 1)
        return tuple(
            GroupPlace(level if up else each - 1 - level, stack, up)
            for stack, level in runs
            for up in [(stack % 2 == 0) == first_up]
        )
    return tuple(
        GroupPlace(layer, place if layer % 2 == 0 else each - 1 - place, place % 2 == 0)
        for layer, place in runs
    )


def place_cells(
    grid: Grid, series: int, parallel: int, pitch_mm: float, layer_mm: float
) -> tuple[CellPlace, ...]:
    """Stand S groups of P on a grid.

    Args:
        grid: the grid.
        series: S.
        parallel: P.
        pitch_mm: distance between neighbours' centres.
        layer_mm: distance between the layers' middles.

    Example:
        >>> cells = place_cells(Grid("square", False, 1, 2, 1, 1, 2), 2, 1, 20.0, 70.0)
        >>> [(c.group, c.x_mm, c.plus_up) for c in cells]
        [(1, -10.0, True), (2, 10.0, False)]
    """
    path = grid.path(grid.groups_per_layer * parallel)
    row_of, column_of = path.T.tolist()
    groups = place_groups(grid, series)
    places = [
        place
        for g in groups
        for run in [range(g.stack * parallel, (g.stack + 1) * parallel)]
        for place in (run if g.layer % 2 == 0 else reversed(run))
    ]
    xy = grid.xy_mm(path, pitch_mm)
    used = xy[places]
    # a part-filled last row may leave the block off the grid's middle
    xy = xy - (used.max(axis=0) + used.min(axis=0)) / 2.0
    centres = xy.tolist()
    return tuple(
        CellPlace(
            number=number,
            x_mm=centres[place][0],
            y_mm=centres[place][1],
            z_mm=(groups[number // parallel].layer - (grid.layers - 1) / 2.0) * layer_mm,
            layer=groups[number // parallel].layer,
            group=1 + number // parallel,
            plus_up=groups[number // parallel].plus_up,
            row=row_of[place],
            column=column_of[place],
        )
        for number, place in enumerate(places)
    )


@dataclass(frozen=True)
class GroupMap:
    """Which group stands at every layer, row and column of a grid.

    Attributes:
        group: 1 to S, 0 where no cell stands; shape (layers, rows, columns).
        plus_up: whether the plus end looks up.
        staggered: whether every other row (or column, where `across`) is half a pitch aside.
        across: staggered columns.
        parallel: P.
    """

    group: IntArray
    plus_up: NDArray[np.bool_]
    staggered: bool
    across: bool
    parallel: int

    @classmethod
    def from_grid(cls, grid: Grid, series: int, parallel: int) -> GroupMap:
        """The map of a grid.

        Args:
            grid: the grid.
            series: S.
            parallel: P.

        Example:
            >>> GroupMap.from_grid(
            ...     Grid("square", False, 2, 2, 1, 1, 2, "stacks"), 4, 1
            ... ).group.tolist()
            [[[1, 4]], [[2, 3]]]
        """
        shape = (grid.layers, grid.strip * grid.strips, grid.columns)
        group, plus_up = np.zeros(shape, int), np.zeros(shape, bool)
        row, column = grid.path(grid.groups_per_layer * parallel).T
        layer, stack, up = np.array(
            [(g.layer, g.stack, g.plus_up) for g in place_groups(grid, series)]
        ).T[..., None]
        run = stack * parallel + np.arange(parallel)
        group[layer, row[run], column[run]] = 1 + np.arange(series)[:, None]
        plus_up[layer, row[run], column[run]] = up
        return cls(group, plus_up, grid.packing == "staggered", grid.across, parallel)

    def _neighbours(self) -> list[tuple[tuple[slice, slice], tuple[slice, slice]]]:
        """Rows and columns of all places, and of those that stand next to them one way."""
        all_, less, more = slice(None), slice(None, -1), slice(1, None)
        pairs = [((all_, less), (all_, more)), ((less, all_), (more, all_))]
        if self.staggered:
            even, odd = slice(0, -1, 2), slice(1, -1, 2)
            aside = [
                ((even, more), (slice(1, None, 2), less)),
                ((odd, less), (slice(2, None, 2), more)),
            ]
            pairs += [(a[::-1], b[::-1]) for a, b in aside] if self.across else aside
        return pairs

    @cached_property
    def side_steps(self) -> int:
        """Most cells' voltages between two cans that stand next to each other.

        The whole can, crimp shoulder included, is the minus, so two neighbours of groups g and h
        differ by |g - h| cells.
        """
        pairs = [(self.group[:, *a], self.group[:, *b]) for a, b in self._neighbours()]
        return max(int(_most(np.abs(a - b), a, b).max()) for a, b in pairs)

    @cached_property
    def facing_steps(self) -> tuple[int, ...]:
        """Most cells' voltages between the facing ends of each layer and the one on it.

        A plus end has its can's shoulder beside the button, so it shows both of a cell's voltages; a
        minus end is all at one. The can beside the one above is near enough to count.
        """
        if len(self.group) == 1:
            return ()
        below, above = self.group[:-1], self.group[1:]
        high_below, high_above = below - 1 + self.plus_up[:-1], above - self.plus_up[1:]
        apart = np.maximum(high_below - (above - 1), high_above - (below - 1))
        found = [_most(apart, below, above)]
        for a, b in self._neighbours():
            for lower, upper in ((a, b), (b, a)):
                cans = below[:, *lower], above[:, *upper]
                found.append(_most(np.abs(cans[0] - cans[1]), *cans))
        return tuple(np.max(found, axis=0).tolist())

    @property
    def touching_steps(self) -> int:
        """Most cells' voltages between metal parts that touch but for their insulation.

        One at least: the strip on a plus end crosses the shoulder of its own can.
        """
        return max(1, self.side_steps, *self.facing_steps)

    @property
    def least_path(self) -> float:
        """No series path is shorter: sum of 1 / paths side by side over the steps, folds counted."""
        g, series = self.group, self.group.max()
        found = []
        for a, b in ((g[..., :-1], g[..., 1:]), (g[:, :-1], g[:, 1:])):
            low = np.minimum(a, b)
            found.append(low[(np.abs(a - b) == 1) & (low > 0)])
        steps = np.bincount(np.concatenate(found), minlength=series)
        inside = np.minimum(steps[1:series], self.parallel)
        # no pair in the layer: a fold, with as many paths as the group has cells at best
        return float(np.sum(1.0 / np.where(inside > 0, inside, self.parallel)))


def _most(steps: IntArray, below: IntArray, above: IntArray) -> IntArray:
    """The most steps of each layer, where a cell stands both below and above."""
    both = (below > 0) & (above > 0)
    most: IntArray = np.where(both, steps, 0).max(axis=(1, 2), initial=0)
    return most


@dataclass(frozen=True)
class CellBlock:
    """Cells as they stand side by side and end to end.

    Attributes:
        series: S.
        parallel: P.
        grid: the grid that the cells stand on.
        cells: every cell, in the pack's own frame (z along the cells, x along the longer side).
        diameter_mm: of a cell.
        cell_height_mm: of a cell.
        pitch_mm: between neighbours' centres.
    """

    series: int
    parallel: int
    grid: Grid
    cells: tuple[CellPlace, ...]
    diameter_mm: float
    cell_height_mm: float
    pitch_mm: float

    @property
    def layers(self) -> int:
        """Layers end to end."""
        return self.grid.layers

    def group(self, number: int) -> tuple[CellPlace, ...]:
        """The cells of a group, 1 to S; none outside."""
        first = (number - 1) * self.parallel
        return self.cells[first : first + self.parallel] if 1 <= number <= self.series else ()

    @cached_property
    def centres_mm(self) -> FloatArray:
        """Middle of every cell, shape (cells, 3)."""
        return np.array([(c.x_mm, c.y_mm, c.z_mm) for c in self.cells])

    @cached_property
    def ways(self) -> tuple[dict[tuple[int, int], float], ...]:
        """For each cell the directions in which no cell of its layer stands in front of it.

        Each with the distance in mm from the cell's centre to the outermost centre that way.
        """
        found: list[dict[tuple[int, int], float]] = [{} for _ in self.cells]
        for layer in range(self.layers):
            here = np.array([c.number for c in self.cells if c.layer == layer], int)
            xy = self.centres_mm[here, :2]
            away = xy[None] - xy[:, None]
            for x, y in DIRECTIONS:
                ahead, aside = away @ (x, y), np.abs(away @ (y, x))
                shut = np.any((ahead > 0.1 * self.pitch_mm) & (aside < 0.6 * self.pitch_mm), axis=1)
                for k in np.flatnonzero(~shut):
                    found[here[k]][(x, y)] = ahead[k].max().item()
        return tuple(found)

    @cached_property
    def by_place(self) -> dict[tuple[int, int, int], CellPlace]:
        """The cell at a layer, row and column."""
        return {(c.layer, c.row, c.column): c for c in self.cells}

    @property
    def arrangement(self) -> str:
        """Rows, packing and layers in words."""
        rows = len({c.row for c in self.cells})
        columns = len({c.column for c in self.cells})
        rows, columns = min(rows, columns), max(rows, columns)
        kind = "stick" if self.layers > 1 and rows == 1 else "brick" if rows > 1 else "flat"
        count = "one layer" if self.layers == 1 else f"{self.layers} layers end to end"
        if self.grid.order == "stacks":
            count += ", joined in stacks"
        return f"{kind}, {self.grid.packing}, {rows} x {columns} cells, {count}"
