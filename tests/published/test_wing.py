"""The drag polar against closed forms and a numerical search.

No worked example with printed figures that could be read was found for an electric model (Traub,
Journal of Aircraft 48(2), 2011, prints some that were not visible here), so these are the closed
forms of the same equations, a minimiser run over them, and scaling laws.
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from workbook.craft.craft_types import FixedWing
from workbook.craft.flight_power import WingPower, best_speeds
from workbook.craft.wing import (
    Polar,
    level_flight,
    polar_from_cruise,
    polar_from_glide,
    wing_speeds,
)
from workbook.errors import InputError

# large C_L so that the stall is out of the way of the closed forms
POLAR = Polar(0.4, 2.0, 0.03, 0.8, 3.0)
MASS_G = 2500.0


def test_level_flight_by_hand():
    # 2.5 kg at 12 m/s, 1.225 kg/m3, 0.4 m2: q S = 35.28 N, C_L = 0.69492,
    # C_D = 0.03 + 0.69492^2 / (pi 0.8 10) = 0.049215, D = 1.73628 N
    flight = level_flight(POLAR, MASS_G, 12.0, 1.225)
    assert float(flight.lift_coefficient) == pytest.approx(0.694922, rel=1e-5)
    assert float(flight.drag_n) == pytest.approx(1.73628, rel=1e-5)
    assert float(flight.drag_power_w) == pytest.approx(12 * 1.73628, rel=1e-5)


def test_best_speeds_are_where_a_minimiser_finds_them():
    speeds = wing_speeds(POLAR, MASS_G)
    for best, what in ((speeds.range_m_s, "drag_n"), (speeds.endurance_m_s, "drag_power_w")):
        found = minimize_scalar(
            lambda v, what=what: float(getattr(level_flight(POLAR, MASS_G, v), what)),
            bounds=(6, 30),
            method="bounded",
            options={"xatol": 1e-9},
        )
        assert float(best) == pytest.approx(found.x, rel=1e-5)


def test_ratio_of_the_best_speeds():
    # closed form: 3^(1/4); and the best glide 1 / (2 sqrt(K C_D0)) at the range speed
    speeds = wing_speeds(POLAR, MASS_G)
    assert float(speeds.range_m_s / speeds.endurance_m_s) == pytest.approx(3**0.25, rel=1e-12)
    glide = level_flight(POLAR, MASS_G, speeds.range_m_s).lift_over_drag
    assert float(glide) == pytest.approx(float(POLAR.best_glide), rel=1e-12)


def test_a_fifth_more_mass():
    # same lift coefficient: speed as sqrt(mass), power as mass^1.5: +9.5 % and +31 %
    light, heavy = (wing_speeds(POLAR, m).range_m_s for m in (MASS_G, 1.2 * MASS_G))
    assert float(heavy / light) == pytest.approx(1.0954, abs=1e-4)
    power = [
        level_flight(POLAR, m, v).drag_power_w for m, v in ((MASS_G, light), (1.2 * MASS_G, heavy))
    ]
    assert float(power[1] / power[0]) == pytest.approx(1.3145, abs=1e-4)


def test_stall_holds_the_weight_at_the_largest_lift():
    polar = Polar(0.4, 2.0, 0.03, 0.8, 1.2)
    stall = wing_speeds(polar, MASS_G).stall_m_s
    assert 0.5 * 1.225 * float(stall) ** 2 * 0.4 * 1.2 == pytest.approx(2.5 * 9.80665, rel=1e-6)
    assert np.isnan(level_flight(polar, MASS_G, stall * 0.999).drag_n)
    assert np.isfinite(level_flight(polar, MASS_G, stall).drag_n)


def test_a_measured_glide_gives_the_polar_back():
    speeds = wing_speeds(POLAR, MASS_G)
    again = polar_from_glide(0.4, 2.0, 3.0, MASS_G, POLAR.best_glide, speeds.range_m_s)
    assert float(again.zero_lift_drag) == pytest.approx(0.03, rel=1e-9)
    assert float(again.oswald_efficiency) == pytest.approx(0.8, rel=1e-9)


def test_a_measured_cruise_gives_the_polar_back():
    watts = level_flight(POLAR, MASS_G, 13.0).drag_power_w / 0.5
    again = polar_from_cruise(0.4, 2.0, 3.0, MASS_G, 13.0, watts, 0.5, 0.8)
    assert float(again.zero_lift_drag) == pytest.approx(0.03, rel=1e-9)


def test_a_glide_or_cruise_too_good_to_be_true_is_refused():
    with pytest.raises(InputError, match="best glide of 40 at 9 m/s"):
        polar_from_glide(0.4, 2.0, 1.2, MASS_G, 40.0, 9.0)
    with pytest.raises(InputError, match="cruise at 12 m/s on 5 W"):
        polar_from_cruise(0.4, 2.0, 1.2, MASS_G, 12.0, 5.0, 0.5)


def test_best_speeds_with_electronics_and_wind_by_a_minimiser():
    wing = WingPower(
        FixedWing(
            name="heron",
            motors=1,
            mass_without_pack_g=1600.0,
            payload_g=250.0,
            avionics_w=8.0,
            polar=POLAR,
        )
    )
    for wind in (-4.0, 0.0, 6.0):
        best = best_speeds(wing, MASS_G, wind)
        found = minimize_scalar(
            lambda v, wind=wind: float(wing.flight_w(MASS_G, v)) / (v - wind),
            bounds=(max(wind, 0) + 2, 30),
            method="bounded",
        )
        assert best.range_m_s == pytest.approx(found.x, abs=0.011)
        assert best.energy_wh_km == pytest.approx(found.fun / 3.6, rel=1e-5)
    # into the wind fly faster, with it slower
    speeds = [best_speeds(wing, MASS_G, wind).range_m_s for wind in (-4.0, 0.0, 6.0)]
    assert speeds == sorted(speeds)
