"""Points set, moved and taken away on a graph's picture; what comes out, by clicks and by keys alike."""

from __future__ import annotations

import numpy as np
import pytest

from tests.pictures.drawn import GraphPicture
from workbook.files.curve_file import read_curves
from workbook.pictures.axes import ACROSS, UP
from workbook.pictures.opening import open_picture
from workbook.pictures.trace import can_follow
from workbook.widgets.graph_tracer import CURVE, GraphTracer

pytestmark = pytest.mark.skipif(not can_follow(), reason="scikit-image is not installed")
CHARGE = np.linspace(0.0, 5.0, 60)
VOLTS = 4.1 - 0.25 * CHARGE
GRAPH = GraphPicture(
    [(CHARGE, VOLTS), (CHARGE, VOLTS - 0.2)], ["2 A", "8 A"], legend=False, size=(500, 340)
)


@pytest.fixture
def tracer() -> GraphTracer:
    """A graph with its axes known."""
    tracer = GraphTracer()
    tracer.show(open_picture(GRAPH.draw(), "graph"))
    for axis, value, position in (
        (ACROSS, 0.0, (0.0, 2.5)),
        (ACROSS, 5000.0, (5.0, 2.5)),
        (UP, 2.5, (0.0, 2.5)),
        (UP, 4.0, (0.0, 4.0)),
    ):
        tracer.target.value, tracer.printed.value = axis, value
        tracer.click(*GRAPH.at(*position))
    return tracer


def trace(tracer: GraphTracer, current_a: float, lower_v: float = 0.0) -> None:
    tracer.target.value = CURVE
    tracer.current.value = current_a
    for k in (0, 30, 59):
        tracer.click(*GRAPH.at(CHARGE[k], VOLTS[k] - lower_v))


def test_two_curves_come_out_as_a_table_of_points(tracer: GraphTracer) -> None:
    assert "click on the curve at its start" in tracer.message.value
    trace(tracer, 2.0)
    tracer.new_curve()
    trace(tracer, 8.0, 0.2)
    one, two = read_curves(tracer.value)
    assert (one.current_a, two.current_a) == (2.0, 8.0)
    for curve, lower in ((one, 0.0), (two, 0.2)):
        true = np.interp(curve.capacity_ah, CHARGE, VOLTS - lower)
        assert np.std(np.array(curve.voltage_v) - true) < 0.01
    assert "2 curves are read" in tracer.message.value


def test_the_place_at_hand_sets_the_same_points_as_clicks(tracer: GraphTracer) -> None:
    tracer.target.value, tracer.current.value = CURVE, 2.0
    for k in (0, 30, 59):
        x, y = GRAPH.at(CHARGE[k], VOLTS[k])
        tracer.x.type_in(f"{x:.1f}")
        tracer.y.type_in(f"{y:.1f}")
        tracer.set_button.click()
    (curve,) = read_curves(tracer.value)
    assert np.std(np.array(curve.voltage_v) - np.interp(curve.capacity_ah, CHARGE, VOLTS)) < 0.01


def test_a_chosen_point_is_nudged_and_its_value_retyped(tracer: GraphTracer) -> None:
    trace(tracer, 2.0)
    before = tracer.value
    tracer.target.value, tracer.point.value = UP, "2"
    assert tracer.printed.value == 4.0
    tracer.y.value += 3.0
    assert tracer.known[3].y_px == pytest.approx(GRAPH.at(0.0, 4.0)[1] + 3.0, abs=0.1)
    assert tracer.value != before
    tracer.printed.value = 3.9
    assert tracer.known[3].value == 3.9


def test_a_point_that_is_dragged_or_taken_away_changes_the_curve(tracer: GraphTracer) -> None:
    trace(tracer, 2.0)
    tracer._drag_click(2, *GRAPH.at(CHARGE[45], VOLTS[45]))
    (curve,) = read_curves(tracer.value)
    assert curve.capacity_ah[-1] == pytest.approx(CHARGE[45], abs=0.02)
    for _ in range(2):
        tracer.drop_button.click()
    assert "click on the curve at its start" in tracer.message.value


def test_after_two_points_of_an_axis_comes_the_next_and_the_next_step_is_shown() -> None:
    tracer = GraphTracer()
    tracer.show(open_picture(GRAPH.draw(), "graph"))
    seen = []
    for value, position in (
        (0.0, (0.0, 2.5)),
        (5000.0, (5.0, 2.5)),
        (2.5, (0.0, 2.5)),
        (4.0, (0.0, 4.0)),
    ):
        seen.append((tracer.target.value, "(1 of 2" in tracer.message.value))
        tracer.printed.value = value
        tracer.click(*GRAPH.at(*position))
    assert seen == [(ACROSS, False), (ACROSS, True), (UP, False), (UP, True)]
    assert tracer.target.value == CURVE


def test_a_second_point_of_the_same_value_does_not_go_on() -> None:
    tracer = GraphTracer()
    tracer.show(open_picture(GRAPH.draw(), "graph"))
    for ah in (0.0, 5.0):
        tracer.click(*GRAPH.at(ah, 2.5))
    assert tracer.target.value == ACROSS


def test_points_that_are_not_at_hand_let_clicks_through(tracer: GraphTracer) -> None:
    assert (tracer._known.visible, tracer._clicks.visible) == (False, True)
    tracer.target.value = UP
    assert (tracer._known.visible, tracer._clicks.visible) == (True, False)


def test_another_picture_leaves_no_points_of_the_one_before(tracer: GraphTracer) -> None:
    trace(tracer, 2.0)
    assert tracer.value
    tracer.show(open_picture(GRAPH.draw(), "another"))
    assert tracer.value == ""


def test_impossible_figures_are_reported_and_the_last_points_stay(tracer: GraphTracer) -> None:
    trace(tracer, 2.0)
    good = tracer.value
    tracer.target.value, tracer.point.value = UP, "2"
    tracer.printed.value = 2.5
    assert "all have the value 2.5" in tracer.reply.text
    assert tracer.value == good


def test_a_time_is_charge_at_the_curves_own_current(tracer: GraphTracer) -> None:
    trace(tracer, 2.0)
    tracer.unit.value = "s"  # 5000 s at 2 A are 2.78 Ah
    (curve,) = read_curves(tracer.value)
    assert curve.capacity_ah[-1] == pytest.approx(5000 / 3600 * 2.0, abs=0.03)


def test_a_point_may_be_known_on_both_axes_but_only_once_on_each(tracer: GraphTracer) -> None:
    tracer.target.value = UP
    tracer.click(tracer.known[0].x_px, tracer.known[0].y_px)
    assert len(tracer.known) == 4
    message = {"event": "element_click", "data": {"index": 1}}
    tracer._known._handle_custom_msgs(tracer._known, message, [])  # the end of the axis across
    assert len(tracer.known) == 5
    assert tracer.known[4].axis == UP
