"""The box for a charger's slip: what is typed is handed on or refused with why, and stays."""

from __future__ import annotations

from typing import Any

import pytest

from tests.conftest import NOTEBOOKS
from tests.lessons.conftest import plain
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.flightlog.slip import ChargerSlip
from workbook.lessons.slip_form import EXAMPLE_SLIP, SlipForm

Taken = list[tuple[ChargerSlip, float, float]]


@pytest.fixture
def taken() -> Taken:
    return []


@pytest.fixture
def form(taken: Taken) -> SlipForm:
    design = read_design(NOTEBOOKS / "designs" / "survey_six.toml").design
    return SlipForm(design, lambda *slip: taken.append(slip))


def refusal(form: Any) -> str:
    return plain(form.reply.value)


def test_the_example_beside_the_box_is_a_slip(form: SlipForm, taken: Taken) -> None:
    form.text.value = EXAMPLE_SLIP
    form.pack_c.value, form.air_c.value = 31.0, 12.0
    form.button.click()
    ((slip, pack_c, air_c),) = taken
    assert (slip.minutes, slip.charge_ah, slip.after_v) == (21.0, 7.2, 22.6)
    assert (pack_c, air_c) == (31.0, 12.0)
    assert refusal(form) == ""


def test_what_is_no_slip_is_refused_and_stays_until_it_is_put_right(
    form: SlipForm, taken: Taken
) -> None:
    form.text.value = "a good while; 7200 mAh"
    form.button.click()
    assert taken == []
    assert "a good while" in refusal(form)
    assert form.text.value == "a good while; 7200 mAh"
    form.text.value = "21 min; 7200 mAh"
    form.button.click()
    assert len(taken) == 1
    assert refusal(form) == ""


def test_what_takes_the_slip_may_refuse_it_too(form: SlipForm) -> None:
    def refuse(*_: object) -> None:
        raise InputError("the pack holds less than the charger put back.")

    form.take = refuse
    form.text.value = EXAMPLE_SLIP
    form.button.click()
    assert refusal(form) == "✕ the pack holds less than the charger put back."
    assert form.text.value == EXAMPLE_SLIP
