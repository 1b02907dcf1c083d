"""Layouts: geometry, groups, the net they make, the bay and the balance."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.arranged import any_layout
from workbook.battery.pack import Pack
from workbook.bench.arrange import Grid
from workbook.bench.layout import (
    Bay,
    Fittings,
    barrier_words,
    centre_of_gravity_shift_mm,
    example_pack,
    lay_out,
    layout_steps,
    layouts,
)
from workbook.errors import InputError


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


@settings(max_examples=80, deadline=None)
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


@settings(max_examples=80, deadline=None)
@given(any_layout())
def test_cells_keep_apart_and_lie_in_the_box(layout):
    place = np.array([(c.x_mm, c.y_mm, c.z_mm) for c in layout.cells])
    half = np.array([layout.diameter_mm / 2, layout.diameter_mm / 2, layout.cell_height_mm / 2])
    assert np.all(np.abs(place) + half <= np.array(layout.box_mm) / 2 + 1e-9)
    for i, here in enumerate(place):
        aside = np.hypot(*(place[i + 1 :, :2] - here[:2]).T)
        along = np.abs(place[i + 1 :, 2] - here[2])
        assert np.all((aside >= layout.pitch_mm - 1e-6) | (along > layout.cell_height_mm))
    assert layout.box_mm[0] >= layout.box_mm[1] - 1e-9
    # no plane packing of equal circles is denser than pi/(2 sqrt 3) = 0.9069
    # (Thue 1910, Fejes Toth 1942); a box around a part of one is looser still
    full = max(sum(c.layer == n for c in layout.cells) for n in range(layout.layers))
    share = full * np.pi / 4 * layout.diameter_mm**2 / (layout.box_mm[0] * layout.box_mm[1])
    assert share < 0.9069


@settings(max_examples=80, deadline=None)
@given(any_layout())
def test_links_join_neighbours_of_adjoining_groups_only(layout):
    for k in layout.links:
        a = layout.cells[k.from_cell]
        if k.to_cell is None:
            assert k.groups in ((1, 0), (layout.series, layout.series + 1))
            continue
        b = layout.cells[k.to_cell]
        assert k.groups == (a.group, b.group)
        assert b.group - a.group == (1 if k.kind == "series" else 0)
        apart = np.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
        if k.folded:
            assert apart == pytest.approx(0.0, abs=1e-9)
            assert b.layer == a.layer + 1
            assert a.plus_up
            assert b.plus_up  # its minus looks down on a's plus
        else:
            assert apart == pytest.approx(layout.pitch_mm)
            assert a.layer == b.layer
            assert (a.plus_up == b.plus_up) == (k.kind == "parallel")
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
            yield (k.layer + 1, "bottom"), k.junction, start, reach


@settings(max_examples=60, deadline=None)
@given(any_layout())
def test_no_strip_comes_near_a_strip_or_a_cell_of_another_junction(layout):
    # a short circuit on the drawing would be one on the bench: strips at most 0.6 of a diameter wide
    # stay clear when their middle lines, and other cells' middles, are 0.85 of a pitch apart
    along = np.linspace(0.0, 1.0, 41)[:, None]
    pieces = [(where, j, a + along * (b - a)) for where, j, a, b in segments(layout)]
    for i, (where, j, points) in enumerate(pieces):
        for other_where, other_j, others in pieces[i + 1 :]:
            if where == other_where and j != other_j:
                gap = np.linalg.norm(points[:, None] - others[None], axis=-1).min()
                assert gap > 0.85 * layout.pitch_mm
        for c in layout.cells:
            pole = "plus" if c.plus_up == (where[1] == "top") else "minus"
            at = c.group if pole == "plus" else c.group - 1
            if c.layer == where[0] and at != j:
                gap = np.linalg.norm(points - [c.x_mm, c.y_mm], axis=-1).min()
                assert gap > 0.85 * layout.pitch_mm


@settings(max_examples=40, deadline=None)
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


def test_size_of_a_square_and_a_staggered_block():
    pack, bare = example_pack(4, 2), Fittings(ring_mm=0, strip_layers=0, sheet_mm=0, wrap_mm=0)
    square, staggered = (
        lay_out(pack, Grid(packing, False, 1, 4, 2, 1, 4), None, bare)
        for packing in ("square", "staggered")
    )
    # by hand: 4 and 2 diameters of 21.2 mm; 4 1/2 and 1 + sqrt(3)/2 diameters
    assert square.box_mm == pytest.approx((84.8, 42.4, 70.2))
    assert staggered.box_mm == pytest.approx((95.4, 21.2 * 1.8660254, 70.2))


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 7), st.integers(1, 4), st.tuples(*[st.floats(20.0, 250.0)] * 3))
def test_what_fits_the_bay_comes_first_and_truly_fits(series, parallel, room):
    bay = Bay(*room)
    found = layouts(example_pack(series, parallel), bay)
    assert [k.fits for k in found] == sorted((k.fits for k in found), reverse=True)
    for k in found:
        # sorted sides against sorted sides is the whole answer when every turn is allowed
        fits = all(np.array(sorted(k.box_mm)) <= np.array(sorted(room)) + 1e-9)
        assert k.fits == fits
        lies = np.array([k.length_mm, k.width_mm, k.height_mm])
        assert sorted(lies) == pytest.approx(sorted(k.box_mm))
        if k.fits:
            assert np.all(lies <= np.array(room) + 1e-9)
        else:
            assert "too much by" in k.why
    fitting = [k.series_path_mm for k in found if k.fits]
    assert all(a <= b + 1e-6 for a, b in pairwise(fitting))


def test_a_forbidden_direction_of_the_cells_is_kept():
    pack = example_pack(4, 2)
    upright = layouts(pack, Bay(100, 60, 80, ("height",)))
    assert {k.axis for k in upright} == {"height"}
    assert upright[0].fits
    flat = layouts(pack, Bay(100, 60, 40, ("height",)))
    assert not any(k.fits for k in flat)
    assert "in height" in flat[0].why


def test_series_path_of_a_straight_block():
    # 4S2P in two rows: three steps of two links side by side, 21.2 mm each: 3 x 21.2 / 2
    assert layouts(example_pack(4, 2))[0].series_path_mm == pytest.approx(31.8)


def test_touching_cans_and_the_barrier():
    block = layouts(example_pack(6, 1), packings=("square",), max_layers=1, most=50)
    row = next(k for k in block if k.arrangement.startswith("flat"))
    assert row.can_steps == 1
    folded = next(k for k in block if "2 x 3" in k.arrangement)
    # a row of 1 2 3 over 6 5 4: 1 stands beside 6, five cells' voltages apart
    assert folded.can_steps == 5
    assert "21.0 V" in barrier_words(folded, 4.2)
    assert "same voltage" in barrier_words(layouts(example_pack(1, 3))[0], 4.2)


def test_mass_and_centre_of_mass():
    pack = example_pack(6, 2)
    f = Fittings(holder_g=2.0, leads_g=40.0)
    layout = layouts(pack, None, f)[0]
    by_name = {line.name: line.mass_g for line in layout.masses}
    assert by_name["cells"] == 12 * 69.0
    assert by_name["holders"] == 24.0
    assert layout.mass_g == pytest.approx(sum(by_name.values()))
    again = Pack(pack.cell, 6, 2, layout.overhead_pct, by_name["leads and connector"])
    assert again.mass_g == pytest.approx(layout.mass_g)
    # heavy leads pull the centre of mass to the tabs, by their share of the mass
    bare = layouts(pack, None, Fittings(holder_g=2.0))[0]
    tabs = [
        np.array([c.x_mm, c.y_mm]) + np.array(k.way) * k.length_mm / 2
        for k in layout.links
        if k.kind == "tab"
        for c in [layout.cells[k.from_cell]]
    ]
    moved = np.array(layout.centre_of_mass_mm[:2]) * layout.mass_g
    still = np.array(bare.centre_of_mass_mm[:2]) * bare.mass_g
    assert moved - still == pytest.approx(40.0 * np.mean(tabs, axis=0), abs=1e-2)


def test_balance_of_the_craft():
    # moments by hand: 1800 g at 10 mm behind, 600 g put 30 mm ahead of the wanted point
    moved = np.array([-20.0, 0.0, 20.0])
    shift = centre_of_gravity_shift_mm(600.0, 2400.0, moved)
    place = 30.0 + moved
    assert shift == pytest.approx((1800.0 * -10.0 + 600.0 * place) / 2400.0)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"pack": example_pack(0, 2)}, "series is 0"),
        ({"pack": example_pack(2, 2.5)}, "parallel is 2.5"),
        ({"pack": example_pack(np.arange(3), 2)}, "series is a range"),
        ({"bay": Bay(0.0, 50.0, 50.0)}, "bay length_mm is 0"),
        ({"bay": Bay(90.0, 50.0, 50.0, ("up",))}, "cell_axes"),
        ({"fittings": Fittings(wrap_mm=-1.0)}, "wrap_mm is -1"),
        ({"fittings": Fittings(tabs="two")}, "tabs is two"),
        ({"fittings": Fittings(strip_width_mm=20.0)}, "strip_width_mm is 20"),
        ({"packings": ("round",)}, "packings"),
    ],
)
def test_bad_input_is_refused_in_words(change, word):
    call = {"pack": example_pack(4, 2), **change}
    with pytest.raises(InputError, match=word):
        layouts(call.pop("pack"), **call)


@pytest.mark.parametrize("gap_mm", [0.0, 1.5])
@pytest.mark.parametrize("bay", [Bay(190.0, 85.0, 80.0), Bay(100.0, 60.0, 75.0)])
def test_every_arrangement_measures_what_its_working_says(gap_mm: float, bay: Bay) -> None:
    for layout in layouts(example_pack(6, 3), bay, Fittings(spacing_mm=gap_mm, padding_mm=2.0)):
        steps = {s.key: s for s in layout_steps(layout, bay)}
        for key in ("box_x_mm", "box_y_mm"):
            pitches, rest = steps[key].numbers.split(" x ", 1)
            pitch, diameter, skin = (
                float(t) for t in rest.replace("2 x", "").replace("mm", "").split("+")
            )
            by_hand = float(pitches) * pitch + diameter + 2.0 * skin
            assert steps[key].result == pytest.approx(by_hand, abs=0.05)
        left = [steps[f"left_{side}_mm"].result for side in ("length", "width", "height")]
        assert layout.fits == (min(left) >= -1e-9)
        assert steps["layout_mass_g"].result == pytest.approx(layout.mass_g)


def test_staggered_rows_lie_closer_by_the_height_of_a_triangle() -> None:
    pack = example_pack(6, 3)
    square, staggered = (
        layouts(pack, packings=(kind,), max_layers=1)[0] for kind in ("square", "staggered")
    )
    # three rows: two steps of one pitch against two of sqrt(3)/2 of it
    closer = square.box_mm[1] - staggered.box_mm[1]
    assert closer == pytest.approx(2 * 21.2 * (1 - 3**0.5 / 2), abs=0.01)
