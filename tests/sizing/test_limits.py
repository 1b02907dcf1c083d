"""Limits: the table of rules, each limit broken, reasons to stop, and those of a mission."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.conftest import power_law_table, straight_cell
from tests.sizing.multirotors import RATED, six
from tests.sizing.wings import STATIC, wing
from workbook.sizing.design import Design
from workbook.sizing.hover_point import hover_point
from workbook.sizing.limits import (
    MISSION_RULES,
    RULES,
    Limit,
    Rule,
    Subject,
    flight_limits,
    ground_limits,
    limits,
    stops,
    unchecked_texts,
)
from workbook.sizing.size import size
from workbook.sizing.wing_point import wing_point

RATINGS = ("all_up_mass", "controller_voltage", "controller_current")
CARRIERS = (
    "connector_current",
    "power_module_current",
    "power_module_voltage",
    "regulator_high",
    "regulator_low",
)
SHARED = (
    "endurance", *RATINGS, "motor_current", "motor_power", "table_voltage_high", "table_voltage_low",
    *CARRIERS,
)  # fmt: skip
STOPS = {rule.key for rule in RULES if rule.role == "stop"}
ASKED = {**RATED, "wanted_min": 20.0}


def keys(found: tuple[Limit, ...]) -> tuple[str, ...]:
    return tuple(limit.key for limit in found)


def test_a_multirotor_that_states_everything_has_these_limits_in_this_order() -> None:
    design = six(**ASKED)
    assert keys(limits(design, hover_point(design))) == (
        "table_thrust", "continuous_cell_current", "burst_cell_current", "thrust_to_weight",
        "landing_voltage", "cell_temperature", "cold_cells", "hover_voltage", *SHARED,
    )  # fmt: skip


def test_a_wing_that_states_everything_has_these_limits_in_this_order() -> None:
    design = wing(**ASKED, wanted_km=40.0, climb_m_s=2.0, table=STATIC)
    assert keys(limits(design, wing_point(design))) == (
        "stall_margin", "cruise_power", "turn_power", "cruise_thrust", "continuous_cell_current",
        "burst_cell_current", "launch_voltage", "landing_voltage", "cell_temperature", "cold_cells", "climb", "range", *SHARED,
    )  # fmt: skip


def test_what_is_not_asked_is_no_limit_and_a_rating_that_nobody_states_is_not_checked() -> None:
    design = six()
    found = {limit.key: limit for limit in limits(design, hover_point(design))}
    assert "endurance" not in found
    for key in (*RATINGS, *CARRIERS):
        assert found[key].verdict == "not checked"
        assert found[key].concern == "part"
        assert "not stated" in found[key].unchecked


def test_a_cell_without_a_size_has_a_temperature_that_is_not_checked() -> None:
    design = six(**ASKED, parallel=6, throttle_cap_pct=52.0, landing_v=3.2, thrust_reserve=1.3)
    bare = design.changed(cell=replace(design.pack.cell, diameter_mm=0.0))
    result = size(bare)
    assert keys(result.not_checked) == ("cell_temperature",)
    assert result.verdict == "not checked"
    assert not result.holds
    assert "the cell's size is not stated" in result.reasons[0]


def test_a_choice_counts_a_pack_that_cannot_be_checked_as_broken_and_leaves_out_ratings() -> None:
    design = six()
    bare = design.changed(cell=replace(design.pack.cell, diameter_mm=0.0))
    found = {limit.key: limit for limit in flight_limits(bare, hover_point(bare))}
    assert not set(RATINGS) & set(found)
    assert found["cell_temperature"].broken
    assert found["cell_temperature"].broken_text.startswith("not checked: ")


def test_a_choice_asks_every_limit_once_and_those_reasons_to_stop_that_no_limit_implies() -> None:
    design = six(**ASKED)
    ground, flight = ground_limits(design), flight_limits(design, hover_point(design))
    assert keys(ground) == (
        "charge_voltage",
        "all_up_mass",
        "controller_voltage",
        "table_voltage_high",
        "power_module_voltage",
        "regulator_high",
    )
    assert keys(flight)[-3:] == ("takes_off", "descent", "landing_setting")
    assert len(set(keys(flight))) == len(flight)


def test_every_rule_differs_from_every_other_and_says_what_it_means() -> None:
    keys = [(rule.key, rule.craft) for rule in RULES] + [(rule.key, None) for rule in MISSION_RULES]
    assert len(set(keys)) == len(keys)
    assert all(rule.broken or rule.stop for rule in RULES)
    assert all(rule.stop for rule in RULES if rule.role == "stop" or rule.alone)


@pytest.mark.parametrize(
    ("demand", "limit", "verdict"),
    [
        (9.0, 10.0, "holds"),
        (9.1, 10.0, "close"),
        (10.0, 10.0, "close"),
        (10.1, 10.0, "broken"),
        (10.0001, 10.0, "broken"),  # no slack but that of arithmetic
        (np.nan, 10.0, "broken"),
        (1.0, np.nan, "broken"),
    ],
)
def test_a_limit_holds_is_close_or_broken(demand: float, limit: float, verdict: str) -> None:
    assert Limit("k", "k", demand, limit, "A", "too much.", "always").verdict == verdict


def test_a_limit_that_could_not_be_checked_says_so() -> None:
    limit = Limit("k", "heat", np.nan, 1.0, "A", "too much.", "always", unchecked="no size stated")
    assert limit.verdict == "not checked"
    assert not limit.broken
    assert unchecked_texts([limit]) == ("not checked: heat: no size stated.",)


def test_a_margin_without_sense_is_no_figure() -> None:
    sinking = Limit("climb", "climb", 2.0, np.array([4.0, 1.0, -1.0]), "m/s", "", "end")
    assert sinking.sound_margin_pct == pytest.approx([50.0, -100.0, np.nan], nan_ok=True)


def assert_same(alone: tuple[Limit, ...], together: tuple[Limit, ...], place: int) -> None:
    """The limits of one design are those of the same design in an array, at its place.

    A single design lists a reason to stop as well where that could not be checked.
    """
    alone = tuple(limit for limit in alone if limit.key not in STOPS)
    assert keys(alone) == keys(together)
    for one, many in zip(alone, together, strict=True):
        margins = np.broadcast_to(np.asarray(many.margin_pct), (3,))
        assert margins[place] == pytest.approx(float(one.margin_pct), rel=1e-9, nan_ok=True), (
            one.key
        )


@pytest.mark.parametrize("tabled", [False, True])
def test_limits_of_an_array_of_wings_are_the_limits_one_by_one(tabled: bool) -> None:
    table = STATIC if tabled else None
    asked = {"table": table, "wanted_km": 40.0, "climb_m_s": 2.0}
    many = wing(parallel=np.array([1, 2, 4]), **asked)
    together = limits(many, wing_point(many))
    for k, parallel in enumerate((1, 2, 4)):
        one = wing(parallel=parallel, **asked)
        assert_same(limits(one, wing_point(one)), together, k)


def test_limits_of_an_array_of_multirotors_are_the_limits_one_by_one() -> None:
    many = six(parallel=np.array([1, 3, 8]), wanted_min=20.0)
    together = limits(many, hover_point(many))
    for k, parallel in enumerate((1, 3, 8)):
        one = six(parallel=parallel, wanted_min=20.0)
        assert_same(limits(one, hover_point(one)), together, k)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"parallel": 1, "series": 4}, "continuous_cell_current"),
        ({"mass_without_pack_g": 9000.0}, "continuous_cell_current"),
        ({"landing_v": 2.6, "reserve_pct": 0.0}, "landing_voltage"),
        ({"wanted_min": 300.0}, "endurance"),
        ({"max_all_up_mass_g": 3000.0}, "all_up_mass"),
        ({"controller_max_v": 25.0}, "controller_voltage"),
        ({"controller_max_a": 10.0}, "controller_current"),
        ({"throttle_cap_pct": 20.0}, "thrust_to_weight"),
        ({"payload_g": 60_000.0}, "table_thrust"),
        ({"throttle_cap_pct": 100.0}, "burst_cell_current"),
        ({"pack_temperature_c": -25.0}, "cold_cells"),
        ({"pack_temperature_c": 20.0, "air_temperature_c": -60.0}, "cold_cells"),
        ({"pack_temperature_c": 61.0}, "cell_temperature"),
        ({"series": 8}, "table_voltage_high"),
        ({"series": 5, "landing_v": 2.8}, "table_voltage_low"),
        ({"motor_max_a": 9.0}, "motor_current"),
        ({"motor_max_w": 200.0}, "motor_power"),
        ({"connector_max_a": 30.0}, "connector_current"),
        ({"power_module_max_a": 30.0}, "power_module_current"),
        ({"power_module_max_v": 25.0}, "power_module_voltage"),
        ({"regulator_max_v": 25.0}, "regulator_high"),
        ({"regulator_min_v": 25.0}, "regulator_low"),
        ({"payload_max_v": 25.0}, "payload_high"),
        ({"payload_min_v": 25.0}, "payload_low"),
    ],
)
def test_each_limit_of_a_multirotor_breaks_when_it_should(
    change: dict[str, float], key: str
) -> None:
    """By physics or arithmetic seen from the change itself."""
    result = size(six(**change))
    assert key in keys(result.broken)
    assert not result.holds


def test_a_throttle_cap_mends_the_burst_current() -> None:
    assert "burst_cell_current" not in keys(size(six(throttle_cap_pct=30.0)).broken)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"cruise_m_s": 9.0}, "stall_margin"),
        ({"parallel": 1, "cruise_m_s": 26.0}, "continuous_cell_current"),
        ({"parallel": 1, "launch_w_per_kg": 260.0}, "burst_cell_current"),
        ({"landing_v": 2.6, "reserve_pct": 0.0, "cruise_m_s": 20.0}, "landing_voltage"),
        ({"climb_m_s": 30.0, "table": STATIC}, "climb"),
        ({"wanted_km": 500.0}, "range"),
        ({"wanted_min": 900.0}, "endurance"),
        ({"max_all_up_mass_g": 2000.0}, "all_up_mass"),
        ({"controller_max_v": 16.0}, "controller_voltage"),
        ({"controller_max_a": 10.0}, "controller_current"),
        ({"cruise_m_s": 26.0, "launch_w_per_kg": 60.0}, "cruise_power"),
        ({"cruise_m_s": 12.0, "launch_w_per_kg": 21.0}, "turn_power"),
        ({"launch_w_per_kg": 240.0, "parallel": 1, "landing_v": 2.8}, "burst_cell_current"),
    ],
)  # fmt: skip
def test_each_limit_of_a_wing_breaks_when_it_should(change: dict[str, Any], key: str) -> None:
    result = size(wing(**change))
    assert key in keys(result.broken)
    assert not result.holds


def test_full_power_of_a_wing_is_asked_at_the_state_where_the_pack_gives_least() -> None:
    """Watts by mass stay while the voltage falls: the current is highest at the end, the voltage lowest."""
    result = size(wing(launch_w_per_kg=180.0))
    found = {limit.key: limit for limit in result.limits}
    end = result.point.end.full_throttle
    assert float(found["burst_cell_current"].demand) == float(end.cell_a)
    assert float(found["launch_voltage"].limit) == float(end.cell_v)
    assert float(end.cell_a) > float(result.point.full.full_throttle.cell_a)


def test_a_motor_a_little_beyond_its_table_is_not_checked_and_far_beyond_is_broken() -> None:
    """Power as voltage^2.7: 22.2 V to 6 x 4.15 V gives 1.36 times the table's, 8 cells far more."""
    stiff = {
        "table": power_law_table(highest_gf=2400.0),
        "cell": straight_cell(resistance_mohm=5.0),
    }
    few, many = (
        {limit.key: limit for limit in size(six(series=n, parallel=8, **stiff)).limits}
        for n in (6, 8)
    )
    assert few["motor_power"].verdict == "not checked"
    assert "the motor's own rating is not stated" in few["motor_power"].unchecked
    assert few["motor_power"].concern == "part"
    assert many["motor_power"].broken


def test_a_cell_without_a_size_that_starts_too_hot_is_found_all_the_same() -> None:
    bare = six().changed(cell=replace(straight_cell(), height_mm=0.0), pack_temperature_c=61.0)
    assert "take_off_temperature" in keys(size(bare).broken)


def test_a_sound_wing_holds_every_limit() -> None:
    result = size(wing(wanted_km=50.0, climb_m_s=1.5, parallel=3, table=STATIC))
    assert result.holds, [limit.name for limit in result.broken] + list(result.stops)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"cruise_m_s": 5.0}, "below the stall speed"),
        ({"table": STATIC, "throttle_cap_pct": 40.0}, "may not clear obstacles"),
        ({"parallel": 1, "cruise_m_s": 30.0}, "overheat, vent and burn"),
        ({"controller_max_v": 16.0}, "speed controllers allow"),
        ({"landing_v": 2.0}, "below 2.8 V"),
    ],
)  # fmt: skip
def test_an_unsafe_wing_is_stopped_in_words(change: dict[str, Any], sentence: str) -> None:
    assert any(sentence in stop for stop in size(wing(**change)).stops)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"payload_g": 60_000.0}, "outside the thrust table"),
        ({"parallel": 1, "mass_without_pack_g": 3500.0}, "overheat, vent and burn"),
        ({"throttle_cap_pct": 45.0, "mass_without_pack_g": 4000.0}, "stop its own descent"),
        ({"controller_max_v": 25.0}, "speed controllers allow 25 V"),
        ({"landing_v": 2.0}, "below 2.8 V"),
        ({"landing_v": 4.19}, "the flight would end at take-off"),
    ],
)
def test_an_unsafe_multirotor_is_stopped_in_words(change: dict[str, float], sentence: str) -> None:
    assert any(sentence in stop for stop in size(six(**change)).stops)


def test_a_reason_to_stop_never_states_more_than_there_is() -> None:
    """A thrust of 1.2986 times weight is not 1.30, which would be the least that is allowed."""
    design = six(payload_g=2500.0)
    assert 1.295 < float(hover_point(design).reserve) < 1.3
    assert any("thrust is 1.29 times weight, under 1.3" in stop for stop in size(design).stops)


@pytest.mark.parametrize("design", [six(payload_g=60_000.0), wing(cruise_m_s=5.0)])
def test_where_nothing_can_be_computed_that_alone_is_stated(design: Design) -> None:
    assert len(stops(design, size(design).point)) == 1


def test_a_text_that_names_a_varying_figure_is_its_name_in_a_choice() -> None:
    rule = Rule(
        "heavy",
        "all-up mass",
        "mass_g",
        "all_up_mass_g",
        "one",
        "take-off",
        "{demand:.0f} g is much.",
    )
    one, many = six(), six(parallel=np.array([1, 3]))
    [alone, among] = [rule.check(Subject(design, hover_point(design))) for design in (one, many)]
    assert alone is not None
    assert among is not None
    assert alone.broken_text == f"{alone.demand:.0f} g is much."
    assert among.broken_text == "Broken: all-up mass."
    assert np.shape(among.demand) == (2,)


def test_a_climb_asked_for_is_decided_by_the_slowest_propeller_of_its_size() -> None:
    """Between what is expected and what can be counted on: not yet, whatever is expected."""
    design = wing(wanted_km=50.0, climb_m_s=2.0, parallel=3, table=STATIC)
    result = size(design)
    expected = min(float(s.continuous.usual_climb_m_s) for s in result.point.states)
    counted = min(float(s.continuous.climb_m_s) for s in result.point.states)
    assert counted < 2.0 < expected
    assert {limit.key for limit in result.broken} == {"climb"}
    assert result.figures()["climb_continuous_m_s"] == pytest.approx(expected)
