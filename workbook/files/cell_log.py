"""The log of measured cells: a table with one row a cell, as CSV."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from workbook.bench.cell_inspection import MeasuredCells
from workbook.errors import Problem, refuse
from workbook.files.columns import (
    Heading,
    Measure,
    Numbers,
    Texts,
    factors,
    measures,
    read_numbers,
    recognise,
)
from workbook.files.delimited import TextTable, read_table, refuse_length, table_text
from workbook.numbers import FloatArray

MOST_LINES = 3000
"""Of a log: the largest pack of all has 960 cells."""
_DAY = re.compile(r"\bday ?(\d+(?:\.\d+)?)(?!\d)|\b(\d+(?:\.\d+)?) ?d(?:ays?)?\b", re.I)
"""The day of a rest voltage, in a heading such as "rest V day 7"."""


@dataclass(frozen=True)
class CellLog:
    """What was read.

    Attributes:
        cells: the measured cells.
        notes: one sentence for each thing taken as read (a unit seen from size, a column not used).
    """

    cells: MeasuredCells
    notes: tuple[str, ...]


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
    return parse_cell_log(table_text(Path(path), str(path))[0], str(path))


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
    refuse_length(text, where, MOST_LINES)
    table = read_table(text, where, _heading)
    notes = [f'Column "{h.text}" is not used.' for h in table.headings if not h.key and h.text]
    figures: dict[str, FloatArray] = {}
    wrong: list[Problem] = []
    seen: dict[str, str] = {}
    for heading, texts in zip(table.headings, table.columns, strict=True):
        if heading.key in seen and heading.numeric:
            message = f'"{heading.text}" and "{seen[heading.key]}" both give the {_measure(heading).name}; keep one.'
            wrong.append(Problem(message, f"{where}, header"))
        elif heading.numeric:
            seen[heading.key] = heading.text
            numbers = read_numbers(texts, decimal="." if table.separator == "," else ".,")
            figures[heading.key] = _figures(table, heading, texts, numbers, where, notes, wrong)
    if not figures and not wrong:
        message = (
            "no column is known; name them as in: id, capacity mAh, resistance mohm, arrival V, "
            "rest V day 0, rest V day 7, mass g."
        )
        wrong.append(Problem(message, f"{where}, header"))
    names = _names(table, where, notes, wrong)
    days = sorted(float(key.removeprefix(_REST)) for key in figures if key.startswith(_REST))
    rest = [figures.pop(f"{_REST}{day:g}") for day in days]
    if len(days) == 1:
        notes.append("Only one rest day is there; self-discharge needs two, so it is left out.")
    refuse(wrong)
    span = 7.0
    if len(days) >= 2:
        span = days[-1] - days[0]
        figures |= {"rest_first_v": rest[0], "rest_last_v": rest[-1]}
    if len(days) > 2:
        notes.append(f"Self-discharge is taken from day {days[0]:g} to day {days[-1]:g}.")
    return CellLog(MeasuredCells(tuple(names), rest_days=span, **figures), tuple(notes))


_REST = "rest_v day "
"""Key of a rest voltage, before its day."""


def _heading(text: str) -> Heading:
    day = _DAY.search(text.replace("_", " "))
    if day is None:
        return recognise(text, "cell log")
    bare = " ".join((text[: day.start()] + " " + text[day.end() :]).replace("_", " ").split())
    found = recognise(bare, "cell log rest")
    key = f"{_REST}{float(day[1] or day[2]):g}" if found.key else ""
    return replace(found, text=text, key=key)


def _measure(heading: Heading) -> Measure:
    if heading.key.startswith(_REST):
        return measures("cell log rest")["rest_v"]
    return measures("cell log")[heading.key]


def _names(table: TextTable, where: str, notes: list[str], wrong: list[Problem]) -> list[str]:
    """The mark of each cell: every one there, no two alike."""
    keys = [heading.key for heading in table.headings]
    if "name" not in keys:
        notes.append("There is no id column; cells are numbered in the order of the rows.")
        return [str(k + 1) for k in range(len(table.row))]
    column = keys.index("name")
    names = [str(text) for text in table.columns[column]]
    first: dict[str, int] = {}
    for name, row in zip(names, table.row, strict=True):
        place = f'{where}, row {row}, column "{table.headings[column].text}"'
        if not name:
            wrong.append(Problem("the cell has no mark; write one on it and here.", place))
        elif first.setdefault(name, row) != row:
            wrong.append(
                Problem(f'"{name}" is also on row {first[name]}; marks must differ.', place)
            )
    return names


def _figures(
    table: TextTable,
    heading: Heading,
    texts: Texts,
    numbers: Numbers,
    where: str,
    notes: list[str],
    wrong: list[Problem],
) -> FloatArray:
    """One column in the unit of its field; every cell that cannot be used is put to the problems."""
    measure = _measure(heading)
    unit = heading.unit or _unit_by_size(numbers, measure, heading.text, notes)
    if unit is None:
        first = list(measure.shown.values())[-1]
        message = (
            f'the unit of "{heading.text}" is not written and not clear from its figures; write '
            f"it in the header, as in {measure.name} {first}."
        )
        wrong.append(Problem(message, f"{where}, header"))
        return numbers.value
    values = numbers.value * factors(numbers, unit, measure)
    outside = (values < measure.low) | (values > measure.high)
    bad = numbers.wrong | numbers.open | outside | (np.isnan(values) & ~np.isnan(numbers.value))
    for place in np.flatnonzero(bad):
        text, value = texts[place], values[place]
        message = f'"{text}" is not a figure.'
        if numbers.open[place]:
            message += " A comma here could mean thousands or decimals; write it without one."
        elif outside[place]:
            message = (
                f"{measure.name} is {text}, read as {value:g} {measure.usual}; "
                f"{measure.low:g} to {measure.high:g} {measure.usual} is possible."
            )
        wrong.append(Problem(message, f'{where}, row {table.row[place]}, column "{heading.text}"'))
    return values


def _unit_by_size(numbers: Numbers, measure: Measure, heading: str, notes: list[str]) -> str | None:
    """The one unit that brings every figure into its range, noted; None when none or two do."""
    known = numbers.value[~np.isnan(numbers.value)]
    if known.size == 0:
        return measure.usual.casefold()
    fitting = [
        unit
        for factor, unit in measure.shown.items()
        if np.all((known * factor >= measure.low) & (known * factor <= measure.high))
    ]
    if len(fitting) != 1:
        return None
    notes.append(f'Column "{heading}" has no unit; by its figures it is read in {fitting[0]}.')
    return fitting[0].casefold()
