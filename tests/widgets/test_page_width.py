"""The width that a page leaves, and what the frame makes of it."""

from __future__ import annotations

import pytest

from tests.widgets.test_frame import Doubling
from workbook.widgets.frame import LEAST_PX
from workbook.widgets.page_width import PageWidth
from workbook.widgets.style import FIGURE_PX, PANEL_PX


def test_the_width_is_zero_until_the_page_reports_it() -> None:
    assert PageWidth().width == 0


@pytest.mark.parametrize(
    ("width", "narrow"), [(370, True), (760, True), (930, False), (1190, False), (1520, False)]
)
def test_the_figure_takes_what_is_left_beside_the_controls_or_the_whole(
    width: int, narrow: bool
) -> None:
    view = Doubling()
    view.arrange()
    view.page_width.width = width
    assert ("wb-narrow" in view._body._dom_classes) == narrow
    chart = int(view.chart.figure.layout.width.removesuffix("px"))
    room = width if narrow else width - PANEL_PX
    assert 0.9 * room * 760 / FIGURE_PX <= chart <= room
    assert sum(view.chart._margin[side] for side in ("left", "right")) < chart


def test_in_a_short_window_the_figure_stays_beside_narrower_controls() -> None:
    view = Doubling()
    view.arrange()
    view.page_width.width = 643  # a laptop's 1366 px at 200 %
    assert "wb-narrow" in view._body._dom_classes
    usual = int(view.inputs["payload_g"].slider.layout.width.removesuffix("px"))
    view.page_width.short = True
    assert "wb-narrow" not in view._body._dom_classes
    assert int(view.chart.figure.layout.width.removesuffix("px")) <= 643 - LEAST_PX
    assert int(view.inputs["payload_g"].slider.layout.width.removesuffix("px")) < usual
    view.page_width.width = 370
    assert "wb-narrow" in view._body._dom_classes


def test_controls_give_way_to_a_figure_that_needs_the_room_and_are_as_wide_as_ever_below_it() -> (
    None
):
    view = Doubling()
    view.arrange()
    usual = view.inputs["payload_g"].slider.layout.width
    view.page_width.width = 830  # 480 for the figure, 20 between them, 330 for the controls
    assert "wb-narrow" not in view._body._dom_classes
    assert view.inputs["payload_g"].slider.layout.width != usual
    view.page_width.width = 700
    assert "wb-narrow" in view._body._dom_classes
    assert view.inputs["payload_g"].slider.layout.width == usual


def test_at_projector_size_the_page_s_width_does_not_count() -> None:
    view = Doubling()
    view.arrange()
    view.page_width.width = 370
    view.big.value = True
    assert "wb-narrow" not in view._body._dom_classes
    assert view.chart.figure.layout.width == "1150px"
    view.big.value = False
    assert "wb-narrow" in view._body._dom_classes
    assert view.chart.figure.layout.width == "370px"


def test_few_ticks_stand_on_a_narrow_axis() -> None:
    view = Doubling()
    view.arrange()
    many = len(view.chart._ticks["x"].values)
    view.page_width.width = 370
    assert len(view.chart._ticks["x"].values) < many
