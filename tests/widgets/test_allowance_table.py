"""The table of allowances: one figure typed is one change, and rows line up with the budget's picture."""

from __future__ import annotations

import re

import pytest

from workbook.lessons.margin_budget import BarPiece, BudgetPicture
from workbook.sizing.budget_lines import STANDARD_LINES
from workbook.widgets.allowance_table import AllowanceTable


def test_a_line_typed_changes_value_once():
    table, seen = AllowanceTable(STANDARD_LINES), []
    table.observe(lambda change: seen.append(change["new"]), names="value")
    table.boxes["wind", "high"].value = "22,5"
    assert len(seen) == 1
    assert table.value[2].high == 22.5
    assert table.boxes["wind", "high"].value == "22.5"
    table.boxes["wind", "high"].value = "lots"
    assert len(seen) == 1
    assert "wind and gusts, high" in table.reply.text
    table.boxes["wind", "high"].value = "20"
    assert table.reply.text == ""


def test_rows_are_as_high_as_the_picture_at_either_size():
    table, picture = AllowanceTable(STANDARD_LINES), BudgetPicture()
    pieces = [BarPiece(30.0, 20.0)] * len(STANDARD_LINES)
    picture.update(35.0, 30.0, pieces, "finding")
    for big, height in ((False, 30.0), (True, 46.5)):
        table.set_big(big)
        picture.set_big(big)
        rows = {row.layout.height for row in table.rows}
        assert rows == {f"{height:g}px"}
        drawn = float(re.search(r'^<svg [^>]*height="([\d.]+)"', picture.svg.value)[1])
        # two rows more than the table's heading and lines: the key below
        assert drawn == pytest.approx(height * (len(STANDARD_LINES) + 3), abs=1)
