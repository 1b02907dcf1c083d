"""The log of measured cells: a table with one row a cell, as CSV."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from workbook.bench.cell_inspection import MeasuredCells
from workbook.errors import InputError, Problem
from workbook.files.records import read_text
from workbook.numbers import FloatArray

LIMIT_BYTES = 5_000_000


@dataclass(frozen=True)
class _Column:
    """A figure of the log: how headers spell it, its units, and what range makes sense."""

    field: str
    label: str
    words: tuple[str, ...]
    units: dict[str, float]
    unit: str
    low: float
    high: float


_COLUMNS = (
    _Column(
        "capacity_ah", "capacity", ("capacity", "cap"), {"mah": 1e-3, "ah": 1.0}, "Ah", 0.1, 50.0
    ),
    _Column(
        "resistance_mohm",
        "resistance",
        ("resistance", "internal resistance", "ir", "dcir", "dc resistance", "ri"),
        {"mohm": 1.0, "milliohm": 1.0, "ohm": 1e3},
        "mohm",
        0.5,
        1000.0,
    ),
    _Column(
        "arrival_v",
        "arrival voltage",
        ("arrival", "arrival voltage", "voltage on arrival", "arrived at", "arrival ocv"),
        {"mv": 1e-3, "v": 1.0},
        "V",
        0.0,
        5.0,
    ),
    _Column("mass_g", "mass", ("mass", "weight"), {"g": 1.0, "kg": 1e3}, "g", 5.0, 500.0),
)
_REST = _Column(
    "rest_v",
    "rest voltage",
    ("rest", "rest voltage", "resting voltage", "ocv", "voltage", ""),
    {"mv": 1e-3, "v": 1.0},
    "V",
    0.0,
    5.0,
)
_NAME_WORDS = ("id", "cell", "cell id", "name", "no", "number", "mark", "cell no", "cell number")
_SHOWN = {"mah": "mAh", "ah": "Ah", "v": "V", "mv": "mV"}
_BLANK = {"", "-", "--", "n/a", "na", "nan", "none", "?"}


@dataclass(frozen=True)
class CellLog:
    """What was read.

    Attributes:
        cells: the measured cells.
        notes: one sentence for each thing taken as read (a unit seen from size, a column not used).
    """

    cells: MeasuredCells
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Found:
    """A column of the file that was recognised: what it is, its unit if written, its rest day."""

    column: _Column
    place: int
    header: str
    unit: str | None
    day: float | None = None


def _plain(header: str) -> str:
    """A header in small letters, marks and brackets as spaces, the ohm sign as a word."""
    text = header.casefold().replace("ω", "ohm").replace("Ω".casefold(), "ohm")
    return " ".join(re.sub(r"[^a-z0-9.]+", " ", text).split())


def _recognise(header: str, place: int) -> _Found | str | None:
    """The figure that a header names; "name" for the cell's mark; None when it is neither."""
    text = _plain(header)
    if text in _NAME_WORDS:
        return "name"
    day_match = re.search(r"\bday ?(\d+(?:\.\d+)?)\b|\b(\d+(?:\.\d+)?) ?d(?:ays?)?\b", text)
    day = None
    if day_match:
        day = float(day_match.group(1) or day_match.group(2))
        text = " ".join((text[: day_match.start()] + text[day_match.end() :]).split())
    columns = (_REST,) if day is not None else _COLUMNS
    for column in columns:
        parts = text.split()
        for cut in (len(parts), len(parts) - 1):
            words, unit_text = " ".join(parts[:cut]), "".join(parts[cut:])
            if cut >= 0 and words in column.words and (not unit_text or unit_text in column.units):
                return _Found(column, place, header, unit_text or None, day)
        # "m ohm" apart, or the unit first ("V arrival")
        if len(parts) > 2 and " ".join(parts[:-2]) in column.words:
            unit_text = "".join(parts[-2:])
            if unit_text in column.units:
                return _Found(column, place, header, unit_text, day)
        if parts and parts[0] in column.units and " ".join(parts[1:]) in column.words:
            return _Found(column, place, header, parts[0], day)
    return None


def _delimiter(line: str) -> str:
    """The mark between columns: the most frequent of tab, semicolon and comma in the header."""
    return max("\t;,", key=line.count)


def _number(text: str, delimiter: str) -> float | None:
    """A figure with a decimal point or comma; NaN for a blank, None when it is no figure.

    A comma in a comma-separated file must have been quoted and may mean thousands: it is refused.
    """
    text = text.strip().replace("\u00a0", "")
    if text.casefold() in _BLANK:
        return float("nan")
    if "," in text:
        if delimiter == "," or "." in text:
            return None
        text = text.replace(",", ".")
    if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", text):
        return None
    return float(text)


def read_cell_log(path: str | Path) -> CellLog:
    """Read the log of measured cells from a CSV file.

    One row a cell. Columns in any order: `id`, `capacity mAh` (or Ah), `resistance mohm`,
    `arrival V`, `rest V day 0`, `rest V day 7` (any two days), `mass g`. Only `id` and one figure
    must be there; a blank is "not measured". Comma, semicolon or tab between columns; decimal comma
    where the columns are not parted by commas. Lines that begin with # are remarks.

    Args:
        path: the file.

    Raises:
        InputError: every cell of the table that cannot be used, by row and column, in one error.
    """
    return parse_cell_log(read_text(Path(path), LIMIT_BYTES), str(path))


def parse_cell_log(text: str, where: str = "cell log") -> CellLog:
    """Read the log from text; see `read_cell_log`.

    Args:
        text: the table.
        where: what to call it in a message.

    Raises:
        InputError: as `read_cell_log`.

    Example:
        >>> log = parse_cell_log('''id;capacity mAh;resistance mohm
        ... A1;2987;24,6
        ... A2;3004;25,1''')
        >>> log.cells.capacity_ah
        array([2.987, 3.004])
        >>> log.cells.resistance_mohm
        array([24.6, 25.1])
    """
    table, rows, delimiter = _table(text, where)
    found, notes, wrong = _headers(list(table.columns), where)
    figures: dict[str, FloatArray] = {}
    rest: dict[float, FloatArray] = {}
    for item in found:
        texts = [str(t) for t in table.iloc[:, item.place]]
        values, faults = _figures(texts, rows, item, delimiter, where, notes)
        wrong += faults
        if item.day is None:
            figures[item.column.field] = values
        else:
            rest[item.day] = values
    names, faults = _names(table, rows, where, notes)
    wrong += faults
    if len(rest) == 1:
        notes.append("Only one rest day is there; self-discharge needs two, so it is left out.")
    if wrong:
        raise InputError(wrong)
    days = sorted(rest)
    if len(days) >= 2:
        figures["rest_first_v"], figures["rest_last_v"] = rest[days[0]], rest[days[-1]]
        if len(days) > 2:
            notes.append(f"Self-discharge is taken from day {days[0]:g} to day {days[-1]:g}.")
    span = days[-1] - days[0] if len(days) >= 2 else 7.0
    return CellLog(MeasuredCells(tuple(names), rest_days=span, **figures), tuple(notes))


def _table(text: str, where: str) -> tuple[pd.DataFrame, list[int], str]:
    """The table as text, the line number of each row, and the mark between columns."""
    numbered = [
        (number, line)
        for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
        if line.strip(" ;,\t") and not line.lstrip().startswith("#")
    ]
    if len(numbered) < 2:
        raise InputError(
            Problem("a header row and at least one cell are needed; there is less.", where)
        )
    delimiter = _delimiter(numbered[0][1])
    wrong = []
    width = len(next(csv.reader([numbered[0][1]], delimiter=delimiter)))
    for number, line in numbered[1:]:
        cells = next(csv.reader([line], delimiter=delimiter))
        if len(cells) > width and any(c.strip() for c in cells[width:]):
            wrong.append(
                Problem(
                    f"there are {len(cells)} columns; the header has {width}. Is a decimal comma "
                    "used with commas between columns? Part the columns by semicolons then.",
                    f"{where}, row {number}",
                )
            )
    if wrong:
        raise InputError(wrong)
    table = pd.read_csv(
        io.StringIO("\n".join(line for _, line in numbered)),
        sep=delimiter,
        dtype=str,
        header=None,
        names=range(width),
        usecols=range(width),
        keep_default_na=False,
        skipinitialspace=True,
        index_col=False,
    ).fillna("")
    headers = [str(h).strip() for h in table.iloc[0]]
    table = table.iloc[1:]
    table.columns = pd.Index(headers)
    return table, [number for number, _ in numbered[1:]], delimiter


def _headers(headers: list[str], where: str) -> tuple[list[_Found], list[str], list[Problem]]:
    """The columns that are figures, notes, and what is wrong with the header row."""
    found: list[_Found] = []
    notes: list[str] = []
    wrong: list[Problem] = []
    seen: dict[tuple[str, float | None], str] = {}
    for place, header in enumerate(headers):
        item = _recognise(header, place)
        if item is None and header:
            notes.append(f'Column "{header}" is not used.')
        if not isinstance(item, _Found):
            continue
        key = (item.column.field, item.day)
        if key in seen:
            wrong.append(
                Problem(
                    f'"{header}" and "{seen[key]}" both give the {item.column.label}; keep one.',
                    f"{where}, header",
                )
            )
            continue
        seen[key] = header
        found.append(item)
    if not found:
        wrong.append(
            Problem(
                "no column is known; name them as in: id, capacity mAh, resistance mohm, arrival V, "
                "rest V day 0, rest V day 7, mass g.",
                f"{where}, header",
            )
        )
    return found, notes, wrong


def _names(
    table: pd.DataFrame, rows: list[int], where: str, notes: list[str]
) -> tuple[list[str], list[Problem]]:
    """The mark of each cell: every one there, no two alike."""
    places = [k for k, h in enumerate(table.columns) if _recognise(str(h), k) == "name"]
    if not places:
        notes.append("There is no id column; cells are numbered in the order of the rows.")
        return [str(k + 1) for k in range(len(rows))], []
    header = table.columns[places[0]]
    names = [str(t).strip() for t in table.iloc[:, places[0]]]
    wrong = []
    first: dict[str, int] = {}
    for name, row in zip(names, rows, strict=True):
        place = f'{where}, row {row}, column "{header}"'
        if not name:
            wrong.append(Problem("the cell has no mark; write one on it and here.", place))
        elif name in first:
            wrong.append(
                Problem(f'"{name}" is also on row {first[name]}; marks must differ.', place)
            )
        else:
            first[name] = row
    return names, wrong


def _figures(
    texts: list[str], rows: list[int], item: _Found, delimiter: str, where: str, notes: list[str]
) -> tuple[FloatArray, list[Problem]]:
    """One column in the unit of its field, and every cell that cannot be used."""
    column = item.column
    read = [_number(text, delimiter) for text in texts]
    raw = np.array([np.nan if value is None else value for value in read])
    unit = item.unit or _unit_by_size(raw, column, item.header, notes)
    wrong: list[Problem] = []
    if unit is None:
        example = next(iter(column.units))
        wrong.append(
            Problem(
                f'the unit of "{item.header}" is not written and not plain from its figures; write '
                f"it in the header, as in {column.label} {_SHOWN.get(example, example)}.",
                f"{where}, header",
            )
        )
        return raw, wrong
    values = raw * column.units[unit]
    for text, value, row in zip(texts, values, rows, strict=True):
        place = f'{where}, row {row}, column "{item.header}"'
        if np.isnan(value):
            if text.strip().replace("\u00a0", "").casefold() in _BLANK:
                continue
            extra = ""
            if "," in text:
                extra = " A comma here could mean thousands or decimals; write it without one."
            wrong.append(Problem(f'"{text.strip()}" is not a figure.{extra}', place))
        elif not column.low <= value <= column.high:
            wrong.append(
                Problem(
                    f"{column.label} is {text.strip()}, read as {value:g} {column.unit}; "
                    f"{column.low:g} to {column.high:g} {column.unit} is possible.",
                    place,
                )
            )
    return values, wrong


def _unit_by_size(raw: FloatArray, column: _Column, header: str, notes: list[str]) -> str | None:
    """The one unit that brings every figure into its range, noted; None when none or two do."""
    known = raw[np.isfinite(raw)]
    fitting = {
        scale: unit
        for unit, scale in reversed(column.units.items())
        if known.size and np.all((known * scale >= column.low) & (known * scale <= column.high))
    }
    if known.size == 0:
        return next(iter(column.units))
    if len(fitting) != 1:
        return None
    unit = next(iter(fitting.values()))
    notes.append(
        f'Column "{header}" has no unit; by its figures it is read in {_SHOWN.get(unit, unit)}.'
    )
    return unit


def cell_log_text(cells: MeasuredCells, remark: str = "") -> str:
    """The log as CSV text that `parse_cell_log` reads back.

    Args:
        cells: the measured cells.
        remark: a first line, written after #.

    Example:
        >>> cells = MeasuredCells(("A1",), capacity_ah=[2.987], mass_g=[46.1])
        >>> print(cell_log_text(cells))
        id,capacity mAh,mass g
        A1,2987,46.1
        <BLANKLINE>
    """
    columns = {
        "capacity mAh": cells.capacity_ah * 1000.0,
        "resistance mohm": cells.resistance_mohm,
        "arrival V": cells.arrival_v,
        "rest V day 0": cells.rest_first_v,
        f"rest V day {cells.rest_days:g}": cells.rest_last_v,
        "mass g": cells.mass_g,
    }
    kept = {"id": cells.name} | {
        header: [f"{v:.7g}" if np.isfinite(v) else "" for v in values]
        for header, values in columns.items()
        if np.isfinite(values).any()
    }
    table = pd.DataFrame(kept).to_csv(index=False, lineterminator="\n")
    return f"# {remark}\n{table}" if remark else str(table)
