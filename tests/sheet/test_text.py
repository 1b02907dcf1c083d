"""The result as text: every number printed is the result's own, in the words of the table of quantities."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import DESIGNS
from tests.sizing.multirotors import SOUND, six
from workbook.errors import Problem
from workbook.files.design_file import read_design
from workbook.quantities import RESULTS, results
from workbook.sheet.text import (
    figure_lines,
    limit_lines,
    mission_lines,
    result_report,
    result_text,
    state_lines,
    unchecked_lines,
    verdict_sentence,
    verdict_text,
)
from workbook.sizing.limits import Limit
from workbook.sizing.size import SizingResult, size

DESIGN_NAMES = ("survey_six", "survey_wing", "survey_six_mission", "survey_pair")


def sized(name: str) -> SizingResult:
    return size(read_design(DESIGNS / f"{name}.toml").design)


@pytest.mark.parametrize(
    ("value", "text"), [(3.451, "3.46 V"), (None, "-"), (np.nan, "-"), ("reserve", "reserve")]
)
def test_a_figure_has_its_unit_and_a_missing_one_a_dash(
    value: float | str | None, text: str
) -> None:
    assert result_text("landing_cell_v", value) == text


@pytest.mark.parametrize("name", DESIGN_NAMES)
def test_each_line_of_figures_is_the_results_own(name: str) -> None:
    result = sized(name)
    lines, figures = figure_lines(result), result.figures()
    for quantity, line in zip(results(result.craft_type.keys), lines[1:-1], strict=True):
        assert line[:42].strip() == quantity.label
        assert line[42:58].strip() == result_text(quantity.key, figures[quantity.key])
    assert lines[-1].split("ends by")[1].strip() == figures["ends_by"]


def test_the_reference_pack_stands_beside_in_its_own_column() -> None:
    result = sized("survey_six")
    assert result.today is not None
    minutes = result.today.figures()["endurance_min"]
    line = next(line for line in figure_lines(result) if line.startswith("endurance "))
    assert line.endswith(RESULTS["endurance_min"].text(float(minutes or 0.0)))
    alone = figure_lines(replace(result, design=replace(result.design, today=None)))
    assert max(map(len, alone)) < max(map(len, figure_lines(result)))


def test_states_stand_from_full_to_the_end() -> None:
    result = sized("survey_six")
    lines = state_lines(result)
    assert lines[0].split()[-3:] == ["full", "half", "end"]
    shown = next(line for line in lines if line.startswith("thrust to weight"))
    by_state = [state["thrust_to_weight"] for state in result.state_figures().values()]
    assert shown.split()[-3:] == [RESULTS["thrust_to_weight"].text(value) for value in by_state]


def test_a_limit_without_a_margin_has_a_dash() -> None:
    lines = limit_lines(
        (
            Limit("a", "cell current", 9.0, 12.0, "A", "too much.", "end"),
            Limit("b", "thrust", np.nan, 10.0, "gf", "too much.", "end"),
        )
    )
    assert lines[1].split() == ["cell", "current", "9", "12", "A", "25", "%", "holds"]
    assert lines[2].split() == ["thrust", "-", "10", "gf", "-", "broken"]


def test_a_mission_has_a_line_for_each_phase() -> None:
    result = sized("survey_six_mission")
    assert result.mission is not None
    lines = mission_lines(result.mission)
    for phase in result.mission.phases:
        line = next(line for line in lines if line.startswith(f"{phase.label} "))
        assert f"{phase.power_w:.0f} W" in line
        assert f"{phase.lowest_v:.2f} V" in line
    assert lines[0].startswith(f"Mission of {result.mission.total_min:.1f} min")


@pytest.mark.parametrize(
    ("change", "verdict", "word"),
    [
        ({}, "holds", "HOLDS: "),
        ({"controller_max_v": 26.0}, "close", "HOLDS, but close: "),
        ({"controller_max_a": None}, "holds as far as checked", "HOLDS as far as checked: "),
        ({"wanted_min": 900.0}, "not yet", "NOT YET: "),
        ({"payload_g": 60_000.0}, "unsafe", "UNSAFE: "),
    ],
)
def test_the_verdict_says_its_word_first(
    change: dict[str, float | None], verdict: str, word: str
) -> None:
    result = size(six(**{**SOUND, **change}))
    assert result.verdict == verdict
    assert verdict_text(result).startswith(word)
    sentence = verdict_sentence(result)
    assert verdict_text(result).casefold().endswith(sentence.casefold())
    assert not sentence.startswith(word)
    assert sentence[0].isupper()


def test_a_doubt_that_is_open_is_the_verdict_and_one_answered_is_printed_as_answered() -> None:
    design, notice = six(**SOUND), Problem("30 A from 2 Ah.", "heron.toml", about="cell")
    open_ = size(design, notices=(notice,))
    assert verdict_text(open_).startswith("DOUBTFUL: doubt about cell: heron.toml: 30 A from 2 Ah.")
    settled = size(replace(design, sure=("cell", "table")), notices=(notice,))
    assert verdict_text(settled).startswith("HOLDS: ")
    assert 'answered, sure = ["cell"]: heron.toml: 30 A from 2 Ah.' in result_report(settled)


def test_limits_that_share_a_reason_not_to_be_checked_stand_on_one_line() -> None:
    design = six(**SOUND)
    bare = design.changed(cell=replace(design.pack.cell, height_mm=0.0))
    result = size(bare)
    assert unchecked_lines(result)[0].startswith(
        "not checked: temperature inside the hottest cell in steady flight: the cell's size"
    )
    assert verdict_text(result).startswith("NOT CHECKED: temperature inside the hottest cell")


@pytest.mark.parametrize("name", DESIGN_NAMES)
def test_the_report_has_every_part_and_ends_with_what_it_is_not(name: str) -> None:
    result = sized(name)
    text = result_report(result, with_working=True)
    parts = [result.design.name, verdict_text(result), "Voltages to set", *map(str, result.notes)]
    parts += [step.text() for step in result.working] + [limit.name for limit in result.limits]
    assert all(part in text for part in parts)
    assert text.endswith("qualified help come first.")
    assert "Working" not in result_report(result)


def test_how_long_flights_last_and_a_way_out_stand_under_the_verdict() -> None:
    result = sized("survey_six")
    lines = result_report(result, remedy="P = 4 would do.").splitlines()
    assert lines[3] == f"Flight time: {result.flights_text}"
    assert lines[4] == "A way out: P = 4 would do."
    assert "A way out" not in result_report(result)
