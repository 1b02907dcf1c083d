"""Lesson 1: text, chart and working follow every control, and agree."""

from __future__ import annotations

import re

import numpy as np
import pytest

from tests.lessons.conftest import plain, point_at, shown_step
from workbook.lessons.craft_asks import ARROW_PX, HANGING_PX, BalancePicture
from workbook.numbers import rounded

CASES = [
    {"mass_without_pack_g": 1800.0},
    {"payload_g": 900.0},
    {"pack_mass_g": 700.0},
    {"rotors": 8},
    {"avionics_w": 30.0},
    {"flight_factor": 1.25},
]


@pytest.mark.parametrize("changes", CASES, ids=lambda c: next(iter(c)))
def test_text_chart_and_working_change_to_the_same_value(opened, changes):
    view = opened("craft_asks")
    before = (plain(view.figures.html.value), view.chart.finding_text, view.picture.finding_text)
    for name, value in changes.items():
        view.inputs[name].value = value
    values = view.live.values()
    # by hand: everything that flies over the rotors; watts from the table; motors, factor, avionics
    mass = values["mass_without_pack_g"] + values["payload_g"] + values["pack_mass_g"]
    thrust = mass / values["rotors"]
    motor_w = float(view.result.craft.table.power_at_thrust(thrust))
    watts = motor_w * values["rotors"] * values["flight_factor"] + values["avionics_w"]
    assert point_at(view.chart) == pytest.approx((thrust, motor_w))
    assert f"{rounded(watts, 1, 'up'):.1f} W" in view.chart.finding_text
    assert f"hover power {rounded(watts, 1, 'up'):.1f} W" in plain(view.figures.html.value)
    assert shown_step(view, "hover_power_w") == f"= {watts:.4g} W"
    assert f"{mass:.0f} g" in view.picture.finding_text
    after = (plain(view.figures.html.value), view.chart.finding_text, view.picture.finding_text)
    assert after != before


def test_the_two_rows_bracket_the_hover(opened):
    view = opened("craft_asks")
    low, high = point_at(view.chart, 1), point_at(view.chart, 2)
    hover = point_at(view.chart, 0)
    assert low[0] <= hover[0] <= high[0]
    assert low[1] <= hover[1] <= high[1]
    table = view.result.craft.table
    assert np.isin([low[0], high[0]], table.thrust_gf).all()
    assert f"{low[1]:.1f}" in view.rows_table.html.value


def test_a_craft_too_heavy_for_the_table_is_reported_and_the_last_figures_stay(opened):
    view = opened("craft_asks")
    before = view.figures.html.value
    view.inputs["mass_without_pack_g"].value = 60_000.0
    assert "outside the thrust table" in view.live.problems[0]
    assert view.figures.html.value == before
    assert view.live.current() is None
    view.keep_now()
    assert "no result" in view.kept.value
    view.inputs["mass_without_pack_g"].value = 2100.0
    assert view.live.problems == ()


def test_what_is_kept_opens_the_next_lesson(opened, folder):
    view = opened("craft_asks")
    view.inputs["payload_g"].value = 420.0
    view.inputs["rotors"].value = 8
    view.keep_now()
    assert "next lesson" in view.kept.value
    again = opened("craft_asks")
    assert again.inputs["payload_g"].value == 420.0
    assert again.inputs["rotors"].value == 8
    assert "your own" in again.opened_with.value


def test_an_answer_is_counted_and_kept(opened):
    view = opened("craft_asks")
    assert "0 of 5" in view.score.value
    exercise = view.exercise_views["craft-hover-power"]
    exercise.box.value = f"{exercise.exercise.drawn(view.progress.seed).expected:.2f}"
    exercise.check_button.click()
    assert "1 of 5" in view.score.value
    assert "1 of 5" in opened("craft_asks").score.value


def test_arrows_and_blocks_are_to_scale():
    picture = BalancePicture()
    picture.update(4, 500.0, 2000.0, [("craft", 1500.0), ("pack", 500.0)])
    heights = [float(h) for h in re.findall(r'<rect [^>]*height="([\d.]+)"', picture.svg.value)]
    # one scale: full throttle of 2000 gf fills its room before 2000 g of mass fill theirs
    per_g = ARROW_PX / 2000.0
    assert per_g < HANGING_PX / 2000.0
    assert heights == pytest.approx([ARROW_PX] * 4 + [1500 * per_g, 500 * per_g], abs=0.1)
    tips = [
        float(y)
        for y in re.findall(r'<polygon points="[^ ]+ [^ ]+ [\d.]+,([\d.]+)"', picture.svg.value)
    ]
    assert [118.0 - tip for tip in tips[:4]] == pytest.approx([500 * per_g] * 4, abs=0.1)
    assert tips[4] - 144.0 == pytest.approx(2000 * per_g, abs=0.1), (
        "four motors carry what hangs there"
    )
    assert "pack 500 g" in picture.svg.value


def test_what_is_heavier_hangs_lower_on_the_same_scale():
    picture, lowest = BalancePicture(), []
    for mass_g in (3100.0, 3500.0, 3900.0):
        picture.update(4, mass_g / 4, 2600.0, [("craft", mass_g)])
        lowest.append(float(re.findall(r'<rect [^>]*height="([\d.]+)"', picture.svg.value)[-1]))
    assert np.diff(lowest) == pytest.approx([400 * ARROW_PX / 2600.0] * 2, abs=0.1)


def test_no_mass_at_all_is_drawn():
    picture = BalancePicture()
    picture.update(1, 0.0, 2000.0, [("craft", 0.0)])
    assert "Down: 0 g" in picture.finding_text
