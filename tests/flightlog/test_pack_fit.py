"""Resistance and charge of a pack out of voltage against current."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flightlog.simulated import Sensor, Truth, fly
from workbook.flightlog.pack_fit import counted_as_one, fit_pack, rc_response
from workbook.sizing.calibration import Readings
from workbook.sizing.design import Design


@pytest.mark.parametrize(
    ("share", "late_s"),
    [
        (0.0, 1.0),
        (0.5, 25.0),
        pytest.param(0.15, 6.0, marks=pytest.mark.long),
        pytest.param(0.3, 12.0, marks=pytest.mark.long),
    ],
)
def test_the_resistance_of_steady_flight_is_found_however_it_answers(
    census_six: Design, share: float, late_s: float
) -> None:
    """Factors of 0.85 to 1.45 within 4 %, whatever share of the resistance comes late."""
    rng = np.random.default_rng(3)
    factors = np.array([0.85, 1.0, 1.2, 1.45])
    truth = Truth(
        np.full(4, 440.0),
        np.full(4, 14.0),
        factors,
        np.ones(4),
        delayed_share=share,
        time_constant_s=late_s,
    )
    flown = fly(census_six, truth, rng)
    for k, factor in enumerate(factors):
        found = fit_pack(flown.log(k, Sensor(), rng), flown.air, census_six, 440.0, Readings())
        assert found is not None
        assert found.resistance_factor == pytest.approx(factor, rel=0.04)
        assert found.end_depth == pytest.approx(flown.depth[k], abs=0.02)
        assert found.rested


def test_depth_of_discharge_is_not_taken_for_resistance(census_six: Design) -> None:
    """The plain line through voltage against current of the same flight is far off: voltage falls as charge goes."""
    rng = np.random.default_rng(4)
    truth = Truth(np.array([440.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]))
    flown = fly(census_six, truth, rng)
    log = flown.log(0, Sensor(), rng)
    air = log.between(*flown.air)
    plain = -np.polyfit(air.current_a, air.voltage_v, 1)[0] * 1000.0
    true = (
        float(census_six.pack.cell.model.resistance_at(0.5 * flown.depth[0]))
        + float(census_six.pack.joint_mohm_per_cell)
    ) * 2.0
    found = fit_pack(log, flown.air, census_six, 440.0, Readings())
    assert found is not None
    assert abs(plain / true - 1.0) > 0.2
    assert abs(found.resistance_factor - 1.0) < 0.04


def test_a_pack_that_was_not_full_is_seen(census_six: Design) -> None:
    rng = np.random.default_rng(5)
    truth = Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=900.0
    )
    flown = fly(census_six, truth, rng)
    log = flown.log(0, Sensor(), rng)
    later = log.between(flown.air[1] + 2.0, log.time_s[-1])  # at rest, some 40 % gone
    model = census_six.pack.cell.model
    rest = float(np.mean(later.voltage_v)) / 6.0
    assert (
        0.2
        < float(
            np.interp(-rest, -model.open_circuit_at(np.linspace(0, 1, 99)), np.linspace(0, 1, 99))
        )
        < 0.6
    )


def test_too_little_is_no_fit(census_six: Design) -> None:
    rng = np.random.default_rng(6)
    truth = Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=60.0
    )
    flown = fly(census_six, truth, rng)
    log = flown.log(0, Sensor(rate_hz=0.2), rng)
    assert fit_pack(log, flown.air, census_six, 420.0, Readings()) is None


def test_an_rc_branch_follows_a_step_as_its_formula_has_it() -> None:
    """1 - exp(-t / tau), at rows 0.1 s apart; within 1 %."""
    time_s = np.arange(0.0, 60.0, 0.1)
    shown = rc_response(np.where(time_s > 0.0, 1.0, 0.0), 0.1, 12.0)
    np.testing.assert_allclose(shown, 1.0 - np.exp(-time_s / 12.0), atol=0.01)


def test_correlated_rows_count_for_fewer() -> None:
    """Of a chain with correlation r between neighbours, (1 + r) / (1 - r) count as one: 19 at 0.9."""
    rng = np.random.default_rng(7)
    chain = np.zeros(200_000)
    for k, step in enumerate(rng.normal(size=len(chain) - 1)):
        chain[k + 1] = 0.9 * chain[k] + step
    assert counted_as_one(chain) == pytest.approx(19.0, rel=0.1)
    assert counted_as_one(rng.normal(size=5000)) == pytest.approx(1.0, abs=0.1)
