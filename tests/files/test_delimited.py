"""Tables in text: encodings, separators, quotes, headings."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbook.errors import InputError
from workbook.files.columns import Heading
from workbook.files.delimited import decode, read_table, rows_of, table_text


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
