"""A folder as a learner has it, and how tests read what a lesson shows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from ipywidgets import Widget

from workbook.lessons.lesson_view import open_lesson


@pytest.fixture(autouse=True)
def closed_afterwards() -> Iterator[None]:
    """Every page is closed when its test ends: ipywidgets keeps each widget until then, 40 MB a course."""
    yield
    Widget.close_all()


@pytest.fixture
def opened(folder: Path) -> Any:
    """Opens a lesson by its slug in such a folder."""
    return open_lesson


def plain(html: str) -> str:
    """The text of a piece of HTML."""
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", html)).strip())


def step(view: Any, key: str) -> Any:
    """A step of the working that is shown."""
    return next(s for s in view.working(view.result) if s.key == key)


def shown_step(view: Any, key: str) -> str:
    """The result of a step in four digits, which the working panel prints rounded to its safe side."""
    found = step(view, key)
    view.working_panel.fold.value = True
    panel = plain(view.working_panel.html.value)
    assert f"= {found.shown}" in panel, "the panel shows another working"
    return f"= {found.result:.4g} {found.unit}".strip()


def point_at(chart: Any, number: int = 0) -> tuple[float, float]:
    """Where a marked point of a chart stands."""
    point = chart.points[number]
    return point.x, point.y


def line_of(chart: Any, number: int = 0) -> tuple[Any, Any]:
    """A curve of a chart."""
    line = chart.lines[number]
    return line.x, line.y
