"""Lesson 9: stick, cap, ceilings and working follow every control, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.lessons.learner import current_design, keep
from workbook.sizing.craft_types import operate

CASES = [
    {"stick_pct": 62.0},
    {"throttle_cap_pct": 58.0},
    {"continuous_share_pct": 60.0},
    {"thrust_reserve": 1.8},
    {"stick_pct": 90.0, "throttle_cap_pct": 75.0},
]


@pytest.mark.parametrize("changes", CASES, ids=str)
def test_text_charts_and_working_change_to_the_same_value(opened, changes):
    view = opened("thrust_ceiling")
    before = (
        plain(view.key.html.value),
        view.thrust.finding_text,
        view.current.finding_text,
        plain(view.states.html.value),
        plain(view.notices.html.value),
    )
    for name, value in changes.items():
        view.inputs[name].value = value
    v = view.live.values()
    stick = v.pop("stick_pct")
    point = operate(view.design.changed(**v))
    # the stick alone: the same design with its cap where the stick is
    throttle = min(stick, v["throttle_cap_pct"])
    there = operate(view.design.changed(**{**v, "throttle_cap_pct": throttle}))
    for number, name in enumerate(("full", "half", "end")):
        top = getattr(there, name).full_throttle
        assert point_at(view.thrust, number) == pytest.approx((throttle, float(top.thrust_gf)))
        assert point_at(view.current, number) == pytest.approx((throttle, float(top.cell_a)))
    full, end = (float(s.full_throttle.thrust_gf) for s in (there.full, there.end))
    assert f"{full:.0f} gf on the full pack and {end:.0f} gf" in view.thrust.finding_text
    ratio = float(point.end.thrust_to_weight)
    assert f"almost empty {ratio:.2f}" in plain(view.key.html.value)
    assert shown_step(view, "thrust_to_weight_end") == f"= {ratio:.4g}"
    cap = float(point.full.continuous.throttle_pct)
    assert f"continuous current {np.floor(cap):.0f} %" in view.current.finding_text
    assert shown_step(view, "continuous_cap_pct") == f"= {cap:.4g} %"
    ceiling = f"{np.floor(float(point.end.continuous.thrust_gf)):.0f} gf at"
    assert ceiling in plain(view.states.html.value)
    after = (
        plain(view.key.html.value),
        view.thrust.finding_text,
        view.current.finding_text,
        plain(view.states.html.value),
        plain(view.notices.html.value),
    )
    assert after != before


def test_a_curve_meets_the_limit_at_the_cap_that_the_text_names(opened):
    view = opened("thrust_ceiling")
    x, full = line_of(view.current)
    assert np.interp(view.result.burst_cap_pct, x, full) == pytest.approx(
        view.design.pack.cell.burst_a, rel=0.02
    )


def test_the_stick_is_held_by_the_cap(opened):
    view = opened("thrust_ceiling")
    view.inputs["stick_pct"].value = 100.0
    assert point_at(view.thrust)[0] == view.design.flight.throttle_cap_pct
    assert "The cap holds" in view.thrust.finding_text


def test_cautions_in_words(opened):
    view = opened("thrust_ceiling")
    view.inputs["throttle_cap_pct"].value = 100.0
    assert "over its burst current" in view.notices.html.value
    view.inputs["throttle_cap_pct"].value = 40.0
    assert "cannot hold itself up" in view.notices.html.value
    assert "lowest cell voltage in hover out of reach" in plain(view.key.html.value)


def test_below_the_tables_first_row_the_throttle_says_nothing(opened):
    view = opened("thrust_ceiling")
    view.inputs["throttle_cap_pct"].value = 10.0
    assert view.live.problems == ()
    assert "cap" in view.thrust.finding_text


def test_the_cap_is_kept(opened):
    view = opened("thrust_ceiling")
    view.inputs["throttle_cap_pct"].value = 64.0
    view.keep_now()
    assert current_design().flight.throttle_cap_pct == 64.0


def test_a_craft_that_the_table_does_not_reach_is_reported(opened):
    keep(mass_without_pack_g=60_000.0)
    view = opened("thrust_ceiling")
    assert "outside the thrust table" in view.live.problems[0]
