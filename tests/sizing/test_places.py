"""Places: whatever is found for many designs side by side is what `size` finds for each by itself."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from workbook.data.notebooks import notebooks_source
from workbook.errors import InputError
from workbook.files.design_file import DesignFile, read_design
from workbook.sizing.places import Breach, places
from workbook.sizing.size import SizingResult, size

DESIGNS = ("light_quad", "survey_pair", "survey_six", "survey_six_mission", "survey_wing")
VARIED = {
    "series": (4.0, 6.0, 7.0),
    "parallel": (1.0, 2.0, 3.0, 5.0),
    "payload_g": (0.0, 350.0, 2500.0),
    "reserve_pct": (0.5, 20.0, 40.0),
}


def _file(name: str) -> DesignFile:
    return read_design(notebooks_source() / "designs" / f"{name}.toml")


def _same(found: Any, expected: Any) -> bool:
    """Whether a figure of many designs is that of one, to 1e-9 of it."""
    if isinstance(expected, str):
        return bool(found == expected)
    return (
        not math.isfinite(found)
        if expected is None
        else math.isclose(found, expected, rel_tol=1e-9)
    )


def _broken_as(answer: Breach, alone: SizingResult) -> bool:
    """Whether a place that is only reported as broken is so for reasons of the design by itself, none of flights."""
    words = tuple(limit.broken_text for limit in alone.broken)
    asked = tuple(word for word in words if word in answer.broken)
    return not alone.kept and (bool(alone.stops) or answer.broken == asked != ())


@pytest.mark.parametrize(
    ("name", "tried"),
    [
        ("survey_six", 10),
        ("survey_wing", 6),
        *(pytest.param(name, 40, marks=pytest.mark.long) for name in DESIGNS),
    ],
)
def test_each_place_is_what_size_finds_there(name: str, tried: int) -> None:
    file = _file(name)
    found = places(file.design, VARIED, file.notices)
    mesh = [axis.ravel() for axis in np.meshgrid(*VARIED.values(), indexing="ij")]
    for place in np.random.default_rng(tried).choice(len(found.answers), tried, replace=False):
        values = {key: float(axis[place]) for key, axis in zip(VARIED, mesh, strict=True)}
        alone, answer = (
            size(file.design.changed(**values), notices=file.notices),
            found.answers[place],
        )
        assert not isinstance(answer, InputError)
        assert (answer.verdict, answer.stops) == (alone.verdict, alone.stops)
        assert not isinstance(answer, Breach) or _broken_as(answer, alone)
        for key, expected in alone.figures().items():
            assert _same(found.figures[key][place], expected), (key, values)


def test_a_place_that_holds_is_sized_whole() -> None:
    file = _file("survey_six")
    answer = places(file.design, {"series": [6.0]}, file.notices).answers[0]
    assert isinstance(answer, SizingResult)
    assert answer.flights_text == size(file.design).flights_text != ""


def test_a_place_where_the_mission_cannot_be_planned_says_why() -> None:
    file = _file("survey_six_mission")
    slow = next(phase for phase in file.design.mission if phase.kind == "cruise")
    against = replace(file.design, mission=(replace(slow, headwind_m_s=40.0),))
    answer = places(against, {"series": [6.0]}).answers[0]
    assert isinstance(answer, InputError)
    assert "wind" in str(answer)


def test_progress_counts_the_places() -> None:
    done: list[int] = []
    places(_file("light_quad").design, {"payload_g": [0.0, 50.0]}, progress=done.append)
    assert done == [1, 2]
