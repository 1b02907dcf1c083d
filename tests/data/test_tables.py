"""The workbook's own tables: each can be read, and no row of one is broken."""

from __future__ import annotations

import pytest

from workbook.data.tables import DATA, data_rows, data_sections

TABLES = [path for path in sorted(DATA.glob("*.csv")) if path.read_text("utf-8")[0] != "#"]
"""What begins with a remark is figures without headings, read by NumPy."""


@pytest.mark.parametrize("name", [path.name for path in TABLES])
def test_no_row_is_wider_than_the_headings(name: str) -> None:
    rows = data_rows(name)
    assert rows
    assert all(None not in row for row in rows)


@pytest.mark.parametrize("name", sorted(path.name for path in DATA.glob("*.toml")))
def test_every_table_of_sections_can_be_read_and_is_read_once(name: str) -> None:
    assert data_sections(name)
    assert data_sections(name) is data_sections(name)
