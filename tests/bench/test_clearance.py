"""Clearances: every two conductors of a layout, by a geometry of the test's own."""

import numpy as np
import pytest
from hypothesis import given

from tests.bench.arranged import any_layout, example_pack
from workbook.bench.arrange import GroupMap, grids
from workbook.bench.clearance import barrier_lines, contacts, tab_words, touching
from workbook.bench.interconnect import LEADS_APART_MM
from workbook.bench.layout import Fittings, lay_out, layouts

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


def near_pairs(rows):
    """Pairs of conductors whose boxes are nearer than `NEAR_MM`, in plan and in height."""
    low = np.minimum(rows[:, 1:3], rows[:, 3:5]) - rows[:, 5:6] - NEAR_MM / 2
    high = np.maximum(rows[:, 1:3], rows[:, 3:5]) + rows[:, 5:6] + NEAR_MM / 2
    low = np.column_stack([low, rows[:, 6] - NEAR_MM / 2])
    high = np.column_stack([high, rows[:, 7] + NEAR_MM / 2])
    meet = np.triu(np.ones((len(rows), len(rows)), bool), 1)
    for axis in range(3):
        meet &= low[:, None, axis] < high[None, :, axis]
        meet &= low[None, :, axis] < high[:, None, axis]
    return np.nonzero(meet)


def from_segment(point, start, end):
    """Distance of points from segments."""
    span = end - start
    long = np.maximum((span**2).sum(axis=-1), 1e-12)
    share = np.clip(((point - start) * span).sum(axis=-1) / long, 0.0, 1.0)
    return np.linalg.norm(point - start - share[:, None] * span, axis=-1)


def side(a, b, c):
    """On which side of the line from a to b the point c is."""
    return np.sign(
        (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    )


def plan_distance(one, other):
    """Distance in plan between capsules, pair by pair, from 0 up.

    Two segments that do not cross are nearest at an end of one of them.
    """
    a, b, c, d = one[:, 1:3], one[:, 3:5], other[:, 1:3], other[:, 3:5]
    ends = np.min(
        [
            from_segment(a, c, d),
            from_segment(b, c, d),
            from_segment(c, a, b),
            from_segment(d, a, b),
        ],
        axis=0,
    )
    cross = (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)
    return np.maximum(np.where(cross, 0.0, ends) - one[:, 5] - other[:, 5], 0.0)


def check(layout):
    """No two conductors of different potential are nearer, or further in volts, than is stated."""
    rows = conductors(layout)
    one, other = (rows[k] for k in near_pairs(rows))
    # the lower layer first
    swap = (one[:, 8] > other[:, 8])[:, None]
    one, other = np.where(swap, other, one), np.where(swap, one, other)
    flat = plan_distance(one, other)
    high = np.maximum(np.maximum(one[:, 6] - other[:, 7], other[:, 6] - one[:, 7]), 0.0)
    apart = np.hypot(flat, high)
    steps = np.abs(one[:, 0] - other[:, 0])
    near = (steps > 0) & (apart < NEAR_MM)
    same_layer = one[:, 8] == other[:, 8]
    cans = (one[:, 9] == 0) & (other[:, 9] == 0)
    stated = {}
    for c in contacts(layout):
        if c.layer is None:
            stated[c.key] = c
        assert c.volts == pytest.approx(c.steps * layout.cell_v)
    # cans beside each other
    here = near & same_layer & cans
    assert apart[here].min(initial=np.inf) >= (stated["cans"].gap_mm if here.any() else 0.0) - 1e-6
    assert steps[here].max(initial=0) == (stated["cans"].steps if "cans" in stated else 0)
    # a strip and a can of its layer, or two strips of one face
    here = near & same_layer & ~cans
    assert apart[here].min(initial=np.inf) >= stated["shoulder"].gap_mm - 1e-6
    assert steps[here].max(initial=0) <= stated["shoulder"].steps
    # layers on one another: a fold belongs to both, so it is near what it joins
    for faces in (c for c in contacts(layout) if c.layer is not None):
        here = near & (one[:, 8] == faces.layer) & (other[:, 8] == faces.layer + 1)
        if not here.any():
            continue
        assert apart[here].min() >= min(faces.gap_mm, stated["shoulder"].gap_mm) - 1e-6
        assert steps[here & (flat <= 0)].max(initial=0) <= max(faces.steps, 1)
        assert steps[here].max() <= touching(layout).steps
    assert np.all((other[:, 8] - one[:, 8])[apart < NEAR_MM] <= 1)
    # the two ends of the pack
    minus, plus = (np.nonzero(rows[:, 9] == kind)[0] for kind in (2, 3))
    ends = [k.ravel() for k in np.meshgrid(minus, plus)]
    first, last = (rows[k] for k in ends)
    over = np.maximum(np.maximum(first[:, 6] - last[:, 7], last[:, 6] - first[:, 7]), 0.0)
    gap_mm = np.hypot(plan_distance(first, last), over).min()
    assert gap_mm >= LEADS_APART_MM
    # a capsule is longer than the strip by half its width at each end
    assert stated["tabs"].gap_mm <= gap_mm + layout.fittings.strip_width_mm
    groups = GroupMap.from_grid(layout.grid, layout.series, layout.parallel)
    assert touching(layout).steps == groups.touching_steps


@given(any_layout())
def test_no_two_conductors_are_nearer_than_their_barrier(layout):
    check(layout)


@pytest.mark.long
@pytest.mark.parametrize("series", range(1, 15))
def test_no_two_conductors_of_any_layout_are_nearer_than_their_barrier(series):
    """Every third layout up to 14S8P in three layers: 6,300 of them."""
    for parallel in range(1, 9):
        every = list(grids(series, parallel, ("square", "staggered"), 3))
        for number, grid in enumerate(every[(series + parallel) % 3 :: 3]):
            fittings = Fittings(tabs=("each", "one")[number % 2])
            check(lay_out(example_pack(series, parallel), grid, None, fittings))


@pytest.mark.parametrize(
    ("series", "parallel", "layers"), [(4, 2, 2), (6, 4, 2), (14, 2, 3), (7, 3, 3), (5, 1, 2)]
)
def test_the_first_choice_has_the_least_voltage_between_touching_metal(series, parallel, layers):
    for bay in (None, (90.0, 70.0, 150.0)):
        found = layouts(example_pack(series, parallel), bay, max_layers=layers, most=99)
        fitting = [touching(k).steps for k in found if k.fits]
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
    assert (touching(back).key, touching(back).volts) == ("faces", pytest.approx(5 * 4.2))


def test_the_words_name_what_lies_on_what():
    found = layouts(example_pack(6, 4), (95.0, 70.0, 150.0))[0]
    words = " ".join(barrier_lines(found))
    assert "Highest voltage between touching metal: 12.6 V, neighbouring cans" in words
    assert "Top of layer 1 and bottom of layer 2, up to 8.4 V" in words
    assert "opposite sides" in tab_words(found)
    single = " ".join(barrier_lines(layouts(example_pack(1, 3))[0]))
    assert "neighbouring cans" not in single
