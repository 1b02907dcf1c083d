"""Where the cells stand: packing, neighbours, grids."""

import numpy as np
import pytest

from tests.bench.arranged import example_pack
from workbook.bench.arrange import Grid, GroupMap, grids, place_groups
from workbook.bench.layout import Fittings, layouts


def test_staggered_rows_reach_the_hexagonal_density():
    # area per cell of the hexagonal lattice: pi/(2 sqrt 3) = 0.9069 of it is cell
    best = next(
        k
        for k in layouts(
            example_pack(14, 8), None, Fittings(barrier_mm=0.0), packings=("staggered",)
        )
        if len({c.row for c in k.cells}) > 3
    )
    middles = np.array([(c.x_mm, c.y_mm) for c in best.cells if c.layer == 0])
    apart = np.linalg.norm(middles[:, None] - middles[None], axis=-1)
    near = np.abs(apart - best.pitch_mm) < 1e-6
    assert near.sum(axis=1).max() == 6  # an inner cell touches six
    inner = int(np.argmax(near.sum(axis=1)))
    ring = middles[near[inner]]
    angle = np.argsort(np.arctan2(*(ring - middles[inner]).T))
    x, y = ring[angle].T
    hexagon = 0.5 * abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))
    # the hexagon of the six middles holds three whole cells' worth (1 + 6 x 1/3)
    share = 3 * np.pi / 4 * best.diameter_mm**2 / hexagon
    assert share == pytest.approx(0.9069, abs=5e-5)


def test_steps_between_touching_cans():
    block = layouts(example_pack(6, 1), packings=("square",), max_layers=1, most=50)
    row = next(k for k in block if k.arrangement.startswith("flat"))
    assert GroupMap.from_grid(row.grid, 6, 1).side_steps == 1
    # a row of 1 2 3 over 6 5 4: 1 stands beside 6, five cells' voltages apart
    assert GroupMap.from_grid(Grid("square", False, 1, 6, 1, 2, 3), 6, 1).side_steps == 5
    # three rows 1 2, 4 3, 5 6: 1 beside 4 and 3 beside 6, and staggered 1 beside 3 or 4 beside 2
    assert GroupMap.from_grid(Grid("square", False, 1, 6, 1, 3, 2), 6, 1).side_steps == 3
    assert GroupMap.from_grid(layouts(example_pack(1, 3))[0].grid, 1, 3).side_steps == 0


@pytest.mark.parametrize(("series", "parallel"), [(4, 2), (7, 3), (1, 5)])
def test_every_grid_has_room_for_every_cell(series, parallel):
    for grid in grids(series, parallel, ("square", "staggered"), 3):
        path = grid.path(grid.groups_per_layer * parallel)
        assert len(path) == len(set(map(tuple, path.tolist()))) == grid.groups_per_layer * parallel
        assert grid.layers * grid.groups_per_layer >= series
        steps = np.abs(np.diff(path, axis=0))
        # a furrow: down a column, or over to the next
        assert np.all(steps[:, 1] <= 1)


def test_stacks_go_up_and_down_and_start_and_end_outside():
    grid = Grid("square", False, 3, 3, 1, 1, 3, "stacks")
    places = place_groups(grid, 8)
    # 1 2 3 up, 4 5 6 down, 7 8 up: every plus meets the next minus on one face
    assert [(g.layer, g.stack) for g in places] == [
        (0, 0), (1, 0), (2, 0), (2, 1), (1, 1), (0, 1), (0, 2), (1, 2)
    ]  # fmt: skip
    assert [g.plus_up for g in places] == [True] * 3 + [False] * 3 + [True] * 2
    # a part-filled second stack stands on the ground too: the path starts at the top
    places = place_groups(Grid("square", False, 2, 2, 1, 1, 2, "stacks"), 3)
    assert [(g.layer, g.plus_up) for g in places] == [(1, False), (0, False), (0, True)]
