"""A step of working takes its words from the table of lines, and from the table of quantities."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

import workbook
from workbook.data.tables import data_sections
from workbook.lessons.course import COURSE
from workbook.quantities import RESULTS
from workbook.working import step


def test_words_and_unit_are_those_of_the_figure() -> None:
    made = step(
        "gained_min", np.float64(3.0), parallel=3, fewer=2, minutes=33.0, minutes_before=30.0
    )
    assert made.label == RESULTS["gained_min"].label
    assert (made.unit, type(made.result)) == ("min", float)
    assert made.text() == (
        f"{made.label} = endurance at P = 3 - endurance at P = 2 = 33.00 min - 30.00 min = 3 min  [arithmetic]"
    )


def test_a_line_may_name_the_figure_by_what_it_is_given() -> None:
    made = step("left_side_mm", 5.0, side="width", room_mm=60.0, size_mm=55.0)
    assert (made.key, made.label) == ("left_width_mm", "room left in the bay's width")


def test_what_its_texts_ask_for_must_be_given() -> None:
    with pytest.raises(KeyError, match="cell_v"):
        step("pin_v", 14.4, pin=4)


def test_every_line_has_its_words_and_is_asked_for() -> None:
    lines = {name: row for name, row in data_sections("steps.toml").items() if name != "sources"}
    for name, row in lines.items():
        assert row.keys() - {"key", "label"} == {"formula", "numbers", "source"}, name
        assert "label" in row or row.get("key", name) in RESULTS or "{" in row["key"], name
    code = [path.read_text("utf-8") for path in Path(workbook.__file__).parent.rglob("*.py")]
    calls = [n for text in code for n in ast.walk(ast.parse(text)) if isinstance(n, ast.Call)]
    asked = {
        call.args[0].value
        for call in calls
        if isinstance(call.func, ast.Name)
        and call.func.id == "step"
        and isinstance(call.args[0], ast.Constant)
    }
    exercises = {exercise.id for lesson in COURSE for exercise in lesson.exercises}
    assert asked <= set(lines) <= asked | exercises
