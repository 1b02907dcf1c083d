"""A log as delimited text: its heading row found, its columns in plain units, its faults left out and listed."""

from __future__ import annotations

import csv
import io
import re
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from workbook.errors import InputError, Problem, shortened, visible
from workbook.files.columns import (
    Heading,
    Measure,
    all_units,
    clean_unit,
    measures,
    read_numbers,
    recognise,
)
from workbook.files.delimited import decode
from workbook.files.reading import read_bytes, refuse_size
from workbook.flightlog.faults import cleaned
from workbook.flightlog.log import SERIES, FlightLog, LogFinding, counted_text
from workbook.flightlog.times import seconds_of
from workbook.numbers import FloatArray

if TYPE_CHECKING:
    import pandas as pd

LARGEST_BYTES = 400_000_000
"""Largest log read: an hour at 1000 rows a second with ten columns."""
MOST_ROWS, ROWS_AT_ONCE = 6_000_000, 100_000
"""Most rows of a log, and how many are read at a time."""
HEAD_BYTES, HEAD_LINES = 65_536, 200
"""Of the file, where its heading row is looked for."""
MOST_COLUMNS = 2_000
MOST_GROUPS = 40
TABLE, CELL_TABLE = "flight log", "flight log cell"
_SEPARATORS = ("\t", ";", ",", "|", r"\s+")
_CELL = re.compile(
    r"(?:(.*?)[ _.#-]*)?\b((?:cell|zelle|vcell|v cell|c|group|单体)\D{0,10}?)[ _.#]*0*(\d{1,2})\b(.*)",
    re.I,
)
_RUN_TOGETHER = re.compile(r"(?<=[a-z])(?=[A-Z][a-z])|(?<=[A-Za-z]{3})(?=[AVW]$)")
_OWN_WORDS = re.compile(
    r"\b(?:pack|main|bat|batt|battery|flight|sensor|akku|batterie|log|value)\b", re.I
)
_NO_ROWS = "no rows can be read below the headings; a row a moment, of as many columns, is needed."
_REQUIRED = {
    "time_s": "time",
    "voltage_v": "voltage of the pack",
    "current_a": "current of the pack",
}
"""What a log must have, in words."""


@dataclass(frozen=True)
class _LogColumns:
    """Where the columns of a text are.

    Attributes:
        separator, decimal: as pandas takes them.
        skipped: lines before the first row of figures.
        quoted: whether cells are in quotes.
        headings: one a column.
        groups: place of a column to the number of its group of cells.
    """

    separator: str
    decimal: str
    skipped: int
    quoted: bool
    headings: tuple[Heading, ...]
    groups: Mapping[int, int]


def read_log(source: Path | str, *, columns: Mapping[str, str] | None = None) -> FlightLog:
    """Read the log of a flight, a bench run or a charger from a file of delimited text.

    Time, voltage and current must be there (power may replace current); charge used, throttle, height,
    speed, temperature and the voltages of the cells are read where they are. Headings and units are known
    from `data/headings.csv`. Gaps, glitches, frozen and saturated sensors, restarts and a clock that runs
    back are found and left out; `FlightLog.findings` lists them.

    Args:
        source: the file.
        columns: for headings that are not known: heading to key, with a unit where it is another than the
            key's, as in {"Bus": "voltage_v in mV"}.

    Raises:
        InputError: not a file, not text, no such columns, or nothing left of it.

    Example:
        >>> read_log("no_such_log.csv")
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: no_such_log.csv: there is no file here; check the path.
    """
    path = Path(source)
    return parse_log(read_bytes(path, LARGEST_BYTES), path.name, columns=columns)


def parse_log(
    data: bytes | str, name: str = "log", *, columns: Mapping[str, str] | None = None
) -> FlightLog:
    """Read a log from what is in its file; see `read_log`.

    Args:
        data: the bytes of the file, or its text.
        name: what to call it in a message.
        columns: as in `read_log`.

    Raises:
        InputError: as `read_log`.

    Example:
        >>> log = parse_log(
        ...     "Time (s);Voltage (V);Current (mA)\\n0;25,1;600\\n1;24,2;21000\\n2;24,1;20500"
        ... )
        >>> log.current_a, log.voltage_v
        (array([ 0.6, 21. , 20.5]), array([25.1, 24.2, 24.1]))
    """
    raw, findings = _text_bytes(data, name)
    layout = _layout(_head(raw, name), name, columns or {})
    _refuse_gaps_in_columns(layout, name)
    read, more = _columns_of(raw, layout, name)
    del data, raw  # of a large log as much memory as all its figures
    notes = [
        f'Column "{heading.text}" is not used.'
        for heading in layout.headings
        if not heading.key and heading.text
    ]
    if len(notes) > 6:
        notes = [f"{len(notes)} columns are not used."]
    time_s = _times(read, layout, name, notes)
    series, wrong = _series(read, layout, time_s, notes)
    log = FlightLog(
        name,
        time_s,
        headings={h.key: h.text for h in layout.headings if h.key},
        notes=tuple(notes),
        findings=(*findings, *more, *wrong),
        **series,
    )
    return cleaned(log)


# the text -----------------------------------------------------------------------------------------


def _text_bytes(data: bytes | str, name: str) -> tuple[bytes, tuple[LogFinding, ...]]:
    """The text as UTF-8 without NULs, which a logger that lost its power leaves behind."""
    raw = data.encode("utf-8", "replace") if isinstance(data, str) else data
    refuse_size(len(raw), name, LARGEST_BYTES)
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raw = decode(raw, name)[0].encode("utf-8")
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    nulls = raw.count(0) if b"\0" in raw else 0
    if nulls and (0 in raw[:200] or nulls > 0.6 * len(raw)):
        raise InputError("this is a binary file; a log as text (CSV) is needed.", name)
    found: tuple[LogFinding, ...] = ()
    if nulls:
        raw = raw.replace(b"\0", b"")
        text = (
            f"{nulls} empty bytes stood in the file, as after a loss of power; they were left out."
        )
        found = (LogFinding("text", text),)
    if not raw or raw.isspace():
        raise InputError("the file is empty; a log is needed.", name)
    if b"\r" in raw[:HEAD_BYTES] and b"\n" not in raw[:HEAD_BYTES]:
        raw = raw.replace(b"\r", b"\n")
    return raw, found


def _head(raw: bytes, name: str) -> str:
    """The first lines, decoded."""
    head = raw[:HEAD_BYTES]
    if len(raw) > HEAD_BYTES:
        head = head[: head.rfind(b"\n") + 1] or head
    try:
        return decode(head, name)[0]
    except InputError as fault:
        problems = (Problem(p.what.removeprefix(f"{name} "), name) for p in fault.problems)
        raise InputError(problems) from None


def _cells(line: str, separator: str) -> list[str]:
    if separator == r"\s+":
        return line.split()
    try:
        return [
            c.strip() for c in next(csv.reader([line], delimiter=separator, skipinitialspace=True))
        ]
    except (csv.Error, StopIteration):
        return [c.strip(' "') for c in line.split(separator)]


def _layout(head: str, name: str, columns: Mapping[str, str]) -> _LogColumns:
    """The heading row, among the first lines: the one with most columns that are known."""
    lines = head.replace("\r\n", "\n").replace("\r", "\n").split("\n")[:HEAD_LINES]
    mapped = _mapped_headings(columns, name)
    best: tuple[int, int, str, list[str]] | None = None
    for number, line in enumerate(lines):
        if len(line) > 40_000:
            continue
        for separator in _SEPARATORS:
            texts = _cells(line.lstrip("#% ") if number < HEAD_LINES else line, separator)
            if not 1 < len(texts) <= MOST_COLUMNS:
                continue
            known = len({h.key for h in (_heading(t, mapped)[0] for t in texts) if h.key})
            if known >= 2 and (best is None or known > best[0]):
                best = (known, number, separator, texts)
    if best is None:
        raise InputError(_no_heading(lines), f"{name}, header")
    _, number, separator, texts = best
    units = _units_row(lines[number + 1 : number + 2], separator)
    headings, groups = [], {}
    for place, text in enumerate(texts):
        unit = units[place] if place < len(units) else ""
        heading, group = _heading(f"{text} ({unit})" if unit else text, mapped)
        headings.append(heading)
        if group:
            groups[place] = group
    rows = lines[number + 1 + bool(units) :]
    decimal = "," if separator != "," and _has_decimal_comma(rows, separator) else "."
    quoted = any('"' in line for line in rows)
    return _LogColumns(
        separator, decimal, number + 1 + bool(units), quoted, tuple(headings), groups
    )


def _no_heading(lines: Sequence[str]) -> str:
    first = next((line for line in lines if line.strip()), "").strip()
    return (
        "no heading row with time, voltage and current is found; name the columns as in: time (s), "
        f'voltage (V), current (A). The first line is "{shortened(visible(first), 50)}".'
    )


def _mapped_headings(columns: Mapping[str, str], name: str) -> dict[str, tuple[str, str]]:
    """Headings that a person maps: to key and unit."""
    known = measures(TABLE)
    found = {}
    for heading, stated in columns.items():
        key, _, unit = str(stated).partition(" in ")
        key, unit = key.strip(), clean_unit(unit)
        measure = known.get(key)
        if measure is None or (unit and unit not in measure.units):
            allowed = ", ".join(known) if measure is None else ", ".join(measure.shown.values())
            raise InputError(
                f'"{stated}" is not possible; one of {allowed} is needed.',
                f"{name}, column {heading}",
            )
        found[" ".join(str(heading).split()).casefold()] = (key, unit)
    return found


def _heading(text: str, mapped: Mapping[str, tuple[str, str]]) -> tuple[Heading, int]:
    """What a heading means, and the number of its group of cells (0 for none)."""
    bare = " ".join(text.split())
    own = mapped.get(bare.casefold()) or mapped.get(bare.rpartition(" (")[0].casefold())
    if own:
        return Heading(bare, own[0], own[1], known=True, numeric=True), 0
    if len(bare) > 80:
        return Heading(bare[:80]), 0
    for spelling in _spellings(bare):
        cell = _CELL.fullmatch(spelling)
        if cell:
            rest = " ".join(f"{cell[1] or ''} {cell[2]} {cell[4]}".split())
            found = recognise(rest, CELL_TABLE)
            if found.key and 1 <= int(cell[3]) <= MOST_GROUPS:
                return replace(found, text=bare, key=f"cell_v {int(cell[3])}"), int(cell[3])
        found = recognise(spelling, TABLE)
        if found.key:
            return replace(found, text=bare), 0
    return Heading(bare), 0


def _spellings(text: str) -> Iterator[str]:
    """A heading as it is, then with words run together parted, then without words that carry no meaning."""
    yield text
    parted = _RUN_TOGETHER.sub(" ", text)
    parted = re.sub(r"(?<=\w)[._:/](?=[A-Za-z])", " ", parted).replace("_", " ")
    yield parted
    without = " ".join(_OWN_WORDS.sub(" ", parted).split())
    if without not in ("", parted):
        yield without
    last = parted.split(" ")
    if len(last) > 2:
        yield " ".join(last[1:])


def _units_row(lines: Sequence[str], separator: str) -> list[str]:
    """Units below the headings, where that row has nothing else."""
    texts = [t.strip("()[] ") for line in lines for t in _cells(line, separator)]
    filled = [t for t in texts if t]
    if not filled or any(re.search(r"\d", t) for t in filled):
        return []
    return texts if any(clean_unit(t) in all_units(TABLE) for t in filled) else []


def _has_decimal_comma(rows: Sequence[str], separator: str) -> bool:
    cells = [c for row in rows[:50] for c in _cells(row, separator)]
    commas = sum(bool(re.fullmatch(r"-?\d+,\d+", c)) for c in cells)
    points = sum(bool(re.fullmatch(r"-?\d+\.\d+", c)) for c in cells)
    return commas > points


def _refuse_gaps_in_columns(layout: _LogColumns, name: str) -> None:
    """Say which column is missing, and what there is."""
    keys = {heading.key for heading in layout.headings}
    if "voltage_v" not in keys and layout.groups:
        keys.add("voltage_v")  # the groups of cells make up the pack
    if "power_w" in keys:
        keys.add("current_a")
    missing = [words for key, words in _REQUIRED.items() if key not in keys]
    if missing:
        known = ", ".join(f'"{h.text[:30]}"' for h in layout.headings[:20] if h.text)
        message = (
            f"no column is known for the {' and the '.join(missing)}; there are {known}. Say which it is, "
            'as in columns={"heading": "voltage_v in mV"}.'
        )
        raise InputError(message, f"{name}, header")


# the figures --------------------------------------------------------------------------------------


def _columns_of(
    raw: bytes, layout: _LogColumns, name: str
) -> tuple[dict[int, pd.Series], tuple[LogFinding, ...]]:
    """The columns that are used by their places, as pandas reads them, and what could not be read."""
    import pandas as pd

    used = [p for p, h in enumerate(layout.headings) if h.key]
    start = 0
    for _ in range(layout.skipped):
        start = raw.find(b"\n", start) + 1 or len(raw)
    lines = raw.count(b"\n", start) + (not raw.endswith(b"\n"))
    if lines > MOST_ROWS:
        raise InputError(f"there are more than {MOST_ROWS} rows; cut the log to the flight.", name)

    def read(quoting: int) -> dict[int, pd.Series]:
        return _read(raw, start, layout, used, quoting)

    try:
        columns = read(csv.QUOTE_MINIMAL if layout.quoted else csv.QUOTE_NONE)
        if len(columns[used[0]]) < 0.5 * lines and layout.quoted:
            columns = read(csv.QUOTE_NONE)
    except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError):
        try:
            columns = read(csv.QUOTE_NONE)
        except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError, OverflowError):
            raise InputError(_NO_ROWS, name) from None
    rows = len(columns[used[0]])
    if not rows:
        raise InputError(_NO_ROWS, name)
    lost = lines - rows
    if lost > 0:  # empty ones are not counted
        lost -= raw.count(b"\n\n", start) + raw.count(b"\n\r\n", start)
    if lost <= 0:
        return columns, ()
    text = counted_text(lost, "row", "did not have the columns of the heading and were left out.")
    return columns, (LogFinding("text", text, int(lost)),)


def _read(
    raw: bytes, start: int, layout: _LogColumns, used: list[int], quoting: int
) -> dict[int, pd.Series]:
    """The columns that are used, read a part at a time: memory then holds a log's text and its figures once.

    A column of texts is one of texts throughout, as where figures of one part stand among texts of another.
    """
    import pandas as pd

    most, rows = raw.count(b"\n", start) + raw.count(b"\r", start) + 1, 0
    figures, texts = {p: np.empty(most) for p in used}, dict[int, list[pd.Series]]()
    for at_once in (ROWS_AT_ONCE, most):
        rows, texts = 0, {}
        for part in _parts(raw, start, layout, used, quoting, at_once):
            for p in used:
                if pd.api.types.is_numeric_dtype(part[p]):
                    figures[p][rows : rows + len(part)] = part[p]
                else:
                    texts.setdefault(p, []).append(part[p])
            rows += len(part)
        if all(sum(map(len, parts)) == rows for parts in texts.values()):
            break
    columns = {p: pd.Series(values[:rows], copy=False) for p, values in figures.items()}
    return columns | {p: pd.concat(parts, ignore_index=True) for p, parts in texts.items()}


def _parts(
    raw: bytes, start: int, layout: _LogColumns, used: list[int], quoting: int, at_once: int
) -> Iterator[pd.DataFrame]:
    """So many rows at a time, as pandas reads them."""
    import pandas as pd

    body = io.BytesIO(raw)
    body.seek(start)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield from pd.read_csv(
            body,
            sep=layout.separator,
            decimal=layout.decimal,
            header=None,
            names=range(len(layout.headings)),
            usecols=used,
            index_col=False,
            quoting=quoting,
            encoding_errors="replace",
            on_bad_lines="skip",
            skipinitialspace=True,
            chunksize=at_once,
            low_memory=False,
        )


def _times(
    read: dict[int, pd.Series], layout: _LogColumns, name: str, notes: list[str]
) -> FloatArray:
    place, heading = next((k, h) for k, h in enumerate(layout.headings) if h.key == "time_s")
    return seconds_of(read.pop(place), heading.unit, heading.text, notes, name)


def _series(
    read: dict[int, pd.Series], layout: _LogColumns, time_s: FloatArray, notes: list[str]
) -> tuple[dict[str, FloatArray], tuple[LogFinding, ...]]:
    """Every column in its own unit; cells that are no figures are left out, with a finding."""
    found: dict[str, FloatArray] = {}
    wrong: list[LogFinding] = []
    groups: dict[int, FloatArray] = {}
    for place, heading in enumerate(layout.headings):
        if heading.key in ("", "time_s", "date"):
            continue
        if heading.key in found:
            notes.append(f'Column "{heading.text}" is not used: "{heading.key}" is there already.')
            continue
        measure = (
            measures(CELL_TABLE)["cell_v"]
            if place in layout.groups
            else measures(TABLE)[heading.key]
        )
        values, bad = _figures(read.pop(place), heading, measure, layout.decimal, notes)
        if bad:
            words = f'of column "{heading.text}" held no figure and were left out.'
            text = counted_text(bad, "cell", words)
            wrong.append(LogFinding("text", text, bad, heading.key))
        if place in layout.groups:
            groups[layout.groups[place]] = values
        else:
            found[heading.key] = values
    return _completed(found, groups, len(time_s), notes), tuple(wrong)


def _completed(
    found: dict[str, FloatArray], groups: dict[int, FloatArray], rows: int, notes: list[str]
) -> dict[str, FloatArray]:
    """The columns of a log from those that are there: voltage from the groups, current from power, its sign."""
    if groups:
        found["cells_v"] = np.array([groups[number] for number in sorted(groups)])
        if "voltage_v" not in found:
            found["voltage_v"] = found["cells_v"].sum(axis=0)
            notes.append(f"The pack's voltage is the sum of {len(groups)} groups of cells.")
    power = found.pop("power_w", None)
    if "current_a" not in found and power is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            found["current_a"] = np.where(
                found["voltage_v"] > 0, power / found["voltage_v"], np.nan
            )
        notes.append("There is no current; it is power over voltage.")
    amps = found["current_a"][np.isfinite(found["current_a"])]
    if amps.size and np.median(amps[np.abs(amps) >= 0.5 * np.abs(amps).max()]) < 0:
        found["current_a"] = -found["current_a"]
        notes.append("Current below 0 was taken for current out of the pack.")
    charge = found.get("charge_ah")
    known = charge[np.isfinite(charge)] if charge is not None else np.zeros(0)
    if charge is not None and known.size > 1 and known[-1] < known[0]:
        found["charge_ah"] = known[0] - charge
        notes.append("The charge counts down; what was used is the charge at the start less it.")
    return {key: found[key] for key in (*SERIES, "cells_v") if key in found}


def _figures(
    column: pd.Series, heading: Heading, measure: Measure, decimal: str, notes: list[str]
) -> tuple[FloatArray, int]:
    """A column in its measure's unit, and how many of its cells are no figure."""
    import pandas as pd

    unit_of_cell: FloatArray | float = 1.0
    bad = 0
    if pd.api.types.is_numeric_dtype(column):
        values = column.to_numpy(dtype=float, na_value=np.nan)
        stated = heading.unit
    else:
        codes, texts = pd.factorize(column)
        numbers = read_numbers([str(t) for t in texts], decimal=decimal + ".")
        own = np.array([measure.units.get(str(u), np.nan) if u else 1.0 for u in numbers.unit])
        values = np.append(numbers.value, np.nan)[codes]
        unit_of_cell = np.append(own, np.nan)[codes]
        wrong = np.append(numbers.wrong, False)[codes]
        bad = int(np.count_nonzero(wrong | (np.isnan(unit_of_cell) & (codes >= 0))))
        stated = heading.unit or (measure.usual.casefold() if np.any(numbers.unit != "") else "")
    values = np.where(np.isfinite(values), values, np.nan)
    if heading.key == "throttle_pct":
        return _throttle(values, notes, heading.text), bad
    factor = (
        measure.units[stated] if stated else _factor_by_size(values, measure, heading.text, notes)
    )
    return np.asarray(values * unit_of_cell * factor), bad


_LARGE = {"voltage_v": 130.0, "current_a": 1000.0, "charge_ah": 60.0, "cell_v": 6.0}
"""Median or highest figures above these are in thousandths."""


def _factor_by_size(values: FloatArray, measure: Measure, text: str, notes: list[str]) -> float:
    """The unit of a column without one: thousandths where its figures are too large otherwise."""
    known = np.abs(values[np.isfinite(values)])
    limit = _LARGE.get(measure.key)
    high = float(np.percentile(known, 95)) if known.size else 0.0
    thousandths = limit is not None and high > limit
    factor = 0.001 if thousandths else 1.0
    unit = measure.shown.get(factor, measure.usual)
    notes.append(f'Column "{text}" has no unit; by its figures it is read in {unit}.')
    return factor


def _throttle(values: FloatArray, notes: list[str], text: str) -> FloatArray:
    """Throttle in percent, from percent, a share, or the length of a pulse in microseconds."""
    known = values[np.isfinite(values)]
    high = float(np.percentile(known, 99)) if known.size else 0.0
    if high > 700.0:
        notes.append(f'Column "{text}" is read in microseconds: 1000 is 0 %, 2000 is 100 %.')
        return np.clip((values - 1000.0) / 10.0, 0.0, 100.0)
    if 0.0 < high <= 1.0:
        notes.append(f'Column "{text}" is read as a share of 1.')
        return 100.0 * values
    return values
