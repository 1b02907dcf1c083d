"""Layouts: geometry, groups, the net they make, the bay and the balance."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.bench.arranged import any_layout, example_pack
from workbook.battery.pack import Pack
from workbook.bench.arrange import Grid, GroupMap, grids
from workbook.bench.bench_settings import Bay
from workbook.bench.clearance import touching
from workbook.bench.layout import Fittings, lay_out, layout_steps, layouts
from workbook.errors import InputError


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


def test_size_of_a_square_and_a_staggered_block():
    pack = example_pack(4, 2)
    bare = Fittings(barrier_mm=0, ring_mm=0, strip_layers=0, sheet_mm=0, wrap_mm=0)
    square, staggered = (
        lay_out(pack, Grid(packing, False, 1, 4, 2, 1, 4), None, bare)
        for packing in ("square", "staggered")
    )
    # by hand: 4 and 2 diameters of 21.2 mm; 4 1/2 and 1 + sqrt(3)/2 diameters
    assert square.box_mm == pytest.approx((84.8, 42.4, 70.2))
    assert staggered.box_mm == pytest.approx((95.4, 21.2 * 1.8660254, 70.2))


@given(st.integers(1, 7), st.integers(1, 4), st.tuples(*[st.floats(20.0, 250.0)] * 3))
def test_what_fits_the_bay_comes_first_and_truly_fits(series, parallel, room):
    bay = Bay(*room)
    found = layouts(example_pack(series, parallel), bay)
    assert [k.fits for k in found] == sorted((k.fits for k in found), reverse=True)
    for k in found:
        # sorted sides against sorted sides is the whole answer when every turn is allowed
        fits = all(np.array(sorted(k.box_mm)) <= np.array(sorted(room)) + 1e-9)
        assert k.fits == fits
        lies = np.array(k.lying.sides_mm)
        assert sorted(lies) == pytest.approx(sorted(k.box_mm))
        assert np.all(lies <= np.array(room) + 1e-9) == k.fits
        assert ("too much by" in k.lying.why) != k.fits
    fitting = [(touching(k).steps, round(k.series_path_mm, 6)) for k in found if k.fits]
    assert fitting == sorted(fitting)


def test_a_forbidden_direction_of_the_cells_is_kept():
    pack = example_pack(4, 2)
    upright = layouts(pack, Bay(100, 60, 80, ("height",)))
    assert {k.lying.turn[2] for k in upright} == {"z"}  # the cells' axis, upwards
    assert upright[0].fits
    flat = layouts(pack, Bay(100, 60, 40, ("height",)))
    assert not any(k.fits for k in flat)
    assert "in height" in flat[0].lying.why


def test_mass():
    pack = example_pack(6, 2)
    f = Fittings(holder_g=2.0)
    layout = layouts(pack, None, f)[0]
    by_name = {line.name: line.mass_g for line in layout.masses}
    assert by_name["cells"] == 12 * 69.0
    assert by_name["holders"] == 24.0
    assert layout.mass_g == pytest.approx(sum(by_name.values()))
    again = Pack(pack.cell, 6, 2, layout.overhead_pct)
    assert again.mass_g == pytest.approx(layout.mass_g)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"pack": example_pack(0, 2)}, "series: 0 is not"),
        ({"pack": example_pack(2, 2.5)}, "parallel is 2.5; one whole"),
        ({"pack": example_pack(np.arange(3), 2)}, "one whole number"),
        ({"bay": Bay(0.0, 50.0, 50.0)}, "bay length_mm: 0 is"),
        ({"bay": Bay(90.0, 50.0, 50.0, ("up",))}, "cell_axes"),
        ({"fittings": Fittings(wrap_mm=-1.0)}, "wrap_mm: -1 is"),
        ({"fittings": Fittings(tabs="two")}, "tabs: two"),
        ({"fittings": Fittings(strip_width_mm=20.0)}, "strip_width_mm: 20 is"),
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
    assert closer == pytest.approx(2 * 21.4 * (1 - 3**0.5 / 2), abs=0.01)


def test_a_bounded_search_finds_what_a_whole_one_finds() -> None:
    pack, f = example_pack(6, 4), Fittings(tabs="each")
    every = [lay_out(pack, grid, None, f) for grid in grids(6, 4, ("square", "staggered"), 2)]
    least = min((touching(k).steps, round(k.series_path_mm, 6), math.prod(k.box_mm)) for k in every)
    best = layouts(pack, None, f, most=1)[0]
    assert (
        touching(best).steps,
        round(best.series_path_mm, 6),
        math.prod(best.box_mm),
    ) == pytest.approx(least)


def test_sheets_between_groups_take_their_room() -> None:
    # by hand: 4 cells of 21.2 mm, 3 sheets of 0.2 mm, a sleeve of 0.15 mm on both sides
    assert layouts(example_pack(4, 2))[0].box_mm[0] == pytest.approx(85.7)
    # one group is all at one voltage: no sheet
    assert layouts(example_pack(1, 2))[0].box_mm[0] == pytest.approx(42.7)


def test_what_does_not_depend_on_fittings_or_bay_is_worked_out_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of a large pack it takes most of the time, and a page asks for many bays."""
    tried, real = [], GroupMap.from_grid
    monkeypatch.setattr(GroupMap, "from_grid", lambda *of: tried.append(of) or real(*of))
    pack = example_pack(14, 19)
    first = layouts(pack, None, max_layers=1, most=1)[0]
    worked_out = len(tried)
    wide = layouts(pack, Bay(500.0, 500.0, 90.0), Fittings(spacing_mm=1.5), max_layers=1, most=1)[0]
    assert worked_out > 100
    assert len(tried) == worked_out
    assert wide.grid == first.grid
    assert max(wide.box_mm) > max(first.box_mm)
