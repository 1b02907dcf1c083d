"""The page of pictures without a browser: from a picture to a table in use, and from a graph to a cell file."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.pictures.drawn import GraphPicture, TablePicture, invented_rows
from tests.pictures.test_curves import CURRENTS_A, truth
from workbook.files.cell_file import read_cell
from workbook.files.design_file import read_design
from workbook.lessons import from_pictures
from workbook.lessons.from_pictures import CellFromPicture, TableFromPicture
from workbook.lessons.learner import keep
from workbook.pictures.axes import ACROSS, UP
from workbook.pictures.layout import PictureCell, PictureTable
from workbook.pictures.trace import can_follow
from workbook.widgets.controls import ChosenFile
from workbook.widgets.graph_tracer import CURVE

pytestmark = pytest.mark.usefixtures("folder")


def read_as(page: TableFromPicture, monkeypatch: pytest.MonkeyPatch, rows: list[list[str]]) -> None:
    """Press "read the text" where the reader gives these rows."""
    drawn = TablePicture(rows=rows)
    cells = [tuple(PictureCell(text, 0.99, (0, 0, 9, 9)) for text in row) for row in drawn.cells]
    table = PictureTable(("Propeller 14x4.8",), cells[0], tuple(cells[1:]))
    monkeypatch.setattr(from_pictures, "table_in", lambda _: table)
    page.read_button.click()


def test_it_opens_with_a_practice_picture_and_a_grid_to_type_into() -> None:
    page = TableFromPicture()
    assert page.chooser.opened.name == "practice_table.jpg"
    assert len(page.grid.cells) == 7
    page.use_button.click()
    assert page.reply.text
    assert page.table is None


def test_a_table_is_read_answered_for_saved_and_in_use(monkeypatch: pytest.MonkeyPatch) -> None:
    page = TableFromPicture()
    rows = invented_rows()
    rows[4][4] = "177.1"  # 77.1 W as printed
    read_as(page, monkeypatch, rows)
    page.use_button.click()
    assert "cells are still marked" in page.reply.text
    page.grid.cells[5][4].value = "77.1"
    page.use_button.click()
    assert page.reply.text == ""
    assert page.table is not None
    file = read_design("designs/mine.toml")
    assert file.design.craft.table.top_thrust_gf == 2400.0
    origins = {origin.key: origin.origin for origin in file.design.origins}
    assert origins.pop("thrust_table") == "maker's"
    assert set(origins.values()) == {
        "assumed"
    }  # nothing of the demo craft is taken for the learner's
    assert "every other figure is assumed" in page.reply.value
    assert "Saved as tables/mine_my_motor.csv" in page.reply.value
    page.use_button.click()
    assert "already here" in page.reply.text  # nothing is overwritten unasked


def test_a_table_goes_into_a_design_that_is_there_already(monkeypatch: pytest.MonkeyPatch) -> None:
    keep(rotors=4, payload_g=123.0)
    page = TableFromPicture()
    read_as(page, monkeypatch, invented_rows())
    page.use_button.click()
    craft = read_design("designs/mine.toml").design.craft
    assert (craft.payload_g, craft.table.top_thrust_gf) == (123.0, 2400.0)


def test_what_cannot_be_opened_is_reported_and_the_picture_before_stays() -> None:
    page = TableFromPicture()
    page.chooser.file.value = ChosenFile("cut.png", b"\x89PNG\r\n\x1a\n")
    assert "cut.png" in page.chooser.reply.text
    assert page.chooser.opened.name == "practice_table.jpg"


@pytest.mark.skipif(not can_follow(), reason="scikit-image is not installed")
def test_a_cell_is_traced_fitted_and_saved() -> None:
    page = CellFromPicture()
    tracer = page.tracer
    graph = replace(from_drawn(), legend_at=(0.5, 3.2))
    for axis, value, position in (
        (ACROSS, 0.0, (0.0, 2.5)),
        (ACROSS, 5000.0, (5.0, 2.5)),
        (UP, 2.5, (0.0, 2.5)),
        (UP, 4.0, (0.0, 4.0)),
    ):
        tracer.target.value, tracer.printed.value = axis, value
        tracer.click(*graph.at(*position))
    for n, (amps, (charge, volts)) in enumerate(zip(CURRENTS_A, truth(), strict=True)):
        if n:
            tracer.new_curve()
        tracer.target.value, tracer.current.value = CURVE, amps
        for k in (0, 30, 60, 90, 112, 119):
            tracer.click(*graph.at(charge[k], volts[k]))
    assert tracer.reply.text == ""
    made = page.fitter.live.current()
    assert made is not None
    assert made.report.model.residual_rms_mv < 10.0
    page.fitter.inputs["name"].value = "From a page"
    page.fitter.inputs["continuous_a"].value = 18.0
    page.fitter.save_button.click()
    assert "mass of one cell" in page.fitter.reply.text
    assert "continuous" not in page.fitter.reply.text  # it was set
    page.fitter.save_button.click()
    cell = read_cell("cells/from-a-page.toml")
    assert [curve.current_a for curve in cell.curves] == list(CURRENTS_A)


def test_points_of_the_practice_cell_are_not_kept_beside_a_picture_of_ones_own() -> None:
    page = CellFromPicture()
    page.chooser.file.value = ChosenFile("own.png", from_drawn().draw())
    assert page.fitter.points.value == ""
    page.fitter.save_button.click()
    assert "no cell to save" in page.fitter.reply.text


def from_drawn() -> GraphPicture:
    """The practice graph as it was drawn."""
    return GraphPicture(truth(), [f"{amps:g} A" for amps in CURRENTS_A], size=(840, 560))
