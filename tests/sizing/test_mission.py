"""Missions on a pack: against the steady answer, an independent integration, and by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from tests.conftest import power_law_table, straight_cell
from tests.sizing.wings import STATIC, wing
from workbook.battery.heat import heat_path
from workbook.battery.pack import Pack
from workbook.craft.craft_types import Multirotor
from workbook.craft.flight_power import best_speeds
from workbook.craft.mission import survey
from workbook.errors import InputError
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design, Flight, MissionPhase
from workbook.sizing.limits import mission_limits
from workbook.sizing.mission import MissionRun
from workbook.sizing.size import size


def six(*phases: MissionPhase, **changes: Any) -> Design[Multirotor]:
    """Six 15 in rotors on 6S3P of a straight cell."""
    table = replace(power_law_table(), propeller="15x5")
    craft = Multirotor(
        name="six",
        rotors=6,
        mass_without_pack_g=2100.0,
        payload_g=350.0,
        table=table,
        avionics_w=14.0,
        flight_factor=1.1,
    )
    pack = Pack(straight_cell(), 6, 3, 10.0, 75.0, 8.0)
    design = Design("six", craft, pack, Flight(3.0, 10.0, 1.5, throttle_cap_pct=45.0))
    return replace(design.changed(**changes), mission=phases)


def flown(design: Design[Any], allowances: Allowances | None = None) -> MissionRun:
    run = size(design, allowances or Allowances()).mission
    assert run is not None
    return run


def hover(seconds: float, **more: Any) -> MissionPhase:
    return MissionPhase("hover", "hover", duration_s=seconds, **more)


@pytest.mark.parametrize("reserve_pct", [10.0, 25.0])
def test_one_hover_as_long_as_the_endurance_just_completes(reserve_pct: float) -> None:
    """The mission and the steady answer are two roads to one figure."""
    asked = {"reserve_pct": reserve_pct, "landing_v": 2.5}
    minutes = float(size(six(**asked)).point.endurance_min)
    just = flown(six(hover(minutes * 60 * 0.9995), **asked))
    over = flown(six(hover(minutes * 60 * 1.0005), **asked))
    assert just.completes
    assert just.charge_left_pct == pytest.approx(reserve_pct, abs=0.06)
    assert not over.completes
    assert over.ends_by == "reserve"
    assert over.ends_min == pytest.approx(minutes, rel=1e-4)


def test_a_landing_voltage_ends_a_mission_when_it_ends_the_steady_flight() -> None:
    answer = size(six(landing_v=3.5, reserve_pct=0.0))
    minutes = float(answer.point.endurance_min)
    run = flown(six(hover(3600.0), landing_v=3.5, reserve_pct=0.0))
    assert run.ends_by == "landing voltage"
    assert run.ends_min == pytest.approx(minutes, rel=1e-4)


def test_allowances_shorten_a_mission_as_they_shorten_the_steady_flight() -> None:
    allowances = Allowances(1.03, 1.08, 1.2, 1.0, 0.93, 1.4, 2.0)
    minutes = float(size(six(), allowances).point.endurance_min)
    run = flown(six(hover(3600.0)), allowances)
    assert run.ends_min == pytest.approx(minutes, rel=1e-4)


def test_a_wing_that_loiters_at_its_cruise_speed_lasts_as_long_as_it_cruises() -> None:
    minutes = float(size(wing()).point.endurance_min)
    phase = MissionPhase("loiter", duration_s=minutes * 90, airspeed_m_s=12.0)
    run = flown(replace(wing(), mission=(phase,)))
    assert run.ends_min == pytest.approx(minutes, rel=1e-4)


@given(st.floats(0, 800), st.floats(30, 600))
def test_flight_at_no_speed_equals_hover(payload_g: float, seconds: float) -> None:
    still = MissionPhase("loiter", duration_s=seconds, airspeed_m_s=0.0)
    ahead = flown(six(still, payload_g=payload_g))
    over = flown(six(hover(seconds), payload_g=payload_g))
    assert ahead.energy_wh == pytest.approx(over.energy_wh, rel=1e-12)
    assert ahead.charge_left_pct == pytest.approx(over.charge_left_pct, rel=1e-12)


@given(st.floats(60, 500), st.floats(60, 500))
def test_a_hover_in_two_parts_equals_one(first_s: float, second_s: float) -> None:
    two, one = flown(six(hover(first_s), hover(second_s))), flown(six(hover(first_s + second_s)))
    assert two.charge_left_pct == pytest.approx(one.charge_left_pct, rel=1e-9)
    assert two.phases[1].cell_a == pytest.approx(one.phases[0].cell_a, rel=1e-9)


@given(st.floats(1.0, 1.6), st.floats(0, 350))
def test_gusts_cost_and_a_dropped_payload_saves(gust_factor: float, drop_g: float) -> None:
    calm = flown(six(hover(300.0)))
    gusty = flown(six(hover(300.0, gust_factor=gust_factor)))
    light = flown(six(hover(300.0, drop_g=drop_g)))
    assert gusty.charge_left_pct <= calm.charge_left_pct + 1e-12
    assert light.charge_left_pct >= calm.charge_left_pct - 1e-12
    assert light.phases[0].mass_g == pytest.approx(calm.phases[0].mass_g - drop_g)


SURVEY = (
    MissionPhase("rest", duration_s=90.0),
    hover(40.0),
    MissionPhase("climb", height_m=60.0, rate_m_s=2.0),
    MissionPhase("cruise", "out", distance_m=900.0, airspeed_m_s=9.0, headwind_m_s=3.0),
    MissionPhase(
        "legs", length_m=300.0, width_m=190.0, spacing_m=20.0, airspeed_m_s=8.0,
        headwind_m_s=2.0, turn_s=3.0, gust_factor=1.1,
    ),
    MissionPhase("cruise", "home", distance_m=900.0, airspeed_m_s=9.0, headwind_m_s=-3.0, drop_g=120.0),
    MissionPhase("descent", height_m=60.0, rate_m_s=1.2),
)  # fmt: skip


def test_a_mission_agrees_with_an_independent_integration() -> None:
    """scipy.integrate.solve_ivp on the straight cell's own U and R and its heat, phase after phase.

    The cell's heat is I^2 times its own 30 mohm; that of the joints is made outside it.
    """
    design = six(*SURVEY)
    run = flown(design)
    joint_ohm, path = 0.008 * 3 / 6, heat_path(straight_cell())
    state, heights, warmest = [0.0, 25.0], [], []
    for phase in run.phases:
        cell_w = phase.power_w / 18

        def rate(t: float, y: np.ndarray, p: float = cell_w) -> list[float]:
            u, r = 3.0 + 1.2 * (1 - y[0]), 0.030 + joint_ohm
            amps = p / ((u + (u**2 - 4 * p * r) ** 0.5) / 2)
            heat_w = amps**2 * 0.030 - float(path.loss_w_k) * (y[1] - 15.0)
            return [amps / (5.0 * 3600), heat_w / float(path.stored_j_k)]

        seconds = (phase.end_min - phase.start_min) * 60
        solved = solve_ivp(rate, (0.0, seconds), state, rtol=1e-10, atol=1e-12)
        state = [float(y) for y in solved.y[:, -1]]
        heights.append(state[0])
        warmest.append(float(solved.y[1].max()))
    assert [p.end_depth_of_discharge for p in run.phases] == pytest.approx(heights, rel=1e-3)
    assert [p.cell_c for p in run.phases] == pytest.approx(warmest, abs=0.05)
    assert run.hottest_cell_c == pytest.approx(max(warmest), abs=0.05)
    depth = state[0]
    assert run.charge_left_pct == pytest.approx(100 * (1 - depth), rel=1e-3)
    # the end of the last phase, where the cell carries most current in it
    u, p = 3.0 + 1.2 * (1 - depth), run.phases[-1].power_w / 18
    volts = (u + (u**2 - 4 * p * (0.030 + joint_ohm)) ** 0.5) / 2
    assert run.phases[-1].lowest_v == pytest.approx(volts, rel=1e-3)
    assert run.phases[-1].cell_a == pytest.approx(p / volts, rel=1e-3)


def test_phases_follow_each_other_and_add_up() -> None:
    """Times and distances by hand; energy as the sum over phases."""
    run = flown(six(*SURVEY))
    field = survey(300.0, 190.0, 20.0, 8.0, 2.0, 3.0)
    by_hand = [90.0, 40.0, 30.0, 900 / 6, field.duration_s, 900 / 12, 50.0]
    lengths = [60 * (p.end_min - p.start_min) for p in run.phases]
    assert lengths == pytest.approx(by_hand)
    assert run.total_min == pytest.approx(sum(by_hand) / 60)
    assert run.distance_m == pytest.approx(1800.0 + field.distance_m)
    watts = [p.power_w for p in run.phases]
    energy = sum(w * t for w, t in zip(watts, by_hand, strict=True)) / 3600
    assert run.energy_wh == pytest.approx(energy)
    assert run.phases[0].power_w == pytest.approx(14.0)
    starts = [p.start_depth_of_discharge for p in run.phases]
    ends = [p.end_depth_of_discharge for p in run.phases]
    assert starts[1:] == pytest.approx(ends[:-1])


def test_the_way_home_is_the_last_cruise_and_all_after_it() -> None:
    out = MissionPhase("cruise", distance_m=600.0, airspeed_m_s=9.0)
    home = replace(out, headwind_m_s=4.5)  # twice as long as without the wind
    land = MissionPhase("hover", duration_s=30.0)
    calm, windy = (flown(six(out, way, land)) for way in (out, home))
    _, way, landing = windy.phases
    assert windy.way_home_share == pytest.approx(
        way.end_depth_of_discharge
        - way.start_depth_of_discharge
        + landing.end_depth_of_discharge
        - landing.start_depth_of_discharge
    )
    assert windy.way_home_share > 1.5 * calm.way_home_share
    assert np.isnan(flown(six(land)).way_home_share)


def test_each_limit_is_where_it_is_nearest() -> None:
    run = flown(six(*SURVEY))
    nearest = {limit.key: limit for limit in mission_limits(six(*SURVEY), run)}
    climb = run.phases[2]
    assert nearest["mission_continuous_current"].worst_at.startswith("climb, minute ")
    assert nearest["mission_continuous_current"].demand == pytest.approx(climb.cell_a)
    lowest = min(p.lowest_v for p in run.phases)
    assert nearest["mission_voltage"].limit == pytest.approx(lowest)
    hottest = max(p.cell_c for p in run.phases)
    assert nearest["mission_temperature"].demand == pytest.approx(hottest)
    assert nearest["mission_charge"].demand == pytest.approx(100 - run.charge_left_pct)


def test_a_mission_that_is_too_long_breaks_its_limit_and_says_where() -> None:
    answer = size(six(*SURVEY, hover(3000.0)))
    run = answer.mission
    assert run is not None
    assert not run.completes
    assert not answer.holds
    assert run.ends_in == "hover"
    assert not run.phases[-1].flown
    assert np.isnan(run.charge_left_pct)
    text = " ".join(limit.broken_text for limit in answer.broken)
    assert f"down to its reserve: landing voltage in hover, minute {run.ends_min:.1f}." in text
    record = answer.as_dict()["mission"]
    assert record["completes"] is False
    assert record["charge_left_pct"] is None


def test_a_phase_after_the_pack_is_empty_is_not_flown() -> None:
    run = flown(six(hover(6000.0), hover(60.0)))
    assert [p.flown for p in run.phases] == [False, False]
    assert np.isnan(run.phases[1].cell_a)


def test_a_brief_phase_may_use_the_burst_current_and_a_long_one_not() -> None:
    """The straight cell allows 25 A for 10 s, 15 A for longer."""
    brief, longer = (six(MissionPhase("launch", duration_s=s)) for s in (10.0, 11.0))
    assert [flown(one).phases[0].allowed_a for one in (brief, longer)] == [25.0, 15.0]
    assert "mission_burst_current" in {limit.key for limit in size(brief).limits}
    assert "mission_continuous_current" in {limit.key for limit in size(longer).limits}


def test_launch_is_the_packs_own_full_throttle() -> None:
    answer = size(six(MissionPhase("launch", duration_s=8.0)))
    top = answer.point.full.full_throttle
    assert answer.mission is not None
    assert answer.mission.phases[0].power_w == pytest.approx(float(top.cell_a * top.cell_v) * 18)


def test_best_speeds_stand_beside_flight_over_a_distance() -> None:
    design = replace(wing(), mission=(MissionPhase("cruise", distance_m=3000.0, headwind_m_s=5.0),))
    answer = size(design)
    power = craft_type_of(design).mission_model(answer.point).power
    best = best_speeds(power, float(answer.point.all_up_mass_g), 5.0)
    assert answer.mission is not None
    phase = answer.mission.phases[0]
    assert (phase.best_endurance_m_s, phase.best_range_m_s) == (best.endurance_m_s, best.range_m_s)
    assert phase.airspeed_m_s == 12.0  # the plan's cruise, where the phase states none
    assert phase.best_range_m_s > float(answer.point.speeds.range_m_s)  # into the wind fly faster


def test_survey_legs_are_shown_with_their_area() -> None:
    legs = MissionPhase("legs", length_m=400.0, width_m=300.0, spacing_m=30.0)
    phase = size(replace(wing(), mission=(legs,))).as_dict()["mission"]["phases"][0]
    assert (phase["legs"], phase["area_m2"]) == (10, 120_000.0)
    assert phase["distance_m"] == pytest.approx(10 * 400 + 9 * 30)


def test_warmth_adds_up_to_the_joule_heat_when_no_time_is_left_to_shed_it() -> None:
    """Energy balance by hand: 10 s of full throttle, I^2 R over m c, at the most."""
    run = flown(six(MissionPhase("launch", duration_s=10.0)))
    phase = run.phases[0]
    amps = phase.cell_a
    ceiling = amps**2 * (0.030 + 0.004) * 10.0 / (0.070 * 900.0)
    assert 0.5 * ceiling < phase.cell_c - 25.0 < 1.2 * ceiling


@pytest.mark.parametrize(
    ("phase", "sentence"),
    [
        (MissionPhase("cruise", distance_m=900.0, airspeed_m_s=5.0, headwind_m_s=6.0), "no headway"),
        (MissionPhase("descent", height_m=60.0, rate_m_s=5.0), "vortex ring"),
        (MissionPhase("legs", length_m=1.0, width_m=1.0, spacing_m=1.0, airspeed_m_s=4.0,
                      headwind_m_s=5.0), "below the airspeed"),
        (MissionPhase("cruise", distance_m=900.0), "airspeed_m_s is missing"),
        (MissionPhase("swim", duration_s=9.0), 'kind is "swim"'),
        (hover(60.0, drop_g=1e6), "more than the craft has"),
    ],
)  # fmt: skip
def test_a_phase_that_cannot_be_flown_is_refused_in_a_sentence(
    phase: MissionPhase, sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        size(six(hover(30.0), phase))


def test_a_wing_below_its_stall_in_a_phase_is_refused() -> None:
    slow = MissionPhase("loiter", "circle", duration_s=60.0, airspeed_m_s=4.0)
    with pytest.raises(InputError, match=r"phase 1 \(circle\).*below the stall"):
        size(replace(wing(), mission=(slow,)))


def test_without_a_hover_point_there_is_no_mission() -> None:
    answer = size(six(hover(60.0), payload_g=60_000.0))
    assert answer.mission is None
    assert any("outside the thrust table" in stop for stop in answer.stops)


def keys_broken(design: Design[Any]) -> set[str]:
    return {limit.key for limit in size(design).broken}


STRONG = {"throttle_cap_pct": 100.0, "parallel": 1}


@pytest.mark.parametrize("parts", [1, 2, 8])
def test_a_burst_that_is_too_long_is_found_however_it_is_split(parts: int) -> None:
    """Eight times the burst time at a current above the continuous one, in as many phases as one likes."""
    gusty = hover(80.0 / parts, gust_factor=1.4)
    design = six(*[gusty] * parts, **STRONG)
    run = flown(design).phases[-1]
    assert 15.0 < run.cell_a < 25.0  # above the continuous, below the burst current
    assert run.burst.over_s == pytest.approx(80.0)
    assert keys_broken(design) & {"mission_continuous_current", "mission_bursts"}


def test_bursts_with_too_short_a_rest_between_them_are_found() -> None:
    burst, rest = hover(10.0, gust_factor=1.6), MissionPhase("rest", duration_s=1.0)
    design = six(*[burst, rest] * 8, **STRONG)
    assert flown(design).phases[0].cell_a < 25.0
    assert "mission_bursts" in keys_broken(design)
    rested = six(*[burst, replace(rest, duration_s=60.0)] * 8, **STRONG)
    assert "mission_bursts" not in keys_broken(rested)


def test_cells_that_cool_below_their_rating_while_standing_by_are_found() -> None:
    """An hour at -40 °C with power for the electronics alone."""
    cold = {"air_temperature_c": -40.0, "pack_temperature_c": 20.0}
    design = six(MissionPhase("rest", duration_s=3600.0), hover(60.0), **cold)
    assert "mission_cold" in keys_broken(design)
    assert "mission_cold" not in keys_broken(six(hover(60.0), **cold))


def test_sinking_through_its_own_wake_is_found_even_where_a_windmill_would_fly() -> None:
    """4 kg on six 15 in discs: 4.8 m/s of downwash; 12 m/s of sink is beyond the vortex ring of the theory."""
    fast, slow, ahead = (
        MissionPhase("descent", height_m=100.0, rate_m_s=rate, airspeed_m_s=speed)
        for rate, speed in ((12.0, 0.0), (1.5, 0.0), (3.0, 12.0))
    )
    found = {limit.key: limit for limit in size(six(fast)).limits}
    assert found["mission_descent"].broken
    assert float(found["mission_descent"].limit) == pytest.approx(2.4, abs=0.15)
    for gentle in (slow, ahead):
        assert "mission_descent" not in keys_broken(six(gentle))


def test_a_climb_faster_than_the_propellers_can_is_found() -> None:
    climb = MissionPhase("climb", height_m=60.0, rate_m_s=13.0)
    assert "mission_climb" in keys_broken(six(climb))


@pytest.mark.parametrize(
    ("phase", "key"),
    [
        (MissionPhase("loiter", duration_s=60.0, airspeed_m_s=10.5), "mission_stall_margin"),
        (MissionPhase("climb", height_m=90.0, rate_m_s=5.0), "mission_power"),
        (MissionPhase("cruise", distance_m=900.0, airspeed_m_s=26.0), "mission_pull"),
    ],
)
def test_a_phase_that_a_wing_cannot_fly_is_found(phase: MissionPhase, key: str) -> None:
    """Its stall speed is 9.2 m/s; its 5.5 in of pitch at 8000 rpm give 18.6 m/s. Full power is 37 % of the
    table's at the throttle cap."""
    change = {"throttle_cap_pct": 60.0} if key == "mission_power" else {}
    design = replace(wing(table=STATIC).changed(**change), mission=(phase,))
    assert key in keys_broken(design)


def test_without_a_table_what_the_propeller_pulls_in_a_phase_is_not_checked() -> None:
    design = replace(wing(), mission=(MissionPhase("cruise", distance_m=900.0),))
    assert "mission_pull" in {limit.key for limit in size(design).not_checked}


def test_a_craft_on_rotors_that_must_tilt_further_than_its_thrust_allows_is_found() -> None:
    """At 30 m/s 0.03 m2 of drag area hold back 16.5 N; with 37.8 N of weight that is 4.2 kgf of thrust, from
    propellers that meet 12 m/s of air along their axis."""
    fast, slow = (
        MissionPhase("cruise", distance_m=900.0, airspeed_m_s=speed) for speed in (30.0, 10.0)
    )
    found = {limit.key: limit for limit in size(six(fast)).limits}
    assert float(found["mission_pull"].demand) == pytest.approx(4205.0, rel=0.02)
    assert found["mission_pull"].broken
    assert "mission_pull" not in keys_broken(six(slow))


def test_a_burst_too_many_is_shown_in_figures() -> None:
    """What a broken limit means may name figures of the cell: none is left as a pattern."""
    fast = MissionPhase("climb", height_m=60.0, rate_m_s=6.0)
    found = {limit.key: limit.broken_text for limit in size(six(fast, fast, fast)).limits}
    assert "one whole burst of" in found["mission_bursts"]
    assert not [text for text in found.values() if "{" in text]


def test_a_wing_is_not_let_down_in_a_dive() -> None:
    """At 12 m/s a dive of 30 degrees sinks 6 m/s: sin 30 is a half."""

    def broken(sink_m_s: float) -> bool:
        down = MissionPhase("descent", height_m=100.0, rate_m_s=sink_m_s, airspeed_m_s=12.0)
        design = replace(wing(table=STATIC), mission=(down,))
        return "mission_dive" in {limit.key for limit in size(design).broken}

    assert not broken(5.9)
    assert broken(6.1)
