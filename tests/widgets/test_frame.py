"""The frame: controls compute, figures and working follow, and large text reaches every part."""

import asyncio
import threading
import time
from unittest import mock

import ipywidgets as W
import pytest

from workbook.errors import InputError
from workbook.widgets.charts import Line, LineChart
from workbook.widgets.controls import ChoiceControl, controls
from workbook.widgets.frame import FIGURE_PX, PANEL_PX, FittedPanel, LiveView
from workbook.widgets.table import Table
from workbook.working import Step


class Doubling(LiveView):
    def build(self):
        self.inputs = {**controls(payload_g=200.0), "times": ChoiceControl("times", [2, 3])}
        self.chart, self.table = LineChart("Line", "x", "y"), Table()
        return self.side_by_side([*self.inputs.values(), self.table], [self.chart])

    def compute(self, payload_g, times):
        if payload_g > 400:
            raise InputError("too heavy.")
        return payload_g * times

    def render(self, result):
        self.chart.update([Line("double", [0, 1], [0, result])])

    def working(self, result):
        return [Step("double", "double", "2 x m", "2 x m", result, "g", "arithmetic")]


@pytest.fixture
def view():
    made = Doubling()
    made.arrange(W.HTML("head"))
    return made


def test_a_control_moved_reaches_result_chart_and_working(view):
    view.working_panel.fold.value = True
    view.inputs["payload_g"].value = 300.0
    assert view.result == 600.0
    assert list(view.chart.lines[0].y) == [0.0, 600.0]
    assert "600 g" in view.working_panel.html.value


def test_the_number_beside_a_slider_is_sent_with_the_first_figure_that_it_moves(view):
    view.together.ready, sent = True, []

    def send(widget, message, buffers=None):
        sent.append((widget, message))

    payload = view.inputs["payload_g"]
    with mock.patch.object(W.Widget, "_send", send):
        payload.slider.value += payload.slider.step
    (slider, _), (carrier, message) = sent
    assert (slider, carrier) == (payload.slider, view.together)
    moved = [part["id"] for part in message["content"]["updates"]]
    assert moved[0] == payload.box.model_id
    assert {mark.model_id for mark in view.chart.figure.marks} & set(moved)


def test_what_cannot_be_computed_is_reported_and_the_last_result_stays(view):
    view.inputs["payload_g"].value = 500.0
    assert view.live.problems == ("too heavy.",)
    assert view.result == 400.0


def test_large_text_reaches_every_part_and_puts_tables_under_the_charts(view):
    apart = W.VBox()
    view.detached_parts = (apart,)
    view.big.value = True
    assert "wb-big" in view._dom_classes
    assert "wb-big" in apart._dom_classes
    assert view.chart.text_px == 24
    assert view.table in view.right.children
    assert view.left.layout.width == f"{PANEL_PX + FIGURE_PX}px"
    view.big.value = False
    assert "wb-big" not in apart._dom_classes
    assert view.table in view.left.children
    assert view.left.layout.width == ""


def test_it_can_be_built_anew(view):
    first = view.inputs["payload_g"]
    view.arrange()
    assert view.inputs["payload_g"] is not first
    assert view.result == 400.0


def test_a_first_result_that_comes_after_it_was_built_anew_is_not_shown(monkeypatch):
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)
    go_on = threading.Event()

    class Slow(Doubling):
        def compute(self, payload_g, times):
            if not go_on.is_set():
                go_on.wait(20)
                return 1.0
            return super().compute(payload_g, times)

    async def page():
        view = Slow()
        view.arrange()
        first, before = view.live, view.result
        go_on.set()
        view.arrange()
        view.together.ready = True
        await first.settled()
        return before, view.result, list(view.chart.lines[0].y), view._dom_classes

    before, result, shown, classes = asyncio.run(page())
    assert (before, result, shown) == (None, 400.0, [0.0, 400.0])
    assert "wb-stale" not in classes


def test_a_first_result_that_takes_long_waits_for_the_page_to_be_there(monkeypatch):
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.02)

    class Slow(Doubling):
        def compute(self, payload_g, times):
            time.sleep(0.05)
            return super().compute(payload_g, times)

    async def page():
        view = Slow()
        view.arrange()
        await asyncio.sleep(0.2)
        before, progress_text = view.result, view.live.progress.text.value
        view.together.ready = True  # as the page says once it stands there
        await view.live.settled()
        return before, progress_text, view.result

    before, progress_text, result = asyncio.run(page())
    assert (before, result) == (None, 400.0)
    assert "first figures" in progress_text


def test_parts_of_a_fitted_panel_take_the_width_of_the_page_and_no_more_than_beside_controls():
    chart = LineChart("Line", "x", "y")
    panel = FittedPanel(W.VBox([chart]))
    panel.page_width.width = 370
    assert chart.layout.width == "370px"
    panel.page_width.width = 1900
    assert chart.layout.width == "760px"  # as it is made for a column of FIGURE_PX
