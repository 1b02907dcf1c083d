"""Cell files: one TOML file a cell, read, checked, listed and written.

A cell file says what a datasheet says, one key a figure, the unit in the key's name. The discharge
curves stand in the file itself (`[[curves]]`) or in a CSV file beside it (`curves_file = "..."`).
What cannot be is refused, all of it at once; what can be but is unlikely is used, with a caution.
"""

from __future__ import annotations

import contextlib
import csv
import difflib
import functools
import io
import os
import re
import tempfile
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from workbook.battery.cell import Cell, DischargeCurve
from workbook.errors import InputError, Problem

FORMAT = "workbook cell 1"
CELL_FORMATS = ("18650", "21700", "pouch")
KINDS = ("energy", "power", "lithium-polymer")

# Usual ranges of cylindrical cells: mass, diameter, height, highest believable capacity and
# continuous current. Common practice, no source; sizes follow the name of the format (IEC 61960-3).
USUAL = {
    "18650": {
        "mass_g": (44.0, 50.0),
        "diameter_mm": (18.0, 18.7),
        "height_mm": (64.5, 65.5),
        "typical_capacity_ah": (1.0, 3.6),
        "continuous_a": (2.0, 35.0),
    },
    "21700": {
        "mass_g": (62.0, 74.0),
        "diameter_mm": (20.9, 21.8),
        "height_mm": (69.5, 71.0),
        "typical_capacity_ah": (2.5, 6.0),
        "continuous_a": (4.0, 50.0),
    },
}
UNITS = {
    "_mohm": "mohm",
    "_mm": "mm",
    "_ah": "Ah",
    "_v": "V",
    "_a": "A",
    "_g": "g",
    "_s": "s",
    "_c": "C",
}


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class _CurveRecord(_Strict):
    current_a: float
    capacity_ah: list[float]
    voltage_v: list[float]


class _CellRecord(_Strict):
    """The keys of a cell file, in the order in which they are written."""

    format: str
    name: str = Field(min_length=1)
    note: str = ""
    cell_format: str
    kind: str
    mass_g: float
    diameter_mm: float
    height_mm: float
    rated_capacity_ah: float
    typical_capacity_ah: float
    nominal_v: float
    charge_v: float
    cutoff_v: float
    continuous_a: float
    burst_a: float
    burst_s: float
    standard_charge_a: float
    max_charge_a: float
    resistance_mohm: float
    min_charge_temperature_c: float = 0.0
    max_charge_temperature_c: float = 45.0
    min_temperature_c: float = -20.0
    max_temperature_c: float = 60.0
    price: float | None = None
    curves_file: str = ""
    curves: list[_CurveRecord] = []


@dataclass(frozen=True)
class CellCheck:
    """What is wrong with a cell's figures.

    Attributes:
        refusals: what cannot be; the cell is not to be used.
        cautions: what can be but is unlikely; the cell can be used with the doubt said.
    """

    refusals: tuple[Problem, ...]
    cautions: tuple[Problem, ...]


@dataclass(frozen=True)
class CellFile:
    """A cell read from a file, and the doubts about it.

    Attributes:
        cell: the cell.
        notices: cautions, one sentence each.
    """

    cell: Cell
    notices: tuple[Problem, ...] = ()


def check_cell(cell: Cell, where: str = "") -> CellCheck:
    """Find every figure of a cell that cannot be, and every one that is unlikely.

    Args:
        cell: the cell, from a file or typed in.
        where: the file's name, put before each key.

    Returns:
        Refusals and cautions, each with the key, the value and what would be right.

    Source: IEC 62133-2 annex A (4.25 V upper charge limit, from memory); ranges of mass, size and
        energy: common practice, no source.

    Example:
        >>> from dataclasses import replace
        >>> cell = replace(find_cell("Bittern 50E"), burst_a=8.0)
        >>> print(check_cell(cell, "my.toml").refusals[0])
        my.toml, burst_a: 8 A is below continuous_a, 10 A; a burst current is at least that.
    """
    refusals: list[Problem] = []
    cautions: list[Problem] = []

    def at(key: str) -> str:
        return f"{where}, {key}" if where else key

    def refuse(key: str, what: str) -> None:
        refusals.append(Problem(what, at(key)))

    def doubt(key: str, what: str) -> None:
        cautions.append(Problem(what, at(key)))

    if cell.cell_format not in CELL_FORMATS:
        refuse("cell_format", f"{cell.cell_format!r} is not known; {_either(CELL_FORMATS)} is.")
    if cell.kind not in KINDS:
        refuse("kind", f"{cell.kind!r} is not known; {_either(KINDS)} is.")
    pouch = cell.cell_format == "pouch"
    bad: set[str] = set()
    for key in _positive_keys():
        value = getattr(cell, key)
        unit = _unit(key)
        lowest = 0.0 if pouch and key in ("diameter_mm", "height_mm") else None
        if not np.isfinite(value) or value < 0 or (value == 0 and lowest is None):
            bad.add(key)
            refuse(key, f"{value:g} {unit} cannot be; a number above 0 {unit} is needed.")
    if cell.price is not None and not (np.isfinite(cell.price) and cell.price >= 0):
        refuse("price", f"{cell.price:g} cannot be; 0 or more is needed.")

    def above(key: str, other: str, right: str, *, equal: bool, tell: Any = refuse) -> None:
        """Say so when `key` is not above (or equal to) `other`."""
        if bad & {key, other}:
            return
        value, limit, unit = getattr(cell, key), getattr(cell, other), _unit(key)
        if value < limit or (value == limit and not equal):
            word = "below" if value < limit else "equal to"
            tell(key, f"{value:g} {unit} is {word} {other}, {limit:g} {unit}; {right}.")

    above("burst_a", "continuous_a", "a burst current is at least that", equal=True)
    above("max_charge_a", "standard_charge_a", "the highest is at least that", equal=True)
    above("typical_capacity_ah", "rated_capacity_ah", "the rated one is the minimum", equal=True)
    above("nominal_v", "cutoff_v", "the nominal voltage lies above the cutoff", equal=False)
    above("charge_v", "nominal_v", "a full cell lies above nominal", equal=False)
    above(
        "continuous_a",
        "max_charge_a",
        "cells are rarely charged faster than discharged, see the datasheet",
        equal=True,
        tell=doubt,
    )
    for low, high in (
        ("min_charge_temperature_c", "max_charge_temperature_c"),
        ("min_temperature_c", "max_temperature_c"),
    ):
        if not getattr(cell, low) < getattr(cell, high):
            refuse(
                high,
                f"{getattr(cell, high):g} C is not above {low}, {getattr(cell, low):g} C; "
                "a window needs its upper end higher.",
            )
    if cell.min_charge_temperature_c < 0:
        doubt(
            "min_charge_temperature_c",
            f"{cell.min_charge_temperature_c:g} C is below freezing; charging there plates "
            "lithium, and 0 C is usual.",
        )

    if "charge_v" not in bad and cell.charge_v > 4.25:
        tell = doubt if pouch else refuse
        tell(
            "charge_v",
            f"{cell.charge_v:g} V is above 4.25 V, the upper limit of IEC 62133-2; "
            "4.20 V is right for these cells.",
        )
    if not {"rated_capacity_ah", "typical_capacity_ah"} & bad:
        ratio = cell.typical_capacity_ah / cell.rated_capacity_ah
        if ratio > 1.1:
            doubt(
                "typical_capacity_ah",
                f"{cell.typical_capacity_ah:g} Ah is {100 * (ratio - 1):.0f} % above the rated "
                "one; 2 to 5 % is usual.",
            )
    if not {"resistance_mohm"} & bad:
        if not 1.0 <= cell.resistance_mohm <= 500.0:
            refuse(
                "resistance_mohm",
                f"{cell.resistance_mohm:g} mohm cannot be for one cell; 10 to 60 mohm is usual "
                "(a figure in ohm is 1000 times smaller).",
            )
        elif not bad & {"continuous_a", "nominal_v", "cutoff_v"}:
            sag = cell.continuous_a * cell.resistance_mohm / 1000.0
            if sag > cell.nominal_v - cell.cutoff_v:
                doubt(
                    "continuous_a",
                    f"{cell.continuous_a:g} A through {cell.resistance_mohm:g} mohm drops "
                    f"{sag:.2f} V, under the cutoff from the nominal voltage; check both figures.",
                )

    usual = USUAL.get(cell.cell_format, {})
    for key, (low_end, high_end) in usual.items():
        if key in bad:
            continue
        value, unit = getattr(cell, key), _unit(key)
        size = f"{low_end:g} to {high_end:g} {unit}"
        if key in ("mass_g", "diameter_mm", "height_mm"):
            slack = 1.6 if key == "mass_g" else 1.15
            if not low_end / slack <= value <= high_end * slack:
                refuse(key, f"{value:g} {unit} is no {cell.cell_format}; {size} is usual.")
            elif not low_end <= value <= high_end:
                doubt(key, f"{value:g} {unit} is unusual for {cell.cell_format}; {size} is usual.")
        elif value > high_end:
            doubt(
                key,
                f"{value:g} {unit} is more than a true {cell.cell_format} gives "
                f"(about {high_end:g} {unit} at most); suspect a false label.",
            )
    if usual and not bad & {"mass_g", "nominal_v", "typical_capacity_ah"}:
        density = 1000.0 * cell.nominal_v * cell.typical_capacity_ah / cell.mass_g
        told = (
            f"{cell.typical_capacity_ah:g} Ah x {cell.nominal_v:g} V in {cell.mass_g:g} g is "
            f"{density:.0f} Wh/kg; 150 to 300 Wh/kg is usual for a cylindrical cell."
        )
        if not 60.0 <= density <= 400.0:
            refuse("typical_capacity_ah", told)
        elif not 150.0 <= density <= 300.0:
            doubt("typical_capacity_ah", told)

    _check_curves(cell, refuse, doubt, bad)
    return CellCheck(tuple(refusals), tuple(cautions))


def _check_curves(
    cell: Cell,
    refuse: Callable[[str, str], None],
    doubt: Callable[[str, str], None],
    bad: set[str],
) -> None:
    """Check the discharge family: each curve alone, the lowest against the cell, then in pairs."""
    sound: list[DischargeCurve] = []
    seen: dict[float, str] = {}
    for number, curve in enumerate(cell.curves, 1):
        key = f"curves {number} ({curve.current_a:g} A)"
        charge, volts = np.array(curve.capacity_ah), np.array(curve.voltage_v)
        told = len(charge)
        if not (np.isfinite(curve.current_a) and curve.current_a > 0):
            refuse(f"{key}, current_a", f"{curve.current_a:g} A cannot be; above 0 A is needed.")
            continue
        if curve.current_a in seen:
            refuse(key, f"{curve.current_a:g} A is also the current of {seen[curve.current_a]}.")
            continue
        seen[curve.current_a] = f"curve {number}"
        if len(charge) != len(volts):
            refuse(
                key,
                f"{told} capacities but {len(volts)} voltages; one voltage a point is needed.",
            )
            continue
        if told < 3:
            refuse(key, f"{told} points; at least 3, better 12 or more, are needed.")
            continue
        if not (np.isfinite(charge).all() and np.isfinite(volts).all()):
            point = int(np.argmin(np.isfinite(charge) & np.isfinite(volts))) + 1
            refuse(key, f"point {point} is not a number; read it again off the page.")
            continue
        if charge[0] < 0:
            refuse(f"{key}, capacity_ah", f"starts at {charge[0]:g} Ah; 0 or more is needed.")
            continue
        steps = np.diff(charge)
        if (steps <= 0).any():
            k = int(np.argmax(steps <= 0))
            refuse(
                f"{key}, capacity_ah",
                f"point {k + 2} is {charge[k + 1]:g} Ah after {charge[k]:g} Ah; delivered charge "
                "must rise.",
            )
            continue
        rises = np.diff(volts)
        if (rises > 0).any():
            k = int(np.argmax(rises > 0))
            refuse(
                f"{key}, voltage_v",
                f"point {k + 2} is {volts[k + 1]:g} V after {volts[k]:g} V; a discharge curve "
                "never rises.",
            )
            continue
        if volts[-1] < 1.0 or volts[0] > 5.0:
            refuse(
                f"{key}, voltage_v",
                f"runs from {volts[0]:g} V to {volts[-1]:g} V; one cell runs from about 4.2 V to "
                "2.5 V.",
            )
            continue
        if "charge_v" not in bad and volts[0] > cell.charge_v + 0.02:
            refuse(
                f"{key}, voltage_v",
                f"starts at {volts[0]:g} V, above charge_v, {cell.charge_v:g} V.",
            )
            continue
        if curve.current_a > cell.burst_a:
            doubt(key, f"{curve.current_a:g} A is above burst_a, {cell.burst_a:g} A.")
        sound.append(curve)
    sound.sort(key=lambda c: c.current_a)
    if sound and not bad & {"typical_capacity_ah", "cutoff_v"}:
        first = sound[0]
        key = f"curve at {first.current_a:g} A"
        end, typical = first.capacity_ah[-1], cell.typical_capacity_ah
        told_end = f"ends at {end:g} Ah; near typical_capacity_ah, {typical:g} Ah, is expected"
        if not 0.5 <= end / typical <= 1.3:
            refuse(key, f"{told_end} (mAh and Ah differ by 1000).")
        elif abs(end / typical - 1.0) > 0.08:
            doubt(key, f"{told_end}.")
        if first.capacity_ah[0] > 0.05 * typical:
            doubt(key, f"starts at {first.capacity_ah[0]:g} Ah; a curve is read from 0 Ah on.")
        if abs(first.voltage_v[-1] - cell.cutoff_v) > 0.3:
            doubt(
                key,
                f"ends at {first.voltage_v[-1]:g} V; near cutoff_v, {cell.cutoff_v:g} V, "
                "is expected.",
            )
        if "nominal_v" not in bad:
            mean = float(np.trapezoid(first.voltage_v, first.capacity_ah)) / (
                end - first.capacity_ah[0]
            )
            if abs(mean / cell.nominal_v - 1.0) > 0.06:
                doubt(
                    "nominal_v",
                    f"{cell.nominal_v:g} V, but the {key} has a mean of {mean:.2f} V; the two "
                    "should lie within 6 %.",
                )
    for low, high in zip(sound, sound[1:], strict=False):
        start = max(low.capacity_ah[0], high.capacity_ah[0])
        stop = min(low.capacity_ah[-1], high.capacity_ah[-1])
        if stop <= start:
            continue
        charge = np.linspace(start, stop, 101)
        gap = np.interp(charge, low.capacity_ah, low.voltage_v) - np.interp(
            charge, high.capacity_ah, high.voltage_v
        )
        key = f"curve at {high.current_a:g} A"
        if gap.mean() <= 0:
            refuse(
                key,
                f"lies above the curve at {low.current_a:g} A; more current must give less "
                "voltage (are the labels swapped?).",
            )
        elif gap.min() < -0.015:
            k = int(gap.argmin())
            doubt(
                key,
                f"crosses the curve at {low.current_a:g} A near {charge[k]:.2f} Ah; the cell "
                "warmed itself, or a point was misread.",
            )
    slope = curve_resistance_mohm(sound)
    if slope is not None and not {"resistance_mohm"} & bad:
        ratio = cell.resistance_mohm / slope
        if not 0.7 <= ratio <= 1.4:
            doubt(
                "resistance_mohm",
                f"{cell.resistance_mohm:g} mohm, but the curves give about {slope:.0f} mohm; "
                "an alternating-current (1 kHz) figure reads low, and the curves are used.",
            )


def curve_resistance_mohm(curves: Iterable[DischargeCurve]) -> float | None:
    """Mid-discharge resistance of a curve family: the mean slope of voltage on current.

    Args:
        curves: the family, any order.

    Returns:
        Slope in mohm between 30 and 70 % of the shortest curve's charge, or None with fewer than
        two curves.

    Source: least squares at equal delivered charge; the range is common practice, no source.

    Example:
        >>> slow = DischargeCurve(1.0, (0.0, 1.0, 2.0), (4.18, 3.68, 3.18))
        >>> fast = DischargeCurve(11.0, (0.0, 1.0, 2.0), (3.98, 3.48, 2.98))
        >>> curve_resistance_mohm((slow, fast))
        20.0
    """
    family = list(curves)
    if len(family) < 2:
        return None
    shortest = min(c.capacity_ah[-1] for c in family)
    charge = np.linspace(0.3, 0.7, 21) * shortest
    volts = np.array([np.interp(charge, c.capacity_ah, c.voltage_v) for c in family])
    current = np.array([c.current_a for c in family])
    return float(-1000.0 * np.polyfit(current, volts, 1)[0].mean())


def read_cell_file(path: str | os.PathLike[str]) -> CellFile:
    """Read a cell file with the doubts about it.

    Args:
        path: a TOML file; its first key is `format = "workbook cell 1"`.

    Returns:
        The cell and the cautions.

    Raises:
        InputError: every item that cannot be used, one sentence each.

    Example:
        >>> folder = resources.files("workbook.data") / "cells"
        >>> read_cell_file(folder / "bittern-50e.toml").cell.resistance_mohm
        28.0
    """
    path = Path(path)
    return _cell_from_text(_text_of(path), path.name, path.parent)


def read_cell(path: str | os.PathLike[str]) -> Cell:
    """Read a cell file; the cell alone. See `read_cell_file`.

    Args:
        path: a TOML file; its first key is `format = "workbook cell 1"`.

    Raises:
        InputError: every item that cannot be used, one sentence each.
    """
    return read_cell_file(path).cell


def _cell_from_text(text: str, name: str, folder: Path | None) -> CellFile:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            Problem(f"this is not a readable TOML file: {error}. A line reads `key = value`.", name)
        ) from None
    stated = data.get("format")
    if stated != FORMAT:
        raise InputError(
            Problem(f"{stated!r} is not a cell file's format; {FORMAT!r} is.", f"{name}, format")
        )
    try:
        record = _CellRecord.model_validate(data)
    except ValidationError as error:
        raise InputError([_problem(e, name) for e in error.errors()]) from None
    curves = tuple(
        DischargeCurve(c.current_a, tuple(c.capacity_ah), tuple(c.voltage_v)) for c in record.curves
    )
    if record.curves_file:
        if curves:
            raise InputError(
                Problem("both curves and curves_file are given; one of them is right.", name)
            )
        if folder is None or Path(record.curves_file).name != record.curves_file:
            raise InputError(
                Problem(
                    f"{record.curves_file!r} is not a file beside this one; a plain file name "
                    "is needed.",
                    f"{name}, curves_file",
                )
            )
        curves = read_curves(
            folder / record.curves_file, rated_capacity_ah=record.rated_capacity_ah
        )
    values = record.model_dump(exclude={"format", "curves", "curves_file"})
    cell = Cell(**values, curves=curves)
    found = check_cell(cell, name)
    if found.refusals:
        raise InputError(found.refusals)
    ordered = tuple(sorted(curves, key=lambda c: c.current_a))
    return CellFile(Cell(**values, curves=ordered), found.cautions)


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
        text, name = _text_of(Path(source)), Path(source).name
    rows = [row for row in _table(text) if any(cell for cell in row[1])]
    if not rows:
        raise InputError(Problem("there are no rows; points of a curve are needed.", name))
    header, body = rows[0][1], rows[1:]
    kinds = [_column(h) for h in header]
    currents = [_current(h, rated_capacity_ah) for h in header]
    points: dict[float, list[tuple[float, float]]] = {}
    problems: list[Problem] = []

    def number(row: int, value: str, column: str) -> float | None:
        place = f"{name}, row {row}, column {column!r}"
        try:
            result = float(value.replace(" ", "").replace(",", "."))
        except ValueError:
            problems.append(Problem(f"{value!r} is not a number; one is needed.", place))
            return None
        if not np.isfinite(result):
            problems.append(Problem(f"{value!r} is not a finite number; one is needed.", place))
            return None
        return result

    where = {k: kinds.index(k) for k in ("a", "ah", "mah", "v") if kinds.count(k) == 1}
    if {"a", "v"} <= set(where) and len({"ah", "mah"} & set(where)) == 1:
        amount = "ah" if "ah" in where else "mah"
        trios = [(where["a"], where[amount], where["v"], amount, None)]
    else:
        trios = []
        for column in range(0, len(header) - 1):
            if kinds[column] in ("ah", "mah") and kinds[column + 1] == "v":
                current = currents[column] or currents[column + 1]
                if current is None:
                    problems.append(
                        Problem(
                            f"{header[column]!r} states no current; a heading such as "
                            "'mAh at 5 A' is needed.",
                            f"{name}, heading",
                        )
                    )
                    continue
                trios.append((-1, column, column + 1, kinds[column], current))  # type: ignore[arg-type]
    if not trios:
        if not problems:
            problems.append(
                Problem(
                    f"the columns are {', '.join(map(repr, header))}; current (A), capacity (Ah or "
                    "mAh) and voltage (V) are needed, or pairs such as 'mAh at 5 A', 'V at 5 A'.",
                    f"{name}, heading",
                )
            )
        raise InputError(problems)
    for row, cells in body:
        cells = cells + [""] * (len(header) - len(cells))
        for a, q, v, amount, current in trios:
            wanted = [k for k in (a, q, v) if k >= 0]
            if not any(cells[k] for k in wanted):
                continue
            read = {k: number(row, cells[k], header[k]) for k in wanted}
            if None in read.values():
                continue
            amps = current if current is not None else read[a]
            charge, volts = read[q], read[v]
            assert amps is not None and charge is not None and volts is not None
            points.setdefault(amps, []).append(
                (charge / 1000.0 if amount == "mah" else charge, volts)
            )
    if problems:
        raise InputError(problems)
    if not points:
        raise InputError(Problem("there are headings but no points below them.", name))
    return tuple(
        DischargeCurve(amps, *map(tuple, zip(*sorted(points[amps]), strict=True)))
        for amps in sorted(points)
    )


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
    """What a column holds: "a", "ah", "mah", "v", or "" when it does not say."""
    text = heading.lower().replace("_", " ")
    if re.search(r"\bmah\b", text):
        return "mah"
    if re.search(r"\bah\b", text):
        return "ah"
    if re.search(r"\b(v|volts?|voltage)\b", text):
        return "v"
    if re.search(r"\b(a|amps?|amperes?|current)\b", text):
        return "a"
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


def catalogue(*extra_folders: str | os.PathLike[str]) -> Mapping[str, Cell]:
    """The cells that come with the workbook, and those in the builder's own folders, by name.

    Args:
        extra_folders: folders whose `*.toml` files are cell files.

    Returns:
        Name to cell, the workbook's own first, each part in order of name.

    Raises:
        InputError: a folder or a file that cannot be used, or a name given twice.

    Example:
        >>> catalogue()["Bittern 50E"].typical_capacity_ah
        5.0
    """
    cells = dict(_shipped())
    problems: list[Problem] = []
    origin = dict.fromkeys(cells, "the workbook's own cells")
    for folder in map(Path, extra_folders):
        if not folder.is_dir():
            problems.append(Problem("there is no such folder of cell files.", str(folder)))
            continue
        for path in sorted(folder.glob("*.toml")):
            try:
                cell = read_cell(path)
            except InputError as error:
                problems.extend(error.problems)
                continue
            if cell.name in cells:
                problems.append(
                    Problem(
                        f"{cell.name!r} is also in {origin[cell.name]}; each name is used once.",
                        f"{path.name}, name",
                    )
                )
                continue
            cells[cell.name], origin[cell.name] = cell, path.name
    if problems:
        raise InputError(problems)
    return MappingProxyType(cells)


@functools.cache
def _shipped() -> Mapping[str, Cell]:
    folder = resources.files("workbook.data") / "cells"
    cells: dict[str, Cell] = {}
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.name.endswith(".toml"):
            cell = _cell_from_text(entry.read_text(encoding="utf-8"), entry.name, None).cell
            cells[cell.name] = cell
    return MappingProxyType(dict(sorted(cells.items())))


def find_cell(name: str, cells: Mapping[str, Cell] | None = None) -> Cell:
    """The cell of that name; upper and lower case do not matter.

    Args:
        name: as in the catalogue.
        cells: where to look; the workbook's own cells when left out.

    Raises:
        InputError: no such cell; the sentence names the closest ones.

    Example:
        >>> find_cell("bittern 50e").cell_format
        '21700'
    """
    among = catalogue() if cells is None else cells
    folded = {key.casefold(): key for key in among}
    key = folded.get(name.strip().casefold())
    if key is not None:
        return among[key]
    near = difflib.get_close_matches(name.strip().casefold(), list(folded), n=3, cutoff=0.5)
    if near:
        hint = f"did you mean {_either([folded[n] for n in near])}?"
    elif among:
        hint = f"there is {', '.join(sorted(among))}."
    else:
        hint = "the catalogue is empty."
    raise InputError(f"no cell is called {name!r}; {hint}")


def write_cell(cell: Cell, path: str | os.PathLike[str], *, overwrite: bool = False) -> None:
    """Write a cell file, whole or not at all.

    Args:
        cell: the cell; one with figures that cannot be is not written.
        path: the file; an existing one is replaced only when `overwrite` is set.

    Raises:
        InputError: the file exists, the folder does not, or the cell cannot be.
    """
    path = Path(path)
    found = check_cell(cell, path.name)
    if found.refusals:
        raise InputError(found.refusals)
    if path.exists() and not overwrite:
        raise InputError(
            Problem("the file exists and is left as it is; choose another name.", str(path))
        )
    if not path.parent.is_dir():
        raise InputError(Problem("there is no such folder.", str(path.parent)))
    text = cell_text(cell)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise InputError(
            Problem(f"it could not be written: {error.strerror}.", str(path))
        ) from None


def cell_text(cell: Cell) -> str:
    """A cell as the text of its file.

    Example:
        >>> print(cell_text(find_cell("Bittern 50E")).splitlines()[0])
        format = "workbook cell 1"
    """
    document = tomlkit.document()
    for key in _CellRecord.model_fields:
        if key == "format":
            document.add(key, tomlkit.item(FORMAT))
        elif key not in ("curves", "curves_file") and getattr(cell, key) not in (None, ""):
            value = getattr(cell, key)
            document.add(key, tomlkit.item(value if isinstance(value, str) else float(value)))
    if cell.curves:
        family = tomlkit.aot()
        for curve in cell.curves:
            table = tomlkit.table()
            table.add("current_a", float(curve.current_a))
            table.add("capacity_ah", tomlkit.item([float(q) for q in curve.capacity_ah]))
            table.add("voltage_v", tomlkit.item([float(v) for v in curve.voltage_v]))
            family.append(table)
        document.add("curves", family)
    return tomlkit.dumps(document)


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(Problem("there is no such file.", str(path))) from None
    except UnicodeDecodeError:
        raise InputError(
            Problem("it is not plain text in UTF-8; save it again as that.", path.name)
        ) from None
    except OSError as error:
        raise InputError(Problem(f"it cannot be read: {error.strerror}.", str(path))) from None


def _problem(error: Any, name: str) -> Problem:
    """One of pydantic's findings as one sentence."""
    place = error["loc"]
    key = str(place[-1]) if isinstance(place[-1], str) else str(place[-2])
    dotted = " ".join(
        str(p + 1) if isinstance(p, int) else str(p) + ("," if n else "")
        for n, p in enumerate(place)
    ).replace(" ,", ",")
    dotted = re.sub(r"^curves (\d+) (\w+),", r"curves \1, \2,", dotted).rstrip(",")
    where, kind, value = f"{name}, {dotted}", error["type"], error["input"]
    unit = _unit(key)
    number = f"a plain number in {unit}" if unit else "a plain number"
    if kind == "missing":
        return Problem("it is missing; every cell file states it.", where)
    if kind == "extra_forbidden":
        keys = [*_CellRecord.model_fields, *_CurveRecord.model_fields]
        near = difflib.get_close_matches(key, keys, n=1)
        hint = f"did you mean {near[0]!r}?" if near else "a note can hold it instead."
        return Problem(f"this key is not known; {hint}", where)
    if kind == "finite_number":
        return Problem(f"{value} cannot be used; {number} is needed.", where)
    if kind == "float_type":
        return Problem(f"{value!r} is not a number; {number} is needed.", where)
    if kind in ("string_type", "string_too_short"):
        return Problem(f"{value!r} is not a text; a text between quotes is needed.", where)
    return Problem(f"{value!r} cannot be used: {error['msg']}.", where)


def _positive_keys() -> list[str]:
    signed = {"price"}
    return [
        f.name
        for f in fields(Cell)
        if _unit(f.name) and not f.name.endswith("temperature_c") and f.name not in signed
    ]


def _unit(key: str) -> str:
    return next((unit for end, unit in UNITS.items() if key.endswith(end)), "")


def _either(words: Iterable[str]) -> str:
    listed = [repr(w) for w in words]
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} or {listed[-1]}"
