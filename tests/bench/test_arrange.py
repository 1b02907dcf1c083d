"""Where the cells stand: packing, neighbours, grids."""

import numpy as np
import pytest

from workbook.bench.arrange import grids
from workbook.bench.layout import barrier_words, example_pack, layouts


def test_staggered_rows_reach_the_hexagonal_density():
    # area per cell of the hexagonal lattice: pi/(2 sqrt 3) = 0.9069 of it is cell
    best = next(
        k
        for k in layouts(example_pack(14, 8), packings=("staggered",))
        if len({c.row for c in k.cells}) > 3
    )
    at = np.array([(c.x_mm, c.y_mm) for c in best.cells if c.layer == 0])
    apart = np.linalg.norm(at[:, None] - at[None], axis=-1)
    near = np.abs(apart - best.pitch_mm) < 1e-6
    assert near.sum(axis=1).max() == 6  # an inner cell touches six
    inner = int(np.argmax(near.sum(axis=1)))
    ring = at[near[inner]]
    angle = np.argsort(np.arctan2(*(ring - at[inner]).T))
    x, y = ring[angle].T
    hexagon = 0.5 * abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))
    # the hexagon of the six middles holds three whole cells' worth (1 + 6 x 1/3)
    share = 3 * np.pi / 4 * best.diameter_mm**2 / hexagon
    assert share == pytest.approx(0.9069, abs=5e-5)


def test_touching_cans_and_the_barrier():
    block = layouts(example_pack(6, 1), packings=("square",), max_layers=1, most=50)
    row = next(k for k in block if k.arrangement.startswith("flat"))
    assert row.can_steps == 1
    folded = next(k for k in block if "2 x 3" in k.arrangement)
    # a row of 1 2 3 over 6 5 4: 1 stands beside 6, five cells' voltages apart
    assert folded.can_steps == 5
    assert "21.0 V" in barrier_words(folded, 4.2)
    assert "same voltage" in barrier_words(layouts(example_pack(1, 3))[0], 4.2)


@pytest.mark.parametrize(("series", "parallel"), [(4, 2), (7, 3), (1, 5)])
def test_every_grid_has_room_for_every_cell(series, parallel):
    for grid in grids(series, parallel, ("square", "staggered"), 3):
        path = grid.path(grid.groups_per_layer * parallel)
        assert len(path) == len(set(path)) == grid.groups_per_layer * parallel
        assert grid.layers * grid.groups_per_layer >= series
        steps = np.abs(np.diff(np.array(path), axis=0))
        # a furrow: down a column, or over to the next
        assert np.all(steps[:, 1] <= 1)
