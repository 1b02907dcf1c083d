"""Lesson 12: the drawing, the list of arrangements and the working follow every control, and agree."""

from __future__ import annotations

import re

import pytest

from tests.lessons.conftest import plain, shown_step
from workbook.files.design_file import read_design


@pytest.fixture
def view(opened):
    return opened("build_sheet")


CASES = [
    {"bay_length_mm": 130.0},
    {"bay_width_mm": 62.0},
    {"bay_height_mm": 70.0},
    {"packing": "square"},
    {"layers": 1.0},
    {"gap_mm": 2.0},
    {"number": 3.0},
]


@pytest.mark.parametrize("changes", CASES, ids=lambda c: next(iter(c)))
def test_drawing_list_and_working_agree_when_an_input_changes(view, changes) -> None:
    before = plain(view.table.html.value) + view.picture.svg.value
    for name, value in changes.items():
        view.inputs[name].value = value
    assert view.live.problems == ()
    shown = view.result.shown
    assert plain(view.table.html.value) + view.picture.svg.value != before
    assert shown.arrangement in view.picture.finding_text
    assert f"{shown.box_mm[0]:.1f} mm" in view.picture.svg.value  # its drawn length
    assert shown_step(view, "box_x_mm") == f"= {shown.box_mm[0]:.4g} mm"
    assert f"mass as laid out {shown.mass_g:.0f} g" in plain(view.figures.html.value)
    assert "Highest voltage between touching metal" in plain(view.barrier.html.value)
    # one row an arrangement; those that fit say so, the others by how much they do not
    rows = re.findall(r"<tr.*?</tr>", view.table.html.value)[1:]
    assert len(rows) == len(view.result.found)
    for row, layout in zip(rows, view.result.found, strict=True):
        assert ("✓ fits" in row) == layout.fits
        assert layout.fits or re.search(r"✕ too much by [\d.]+ mm in (length|width|height)", row)


def test_a_number_beyond_the_list_draws_the_last(view) -> None:
    view.inputs["bay_length_mm"].value = 60.0
    view.inputs["number"].value = 6.0
    assert view.result.shown is view.result.found[-1]


def test_bay_and_packing_carry_on_into_the_bench_part(view, opened, folder) -> None:
    for name, value in {"bay_length_mm": 150.0, "packing": "staggered", "gap_mm": 0.5}.items():
        view.inputs[name].value = value
    view.keep_now()
    assert "Kept" in view.kept.value
    bench = read_design(folder / "designs" / "mine.toml").part.bench
    assert (bench.bay_length_mm, bench.packing, bench.holder_gap_mm) == (150.0, "staggered", 0.5)
    assert bench.charger_max_a == 10.0  # what the demo said of the bench stays
    again = opened("build_sheet")
    assert again.inputs["bay_length_mm"].value == 150.0
    assert again.inputs["packing"].value == "staggered"
