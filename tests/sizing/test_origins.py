"""Where figures come from, and what that does to the margin budget."""

from dataclasses import replace

import numpy as np
import pytest

import workbook as wb
from tests.conftest import DESIGNS
from workbook.files.design_file import measured, parse_design
from workbook.sizing.budget_lines import STANDARD_LINES, check_lines, draw_lines
from workbook.sizing.design import Origin
from workbook.sizing.origins import BEARINGS, assumed_text, lines_of

QUAD = wb.read_design(DESIGNS / "light_quad.toml").design.changed(power_module_off_pct=None)


def stated(*origins):
    return lines_of(replace(QUAD, origins=origins))


def line(lines, key):
    return next(one for one in lines if one.key == key)


def test_nothing_stated_changes_nothing():
    assert stated() == STANDARD_LINES
    assert stated(Origin("flight_factor", "maker's")) == STANDARD_LINES


@pytest.mark.parametrize("key", sorted(BEARINGS))
def test_an_assumed_figure_widens_a_line_by_what_the_table_says(key):
    wide = stated(Origin(key, "assumed"))
    bearing = BEARINGS[key]
    own = line(wide, bearing.line or key)
    before = next((x for x in STANDARD_LINES if x.key == own.key), None)
    low, high = (before.low, before.high) if before else (0.0, 0.0)
    assert (own.low, own.high) == (low - bearing.assumed_pct, high + bearing.assumed_pct)
    check_lines(wide)


def test_a_measured_figure_takes_the_place_of_its_line():
    lines = stated(Origin("flight_factor", "measured", 5.0))
    own = line(lines, "thrust_table")
    assert len(lines) == len(STANDARD_LINES)
    drawn = draw_lines([own], 2**14, 1)[0]
    # an interval of 95 % is 1.96 standard deviations to either side: a table of the normal distribution
    assert np.mean(np.abs(drawn) <= 5.0) == pytest.approx(0.95, abs=0.003)


def test_half_of_flights_move_with_it_and_the_plan_does_not():
    file = wb.read_design(DESIGNS / "survey_six.toml")
    text = file.path.read_text(encoding="utf-8")
    section = '[origins]\navionics_w = "assumed"\nflight_factor = "assumed"\n\n[craft]'
    assumed = wb.size(parse_design(text.replace("[craft]", section, 1), file.path).design)
    plain = wb.size(file.design)
    assert assumed.point.endurance_min == plain.point.endurance_min
    assert assumed.flights.endurance_p05_min < plain.flights.endurance_p05_min
    assert any(note.topic == "assumed" for note in assumed.notes)
    assert assumed.as_dict()["origins"] == {"avionics_w": "assumed", "flight_factor": "assumed"}
    texts = assumed_text(assumed.design)
    assert "avionics (14.0 W)" in texts
    assert "flight factor (1.12)" in texts
    assert not assumed_text(file.design)


def test_an_origin_of_a_figure_that_is_not_there_is_refused():
    file = wb.read_design(DESIGNS / "survey_six.toml")
    text = file.path.read_text(encoding="utf-8")
    with pytest.raises(wb.InputError, match=r"origins\.wing_area_m2: the design states no"):
        parse_design(
            text.replace("[craft]", '[origins]\nwing_area_m2 = "assumed"\n[craft]', 1), file.path
        )
    with pytest.raises(wb.InputError, match="origins"):
        parse_design(
            text.replace("[craft]", '[origins]\nflight_factor = "guessed"\n[craft]', 1), file.path
        )


def test_a_measured_cruise_gives_a_wings_drag_instead_of_what_gave_it_before():
    part = wb.read_design(DESIGNS / "survey_wing.toml").part
    changes = {"cruise_power_w": 90.0, "cruise_power_m_s": 14.0, "cruise_power_mass_g": 2900.0}
    after = measured(part, changes, Origin("cruise_power_w", "measured", 5.0, "a test flight"))
    assert after.craft.cruise_power_w == 90.0
    assert after.craft.zero_lift_drag is None
    assert after.craft.glide_ratio is None
    assert after.origins["cruise_power_w"].uncertainty_pct == 5.0


def test_a_gauge_that_is_off_by_more_than_usual_widens_the_reserve():
    before, after = (
        line(lines_of(QUAD.changed(power_module_off_pct=x)), "reserve") for x in (3.0, 8.0)
    )
    assert (before.high, after.high) == (line(STANDARD_LINES, "reserve").high, 8.0)


def test_no_measurement_is_believed_to_be_surer_than_a_careful_one():
    careful = BEARINGS["flight_factor"].measured_pct
    wishful = stated(Origin("flight_factor", "measured", 0.01))
    assert wishful == stated(Origin("flight_factor", "measured", careful))
