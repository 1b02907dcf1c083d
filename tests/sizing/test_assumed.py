"""What a verdict counts on where figures are assumed."""

from dataclasses import replace

import pytest

import workbook as wb
from tests.conftest import DESIGNS
from workbook.sheet.text import verdict_text
from workbook.sizing.assumed import unsure_text
from workbook.sizing.design import Origin
from workbook.sizing.origins import BEARINGS
from workbook.sizing.size import size

SIX = wb.read_design(DESIGNS / "survey_six.toml").design


def guessed(design, *keys):
    return replace(design, origins=tuple(Origin(key, "assumed") for key in keys))


def test_a_design_with_nothing_assumed_is_shown_as_before():
    assert unsure_text(SIX) == ""
    assert "Assumed" not in verdict_text(size(SIX))
    measured = replace(SIX, origins=(Origin("mass_without_pack_g", "measured", 1.0),))
    assert size(measured).verdict == size(SIX).verdict


def test_what_holds_with_its_guess_at_the_far_end_holds_and_names_it():
    result = size(guessed(SIX, "payload_g"))
    # 15 % of the payload more, put in by hand, breaks nothing
    assert size(SIX.changed(payload_g=1.15 * SIX.craft.payload_g)).kept
    assert result.holds
    assert "Assumed, not measured: payload. Even if all are off the wrong way" in verdict_text(
        result
    )


def test_what_breaks_at_the_far_end_is_not_yet_and_says_what_to_measure():
    heavy = SIX.changed(max_all_up_mass_g=1.03 * float(size(SIX).point.all_up_mass_g))
    assert size(heavy).holds
    result = size(guessed(heavy, "mass_without_pack_g"))
    by_hand = size(heavy.changed(mass_without_pack_g=1.08 * SIX.craft.mass_without_pack_g))
    assert [limit.key for limit in by_hand.broken] == ["all_up_mass"]
    assert (result.verdict, result.holds, result.broken) == ("not yet", False, ())
    assert "craft without pack by 8 %" in result.unsure
    assert "the limit of all-up mass would be broken" in result.unsure
    assert result.unsure in result.reasons
    assert verdict_text(result) == f"NOT YET: {result.unsure}"
    assert result.as_dict()["unsure"] == result.unsure


def test_the_one_figure_that_would_settle_it_is_named():
    heavy = SIX.changed(max_all_up_mass_g=1.03 * float(size(SIX).point.all_up_mass_g))
    text = unsure_text(guessed(heavy, "avionics_w", "mass_without_pack_g"))
    assert text.endswith("With craft without pack known, none would: begin there.")


def test_a_guessed_capacity_is_held_against_less_charge():
    design = wb.read_design(DESIGNS / "survey_six_mission.toml").design.changed(reserve_pct=55.0)
    (charge,) = (limit for limit in size(design).limits if limit.key == "mission_charge")
    assert 0.0 < charge.margin_pct < 4.0  # less than the 4 % that a guess may be off
    text = unsure_text(guessed(design, "pack_capacity_factor"))
    assert "(pack capacity factor by 4 %), the limit of charge used by the mission" in text


def test_a_guessed_cell_is_held_against_a_fifth_more_current():
    share = float(size(SIX).point.full.full_throttle.cell_a) / SIX.pack.cell.burst_a
    assert 1 / 1.2 < share < 1.0  # the demo's throttle cap leaves less than that
    text = unsure_text(guessed(SIX, "cell"))
    assert "the cell's rated currents by 20 %" in text
    assert "at the throttle cap would be broken" in text


def test_a_mission_is_flown_at_the_far_end_too():
    design = wb.read_design(DESIGNS / "survey_six_mission.toml").design
    keys = ("mass_without_pack_g", "payload_g", "flight_factor", "thrust_table", "cell")
    assert "in the mission" in unsure_text(guessed(design, *keys))


@pytest.mark.parametrize("key", sorted(BEARINGS))
def test_each_figure_is_shown_in_words(key):
    assert "_" not in BEARINGS[key].label


def test_time_asked_for_is_left_to_the_spread_of_the_flights():
    minutes = float(size(SIX.changed(wanted_min=None)).point.endurance_min)
    asked = SIX.changed(wanted_min=0.8 * minutes)
    assert unsure_text(guessed(asked, "payload_g")) == ""


def test_a_cell_without_curves_has_an_assumed_resistance_until_it_is_measured():
    bare = SIX.changed(cell=replace(SIX.pack.cell, curves=()))
    text = verdict_text(size(bare))
    assert "Assumed, not measured: the cell's resistance." in text
    known = replace(bare, origins=(Origin("cell_resistance_mohm", "measured", 5.0),))
    assert "Assumed" not in verdict_text(size(known))
