"""Lesson 7: the end of the flight, both charts, thresholds and working follow every control, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.battery.discharge import constant_power
from workbook.battery.thresholds import thresholds
from workbook.errors import InputError
from workbook.lessons.learner import current_design, keep
from workbook.numbers import rounded

CASES = [
    {"power_w": 700.0},
    {"resistance_factor": 2.5},
    {"landing_v": 3.4},
    {"reserve_pct": 35.0},
    {"power_w": 900.0, "resistance_factor": 2.0},
]


@pytest.mark.parametrize("changes", CASES, ids=str)
def test_text_charts_and_working_change_to_the_same_value(opened, changes):
    view = opened("landing_voltage")
    before = (view.volts.finding_text, plain(view.key.html.value))
    for name, value in changes.items():
        view.inputs[name].value = value
    v, pack = view.live.values(), view.design.pack
    run = constant_power(
        pack.cell.model,
        v["power_w"] / pack.cells,
        v["landing_v"],
        1 - v["reserve_pct"] / 100,
        extra_mohm=pack.joint_mohm_per_cell,
        resistance_factor=v["resistance_factor"],
    )
    minutes = float(run.time_s) / 60
    end_ah, end_a = float(run.charge_ah) * pack.parallel, float(run.end_a) * pack.parallel
    assert point_at(view.volts) == pytest.approx((end_ah, float(run.end_v)))
    assert point_at(view.amperes) == pytest.approx((end_ah, end_a))
    whole = np.floor(10.0 * minutes) / 10.0  # never given too long
    assert f"{whole:.1f} min at {float(run.end_v):.2f} V loaded" in view.volts.finding_text
    assert f"{rounded(end_a, 1, 'up'):.1f} A at the end" in view.amperes.finding_text
    assert f"flight {whole:.1f} min" in plain(view.key.html.value)
    assert shown_step(view, "flight_min") == f"= {minutes:.4g} min"
    assert shown_step(view, "end_v") == f"= {float(run.end_v):.4g} V"
    ends = "landing voltage" if run.landed else "reserve"
    assert f"The {ends} came first" in view.volts.finding_text
    expected = thresholds(
        pack,
        v["power_w"],
        landing_v=v["landing_v"],
        land_depth_of_discharge=1 - v["reserve_pct"] / 100,
        resistance_factor=v["resistance_factor"],
    )
    for each in (expected.alarm, expected.return_home, expected.land, expected.cut):
        # a voltage to act at is never given too low
        cell_v, pack_v = (
            np.ceil(100.0 * each.loaded_v - 1e-6),
            np.ceil(10.0 * each.pack_loaded_v - 1e-6),
        )
        assert f"{cell_v / 100.0:.2f} {pack_v / 10.0:.1f}" in plain(view.settings.html.value)
    assert (view.volts.finding_text, plain(view.key.html.value)) != before


def test_cold_cells_fly_as_ones_of_the_resistance_that_the_cold_gives_them(opened):
    view = opened("landing_voltage")
    view.inputs["cell_temperature_c"].value = 0.0
    # Arrhenius, 20 kJ/mol: exp(20000 / 8.314 * (1/273.15 - 1/298.15)) = 2.09
    assert view.result.factor == pytest.approx(2.09, abs=0.01)
    cold = view.result.flight_min
    view.inputs["cell_temperature_c"].value = 25.0
    view.inputs["resistance_factor"].value = view.inputs["resistance_factor"].most
    assert view.result.flight_min < cold


def test_the_end_lies_on_the_loaded_curve(opened):
    view = opened("landing_voltage")
    x, y = line_of(view.volts, 1)
    charge_ah, volts = point_at(view.volts)
    assert np.interp(charge_ah, x, y) == pytest.approx(volts, abs=2e-3)
    _, rest = line_of(view.volts, 0)
    assert (rest > y).all()


def test_cold_shows_the_fresh_curve_beside_and_the_collapse(opened):
    view = opened("landing_voltage")
    assert len(view.volts.lines) == 2
    with view.live.held():
        view.inputs["resistance_factor"].value = 4.0
        view.inputs["power_w"].value = 800.0
    assert len(view.volts.lines) == 3
    assert view.result.collapses
    assert "it collapses" in view.volts.finding_text
    _, loaded = line_of(view.volts, 2)
    assert np.isfinite(loaded).all()
    assert len(loaded) < len(view.result.curve.depth_of_discharge)


def test_no_take_off_and_too_much_current_are_given_in_words(opened):
    view = opened("landing_voltage")
    with view.live.held():
        view.inputs["resistance_factor"].value = 4.0
        view.inputs["power_w"].value = 2100.0
    view.working_panel.fold.value = True
    assert view.live.problems == ()
    assert "no take-off" in view.volts.finding_text
    assert "must not fly" in view.notices.html.value
    assert "No current gives 2100 W" in view.amperes.finding_text
    shown = plain(view.key.html.value) + plain(view.working_panel.html.value)
    assert "nan" not in shown
    view.inputs["resistance_factor"].value = 1.0
    view.inputs["power_w"].value = 1000.0
    assert "vent and burn" in view.notices.html.value


def test_an_impossible_landing_voltage_is_refused(opened):
    view = opened("landing_voltage")
    with pytest.raises(InputError, match=r"out of range; 2[.]5 to 3[.]99 V is needed"):
        view.inputs["landing_v"].value = 2.2
    view.inputs["landing_v"].type_in("2,2")
    assert "out of range" in view.inputs["landing_v"].reply.text


def test_landing_voltage_and_reserve_are_kept(opened):
    view = opened("landing_voltage")
    view.inputs["landing_v"].value = 3.25
    view.inputs["reserve_pct"].value = 25.0
    view.keep_now()
    flight = current_design().flight
    assert (flight.landing_v, flight.reserve_pct) == (3.25, 25.0)


def test_it_opens_on_a_craft_that_the_table_does_not_reach(opened):
    keep(mass_without_pack_g=60_000.0)
    view = opened("landing_voltage")
    assert view.live.problems == ()
    assert "does not reach your hover" in view.resistance_note.value
