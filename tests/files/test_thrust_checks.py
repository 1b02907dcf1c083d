"""Figures of a row against each other and against physics."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.files.thrust_checks import (
    add_doubts,
    power_agrees,
    refuse_impossible,
    refuse_swapped,
)
from workbook.files.thrust_rows import KEYS, Rows, ThrustRows, half


def rows(**columns: list[float]) -> ThrustRows:
    """Three rows of 14.8 V; 2.5 A x 14.8 V = 37 W, 11.4 g/W."""
    figures = {
        "thrust_gf": [420.0, 880.0, 1250.0],
        "current_a": [2.5, 6.4, 11.5],
        "voltage_v": [14.8] * 3,
        "power_w": [37.0, 94.7, 170.2],
    } | columns
    frame = Rows({"number": np.arange(2, 5), "block": np.zeros(3, int)})
    frame.columns["propeller"] = np.array(["12x4.5"] * 3)
    for key in KEYS:
        frame.columns[key] = np.array(figures.get(key, [np.nan] * 3))
        frame.columns[half(key)] = np.full(3, 0.05)
    return ThrustRows("a.csv", frame, [dict.fromkeys(figures, "heading")], [set()])


def test_sound_rows_are_left_in_peace() -> None:
    out = rows()
    for check in (refuse_swapped, refuse_impossible, add_doubts):
        check(out, out.frame)
    assert out.notices == out.problems == []


@pytest.mark.parametrize(("watts", "agrees"), [(94.7, True), (97.5, True), (98.0, False)])
def test_power_within_rounding_and_instruments(watts: float, agrees: bool) -> None:
    """6.4 A x 14.8 V = 94.72 W; rounding lets 0.05 + 14.8 x 0.05 + 6.4 x 0.05 W pass, and 3 %."""
    frame = rows(power_w=[37.0, watts, 170.2]).frame
    assert bool(power_agrees(frame)[1]) == (abs(watts - 94.72) <= 1.11 + 0.03 * watts)


@pytest.mark.parametrize(
    ("columns", "word"),
    [
        ({"power_w": [37.0, 194.7, 170.2]}, "most in row 3: 194.7 W against"),
        ({"efficiency_gf_w": [11.4, 5.0, 7.3]}, "most in row 3: 5 g/W against"),
        ({"current_a": [2.5, 12.4, 11.5], "power_w": [37.0, 183.5, 170.2]}, "power falls while"),
        ({"thrust_gf": [4.0, 5.0, 6.0]}, "far from any motor"),
    ],
)
def test_doubts(columns: dict[str, list[float]], word: str) -> None:
    out = rows(**columns)
    add_doubts(out, out.frame)
    assert word in "\n".join(map(str, out.notices))


def test_what_no_propeller_gives() -> None:
    out = rows(thrust_gf=[420.0, 3880.0, 4250.0])
    refuse_impossible(out, out.frame)
    assert [p.where for p in out.problems] == [
        'a.csv, row 3, column "heading"',
        'a.csv, row 4, column "heading"',
    ]


def test_swapped_headings() -> None:
    out = rows(current_a=[37.0, 94.7, 170.2], power_w=[2.5, 6.4, 11.5])
    refuse_swapped(out, out.frame)
    assert "look swapped" in str(out.problems[0])
