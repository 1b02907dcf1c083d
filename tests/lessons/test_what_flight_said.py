"""Lesson 14: charts, words and working follow every control; phases are moved, a log of one's own is read."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import NOTEBOOKS
from tests.lessons.conftest import plain, shown_step
from workbook.lessons.what_flight_said import COLD, MILD, WhatFlightSaid
from workbook.widgets.controls import ChosenFile


@pytest.fixture
def view(opened) -> WhatFlightSaid:
    return opened("what_flight_said")


def test_it_opens_with_the_plan_over_the_mild_day(view) -> None:
    assert view.live.problems == ()
    assert view.result.flight == MILD
    assert [line.name for line in view.volts.lines] == [
        "flown",
        "best of 20",
        "worst of 20",
        "plan, moved",
    ]
    assert "less power than was flown" in view.volts.finding_text
    assert "was far from its neighbours" in plain(view.notices.html.value)


@pytest.mark.parametrize("changes", [{"power_w": 480.0}, {"resistance_factor": 1.6}], ids=str)
def test_text_charts_and_working_follow_the_sliders(view, changes) -> None:
    before = view.volts.lines[3].y.copy(), plain(view.key.html.value)
    for name, value in changes.items():
        view.inputs[name].value = value
    laid = view.result.overlay
    assert not np.allclose(view.volts.lines[3].y, before[0], equal_nan=True)
    assert np.allclose(view.volts.lines[3].y, laid.plan_v, equal_nan=True)
    assert view.volts.finding_text.startswith(laid.text())
    assert plain(view.key.html.value) != before[1]
    assert f"{laid.off_mv[0]:+.0f}" in plain(view.key.html.value)
    assert shown_step(view, "flown_power_w") == f"= {laid.steady_w:.4g} W"
    levels = [float(np.ravel(level.y)[0]) for level in view.watts.levels]
    assert levels == pytest.approx([laid.power_w, laid.steady_w])


def test_the_cold_morning_asks_for_far_more_resistance(view) -> None:
    with view.live.held():
        for name, value in {"flight": COLD, "power_w": 450.0, "resistance_factor": 1.35}.items():
            view.inputs[name].value = value
    assert view.result.cold
    assert "more of it" in view.volts.finding_text
    view.inputs["resistance_factor"].value = 2.1
    assert view.result.overlay.meets


def test_the_band_is_that_of_the_margin_budget(view) -> None:
    band = view.result.compared.band
    best, worst = view.volts.lines[1:3]
    known = np.isfinite(band.high_v) & np.isfinite(band.low_v)
    assert np.allclose(best.y[known], band.high_v[known])
    assert (best.y[known] >= worst.y[known]).all()


def test_another_flight_brings_its_own_temperatures(view) -> None:
    view.inputs["flight"].value = COLD
    assert view.inputs["pack_temperature_c"].value == 4.0
    assert view.result.compared.design.flight.pack_temperature_c == 4.0
    assert "taken for the sensor's zero" in plain(view.after.notes.html.value)


def test_a_boundary_is_moved_and_a_wrong_one_refused(view) -> None:
    table = view.moved
    assert "1: ground to take-off" in dict(table.boundary.options)
    table.to_s.value = "27"
    table.move()
    assert view.result.phases.parts[1].start_s == 27.0
    assert "27.0" in plain(table.table.html.value)
    for typed, reason in (("9999", "lies outside"), ("soon", "not one number")):
        table.to_s.value = typed
        table.move()
        assert reason in table.reply.text
        assert view.result.phases.parts[1].start_s == 27.0
    view.inputs["flight"].value = COLD
    assert view.result.phases.parts[1].start_s != 27.0  # another flight, found anew


def test_a_log_of_ones_own_is_held_against_ones_own_design(view) -> None:
    data = (NOTEBOOKS / "logs" / "six_warm.csv").read_bytes()
    view.flight.own.value = ChosenFile("mine.csv", data)
    assert view.inputs["flight"].value == ""
    assert view.result.log.name == "mine.csv"
    assert view.after.opened is view.opened
    view.flight.own.value = ChosenFile("bad.csv", b"a,b\n1,2\n")
    assert "bad.csv" in view.live.problems[0]
    assert view.result.log.name == "mine.csv"  # what was shown stays


def test_without_a_file_one_is_asked_for(view) -> None:
    view.inputs["flight"].value = ""
    assert "choose a file" in view.live.problems[0]
