"""Lesson 10: charts, text and working follow every control, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.craft.air import density_kg_m3
from workbook.craft.wing import level_flight, wing_speeds
from workbook.numbers import rounded

CASES = [
    {"mass_without_pack_g": 1500.0},
    {"payload_g": 400.0},
    {"parallel": 3.0},
    {"cruise_m_s": 15.0},
    {"headwind_m_s": 8.0},
    {"headwind_m_s": -4.0},
    {"more_pct": 40.0},
]


@pytest.mark.parametrize("changes", CASES, ids=str)
def test_text_chart_and_working_change_to_the_same_value(opened, changes):
    view = opened("wing_asks")
    before = view.power.finding_text, view.energy.finding_text, view.masses.html.value
    for name, value in changes.items():
        view.inputs[name].value = value
    v = view.live.values()
    design = view.result.design
    craft, flight = design.craft, design.flight
    # by hand: mass, drag of the polar, over the efficiency, avionics
    mass = v["mass_without_pack_g"] + v["payload_g"] + float(design.pack.mass_g)
    density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
    level = level_flight(craft.polar, mass, v["cruise_m_s"], density)
    watts = float(level.drag_power_w) / (0.58 * 0.78) + 7.0
    assert f"Cruise at {v['cruise_m_s']:.1f} m/s takes {watts:.0f} W." in view.power.finding_text
    assert point_at(view.power, 2) == pytest.approx((v["cruise_m_s"], watts))
    assert shown_step(view, "cruise_power_w") == f"= {watts:.4g} W"
    assert f"cruise power {rounded(watts, 1, 'up'):.1f} W" in plain(view.key.html.value)
    ground = v["cruise_m_s"] - v["headwind_m_s"]
    assert f"takes {watts / 3.6 / ground:.2f} Wh/km" in view.energy.finding_text
    stall = float(wing_speeds(craft.polar, mass, density).stall_m_s)
    assert f"stall, m/s {stall:.1f}" in plain(view.masses.html.value)
    assert shown_step(view, "stall_m_s") == f"= {stall:.4g} m/s"
    km = float(view.result.point.endurance_min) * 60 * ground / 1000
    assert f"over ground {km:.0f} km" in plain(view.key.html.value)
    after = view.power.finding_text, view.energy.finding_text, view.masses.html.value
    assert after != before


def test_the_tangent_touches_the_curve_and_never_crosses_it(opened):
    view = opened("wing_asks")
    for wind in (0.0, 5.0, 9.0):
        view.inputs["headwind_m_s"].value = wind
        windy = view.result.windy
        above = windy.power_w - windy.tangent_w(windy.airspeed_m_s)
        assert above.min() > -1e-3
        assert np.interp(windy.best.range_m_s, windy.airspeed_m_s, above) == pytest.approx(
            0.0, abs=0.05
        )
        assert windy.tangent_w(wind) == pytest.approx(0.0)
        x, y = point_at(view.power, 1)
        assert (x, y) == (windy.best.range_m_s, windy.best.range_w)


def test_the_best_point_is_the_lowest_of_the_kilometre_curve(opened):
    view = opened("wing_asks")
    view.inputs["headwind_m_s"].value = 7.0
    speed, energy = line_of(view.energy, 1)
    lowest = speed[np.nanargmin(energy)]
    step = speed[1] - speed[0]
    assert abs(lowest - view.result.windy.best.range_m_s) <= step
    assert point_at(view.energy, 1)[1] == pytest.approx(np.nanmin(energy), rel=1e-3)


def test_bars_have_the_currents_in_words(opened):
    view = opened("wing_asks")
    currents = view.result.point.currents()
    assert view.bars.bars[-1].name.startswith("bench row of cruise thrust")
    assert f"Cruise draws {rounded(currents.cruise_a, 2, 'up'):.2f} A" in view.bars.finding_text
    assert "the launch 26.4 A" in view.bars.finding_text
    assert "22.5 A, is 5.6 times the cruise current" in view.bars.finding_text
    lengths = [bar.value for bar in view.bars.bars]
    assert lengths == sorted(lengths, reverse=True)


def test_below_the_stall_and_against_too_much_wind(opened):
    view = opened("wing_asks")
    view.inputs["cruise_m_s"].value = 7.0
    assert "✕ Cruise at 7.0 m/s is below the stall" in view.power.finding_text
    assert "makes no way" in view.energy.finding_text
    assert "nan" not in (view.bars.finding_text + plain(view.key.html.value)).lower()
    view.inputs["cruise_m_s"].value = 12.0
    view.inputs["headwind_m_s"].value = 14.0
    assert "makes no way" in view.energy.finding_text
    assert "over ground 0 km" in plain(view.key.html.value)
    view.inputs["mass_without_pack_g"].value = 40_000.0
    assert "below the stall" in view.power.finding_text


def test_the_wing_is_kept_beside_the_multirotor(opened, folder):
    view = opened("wing_asks")
    view.inputs["payload_g"].value = 250.0
    view.inputs["cruise_m_s"].value = 12.5
    view.keep_now()
    assert "Kept in" in view.kept.value, view.kept.value
    assert (folder / "designs" / "mine_wing.toml").exists()
    assert not (folder / "designs" / "mine.toml").exists()
    again = opened("wing_asks")
    assert again.inputs["payload_g"].value == 250.0
    assert again.inputs["cruise_m_s"].value == 12.5
    assert "the demo" in opened("craft_asks").opened_with.value
