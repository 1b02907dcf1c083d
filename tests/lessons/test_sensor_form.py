"""The sensors' page: the scales that the computation finds, what to set, and what cannot be checked."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import plain
from workbook.flightlog.log import FlightLog
from workbook.lessons.sensor_form import SensorForm

TIME = np.arange(0.0, 1801.0)
LOG = FlightLog("made", TIME, np.full(1801, 24.0), np.full(1801, 12.0))
"""Half an hour at 12 A: 6 Ah by the log."""


@pytest.fixture
def form() -> SensorForm:
    form = SensorForm()
    form.show(LOG)
    return form


def fill(form: SensorForm, **typed: str) -> None:
    for key, text in typed.items():
        form.boxes[key].value = text
    form.button.click()


def test_charger_and_meter_tell_both_scales_and_what_to_set(form) -> None:
    fill(form, put_back_ah="6600 mAh", meter_v="23,52", meter_at_s="100")
    assert form.found.current_scale == pytest.approx(
        6.6 * 0.98 / 6.0
    )  # true charge over the logged
    assert form.found.voltage_scale == pytest.approx(23.52 / 24.0)
    text = plain(form.findings.html.value)
    assert "multiply its scale (amperes per volt) by 1.078" in text
    assert "The voltage reads 2.0 % high" in text
    assert "by 0.980" in text
    assert form.reply.text == ""


def test_one_of_the_two_is_enough(form) -> None:
    fill(form, put_back_ah="6.2")
    assert "leave it" in plain(form.findings.html.value)
    assert "voltage" not in plain(form.findings.html.value)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({}, "nothing to check by"),
        ({"put_back_ah": "much"}, "charge put back: 'much' is not one number"),
        ({"put_back_ah": "0"}, "charge put back: 0 is not possible"),
        ({"put_back_ah": "6", "charge_share_pct": "980"}, "share flown: 980 is not possible"),
        ({"meter_v": "24", "meter_at_s": "9999"}, "made: nothing is logged at 9999 s"),
    ],
)
def test_what_cannot_be_checked_is_reported_and_stays_in_its_box(form, typed, why) -> None:
    fill(form, put_back_ah="6.6")
    form.boxes["put_back_ah"].value = ""
    fill(form, **typed)
    assert why in form.reply.text
    assert form.found is None
    assert plain(form.findings.html.value) == ""  # nothing of the check before it
    assert all(form.boxes[key].value == text for key, text in typed.items())


def test_another_log_takes_the_answer_away(form) -> None:
    fill(form, put_back_ah="6.6")
    form.show(LOG)
    assert form.found is not None
    form.show(FlightLog("next", TIME, LOG.voltage_v, LOG.current_a))
    assert form.found is None
    assert plain(form.findings.html.value) == ""


def test_the_lesson_checks_the_log_that_it_shows(opened) -> None:
    view = opened("what_flight_said")
    fill(view.sensors, put_back_ah="8")
    assert view.sensors.flown.name == "six_warm.csv"
    assert "By six_warm.csv" in plain(view.sensors.findings.html.value)
