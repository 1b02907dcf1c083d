"""Lesson 4: rulers, charge curves, figures and working follow the dials, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.conftest import straight_cell
from tests.lessons.conftest import line_of, plain, point_at, shown_step, step
from workbook.battery.c_rate import planned_charge, rate_ask
from workbook.battery.charge import CHARGE_RESISTANCE, Charger
from workbook.battery.pack import Pack
from workbook.files.cell_file import find_cell


def test_rates_broadcast_and_are_those_of_a_hand_calculation():
    # 3P of 5 Ah: 2 C is 10 A a cell and 30 A of the pack, empty in 30 min; 15 A continuous is 3 C.
    ask = rate_ask(Pack(straight_cell(), 4, np.array([1, 3])), 2.0, 80.0)
    assert ask.pack_a.tolist() == [10.0, 30.0]
    assert ask.cell_a == 10.0
    assert ask.minutes == 30.0
    assert (ask.continuous_c, ask.allowed_a, ask.allowed_c) == pytest.approx((3.0, 12.0, 2.4))


@pytest.mark.parametrize(
    ("c_rate", "words"),
    [
        (2.0, "within what is allowed"),
        (2.7, "above the share"),
        (4.0, "seconds of a burst"),
        (6.0, "unsafe"),
    ],
)
def test_what_a_discharge_means_is_told_in_words(c_rate, words):
    # 5 Ah, 15 A continuous (3 C), 25 A burst (5 C), 80 % allowed (2.4 C)
    assert words in rate_ask(Pack(straight_cell(), 4, 2), c_rate, 80.0).discharge_words


def test_a_charge_of_a_straight_cell_is_that_of_a_hand_calculation():
    # U = 3 + 1.2 (1 - z) behind r = 30 mohm x CHARGE_RESISTANCE, 1.5 A: 4.2 V is met at 1.2 z = 1.5 r;
    # constant current until then, (1 - z) x 5 Ah / 1.5 A. Then I = 1.2 z / r fades as exp(-t / tau),
    # tau = r x 5 Ah / 1.2 V, from 1.5 A to the end at 0.05 C, 0.25 A: tau ln 6.
    r = 0.030 * CHARGE_RESISTANCE
    steady_min = 60 * (1 - 1.5 * r / 1.2) * 5 / 1.5
    tau_min = 60 * r * 5 / 1.2
    done = planned_charge(Pack(straight_cell(), 4, 2), Charger(20.0, 1e6), 0.3)
    assert done.plan.current_a == pytest.approx(3.0)
    assert done.time_min[-1] == pytest.approx(steady_min + tau_min * np.log(6), rel=2e-3)
    held = np.interp(steady_min - 0.3, done.time_min, done.pack_a)
    assert held == pytest.approx(3.0, rel=1e-6)
    assert np.interp(steady_min + tau_min, done.time_min, done.pack_a) == pytest.approx(
        3.0 / np.e, rel=0.02
    )


@pytest.mark.parametrize("cell", ["Bittern 50E", "Lapwing 45P", "Curlew 34E"])
@pytest.mark.parametrize("watts", [60.0, 400.0])
@pytest.mark.parametrize("left_pct", [0.0, 15.0, 70.0])
def test_the_course_ends_when_the_plan_says(cell, watts, left_pct):
    done = planned_charge(Pack(find_cell(cell), 6, 2), Charger(20.0, watts), 0.5, left_pct=left_pct)
    assert done.time_min[-1] == pytest.approx(done.plan.minutes_full, rel=5e-3)
    assert np.interp(80.0, done.charged_pct, done.time_min) == pytest.approx(
        done.plan.minutes_80, rel=2e-3
    )
    assert (np.diff(done.time_min) > 0).all()
    assert done.cell_v.max() <= 4.2 + 1e-9
    assert done.pack_a.max() <= done.plan.current_a + 1e-9
    watts_seen = done.pack_a * done.cell_v * 6
    assert watts_seen.max() <= watts * (1 + 1e-9)


@pytest.mark.parametrize(
    "changes",
    [
        {"discharge_c": 2.75},
        {"parallel": 5},
        {"charge_c": 0.8},
        {"left_pct": 40.0},
        {"cell_v": 4.1},
        {"charger_a": 3.0},
        {"charger_w": 90.0},
        {"temperature_c": 12.0},
    ],
    ids=lambda c: next(iter(c)),
)
def test_text_charts_and_working_change_to_the_same_values(opened, changes):
    view = opened("c_rate")

    def shown():
        return (
            plain(view.figures.html.value), view.current.finding_text, view.voltage.finding_text,
            view.rulers.svg.value,
        )  # fmt: skip

    before = shown()
    for name, value in changes.items():
        view.inputs[name].value = value
    assert shown() != before
    values = view.live.values()
    pack_a = (
        values["discharge_c"] * values["parallel"] * values["cell"].rated_capacity_ah
    )  # by hand
    assert f"discharge, pack {pack_a:.1f} A" in plain(view.figures.html.value)
    assert f"{pack_a:.1f} A of the pack" in view.rulers.finding_text
    assert step(view, "pack_a").result == pytest.approx(pack_a)
    assert shown_step(view, "pack_a")
    plan = view.result.charge.plan
    assert shown_step(view, "charge_current_a") == f"= {plan.current_a:.4g} A"
    _, amps = line_of(view.current)
    assert amps.max() <= plan.current_a + 1e-9
    assert f"charge, pack {plan.current_a:.1f} A" in plain(view.figures.html.value)
    end = point_at(view.current)[0]
    assert f"to full {end:.0f} min" in plain(view.figures.html.value)
    assert f"after {end:.0f} min" in view.current.finding_text


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"temperature_c": -3.0}, "lithium plates"),
        ({"temperature_c": 50.0}, "cool first"),
        ({"charge_c": 2.0}, "It is unsafe"),
        ({"cell_v": 4.3}, "4.2 V is set"),
    ],
)
def test_an_unsafe_charge_is_told_in_words(opened, changes, told):
    view = opened("c_rate")
    assert plain(view.notices.html.value) == ""
    for name, value in changes.items():
        view.inputs[name].value = value
    assert told in plain(view.notices.html.value)
