"""One design in other situations: each is the design sized there, nothing else."""

from dataclasses import replace

import pytest

import workbook as wb
from tests.conftest import DESIGNS
from workbook.sizing.design import Allowances
from workbook.sizing.situations import situations
from workbook.sizing.size import size


def found(name):
    design = wb.read_design(DESIGNS / f"{name}.toml").design
    return design, {one.name: one for one in situations(design)}


@pytest.mark.parametrize("name", ["survey_six", "survey_wing"])
def test_each_situation_is_that_of_the_changed_design(name):
    design, here = found(name)
    alone = replace(design, today=None, mission=())
    minutes = {key: float(one.result.point.endurance_min) for key, one in here.items()}
    assert minutes["as planned"] == float(size(alone).point.endurance_min)
    cold = alone.changed(pack_temperature_c=0.0, air_temperature_c=0.0)
    assert minutes["air and cells at 0 °C"] == float(size(cold).point.endurance_min)
    high = alone.changed(field_height_m=3000.0)
    assert minutes["field at 3000 m"] == float(size(high).point.endurance_min)


def test_cold_and_age_never_lengthen_a_flight():
    for name in ("survey_six", "survey_wing", "light_quad"):
        _, here = found(name)
        minutes = {key: float(one.result.point.endurance_min) for key, one in here.items()}
        assert minutes["air and cells at -10 °C"] < minutes["air and cells at 0 °C"]
        assert minutes["pack after 300 cycles"] < minutes["pack after 100 cycles"]
        assert minutes["pack after 100 cycles"] < minutes["as planned"]


def test_a_wing_goes_less_far_against_the_wind_and_a_multirotor_spends_more():
    design, here = found("survey_wing")
    still = here["as planned"]
    speed = still.result.figures()["cruise_m_s"]
    # triangle of speeds: over ground it makes its airspeed less the wind
    assert here["headwind of 6 m/s"].range_km == pytest.approx(
        still.range_km * (speed - 6.0) / speed
    )
    design, here = found("survey_six")
    alone = replace(design, today=None, mission=())
    windy = here["wind and gusts, watts up by 15 %"].result.point.endurance_min
    assert windy == size(alone, Allowances(power_factor=1.15)).point.endurance_min


def test_a_craft_without_payload_has_no_rows_of_payload():
    design, _ = found("survey_six")
    names = [one.name for one in situations(design.changed(payload_g=0.0))]
    assert not [name for name in names if name.startswith("payload")]


def test_what_does_not_hold_says_why():
    _, here = found("survey_six")
    one = here["field at 3000 m"]
    assert not one.result.holds
    assert one.why in one.as_dict()["reasons"]
