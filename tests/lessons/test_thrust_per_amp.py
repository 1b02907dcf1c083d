"""Lesson 5: charts, rows, key figures and working follow every control, and agree."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lessons.conftest import line_of, plain, point_at, shown_step
from workbook.lessons.learner import current_design
from workbook.numbers import rounded

CASES = [
    {"thrust_gf": 1100.0},
    {"voltage_v": 17.5},
    {"table": 0},
    {"thrust_gf": 400.0, "voltage_v": 30.0},
]


@pytest.mark.parametrize("changes", CASES, ids=str)
def test_text_charts_and_working_change_to_the_same_value(opened, changes):
    view = opened("thrust_per_amp")
    before = (view.watts.finding_text, view.amperes.finding_text, view.rows.html.value)
    for name, value in changes.items():
        view.inputs[name].value = view.file.tables[value] if name == "table" else value
    values = view.live.values()
    # by hand: watts from the table, amperes are watts over volts
    gf, volts = values["thrust_gf"], values["voltage_v"]
    watts = float(values["table"].power_at_thrust(gf))
    amperes = watts / volts
    assert point_at(view.watts, 2) == pytest.approx((gf, gf / watts))
    assert point_at(view.amperes) == pytest.approx((gf, gf / amperes))
    drawn = f"{rounded(amperes, 2, 'up'):.2f} A"
    assert f"{rounded(watts, 1, 'up'):.1f} W at any voltage: {drawn}" in view.amperes.finding_text
    assert drawn in plain(view.key.html.value)
    assert f"{rounded(gf / watts, 2, 'down'):.2f}" in plain(view.rows.html.value)
    assert shown_step(view, "current_per_motor_a") == f"= {amperes:.4g} A"
    assert shown_step(view, "efficiency_gf_w") == f"= {gf / watts:.4g} gf/W"
    after = (view.watts.finding_text, view.amperes.finding_text, view.rows.html.value)
    assert after != before


def test_voltage_moves_the_amperes_and_leaves_the_watts(opened):
    view = opened("thrust_per_amp")
    per_watt, per_ampere = (np.array(line_of(c)[1]) for c in (view.watts, view.amperes))
    view.inputs["voltage_v"].value = view.inputs["voltage_v"].value * 1.5
    assert line_of(view.watts)[1] == pytest.approx(per_watt)
    assert line_of(view.amperes)[1] == pytest.approx(1.5 * per_ampere)


def test_the_two_rows_bracket_and_the_table_beside_can_be_put_away(opened):
    view = opened("thrust_per_amp")
    low, high, here = (point_at(view.watts, n)[0] for n in (0, 1, 2))
    assert low <= here <= high
    assert np.isin([low, high], view.result.table.thrust_gf).all()
    assert len(view.watts.lines) == 2
    view.inputs["beside"].value = None
    assert len(view.watts.lines) == 1
    assert "14x4.8" not in view.rows.html.value


def test_thrust_outside_the_table_is_reported(opened):
    view = opened("thrust_per_amp")
    view.inputs["thrust_gf"].value = 50_000.0
    assert "outside the thrust table" in view.live.problems[0]
    assert view.live.current() is None


def test_the_propeller_chosen_is_kept(opened):
    view = opened("thrust_per_amp")
    view.inputs["table"].value = view.file.tables[0]
    view.keep_now()
    assert "next lesson" in view.kept.value
    assert current_design().craft.table.propeller == "14x4.8"
    assert opened("thrust_per_amp").inputs["table"].value.propeller == "14x4.8"
