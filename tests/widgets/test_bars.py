"""Bars in their order, each with its figure, some with a mark."""

import numpy as np

from workbook.widgets.bars import Bar, BarChart
from workbook.widgets.style import LIMIT, PACK


def test_bars_are_sorted_and_printed():
    chart = BarChart("Shares", "share, %")
    chart.update([Bar("a", 10), Bar("b", 70, "70 %", "limit"), Bar("gone", np.nan)])
    assert [bar.name for bar in chart.bars] == ["b", "a"]
    bars, texts, *_ = chart.figure.marks
    assert list(bars.y) == [10, 70]  # upwards, so that the longest is on top
    assert list(texts.text) == ["10", "70 %"]
    assert bars.colors == [PACK.colour, LIMIT.colour]
    chart.update([])
    assert chart.bars == ()


def test_a_mark_stands_on_its_own_bar_and_goes_with_it():
    chart = BarChart("spread", "share, %")
    chart.update([Bar("a", 10.0, mark=9.0), Bar("b", 60.0, mark=55.0), Bar("c", 1.0)])
    mark = chart.figure.marks[-1]
    assert (list(mark.y), list(mark.x)) == (["a", "b"], [9.0, 55.0])
    chart.update([], finding="nothing")
    assert len(mark.x) == 0
