"""Thresholds from the pack's own sag, against the discharge itself and the trade's rules."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.battery.thresholds import (
    Settings,
    check_settings,
    misread_below_v,
    thresholds,
)
from workbook.errors import InputError
from workbook.files.cell_file import catalogue, find_cell

PACK = Pack(find_cell("Bittern"), 4, 2, joint_mohm=8.0)


class StraightCell:
    """A pack's cell with U = 4.2 - 1.2 z and 30 mohm: every threshold has a closed form."""

    model = CellModel(
        np.linspace(0, 1, 201),
        4.2 - 1.2 * np.linspace(0, 1, 201),
        np.full(201, 30.0),
        5.0,
        "curves",
    )
    floor_v = 2.8


STRAIGHT = Pack(StraightCell(), 4, 2)  # type: ignore[arg-type]


def test_against_the_closed_form():
    """8 cells, 160 W: 20 W per cell. Loaded V where U = V + P R / V; z = (4.2 - U) / 1.2."""
    set_at = thresholds(STRAIGHT, 160.0, landing_v=3.2, land_depth_of_discharge=1.0)
    rest = 3.2 + 20.0 * 0.030 / 3.2
    z = (4.2 - rest) / 1.2
    assert set_at.land.rest_v == pytest.approx(rest)
    assert set_at.land.loaded_v == pytest.approx(3.2)
    assert set_at.land.pack_loaded_v == pytest.approx(12.8)
    assert set_at.sag_v == pytest.approx(20.0 * 0.030 / 3.2)
    assert set_at.land.depth_of_discharge == pytest.approx(z)
    assert set_at.return_home.depth_of_discharge == pytest.approx(z - 0.10)
    assert set_at.alarm.depth_of_discharge == pytest.approx(z - 0.20)
    assert set_at.alarm.rest_v == pytest.approx(4.2 - 1.2 * (z - 0.20))
    assert set_at.land.used_ah == pytest.approx(2 * 5.0 * z)
    rest_cut = 2.8 + 20.0 * 0.030 / 2.8
    assert set_at.cut.depth_of_discharge == pytest.approx((4.2 - rest_cut) / 1.2)


def test_minutes_flown_by_then():
    """Without sag to speak of, 1 mW a cell: 5 Ah x z x the mean of 4.2 and 4.2 - 1.2 z volts / P."""
    set_at = thresholds(STRAIGHT, 0.008, landing_v=3.2, land_depth_of_discharge=0.8)
    for level in (set_at.alarm, set_at.return_home, set_at.land):
        z = float(level.depth_of_discharge)
        hours = 5.0 * z * (4.2 - 0.6 * z) / 0.001
        assert float(level.flown_min) == pytest.approx(60.0 * hours, rel=1e-4)


def test_a_longer_way_home_calls_for_the_return_earlier_and_a_shorter_one_not_later():
    usual, far, near = (
        thresholds(STRAIGHT, 20.0, land_depth_of_discharge=0.8, home_share=share)
        for share in (0.10, 0.25, 0.02)
    )
    assert float(far.return_home.depth_of_discharge) == pytest.approx(0.8 - 0.25)
    assert float(far.alarm.depth_of_discharge) == pytest.approx(0.8 - 0.25 - 0.10)
    assert near.return_home == usual.return_home
    with pytest.raises(InputError, match="home_share"):
        thresholds(STRAIGHT, 160.0, home_share=1.5)


def test_worked_figures_of_the_trade():
    """300 W on 4S2P at 30 mohm per cell, at rest 3.6 and 3.2 V: 3.25 and 2.80 V loaded (worked from
    V = (U + sqrt(U^2 - 4 P R)) / 2 with 37.5 W per cell)."""
    for rest, loaded in ((3.6, 3.25), (3.2, 2.80)):
        set_at = thresholds(
            STRAIGHT, 300.0, landing_v=2.6, land_depth_of_discharge=(4.2 - rest) / 1.2
        )
        assert set_at.land.rest_v == pytest.approx(rest)
        assert set_at.land.loaded_v == pytest.approx(loaded, abs=0.005)


def test_order_and_agreement_with_the_discharge():
    set_at = thresholds(PACK, 200.0)
    named = (set_at.alarm, set_at.return_home, set_at.land, set_at.cut)
    loaded = [float(t.loaded_v) for t in named]
    assert loaded == sorted(loaded, reverse=True)
    # joints of 8 mohm are 8 x 2 / 4 = 4 mohm as seen by a cell
    run = constant_power(PACK.cell.model, 25.0, 3.1, 0.85, extra_mohm=4.0)
    assert set_at.land.depth_of_discharge == pytest.approx(run.end_depth_of_discharge)
    assert set_at.land.loaded_v == pytest.approx(run.end_v)
    for t in named:
        assert t.rest_v > t.loaded_v
        assert t.pack_rest_v == pytest.approx(4 * t.rest_v)


@pytest.mark.parametrize("name", sorted(catalogue()))
def test_gentle_flight_lands_where_the_trade_does(name):
    """At 1.5 It per cell and 85 % used: 3.0 to 3.4 V loaded, 3.2 to 3.5 V at rest (common practice,
    no source)."""
    cell = find_cell(name)
    set_at = thresholds(Pack(cell, 4, 1), 4 * 3.5 * 1.5 * cell.rated_capacity_ah, landing_v=3.0)
    assert 2.99 <= set_at.land.loaded_v <= 3.4
    assert 3.2 <= set_at.land.rest_v <= 3.5


def test_cold_and_age_lower_the_loaded_voltage():
    warm, cold = (thresholds(PACK, 200.0, resistance_factor=f) for f in (1.0, 2.0))
    assert (
        cold.alarm.loaded_v < warm.alarm.loaded_v
        or cold.alarm.depth_of_discharge < warm.alarm.depth_of_discharge
    )
    assert cold.land.depth_of_discharge < warm.land.depth_of_discharge
    assert cold.sag_v > warm.sag_v
    aged = thresholds(PACK, 200.0, capacity_factor=0.8)
    assert aged.land.used_ah == pytest.approx(0.8 * thresholds(PACK, 200.0).land.used_ah, rel=1e-9)


def test_arrays_of_designs():
    pack = Pack(PACK.cell, np.array([4, 6]), np.array([2, 3]))
    power = np.array([[200.0], [300.0], [400.0]])
    together = thresholds(pack, power, climb_w=power * 1.5)
    assert together.land.loaded_v.shape == (3, 2)
    assert together.climb_loaded_v.shape == (3, 2)
    alone = thresholds(Pack(PACK.cell, 6, 3), 400.0, climb_w=600.0)
    assert together.land.pack_loaded_v[2, 1] == pytest.approx(alone.land.pack_loaded_v)
    assert together.climb_loaded_v[2, 1] == pytest.approx(alone.climb_loaded_v)


def test_a_climb_that_trips_a_threshold_is_stated():
    assert thresholds(PACK, 200.0, climb_w=210.0).notices == ()
    texts = thresholds(PACK, 200.0, climb_w=400.0).text()
    assert "delay of about 10 s" in texts
    assert "do not climb" in thresholds(PACK, 200.0, climb_w=700.0).text().lower()
    assert "cannot give" in thresholds(PACK, 200.0, climb_w=5000.0).text()


def test_hard_stops_are_stated():
    assert "must not fly" in thresholds(PACK, 1500.0).text()
    assert "unsafe" in thresholds(PACK, 250.0, landing_v=2.6, land_depth_of_discharge=1.0).text()
    early = thresholds(PACK, 200.0, land_depth_of_discharge=0.15)
    assert "reserves are too large" in early.text()


def test_text_names_loaded_and_rest_and_the_rule():
    lines = thresholds(PACK, 200.0).text().splitlines()
    assert [line.split(":")[0] for line in lines] == ["alarm", "return", "land", "cut"]
    assert all("loaded" in line and "at rest" in line and "Rule of thumb" in line for line in lines)


def test_misread_counts_by_arithmetic():
    """4.3 V x (S - 1) / S: 3.23, 3.58, 3.76, 3.94 V per cell; and the rule, ceil(V / 4.3), around it."""
    series = np.array([4, 6, 8, 12])
    found = misread_below_v(series)
    assert found == pytest.approx([3.225, 3.5833, 3.7625, 3.9417], abs=1e-4)
    assert np.ceil(series * (found + 0.001) / 4.3).tolist() == series.tolist()
    assert np.ceil(series * (found - 0.001) / 4.3).tolist() == (series - 1).tolist()


SET_AT = thresholds(PACK, 200.0)
GOOD = Settings(
    4,
    round(float(SET_AT.return_home.pack_loaded_v), 1),
    round(float(SET_AT.land.pack_loaded_v), 1),
    capacity_ah=9.7,
)


def test_good_settings_pass():
    assert check_settings(PACK, SET_AT, GOOD) == ()


@pytest.mark.parametrize(
    ("settings", "key", "word"),
    [
        (Settings(None, GOOD.warn_v, GOOD.failsafe_v), "cells set", "3 instead of 4 below 3.2"),
        (Settings(3, GOOD.warn_v, GOOD.failsafe_v), "cells set", "Do not fly"),
        # a default of 10.5 V meant for 3S is 2.63 V per cell on 4S (2.625, printed to even)
        (Settings(4, GOOD.warn_v, 10.5), "failsafe", "2.62 V per cell"),
        (Settings(4, GOOD.warn_v, 11.19), "failsafe", "2.79 V per cell"),  # 2.7975, under 2.8 V
        (Settings(4, GOOD.warn_v, 0.0), "failsafe", "it is off"),
        (Settings(4, None, GOOD.failsafe_v), "warning", "it is off"),
        (Settings(4, GOOD.warn_v, 11.6), "failsafe", "keep its reserve"),
        (Settings(4, 14.4, GOOD.failsafe_v), "warning", "lithium-polymer habit"),
        (Settings(4, 12.0, 12.4), "warning", "too late"),
        (Settings(4, GOOD.warn_v, GOOD.failsafe_v, capacity_ah=3.3), "capacity", "3300 mAh"),
        (Settings(4, GOOD.warn_v, GOOD.failsafe_v, resting=True), "warning", "at rest"),
    ],
)
def test_wrong_settings_are_named(settings, key, word):
    found = check_settings(PACK, SET_AT, settings)
    assert any(p.where == key and word in p.what for p in found)


def left_pct_by_search(power_w, cell_v, resting):
    """Charge left where a cell's voltage first lies at or under one, from V = (U + sqrt(U^2 - 4 P R)) / 2."""
    model, depth = PACK.cell.model, np.linspace(0.0, 1.0, 200_001)
    u, r = model.open_circuit_at(depth), model.resistance_at(depth) + PACK.joint_mohm_per_cell
    loaded = (u + np.sqrt(u**2 - 4.0 * power_w / PACK.cells * r / 1000.0)) / 2.0
    return 100.0 * (1.0 - depth[np.argmax((u if resting else loaded) <= cell_v)])


@pytest.mark.parametrize("resting", [False, True])
@pytest.mark.parametrize("below_v", [0.03, 0.05, 0.08])
@pytest.mark.parametrize(
    ("key", "sentence"), [("failsafe_v", "the craft lands"), ("warn_v", "the warning comes")]
)
def test_what_a_low_setting_costs_is_shown(resting, below_v, key, sentence):
    wanted = SET_AT.land if key == "failsafe_v" else SET_AT.return_home
    right = {
        name: float(level.rest_v if resting else level.loaded_v)
        for name, level in (("failsafe_v", SET_AT.land), ("warn_v", SET_AT.return_home))
    }
    low_v = right[key] - below_v
    settings = Settings(4, resting=resting, capacity_ah=9.7, per_cell=True, **right | {key: low_v})
    (found,) = check_settings(PACK, SET_AT, settings)
    left = left_pct_by_search(200.0, low_v, resting)
    wanted_pct = 100.0 * (1.0 - float(wanted.depth_of_discharge))
    assert left < wanted_pct - 1.0
    assert f"{sentence} with {np.floor(left):.0f} % of the charge left instead of" in found.what
    assert f"instead of {wanted_pct:.0f} %." in found.what


def test_less_than_a_hundredth_of_the_charge_is_not_worth_a_word():
    low_v = float(SET_AT.land.loaded_v) - 0.005
    cost = 100.0 * (1.0 - SET_AT.land.depth_of_discharge) - left_pct_by_search(200.0, low_v, False)
    assert 0.0 < cost < 1.0
    home_v = float(SET_AT.return_home.loaded_v)
    assert check_settings(PACK, SET_AT, Settings(4, home_v, low_v, False, 9.7, True)) == ()


def test_wrong_figures_are_named_together():
    with pytest.raises(InputError) as caught:
        thresholds(
            PACK,
            0.0,
            landing_v=2.0,
            land_depth_of_discharge=1.5,
            climb_w=-5.0,
        )
    assert len(caught.value.problems) == 4


def test_volts_per_cell_act_at_as_many_cells_as_the_device_knows_of():
    """3.4 V times 3 is 10.2 V; on 4 in series that is 2.55 V each, under 2.8 V."""
    found = check_settings(PACK, SET_AT, Settings(3, 3.4, 3.4, per_cell=True))
    assert "3.4 V per cell times 3 is 2.55 V per cell for 4 in series" in found[1].what
    assert "unsafe" in found[1].what


def test_volts_per_cell_are_shown_as_they_are_set():
    found = check_settings(PACK, SET_AT, Settings(4, 3.5, 2.7, per_cell=True))
    assert found[0].what.startswith("2.7 V per cell lies under the hard floor of 2.8 V.")
    assert f"Set {float(np.ceil(100 * SET_AT.land.loaded_v) / 100):.2f} V per cell" in found[0].what


@pytest.mark.parametrize("power_w", [4000.0, 1e9])
def test_no_setting_is_right_where_the_pack_cannot_give_the_power(power_w):
    with pytest.raises(InputError, match="no setting makes this flight safe"):
        check_settings(PACK, thresholds(PACK, power_w), GOOD)
