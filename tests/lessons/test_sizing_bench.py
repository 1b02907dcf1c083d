"""The bench: what it shows is what the computation gives."""

from __future__ import annotations

import pytest

from tests.conftest import DESIGNS
from tests.lessons.conftest import plain
from workbook.errors import InputError
from workbook.files.cell_file import find_cell
from workbook.files.design_file import read_design
from workbook.lessons.lesson_view import open_page
from workbook.lessons.sizing_bench import BENCH_CRAFT
from workbook.quantities import INPUTS, RESULTS
from workbook.sizing.size import size
from workbook.widgets.charts import LineChart


@pytest.mark.parametrize("name", ["survey_six", "survey_wing"])
def test_its_figures_are_answered_and_its_control_starts_at_the_design(name):
    answer = size(read_design(DESIGNS / f"{name}.toml").design)
    craft = BENCH_CRAFT[type(answer.design.craft)]
    assert set(answer.craft_type.large_keys) <= set(answer.figures()) & set(RESULTS)
    assert craft.control in INPUTS
    assert set(craft.start(answer)) <= {craft.control}


def test_a_multirotor_shows_hover_and_what_the_pack_allows_on_its_thrust_table():
    answer = size(read_design(DESIGNS / "survey_six.toml").design)
    craft = BENCH_CRAFT[type(answer.design.craft)]
    chart = LineChart(*craft.chart)
    craft.show(chart, answer)
    hover, continuous, burst = chart.points
    assert hover.y == pytest.approx(answer.point.thrust_per_motor_gf)
    assert hover.y < continuous.y < burst.y
    assert [level.name for level in craft.voltages(answer)] == ["thrust reserve"]


def test_a_wing_shows_cruise_on_its_power_curve_right_of_the_stall():
    answer = size(read_design(DESIGNS / "survey_wing.toml").design)
    craft = BENCH_CRAFT[type(answer.design.craft)]
    chart = LineChart(*craft.chart)
    craft.show(chart, answer)
    cruise = chart.points[0]
    assert cruise.y == pytest.approx(answer.point.power_w)
    assert chart.verticals[0].x < cruise.x
    assert craft.voltages(answer) == []


SIX, WING = "designs/survey_six.toml", "designs/survey_wing.toml"


@pytest.fixture
def bench(folder):
    return open_page("sizing_bench", SIX)


def test_a_moved_control_reaches_verdict_figures_limits_and_charts(bench):
    bench.inputs["parallel"].value = 4
    bench.inputs["cell"].value = find_cell("Avocet")
    answer = size(read_design(SIX).design.changed(parallel=4, cell=find_cell("Avocet")))
    figures = answer.figures()
    assert RESULTS["endurance_min"].text(figures["endurance_min"]) in plain(
        bench.verdict.html.value
    )
    mass = RESULTS["all_up_mass_g"].text(figures["all_up_mass_g"])
    assert f"all-up mass {mass}" in plain(bench.figures.html.value)
    assert all(limit.name in plain(bench.limits_table.html.value) for limit in answer.limits)
    assert f"With P = 4: {figures['endurance_min']:.1f} min" in bench.spiral_chart.finding_text
    assert f"Lands at {figures['landing_cell_v']:.2f} V" in bench.voltage_chart.finding_text


def test_the_working_can_be_narrowed_to_one_figure(bench):
    assert len(list(bench.working(bench.result))) > 5
    bench.working_panel.fold.value = True
    bench.working_choice.value = "endurance_min"
    assert {step.key for step in bench.working(bench.result)} == {"endurance_min"}
    assert "endurance" in plain(bench.working_panel.html.value)


def test_the_pack_of_today_stands_beside_the_figures(bench):
    today = bench.result.answer.today.figures()["all_up_mass_g"]
    assert f"today {today:.0f} g" in plain(bench.figures.html.value)


def test_an_unusable_design_is_refused_at_the_start(folder):
    with pytest.raises(InputError):
        open_page("sizing_bench", "designs/none.toml")


def test_large_text_and_back(bench):
    bench.big.value = True
    assert "wb-big" in bench._dom_classes
    assert bench.spiral_chart.figure.layout.width == "580px"
    bench.big.value = False
    assert bench.spiral_chart.figure.layout.width == "380px"


def test_loading_changes_the_whole_view_and_a_bad_file_changes_nothing(bench):
    bench.files.load("designs/none.toml")
    assert "none.toml" in bench.files.reply.text
    assert bench.craft_chart.heading.value.count("Thrust against current") == 1
    bench.files.load(WING)
    assert "Loaded survey_wing.toml" in bench.files.reply.value
    assert "Power against airspeed" in bench.craft_chart.heading.value
    bench.inputs["cruise_m_s"].value = 16.0
    minutes = size(read_design(WING).design.changed(cruise_m_s=16.0)).figures()["endurance_min"]
    assert RESULTS["endurance_min"].text(minutes) in plain(bench.verdict.html.value)


def test_a_way_out_stands_under_a_verdict_that_does_not_hold(bench):
    with bench.live.held():
        bench.inputs["parallel"].value = 1
    assert bench.result.answer.broken
    assert "A way out" in bench.remedy.html.value
    assert plain(bench.remedy.html.value).rstrip().endswith(".")


def test_a_design_that_cannot_fly_its_mission_is_reported_and_the_demo_shown(folder):
    """A table without a propeller says nothing of forward flight."""
    rows = "Thrust (g),Current (A),Voltage (V)\n100,0.5,22.2\n3000,30,22.2\n"
    (folder / "tables" / "plain.csv").write_text(rows, "utf-8")
    text = (folder / "designs" / "survey_six_mission.toml").read_text("utf-8")
    for old, new in (
        ("survey_motor.csv", "plain.csv"),
        ('propeller = "15x5"\n', ""),
        ("throttle_cap_pct = 74.0", "throttle_cap_pct = 100.0"),
    ):
        assert old in text
        text = text.replace(old, new)
    mine = folder / "designs" / "mine.toml"
    mine.write_text(text, "utf-8")
    view = open_page("sizing_bench", mine)
    assert view.file.path.name == "survey_six.toml"
    assert "mine.toml cannot be shown, so the demo is: plain.csv" in view.children[0].text
    view.files.load(str(mine))
    assert "need the propeller's diameter" in view.files.reply.text
    assert view.file.path.name == "survey_six.toml", "what is on the bench stays"


def test_the_pack_is_divided_into_two_saved_so_and_made_one_again(bench, folder):
    bench.inputs["parallel"].value = 4
    before = bench.result.answer.figures()
    bench.inputs["divided"].value = "parallel"
    answer = bench.result.answer
    assert answer.figures() == before
    assert answer.pair is not None
    assert "each of 6S2P" in plain(bench.notices.html.value)
    assert any(limit.key == "shared_burst_current" for limit in answer.limits)
    bench.files.save("designs/pair.toml")
    saved = read_design("designs/pair.toml").part.pack
    assert (saved.packs, saved.joined, saved.parallel) == (2, "parallel", 4)
    bench.inputs["parallel"].value = 5
    assert "packs_even" in {limit.key for limit in bench.result.answer.broken}
    bench.files.save("designs/odd.toml")
    assert "4 or 6 is needed" in bench.files.reply.text
    assert not (folder / "designs" / "odd.toml").exists()
    bench.inputs["divided"].value = ""
    assert bench.result.answer.pair is None
    bench.files.save("designs/one.toml")
    assert "packs" not in (folder / "designs" / "one.toml").read_text("utf-8")


def test_a_design_of_two_packs_opens_as_such(folder):
    bench = open_page("sizing_bench", "designs/survey_pair.toml")
    assert bench.inputs["divided"].value == "parallel"
    assert bench.result.answer.pair is not None


@pytest.mark.parametrize("width", [930, 1326])  # beside the side bar of a laptop, and without it
def test_two_charts_stand_side_by_side(bench, width):
    bench.page_width.width = width
    charts = [int(chart.figure.layout.width.removesuffix("px")) for chart in bench.charts[:2]]
    panel_px = int(bench.left.layout.max_width.removesuffix("px"))
    assert sum(charts) + panel_px <= width
