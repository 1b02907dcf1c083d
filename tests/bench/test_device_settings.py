"""Settings by purpose: their numbers, what each leaves, and that none undoes another."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.bench.arranged import example_pack
from tests.conftest import DESIGNS, straight_cell
from workbook.battery.pack import Pack
from workbook.battery.thresholds import Thresholds, thresholds
from workbook.bench.device_settings import DeviceSettings, Handling, device_settings
from workbook.bench.flight_load import FlightLoad, part_currents
from workbook.bench.procedure import CheckItem
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sheet.plan import plan_build
from workbook.sizing.size import SizingResult, size

LOAD = FlightLoad(120.0, 9.0, 24.0, 250.0, 80.0, 3.1, 20.0, 3.3, 7.7, 48.0)
HANDLING = Handling(1.3, True, 69.0, lambda z: 2.0 - z, lambda a: a / 16.0, "{:.2f} T/W".format)


def made(
    pack: Pack | None = None, handling: Handling | None = HANDLING, **changed: Any
) -> tuple[Thresholds, DeviceSettings]:
    pack = pack or example_pack(4, 2)
    load = replace(LOAD, **changed)
    levels = thresholds(pack, load.steady_w, home_share=load.home_share)
    return levels, device_settings(pack, levels, load, part_currents(pack, load), handling)


def item(items: tuple[CheckItem, ...], words: str) -> CheckItem:
    return next(i for i in items if words in i.text)


def test_voltages_are_those_of_the_thresholds_rounded_up() -> None:
    """Loaded volts of a 4S pack to a tenth upwards: never later than computed."""
    levels, found = made()
    for items, words, level in (
        (found.warn, "Alarm", levels.alarm),
        (found.warn, "Second", levels.return_home),
        (found.come_home, "Return", levels.return_home),
        (found.come_home, "Land where", levels.land),
    ):
        value = item(items, words).expected
        assert isinstance(value, float)
        assert 0.0 <= value - float(level.pack_loaded_v) < 0.1


def test_the_counter_of_charge_and_the_voltage_tell_the_same_moment() -> None:
    """What is left is capacity less what is used at that voltage, here 2 x 4.9 Ah, up to 10 mAh."""
    levels, found = made()
    left = [i.expected for i in found.come_home if i.unit == "mAh"]
    for value, level in zip(left, (levels.return_home, levels.land), strict=True):
        assert isinstance(value, float)
        assert 0.0 <= value - (9800.0 - 1000.0 * float(level.used_ah)) <= 10.0


def test_the_timer_takes_nothing_off_twice() -> None:
    levels, found = made()
    timer = item(found.warn, "Timer")
    assert isinstance(timer.expected, float)
    assert 0.0 <= float(levels.return_home.flown_min) - timer.expected < 1.0
    assert "take nothing more off" in timer.text
    assert f"{float(levels.land.flown_min) - timer.expected - 0.05:.1f} min" in timer.leaves


def test_the_timer_is_in_time_for_nineteen_flights_of_twenty() -> None:
    """Where they last two thirds of the plan, so does what is flown up to the return."""
    levels, found = made(low_min=float(made()[0].land.flown_min) * 2 / 3)
    timer = item(found.warn, "Timer").expected
    assert isinstance(timer, float)
    assert 0.0 <= float(levels.return_home.flown_min) * 2 / 3 - timer < 1.0
    assert "nineteen flights of twenty" in item(found.warn, "Timer").leaves


def test_each_voltage_says_what_it_leaves() -> None:
    levels, found = made()
    for items, words, level in (
        (found.warn, "Alarm", levels.alarm),
        (found.come_home, "Return", levels.return_home),
        (found.come_home, "Land where", levels.land),
    ):
        left = 2.0 - float(level.depth_of_discharge)
        assert f"leaves {left:.2f} T/W" in item(items, words).leaves
        assert " min " in item(items, words).leaves


def test_the_current_limit_stands_behind_the_cap() -> None:
    """Cells: 2 x 15 A. The plan draws 24 A; with 25 % its parts carry 30 A. 30 / 16 is 1.875."""
    _, found = made()
    limit = item(found.protect, "Limit of the pack's current")
    assert limit.expected == "30.0 A"
    assert "leaves 1.88 T/W at its least" in limit.leaves
    # at 80 % of 2 x 10 A it would leave 16 / 16: said, and said to be too little
    assert "at the 16.0 A" in limit.text
    assert "leaves 1.00 T/W; 1.30 T/W is asked for" in limit.text


def test_a_current_limit_that_would_undo_the_reserve_is_left_off_and_stated() -> None:
    weak = replace(HANDLING, within=lambda a: a / 25.0)  # 30 A leave 1.2
    _, found = made(handling=weak)
    assert item(found.protect, "Limit of the pack's current").expected == "off"
    assert any("1.20 T/W" in caution and "left off" in caution for caution in found.cautions)


def test_compensation_never_undoes_the_cap() -> None:
    levels, capped = made()
    item_capped = item(capped.protect, "voltage compensation")
    assert item_capped.expected == "off"
    raised = 69.0 * 16.8 / float(levels.land.pack_loaded_v)
    assert f"up to {raised + 0.5:.0f} %" in item_capped.caution
    _, free = made(handling=replace(HANDLING, cap_pct=100.0))
    assert item(free.protect, "voltage compensation").expected == "on"
    assert item(free.protect, "Throttle cap").expected == "none"


def test_where_a_cap_acts_is_stated() -> None:
    _, mixed = made()
    assert "does not cap a mixed multirotor" in item(mixed.protect, "Throttle cap").text
    _, wing = made(handling=replace(HANDLING, mixed=False))
    assert "end point of the throttle channel" in item(wing.protect, "Throttle cap").text


def test_the_way_home_of_a_mission_is_shown() -> None:
    _, usual = made()
    assert "keeps 10 % of the charge for the way home" in item(usual.come_home, "Return").text
    levels, far = made(home_share=0.22)
    assert "in its wind, takes 22 % of the charge" in item(far.come_home, "Return").text
    assert float(
        levels.land.depth_of_discharge - levels.return_home.depth_of_discharge
    ) == pytest.approx(0.22)


def test_cell_count_and_miscounting() -> None:
    _, found = made()
    assert found.know[0].expected == 4
    assert "3.22 V" in found.know[0].caution or "3.23 V" in found.know[0].caution
    _, one = made(example_pack(1, 4), steady_w=30.0)
    assert one.know[0].caution == ""


def test_what_is_not_known_is_stated() -> None:
    _, found = made(handling=None)
    assert any("is not known: try them at height" in caution for caution in found.cautions)
    assert any("No reserve" in caution for caution in made(reserve_pct=0.0)[1].cautions)


def test_voltages_out_of_order_are_refused() -> None:
    pack = example_pack(4, 2)
    levels = thresholds(pack, 120.0)
    turned = replace(levels, return_home=levels.land, land=levels.return_home)
    with pytest.raises(InputError, match="rise in this order"):
        device_settings(pack, turned, LOAD, part_currents(pack, LOAD))


@pytest.fixture(
    params=["survey_six", "survey_six_mission", "survey_wing", "light_quad", "survey_pair"]
)
def answer(request: pytest.FixtureRequest) -> SizingResult:
    file = read_design(DESIGNS / f"{request.param}.toml")
    return size(file.design, notices=file.notices)


def test_what_the_demos_are_shown_is_what_sizing_finds(answer: SizingResult) -> None:
    """At the landing, what is left is the reserve of the operating point, computed there by itself."""
    devices = plan_build(answer).devices
    assert devices is not None
    reserve = float(answer.point.reserve)
    text = f"{reserve - 0.005:.2f}" if answer.craft_type.reserve_key[:5] != "climb" else ""
    assert text in item(devices.come_home, "Land where").leaves


def test_without_size_of_cell_nothing_changes() -> None:
    _, found = made(Pack(straight_cell(), 4, 2))
    assert len(found.sections) == 4
    assert all(items for _, items in found.sections)
