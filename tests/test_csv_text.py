"""CSV that a spreadsheet opens: no text is a formula, figures stay figures."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from workbook.csv_text import csv_text


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
    root = Path(__file__).parents[1] / "workbook"
    for path in root.rglob("*.py"):
        text = path.read_text("utf-8")
        assert ".to_csv(" not in text, path
        assert "csv.writer(" not in text or path.name == "csv_text.py", path
