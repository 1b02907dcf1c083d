"""The form for a device's settings: what is wrong is shown at once, for the pack and the power of the lesson."""

from __future__ import annotations

import pytest

from tests.lessons.conftest import plain
from workbook.battery.pack import Pack
from workbook.battery.thresholds import CELLS_SET, thresholds
from workbook.files.cell_file import find_cell
from workbook.lessons.settings_form import EXAMPLE, NOTHING_WRONG, SettingsForm

PACK = Pack(find_cell("Sedge"), 6, 3)
SET_AT = thresholds(PACK, 424.0, land_depth_of_discharge=0.8)


@pytest.fixture
def form() -> SettingsForm:
    form = SettingsForm(PACK)
    form.show(PACK, SET_AT)
    return form


def shown_text(form: SettingsForm) -> str:
    return plain(form.problems.html.value + form.right.value)


def fill(form: SettingsForm, **values: object) -> None:
    for key, value in values.items():
        form.inputs[key].value = value


def suit(form: SettingsForm) -> None:
    """What this pack needs, per cell, to a hundredth upwards."""
    home, land = SET_AT.return_home.loaded_v, SET_AT.land.loaded_v
    fill(form, cell_count=6, warn_v=round(home + 0.005, 2), failsafe_v=round(land + 0.005, 2))


def test_it_begins_with_an_example_that_is_called_one_and_is_wrong(form: SettingsForm) -> None:
    assert "example" in EXAMPLE
    assert any(EXAMPLE in plain(str(getattr(part, "value", ""))) for part in form.children)
    assert f"{CELLS_SET}: the device counts cells by itself" in shown_text(form)
    assert "failsafe: 3 V per cell is below" in shown_text(form)


def test_settings_that_suit_the_pack_are_called_right(form: SettingsForm) -> None:
    suit(form)
    assert shown_text(form) == NOTHING_WRONG


@pytest.mark.parametrize(
    ("values", "problem"),
    [
        ({"failsafe_v": 2.5}, "It is unsafe"),
        ({"failsafe_v": 0.0}, "Do not fly without it"),
        ({"cell_count": 5}, "5 is set but the pack has 6 in series"),
        ({"warn_v": 3.0}, "too late"),
        ({"warn_v": 4.0}, "well above"),
        ({"resting": True}, "(at rest)"),
        ({"capacity_ah": 5.0}, "5000 mAh is set but the pack is rated"),
    ],
)
def test_each_control_is_checked_at_once(form: SettingsForm, values: dict, problem: str) -> None:
    suit(form)
    fill(form, **values)
    assert problem in shown_text(form)


def test_a_device_that_takes_volts_of_the_pack_has_controls_of_its_own(form: SettingsForm) -> None:
    suit(form)
    fill(form, per_cell=False)
    shown = {key for key, control in form.inputs.items() if control.layout.display != "none"}
    assert {"pack_warn_v", "pack_failsafe_v"} <= shown
    assert not {"warn_v", "failsafe_v"} & shown
    # the same example, 3.0 V times 6
    assert "18 V is below" in shown_text(form)
    fill(form, pack_failsafe_v=19.7, pack_warn_v=20.3)
    assert shown_text(form) == NOTHING_WRONG


def test_another_power_is_checked_against_its_own_thresholds(form: SettingsForm) -> None:
    suit(form)
    # half the power sags half as much: its thresholds lie higher, and those of before are too low
    form.show(PACK, thresholds(PACK, 200.0, land_depth_of_discharge=0.8))
    assert "needs to keep its reserve" in shown_text(form)


def test_a_pack_that_cannot_fly_has_no_right_setting(form: SettingsForm) -> None:
    form.show(PACK, thresholds(PACK, 9000.0, land_depth_of_discharge=0.8))
    assert "no setting makes this flight safe" in plain(form.live.message.value)


@pytest.mark.parametrize(
    "key", ["warn_v", "failsafe_v", "pack_warn_v", "pack_failsafe_v", "capacity_ah"]
)
@pytest.mark.parametrize("typed", ["high", "9" * 400, "-3", "nan", "inf", "", "\x1b[2K", "1e-400"])
def test_what_is_no_figure_is_refused_beside_its_box_and_the_last_stays(
    form: SettingsForm, key: str, typed: str
) -> None:
    control = form.inputs[key]
    before = control.value
    control.box.value = typed
    assert control.value in (before, 0.0)
    assert control.reply.text
    assert len(control.reply.text) < 400
    assert "internal fault" not in plain(form.live.message.value)


def test_it_follows_the_lesson(opened) -> None:
    view = opened("landing_voltage")
    before = shown_text(view.device)
    view.inputs["power_w"].value = 150.0
    assert shown_text(view.device) != before
