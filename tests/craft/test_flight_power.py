"""Power of both craft types in steady flight against momentum theory and the drag polar by hand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.craft.flown import AREA, MASS_G, POWER, ROTORS, TABLE, THRUST, WEIGHT_N, WING
from workbook.craft.climb import stream_of
from workbook.craft.craft_types import Multirotor
from workbook.craft.flight_power import MultirotorPower, WingPower, best_speeds
from workbook.craft.rotor import climb, forward, hover
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError


def test_hover_is_the_tables():
    by_hand = 6 * 100 * (600 / 900) ** 1.5 * 1.1 + 12
    assert float(ROTORS.flight_w(MASS_G)) == pytest.approx(by_hand, rel=1e-9)
    assert float(ROTORS.hover_w(MASS_G)) == pytest.approx(by_hand, rel=1e-9)
    assert float(ROTORS.rest_w(MASS_G)) == 12.0
    assert float(replace(ROTORS, take_off_w=900.0).launch_w(MASS_G)) == 900.0


def test_climb_costs_all_power_by_what_the_slowest_propeller_takes_in_its_stream():
    """By hand: at a share s of its thrust at rest power is that of rest x p(s), at a speed of rotation higher
    by 1/sqrt(s), so p(s) / s^1.5 times hover's; never under the momentum ratio. The flight factor of 1.1
    counts as thrust higher by its power of 2/3."""
    stream = stream_of("15x5")
    still = float(hover(WEIGHT_N, AREA).induced_m_s) * 1.1 ** (1 / 3)
    share = brentq(lambda s: float(stream.speed(s)) / s**0.5 * still - 3.0, 0.05, 1.0)
    ratio = float(stream.power_share(share)) / share**1.5
    motors = float(ROTORS.flight_w(MASS_G)) - 12
    taken = float(ROTORS.flight_w(MASS_G, 0.0, 3.0))
    assert taken == pytest.approx(motors * ratio + 12, rel=2e-3)
    assert ratio > float(climb(WEIGHT_N, AREA, 3.0).power_ratio)


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


def test_a_table_that_beats_momentum_is_refused_with_its_row():
    power = POWER * 0.3
    wrong = ThrustTable(
        "m",
        "15x5",
        THRUST,
        power / 22.2,
        THRUST * 0 + 22.2,
        power,
        TABLE.throttle_pct,
        THRUST * np.nan,
        tuple(range(2, 8)),
        "bench.csv",
    )
    craft = MultirotorPower(
        Multirotor(
            name="six",
            rotors=6,
            mass_without_pack_g=2100.0,
            payload_g=350.0,
            table=wrong,
            avionics_w=12.0,
        )
    )
    with pytest.raises(InputError, match=r"bench.csv, row 2: .*figure of merit"):
        craft.flight_w(MASS_G, 5.0)


def test_climb_needs_a_diameter():
    nameless = ThrustTable(
        "m",
        "two-blade",
        THRUST,
        POWER / 22.2,
        THRUST * 0 + 22.2,
        POWER,
        TABLE.throttle_pct,
        THRUST * np.nan,
    )
    craft = Multirotor(
        name="six",
        rotors=6,
        mass_without_pack_g=2100.0,
        payload_g=350.0,
        table=nameless,
        avionics_w=12.0,
    )
    with pytest.raises(InputError, match="diameter"):
        MultirotorPower(craft).flight_w(MASS_G, 5.0)
    assert np.isfinite(MultirotorPower(craft).flight_w(MASS_G))  # hover needs none


def test_no_best_speed_against_a_storm():
    with pytest.raises(InputError, match="no airspeed up to 240"):
        best_speeds(WING, 2500.0, 300.0)


def test_a_fast_wing_is_looked_at_beyond_the_usual_speeds():
    """At the same lift coefficient speed goes with the root of the mass: 25 times the mass, 5 times as fast."""
    glider = WingPower(replace(WING.craft, avionics_w=0.0))
    light, heavy = best_speeds(glider, 2500.0), best_speeds(glider, 25 * 2500.0)
    assert heavy.range_m_s == pytest.approx(5 * light.range_m_s, abs=0.03)
