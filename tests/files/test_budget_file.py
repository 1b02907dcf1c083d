"""Budget lines in a file: back as written, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sizing.lines import line
from workbook.errors import InputError
from workbook.files.budget_file import budget_text, parse_budget, read_budget, write_budget
from workbook.sizing.budget_lines import STANDARD_LINES


def test_a_budget_file_comes_back_as_written(tmp_path: Path) -> None:
    path = tmp_path / "club.toml"
    write_budget(STANDARD_LINES, path)
    assert read_budget(path) == STANDARD_LINES
    with pytest.raises(InputError):
        write_budget(STANDARD_LINES, path)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("workbook budget 1", "something else", "format"),
        ("low = 0.0", "lowest = 0.0", "budget line 1, lowest is not a key"),
        ("high = 20.0", 'high = "much"', "high is .*; a number is needed"),
        ("high = 20.0", "high = -3.0", "gusts: low 0, expected 5, high -3"),
        ("high = 20.0", "high = inf", "high is inf; a number is needed"),
        ('"triangular"', '"round"', '"triangular", "uniform" or "normal" is needed'),
        ('figure = "power_factor"', 'figures = "power_factor"', "figure is missing"),
        ("[[budget]]", "[[budget", "not TOML"),
    ],
)
def test_budget_files_that_cannot_be_used(old: str, new: str, expected: str) -> None:
    text = budget_text((line(),))
    assert parse_budget(text) == (line(),)
    assert old in text
    with pytest.raises(InputError, match=expected):
        parse_budget(text.replace(old, new, 1), "club.toml")
