"""Discharge curves as points read off a page, from a CSV file."""

from __future__ import annotations

import csv
import io
import math
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from workbook.battery.model import DischargeCurve
from workbook.errors import InputError, Problem
from workbook.files.records import read_text

LARGEST_BYTES = 5_000_000
PER_AH = {"mAh": 0.001, "Ah": 1.0}
COLUMNS = {"mAh": "mah", "Ah": "ah", "V": "v|volts?|voltage", "A": "a|amps?|amperes?|current"}
"""What a heading says it holds, the first that fits."""


def read_curves(
    source: str | os.PathLike[str], *, rated_capacity_ah: float | None = None
) -> tuple[DischargeCurve, ...]:
    """Read discharge curves as points read off a page: a CSV file, or its text.

    Two layouts are understood, with commas, semicolons or tabs between the columns. Long: three
    columns, current (A), capacity (Ah or mAh) and voltage (V), one point a row. Wide: a pair of
    columns a curve, capacity and voltage, with the curve's current in the heading (`mAh at 5 A`,
    `V at 5 A`). With semicolons or tabs a comma is a decimal comma.

    Args:
        source: a path, or the text itself (it has a line break).
        rated_capacity_ah: lets a heading state the current as a multiple (`0.2C`, `0.2 It`).

    Returns:
        The curves, lowest current first, each in order of delivered charge.

    Raises:
        InputError: what cannot be read, with row and column.

    Example:
        >>> curves = read_curves("A;mAh;V\\n1;0;4,18\\n1;2500;3,65\\n1;5000;2,5\\n")
        >>> curves[0].capacity_ah, curves[0].voltage_v
        ((0.0, 2.5, 5.0), (4.18, 3.65, 2.5))
    """
    if isinstance(source, str) and "\n" in source:
        text, name = source, "curves"
    else:
        text, name = read_text(Path(source), LARGEST_BYTES), Path(source).name
    rows = [row for row in _table(text) if any(cell for cell in row[1])]
    if not rows:
        raise InputError(Problem("there are no rows; points of a curve are needed.", name))
    header, body = rows[0][1], rows[1:]
    problems: list[Problem] = []
    layout = _layout(header, name, rated_capacity_ah, problems)
    points: dict[float, list[tuple[float, float]]] = {}
    for row, cells in body:
        cells = cells + [""] * (len(header) - len(cells))
        for columns in layout:
            if not any(cells[k] for k in columns.read):
                continue
            read = {
                k: _number(cells[k], f"{name}, row {row}, column {header[k]!r}", problems)
                for k in columns.read
            }
            current = read[columns.current] if columns.current_a is None else columns.current_a
            charge, volts = read[columns.capacity], read[columns.voltage]
            if current is not None and charge is not None and volts is not None:
                points.setdefault(current, []).append((charge * columns.ah, volts))
    if not (problems or points):
        problems.append(Problem("there are headings but no points below them.", name))
    if problems:
        raise InputError(problems)
    return tuple(
        DischargeCurve(current, *map(tuple, zip(*sorted(points[current]), strict=True)))
        for current in sorted(points)
    )


class _Columns(NamedTuple):
    """Where one curve, or all of them, stand in the table."""

    capacity: int
    voltage: int
    ah: float
    """Ah in one unit of the capacity column."""
    current: int = -1
    current_a: float | None = None

    @property
    def read(self) -> tuple[int, ...]:
        """The columns in use."""
        own = () if self.current_a is not None else (self.current,)
        return (*own, self.capacity, self.voltage)


def _layout(
    header: list[str], name: str, rated_capacity_ah: float | None, problems: list[Problem]
) -> list[_Columns]:
    """Long form when there is one column of each kind, else pairs with a current in the heading."""
    kinds = [_column(h) for h in header]
    charges = [k for k, kind in enumerate(kinds) if kind in PER_AH]
    if kinds.count("A") == 1 and kinds.count("V") == 1 and len(charges) == 1:
        k = charges[0]
        return [_Columns(k, kinds.index("V"), PER_AH[kinds[k]], kinds.index("A"))]
    layout = []
    place = f"{name}, heading"
    for k in charges:
        if k + 1 == len(kinds) or kinds[k + 1] != "V":
            problems.append(Problem(f"a voltage column is needed after {header[k]!r}.", place))
            continue
        current = _current(header[k], rated_capacity_ah) or _current(
            header[k + 1], rated_capacity_ah
        )
        if current is None:
            told = f"{header[k]!r} states no current; a heading such as 'mAh at 5 A' is needed."
            problems.append(Problem(told, place))
            continue
        layout.append(_Columns(k, k + 1, PER_AH[kinds[k]], current_a=current))
    if not (layout or problems):
        told = (
            f"the columns are {', '.join(map(repr, header))}; current (A), capacity (Ah or mAh) "
            "and voltage (V) are needed, or pairs such as 'mAh at 5 A', 'V at 5 A'."
        )
        problems.append(Problem(told, place))
    return layout


def _number(text: str, place: str, problems: list[Problem]) -> float | None:
    """A figure with a decimal point or comma, or None and a problem."""
    try:
        value = float(text.replace(" ", "").replace(",", "."))
    except ValueError:
        value = math.nan
    if math.isfinite(value):
        return value
    problems.append(Problem(f"{text!r} is not a number; one is needed.", place))
    return None


def _table(text: str) -> Iterator[tuple[int, list[str]]]:
    """Rows with their numbers; comment lines (#) left out."""
    lines = text.lstrip("\ufeff").splitlines()
    kept = [(n, line) for n, line in enumerate(lines, 1) if not line.lstrip().startswith("#")]
    sample = next((line for _, line in kept if line.strip()), "")
    mark = next((m for m in (";", "\t") if m in sample), ",")
    for n, line in kept:
        for row in csv.reader(io.StringIO(line), delimiter=mark):
            yield n, [cell.strip() for cell in row]


def _column(heading: str) -> str:
    """What a column holds, a key of COLUMNS, or "" when it does not say."""
    text = heading.lower().replace("_", " ")
    for kind, pattern in COLUMNS.items():
        if re.search(rf"\b({pattern})\b", text):
            return kind
    return ""


def _current(heading: str, rated_capacity_ah: float | None) -> float | None:
    """The current that a heading states, in A or as a multiple of the rated capacity."""
    found = re.search(r"(\d+(?:[.,]\d+)?)\s*(A|C|It)\b", heading)
    if not found:
        return None
    value = float(found[1].replace(",", "."))
    if found[2] == "A":
        return value
    return None if rated_capacity_ah is None else value * rated_capacity_ah
