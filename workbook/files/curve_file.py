"""Discharge curves as points read off a page, from a CSV file."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from workbook.battery.model import DischargeCurve
from workbook.errors import InputError, Problem
from workbook.files.columns import Heading, factors, measures, read_numbers, recognise
from workbook.files.delimited import TextTable, read_table, table_text
from workbook.numbers import FloatArray

_CURRENT = re.compile(r"(?:\bat )?(\d+(?:[.,]\d+)?)\s*(A|C|It)\b")
"""The current of a curve, in a heading such as "mAh at 5 A"."""


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
        name = "curves"
        text, _ = table_text(source, name)
    else:
        name = Path(source).name
        text, _ = table_text(Path(source), name)
    table = read_table(text, name, _heading)
    problems: list[Problem] = []
    layout = _layout(table.headings, name, rated_capacity_ah, problems)
    points: dict[float, list[tuple[float, float]]] = {}
    for curve in layout:
        filled = [row for row in zip(*(table.columns[k] for k in curve.read), strict=True)]
        kept = [place for place, cells in enumerate(filled) if any(cells)]
        columns = [_figures(table, k, kept, name, problems) for k in curve.read]
        current = columns[2] if curve.current_a is None else [curve.current_a] * len(kept)
        for amps, charge, volts in zip(current, *columns[:2], strict=True):
            points.setdefault(float(amps), []).append((float(charge), float(volts)))
    if problems:
        raise InputError(problems)
    return tuple(
        DischargeCurve(current, *map(tuple, zip(*sorted(points[current]), strict=True)))
        for current in sorted(points)
    )


class _Curve(NamedTuple):
    """Where one curve, or all of them, stand in the table: columns, and the current where it is one's."""

    capacity: int
    voltage: int
    current: int = -1
    current_a: float | None = None

    @property
    def read(self) -> tuple[int, ...]:
        """The columns in use."""
        return self[:2] if self.current_a is not None else self[:3]


def _heading(text: str) -> Heading:
    return replace(recognise(_CURRENT.sub("", text).strip(), "curves"), text=text)


def _layout(
    headings: tuple[Heading, ...],
    name: str,
    rated_capacity_ah: float | None,
    problems: list[Problem],
) -> list[_Curve]:
    """Long form when there is one column of each kind, else pairs with a current in the heading."""
    keys = [heading.key for heading in headings]
    charges = [k for k, key in enumerate(keys) if key == "capacity_ah"]
    if [keys.count(key) for key in ("current_a", "voltage_v", "capacity_ah")] == [1, 1, 1]:
        return [_Curve(charges[0], keys.index("voltage_v"), keys.index("current_a"))]
    layout = []
    place = f"{name}, heading"
    for k in charges:
        text = headings[k].text
        if k + 1 == len(keys) or keys[k + 1] != "voltage_v":
            problems.append(Problem(f"a voltage column is needed after {text!r}.", place))
            continue
        currents = (_current(h.text, rated_capacity_ah) for h in headings[k : k + 2])
        current = next((amps for amps in currents if amps), None)
        if current is None:
            told = f"{text!r} states no current; a heading such as 'mAh at 5 A' is needed."
            problems.append(Problem(told, place))
            continue
        layout.append(_Curve(k, k + 1, current_a=current))
    if not (layout or problems):
        seen = ", ".join(repr(heading.text) for heading in headings)
        told = (
            f"the columns are {seen}; current (A), capacity (Ah or mAh) "
            "and voltage (V) are needed, or pairs such as 'mAh at 5 A', 'V at 5 A'."
        )
        problems.append(Problem(told, place))
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


def _current(heading: str, rated_capacity_ah: float | None) -> float | None:
    """The current that a heading states, in A or as a multiple of the rated capacity."""
    found = _CURRENT.search(heading)
    if not found:
        return None
    value = float(found[1].replace(",", "."))
    if found[2] == "A":
        return value
    return None if rated_capacity_ah is None else value * rated_capacity_ah
