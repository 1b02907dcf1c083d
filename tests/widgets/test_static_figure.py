"""A chart on paper shows what it shows on the page."""

from __future__ import annotations

import re

import bqplot as bq
import numpy as np
import pytest

from workbook.svg import number
from workbook.widgets.bars import Bar, BarChart
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.static_figure import chart_svg
from workbook.widgets.style import role


def line_chart() -> LineChart:
    chart = LineChart("Sag", "charge, Ah", "voltage, V", width_px=600, height_px=300)
    chart.update(
        [Line("pack", [0, 1, 2], [4.2, 3.7, 3.3]), Line("today", [0, 2], [4.0, 3.0], "today")],
        levels=[Level("cutoff", 3.0)],
        verticals=[Vertical("reserve", 1.5)],
        points=[Point("you", 1.0, 3.7)],
        x_range=(0.0, 2.0),
        y_range=(2.5, 4.5),
    )
    return chart


def test_curves_fall_where_the_axes_say() -> None:
    chart = line_chart()
    svg = chart_svg(chart.figure, "It sags.")
    margin = chart.figure.fig_margin
    left, right = margin["left"], 600 - margin["right"]
    top, bottom = margin["top"], 300 - margin["bottom"]

    def place(x: float, y: float) -> str:
        across = left + (right - left) * x / 2.0
        up = bottom - (bottom - top) * (y - 2.5) / 2.0
        return f"{number(across)},{number(up)}"

    pack = " ".join(place(x, y) for x, y in ((0, 4.2), (1, 3.7), (2, 3.3)))
    assert f'points="{pack}"' in svg
    assert svg.count("<polyline") == 4  # two curves, a level, an upright line
    x, y = place(1.0, 3.7).split(",")
    assert f'cx="{x}" cy="{y}"' in svg
    for words in ("pack", "today", "cutoff", "reserve", "you", "charge, Ah", "voltage, V", "4.0"):
        assert f">{words}<" in svg, words
    assert 'aria-label="It sags."' in svg


def test_dashes_tell_roles_apart_without_colour() -> None:
    svg = chart_svg(line_chart().figure)
    strokes = re.findall(
        r'stroke="(#\w+)" stroke-width="([\d.]+)"(?: stroke-dasharray="([\d ]+)")?/>', svg
    )
    marks = {
        s
        for s in strokes
        if s[0] in (role("pack").colour, role("today").colour, role("limit").colour)
    }
    assert len({(dash, width) for _, width, dash in marks}) == 3


def test_bars_have_their_length_and_text() -> None:
    chart = BarChart("Share", "share, %")
    chart.update([Bar("wind", 40.0), Bar("cold", 10.0, "ten")], x_range=(0.0, 50.0))
    svg = chart_svg(chart.figure)
    widths = [float(w) for w in re.findall(r'<rect class="mark"[^>]* width="([\d.]+)"', svg)]
    assert sorted(widths) == pytest.approx([min(widths), 4 * min(widths)], rel=1e-3)
    for words in ("wind", "cold", "ten", "40"):
        assert f">{words}<" in svg


def test_hidden_marks_and_missing_values_are_left_out() -> None:
    chart = line_chart()
    chart.update(
        [Line("gap", [0, 1, 2], [4.0, np.nan, 3.5])], x_range=(0.0, 2.0), y_range=(3.0, 4.0)
    )
    svg = chart_svg(chart.figure)
    assert svg.count("<polyline") == 1
    assert "nan" not in svg


def test_a_mark_that_no_chart_here_has_is_refused() -> None:
    scales = {"x": bq.LinearScale(min=0, max=1), "y": bq.LinearScale(min=0, max=1)}
    figure = bq.Figure(
        marks=[bq.Hist(sample=[1.0], scales={"sample": scales["x"], "count": scales["y"]})]
    )
    with pytest.raises(NotImplementedError, match="Hist"):
        chart_svg(figure)
