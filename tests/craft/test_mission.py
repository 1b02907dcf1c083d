"""Missions by hand for both craft types, and every refusal with its phase."""

from dataclasses import replace

import numpy as np
import pytest

from tests.craft.flown import ROTORS, WING
from workbook.craft.mission import Phase, mission_profile, survey
from workbook.craft.wing import level_flight
from workbook.errors import InputError


def test_a_wing_mission_by_hand():
    drop = 250.0
    profile = mission_profile(
        replace(WING, take_off_w=508.0),
        2500.0,
        [
            Phase("rest", "rest", 60.0),
            Phase("launch", "launch", 4.0),
            Phase("climb", height_change_m=80.0, climb_m_s=2.0, airspeed_m_s=12.0),
            Phase("cruise", distance_m=6000.0, airspeed_m_s=13.0, headwind_m_s=3.0),
            Phase("drop", duration_s=120.0, airspeed_m_s=12.0, mass_change_g=-drop),
            Phase("loiter", duration_s=300.0, airspeed_m_s=12.0),
            Phase("descent", height_change_m=-80.0, climb_m_s=-2.0, airspeed_m_s=12.0),
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
        508.0,
        (drag_power(2500, 12) + 2 * weight) / efficiency + 8,
        drag_power(2500, 13) / efficiency + 8,
        drag_power(2250, 12) / efficiency + 8,
        drag_power(2250, 12) / efficiency + 8,
        max(drag_power(2250, 12) - 2 * light, 0) / efficiency + 8,
    ]
    np.testing.assert_allclose(profile.power_w, expected, rtol=1e-9)
    energy = float(np.dot(profile.duration_s, expected)) / 3600
    assert float(profile.energy_wh) == pytest.approx(energy, rel=1e-9)


def test_a_mission_of_many_designs_at_once():
    masses = np.array([3200.0, 3600.0, 4000.0])
    phases = [
        Phase("hover", duration_s=60.0),
        Phase("cruise", distance_m=500.0, airspeed_m_s=8.0),
        Phase("descent", height_change_m=-40.0, climb_m_s=-1.0),
    ]
    together = mission_profile(ROTORS, masses, phases)
    assert together.power_w.shape == (3, 3)
    alone = [mission_profile(ROTORS, m, phases).power_w for m in masses]
    np.testing.assert_allclose(together.power_w, np.array(alone).T, rtol=1e-12)
    assert "vortex ring" in together.cautions[0]


REFUSED = [
    (WING, [], "no phases"),
    (
        WING,
        [Phase("a", duration_s=1.0, distance_m=2.0, airspeed_m_s=12.0)],
        r"phase 1 \(a\): one of",
    ),
    (
        WING,
        [Phase("a", distance_m=100.0, airspeed_m_s=12.0, headwind_m_s=13.0)],
        "makes no headway",
    ),
    (WING, [Phase("a", duration_s=10.0, airspeed_m_s=5.0)], "below the stall"),
    (WING, [Phase("a", duration_s=10.0)], "below the stall"),
    (WING, [Phase("a", "glide", 5.0)], 'kind is "glide"'),
    (WING, [Phase("a", "rest", -1.0)], "no sensible length"),
    (WING, [Phase("a", height_change_m=50.0, airspeed_m_s=12.0)], "no sensible length"),
    (WING, [Phase("a", duration_s=1.0, mass_change_g=-9000.0)], "mass dropped"),
    (WING, [Phase("a", duration_s=1.0, airspeed_m_s=12.0, gust_factor=0.5)], "gust_factor is 0.5"),
    (ROTORS, [Phase("a", height_change_m=-50.0, climb_m_s=-4.0)], "vortex ring"),
    (ROTORS, [Phase("a", duration_s=1.0, mass_change_g=30000.0)], "outside the thrust table"),
]


@pytest.mark.parametrize(("flight", "phases", "says"), REFUSED)
def test_what_cannot_be_flown_is_refused_in_a_sentence(flight, phases, says):
    with pytest.raises(InputError, match=says):
        mission_profile(flight, 2500.0, phases)


def test_survey_by_hand():
    # 100 m x 60 m at 20 m spacing: 3 legs, 2 steps; 10 m/s, wind 5: 2 legs at 5, 1 at 15, steps
    # across the wind at sqrt(75)
    found = survey(100.0, 60.0, 20.0, 10.0, 5.0, 2.0)
    assert (found.legs, found.distance_m, found.area_m2) == (3, 340.0, 6000.0)
    assert found.duration_s == pytest.approx(2 * 20 + 100 / 15 + 2 * (20 / 75**0.5 + 2))
    with pytest.raises(InputError, match="spacing_m: 0 is not possible"):
        survey(100.0, 60.0, 0.0, 10.0)
    with pytest.raises(InputError, match="wind_m_s is 10"):
        survey(100.0, 60.0, 20.0, 10.0, 10.0)
