"""The table beside its picture: what is doubted, answered, corrected, added and left out."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.pictures.layout import PictureCell, PictureTable
from workbook.pictures.opening import OpenedPicture
from workbook.pictures.table import doubtful
from workbook.widgets.picture_grid import PictureGrid, empty_table

PICTURE = OpenedPicture("a", np.zeros((400, 600, 3), np.uint8))


def cell(text: str, row: int, confidence: float = 0.99) -> PictureCell:
    return PictureCell(text, confidence, (10.0, 40.0 * row, 50.0, 40.0 * row + 20.0))


@pytest.fixture
def grid() -> PictureGrid:
    """Three rows, of which one cell is hard to read and one row's power is wrong."""
    rows = [
        ("400", "2.00", "22.2", "44.4"),
        ("800", "5.00", "22.1", "170.5"),
        ("990", "7.00", "22.0", "154.0"),
    ]
    table = PictureTable(
        ("Propeller 14x4.8",),
        tuple(cell(text, 0) for text in ("Thrust (g)", "Current (A)", "Voltage (V)", "Power (W)")),
        tuple(
            tuple(cell(text, n, 0.6 if text == "990" else 0.99) for text in row)
            for n, row in enumerate(rows, 1)
        ),
    )
    grid = PictureGrid()
    grid.show(PICTURE, table)
    return grid


def test_doubtful_cells_are_marked_and_listed(grid: PictureGrid) -> None:
    marked = [
        (r, k)
        for r, row in enumerate(grid.cells)
        for k, box in enumerate(row)
        if "wb-doubt" in box._dom_classes
    ]
    assert marked == [(2, 1), (2, 2), (2, 3), (3, 0), (3, 3)]  # 170.5 or 154.0 is out of order
    assert "power is not volts times amperes" in grid.cells[2][3].tooltip
    assert "5 marked" in grid.message.value


def test_a_correction_takes_its_doubts_away(grid: PictureGrid) -> None:
    grid.cells[2][3].value = "110.5"  # 22.1 V x 5.00 A
    assert [line.split(":")[0] for line in doubtful(grid.value)] == ['row 3, "Thrust (g)"']
    assert grid.value.rows[1][3].confidence == 1.0


def test_a_confirmed_cell_is_kept_and_the_next_is_framed(grid: PictureGrid) -> None:
    assert grid._position == (2, 1)
    grid.confirm()
    assert grid._position == (2, 2)
    for _ in range(4):
        grid.confirm()
    assert doubtful(grid.value) == ()
    assert "No cell is marked" in grid.message.value
    assert grid._frame.y.min() == 3 * 40.0 - 3


def test_rows_are_added_and_left_out_and_notes_changed(grid: PictureGrid) -> None:
    grid.add_row()
    assert len(grid.cells) == 5
    grid.cells[4][0].value = "1200"
    grid.leave_out()
    assert [row[0].text for row in grid.value.rows] == ["400", "800", "990"]
    grid.notes.value = "Propeller 15x5\n4S"
    assert grid.value.notes == ("Propeller 15x5", "4S")


def test_without_text_read_the_ruler_keeps_the_place() -> None:
    grid = PictureGrid()
    grid.show(PICTURE, empty_table(["Thrust (g)", "Current (A)"], 4))
    grid.ruler.value = 50
    assert 0 < grid._frame.y.min() < grid._frame.y.max() < 400
    grid.cells[1][0].value = "640"
    assert grid.value.rows[0][0].value == 640.0
