"""Discharge curves as points read off a page, from a CSV file."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from workbook.battery.derating import REFERENCE_C
from workbook.battery.model import DischargeCurve
from workbook.errors import Problem, refuse
from workbook.files.columns import Heading, factors, measures, read_numbers, recognise
from workbook.files.delimited import TextTable, read_table, table_text
from workbook.numbers import FloatArray

MOST_CURVES = 60
"""Of one cell: ten currents at six temperatures."""
_CURRENT = re.compile(r"(?:\bat )?(\d+(?:[.,]\d+)?)\s*(A|C|It)\b")
"""The current of a curve, in a heading such as "mAh at 5 A"."""

_OF_CURVE = re.compile(r",?\s*([-−]?\d+(?:[.,]\d+)?)\s*(?:°|deg ?)C\b")
"""The temperature of a curve, in a heading such as "mAh at 5 A, 0 °C"."""


def read_curves(
    source: str | os.PathLike[str], *, rated_capacity_ah: float | None = None
) -> tuple[DischargeCurve, ...]:
    """Read discharge curves as points read off a page: a CSV file, or its text.

    Two layouts are understood, with commas, semicolons or tabs between the columns. Long: three
    columns, current (A), capacity (Ah or mAh) and voltage (V), one point a row, and a fourth for the
    temperature (°C) where curves were taken at several. Wide: a pair of columns a curve, capacity and
    voltage, with the curve's current in the heading (`mAh at 5 A`, `V at 5 A`) and its temperature
    (`mAh at 5 A, 0 °C`). Without a temperature it is 25 °C. With semicolons or tabs a comma is a decimal
    comma.

    Args:
        source: a path, or the text itself (it has a line break).
        rated_capacity_ah: lets a heading state the current as a multiple (`0.2C`, `0.2 It`).

    Returns:
        The curves, lowest current first and the warmer first at one, each in order of delivered charge.

    Raises:
        InputError: what cannot be read, with row and column.

    Example:
        >>> curves = read_curves("A;mAh;V\\n1;0;4,18\\n1;2500;3,65\\n1;5000;2,5\\n")
        >>> curves[0].capacity_ah, curves[0].voltage_v
        ((0.0, 2.5, 5.0), (4.18, 3.65, 2.5))
    """
    if isinstance(source, str) and "\n" in source:
        name = "curves"
        text, _ = table_text(source, name)
    else:
        name = Path(source).name
        text, _ = table_text(Path(source), name)
    table = read_table(text, name, _heading)
    problems: list[Problem] = []
    layout = _layout(table.headings, name, rated_capacity_ah, problems)
    points: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for curve in layout:
        filled = [row for row in zip(*(table.columns[k] for k in curve.charted), strict=True)]
        kept = [place for place, cells in enumerate(filled) if any(cells)]
        charge, volts = (_figures(table, k, kept, name, problems) for k in curve.charted)
        amps = np.full(len(kept), curve.current_a)
        if curve.current >= 0:
            amps = _figures(table, curve.current, kept, name, problems)
        at_c = np.full(len(kept), curve.temperature_c)
        if curve.temperature >= 0:
            at_c = _temperatures(table, curve.temperature, kept, name, problems)
        for row in zip(amps.tolist(), (-at_c).tolist(), charge, volts, strict=True):
            points.setdefault(row[:2], []).append((float(row[2]), float(row[3])))
    if len(points) > MOST_CURVES:
        message = f"there are {len(points)} curves; at most {MOST_CURVES} are used: is the current in its own column?"
        problems.append(Problem(message, name))
    refuse(problems)
    return tuple(
        DischargeCurve(amps, *_pair(points[amps, colder]), -colder)
        for amps, colder in sorted(points)
    )


def _pair(points: list[tuple[float, float]]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Points in order of their first figure, as two rows."""
    first, second = zip(*sorted(points), strict=True)
    return first, second


class _CurveColumns(NamedTuple):
    """Columns of one curve, or of all of them, or the figures that hold for all points."""

    capacity: int
    voltage: int
    current: int = -1
    temperature: int = -1
    current_a: float = np.nan
    temperature_c: float = REFERENCE_C

    @property
    def charted(self) -> tuple[int, int]:
        """The columns of charge and voltage."""
        return self.capacity, self.voltage


def _heading(text: str) -> Heading:
    bare = _CURRENT.sub("", _OF_CURVE.sub("", text)).strip()
    return replace(recognise(bare, "curves"), text=text)


def _layout(
    headings: tuple[Heading, ...],
    name: str,
    rated_capacity_ah: float | None,
    problems: list[Problem],
) -> list[_CurveColumns]:
    """Long form when there is one column of each kind, else pairs with a current in the heading."""
    keys = [heading.key for heading in headings]
    charges = [k for k, key in enumerate(keys) if key == "capacity_ah"]
    if [keys.count(key) for key in ("current_a", "voltage_v", "capacity_ah")] == [1, 1, 1]:
        warm = keys.index("temperature_c") if keys.count("temperature_c") == 1 else -1
        return [_CurveColumns(charges[0], keys.index("voltage_v"), keys.index("current_a"), warm)]
    layout = []
    place = f"{name}, heading"
    for k in charges:
        text = headings[k].text
        if k + 1 == len(keys) or keys[k + 1] != "voltage_v":
            problems.append(Problem(f"a voltage column is needed after {text!r}.", place))
            continue
        pair = [heading.text for heading in headings[k : k + 2]]
        currents = (_current(words, rated_capacity_ah) for words in pair)
        current = next((amps for amps in currents if amps), None)
        if current is None:
            message = f"{text!r} states no current; a heading such as 'mAh at 5 A' is needed."
            problems.append(Problem(message, place))
            continue
        at_c = _temperature(" ".join(pair))
        layout.append(_CurveColumns(k, k + 1, current_a=current, temperature_c=at_c))
    if not (layout or problems):
        seen = ", ".join(repr(heading.text) for heading in headings)
        message = (
            f"the columns are {seen}; current (A), capacity (Ah or mAh) "
            "and voltage (V) are needed, or pairs such as 'mAh at 5 A', 'V at 5 A'."
        )
        problems.append(Problem(message, place))
    return layout


def _figures(
    table: TextTable, column: int, kept: list[int], name: str, problems: list[Problem]
) -> FloatArray:
    """A column's figures in the workbook's unit; what is no figure is put to the problems."""
    heading, texts = table.headings[column], table.columns[column][kept]
    numbers = read_numbers(texts, decimal=".,")
    values = numbers.value * factors(numbers, heading.unit, measures("curves")[heading.key])
    for place, text, value in zip(kept, texts, values, strict=True):
        if value != value:
            where = f"{name}, row {table.row[place]}, column {heading.text!r}"
            problems.append(Problem(f"{text!r} is not a number; one is needed.", where))
    return values


def _temperatures(
    table: TextTable, column: int, kept: list[int], name: str, problems: list[Problem]
) -> FloatArray:
    """A column's temperatures; 25 °C where a cell is empty."""
    stated = [place for place in kept if table.columns[column][place]]
    found = np.full(len(table.columns[column]), REFERENCE_C)
    found[stated] = _figures(table, column, stated, name, problems)
    return np.asarray(found[kept])


def _temperature(headings: str) -> float:
    """The temperature that the headings of a curve state; 25 °C where they state none."""
    found = _OF_CURVE.search(headings)
    if not found:
        return REFERENCE_C
    return float(found[1].replace(",", ".").replace("−", "-"))


def _current(heading: str, rated_capacity_ah: float | None) -> float | None:
    """The current that a heading states, in A or as a multiple of the rated capacity."""
    found = _CURRENT.search(_OF_CURVE.sub("", heading))
    if not found:
        return None
    value = float(found[1].replace(",", "."))
    if found[2] == "A":
        return value
    return None if rated_capacity_ah is None else value * rated_capacity_ah
