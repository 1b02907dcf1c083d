"""The comparison's page: every figure of it, the correction by one flight or several, kept and undone, printed."""

from __future__ import annotations

import pytest

from tests.conftest import NOTEBOOKS
from tests.lessons.conftest import plain
from workbook.files.design_file import read_design
from workbook.flightlog.correction import correct
from workbook.flightlog.slip import ChargerSlip
from workbook.lessons.after_flight import AfterFlight
from workbook.lessons.learner import keep
from workbook.lessons.what_flight_said import COLD
from workbook.numbers import in_digits
from workbook.widgets.controls import ChosenFile


@pytest.fixture
def view(opened):
    return opened("what_flight_said")


@pytest.fixture
def page(view) -> AfterFlight:
    return view.after


def test_every_figure_stands_beside_its_plan(view, page) -> None:
    text = plain(page.compared.html.value)
    for line in view.result.compared.lines:
        assert f"{in_digits(line.measured)} ± {in_digits(line.uncertainty, 2)}" in text, line.key
    text = plain(page.notes.html.value)
    judged = [x for x in view.result.compared.lines if not x.within or x.key == "peak_cell_a"]
    assert judged
    assert [x.label for x in judged if f"{x.label}: {x.judgement}" not in text] == []


def test_a_flight_below_the_cells_floor_is_called_unsafe_above_all_else(view, page) -> None:
    assert page.verdict.html.value == ""
    pack = page.own.file.design.pack  # six in series: 16.5 V at rest are 2.75 V per cell
    page.take_slip(ChargerSlip(21.0, 7.2, after_v=2.75 * pack.series), 20.0, 20.0)
    text = plain(page.verdict.html.value)
    assert "UNSAFE" in text
    assert "2.75 V per cell is under 2.8 V" in text


def test_the_correction_is_that_of_the_computation(view, page) -> None:
    found = correct(view.plans[view.result.flight], [view.result.compared])
    text = plain(page.figures.html.value)
    for figure in found.figures:
        assert f"{in_digits(figure.after)} ± {in_digits(figure.after_off, 2)}" in text
    assert "the flights say too little about it" in text
    assert "cannot be told apart" in plain(page.ambiguities.html.value)


def test_flights_are_counted_together_and_begun_anew(view, page) -> None:
    alone = page.correction.figures[0]
    page.count_button.click()
    assert "Counted: six_warm.csv" in plain(page.reply.value)
    view.inputs["flight"].value = COLD
    assert page.correction.flights == 2
    assert "By six_warm.csv, six_cold.csv" in plain(page.evidence.value)
    assert page.correction.figures[0].after_off < alone.after_off
    page.start_over_button.click()
    assert page.correction.flights == 1


def test_what_was_measured_goes_into_ones_own_design_and_out_again(page, folder) -> None:
    page.save_button.click()
    mine = folder / "designs" / "mine.toml"
    measured = read_design(mine).part.measured
    assert measured.flight_factor == page.correction.changes["flight_factor"]
    assert "Kept in designs/mine.toml" in plain(page.reply.value)
    before = read_design(mine).design.craft.flight_factor
    page.undo_button.click()
    after = read_design(mine)
    assert after.part.measured is None
    assert after.design.craft.flight_factor < before
    assert after.part.name.endswith("mine")


def test_a_flight_of_the_demo_leaves_ones_own_design_alone(opened, folder) -> None:
    keep("multirotor", payload_g=200.0)
    mine = folder / "designs" / "mine.toml"
    before = mine.read_bytes()
    page = opened("what_flight_said").after
    page.save_button.click()
    assert "your own design stays as it is" in page.reply.text
    assert mine.read_bytes() == before


def test_a_flight_of_ones_own_corrects_the_plan_from_before_the_flights(opened, folder) -> None:
    keep("multirotor", payload_g=300.0)
    view = opened("what_flight_said")
    data = (NOTEBOOKS / "logs" / "six_warm.csv").read_bytes()
    view.flight.own.value = ChosenFile("mine.csv", data)
    view.after.save_button.click()
    assert "Kept in" in plain(view.after.reply.value)
    first = read_design(folder / "designs" / "mine.toml").part.measured
    again = opened("what_flight_said")
    again.flight.own.value = ChosenFile("mine.csv", data)
    again.after.save_button.click()  # the same flight once more: the same figures, not twice corrected
    assert read_design(folder / "designs" / "mine.toml").part.measured == first


def test_flights_that_disagree_go_into_the_plan_at_a_second_press(page, folder, view) -> None:
    view.flight.own.value = None
    page.take_slip(ChargerSlip(20.0, 8.0), 20.0, 15.0)
    page.count()
    page.take_slip(ChargerSlip(20.0, 6.0), 20.0, 15.0)
    page.save_button.click()
    assert "The flights differ by" in page.reply.text
    assert "press again" in page.reply.text
    assert not (folder / "designs" / "mine.toml").exists()
    page.save_button.click()
    assert read_design(folder / "designs" / "mine.toml").part.measured is not None


def test_the_report_is_written_once_and_never_over_a_file_unasked(page, folder) -> None:
    page.writer.button.click()
    path = folder / "flight_report.html"
    assert "Flight report: Census six-rotor" in path.read_text("utf-8")
    assert "(flight_report.html)" in page.writer.link.outputs[0]["data"]["text/markdown"]
    page.writer.name.value = "club.toml"
    (folder / "club.toml").write_text("landing_v = 3.1\n", "utf-8")
    page.writer.button.click()
    assert "already here and was left as it is" in page.writer.reply.text
    assert (folder / "club.toml").read_text("utf-8") == "landing_v = 3.1\n"


def test_a_slip_is_held_against_the_plan_less_surely_than_a_log(view, page) -> None:
    surer = view.result.compared.line("steady_power_w").uncertainty
    page.slip.text.value = "21 min; 7200 mAh; after 22.6 V"
    page.slip.button.click()
    line = page.shown.line("steady_power_w")
    assert line.uncertainty > surer
    text = plain(page.compared.html.value)
    assert f"{in_digits(line.measured)} ± {in_digits(line.uncertainty, 2)}" in text
    assert "slip of 21 min and 7.2 Ah" in text
    assert "neither resistance nor peaks are known" in plain(page.notes.html.value)
    view.inputs["power_w"].value = 480.0  # the slider above belongs to the log, and leaves the slip
    assert page.shown.flown.name == "slip of 21 min and 7.2 Ah"


def test_slips_and_a_log_are_counted_together(page) -> None:
    page.count_button.click()
    for typed in ("21 min; 7200 mAh", "20 min; 7,1 Ah; after 22,6 V"):
        page.slip.text.value = typed
        page.slip.button.click()
        page.count_button.click()
    assert page.correction.flights == 3
    text = plain(page.evidence.value)
    assert "By six_warm.csv, slip of 21 min and 7.2 Ah, slip of 20 min and 7.1 Ah" in text


def test_the_temperatures_of_a_slip_are_those_typed(page) -> None:
    page.slip.text.value = "21 min; 7200 mAh"
    page.slip.pack_c.value, page.slip.air_c.value = 4.0, 2.0
    page.slip.button.click()
    flight = page.shown.design.flight
    assert (flight.pack_temperature_c, flight.air_temperature_c) == (4.0, 2.0)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("", "the minutes flown and the charge put back are missing"),
        ("21; 7.2", "'21' has no unit"),
        ("21 min; 72 Ah", "cannot come out of a pack"),
        ("21 min; 7200 mAh; after 3.77 V", "0.63 V per cell with 6 cells in series"),
    ],
)
def test_a_slip_that_cannot_be_is_refused_and_changes_nothing(page, typed, why) -> None:
    before = page.shown
    page.slip.text.value = typed
    page.slip.button.click()
    assert why in page.slip.reply.text
    assert page.slip.text.value == typed
    assert page.shown is before
