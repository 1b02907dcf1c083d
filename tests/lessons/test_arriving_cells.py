"""The page of arriving cells: the sample, the two loads, the lot, and what goes into the design."""

from pathlib import Path

import pytest

import workbook as wb
from tests.lessons.conftest import plain
from workbook.data.notebooks import here_or_shipped
from workbook.files.design_file import read_design
from workbook.lessons.arriving_cells import TYPED, ArrivingCells
from workbook.sizing.size import size
from workbook.widgets.controls import ChosenFile


@pytest.fixture
def page(folder: Path) -> ArrivingCells:
    return ArrivingCells()


def test_the_sample_follows_its_sliders(page: ArrivingCells) -> None:
    page.sample.inputs["batch"].value = 60
    page.sample.inputs["tested"].value = 8
    assert "12 bad cells among 60" in page.sample.chart.finding_text
    assert "Test 12 to find it" in page.sample.chart.finding_text
    assert page.sample.chart.lines[0].x[-1] == 60


def test_the_form_is_written_for_the_cells_that_came(page: ArrivingCells) -> None:
    page.sample.inputs["batch"].value = 30
    page.sample.form.write()
    text = Path("arriving_cells.html").read_text("utf-8")
    assert "Arriving cells: 30 of Sedge" in text
    page.sample.form.name.value = "designs/survey_six.toml"
    page.sample.form.write()
    assert page.sample.form.reply.text


def test_two_loads_are_held_beside_the_datasheet(page: ArrivingCells) -> None:
    page.loads.inputs["heavy_v"].value = 3.45
    page.loads.inputs["light_v"].value = 3.65
    # 200 mV over 8.1 A
    assert "24.7 mΩ by direct current" in page.loads.chart.finding_text
    page.loads.inputs["heavy_v"].value = 3.7
    assert "swapped" in page.loads.live.problems[0]


def test_a_lot_is_dealt_and_counted_on(page: ArrivingCells) -> None:
    lot = page.lot
    assert "every cell was tested" in plain(lot.verdict.html.value)
    lot.use()
    assert "Saved as" in lot.reply.value, lot.reply.text
    saved = read_design("designs/mine.toml")
    assert saved.part.pack.cell_capacity_ah == lot.result.plan.figures["cell_capacity_ah"]
    assert saved.part.origins["cell_capacity_ah"].origin == "measured"
    before = read_design("designs/survey_six.toml")
    assert size(saved.design).point.endurance_min > size(before.design).point.endurance_min
    assert saved.design.pack.cell.model.resistance_at(0.5) == pytest.approx(
        lot.result.plan.figures["cell_resistance_mohm"]
    )


def test_bad_cells_are_named_and_left_out(page: ArrivingCells) -> None:
    page.lot.choice.value = "doubtful_batch.csv"
    text = plain(page.lot.bad.html.value)
    assert all(name in text for name in ("B04", "B08", "B12", "B16", "B20", "B23"))
    assert not {"B04", "B08", "B12"} & set(
        plain(page.lot.groups.html.value).replace(",", " ").split()
    )


def test_rows_are_typed_and_wrong_ones_are_reported(page: ArrivingCells) -> None:
    page.lot.rows.fill("a;58,1;3,52;;;25,1;4650\nb;58,4;3,52;;;25,3;4640\nc;58,2;3,52;;;25,0;4660")
    assert page.lot.choice.value == TYPED
    assert "Do not weld" in plain(page.lot.verdict.html.value)
    page.lot.use()
    assert "not what they should be" in page.lot.reply.text
    page.lot.rows.fill("a;heavy;3,52;;;25,1;4650\nb;58,4;3,52;;;25,3;4640")
    assert '"heavy" is not a figure' in page.lot.live.problems[0]


def test_a_log_of_ones_own_is_taken(page: ArrivingCells) -> None:
    content = here_or_shipped(Path("cell_logs/good_batch.csv")).read_bytes()
    page.lot.choice.own.value = ChosenFile("mine.csv", content)
    assert page.lot.choice.value == ""
    assert page.lot.result.where == "mine.csv"


def test_another_cell_than_the_designs_is_not_put_there(page: ArrivingCells) -> None:
    page.lot.cell.value = wb.find_cell("Avocet")
    page.lot.use()
    assert page.lot.reply.text
    assert not Path("designs/mine.toml").exists()
