"""Logs as text: whatever their headings, units and clocks, and whatever happened to them."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.errors import InputError
from workbook.flightlog.log import FlightLog
from workbook.flightlog.reading import parse_log, read_log

ROWS = 240
TIME = np.arange(ROWS, dtype=float)
AMPS = np.where((TIME > 20) & (TIME < 220), 20.0 + 0.5 * np.sin(TIME), 0.6)
VOLTS = 25.0 - TIME / 200.0 - 0.03 * AMPS
USED = np.cumsum(AMPS) / 3600.0
"""An invented flight: 20 A of a pack of six in series, one row a second."""


def clock(seconds: float) -> str:
    return f"{int(seconds // 3600):02d}:{int(seconds // 60) % 60:02d}:{seconds % 60:04.1f}"


def table(heading: str, separator: str, *columns, decimal: str = ".") -> str:
    rows = (
        separator.join(c if isinstance(c, str) else f"{c:.3f}".replace(".", decimal) for c in row)
        for row in zip(*columns, strict=True)
    )
    return "\n".join((heading, *rows)) + "\n"


SPELLINGS = {
    "plain": table("time,voltage,current", ",", TIME, VOLTS, AMPS),
    "units in brackets": table("Time (s),Voltage (V),Current (A)", ",", TIME, VOLTS, AMPS),
    "thousandths": table(
        "time [ms],voltage [mV],current [mA]", ",", TIME * 1e3, VOLTS * 1e3, AMPS * 1e3
    ),
    "thousandths not stated": table(
        "time,voltage,current", ",", TIME * 1e3, VOLTS * 1e3, AMPS * 1e3
    ),
    "microseconds": table("timeUs,packVolts,packAmps", ",", TIME * 1e6, VOLTS, AMPS),
    "semicolons, decimal comma": table("Zeit;Spannung;Strom", ";", TIME, VOLTS, AMPS, decimal=","),
    "tabs": table("t\tU\tI", "\t", TIME, VOLTS, AMPS),
    "bars": table("time|volts|amps", "|", TIME, VOLTS, AMPS),
    "spaces": table("time voltage current", " ", TIME, VOLTS, AMPS),
    "units after a comma-free name": table(
        "time_s,pack_voltage_V,pack_current_A", ",", TIME, VOLTS, AMPS
    ),
    "run together": table("flightTime,packVoltage,packCurrent", ",", TIME, VOLTS, AMPS),
    "dots": table("timestamp,battery.voltage,battery.current", ",", TIME, VOLTS, AMPS),
    "capitals": table("TIME,VBAT,CURR", ",", TIME, VOLTS, AMPS),
    "unit alone": table("s,V,A", ",", TIME, VOLTS, AMPS),
    "row of units": table("time,voltage,current\ns,V,A", ",", TIME, VOLTS, AMPS),
    "a clock": table("clock,voltage,current", ",", [clock(36000 + t) for t in TIME], VOLTS, AMPS),
    "a clock past midnight": table(
        "Time,Voltage,Current", ",", [clock((86300 + t) % 86400) for t in TIME], VOLTS, AMPS
    ),
    "minutes and seconds": table(
        "time,volts,amps", ",", [f"{int(t // 60)}:{t % 60:04.1f}" for t in TIME], VOLTS, AMPS
    ),
    "a date": table(
        "datetime,voltage,current",
        ",",
        [f"2026-05-03 {clock(36000 + t)}" for t in TIME],
        VOLTS,
        AMPS,
    ),
    "a date with T": table(
        "utc,voltage,current", ",", [f"2026-05-03T{clock(36000 + t)}Z" for t in TIME], VOLTS, AMPS
    ),
    "a date by points": table(
        "Date/Time;U;I", ";", [f"03.05.2026 {clock(36000 + t)}" for t in TIME], VOLTS, AMPS
    ),
    "a date by strokes": table(
        "date time,V,A", ",", [f"05/03/2026 {clock(36000 + t)}" for t in TIME], VOLTS, AMPS
    ),
    "date and clock apart": table(
        "Date,Time,Voltage,Current",
        ",",
        ["2026-05-03"] * ROWS,
        [clock(36000 + t) for t in TIME],
        VOLTS,
        AMPS,
    ),
    "seconds since long ago": table("timestamp,voltage,current", ",", TIME + 1.7e9, VOLTS, AMPS),
    "a preamble": "club log 7\ncraft: census six\n\n"
    + table("time (s),voltage (V),current (A)", ",", TIME, VOLTS, AMPS),
    "remarks": "# census club\n#\n"
    + table("# time (s),voltage (V),current (A)", ",", TIME, VOLTS, AMPS),
    "quotes": table('"time (s)","voltage (V)","current (A)"', ",", TIME, VOLTS, AMPS),
    "power for current": table("time (s),voltage (V),power (W)", ",", TIME, VOLTS, VOLTS * AMPS),
    "current below 0": table("time (s),voltage (V),current (A)", ",", TIME, VOLTS, -AMPS),
    "cells only": table(
        "time (s),current (A)," + ",".join(f"cell {k} (mV)" for k in range(1, 7)),
        ",",
        TIME,
        AMPS,
        *[1000 * VOLTS / 6] * 6,
    ),
    "units in the cells": table(
        "time,voltage,current",
        ",",
        [f"{t:g} s" for t in TIME],
        [f"{v:.3f} V" for v in VOLTS],
        [f"{a:.3f} A" for a in AMPS],
    ),
    "French": table("temps;tension;courant", ";", TIME, VOLTS, AMPS, decimal=","),
    "other columns about": table(
        "roll,time (s),pitch,voltage (V),satellites,current (A)",
        ",",
        AMPS * 0,
        TIME,
        AMPS,
        VOLTS,
        TIME,
        AMPS,
    ),
}
"""Invented headings and formats; the flight behind them is the same."""


@pytest.mark.parametrize("text", SPELLINGS.values(), ids=SPELLINGS)
def test_a_log_is_read_whatever_its_headings_and_units(text: str) -> None:
    log = parse_log(text)
    assert len(log) == ROWS
    np.testing.assert_allclose(log.time_s, TIME, atol=1e-3)
    np.testing.assert_allclose(log.voltage_v, VOLTS, atol=2e-3)
    np.testing.assert_allclose(log.current_a, AMPS, atol=2e-3)
    assert log.findings == ()


def test_thirty_ways_of_writing_a_log_are_tried() -> None:
    assert len(SPELLINGS) >= 30


def test_the_other_columns_come_in_their_own_units() -> None:
    heading = "time (s),voltage (V),current (A),consumption (mAh),throttle,altitude (ft),ground speed (km/h),temp (°C)"
    pulse = 1000.0 + 10.0 * AMPS
    log = parse_log(
        table(heading, ",", TIME, VOLTS, AMPS, USED * 1000, pulse, TIME, AMPS, TIME / 10)
    )
    assert log.charge_ah is not None
    np.testing.assert_allclose(log.charge_ah, USED, atol=1e-6)
    np.testing.assert_allclose(log.throttle_pct, AMPS, atol=1e-3)  # 1000 to 2000 us is 0 to 100 %
    np.testing.assert_allclose(log.height_m, TIME * 0.3048, atol=1e-3)  # the international foot
    np.testing.assert_allclose(log.speed_m_s, AMPS / 3.6, atol=1e-3)
    np.testing.assert_allclose(log.temperature_c, TIME / 10, atol=1e-3)


def test_a_person_maps_a_column_that_is_not_known() -> None:
    text = table("time (s),bus seven,current (A)", ",", TIME, VOLTS * 1000, AMPS)
    with pytest.raises(
        InputError,
        match=r"no column is known for the voltage of the pack; there are .*\"bus seven\"",
    ):
        parse_log(text)
    log = parse_log(text, columns={"bus seven": "voltage_v in mV"})
    np.testing.assert_allclose(log.voltage_v, VOLTS, atol=1e-3)
    with pytest.raises(InputError, match=r"one of time_s, .* is needed"):
        parse_log(text, columns={"bus seven": "volts"})


REFUSED = {
    "empty": (b"", "the file is empty"),
    "blank": (b" \n\n ", "the file is empty"),
    "binary": (bytes(range(256)) * 40, "binary"),
    "no headings": (b"1,2,3\n4,5,6\n", "no heading row with time, voltage and current is found"),
    "prose": (
        b"It was a fine day, and we flew.\nNothing broke.\n",
        "no heading row|no column is known",
    ),
    "headings only": (b"time,voltage,current\n", "no rows can be read"),
    "one row": (b"time,voltage,current\n1,25,20\n", "1 rows? ha"),
    "no current": (
        b"time,voltage,height\n1,25,20\n2,25,20\n3,25,20\n",
        "no column is known for the current",
    ),
    "no times": (b"time,voltage,current\nx,25,20\ny,25,20\nz,25,20\n", "is not a time"),
    "one time": (b"time,voltage,current\n" + b"5,25,20\n" * 50, "can be used"),
}


@pytest.mark.parametrize(("data", "why"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_used_is_refused_in_a_sentence(data: bytes, why: str) -> None:
    with pytest.raises(InputError, match=why):
        parse_log(data)


def test_a_file_that_is_none_is_refused(tmp_path) -> None:
    with pytest.raises(InputError, match="this is a folder"):
        read_log(tmp_path)
    with pytest.raises(InputError, match="there is no file here"):
        read_log(tmp_path / "none.csv")


def test_a_million_rows_are_refused_only_above_the_limit(monkeypatch) -> None:
    monkeypatch.setattr("workbook.flightlog.reading.MOST_ROWS", 100)
    with pytest.raises(InputError, match="more than 100 rows"):
        parse_log(SPELLINGS["plain"])


@pytest.mark.parametrize("at_once", [7, 239])
def test_a_log_read_in_parts_is_the_log(monkeypatch, at_once: int) -> None:
    """Whole numbers in one part and decimals in another; of one column the last rows alone are texts."""
    volts = [f"{v:.0f}" if k < 30 else f"{v:.2f}" for k, v in enumerate(VOLTS)]
    amps = [f"{a:.2f}" if k < 200 else f"{1000 * a:.0f} mA" for k, a in enumerate(AMPS)]
    text = table("time,voltage,current", ",", TIME, volts, amps)
    whole = parse_log(text)
    monkeypatch.setattr("workbook.flightlog.reading.ROWS_AT_ONCE", at_once)
    parts = parse_log(text)
    assert parts.sentences == whole.sentences
    for key in ("time_s", "voltage_v", "current_a"):
        np.testing.assert_array_equal(parts.known(key), whole.known(key))
    np.testing.assert_allclose(whole.current_a, AMPS, atol=0.006)  # to two decimals, as written


def test_rows_and_cells_that_cannot_be_read_are_left_out_and_reported() -> None:
    lines = SPELLINGS["plain"].splitlines()
    lines[50] += ",7,7,7"
    lines[60] = lines[60].replace(lines[60].split(",")[1], "oops")
    lines.insert(100, "time,voltage,current")
    log = parse_log("\n".join(lines))
    text = " ".join(log.sentences)
    assert "had no time and was left out" in text
    assert 'of column "voltage"' in text
    assert len(log) in (
        ROWS,
        ROWS - 1,
    )  # the row that is too wide may be read or left out, by pandas' version


def damaged(rng: np.random.Generator) -> bytes:
    """A log with something done to it."""
    text = bytearray(rng.choice(list(SPELLINGS.values())).encode())[: int(rng.integers(30, 9000))]
    for _ in range(int(rng.integers(1, 6))):
        position = int(rng.integers(0, len(text)))
        match int(rng.integers(0, 8)):
            case 0:
                text[position] = int(rng.integers(0, 256))
            case 1:
                del text[position : position + int(rng.integers(1, 200))]
            case 2:
                text[position:position] = bytes(
                    rng.integers(0, 256, int(rng.integers(1, 60)), dtype=np.uint8)
                )
            case 3:
                text[position:position] = rng.choice(
                    [b'"', b",,,", b"\n", b"\r", b";", b"nan", b"1e999", b"-inf", b"\0\0"]
                )
            case 4:
                text = text[position:] + text[:position]
            case 5:
                lines = bytes(text).split(b"\n")
                text = bytearray(b"\n".join(lines[:1] + lines[:0:-1]))
            case 6:
                text += text[position:]
            case _:
                text[position : position + 40] = text[position : position + 40].upper()
        if not text:
            text = bytearray(b"x")
    return bytes(text)


@pytest.mark.parametrize("tries", [300, pytest.param(10_000, marks=pytest.mark.long)])
def test_damaged_logs_raise_the_projects_own_error_and_no_other(tries: int) -> None:
    rng = np.random.default_rng(14)
    read = 0
    for _ in range(tries):
        data = damaged(rng)
        try:
            log = parse_log(data)
        except InputError:
            continue
        read += 1
        assert isinstance(log, FlightLog)
        assert np.all(np.diff(log.time_s) > 0)
        assert all("\x1b" not in sentence for sentence in log.sentences)
    assert 0.1 * tries < read < tries
