"""Test flights against a design: what they say, and how surely."""

from dataclasses import replace

import numpy as np
import pytest

import workbook as wb
from tests.conftest import DESIGNS
from workbook.files.design_file import measured
from workbook.sizing.calibration import Readings, TestFlight, calibrate

SIX, WING = (
    wb.read_design(DESIGNS / "survey_six.toml"),
    wb.read_design(DESIGNS / "survey_wing.toml"),
)
AS_FLOWN_G = float(SIX.design.craft.all_up_mass_g(SIX.design.today.pack.mass_g))


def bench_w(design, mass_g):
    """All motors by the thrust table, power as thrust^1.5 between the rows around: a hand calculation."""
    table, rotors = design.craft.table, design.craft.rotors
    thrust = mass_g / rotors
    low = np.searchsorted(table.thrust_gf, thrust) - 1
    t, p = table.thrust_gf[low : low + 2], table.power_w[low : low + 2]
    slope = np.log(p[1] / p[0]) / np.log(t[1] / t[0])
    return rotors * p[0] * (thrust / t[0]) ** slope


def flown(pack, power_w, minutes, rng=None, volts=1.0):
    """Charge taken by a constant power, stepped second by second: not the project's own integral."""
    model, charge_ah, whole = pack.cell.model, 0.0, pack.parallel * pack.cell.model.capacity_ah
    for _ in range(round(minutes * 60.0)):
        depth = charge_ah / whole
        u = volts * np.interp(depth, model.depth_of_discharge, model.open_circuit_v) * pack.series
        r = np.interp(depth, model.depth_of_discharge, model.resistance_mohm) / 1000.0
        r = r * pack.series / pack.parallel + pack.joint_mohm / 1000.0
        charge_ah += power_w / (0.5 * (u + np.sqrt(u * u - 4.0 * power_w * r))) / 3600.0
    return charge_ah


@pytest.mark.parametrize("factor", [1.05, 1.2, 1.35])
def test_the_charge_put_back_gives_the_factor_that_was_flown(factor):
    design = SIX.design
    power_w = bench_w(design, AS_FLOWN_G) * factor + design.craft.avionics_w
    charge_ah = flown(design.today.pack, power_w, 12.0)
    found = calibrate(design, [TestFlight(AS_FLOWN_G, design.today.pack, 12.0, charge_ah)])
    assert found.measured_w[0] == pytest.approx(power_w, rel=1e-3)
    assert found.ratio == pytest.approx(factor, rel=2e-3)
    assert 0.0 <= found.changes["flight_factor"] - found.ratio <= 0.001  # up: the safe side


def drawn_flights(rng, factor, count):
    """Test flights as somebody writes them down whose readings are off as `Readings` says."""
    design, may = SIX.design, Readings()
    pack, one = design.today.pack, lambda pct: rng.normal(0.0, pct / 100.0 / 1.96)
    scale, charger, volts, electronics = (
        1.0 + one(pct) for pct in (may.mass_pct, may.charge_pct, may.energy_pct, may.avionics_pct)
    )
    flights = []
    for _ in range(count):
        motors_w = bench_w(design, AS_FLOWN_G / scale) * factor * (1.0 + one(may.steadiness_pct))
        power_w = motors_w + design.craft.avionics_w * electronics
        charge = flown(pack, power_w, 10.0, volts=volts) * charger
        minutes = 10.0 + rng.normal(0.0, may.time_s / 60.0 / 1.96)
        flights.append(TestFlight(AS_FLOWN_G, pack, minutes, charge))
    return flights


@pytest.mark.parametrize("count", [1, 3])
def test_the_stated_interval_covers_the_truth_in_95_of_100(count):
    rng, inside, draws = np.random.default_rng(99), 0, 200
    for _ in range(draws):
        factor = rng.uniform(1.05, 1.3)
        found = calibrate(SIX.design, drawn_flights(rng, factor, count))
        inside += abs(found.ratio - factor) <= found.uncertainty
    assert 0.90 <= inside / draws <= 0.98


def test_more_flights_leave_less_open_but_never_less_than_the_instruments():
    flight = TestFlight(AS_FLOWN_G, SIX.design.today.pack, 21.0, 5.6)
    one, many = (calibrate(SIX.design, [flight] * count) for count in (1, 50))
    assert many.uncertainty < one.uncertainty
    # charger 3 % and voltage 2 % together, of a power of which 14 W are not the motors'
    least = np.hypot(3.0, 2.0) / 100.0 * one.ratio * one.measured_w[0] / (one.measured_w[0] - 14.0)
    assert many.uncertainty > least
    assert sum(one.shares_pct.values()) == pytest.approx(100.0)


def test_a_watt_meter_and_a_current_sensor_say_the_same():
    watts = calibrate(SIX.design, [TestFlight(AS_FLOWN_G, power_w=371.0)])
    amperes = calibrate(
        SIX.design, [TestFlight(AS_FLOWN_G, current_a=371.0 / 23.0, voltage_v=23.0)]
    )
    assert watts.ratio == pytest.approx(amperes.ratio)


def test_the_plan_made_with_it_meets_the_flight():
    found = calibrate(SIX.design, [TestFlight(AS_FLOWN_G, power_w=400.0)])
    after = replace(SIX.design, pack=SIX.design.today.pack).changed(**found.changes)
    assert wb.operate(after).power_w == pytest.approx(400.0, rel=1e-3)
    part = measured(SIX.part, found.changes, found.origin)
    assert part.craft.flight_factor == found.changes["flight_factor"]
    assert part.origins["flight_factor"].origin == "measured"


def test_a_wings_cruise_becomes_what_tells_its_drag():
    design, speed = WING.design, 14.0
    mass_g = float(design.craft.all_up_mass_g(design.pack.mass_g))
    found = calibrate(design, [TestFlight(mass_g, power_w=95.0, airspeed_m_s=speed)])
    assert found.changes["cruise_power_w"] == pytest.approx(95.0, abs=0.1)
    assert found.changes["cruise_power_mass_g"] == pytest.approx(mass_g)


@pytest.mark.parametrize(
    ("flight", "says"),
    [
        (TestFlight(AS_FLOWN_G), "none of them is given"),
        (TestFlight(AS_FLOWN_G, power_w=300.0, current_a=3.0, voltage_v=20.0), "2 of them are"),
        (TestFlight(AS_FLOWN_G, time_min=14.0, charge_ah=6.0), "need the pack"),
        (TestFlight(AS_FLOWN_G, SIX.design.today.pack, 14.0, 61.0), "cannot come out of a pack"),
        (TestFlight(AS_FLOWN_G, SIX.design.today.pack, 0.01, 6.1), "cannot give"),
        (TestFlight(AS_FLOWN_G, power_w=-3.0), "power_w: -3 is not possible"),
        (TestFlight(AS_FLOWN_G, power_w=9.0), "no more than the electronics alone"),
        (TestFlight(AS_FLOWN_G * 100, power_w=300.0), "does not fly by its figures"),
    ],
)
def test_what_cannot_be_used_is_refused_in_a_sentence(flight, says):
    with pytest.raises(wb.InputError, match=says):
        calibrate(SIX.design, [flight])
    with pytest.raises(wb.InputError, match="one at least"):
        calibrate(SIX.design, [])


def test_a_wing_needs_its_airspeed():
    with pytest.raises(wb.InputError, match="needs its airspeed"):
        calibrate(WING.design, [TestFlight(2900.0, power_w=90.0)])


@pytest.mark.parametrize(
    ("charge_ah", "says"), [((6.9,), "more than the usual"), ((3.2,), "less than the usual")]
)
def test_what_is_implausible_is_stated(charge_ah, says):
    flights = [TestFlight(AS_FLOWN_G, SIX.design.today.pack, 16.0, ah) for ah in charge_ah]
    assert says in calibrate(SIX.design, flights).doubts[0]


def test_flights_that_differ_too_much_are_reported():
    pack = SIX.design.today.pack
    flights = [TestFlight(AS_FLOWN_G, pack, 21.0, ah) for ah in (5.2, 6.4)]
    assert "differ by" in calibrate(SIX.design, flights).doubts[0]
    assert not calibrate(SIX.design, flights[:1]).doubts
