"""What it would pay most to measure: what then is surer, by the budget's own draws."""

from dataclasses import replace

import workbook as wb
from tests.conftest import DESIGNS
from workbook.sizing.design import Origin
from workbook.sizing.flight_times import flight_times
from workbook.sizing.measuring import WorthMeasuring, worth_measuring

SIX, WING = (wb.read_design(DESIGNS / f"survey_{name}.toml").design for name in ("six", "wing"))


def with_origins(design, *origins):
    return replace(design, origins=origins)


def test_the_gain_is_that_of_the_design_with_the_figure_measured():
    first = worth_measuring(SIX)[0]
    assert first.key == "flight_factor"
    plan_min = float(wb.operate(SIX).endurance_min)
    then = flight_times(with_origins(SIX, Origin("flight_factor", "measured", 5.0)), plan_min)
    assert first.measured_low_min == then.endurance_p05_min
    assert first.low_min == flight_times(SIX, plan_min).endurance_p05_min


def test_what_is_assumed_pays_more_than_it_did():
    before = {one.key: one.measured_low_min - one.low_min for one in worth_measuring(SIX, 20)}
    assumed = with_origins(SIX, Origin("avionics_w", "assumed"))
    after = {one.key: one.measured_low_min - one.low_min for one in worth_measuring(assumed, 20)}
    assert after["avionics_w"] > before["avionics_w"]


def test_what_is_measured_is_not_asked_for_again():
    known = with_origins(SIX, Origin("flight_factor", "measured", 5.0))
    assert "flight_factor" not in {one.key for one in worth_measuring(known, 20)}
    assert "thrust_table" not in {one.key for one in worth_measuring(known, 20)}


def test_a_wing_is_advised_to_measure_its_cruise():
    assert worth_measuring(WING)[0].key == "cruise_power_w"


def test_at_most_so_many_the_best_first():
    found = worth_measuring(SIX, 2)
    assert len(found) == 2
    assert found[0].measured_low_min >= found[1].measured_low_min


def test_a_craft_that_does_not_fly_has_none():
    assert worth_measuring(SIX.changed(payload_g=50_000.0)) == ()


def test_a_gain_that_cannot_be_seen_in_print_is_none():
    assert all(one.gains for one in worth_measuring(SIX, 20))
    assert not WorthMeasuring("joint_mohm", "joints", 12.71, 12.79).gains  # both read 12.7 min
    assert WorthMeasuring("joint_mohm", "joints", 12.79, 12.81).gains
