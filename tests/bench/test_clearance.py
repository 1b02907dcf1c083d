"""Clearances: every two conductors of a layout, by a geometry of the test's own."""

import numpy as np
import pytest
from hypothesis import given

from tests.bench.arranged import any_layout
from workbook.bench.arrange import grids
from workbook.bench.clearance import barrier_lines, contacts, tab_words, touching
from workbook.bench.interconnect import LEADS_APART_MM
from workbook.bench.layout import Fittings, example_pack, lay_out, layouts

EACH = 15
NEAR_MM = 3.0
"""Metal that is nearer than this is near enough to be told; far less than any other gap."""


def conductors(layout):
    """Cans and strips as capsules in plan with a range of height, each with its junction.

    Rows of: junction, x1, y1, x2, y2, radius, lowest z, highest z, layer, kind (0 can, 1 strip, 2
    minus tab, 3 plus tab).
    """
    f, half = layout.fittings, layout.cell_height_mm / 2
    rows = []
    for c in layout.cells:
        # the can is the minus, to the crimp shoulder
        rows.append((c.group - 1, c.x_mm, c.y_mm, c.x_mm, c.y_mm, layout.diameter_mm / 2,
                     c.z_mm - half, c.z_mm + half, c.layer, 0))  # fmt: skip
        # the button of the plus end is within the strip's reach: no part of its own
    for k in layout.links:
        a = layout.cells[k.from_cell]
        up = 1 if k.face == "top" else -1
        low = a.z_mm + up * (half + f.ring_mm)
        high = low + up * f.strip_layers * f.strip_thickness_mm
        start = np.array([a.x_mm, a.y_mm])
        kind = 1 if k.kind != "tab" else 3 if k.junction else 2
        if k.folded:
            b = layout.cells[k.to_cell]
            end = start + layout.diameter_mm / 2 * np.array(k.way)
            at_b = b.z_mm - up * (half + f.ring_mm)
            spans = [(a.layer, low, high), (b.layer, at_b, at_b - up * (high - low) * up)]
            for layer, z1, z2 in spans:
                rows.append((k.junction, *start, *end, f.strip_width_mm / 2,
                             min(z1, z2), max(z1, z2), layer, kind))  # fmt: skip
            # over the edge, between the two
            rows.append((k.junction, *end, *end, f.strip_width_mm / 2,
                         min(low, at_b), max(low, at_b), a.layer, kind))  # fmt: skip
            continue
        end = (
            start + k.length_mm * np.array(k.way)
            if k.to_cell is None
            else np.array([layout.cells[k.to_cell].x_mm, layout.cells[k.to_cell].y_mm])
        )
        rows.append((k.junction, *start, *end, f.strip_width_mm / 2,
                     min(low, high), max(low, high), a.layer, kind))  # fmt: skip
    return np.array(rows, float)


def plan_distance(rows):
    """Least distance in plan between all pairs of segments, less their radii, from 0 up."""
    along = np.linspace(0.0, 1.0, 13)
    start, end = rows[:, 1:3], rows[:, 3:5]
    points = start[:, None] + along[None, :, None] * (end - start)[:, None]
    span = end - start
    long = np.maximum((span**2).sum(axis=1), 1e-12)
    best = np.full((len(rows), len(rows)), np.inf)
    for k in range(len(along)):
        away = points[:, k][:, None] - start[None]
        share = np.clip((away * span[None]).sum(axis=-1) / long[None], 0.0, 1.0)
        nearest = start[None] + share[..., None] * span[None]
        best = np.minimum(best, np.linalg.norm(points[:, k][:, None] - nearest, axis=-1))
    best = np.minimum(best, best.T)
    return np.maximum(best - rows[:, 5][:, None] - rows[:, 5][None], 0.0)


def check(layout):
    """No two conductors of different potential are nearer, or further in volts, than is stated."""
    rows = conductors(layout)
    junction, layer, kind = rows[:, 0], rows[:, 8], rows[:, 9]
    low, high = rows[:, 6], rows[:, 7]
    apart_z = np.maximum(np.maximum(low[:, None] - high[None], low[None] - high[:, None]), 0.0)
    apart = np.hypot(plan_distance(rows), apart_z)
    steps = np.abs(junction[:, None] - junction[None])
    differ = steps > 0
    same_layer = layer[:, None] == layer[None]
    cans = (kind[:, None] == 0) & (kind[None] == 0)
    stated = {}
    for c in contacts(layout):
        if c.layer is None:
            stated[c.key] = c
        assert c.volts == pytest.approx(c.steps * layout.cell_v)
    near = apart < NEAR_MM
    # cans beside each other
    here = differ & same_layer & cans
    if here.any():
        assert apart[here].min() >= stated["cans"].gap_mm - 1e-6
        assert steps[here & near].max(initial=0) == stated["cans"].steps
    # a strip and a can of its layer, or two strips of one face
    here = differ & same_layer & ~cans
    if here.any():
        assert apart[here].min() >= stated["shoulder"].gap_mm - 1e-6
        assert steps[here & near].max(initial=0) <= stated["shoulder"].steps
    # layers on one another: a fold belongs to both, so it is near what it joins
    for faces in (c for c in contacts(layout) if c.layer is not None):
        here = differ & (layer[:, None] == faces.layer) & (layer[None] == faces.layer + 1)
        if not here.any():
            continue
        assert apart[here].min() >= min(faces.gap_mm, stated["shoulder"].gap_mm) - 1e-6
        flat = here & (plan_distance(rows) <= 0)
        assert steps[flat & near].max(initial=0) <= max(faces.steps, 1)
        assert steps[here & near].max(initial=0) <= touching(layout).steps
    assert np.all(np.abs(layer[:, None] - layer[None])[near] <= 1)
    # the two ends of the pack
    ends = apart[np.ix_(kind == 2, kind == 3)]
    assert ends.min() >= LEADS_APART_MM
    # a capsule is longer than the strip by half its width at each end
    assert stated["tabs"].gap_mm <= ends.min() + layout.fittings.strip_width_mm
    assert touching(layout).steps == layout.touching_steps


@given(any_layout())
def test_no_two_conductors_are_nearer_than_their_barrier(layout):
    check(layout)


@pytest.mark.long
@pytest.mark.parametrize("series", range(1, 15))
def test_no_two_conductors_of_any_layout_are_nearer_than_their_barrier(series):
    """Every layout up to 5S; of the longer ones one in `EACH`, since there are 19,000 of them."""
    step = 1 if series <= 5 else EACH
    for parallel in range(1, 9):
        every = list(enumerate(grids(series, parallel, ("square", "staggered"), 3)))
        for number, grid in every[parallel % min(step, len(every)) :: step]:
            fittings = Fittings(tabs=("each", "one")[number % 2])
            check(lay_out(example_pack(series, parallel), grid, None, fittings))


@pytest.mark.parametrize(
    ("series", "parallel", "layers"), [(4, 2, 2), (6, 4, 2), (14, 2, 3), (7, 3, 3), (5, 1, 2)]
)
def test_the_first_choice_has_the_least_voltage_between_touching_metal(series, parallel, layers):
    for bay in (None, (90.0, 70.0, 150.0)):
        found = layouts(example_pack(series, parallel), bay, max_layers=layers, most=99)
        fitting = [k.touching_steps for k in found if k.fits]
        assert fitting == sorted(fitting)


def test_stacks_lay_one_cell_upon_the_next():
    # 6S4P in two layers: 1 4 5 below, 2 3 6 on them. 1|2, 4|3, 5|6 face: one cell; aslant 1|3, 4|2,
    # 4|6, 5|3: two; side by side 1|4, 3|6: three
    found = layouts(example_pack(6, 4), (95.0, 70.0, 150.0))
    assert found[0].grid.order == "stacks"
    by_key = {c.key: c.steps for c in contacts(found[0])}
    assert by_key == {"cans": 3, "faces": 2, "shoulder": 1, "tabs": 6}
    # back along the next layer, group 6 comes to lie on group 1: five cells between 1's can and it
    back = next(k for k in found if k.layers == 2 and k.grid.order == "back")
    assert {c.key: c.steps for c in contacts(back)}["faces"] == 5


def test_the_words_name_what_lies_on_what():
    found = layouts(example_pack(6, 4), (95.0, 70.0, 150.0))[0]
    words = " ".join(barrier_lines(found))
    assert "Highest voltage between touching metal: 12.6 V, neighbouring cans" in words
    assert "Top of layer 1 and bottom of layer 2, up to 8.4 V" in words
    assert "opposite sides" in tab_words(found)
    single = " ".join(barrier_lines(layouts(example_pack(1, 3))[0]))
    assert "neighbouring cans" not in single
