"""What is wrong in a log is found, told and left out; what is right is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import median_filter

from workbook.errors import InputError
from workbook.flightlog.faults import cleaned, clock, middle_of_five, runs
from workbook.flightlog.log import SERIES, FlightLog
from workbook.numbers import FloatArray


def flight(rate_hz: float = 5.0, minutes: float = 8.0, seed: int = 1) -> FlightLog:
    """An invented flight: 20 A that gusts swing, the voltage sagging under it, both with noise and steps."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 60.0 * minutes, 1.0 / rate_hz)
    swing = np.repeat(rng.normal(0.0, 1.0, len(time_s) // 5 + 1), 5)[: len(time_s)]
    amps = np.where((time_s > 20) & (time_s < time_s[-1] - 20), 20.0 + swing, 0.6)
    volts = 25.0 - time_s / 300.0 - 0.04 * amps
    return FlightLog(
        "made",
        time_s,
        np.round(volts + rng.normal(0.0, 0.02, len(time_s)), 2),
        np.round(amps + rng.normal(0.0, 0.2, len(time_s)), 1),
    )


def kinds(log: FlightLog) -> set[str]:
    return {finding.kind for finding in log.findings}


@pytest.mark.parametrize("rate_hz", [1.0, 5.0, 50.0])
def test_a_sound_log_is_left_as_it_is(rate_hz: float) -> None:
    log = flight(rate_hz)
    clean = cleaned(log)
    assert clean.findings == ()
    np.testing.assert_array_equal(clean.current_a, log.current_a)


def test_a_gap_is_reported_and_nothing_is_put_into_it() -> None:
    log = flight()
    clean = cleaned(log.kept((log.time_s < 100) | (log.time_s > 130)))
    # rows at 99.8 and 130.2 s are the last and the next
    assert [f.text for f in clean.findings] == ["Nothing was logged from 1:40 to 2:10 (30.4 s)."]
    assert not np.any((clean.time_s > 101) & (clean.time_s < 129))


def test_glitches_go_and_their_neighbours_stay() -> None:
    log = flight()
    volts, amps = log.voltage_v.copy(), log.current_a.copy()
    volts[[500, 900]], amps[700] = (0.9, 48.0), 300.0
    clean = cleaned(replace(log, voltage_v=volts, current_a=amps))
    assert kinds(clean) == {"glitch"}
    assert np.flatnonzero(np.isnan(clean.voltage_v)).tolist() == [500, 900]
    assert np.flatnonzero(np.isnan(clean.current_a)).tolist() == [700]
    assert "first at 1:40" in clean.sentences[0]  # row 500 at 5 rows a second


def test_a_surge_that_both_sensors_see_is_no_glitch() -> None:
    log = flight(1.0)
    volts, amps = log.voltage_v.copy(), log.current_a.copy()
    amps[200], volts[200] = 70.0, volts[200] - 2.0
    clean = cleaned(replace(log, voltage_v=volts, current_a=amps))
    assert clean.current_a[200] == 70.0
    assert clean.findings == ()


@pytest.mark.parametrize(("column", "word"), [("voltage_v", "voltage"), ("current_a", "current")])
def test_a_frozen_sensor_is_left_out_where_it_stands_still(column: str, word: str) -> None:
    log = flight()
    values = log.known(column)
    assert values is not None
    values = values.copy()
    values[600:800] = values[600]
    clean = cleaned(replace(log, **{column: values}))  # type: ignore[arg-type]
    (finding,) = clean.findings
    assert (finding.kind, finding.column) == ("frozen", column)
    assert finding.text.startswith(f"The {word} stood still at")
    left = np.flatnonzero(np.isnan(clean.known(column)))  # type: ignore[arg-type]
    assert left.min() in (599, 600)
    assert left.max() in (799, 800)


def held(log: FlightLog, first: int, end: int) -> FlightLog:
    """A log whose values all stay those of one row."""
    known = {key: v.copy() for key in SERIES if (v := log.known(key)) is not None}
    for values in known.values():
        values[first:end] = values[first]
    return replace(log, **known)  # type: ignore[arg-type]


def test_values_held_while_a_link_was_lost_are_left_out_but_the_last_that_came() -> None:
    clean = cleaned(held(flight(), 600, 660))  # 5 rows a second: 12 s
    (finding,) = clean.findings
    assert (finding.kind, finding.column, finding.rows) == ("frozen", "", 59)
    assert "stood still from 2:00 to 2:12 while time went on" in finding.text
    for values in (clean.voltage_v, clean.current_a):
        assert np.flatnonzero(np.isnan(values)).tolist() == list(range(601, 660))


def test_a_short_standstill_and_one_on_the_ground_are_no_lost_link() -> None:
    log = flight()
    assert cleaned(held(log, 600, 635)).findings == ()  # 7 s
    assert cleaned(held(log, 0, 45)).findings == ()  # before take-off


def test_a_log_that_repeats_each_value_is_not_held() -> None:
    log = flight(50.0)  # a logger ten times as quick as its sensors
    each = (np.arange(len(log)) // 10) * 10
    quick = replace(log, voltage_v=log.voltage_v[each], current_a=log.current_a[each])
    assert cleaned(quick).findings == ()


def test_a_steady_discharge_on_the_bench_is_not_held() -> None:
    """Constant current, a voltage that falls every second but rests for a minute on one step: nothing is wrong."""
    time_s = np.arange(0.0, 600.0)
    falling_s = np.where(time_s < 200.0, time_s, np.maximum(200.0, time_s - 60.0))
    volts = np.round(25.0 - 0.01 * falling_s, 2)
    log = FlightLog("bench", time_s, volts, np.full(600, 10.0))
    assert [f for f in cleaned(log).findings if f.column == ""] == []


def test_a_sensor_at_its_end_is_reported_and_its_peak_is_not_believed() -> None:
    log = flight()
    amps = log.current_a + np.where((log.time_s > 200) & (log.time_s < 230), 25.0, 0.0)
    clean = cleaned(replace(log, current_a=np.minimum(amps, 40.0)))
    (finding,) = clean.findings
    assert finding.kind == "saturated"
    assert "stops at 40 A" in finding.text
    assert np.nanmax(clean.current_a) < 40.0


def test_of_a_log_that_was_started_anew_the_longest_part_stays() -> None:
    log = flight()
    time_s = np.where(log.time_s < 100, log.time_s, log.time_s - 100.0)
    clean = cleaned(replace(log, time_s=time_s))
    assert kinds(clean) == {"restart"}
    assert clean.duration_s == pytest.approx(log.duration_s - 100.0, abs=0.3)
    assert "restarted 1 time; the longest part, 6.3 min, was kept" in clean.sentences[0]


def test_times_that_repeat_or_leap_go() -> None:
    log = flight()
    time_s = log.time_s.copy()
    time_s[300] = time_s[299]
    time_s[400] = 1e9
    clean = cleaned(replace(log, time_s=time_s))
    assert len(clean) == len(log) - 2
    assert kinds(clean) == {"time"}
    assert np.all(np.diff(clean.time_s) > 0)


def test_a_clock_that_runs_backwards_leaves_nothing_to_use() -> None:
    log = flight()
    with pytest.raises(InputError, match="can be used"):
        cleaned(replace(log, time_s=log.time_s[::-1]))


def test_many_findings_are_reported_in_part() -> None:
    log = flight(50.0)
    bad = np.zeros(len(log), dtype=bool)
    for k in range(40):
        bad[200 * k + 100 : 200 * k + 180] = True
    clean = cleaned(log.kept(~bad))
    assert len(clean.findings) == 13
    assert clean.findings[-1].text == "And 28 more like it."


def test_a_running_median_of_five_is_that_of_sorting() -> None:
    values: FloatArray = np.random.default_rng(5).normal(size=400)
    by_sorting = [np.median(values[k - 2 : k + 3]) for k in range(2, 398)]
    np.testing.assert_array_equal(middle_of_five(values)[2:-2], by_sorting)


@pytest.mark.parametrize("count", [0, 1, 2, 3, 6])
def test_at_the_ends_the_running_median_leans_on_the_last_row(count: int) -> None:
    """Against SciPy's median filter, ends repeated."""
    values: FloatArray = np.random.default_rng(6).normal(size=count)
    np.testing.assert_array_equal(
        middle_of_five(values), median_filter(values, 5, mode="nearest") if count else values
    )


def test_stretches_and_times_in_words() -> None:
    assert runs(np.array([True, False, True, True])) == [(0, 1), (2, 4)]
    assert clock(3600.0) == "60:00"
