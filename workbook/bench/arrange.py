"""Where each cell of a pack can stand, and which group it belongs to: the grids that are worth trying.

A layer is cells stood side by side on a grid; further layers stand on it end to end. The groups fill
a layer along one path that goes up and down like a furrow, so every group is in one piece and touches
the next. A second layer walks the same path back, so the step between layers is one above the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from workbook.numbers import FloatArray

HEXAGONAL = float(np.sqrt(3.0) / 2.0)
"""Distance between staggered rows over the pitch in a row: height of an equilateral triangle."""


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
    """

    packing: str
    across: bool
    layers: int
    groups_per_layer: int
    strip: int
    strips: int
    columns: int

    def path(self, cells: int) -> list[tuple[int, int]]:
        """Row and column of the first `cells` places along the path.

        Example:
            >>> Grid("square", False, 1, 4, 1, 2, 2).path(4)
            [(0, 0), (0, 1), (1, 1), (1, 0)]
        """
        places = [
            (band * self.strip + row, column if band % 2 == 0 else self.columns - 1 - column)
            for band in range(self.strips)
            for column in range(self.columns)
            for row in range(self.strip)
        ]
        return places[:cells]

    def xy_mm(self, places: list[tuple[int, int]], pitch_mm: float) -> FloatArray:
        """Centres of places, shape (places, 2), with the longer side along x and the middle at 0."""
        row, column = np.array(places, float).T
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
        if layers > 2 and per_layer % 2 == 0:
            continue  # a middle layer enters below with minus and must leave above with plus
        cells = per_layer * parallel
        for strip in range(1, parallel + 1):
            seen = set()
            for strips in range(1, -(-cells // strip) + 1):
                columns = -(-cells // (strip * strips))
                if columns in seen:
                    continue
                seen.add(columns)
                for packing in packings:
                    for across in (False, True) if packing == "staggered" else (False,):
                        yield Grid(packing, across, layers, per_layer, strip, strips, columns)


def place_cells(
    grid: Grid, series: int, parallel: int, pitch_mm: float, layer_mm: float
) -> tuple[CellPlace, ...]:
    """Stand S groups of P on a grid, each layer walking the path back the other way.

    The first group's polarity is chosen so that the step between two layers goes from a plus end
    that looks up to the minus end right above it.

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
    places = [
        (layer, place)
        for layer in range(grid.layers)
        for place in (range(len(path)) if layer % 2 == 0 else reversed(range(len(path))))
    ][: series * parallel]
    xy = grid.xy_mm(path, pitch_mm)
    used = xy[[place for _, place in places]]
    # a part-filled last row may leave the block off the grid's middle
    xy = xy - (used.max(axis=0) + used.min(axis=0)) / 2.0
    first_up = grid.layers == 1 or grid.groups_per_layer % 2 == 1
    cells = []
    for number, (layer, place) in enumerate(places):
        group_in_layer = number % len(path) // parallel
        row, column = path[place]
        cells.append(
            CellPlace(
                number=number,
                x_mm=xy[place, 0].item(),
                y_mm=xy[place, 1].item(),
                z_mm=(layer - (grid.layers - 1) / 2.0) * layer_mm,
                layer=layer,
                group=1 + number // parallel,
                plus_up=(group_in_layer % 2 == 0) == (first_up if layer == 0 else True),
                row=row,
                column=column,
            )
        )
    return tuple(cells)


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
    def packing(self) -> str:
        """ "square" or "staggered"."""
        return self.grid.packing

    @property
    def layers(self) -> int:
        """Layers end to end."""
        return self.grid.layers

    def group(self, number: int) -> list[CellPlace]:
        """The cells of a group, 1 to S."""
        return [c for c in self.cells if c.group == number]

    @cached_property
    def centres_mm(self) -> FloatArray:
        """Middle of every cell, shape (cells, 3)."""
        return np.array([(c.x_mm, c.y_mm, c.z_mm) for c in self.cells])

    @cached_property
    def can_steps(self) -> int:
        """Most cells' voltages between two cans that stand next to each other.

        The whole can, crimp shoulder included, is the minus, so two neighbours of groups g and h
        differ by |g - h| cells.
        """
        group = np.array([c.group for c in self.cells])
        place = np.array([(c.x_mm, c.y_mm, 2.0 * self.pitch_mm * c.layer) for c in self.cells])
        apart = np.linalg.norm(place[:, None] - place[None], axis=-1)
        near = apart < 1.05 * self.pitch_mm
        return int(np.max(np.where(near, np.abs(group[:, None] - group[None]), 0)))

    @property
    def arrangement(self) -> str:
        """Rows, packing and layers in words."""
        rows = len({c.row for c in self.cells})
        columns = len({c.column for c in self.cells})
        rows, columns = min(rows, columns), max(rows, columns)
        kind = "stick" if self.layers > 1 and rows == 1 else "brick" if rows > 1 else "flat"
        count = "one layer" if self.layers == 1 else f"{self.layers} layers end to end"
        return f"{kind}, {self.packing}, {rows} x {columns} cells, {count}"
