from types import SimpleNamespace

import pytest

from workbook.errors import InputError
from workbook.widgets.controls import (
    ChoiceControl,
    FileControl,
    NumberControl,
    RowsGrid,
    controls,
)


def mass(**more):
    return NumberControl("pack mass", "g", 400, 100, 900, 10, **more)


def watched(control):
    seen = []
    control.observe(lambda change: seen.append(change["new"]), names="value")
    return seen


def test_slider_moves_box_and_value_once():
    control = mass()
    seen = watched(control)
    control.slider.value = 520.0
    assert (control.value, control.box.value, seen) == (520.0, "520", [520.0])


def test_a_slider_that_is_a_last_digit_off_is_not_moved_back():
    """The page computes 2280.0000000000005 for the 18th step from 2100; an answer would undo the presses since."""
    control = NumberControl("craft", "g", 2100, 500, 6000, 10)
    control.slider.value = 2280.0000000000005
    assert (control.value, control.slider.value) == (2280.0, 2280.0000000000005)


def test_typed_number_moves_slider_to_its_nearest_step_once():
    control = mass()
    seen = watched(control)
    control.box.value = "413,5"
    assert (control.value, control.box.value, control.slider.value) == (413.5, "413.5", 410.0)
    assert seen == [413.5]


@pytest.mark.parametrize("echo", [410.0, 410.0000000001])
def test_slider_that_tells_its_step_back_does_not_round_a_typed_number(echo):
    control = mass()
    control.box.value = "413.5"
    control.slider.value = echo
    assert control.value == 413.5


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("heavy", "'heavy' is not one number; 100 to 900 g is needed. 400 g stays in use."),
        ("5000", "5000 is out of range; 100 to 900 g is needed. 400 g stays in use."),
        ("", "nothing is typed; 100 to 900 g is needed. 400 g stays in use."),
        ("450 V", "'450 V' has the unit V; the unit here is g. 400 g stays in use."),
        ("450 kg", "450 kg is out of range; 100 to 900 g is needed. 400 g stays in use."),
    ],
)
def test_refused_text_stays_to_be_mended_and_the_value_is_kept(text, message):
    control = mass()
    seen = watched(control)
    control.box.value = "x"  # so that an empty text is a change too
    control.box.value = text
    assert (control.value, control.box.value, control.reply.text) == (400, text, message)
    assert control.reply.layout.display == ""
    assert seen == []
    control.box.value = "400"
    assert (control.reply.text, control.reply.layout.display) == ("", "none")


def test_refusal_goes_when_the_slider_moves():
    control = mass()
    control.box.value = "heavy"
    control.slider.value = 300.0
    assert (control.reply.text, control.box.value) == ("", "300")


def test_wider_typed_range_than_slider():
    control = mass(most=2000)
    control.box.value = "1500"
    assert (control.value, control.slider.value) == (1500, 900)


def test_start_and_program_values_are_checked_too():
    with pytest.raises(InputError, match="pack mass: 50 is out of range; 100 to 900 g is needed"):
        NumberControl("pack mass", "g", 50, 100, 900, 10)
    control = mass()
    with pytest.raises(InputError, match="pack mass"):
        control.value = float("nan")
    assert control.value == 400


def test_whole_numbers():
    series = NumberControl("series", "", 4, 1, 14, 1, whole=True)
    series.box.value = "4,5"
    assert series.value == 4
    assert "whole" in series.reply.text
    series.box.value = "6"
    assert (series.value, series.box.value) == (6, "6")


def test_a_value_with_three_decimals_is_not_taken_for_thousands():
    length = NumberControl("length", "mm", 1.125, 0, 2000, 0.001)
    assert (length.value, length.box.value) == (1.125, "1.125")
    length.box.value = "1,500"
    assert length.reply.text.startswith("'1,500' could be 1500 or 1.5; write one of them.")
    assert length.value == 1.125


def test_text_from_a_person_is_escaped():
    control = mass()
    control.box.value = "<img src=x>"
    assert "<img" not in control.reply.value
    assert "&lt;img" in control.reply.value


def test_choice_starts_with_the_first_and_takes_values():
    assert ChoiceControl("season", {"summer": 25.0, "winter": 0.0}).value == 25.0
    assert ChoiceControl("series", [4, 6], 6).value == 6


def test_rows_typed_and_one_event_a_box():
    grid = RowsGrid(["throttle, %", "thrust, g"], rows=2)
    seen = watched(grid)
    grid.cells[1][0].value = " 50 "
    grid.cells[1][1].value = "412,5"
    assert grid.value == (("50", "412,5"),)
    assert len(seen) == 2


def test_rows_pasted_grow_and_replace_the_grid_in_one_event():
    grid = RowsGrid(["throttle, %", "thrust, g"], rows=1)
    seen = watched(grid)
    grid.fill("40\t300\n60\t500\n100\t900\n")
    assert grid.value == (("40", "300"), ("60", "500"), ("100", "900"))
    assert len(seen) == 1
    grid.fill("50,400")
    assert grid.value == (("50", "400"),)


def test_row_pasted_into_a_box_spreads_over_its_row():
    grid = RowsGrid(["throttle, %", "thrust, g", "current, A"], rows=2)
    grid.cells[0][0].value = "50\t400\t4,1"
    assert grid.value == (("50", "400", "4,1"),)


def test_paste_that_does_not_fit_changes_nothing():
    grid = RowsGrid(["throttle, %", "thrust, g"], rows=2)
    grid.fill("50\t400")
    grid.fill("50\t400\t4.1")
    assert grid.value == (("50", "400"),)
    assert grid.reply.text == "line 1 has 3 columns; 2 are needed. The table stays as it was."
    grid.cells[0][0].value = "1;2;3"
    assert "3 columns" in grid.reply.text


def test_file_by_path_and_a_missing_one(tmp_path):
    (tmp_path / "table.csv").write_text("a,b\n")
    control = FileControl("thrust table")
    control.take_path(str(tmp_path / "table.csv"))
    assert (control.value.name, control.value.content) == ("table.csv", b"a,b\n")
    control.take_path(str(tmp_path / "none.csv"))
    assert "no file here" in control.reply.text
    assert control.value.name == "table.csv"


def test_file_uploaded_and_one_too_large():
    control = FileControl("thrust table", limit_mb=0.001)
    control.take_upload([{"name": "t.csv", "content": memoryview(b"a")}])
    assert control.value.content == b"a"
    control.take_upload([{"name": "big.csv", "content": memoryview(b"a" * 2000)}])
    assert "big.csv: 2 kB; at most 1 kB" in control.reply.text
    assert control.value.name == "t.csv"


def test_a_control_takes_everything_from_the_table_of_quantities():
    series = NumberControl.of("series", 6)
    assert (series.label, series.unit, series.whole) == ("series, S", "", True)
    assert (series.slider.min, series.slider.max, series.least, series.most) == (1, 14, 1, 24)
    assert NumberControl.of("series", 6, label="cells").label == "cells"


@pytest.mark.parametrize(
    ("key", "value", "ends"),
    [
        ("mass_without_pack_g", 1430.0, (200, 6000)),
        ("mass_without_pack_g", 93.0, (90, 6000)),
        ("mass_without_pack_g", 7001.0, (200, 7010)),
        ("largest_lift", 0.301, (0.301, 1.8)),
    ],
)
def test_the_slider_widens_by_whole_steps_to_hold_its_value(key, value, ends):
    control = NumberControl.of(key, value)
    assert (control.slider.min, control.slider.max) == pytest.approx(ends)
    assert control.value == value


def test_an_end_that_a_page_asks_for_never_leaves_the_value_out():
    """A pack of one small cell gives 0.4 W: a slider to the next ten of five times that ends at 0."""
    power = NumberControl.of("power_w", 0.4, high=round(5 * 0.4, -1))
    assert power.slider.min <= power.value == 0.4 <= power.slider.max


def test_what_must_be_above_its_least_cannot_be_the_least():
    control = NumberControl.of("cruise_m_s", 12.0)
    control.box.value = "0"
    assert control.value == 12.0
    assert "out of range" in control.reply.text


def test_controls_start_as_the_design_states_unless_a_value_is_given():
    craft, pack = SimpleNamespace(payload_g=300.0), SimpleNamespace(parallel=2)
    design = SimpleNamespace(craft=craft, pack=pack, flight=SimpleNamespace(reserve_pct=20.0))
    made = controls(
        "parallel", "payload_g", "reserve_pct", design=design, payload_g=250.0, headwind_m_s=4.0
    )
    values = {"parallel": 2, "payload_g": 250.0, "reserve_pct": 20.0, "headwind_m_s": 4.0}
    assert {key: control.value for key, control in made.items()} == values
    with pytest.raises(KeyError, match="cruise_m_s"):
        controls("cruise_m_s", design=design)


def test_a_number_typed_far_outside_what_is_usual_is_taken_and_asked_about():
    mass = NumberControl("craft without pack", "g", 2100, 300, 6000, 10, least=1, most=100_000)
    mass.type_in("2.100")
    assert mass.value == 2.1
    assert mass.reply.text == (
        "2.1 g is far below what is usual, 300 to 6000 g. It is used as typed. "
        "If 2100 g is meant, type 2100."
    )
    mass.type_in("2100")
    assert (mass.value, mass.reply.text) == (2100, "")
    mass.type_in("50000")
    assert "far above what is usual" in mass.reply.text
    mass.slider.value = 2500
    assert (mass.value, mass.reply.text) == (2500, "")


def test_a_number_a_little_outside_is_not_asked_about():
    wind = NumberControl("headwind", "m/s", 5, -10, 20, 1, least=-40, most=60)
    wind.type_in("25")
    assert wind.reply.text == ""
    wind.type_in("-30")
    assert "far below what is usual, -10 to 20 m/s" in wind.reply.text
