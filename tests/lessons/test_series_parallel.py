"""Lesson 2: the drawing, the table, the figures and the working follow S, P, cell and current."""

from __future__ import annotations

import re

import pytest

from tests.lessons.conftest import plain, shown_step
from workbook.battery.two_packs import Joining, fly_pair
from workbook.files.cell_file import find_cell
from workbook.lessons.series_parallel import WiringPicture
from workbook.numbers import rounded
from workbook.widgets.style import LIMIT


@pytest.mark.parametrize(
    ("series", "parallel", "current"), [(1, 1, 5.0), (4, 2, 30.0), (14, 10, 80.0)]
)
def test_everything_changes_to_the_same_values(opened, series, parallel, current):
    view = opened("series_parallel")
    cell = find_cell("Bittern")  # 3.6 V, 5.04 Ah, 8.5 A continuous: its file
    for name, value in (
        ("cell", cell),
        ("series", series),
        ("parallel", parallel),
        ("current_a", current),
    ):
        view.inputs[name].value = value
    # by hand
    volts, ah = series * 3.6, parallel * 5.04
    assert f"{volts:.1f} V" in view.picture.finding_text
    assert f"pack voltage {volts:.1f} V" in plain(view.figures.html.value)
    assert f"{rounded(ah, 2, 'down'):.2f} Ah" in plain(view.table.html.value)
    assert f"energy {rounded(volts * ah, 1, 'down'):.1f} Wh" in plain(view.figures.html.value)
    assert shown_step(view, "pack_nominal_v") == f"= {volts:.4g} V"
    assert shown_step(view, "cell_a") == f"= {current / parallel:.4g} A"
    assert f"carries {rounded(current / parallel, 2, 'up'):.2f} A" in view.picture.finding_text
    assert ("more than its continuous" in view.picture.finding_text) == (current / parallel > 8.5)


@pytest.mark.parametrize(("series", "parallel"), [(1, 1), (6, 3), (14, 10)])
def test_as_many_cells_are_drawn_as_there_are_and_all_inside(opened, series, parallel):
    view = opened("series_parallel")
    view.inputs["series"].value, view.inputs["parallel"].value = series, parallel
    drawn = view.picture.svg.value
    assert drawn.count('fill="#eceefc"') == series * parallel
    numbers = [float(n) for n in re.findall(r' (?:x|x1|x2)="([\d.-]+)"', drawn)]
    assert min(numbers) >= 0
    assert max(numbers) <= view.picture.width_px
    heights = [float(n) for n in re.findall(r' (?:y|y1|y2)="([\d.-]+)"', drawn)]
    assert min(heights) >= 0
    assert max(heights) <= view.picture.height_px


def test_the_pack_is_kept(opened):
    view = opened("series_parallel")
    view.inputs["series"].value = 5
    view.inputs["cell"].value = find_cell("Lapwing")
    view.keep_now()
    again = opened("series_parallel")
    assert again.inputs["series"].value == 5
    assert again.inputs["cell"].value.name == "Lapwing"


def test_every_cell_and_joint_is_drawn_and_too_much_current_is_warned_of():
    picture = WiringPicture()
    picture.update([0.0, 3.6, 7.2, 10.8], 2, 12.0, 6.0, over=False)
    assert picture.svg.value.count(">6 A<") == 6
    assert all(f">{volts}<" in picture.svg.value for volts in ("0.0", "3.6", "7.2", "10.8"))
    assert LIMIT.colour not in picture.svg.value
    picture.update([0.0, 3.6, 7.2, 10.8], 2, 60.0, 30.0, over=True)
    assert LIMIT.colour in picture.svg.value
    assert "more than its continuous current" in picture.finding_text


def test_two_packs_side_by_side_show_what_the_network_gives(opened):
    pair = opened("series_parallel").pair
    pack = pair.pack
    for key, value in (
        ("apart_resistance_pct", 40),
        ("apart_capacity_pct", 0),
        ("apart_cell_v", 0.0),
        ("power_w", 300),
    ):
        pair.inputs[key].value = value
    joining = Joining(2, "parallel", 40.0, 0.0, 0.0)
    flight = fly_pair(joining, joining.whole_of(pack), 300.0, 0.8)
    first = flight.cell_a[0, 0]
    text = pair.chart.finding_text
    assert f"begins with {rounded(first.max(), 1, 'up'):.1f} A" in text
    assert f"the other with {rounded(first.min(), 1, 'up'):.1f} A" in text
    # by hand: both full and of one voltage, so as 1 / R of 0.8 and 1.2 times the cell, joints left aside
    assert 1.3 < first.max() / first.min() <= 1.5
    pair.inputs["power_w"].value = 100_000
    assert "cannot give this power" in pair.chart.finding_text
