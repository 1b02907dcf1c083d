"""Lesson 4: rulers, charge curves, figures and working follow the dials, and agree."""

from __future__ import annotations

import re

import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step, step
from workbook.lessons.c_rate import LEFT, RIGHT_MARGIN, WIDTH, Ruler, RulerPicture
from workbook.numbers import rounded


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
            plain(view.figures.html.value),
            view.current.finding_text,
            view.voltage.finding_text,
            view.rulers.svg.value,
        )

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
    plan = view.result.charge
    assert shown_step(view, "charge_current_a") == f"= {plan.current_a:.4g} A"
    _, amps = line_of(view.current)
    assert amps.max() <= plan.current_a + 1e-9
    assert f"charge, pack {rounded(plan.current_a, 1, 'down'):.1f} A" in plain(
        view.figures.html.value
    )
    end = point_at(view.current)[0]
    assert f" to {rounded(end, 0, 'up'):.0f} min" in plain(view.figures.html.value)
    assert f" to {rounded(end, 0, 'up'):.0f} min" in view.current.finding_text


@pytest.mark.parametrize(
    ("changes", "caution"),
    [
        ({"temperature_c": -3.0}, "lithium plates"),
        ({"temperature_c": 50.0}, "cool first"),
        ({"charge_c": 2.0}, "It is unsafe"),
        ({"cell_v": 4.3}, "4.2 V is set"),
    ],
)
def test_an_unsafe_charge_is_warned_of_in_words(opened, changes, caution):
    view = opened("c_rate")
    assert plain(view.notices.html.value) == ""
    for name, value in changes.items():
        view.inputs[name].value = value
    assert caution in plain(view.notices.html.value)


def test_limits_and_dial_stand_to_scale():
    picture = RulerPicture("Rates", 1)
    limits = {"continuous": 3.0, "burst": 4.0}
    picture.update([Ruler("discharge", 2.0, limits, 5.0)], 4.0, 2, "2 C.")
    thick = re.findall(
        r'<line x1="([\d.]+)" [^>]*stroke="#1f2430" stroke-width="2"', picture.svg.value
    )
    per_c = (WIDTH - RIGHT_MARGIN - LEFT) / 5.0
    assert [float(x) for x in thick] == pytest.approx(
        [LEFT + 3 * per_c, LEFT + 4 * per_c], abs=0.01
    )
    dial = re.search(r'<polygon points="([\d.]+),', picture.svg.value)
    assert float(dial[1]) == pytest.approx(LEFT + 2 * per_c, abs=0.01)
    assert "2P pack, A" in picture.svg.value


def test_a_dial_beyond_the_ruler_stands_at_its_end():
    picture = RulerPicture("Rates", 1)
    picture.update([Ruler("charge", 9.0, {"highest": 1.0}, 2.0)], 4.0, 1, "9 C.")
    assert f'<polygon points="{WIDTH - RIGHT_MARGIN:g},' in picture.svg.value
