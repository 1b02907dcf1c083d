"""Figures of a bench log against a circuit whose truth is written here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from workbook.errors import InputError
from workbook.flightlog.bench_log import bench_figures
from workbook.flightlog.log import FlightLog

AMPS, PACK_MOHM, GROUPS = 10.0, 42.0, 6
LOADED_S = 2700.0  # 45 min at 10 A: 7.5 Ah


def discharge(noise_v: float = 0.0, seed: int = 0) -> FlightLog:
    """A minute's rest, half the discharge, a minute's rest, the other half, a minute's rest; group 4 falls behind."""
    draw = np.random.default_rng(seed)
    time = np.arange(0.0, 180.0 + LOADED_S, 0.5)
    half = 60.0 + LOADED_S / 2.0
    on = ((time >= 60.0) & (time < half)) | ((time >= half + 60.0) & (time < 120.0 + LOADED_S))
    amps = np.where(on, AMPS, 0.0)
    used = np.cumsum(amps) * 0.5 / 3600.0
    cells = np.array([4.1 - 0.11 * used - PACK_MOHM / 6e3 * amps for _ in range(GROUPS)])
    cells[3] -= 0.06 * used / used[-1]
    cells += draw.normal(0.0, noise_v, cells.shape)
    heat = 22.0 + 20.0 * used / used[-1]
    return FlightLog("proof.csv", time, cells.sum(axis=0), amps, temperature_c=heat, cells_v=cells)


def test_a_proof_discharge_tells_what_the_table_asks_for() -> None:
    found, remarks = bench_figures(discharge())
    assert remarks == ()
    assert found["charge_ah"] == pytest.approx(7.5, rel=0.002)
    assert found["time_min"] == pytest.approx(45.0, rel=0.002)
    # ten seconds under load take 28 mAh: 6 x 0.11 V/Ah, over 10 A, is 1.8 mohm more
    assert found["resistance_mohm"] == pytest.approx(PACK_MOHM + 1.8, abs=0.4)
    assert found["spread_empty_mv"] == pytest.approx(60.0, abs=1.0)
    assert found["low_group"] == 4
    assert found["temperature_c"] == 42.0
    assert found["loaded_v"] == pytest.approx(6 * (4.1 - 0.11 * 7.5) - 0.06 - 0.42, abs=0.02)


def test_noise_on_every_reading_changes_little() -> None:
    for seed in range(20):
        found, _ = bench_figures(discharge(0.005, seed))
        assert found["resistance_mohm"] == pytest.approx(PACK_MOHM + 1.8, rel=0.05)
        assert found["spread_empty_mv"] == pytest.approx(60.0, abs=4.0)


def charge() -> FlightLog:
    time = np.arange(0.0, 7200.0, 1.0)
    amps = np.where(time < 3600.0, 4.0, 0.0)
    cells = np.array([3.6 + 0.55 * np.minimum(time / 3600.0, 1.0) for _ in range(GROUPS)])
    cells[1] -= 0.012
    return FlightLog("charge.csv", time, cells.sum(axis=0), amps, cells_v=cells)


@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_a_charge_tells_charge_and_the_spread_after_it_whichever_way_it_counts(
    turned: float,
) -> None:
    found, remarks = bench_figures(replace(charge(), current_a=turned * charge().current_a))
    assert found["charge_ah"] == pytest.approx(4.0, rel=0.001)
    assert found["spread_full_mv"] == pytest.approx(12.0, abs=0.2)
    assert "resistance_mohm" not in found
    assert "temperature" in " ".join(remarks)


@pytest.mark.parametrize(
    ("change", "key", "expected"),
    [
        (lambda log: replace(log, cells_v=None), "spread_empty_mv", "No group voltages are logged"),
        (lambda log: replace(log, temperature_c=None), "temperature_c", "No temperature is logged"),
        (
            lambda log: log.between(70.0, 1300.0),
            "resistance_mohm",
            "does not come on again from rest near half",
        ),
    ],
)
def test_what_the_log_cannot_tell_is_reported(
    change: Callable[[FlightLog], FlightLog], key: str, expected: str
) -> None:
    found, words = bench_figures(change(discharge()))
    assert key not in found
    assert expected in " ".join(words)


def test_charge_is_not_counted_across_a_gap_with_a_notice() -> None:
    log = discharge()
    found, remarks = bench_figures(log.kept((log.time_s < 500.0) | (log.time_s > 860.0)))
    assert found["charge_ah"] == pytest.approx(7.5 - 1.0, rel=0.003)  # 360 s at 10 A
    assert "361 s are missing" in remarks[0]  # from the last row before to the first one after


@pytest.mark.parametrize("amps", [0.0, np.nan])
def test_a_log_without_a_load_is_refused(amps: float) -> None:
    time = np.arange(0.0, 100.0)
    with pytest.raises(InputError, match=r"bench\.csv: no load of 30 s"):
        bench_figures(FlightLog("bench.csv", time, np.full(100, 24.0), np.full(100, amps)))
