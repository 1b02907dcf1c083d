"""Missions by hand for both kinds of craft, and every refusal with its phase."""

import numpy as np
import pytest

from workbook.craft import mission
from workbook.craft.fixed_wing import FixedWing
from workbook.craft.mission import (
    MultirotorPower,
    Phase,
    WingPower,
    best_speeds,
    mission_profile,
    survey,
)
from workbook.craft.multirotor import Multirotor
from workbook.craft.rotor import climb, disc_area_m2, forward, hover
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.wing import Polar, level_flight
from workbook.errors import InputError

# an invented 15 in motor whose watts go as thrust^1.5: 100 W at 900 gf
THRUST = np.array([100.0, 300.0, 600.0, 900.0, 1500.0, 2200.0])
POWER = 100 * (THRUST / 900) ** 1.5
TABLE = ThrustTable(
    "m", "15x5", THRUST, POWER / 22.2, THRUST * 0 + 22.2, POWER,
    np.array([10.0, 25, 45, 60, 85, 100]), THRUST * np.nan, source="bench.csv",
)  # fmt: skip
SIX = Multirotor("census six", 6, 2100.0, 350.0, TABLE, 12.0, 1.1)
ROTORS = MultirotorPower(SIX, drag_area_m2=0.03)
WING = WingPower(FixedWing("heron", 1, 1600.0, 250.0, 8.0, Polar(0.4, 2.0, 0.03, 0.8, 1.2)))
MASS_G = 3600.0
WEIGHT_N = MASS_G / 1000 * 9.80665
AREA = disc_area_m2(15 * 0.0254, 6)


def test_hover_is_the_tables():
    by_hand = 6 * 100 * (600 / 900) ** 1.5 * 1.1 + 12
    assert float(ROTORS.flight_w(MASS_G)) == pytest.approx(by_hand, rel=1e-9)
    assert float(ROTORS.hover_w(MASS_G)) == pytest.approx(by_hand, rel=1e-9)
    assert float(ROTORS.rest_w(MASS_G)) == 12.0
    full = 6 * 100 * (2200 / 900) ** 1.5 + 12
    assert float(ROTORS.launch_w(MASS_G)) == pytest.approx(full, rel=1e-9)


def test_climb_costs_the_momentum_ratio_of_all_power():
    ratio = float(climb(WEIGHT_N, AREA, 3.0).power_ratio)
    motors = float(ROTORS.flight_w(MASS_G)) - 12
    assert float(ROTORS.flight_w(MASS_G, 0.0, 3.0)) == pytest.approx(motors * ratio + 12, rel=1e-9)


def test_gentle_forward_flight_saves_the_ideal_part_only():
    ahead = float(forward(WEIGHT_N, AREA, 6.0, 0.03).disc.power_ratio)
    ideal = float(hover(WEIGHT_N, AREA).ideal_power_w)
    hovering = float(ROTORS.flight_w(MASS_G))
    expected = hovering - (1 - ahead) * ideal
    assert ahead < 1
    assert float(ROTORS.flight_w(MASS_G, 6.0)) == pytest.approx(expected, rel=1e-9)
    # common practice: gentle forward flight costs 10 to 20 % less than hover, a fast one more
    assert 0.7 < expected / hovering < 0.95
    assert float(ROTORS.flight_w(MASS_G, 22.0)) > hovering


def test_figure_of_merit_is_shown():
    merit = float(hover(WEIGHT_N / 6, AREA / 6).ideal_power_w) / (100 * (600 / 900) ** 1.5)
    assert float(ROTORS.figure_of_merit(MASS_G)) == pytest.approx(merit, rel=1e-9)


def test_a_table_that_beats_momentum_is_refused_with_its_row():
    power = POWER * 0.3
    wrong = ThrustTable(
        "m", "15x5", THRUST, power / 22.2, THRUST * 0 + 22.2, power, TABLE.throttle_pct,
        THRUST * np.nan, tuple(range(2, 8)), "bench.csv",
    )  # fmt: skip
    craft = MultirotorPower(Multirotor("six", 6, 2100.0, 350.0, wrong, 12.0))
    with pytest.raises(InputError, match=r"bench.csv, row 2: .*figure of merit"):
        craft.flight_w(MASS_G, 5.0)


def test_a_wing_mission_by_hand():
    drop = 250.0
    profile = mission_profile(
        WING,
        2500.0,
        [
            mission.rest(60.0),
            mission.launch(4.0),
            mission.climb(80.0, 2.0, 12.0),
            mission.cruise(6000.0, 13.0, 3.0),
            Phase("drop", duration_s=120.0, airspeed_m_s=12.0, mass_change_g=-drop),
            mission.loiter(300.0, 12.0),
            mission.descent(80.0, 2.0, 12.0),
        ],
    )
    np.testing.assert_allclose(profile.duration_s, [60, 4, 40, 600, 120, 300, 40])
    np.testing.assert_allclose(profile.mass_g, [2500] * 4 + [2250] * 3)

    def drag_power(mass_g, speed):
        return float(level_flight(WING.craft.polar, mass_g, speed).drag_power_w)

    efficiency = 0.6 * 0.78
    weight, light = 2.5 * 9.80665, 2.25 * 9.80665
    expected = [
        8.0,
        2.5 * 200 + 8,
        (drag_power(2500, 12) + 2 * weight) / efficiency + 8,
        drag_power(2500, 13) / efficiency + 8,
        drag_power(2250, 12) / efficiency + 8,
        drag_power(2250, 12) / efficiency + 8,
        max(drag_power(2250, 12) - 2 * light, 0) / efficiency + 8,
    ]
    np.testing.assert_allclose(profile.power_w, expected, rtol=1e-9)
    energy = float(np.dot(profile.duration_s, expected)) / 3600
    assert float(profile.energy_wh) == pytest.approx(energy, rel=1e-9)
    assert float(profile.total_s) == pytest.approx(1164)


def test_a_mission_of_many_designs_at_once():
    masses = np.array([3200.0, 3600.0, 4000.0])
    phases = [mission.hover(60.0), mission.cruise(500.0, 8.0), mission.descent(40.0, 1.0)]
    together = mission_profile(ROTORS, masses, phases)
    assert together.power_w.shape == (3, 3)
    alone = [mission_profile(ROTORS, m, phases).power_w for m in masses]
    np.testing.assert_allclose(together.power_w, np.array(alone).T, rtol=1e-12)
    assert "vortex ring" in together.cautions[0]


REFUSED = [
    (WING, [], "no phases"),
    (WING, [Phase("a", duration_s=1.0, distance_m=2.0, airspeed_m_s=12.0)], r"phase 1 \(a\): one of"),
    (WING, [mission.cruise(100.0, 12.0, 13.0)], "makes no headway"),
    (WING, [mission.loiter(10.0, 5.0)], "below the stall"),
    (WING, [mission.hover(10.0)], "below the stall"),
    (WING, [Phase("a", "glide", 5.0)], 'kind is "glide"'),
    (WING, [mission.rest(-1.0)], "no sensible length"),
    (WING, [mission.climb(50.0, 0.0, 12.0)], "no sensible length"),
    (WING, [Phase("a", duration_s=1.0, mass_change_g=-9000.0)], "mass dropped"),
    (WING, [Phase("a", duration_s=1.0, airspeed_m_s=12.0, gust_factor=0.5)], "gust_factor is 0.5"),
    (ROTORS, [mission.descent(50.0, 4.0)], "vortex ring"),
    (ROTORS, [Phase("a", duration_s=1.0, mass_change_g=30000.0)], "outside the thrust table"),
]  # fmt: skip


@pytest.mark.parametrize(("flight", "phases", "says"), REFUSED)
def test_what_cannot_be_flown_is_refused_in_a_sentence(flight, phases, says):
    with pytest.raises(InputError, match=says):
        mission_profile(flight, 2500.0, phases)


def test_climb_needs_a_diameter():
    nameless = ThrustTable(
        "m", "two-blade", THRUST, POWER / 22.2, THRUST * 0 + 22.2, POWER, TABLE.throttle_pct,
        THRUST * np.nan,
    )  # fmt: skip
    craft = Multirotor("six", 6, 2100.0, 350.0, nameless, 12.0)
    with pytest.raises(InputError, match="diameter"):
        MultirotorPower(craft).flight_w(MASS_G, 5.0)
    assert np.isfinite(MultirotorPower(craft, diameter_m=0.381).flight_w(MASS_G, 5.0))


def test_supply_voltage_of_launch():
    low = MultirotorPower(SIX, supply_v=20.0)
    motors = (float(ROTORS.launch_w(MASS_G)) - 12) * (20 / 22.2) ** 2.7
    assert float(low.launch_w(MASS_G)) == pytest.approx(motors + 12, rel=1e-9)


def test_survey_by_hand():
    # 100 m x 60 m at 20 m spacing: 3 legs, 2 steps; 10 m/s, wind 5: 2 legs at 5, 1 at 15, steps
    # across the wind at sqrt(75)
    found = survey(100.0, 60.0, 20.0, 10.0, 5.0, 2.0)
    assert (found.legs, found.distance_m, found.area_m2) == (3, 340.0, 6000.0)
    assert found.duration_s == pytest.approx(2 * 20 + 100 / 15 + 2 * (20 / 75**0.5 + 2))
    with pytest.raises(InputError, match="spacing_m is 0"):
        survey(100.0, 60.0, 0.0, 10.0)
    with pytest.raises(InputError, match="wind_m_s is 10"):
        survey(100.0, 60.0, 20.0, 10.0, 10.0)


def test_no_best_speed_against_a_storm():
    with pytest.raises(InputError, match="no airspeed up to 30"):
        best_speeds(WING, 2500.0, 40.0)
