"""Shares in their order, with a mark each."""

from __future__ import annotations

from workbook.widgets.share_chart import ShareChart, TwoShares


def test_shares_in_order_with_their_marks():
    chart = ShareChart("spread")
    chart.show([TwoShares("a", 10.0, 9.0), TwoShares("b", 60.0, 55.0)], "b most")
    assert list(chart.names) == ["b", "a"]
    assert list(chart.alone.y) == ["a", "b"]
    assert list(chart.alone.x) == [9.0, 55.0]
    chart.show([], "nothing")
    assert len(chart.alone.x) == 0
