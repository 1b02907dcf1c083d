"""Lesson 6: curve, gain, figures and working follow every control, and agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.lessons.learner import current_design
from workbook.numbers import rounded
from workbook.sizing.craft_types import operate

CASES = [
    {"parallel": 6},
    {"cell_mass_g": 80.0},
    {"mass_without_pack_g": 1500.0},
    {"avionics_w": 40.0},
    {"parallel": 1},
]


@pytest.mark.parametrize("changes", CASES, ids=str)
def test_text_charts_and_working_change_to_the_same_value(opened, changes):
    view = opened("weight_spiral")
    before = (view.minutes.finding_text, plain(view.key.html.value))
    for name, value in changes.items():
        view.inputs[name].value = value
    values = view.live.values()
    parallel = int(values.pop("parallel"))
    cell = replace(view.design.pack.cell, mass_g=values.pop("cell_mass_g"))
    alone = view.design.changed(cell=cell, **values)
    here = float(operate(alone.changed(parallel=parallel)).endurance_min)
    assert point_at(view.minutes) == pytest.approx((parallel, here))
    x, y = line_of(view.minutes)
    assert y[list(x).index(parallel)] == pytest.approx(here)
    assert f"{rounded(here, 1, 'down'):.1f} min" in plain(view.key.html.value)
    assert shown_step(view, "endurance_min") == f"= {here:.4g} min"
    rest = float(alone.craft.mass_without_pack_g + alone.craft.payload_g)
    assert shown_step(view, "best_pack_g") == f"= {2 * rest:.4g} g"
    assert (view.minutes.finding_text, plain(view.key.html.value)) != before


@pytest.mark.parametrize("parallel", [2, 6])
def test_the_gain_is_over_one_cell_less_in_parallel(opened, parallel):
    view = opened("weight_spiral")
    view.inputs["parallel"].value = parallel
    values = view.live.values()
    cell = replace(view.design.pack.cell, mass_g=values.pop("cell_mass_g"))
    design = view.design.changed(cell=cell, **values)
    one_less = design.changed(parallel=parallel - 1)
    gain_min = float(operate(design).endurance_min - operate(one_less).endurance_min)
    assert point_at(view.gains) == pytest.approx((parallel, gain_min))
    assert f"{gain_min:+.1f} min" in plain(view.key.html.value)


def test_minutes_rise_flatten_and_fall(opened):
    view = opened("weight_spiral")
    _, minutes = line_of(view.minutes)
    top = int(np.argmax(minutes))
    assert 0 < top < len(minutes) - 1
    assert (np.diff(minutes[: top + 1]) > 0).all()
    assert (np.diff(minutes[top:]) < 0).all()
    view.inputs["parallel"].value = top + 2
    assert "costs" in view.minutes.finding_text
    assert "−" in plain(view.key.html.value)


def test_heavier_cells_move_the_top_to_fewer(opened):
    view = opened("weight_spiral")
    before = view.result.best_parallel
    view.inputs["cell_mass_g"].value = 95.0
    assert view.result.best_parallel < before


def test_a_craft_that_cannot_stop_its_descent_is_not_to_be_flown(opened):
    view = opened("weight_spiral")
    assert plain(view.notices.html.value) == ""
    view.inputs["parallel"].value = 13
    assert "stop its own descent" in view.notices.html.value


def test_a_craft_too_heavy_for_the_table_is_reported(opened):
    view = opened("weight_spiral")
    view.inputs["mass_without_pack_g"].value = 50_000.0
    assert "outside the thrust table" in view.live.problems[0]


def test_the_cells_in_parallel_are_kept(opened):
    view = opened("weight_spiral")
    view.inputs["parallel"].value = 5
    view.inputs["cell_mass_g"].value = 90.0  # a what-if: a cell's mass is the datasheet's
    view.keep_now()
    kept = current_design()
    assert kept.pack.parallel == 5
    assert kept.pack.cell.mass_g == view.design.pack.cell.mass_g
