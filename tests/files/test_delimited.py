"""Tables in text: encodings, separators, quotes, headings."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from workbook.errors import InputError
from workbook.files.columns import Heading
from workbook.files.delimited import csv_text, decode, read_table, rows_of, table_text


@pytest.mark.parametrize(
    ("text", "separator", "rows"),
    [
        ("a;b\r\n1;2", ";", [("a", "b"), ("1", "2")]),
        ('a,"b, c"\n1,2', ",", [("a", "b, c"), ("1", "2")]),
        ('"two\nlines",b\n1,2', ",", [("two\nlines", "b"), ("1", "2")]),
        ("| a | b |\n|---|---|\n| 1 | 2 |", "|", [("a", "b"), ("1", "2")]),
        ("a b   c\n1     2", "  ", [("a b", "c"), ("1", "2")]),
    ],
)
def test_rows(text: str, separator: str, rows: list[tuple[str, ...]]) -> None:
    assert [row.cells for row in rows_of(text, separator)] == rows


def test_a_quote_that_is_never_closed_does_not_swallow_the_table() -> None:
    rows = rows_of('a,b\n1,"2\n3,4\n5,6\n7,8\n9,10\n', ",")
    assert len([row for row in rows if row.text]) == 6


def test_lines_keep_their_numbers() -> None:
    table = read_table("# note\n\na;b\n1;2\n\n3;4\n", "t.csv", Heading)
    assert table.row == (4, 6)
    assert [list(column) for column in table.columns] == [["1", "3"], ["2", "4"]]


@pytest.mark.parametrize(
    ("text", "word"),
    [("a,b\n1,2,3\n", "row 2: there are 3 columns; the header has 2"), ("a,b\n", "one row below")],
)
def test_tables_that_cannot_be_used(text: str, word: str) -> None:
    with pytest.raises(InputError, match=word):
        read_table(text, "t.csv", Heading)


def test_encodings(tmp_path: Path) -> None:
    assert decode("ä".encode("cp1252"), "x") == (
        "ä",
        "not UTF-8; read as Western European text (windows-1252).",
    )
    path = tmp_path / "t.csv"
    path.write_bytes("\ufeffa;b".encode("utf-16"))
    assert table_text(path, "t.csv") == ("a;b", "")
    with pytest.raises(InputError, match="is empty"):
        table_text(b" \n", "x")


def read_back(text: str) -> list[str]:
    (row,) = csv.reader(io.StringIO(text, newline=""), strict=True)
    return row


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+cmd|' /C calc'!A0",
        "-2+3",
        "@SUM(A1)",
        "-1 A1",
        "-1+A",
        "\t=1",
        "\r=1",
        "\n=1",
        " =1",
        "-",
        "+",
    ],
)
def test_no_text_is_written_that_a_spreadsheet_takes_for_a_formula(text: str) -> None:
    assert read_back(csv_text([text], [])) == ["'" + text.replace("\r", " ")]


@pytest.mark.parametrize(
    ("cell", "written"),
    [(-2.5, "-2.5"), ("-2.5", "-2.5"), ("-4.762 %", "-4.762 %"), ("+1e-3", "+1e-3"), ("-1,5", '"-1,5"'), ("a=b", "a=b"),
     (float("nan"), ""), (3, "3"), ("15x5", "15x5"), ("'=1", "'=1")],
)  # fmt: skip
def test_figures_stay_figures_and_harmless_texts_as_they_are(
    cell: str | float, written: str
) -> None:
    assert csv_text(["a", "b"], [[cell, 1]]) == f"a,b\n{written},1\n"


@given(st.lists(st.text(), min_size=1, max_size=4))
def test_no_cell_begins_like_a_formula_whatever_is_written(cells: list[str]) -> None:
    assume(any(cells))
    for cell in read_back(csv_text(cells, [])):
        assert cell.lstrip(" ")[:1] not in ("=", "@", "\t", "\n")
        if cell.lstrip(" ")[:1] in ("+", "-"):
            float(cell.replace(",", ".").partition(" ")[0])  # a figure below zero


def test_every_csv_is_written_in_one_place() -> None:
    root = Path(__file__).parents[2] / "workbook"
    for path in root.rglob("*.py"):
        text = path.read_text("utf-8")
        assert ".to_csv(" not in text, path
        assert "csv.writer(" not in text or path.name == "delimited.py", path
