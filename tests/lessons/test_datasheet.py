"""Lesson 3: the family, the slope, the figures and the working follow the dials, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.files.cell_file import find_cell


@pytest.mark.parametrize(
    "changes",
    [{"current_a": 9.3}, {"landing_v": 3.4}, {"charge_ah": 3.3}, {"cell": "Lapwing"}],
    ids=lambda c: next(iter(c)),
)
def test_text_charts_and_working_change_to_the_same_values(opened, changes):
    view = opened("datasheet")
    before = plain(view.figures.html.value)
    for name, value in changes.items():
        view.inputs[name].value = find_cell(value) if name == "cell" else value
    values = view.live.values()
    cell, amps, at = values["cell"], values["current_a"], values["charge_ah"]
    assert plain(view.figures.html.value) != before
    # the end of the drawn curve, the figures and the working tell one charge
    x, y = line_of(view.family)
    assert y[-1] == pytest.approx(values["landing_v"], abs=1e-6)
    assert shown_step(view, "charge_ah") == f"= {x[-1]:.4g} Ah"
    assert f"charge {x[-1]:.2f} Ah" in plain(view.figures.html.value)
    assert f"{x[-1]:.2f} Ah and" in view.family.finding_text
    # energy is the area under the drawn curve: 120 points, straight between them
    area = np.trapezoid(y, x)
    assert shown_step(view, "energy_wh").startswith("= ")
    assert float(view.result.curve.run.energy_wh) == pytest.approx(area, rel=2e-4)
    # the point on the slope is the voltage that the family's curve has at that charge
    assert point_at(view.slope) == pytest.approx((amps, np.interp(at, x, y)), abs=2e-3)
    first, last = cell.curves[0], cell.curves[-1]
    drop = np.interp(at, first.capacity_ah, first.voltage_v) - np.interp(
        at, last.capacity_ah, last.voltage_v
    )
    by_hand = 1000 * drop / (last.current_a - first.current_a)
    # straight between points here, a monotone cubic there: the tables' own rounding apart
    assert view.result.reading.resistance_mohm == pytest.approx(by_hand, rel=0.06)
    assert f"resistance {view.result.reading.resistance_mohm:.1f} mohm" in plain(
        view.figures.html.value
    )
    assert len(view.family.dots.x) == sum(len(c.capacity_ah) for c in cell.curves)


def test_beyond_the_curves_it_says_so(opened):
    view = opened("datasheet")
    view.inputs["cell"].value = find_cell("Bittern")
    view.inputs["current_a"].value = 14.0
    told = plain(view.notices.html.value)
    assert "beyond the datasheet curves" in told
    assert "above the cell's continuous current, 8.5 A" in told


def test_the_form_for_a_cell_of_ones_own_grows_with_the_lesson(opened):
    view = opened("datasheet")
    assert view.fitter is view.fitter
    view.big.value = True
    assert "wb-big" in view.fitter._dom_classes
