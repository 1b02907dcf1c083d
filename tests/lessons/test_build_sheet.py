"""Lesson 12: the drawing, the list of arrangements and the working follow every control, and agree."""

from __future__ import annotations

import re

import pytest

from tests.bench.arranged import example_pack
from tests.conftest import NOTEBOOKS
from tests.lessons.conftest import plain, shown_step
from workbook.bench.cell_inspection import inspect_cells
from workbook.files.cell_log import read_cell_log
from workbook.files.design_file import read_design
from workbook.lessons.build_sheet import BalancePlug, CellBatch
from workbook.lessons.learner import current_design
from workbook.numbers import rounded
from workbook.widgets.controls import ChosenFile


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
    assert f"of it drawn here {rounded(shown.mass_g, 0, 'up'):.0f} g" in plain(
        view.figures.html.value
    )
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


@pytest.fixture
def batch(folder) -> CellBatch:
    return CellBatch(current_design())


def test_good_batch_uses_all_and_says_what_matching_gains(batch) -> None:
    assert "cells in the log 24" in plain(batch.figures.html.value)
    groups = batch.live.result.groups
    assert groups.left_out == ()
    assert len(groups.spare) == 24 - 18
    used = [name for row in groups.names for name in row]
    assert len(set(used)) == 18
    # working: the sum of each group's capacities as they stand in the file
    log = read_cell_log(NOTEBOOKS / "cell_logs" / "good_batch.csv").cells
    sums = [sum(log.capacity_ah[log.name.index(n)] for n in row) for row in groups.names]
    batch.working_panel.fold.value = True
    assert f"= {min(sums):.4g} Ah" in plain(batch.working_panel.html.value)
    assert f"{rounded(min(sums), 3, 'down'):.3f} Ah" in plain(batch.figures.html.value)
    assert (
        batch.live.result.groups.ways[2].gain_min > batch.live.result.groups.ways[1].gain_min >= 0.0
    )


PLANTED = {
    "B04": "2.31 V",
    "B08": "31 mV a week",
    "B12": "4.283 Ah",
    "B16": "33.1 mΩ",
    "B20": "60.4 g",
    "B23": "2.86 V",
}
"""The faults that stand in `cell_logs/doubtful_batch.csv`."""


def test_every_planted_fault_is_found_with_its_figure(batch) -> None:
    batch.choice.value = "doubtful_batch.csv"
    left = dict(batch.live.result.groups.left_out)
    assert set(left) == set(PLANTED)
    for name, figure in PLANTED.items():
        assert figure in left[name]
        assert figure in plain(batch.left_out.html.value)
    assert "mass was not measured on 1 of 26 cells" in plain(batch.notes.html.value)


def test_a_log_of_ones_own_and_what_is_wrong_with_it(batch) -> None:
    text = "id,capacity mAh\n" + "".join(f"c{k},{4700 + k}\n" for k in range(20))
    batch.choice.own.value = ChosenFile("mine.csv", text.encode())
    assert batch.live.problems == ()
    assert "cells in the log 20" in plain(batch.figures.html.value)
    batch.choice.own.value = ChosenFile("short.csv", b"id,capacity mAh\na,4800\nb,4810\n")
    assert "6 groups of 3 need 18" in batch.live.problems[0]
    batch.choice.own.value = ChosenFile("bad.csv", b"id,capacity mAh\na,much\n")
    assert "bad.csv, row 2" in batch.live.problems[0]


def test_demo_logs_say_that_they_are_invented() -> None:
    for path in (NOTEBOOKS / "cell_logs").glob("*.csv"):
        assert path.read_text("utf-8").startswith("# Invented for this workbook")
        assert inspect_cells(read_cell_log(path).cells).usable


def test_the_sheet_is_written_once_and_never_over_a_file_unasked(view, folder) -> None:
    writer = view.sheet
    writer.write()
    path = folder / "build_sheet.html"
    assert path.exists()
    assert "✓ Written: build_sheet.html" in writer.reply.value
    assert "(build_sheet.html)" in writer.link.outputs[0]["data"]["text/markdown"]
    first = path.read_bytes()
    assert "A13" in first.decode("utf-8")  # the cells of the log stand on the sheet
    path.write_text("mine", "utf-8")
    writer.write()
    assert "✕" in writer.reply.value
    assert writer.link.outputs == ()
    assert path.read_text("utf-8") == "mine"
    writer.over.value = True
    writer.write()
    assert "changed elsewhere" in writer.reply.value
    assert path.read_text("utf-8") == "mine"
    writer.write()
    assert path.read_text("utf-8") != "mine"


def test_the_plug_is_judged_as_typed() -> None:
    plug = BalancePlug(example_pack(6, 3))
    plug.typed.value = "3,6 7,2; 10,8 14.4 18 21.6"
    assert "HOLDS" in plug.verdict.html.value
    plug.typed.value = "3.6 10.8 7.2 14.4 18 21.6"
    assert "DOES NOT HOLD" in plug.verdict.html.value
    assert "Do not plug it in" in plug.verdict.html.value
    plug.typed.value = "3.6 7.2"
    assert plug.reply.text.startswith("Not checked: 2 readings given for 6 cells")
    assert plug.verdict.html.value == ""
    plug.typed.value = "much"
    assert "not one number" in plug.reply.text
    assert plain(plug.table.html.value).count("plus of group") == 6


def test_in_little_room_the_picture_is_drawn_narrow_at_once(view) -> None:
    wide = view.picture.svg.value
    view.picture.fit(370)
    assert 'width="500"' in view.picture.svg.value != wide
