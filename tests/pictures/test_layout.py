"""Words into rows and columns, however the picture was taken; the words here are set down, not read."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.numbers import FloatArray
from workbook.pictures.layout import PictureTable, lay_out
from workbook.pictures.recognise import Word

LINES = ["Motor 311", "Throttle Thrust Current", "% g A"]
LINES += [f"{10 * n} {97 * n} {0.7 * n:.1f}" for n in range(3, 11)]


def words(lines: list[str], seen: FloatArray | None = None, gap_px: float = 130.0) -> list[Word]:
    """Words of lines, 30 px apart, in columns; seen through a projective map of 3 x 3 figures."""
    out = []
    for row, line in enumerate(lines):
        for column, text in enumerate(line.split()):
            x, y, wide = gap_px * column + 40, 30.0 * row + 40, 9.0 * len(text)
            corners = np.array([[x, y], [x + wide, y], [x + wide, y + 14], [x, y + 14]])
            if seen is not None:
                lifted = np.column_stack([corners, np.ones(4)]) @ seen.T
                corners = lifted[:, :2] / lifted[:, 2:]
            out.append(Word(text, 0.99, corners))
    return out


def texts(table: PictureTable) -> list[list[str]]:
    return [[cell.text for cell in row] for row in (table.headings, *table.rows)]


EXPECTED = [["Throttle %", "Thrust g", "Current A"], *(line.split() for line in LINES[3:])]


def turned(degrees: float) -> FloatArray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize(
    "seen",
    [
        None,
        turned(2.0),
        turned(-5.0),
        np.array([[1.0, 0.1, 0.0], [0.05, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [4e-4, 0.0, 1.0]]),
        np.array([[1.0, 0.05, 0.0], [0.02, 1.0, 0.0], [2e-4, 5e-4, 1.0]]),
    ],
    ids=["straight", "turned", "turned back", "sheared", "from the side", "from a corner"],
)
def test_rows_and_columns_are_found(seen: FloatArray | None) -> None:
    table = lay_out(words(LINES, seen))
    assert texts(table) == EXPECTED
    assert table.notes == ("Motor 311",)


def test_an_empty_cell_stays_empty_and_the_others_in_their_columns() -> None:
    laid = [word for word in words(LINES) if word.text not in ("582", "50")]
    table = lay_out(laid)
    assert table.rows[3][1].text == ""
    assert table.rows[3][2].text == "4.2"
    assert table.rows[2][0].text == ""


def test_figures_read_as_one_run_are_parted() -> None:
    laid = [word for word in words(LINES) if word.text not in ("485", "3.5")]
    pair = next(word for word in words(LINES) if word.text == "485")
    wide = pair.corners + np.array([[0, 0], [130, 0], [130, 0], [0, 0]])
    table = lay_out([*laid, Word("485      3.5", 0.9, wide)])
    assert [cell.text for cell in table.rows[2]] == ["50", "485", "3.5"]


def test_a_lost_row_is_noticed() -> None:
    lost = [*LINES[:6], "", *LINES[7:]]
    assert lay_out(words(lost)).rows[3][0].place_doubt == "a row seems to be missing above this one"


@pytest.mark.parametrize("lines", [[], ["12"], ["one two", "three four"], ["1 2 3"]])
def test_what_is_no_table_gives_no_rows(lines: list[str]) -> None:
    assert lay_out(words(lines)).rows == ()


def test_the_spaces_that_a_reader_loses_beside_the_table_are_put_back() -> None:
    laid = words([LINES[0].replace(" ", "") + "rpm/V,propeller9x4.5,6S", *LINES[1:]])
    assert lay_out(laid).notes == ("Motor 311rpm/V, propeller 9x4.5, 6S",)
