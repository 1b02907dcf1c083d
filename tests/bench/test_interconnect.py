"""Interconnects: the net that they make, whom they join, and where the balance wires go."""

import numpy as np
import pytest
from hypothesis import given

from tests.bench.arranged import any_layout, example_pack
from workbook.bench.arrange import Grid
from workbook.bench.interconnect import tabs_apart_mm
from workbook.bench.layout import lay_out, layouts


def nets(layout):
    """Cell ends that the links join, found by spreading along them; "+" and "-" are outside."""
    joined = {}
    for k in layout.links:
        a = (k.from_cell, "plus" if k.junction == layout.cells[k.from_cell].group else "minus")
        if k.kind == "tab":
            b = "+" if k.junction else "-"
        else:
            b = (k.to_cell, a[1] if k.kind == "parallel" else "minus")
        joined.setdefault(a, set()).add(b)
        joined.setdefault(b, set()).add(a)
    for cell in layout.cells:
        for pole in ("plus", "minus"):
            joined.setdefault((cell.number, pole), set())
    left, found = set(joined), {}
    while left:
        front = {left.pop()}
        net = len(set(found.values()))
        while front:
            for end in front:
                found[end] = net
            front = {b for a in front for b in joined[a]} & left
            left -= front
    return found


@given(any_layout())
def test_groups_make_one_path_from_minus_to_plus(layout):
    net = nets(layout)
    assert len(set(net.values())) == layout.series + 1
    # walk: from the minus tab each net must lead, through P cells, to exactly one next net
    here = net["-"]
    for group in range(1, layout.series + 1):
        through = [c for c in layout.cells if net[(c.number, "minus")] == here]
        assert len(through) == layout.parallel
        assert {c.group for c in through} == {group}
        (here,) = {net[(c.number, "plus")] for c in through}
    assert here == net["+"]


@given(any_layout())
def test_links_join_neighbours_of_adjoining_groups_only(layout):
    tabs = [k for k in layout.links if k.to_cell is None]
    assert {k.groups for k in tabs} == {(1, 0), (layout.series, layout.series + 1)}
    for k in (k for k in layout.links if k.to_cell is not None):
        a, b = layout.cells[k.from_cell], layout.cells[k.to_cell]
        assert k.groups == (a.group, b.group)
        assert b.group - a.group == (1 if k.kind == "series" else 0)
        apart = np.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
        assert apart == pytest.approx(0.0 if k.folded else layout.pitch_mm, abs=1e-9)
        assert abs(b.layer - a.layer) == (1 if k.folded else 0)
        # in a fold a's plus looks at b's minus
        same_way = k.folded or k.kind == "parallel"
        assert (a.plus_up == b.plus_up) == same_way
        assert not k.folded or a.plus_up == (b.layer > a.layer)
    steps = {k.junction for k in layout.links if k.kind == "series"}
    assert steps == set(range(1, layout.series))


def segments(layout):
    """Each link on its face as ((layer, face), junction, start, end)."""
    for k in layout.links:
        a = layout.cells[k.from_cell]
        start = np.array([a.x_mm, a.y_mm])
        if k.to_cell is not None and not k.folded:
            b = layout.cells[k.to_cell]
            yield (k.layer, k.face), k.junction, start, np.array([b.x_mm, b.y_mm])
            continue
        reach = start + np.array(k.way) * (
            k.length_mm if k.to_cell is None else 0.5 * layout.pitch_mm
        )
        yield (k.layer, k.face), k.junction, start, reach
        if k.folded:
            other = layout.cells[k.to_cell].layer
            yield (other, "bottom" if other > k.layer else "top"), k.junction, start, reach


@given(any_layout())
def test_no_strip_comes_near_a_strip_or_a_cell_of_another_junction(layout):
    # a short circuit on the drawing would be one on the bench: strips at most 0.6 of a diameter wide
    # stay clear when their middle lines, and other cells' middles, are 0.85 of a pitch apart
    along = np.linspace(0.0, 1.0, 41)[:, None]
    pieces = [(where, j, a + along * (b - a)) for where, j, a, b in segments(layout)]
    for i, (where, j, points) in enumerate(pieces):
        others = [b for on, of, b in pieces[i + 1 :] if on == where and of != j]
        for c in (c for c in layout.cells if c.layer == where[0]):
            plus = c.plus_up == (where[1] == "top")
            if (c.group if plus else c.group - 1) != j:
                others.append(np.array([[c.x_mm, c.y_mm]]))
        for other in others:
            gap = np.linalg.norm(points[:, None] - other[None], axis=-1).min()
            assert gap > 0.85 * layout.pitch_mm


@given(any_layout())
def test_balance_wires_tap_their_junction(layout):
    net = nets(layout)
    wires = layout.taps
    assert [t.number for t in wires] == list(range(layout.series + 1))
    here = net["-"]
    for wire in wires:
        cell = layout.cells[wire.cell]
        assert wire.layer == cell.layer
        pole = "plus" if cell.plus_up == (wire.face == "top") else "minus"
        assert net[(wire.cell, pole)] == here
        if wire.number < layout.series:
            (here,) = {net[(c.number, "plus")] for c in layout.cells if c.group == wire.number + 1}


def test_series_path_of_a_straight_block():
    # 4S2P in two rows: three steps of two links side by side, 21.2 mm and 0.2 mm of barrier each:
    # 3 x 21.4 / 2
    assert layouts(example_pack(4, 2))[0].series_path_mm == pytest.approx(32.1)


def test_tabs_leave_apart_on_sides_that_look_away():
    # 4S1P in a square of two by two: groups 1 and 4 stand side by side, both tabs on one face
    grid = Grid("square", False, 1, 4, 1, 2, 2)
    layout = lay_out(example_pack(4, 1), grid)
    minus, plus = (k for k in layout.links if k.kind == "tab")
    assert minus.face == plus.face
    assert np.dot(minus.way, plus.way) == -1
    # by hand: a pitch of 21.4 mm, and both tabs start at their cells' middles
    assert tabs_apart_mm(layout, layout.links, 8.0) == pytest.approx(21.4)
