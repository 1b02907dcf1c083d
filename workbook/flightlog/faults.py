"""What is wrong in a log: a clock that runs back, restarts, gaps, glitches, sensors that freeze or saturate.

Nothing is repaired. What cannot be relied on becomes NaN, or its rows go, and each such thing is a `LogFinding`.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workbook.errors import InputError
from workbook.files.columns import measures
from workbook.flightlog.log import SERIES, FlightLog, LogFinding, counted_text
from workbook.numbers import FloatArray

Flags = NDArray[np.bool_]
COLUMNS = measures("flight log")
"""In words, and between which figures a sensor of a model aircraft can show."""

JUMP_BACK_S = 5.0
"""A clock that falls by more, and goes on from there, was started anew. Common practice, no source."""
GAP_STEPS, GAP_S = 8.0, 1.0
"""Rows further apart than both (usual steps, seconds) have a gap between them. Common practice, no source."""
GLITCH_VOLTAGE, GLITCH_CURRENT = 0.08, 0.5
"""A row by itself that is this share of the median, of the 99 % point for current, from its neighbours is a glitch.
Common practice, no source."""
FROZEN_S, FROZEN_ROWS, FROZEN_TIMES = 8.0, 25, 12.0
"""A figure that stands still for longer than all three (seconds, rows, times its usual standstill) while the craft
draws current is frozen. Common practice, no source."""
CLIPPED_ROWS, CLIPPED_TIMES = 8, 5.0
"""So many rows on the highest figure, and so many times more than just below it: the sensor's end. Common practice,
no source."""
HELD_TIMES = 12
"""Every figure of a log that stands still for more rows than so many times its usual standstill, and for longer than
`FROZEN_S`, while the craft draws current: the link was lost and its last values held. Common practice, no source."""
LEAST_ROWS = 3
MANY_ROWS = 100_000
MOST_LISTED = 12
"""Findings of one kind and column that are listed one by one."""


def cleaned(log: FlightLog) -> FlightLog:
    """A log with what cannot be relied on left out.

    Args:
        log: as read, its rows in the order of the file, its clock from any zero.

    Raises:
        InputError: fewer than `LEAST_ROWS` rows with time, voltage and current are left.

    Example:
        >>> log = FlightLog(
        ...     "x",
        ...     *(
        ...         np.array(v)
        ...         for v in ([0.0, 1.0, 1.0, 2.0], [25.0, 24, 24, 24], [0.5, 20, 20, 21])
        ...     ),
        ... )
        >>> cleaned(log).sentences
        ('1 row stood at the time of the row before it, or earlier, and was left out.',)
    """
    log = _in_order(log)
    _refuse_little(log)
    log = replace(log, time_s=log.time_s - log.time_s[0])
    for look in (_impossible, _held, _glitches, _saturated, _frozen):
        log = look(log)
    log = _with_findings(log, _gaps(log))
    _refuse_little(log)
    return log


def _with_findings(log: FlightLog, findings: list[LogFinding]) -> FlightLog:
    if len(findings) > MOST_LISTED:
        rest = findings[MOST_LISTED:]
        text, lost = f"And {len(rest)} more like it.", sum(f.rows for f in rest)
        more = replace(rest[0], text=text, rows=lost, end_s=rest[-1].end_s)
        findings = [*findings[:MOST_LISTED], more]
    return replace(log, findings=(*log.findings, *findings))


def _refuse_little(log: FlightLog) -> None:
    known = np.isfinite(log.time_s) & np.isfinite(log.voltage_v) & np.isfinite(log.current_a)
    if np.count_nonzero(known) < LEAST_ROWS or np.ptp(log.time_s[known]) <= 0.0:
        message = (
            f"{np.count_nonzero(known)} rows have a time, a voltage and a current that can be used; a log of a "
            "flight has hundreds."
        )
        raise InputError(message, log.name)


# time ---------------------------------------------------------------------------------------------


def _in_order(log: FlightLog) -> FlightLog:
    """Remove rows without a time, all parts but the longest of a log that was started anew, and rows out of order."""
    findings: list[LogFinding] = []
    timed = np.isfinite(log.time_s)
    if not timed.all():
        lost = int(np.count_nonzero(~timed))
        findings.append(
            LogFinding("time", counted_text(lost, "row", "had no time and were left out."), lost)
        )
        log = log.kept(timed)
    if len(log) < LEAST_ROWS:
        return _with_findings(log, findings)
    log, more = _without_leaps(log)
    findings += more
    parts = _parts(log.time_s)
    if len(parts) > 1:
        spans = [log.time_s[b - 1] - log.time_s[a] for a, b in parts]
        first, last = parts[int(np.argmax(spans))]
        lost = len(log) - (last - first)
        text = (
            f"The log was restarted {len(parts) - 1} time{'s' * (len(parts) > 2)}; the longest part, "
            f"{max(spans) / 60.0:.1f} min, was kept and {counted_text(lost, 'row', 'were left out.')}"
        )
        findings.append(LogFinding("restart", text, lost))
        log = log.kept(slice(first, last))
    before = np.concatenate([[-np.inf], np.maximum.accumulate(log.time_s)[:-1]])
    rising = log.time_s > before
    if not rising.all():
        lost = int(np.count_nonzero(~rising))
        text = counted_text(
            lost, "row", "stood at the time of the row before it, or earlier, and were left out."
        )
        findings.append(LogFinding("time", text, lost))
        log = log.kept(rising)
    return _with_findings(log, findings)


def _without_leaps(log: FlightLog) -> tuple[FlightLog, list[LogFinding]]:
    """Remove single rows whose time lies far ahead of both neighbours."""
    steps = np.diff(log.time_s)
    usual = float(np.median(np.abs(steps))) or 1.0
    far = max(100.0 * usual, JUMP_BACK_S)
    leaps = np.zeros(len(log), dtype=bool)
    leaps[1:-1] = (steps[:-1] > far) & (steps[1:] < -far) & (log.time_s[2:] >= log.time_s[:-2])
    leaps[-1] = steps[-1] > max(1e4 * usual, 3600.0)
    if not leaps.any():
        return log, []
    lost = int(np.count_nonzero(leaps))
    text = counted_text(lost, "row", "had a time far ahead of their neighbours and were left out.")
    return log.kept(~leaps), [LogFinding("time", text, lost)]


def _parts(time_s: FloatArray) -> list[tuple[int, int]]:
    """Parts of a log between restarts of its clock."""
    highest = np.maximum.accumulate(time_s)
    falls = (
        np.flatnonzero((time_s[1:] < highest[:-1] - JUMP_BACK_S) & (np.diff(time_s) < -JUMP_BACK_S))
        + 1
    )
    edges = [0, *falls.tolist(), len(time_s)]
    if len(edges) > 1000:  # a clock that runs backwards or at random has no parts
        return [(0, len(time_s))]
    return list(pairwise(edges))


def _gaps(log: FlightLog) -> list[LogFinding]:
    steps = np.diff(log.time_s)
    long = max(GAP_STEPS * float(np.median(steps)), GAP_S)
    found = []
    for k in np.flatnonzero(steps > long):
        start, end = float(log.time_s[k]), float(log.time_s[k + 1])
        text = f"Nothing was logged from {clock(start)} to {clock(end)} ({end - start:.1f} s)."
        found.append(LogFinding("gap", text, start_s=start, end_s=end))
    return found


def clock(time_s: float) -> str:
    """A time on the log's clock as minutes and seconds.

    Example:
        >>> clock(75.4)
        '1:15'
    """
    whole = round(time_s)
    return f"{whole // 60}:{whole % 60:02d}"


# figures ------------------------------------------------------------------------------------------


def _blanked(log: FlightLog, key: str, rows: Flags) -> FlightLog:
    values = log.known(key)
    if values is None or not rows.any():
        return log
    return replace(log, **{key: np.where(rows, np.nan, values)})  # type: ignore[arg-type]


def _impossible(log: FlightLog) -> FlightLog:
    """Figures that no sensor of a model aircraft shows."""
    findings = []
    for key in SERIES:
        values, column = log.known(key), COLUMNS[key]
        if values is None:
            continue
        with np.errstate(invalid="ignore"):
            bad = (values < column.low) | (values > column.high)
        if bad.any():
            words = f"of {column.name} were impossible and were left out."
            text = counted_text(int(np.count_nonzero(bad)), "figure", words)
            findings.append(_finding("glitch", key, log, bad, text))
            log = _blanked(log, key, bad)
    return _with_findings(log, findings)


def _finding(kind: str, key: str, log: FlightLog, rows: Flags, text: str) -> LogFinding:
    places = np.flatnonzero(rows)
    return LogFinding(
        kind, text, places.size, key, float(log.time_s[places[0]]), float(log.time_s[places[-1]])
    )


def middle_of_five(values: FloatArray) -> FloatArray:
    """Running median of five rows; the ends lean on themselves."""
    if not values.size:
        return values
    beside = np.lib.stride_tricks.sliding_window_view(np.pad(values, 2, mode="edge"), 5)
    middle = np.empty(values.shape)
    for first in range(0, len(values), MANY_ROWS):  # five times the memory of so many rows
        some = slice(first, first + MANY_ROWS)
        middle[some] = np.partition(beside[some], 2, axis=-1)[:, 2]
    return middle


def _glitches(log: FlightLog) -> FlightLog:
    """Rows by themselves that lie far from their neighbours; a real surge shows in voltage and current alike."""
    volts, amps = _filled(log.voltage_v), _filled(log.current_a)
    off_v, off_a = volts - middle_of_five(volts), amps - middle_of_five(amps)
    limit_v = max(GLITCH_VOLTAGE * float(np.median(_some(volts))), 8.0 * _spread(off_v))
    limit_a = max(
        GLITCH_CURRENT * float(np.percentile(np.abs(_some(amps)), 99)), 8.0 * _spread(off_a)
    )
    surge = (off_a > 0.3 * limit_a) & (off_v < -4.0 * _spread(off_v) - 1e-9)
    relief = (off_a < -0.3 * limit_a) & (off_v > 4.0 * _spread(off_v) + 1e-9)
    together = surge | relief
    findings = []
    for key, off, limit in (("voltage_v", off_v, limit_v), ("current_a", off_a, limit_a)):
        bad = (np.abs(off) > limit) & ~together & np.isfinite(log.known(key))  # type: ignore[arg-type]
        if limit > 0 and bad.any():
            first = clock(float(log.time_s[np.argmax(bad)]))
            words = f"of {COLUMNS[key].name} were far from their neighbours (first at {first}) and were left out."
            text = counted_text(int(np.count_nonzero(bad)), "figure", words)
            findings.append(_finding("glitch", key, log, bad, text))
            log = _blanked(log, key, bad)
    return _with_findings(log, findings)


def _filled(values: FloatArray) -> FloatArray:
    """Values with what is not known read across from its neighbours."""
    known = np.isfinite(values)
    if known.all() or not known.any():
        return np.where(known, values, 0.0)
    filled = values.copy()
    filled[~known] = np.interp(np.flatnonzero(~known), np.flatnonzero(known), values[known])
    return filled


def _some(values: FloatArray) -> FloatArray:
    """An even selection of very many rows: enough to see how large they usually are."""
    return values[:: max(1, len(values) // MANY_ROWS)]


def _spread(values: FloatArray) -> float:
    """Standard deviation that single rows far off do not move: 1.4826 times the median distance (Hampel, 1974)."""
    return 1.4826 * float(np.median(np.abs(_some(values))))


def stretches(values: NDArray[Any]) -> list[tuple[int, int]]:
    """First row and the row after the last of each stretch of equal values; none of no values.

    Example:
        >>> stretches(np.array([True, True, False]))
        [(0, 2), (2, 3)]
    """
    changes = np.flatnonzero(values[1:] != values[:-1]) + 1
    return list(pairwise([0, *changes.tolist(), len(values)])) if len(values) else []


def runs(same: Flags) -> list[tuple[int, int]]:
    """The same of each stretch of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], same.astype(np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _held(log: FlightLog) -> FlightLog:
    """Every figure on its last value while time goes on, as where a link was lost: all but the first row are removed."""
    columns = [values for key in SERIES if (values := log.known(key)) is not None]
    columns += [] if log.cells_v is None else list(log.cells_v)
    changed = np.zeros(len(log) - 1, dtype=np.int8)  # how many figures, from each row to the next
    for values in columns:
        unknown = np.isnan(values)
        changed += (values[1:] != values[:-1]) & ~(unknown[1:] & unknown[:-1])
    starts = np.concatenate([[0], np.flatnonzero(changed) + 1])
    rows = np.diff(starts, append=len(log))
    long = rows > HELD_TIMES * np.percentile(rows, 90)
    starts, ends = starts[long], starts[long] + rows[long]
    working = 0.3 * float(np.percentile(_some(_filled(log.current_a)), 90))
    back = np.append(changed, 2)[ends - 1] >= 2  # a steady load moves one figure at a time
    held = (log.time_s[ends - 1] - log.time_s[starts] > FROZEN_S) & back
    held &= log.current_a[starts] >= working
    bad = np.zeros(len(log), dtype=bool)
    findings = []
    for first, end in zip((starts[held] + 1).tolist(), ends[held].tolist(), strict=True):
        bad[first:end] = True
        start_s, end_s = float(log.time_s[first - 1]), float(log.time_s[end - 1])
        text = (
            f"Every figure stood still from {clock(start_s)} to {clock(end_s)} while time went on, frozen as where a link "
            f"was lost, and {counted_text(end - first, 'row', 'were left out.')}"
        )
        findings.append(LogFinding("frozen", text, end - first, "", start_s, end_s))
    if not findings:
        return log
    for key in SERIES:
        log = _blanked(log, key, bad)
    if log.cells_v is not None:
        log = replace(log, cells_v=np.where(bad, np.nan, log.cells_v))
    return _with_findings(log, findings)


def _frozen(log: FlightLog) -> FlightLog:
    """Voltage or current that stands still while the other shows that the craft is at work."""
    amps, volts = _filled(log.current_a), _filled(log.voltage_v)
    working = float(np.percentile(_some(amps), 90)) * 0.3
    findings: list[LogFinding] = []
    for key, values, other in (("voltage_v", volts, amps), ("current_a", amps, volts)):
        bad = np.zeros(len(log), dtype=bool)
        still = np.concatenate([np.diff(values) == 0.0, [False]])
        held = [(a, b + 1) for a, b in runs(still)]
        usual = float(np.median([b - a for a, b in held])) if held else 1.0
        for first, last in held:
            length_s = log.time_s[last - 1] - log.time_s[first]
            long = last - first > max(FROZEN_ROWS, FROZEN_TIMES * usual) and length_s > FROZEN_S
            if not long or np.median(amps[first:last]) < working:
                continue
            if np.unique(other[first:last]).size > 3:  # that one moves
                bad[first:last] = True
                findings.append(_still(log, key, first, last, float(values[first])))
        log = _blanked(log, key, bad)
    return _with_findings(log, findings)


def _still(log: FlightLog, key: str, first: int, last: int, value: float) -> LogFinding:
    start, end = float(log.time_s[first]), float(log.time_s[last - 1])
    unit = key.rpartition("_")[2].upper()
    text = (
        f"The {COLUMNS[key].name} stood still at {value:.4g} {unit} from {clock(start)} to {clock(end)}, "
        "frozen, and was left out there."
    )
    return LogFinding("frozen", text, last - first, key, start, end)


def _saturated(log: FlightLog) -> FlightLog:
    """A current sensor at its end: many rows on the highest figure, few just below it."""
    amps = log.current_a[np.isfinite(log.current_a)]
    if amps.size < 50:
        return log
    top = float(amps.max())
    near = np.count_nonzero((amps < top) & (amps >= 0.95 * top))
    at_top = int(np.count_nonzero(amps == top))
    share_below = near / max(1, np.unique(amps[(amps < top) & (amps >= 0.95 * top)]).size)
    if at_top < CLIPPED_ROWS or at_top < CLIPPED_TIMES * max(share_below, 1.0) or top <= 0:
        return log
    if top < 1.3 * float(np.median(amps[amps > 0.3 * top])):
        return log
    bad = log.current_a == top
    text = (
        f"The current stops at {top:.4g} A ({counted_text(at_top, 'row', 'there')}): the sensor's end. What was drawn there is not "
        "known, and the true peak is higher."
    )
    finding = _finding("saturated", "current_a", log, bad, text)
    return _with_findings(_blanked(log, "current_a", bad), [finding])
