"""Notices: every text is asked for, and every one that is asked for is there."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import workbook
from workbook.data.tables import data_sections
from workbook.notices import notice
from workbook.units import units


def test_figures_are_in_the_units_that_are_shown() -> None:
    # 50 degrees Celsius are 122 degrees Fahrenheit, 9 / 5 x 50 + 32
    with units("oz, in"):
        assert "begins at 122 °F" in notice(
            "flight", "other_temperature", begin_c=50.0, plan_c=25.0
        )


def test_what_a_text_asks_for_must_be_given() -> None:
    with pytest.raises(KeyError, match="left"):
        notice("wear", "few_cycles")


def test_every_text_is_asked_for_and_there() -> None:
    code = [path.read_text("utf-8") for path in Path(workbook.__file__).parent.rglob("*.py")]
    asked = {
        tuple(ast.literal_eval(argument) for argument in call.args[:2])
        for text in code
        for call in ast.walk(ast.parse(text))
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Name)
        and call.func.id == "notice"
    }
    assert asked == {
        (of, name) for of, texts in data_sections("notices.toml").items() for name in texts
    }
