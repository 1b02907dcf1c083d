"""Each craft type on the bench shows figures and a chart of its own."""

from __future__ import annotations

import pytest

from tests.conftest import DESIGNS
from workbook.files.design_file import read_design
from workbook.lessons.bench_craft import BENCH_CRAFT
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
