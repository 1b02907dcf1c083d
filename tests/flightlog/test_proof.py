"""A finished pack against the acceptance table of its sheet; figures of its proof against a circuit whose truth is here."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from workbook.bench.procedure import CheckItem, checks
from workbook.errors import InputError
from workbook.flightlog.log import FlightLog
from workbook.flightlog.proof import FAILS, accept, bench_figures
from workbook.quantities import NOTED

TABLE = checks("acceptance", series=6, pack_mohm=40.0, mass_g=900.0, charge_ah=8.0, max_c=60.0)
GOOD = {
    "spread_full_mv": 12.0,
    "spread_empty_mv": 60.0,
    "resistance_mohm": 47.9,  # 1.2 x 40 = 48 passes
    "mass_g": 926.0,  # 3 % of 900 is 27
    "charge_ah": 7.69,  # 0.96 x 8 = 7.68
    "temperature_c": 54.0,  # 5 below the most
}


def test_every_line_of_the_table_is_one_that_a_book_notes() -> None:
    assert [item.key for item in TABLE] == list(GOOD)
    assert set(GOOD) <= set(NOTED)


def test_a_sound_pack_passes() -> None:
    found = accept(TABLE, GOOD)
    assert found.passes
    assert found.words == "passes every line of the acceptance table"


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("spread_full_mv", 31.0, "31 mV, FAILS"),
        ("spread_empty_mv", 80.2, "81 mV, FAILS"),
        ("resistance_mohm", 48.3, "49 mΩ, FAILS"),
        ("mass_g", 872.0, "872 g, FAILS"),
        ("charge_ah", 7.6751, "7.67 Ah, FAILS"),
        ("temperature_c", 55.4, "56 °C, FAILS"),
    ],
)
def test_one_figure_outside_fails_and_is_printed_so_that_it_is_outside(
    key: str, value: float, expected: str
) -> None:
    found = accept(TABLE, GOOD | {key: value})
    assert [line.item.key for line in found.failed] == [key]
    assert found.words.startswith(FAILS)
    assert expected in found.words


def test_what_was_not_measured_is_named_and_is_not_a_pass() -> None:
    found = accept(TABLE, {"resistance_mohm": 41.0, "mass_g": math.nan})
    assert not found.passes
    assert not found.failed
    assert found.words.startswith(
        "passes as far as measured; not measured: spread between groups, full"
    )
    assert "mass" in found.words


def test_nothing_measured_or_no_table_is_reported() -> None:
    with pytest.raises(InputError, match="nothing on the acceptance table was measured"):
        accept(TABLE, {"price": 3.0})
    with pytest.raises(InputError, match="its flight is not known"):
        accept((), GOOD)


def test_limits_in_words() -> None:
    assert CheckItem("x", unit="°C", high=55.0).limits_text == "up to 55\u00a0°C"
    assert CheckItem("x", unit="V", low=3.001).limits_text == "3.01\u00a0V or more"


# a log of the proof or of a charge ----------------------------------------------------------------

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
