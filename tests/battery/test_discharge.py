"""Constant power and current: exact ends, edge cases, arrays that agree with one-by-one calls."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.battery.discharge import (
    CHUNK,
    constant_current,
    constant_power,
    most_power_w,
    sag_curve,
    voltage_under_power,
)
from workbook.battery.model import CellModel
from workbook.errors import InputError
from workbook.files.cell_file import find_cell

DEPTH = np.linspace(0.0, 1.0, 201)
LINE = CellModel(DEPTH, 4.2 - 1.2 * DEPTH, np.full(201, 30.0), 5.0, "curves")


@pytest.fixture(scope="module")
def bent() -> CellModel:
    return find_cell("Sandpiper").model


def test_constant_current_by_hand() -> None:
    """10 A, 30 mohm: V = 3.9 - 1.2 z meets 3.0 V at z = 0.75: 3.75 Ah, 1350 s, mean 3.45 V."""
    run = constant_current(LINE, 10.0, 3.0)
    assert (run.end_depth_of_discharge, run.charge_ah, run.time_s) == pytest.approx(
        (0.75, 3.75, 1350.0)
    )
    assert run.energy_wh == pytest.approx(3.75 * 3.45)
    assert (run.start_v, run.end_v, run.end_open_circuit_v) == pytest.approx((3.9, 3.0, 3.3))
    assert run.landed
    early = constant_current(LINE, 10.0, 3.0, 0.6)
    assert early.time_s == pytest.approx(3600 * 5.0 * 0.6 / 10.0)
    assert not early.landed


def test_ends_lie_exactly_on_the_limit(bent: CellModel) -> None:
    power = np.linspace(2.0, 60.0, 400)
    run = constant_power(bent, power, 3.0, 0.9, extra_mohm=2.0)
    assert run.landed.any()
    assert not run.landed.all()
    assert run.end_v[run.landed] == pytest.approx(3.0, abs=1e-12)
    assert (run.end_depth_of_discharge[~run.landed] == 0.9).all()
    assert run.end_a == pytest.approx(power / run.end_v)


def test_energy_balance(bent: CellModel) -> None:
    """Power x time is the energy; charge is what the depth says."""
    run = constant_power(bent, [5.0, 20.0, 50.0], 2.9, capacity_factor=0.8)
    assert run.time_s * [5.0, 20.0, 50.0] / 3600 == pytest.approx(run.energy_wh)
    assert run.charge_ah == pytest.approx(0.8 * bent.capacity_ah * run.end_depth_of_discharge)


@pytest.mark.parametrize("power_w", [5.0, 40.0, 150.0])
@pytest.mark.parametrize("landing_v", [3.0, 2.2, 0.5])
def test_integral_against_a_fine_one(bent: CellModel, power_w: float, landing_v: float) -> None:
    """Trapezoids on a grid of a million points, straight from V = (U + sqrt(U^2 - 4 P R)) / 2."""
    run = constant_power(bent, power_w, landing_v)
    z = np.linspace(0.0, run.end_depth_of_discharge, 1_000_001)
    u, r = bent.open_circuit_at(z), bent.resistance_at(z) / 1000
    volts = 0.5 * (u + np.sqrt(np.maximum(u**2 - 4 * power_w * r, 0.0)))
    assert run.energy_wh / bent.capacity_ah == pytest.approx(
        np.trapezoid(volts, z), rel=1e-4 if run.infeasible else 2e-5
    )


def test_power_out_of_reach_before_the_landing_voltage() -> None:
    """U^2 = 4 P R: 100 W, 30 mohm at U = 3.4641 V, z = 0.61325, where V = U / 2 = 1.732 V."""
    run = constant_power(LINE, 100.0, 1.0)
    assert run.infeasible
    assert run.landed
    assert run.end_depth_of_discharge == pytest.approx((4.2 - np.sqrt(12.0)) / 1.2)
    assert run.end_v == pytest.approx(np.sqrt(3.0))
    # with a landing voltage above that, it is met first
    above = constant_power(LINE, 100.0, 2.0)
    assert not above.infeasible
    assert above.end_v == pytest.approx(2.0)
    never = constant_power(LINE, 200.0, 1.0)  # 4.2^2 < 4 x 200 x 0.03
    assert never.infeasible
    assert never.time_s == 0.0
    assert np.isnan(never.start_v)


def test_landing_voltage_not_met_at_the_start() -> None:
    run = constant_power(LINE, 50.0, 3.9)  # 4.2 V sags to 3.81 V
    assert (run.time_s, run.charge_ah, run.energy_wh, run.end_depth_of_discharge) == (
        0.0,
        0.0,
        0.0,
        0.0,
    )
    assert run.landed
    assert run.end_v == run.start_v


def test_no_power_lasts_for_ever() -> None:
    run = constant_power(LINE, 0.0, 3.3, 0.9)
    assert run.time_s == np.inf
    assert run.charge_ah == pytest.approx(3.75)  # U meets 3.3 V at z = 0.75
    assert constant_power(LINE, 0.0, 3.3, 0.0).time_s == 0.0
    assert constant_current(LINE, 0.0, 3.0).time_s == np.inf


def test_start_depth_splits_a_run(bent: CellModel) -> None:
    """To half, and from there on, is the whole."""
    whole = constant_power(bent, 30.0, 3.0)
    first = constant_power(bent, 30.0, 3.0, 0.4137)
    second = constant_power(bent, 30.0, 3.0, start_depth_of_discharge=0.4137)
    assert first.time_s + second.time_s == pytest.approx(whole.time_s, rel=1e-6)
    assert second.start_v == pytest.approx(first.end_v)
    past = constant_power(bent, 30.0, 3.0, 0.3, start_depth_of_discharge=0.5)
    assert (past.time_s, past.end_depth_of_discharge) == (0.0, 0.5)


def test_scaling_laws(bent: CellModel) -> None:
    """V depends on P R only: twice the power on half the resistance, half the time."""
    one = constant_power(bent, 20.0, 3.0, extra_mohm=4.0)
    two = constant_power(bent, 40.0, 3.0, extra_mohm=2.0, resistance_factor=0.5)
    assert two.time_s == pytest.approx(one.time_s / 2)


def test_arrays_equal_single_calls_whatever_their_shape(bent: CellModel) -> None:
    rng = np.random.default_rng(1)
    count = CHUNK + 137
    power, extra = rng.uniform(0.0, 200.0, count), rng.uniform(0.0, 5.0, count)
    landing, start = rng.uniform(0.5, 3.4, count), rng.choice([0.0, 0.1, 0.33], count)
    whole = constant_power(
        bent, power, landing, 0.9, extra_mohm=extra, start_depth_of_discharge=start
    )
    for k in (*range(0, count, 97), count - 1):
        one = constant_power(
            bent, power[k], landing[k], 0.9, extra_mohm=extra[k], start_depth_of_discharge=start[k]
        )
        for name in ("time_s", "energy_wh", "end_depth_of_discharge", "end_v", "start_v", "landed"):
            assert getattr(one, name) == pytest.approx(
                getattr(whole, name)[k], rel=1e-12, nan_ok=True
            )
    square = constant_power(bent, power[:12].reshape(3, 4), landing[:4], 0.9)
    assert square.time_s.shape == (3, 4)
    assert constant_power(bent, np.empty(0), 3.0).time_s.shape == (0,)


UNKNOWN = [np.nan, 1.0]


@pytest.mark.parametrize(
    "unknown",
    [
        {"power_w": [np.nan, 10.0]},
        {"landing_v": [np.nan, 3.0]},
        {"last_depth_of_discharge": UNKNOWN},
        {"start_depth_of_discharge": [np.nan, 0.1]},
        {"extra_mohm": UNKNOWN},
        {"resistance_factor": UNKNOWN},
        {"capacity_factor": UNKNOWN},
    ],
    ids=lambda changed: next(iter(changed)),
)
def test_unknown_stays_unknown(unknown: dict[str, Any]) -> None:
    run = constant_power(LINE, **{"power_w": 10.0, "landing_v": 3.0, **unknown})
    for name in ("time_s", "charge_ah", "energy_wh", "end_depth_of_discharge", "end_v", "start_a"):
        values = getattr(run, name)
        assert np.isnan(values[0])
        assert np.isfinite(values[1])
    assert not run.landed[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"power_w": -1.0}, "power_w: -1 is not possible; 0 W or more is needed"),
        ({"power_w": np.inf}, "power_w: inf"),
        ({"landing_v": 0.0}, "landing_v: 0 is not possible"),
        ({"last_depth_of_discharge": 1.2}, "last_depth_of_discharge: 1.2 is not possible; 0 to 1"),
        ({"start_depth_of_discharge": -0.1}, "start_depth_of_discharge"),
        ({"extra_mohm": np.array([0.0, -2.0])}, "extra_mohm: -2"),
    ],
)
def test_what_cannot_be_is_refused(changes, words: str) -> None:
    arguments = {"power_w": 10.0, "landing_v": 3.0} | changes
    with pytest.raises(InputError, match=words):
        constant_power(LINE, **arguments)


def test_three_hundred_watts_on_4s2p() -> None:
    # by hand, 300 W on 8 cells of 30 mohm: at 4.15, 3.6 and 3.2 V at rest 19.4, 23.0 and 26.8 A of the
    # pack, 3.86, 3.25 and 2.80 V per cell
    volts = voltage_under_power(np.array([4.15, 3.6, 3.2]), 30.0, 300 / 8)
    assert volts == pytest.approx([3.86, 3.25, 2.80], abs=0.01)
    assert 2 * 300 / 8 / volts == pytest.approx([19.4, 23.0, 26.8], abs=0.05)


def test_at_the_most_power_the_cell_stands_at_half_its_resting_voltage() -> None:
    # maximum power transfer: load equal to source resistance, so V = U / 2 and P = U^2 / (4 R)
    most = most_power_w(3.4, 50.0)
    assert float(most) == pytest.approx(3.4**2 / 0.2)
    assert float(voltage_under_power(3.4, 50.0, most * (1 - 1e-12))) == pytest.approx(1.7, rel=1e-4)
    assert np.isnan(voltage_under_power(3.4, 50.0, most * 1.001))


def test_the_curve_agrees_with_the_discharge_and_breaks_off_where_it_collapses() -> None:
    model = straight_cell(resistance_mohm=80.0).model
    # by hand: U = 4.2 - 1.2 z; U^2 = 4 P R = 4 x 35 W x 0.08 ohm at U = 3.3466, z = 0.7112
    curve = sag_curve(model, 35.0)
    assert curve.collapse_depth_of_discharge == pytest.approx(0.7112, abs=0.0025)
    alive = curve.depth_of_discharge < 0.7112
    assert np.isfinite(curve.loaded_v[alive]).all()
    assert np.isnan(curve.loaded_v[~alive]).all()
    run = constant_power(model, 35.0, 2.5)
    at_end = np.interp(
        float(run.end_depth_of_discharge), curve.depth_of_discharge[alive], curve.loaded_v[alive]
    )
    assert at_end == pytest.approx(2.5, abs=0.01)
    assert (np.diff(curve.current_a[alive]) > 0).all()
