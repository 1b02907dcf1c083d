"""What must hold for any craft: order and limits, over random figures."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.craft.flown import ROTORS, WING
from tests.published.measured_propellers import SLOW_FLY_10X47, bench_table
from workbook.craft.air import density_kg_m3
from workbook.craft.motor import Motor, run
from workbook.craft.rotor import climb, forward, hover
from workbook.craft.thrust_table import ThrustTable
from workbook.craft.voltage import TableDrive, drive_for
from workbook.craft.wing import Polar, level_flight, wing_speeds

THROTTLE = np.array([30.0, 40, 50, 60, 70, 80, 90, 100])
BENCH = bench_table(Motor(920.0, 96.0, 0.6), 7.57, THROTTLE)
DRIVES = [TableDrive(BENCH), drive_for(BENCH)]
thrusts = st.floats(80.0, 650.0)
volts = st.floats(5.5, 9.0)
densities = st.floats(0.6, 1.2)
masses = st.floats(1500.0, 5000.0)


@given(st.floats(-400, 10_000), st.floats(1, 500))
def test_higher_air_is_thinner(height, step):
    assert density_kg_m3(height + step) < density_kg_m3(height)


@pytest.mark.parametrize("drive", DRIVES, ids=["table", "motor"])
@given(thrusts, densities, st.floats(0.01, 0.4))
def test_thinner_air_never_lowers_hover_power(drive, thrust, density, less):
    # small coefficients at the ends are held, so a thousandth is left for the steps between them
    thick, thin = (drive.power_at_thrust(thrust, d) for d in (density, density * (1 - less)))
    assert thin >= thick * 0.999


@pytest.mark.parametrize("drive", DRIVES, ids=["table", "motor"])
@given(thrusts, st.floats(1.0, 1.5), volts, densities)
def test_more_thrust_never_needs_less_throttle_or_power(drive, thrust, more, supply, density):
    low, high = drive.throttle_for_thrust(np.array([thrust, thrust * more]), supply, density)
    assert np.isnan(low) or high >= low
    little, much = drive.power_at_thrust(np.array([thrust, thrust * more]), density)
    assert np.isnan(much) or np.isnan(little) or much >= little


@pytest.mark.parametrize("drive", DRIVES, ids=["table", "motor"])
@given(volts, st.floats(1.0, 1.4), densities)
def test_more_voltage_never_gives_less_thrust(drive, supply, more, density):
    low, high = drive.full_throttle(np.array([supply, supply * more]), density).thrust_gf
    assert high >= low


@pytest.mark.parametrize("drive", DRIVES, ids=["table", "motor"])
@given(thrusts, volts, densities)
def test_throttle_for_thrust_and_thrust_at_throttle_are_inverse(drive, thrust, supply, density):
    throttle = drive.throttle_for_thrust(thrust, supply, density)
    assume(np.isfinite(throttle))
    back = drive.at_throttle(throttle, supply, density).thrust_gf
    # the table drive is straight between rows at one voltage each: exact; the model settles
    assert float(back) == pytest.approx(thrust, rel=1e-6)


@st.composite
def tables(draw):
    """A thrust table whose exponent of power wanders between its rows, throttle as it comes."""
    rows = draw(st.integers(4, 9))
    steps = st.lists(st.floats(0.08, 0.6), min_size=rows - 1, max_size=rows - 1)
    thrust = 150.0 * np.exp(np.concatenate([[0.0], np.cumsum(draw(steps))]))
    slopes = draw(st.lists(st.floats(1.0, 2.4), min_size=rows - 1, max_size=rows - 1))
    log_w = np.concatenate([[0.0], np.cumsum(np.array(slopes) * np.diff(np.log(thrust)))])
    power = draw(st.floats(8.0, 30.0)) * np.exp(log_w)
    throttle = np.cumsum(draw(st.lists(st.floats(2, 20), min_size=rows, max_size=rows)))
    throttle = throttle / throttle[-1] * 100.0
    volts = draw(st.floats(10.0, 25.0)) * (1.0 - 0.03 * throttle / 100)
    return ThrustTable(
        "m", "p", thrust, power / volts, volts, power, throttle, np.full(rows, np.nan)
    )


@given(tables(), st.floats(0.0, 1.0), st.floats(0.7, 1.25), densities)
def test_power_at_a_throttle_and_throttle_at_a_power_are_inverse(table, place, share, density):
    """Whatever the exponent of the table between its rows."""
    drive = TableDrive(table)
    low, supply = float(table.throttle_pct[0]), share * float(table.voltage_v[0])
    throttle = low + place * (100.0 - low)
    point = drive.at_throttle(throttle, supply, density)
    back = drive.at_power(point.power_w, supply, density)
    assert float(back.throttle_pct) == pytest.approx(throttle, rel=1e-7)
    assert float(back.thrust_gf) == pytest.approx(float(point.thrust_gf), rel=1e-9)
    more_w = 1.001 * float(drive.full_throttle(supply, density).power_w)
    more = drive.at_power(more_w, supply, density)
    assert more.beyond
    assert more.throttle_pct == np.inf


@given(st.floats(5.0, 100.0), volts, densities)
def test_the_motor_drives_power_and_throttle_are_inverse(throttle, supply, density):
    drive = drive_for(BENCH)
    point = drive.at_throttle(throttle, supply, density)
    back = drive.at_power(point.power_w, supply, density)
    assert float(back.throttle_pct) == pytest.approx(throttle, rel=1e-7)
    assert float(back.thrust_gf) == pytest.approx(float(point.thrust_gf), rel=1e-9)
    more_w = 1.001 * float(drive.full_throttle(supply, density).power_w)
    more = drive.at_power(more_w, supply, density)
    assert more.beyond
    assert more.throttle_pct == np.inf


@given(
    st.floats(300, 1500),
    st.floats(10, 300),
    st.floats(0.05, 2.0),
    st.floats(4, 26),
    st.floats(0.0, 1.0),
    st.floats(0.6, 1.3),
)
def test_energy_is_never_made(kv, mohm, idle, supply, duty, density):
    point = run(Motor(kv, mohm, idle), SLOW_FLY_10X47, supply, duty, density)
    assume(point.speed_rpm > 0)
    assert point.motor.shaft_power_w <= point.power_w
    amps = (duty * supply - point.speed_rpm / kv) / (mohm / 1000)  # Ohm's law, the other way round
    assert float(amps) == pytest.approx(float(point.motor.current_a), rel=1e-5)


@given(st.floats(1, 300), st.floats(0.05, 3), st.floats(0.6, 1.3), st.floats(0, 20))
def test_climb_at_no_rate_and_flight_at_no_speed_are_hover(thrust, area, density, rate):
    still = hover(thrust, area, density)
    assert float(climb(thrust, area, 0.0, density).ideal_power_w) == pytest.approx(
        float(still.ideal_power_w), rel=1e-12
    )
    level = forward(thrust, area, 0.0, 0.05, density)
    assert float(level.disc.ideal_power_w) == pytest.approx(float(still.ideal_power_w), rel=1e-9)
    # climbing costs at least the height gained
    assert climb(thrust, area, rate, density).ideal_power_w >= thrust * rate


@given(masses)
def test_cruise_at_no_speed_equals_hover(mass):
    assert float(ROTORS.flight_w(mass, 0.0, 0.0)) == pytest.approx(
        float(ROTORS.hover_w(mass)), rel=1e-9
    )


@given(masses, st.floats(0, 15), st.floats(0, 5), st.floats(1.0, 1.5))
def test_more_mass_or_more_climb_never_costs_less(mass, speed, rate, more):
    base = ROTORS.flight_w(mass, speed, rate)
    assert ROTORS.flight_w(mass, speed, rate * more) >= base * (1 - 1e-9)
    assert ROTORS.flight_w(mass * more, 0.0, rate) >= ROTORS.flight_w(mass, 0.0, rate)


@given(masses, st.floats(8, 25), st.floats(0, 5), st.floats(1.0, 1.5))
def test_a_heavier_wing_never_costs_less(mass, speed, rate, more):
    light, heavy = (WING.flight_w(m, speed, rate) for m in (mass, mass * more))
    assert np.isnan(heavy) or heavy >= light


@given(
    st.floats(0.1, 1.5),
    st.floats(1.0, 4.0),
    st.floats(0.015, 0.08),
    st.floats(0.5, 1.0),
    st.floats(0.8, 1.6),
    masses,
    st.floats(1.0, 2.5),
)
def test_no_speed_beats_the_best_ones(area, span, drag, oswald, lift, mass, factor):
    polar = Polar(area, span, drag, oswald, lift)
    speeds = wing_speeds(polar, mass)
    assert speeds.stall_m_s <= speeds.endurance_m_s <= speeds.range_m_s
    any_speed = speeds.stall_m_s * factor
    best = level_flight(polar, mass, speeds.endurance_m_s).drag_power_w
    assert level_flight(polar, mass, any_speed).drag_power_w >= best * (1 - 1e-12)
    assert level_flight(polar, mass, any_speed).lift_over_drag <= polar.best_glide * (1 + 1e-12)
