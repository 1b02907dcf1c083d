"""The flight report: it says what the comparison says, the unsafe first, and needs nothing beside it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tests.conftest import DESIGNS, NOTEBOOKS
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.flightlog.comparison import FlightComparison, compare_flight
from workbook.flightlog.correction import Correction, correct
from workbook.flightlog.reading import read_log
from workbook.flightlog.slip import ChargerSlip
from workbook.numbers import in_digits
from workbook.sheet.flight_report import (
    flight_drawing,
    flight_report_html,
    verdict_lines,
    write_flight_report,
)


@cache
def flight() -> tuple[FlightComparison, Correction]:
    design = read_design(DESIGNS / "survey_six.toml").design
    log = read_log(NOTEBOOKS / "logs" / "six_warm.csv")
    found = compare_flight(design, log, pack_temperature_c=24.0)
    return found, correct(design, [found])


def test_every_line_of_the_comparison_and_of_the_correction_is_on_it() -> None:
    found, correction = flight()
    page = flight_report_html(found, correction, date="2026-05-01")
    for line in found.lines:
        row = re.search(rf'<tr data-key="{line.key}">.*?</tr>', page)
        assert row is not None
        assert f"{in_digits(line.measured)} ± {in_digits(line.uncertainty, 2)}" in row[0]
    for figure in correction.figures:
        assert f'data-key="{figure.key}"' in page
    assert "by the log six_warm.csv. Reported 2026-05-01." in page


def test_it_needs_no_script_no_network_and_no_file() -> None:
    page = flight_report_html(*flight())
    for word in ("http", "<script", "src=", "url(", "@import"):
        assert word not in page


def test_a_name_is_escaped() -> None:
    found, _ = flight()
    odd = replace(found, design=replace(found.design, name='<b onclick="x">&'))
    assert "<b onclick" not in flight_report_html(odd)


def test_a_slip_has_a_report_without_a_trace() -> None:
    design = read_design(DESIGNS / "survey_six.toml").design
    found = compare_flight(design, ChargerSlip(21.0, 7.2, after_v=22.6))
    page = flight_report_html(found)
    assert "7.2 Ah put back by the charger; no log." in page
    assert ">flown<" not in page
    assert ">plan<" in page


def test_the_trace_of_the_flight_lies_on_its_place() -> None:
    """At take-off the trace is at the left end of the axis, 14 mm; half way at half its width of 138 mm."""
    found, _ = flight()
    lines = re.findall(r'<polyline points="([^"]+)"', flight_drawing(found))
    plan, flown = ([tuple(map(float, p.split(","))) for p in one.split()] for one in lines)
    assert plan[0][0] == pytest.approx(14.0)
    assert flown[-1][0] == pytest.approx(14.0 + 138.0, abs=0.5)
    assert all(3.0 <= y <= 50.0 for _, y in (*plan, *flown))
    middle = min(flown, key=lambda point: abs(point[0] - 83.0))
    above = min(plan, key=lambda point: abs(point[0] - 83.0))
    assert middle[1] > above[1]  # the flight sagged below the plan: further down on the page


def test_what_is_unsafe_is_reported_first() -> None:
    found, _ = flight()
    line = found.line("peak_cell_a")
    words = "Unsafe: 40 A is above the cell's burst current."
    bad = replace(line, within=False, judgement=words, unsafe=words)
    text = verdict_lines(replace(found, lines=(*found.lines, bad)))
    assert text[0] == "UNSAFE: do not fly it like that again."
    assert "above the cell's burst current" in text[1]
    both = verdict_lines(replace(found, lines=(bad,), doubts=("Was there wind?",)))
    assert both[-1] == "Was there wind?"  # a doubt is not lost beside what is unsafe
    out = replace(found.line("energy_wh"), within=False)
    doubted = replace(found, lines=(out,), doubts=("Was there wind?",))
    assert verdict_lines(doubted) == [
        "DOUBTFUL: find the reason before the plan is corrected by it.",
        "Was there wind?",
    ]
    assert (
        verdict_lines(replace(found, lines=(out,)))[0]
        == "Outside the plan: energy used in the air."
    )


def test_it_is_written_once(tmp_path: Path) -> None:
    found, correction = flight()
    path = tmp_path / "report.html"
    write_flight_report(found, path, correction=correction, paper="letter")
    assert "size: letter" in path.read_text("utf-8")
    with pytest.raises(InputError, match="left as it is"):
        write_flight_report(found, path)
    with pytest.raises(InputError, match="paper is 'a5'"):
        flight_report_html(found, paper="a5")
