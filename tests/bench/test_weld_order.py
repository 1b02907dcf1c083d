"""Junction by junction: every strip once, and the voltage after each."""

from __future__ import annotations

import pytest

from workbook.bench.layout import example_pack, layouts
from workbook.bench.weld_order import weld_order


@pytest.mark.parametrize(("series", "parallel", "layers"), [(1, 1, 1), (4, 2, 1), (6, 4, 2)])
def test_every_strip_is_in_one_step(series: int, parallel: int, layers: int) -> None:
    layout = layouts(example_pack(series, parallel), max_layers=layers)[0]
    steps = weld_order(layout, 3.5)
    assert [one.junction for one in steps] == list(range(series + 1))
    pieces = [part.split() for one in steps for part in one.pieces.split(", ") if part]
    assert sum(int(count) for count, _ in pieces) == len(layout.links)
    assert all(one.where for one in steps if one.pieces)


def test_one_group_more_is_live_after_each() -> None:
    """Group voltages in series add: 3.5 V each."""
    steps = weld_order(layouts(example_pack(4, 2))[0], 3.5)
    assert [one.measure_v for one in steps] == [0.0, 3.5, 7.0, 10.5, 14.0]
    assert [one.measure for one in steps[:2]] == ["", "B0 to B1"]
