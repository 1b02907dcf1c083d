"""Momentum theory against worked cases and against the equations solved by a root finder.

Leishman, Principles of Helicopter Aerodynamics, chapter 2; Glauert, ARC R&M 1111 (1926).
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from workbook.craft.rotor import climb, disc_area_m2, forward, hover, motor_out
from workbook.errors import InputError

WEIGHT_N = 1.5 * 9.80665
AREA_M2 = disc_area_m2(0.254, 4)  # four discs of 10 in


def test_hover_of_four_ten_inch_discs():
    # 1.5 kg at 1.225 kg/m3; by hand from v = sqrt(T / (2 rho A))
    still = hover(WEIGHT_N, AREA_M2, 1.225)
    assert float(AREA_M2) == pytest.approx(0.2026830, rel=1e-6)
    assert float(still.induced_m_s) == pytest.approx(5.442698, rel=1e-6)
    assert float(still.ideal_power_w) == pytest.approx(80.06196, rel=1e-6)


def test_ideal_grams_per_watt():
    # trade rule worked by hand: 2 kg on four 10 in discs lifts 16.2 g/W at best
    power = hover(2 * 9.80665, AREA_M2, 1.225).ideal_power_w
    assert 2000 / float(power) == pytest.approx(16.2, abs=0.05)


def test_tiltrotor_in_hover():
    # 45 000 lb on two 38 ft rotors, figure of merit 0.75, 5 % lost in the transmission; problem of
    # Leishman, chapter 2 (from memory), 64.587 ft/s, 2642.2 hp a rotor, 7398 hp, worked by hand
    pound_n, foot_m, horsepower_w = 4.4482216, 0.3048, 745.6999
    still = hover(
        22_500 * pound_n, disc_area_m2(38 * foot_m), 0.002378 * 515.3788
    )  # one rotor; slug/ft3 to kg/m3
    assert float(still.induced_m_s) / foot_m == pytest.approx(64.587, rel=1e-4)
    ideal_hp = float(still.ideal_power_w) / horsepower_w
    assert ideal_hp == pytest.approx(2642.2, rel=1e-4)
    assert 2 * ideal_hp / 0.75 * 1.05 == pytest.approx(7398, rel=1e-3)


def test_a_helicopter_climbs_as_the_textbook_says():
    # Houghton and Carpenter, Aerodynamics for Engineering Students, chapter 9 exercise: 600 kW,
    # 16 m, 170 N/m2, 53 % of power at the disc; book answer 110 m/min (from memory)
    area = disc_area_m2(16.0)
    thrust = 170 * area
    rate = brentq(lambda v: float(climb(thrust, area, v).ideal_power_w) - 0.53 * 600e3, 0, 10)
    assert rate * 60 == pytest.approx(110, rel=0.01)


def test_climb_sweep():
    rates = np.array([1.0, 2.0, 3.0, 5.0, 8.0])
    disc = climb(WEIGHT_N, AREA_M2, rates, 1.225)
    np.testing.assert_allclose(
        disc.ideal_power_w, [87.7541, 96.1121, 105.1118, 124.8789, 158.1981], rtol=2e-6
    )
    np.testing.assert_allclose(
        disc.induced_m_s, [4.965617, 4.533802, 4.145615, 3.489405, 2.754477], rtol=1e-6
    )
    golden = climb(WEIGHT_N, AREA_M2, hover(WEIGHT_N, AREA_M2).induced_m_s)
    assert float(golden.power_ratio) == pytest.approx((1 + 5**0.5) / 2, rel=1e-12)


def test_level_disc_in_forward_flight():
    still = float(hover(WEIGHT_N, AREA_M2).induced_m_s)
    flight = forward(WEIGHT_N, AREA_M2, still * np.array([0.5, 1, 2, 3, 5]))
    np.testing.assert_allclose(
        flight.disc.induced_m_s / still,
        [0.939565, 0.786151, 0.485868, 0.331319, 0.199840],
        rtol=3e-6,
    )


@pytest.mark.parametrize(
    ("speed", "drag_n", "induced", "power"),
    [
        (5.0, 0.5, 4.384064, 67.02671),
        (10.0, 2.0, 2.784656, 61.33909),
        (15.0, 4.5, 1.974196, 97.86885),
    ],
)
def test_tilted_disc_with_body_drag(speed, drag_n, induced, power):
    # worked by hand from Glauert's equation, 1.5 kg on four 10 in discs
    flight = forward(WEIGHT_N, AREA_M2, speed, drag_n / (0.5 * 1.225 * speed**2), 1.225)
    assert float(flight.disc.induced_m_s) == pytest.approx(induced, rel=1e-6)
    assert float(flight.disc.ideal_power_w) == pytest.approx(power, rel=1e-6)
    # by hand: the disc tilts by what drag is to weight, and carries both
    assert float(flight.tilt_deg) == pytest.approx(np.degrees(np.arctan(drag_n / WEIGHT_N)))
    assert float(flight.thrust_n) == pytest.approx(np.hypot(drag_n, WEIGHT_N))


def test_glauert_against_a_root_finder():
    # reference: scipy.optimize.brentq on v sqrt((V cos a)^2 + (V sin a + v)^2) = v_hover^2
    rng = np.random.default_rng(3)
    for _ in range(100):
        weight, area = rng.uniform(2, 200), rng.uniform(0.05, 3)
        speed, drag_area = rng.uniform(0, 30), rng.uniform(0, 0.1)
        flight = forward(weight, area, speed, drag_area)
        tilt = np.radians(float(flight.tilt_deg))
        square = float(flight.thrust_n) / (2 * 1.225 * area)

        def gap(v, speed=speed, tilt=tilt, square=square):
            return v * np.hypot(speed * np.cos(tilt), speed * np.sin(tilt) + v) - square

        root = brentq(gap, 0, 100, xtol=1e-13)
        assert float(flight.disc.induced_m_s) == pytest.approx(root, rel=1e-7, abs=1e-10)


def test_disc_moving_along_its_axis():
    # T = 14.71 N, A = 0.2027 m2, 15 m/s: 246.6372 W, printed by a general aircraft-design library
    disc = climb(14.71, 0.2027, 15.0, 1.225)
    assert float(disc.ideal_power_w) == pytest.approx(246.6372, rel=1e-4)


def test_the_vortex_ring_is_not_given_a_figure():
    still = float(hover(WEIGHT_N, AREA_M2).induced_m_s)
    sink = climb(WEIGHT_N, AREA_M2, -still * np.array([0.2, 0.49, 0.6, 1.0, 1.9, 2.5]))
    assert np.isnan(sink.ideal_power_w).tolist() == [False, False, True, True, True, False]


def test_the_windmill_slows_the_air_that_comes_up_through_it():
    """Leishman, chapter 2, V_c / v_h <= -2: v_i / v_h = -x - sqrt(x^2 - 1) with x = V_c / (2 v_h).

    Momentum: T = -2 rho A (V_c + v_i) v_i gives v^2 + 2 x v + 1 = 0 (speeds in v_h), whose roots at
    x = -1.25 are 0.5 and 2. Far above the rotor the air moves with V_c + 2 v_i: with 0.5 that is -1.5,
    upwards as the flow that arrives; with 2 it is +1.5, a wake that turns back, which no windmill has.
    So P / P_h = 2 x + 0.5 = x - sqrt(x^2 - 1) = -2.
    """
    still = float(hover(WEIGHT_N, AREA_M2).induced_m_s)
    sink = climb(WEIGHT_N, AREA_M2, still * np.array([-2.0, -2.5, -4.0]))
    np.testing.assert_allclose(sink.power_ratio[1], -2.0, rtol=1e-12)
    np.testing.assert_allclose(sink.induced_m_s[1] / still, 0.5, rtol=1e-12)
    x = np.array([-1.0, -1.25, -2.0])
    np.testing.assert_allclose(sink.induced_m_s / still, -x - np.sqrt(x**2 - 1), rtol=1e-12)
    # the faster it sinks, the less it can slow the air, and the more power it would give back
    assert (np.diff(sink.induced_m_s) < 0).all()
    assert (np.diff(sink.ideal_power_w) < 0).all()


def test_six_rotors_with_one_out_by_hand():
    # forces and moments by hand: the opposite rotor stops, each of four carries a quarter,
    # power 4 (1/4)^1.5 over 6 (1/6)^1.5 = sqrt(6/4)
    out = motor_out(6, 4000.0, np.array([900.0, 1100.0]))
    np.testing.assert_allclose(out.share, [0, 0.25, 0.25, 0, 0.25, 0.25], atol=1e-12)
    assert out.possible.tolist() == [False, True]
    assert out.power_ratio == pytest.approx(1.5**0.5, rel=1e-12)


@pytest.mark.parametrize("rotors", [6, 8, 10, 12])
def test_one_out_stays_balanced(rotors):
    share = motor_out(rotors, 1000.0, 1000.0).share
    angle = 2 * np.pi * np.arange(rotors) / rotors
    assert share[0] == 0
    assert (share >= 0).all()
    moments = [share @ np.cos(angle), share @ np.sin(angle), share @ (-1.0) ** np.arange(rotors)]
    np.testing.assert_allclose([share.sum(), *moments], [1, 0, 0, 0], atol=1e-9)


@pytest.mark.parametrize("rotors", [4, 3, 7])
def test_too_few_rotors_are_told_plainly(rotors):
    with pytest.raises(InputError, match=f"rotors is {rotors}"):
        motor_out(rotors, 1000.0, 1000.0)
