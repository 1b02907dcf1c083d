"""Cell files: one TOML file a cell, read, checked, listed and written.

A cell file says what a datasheet says, one key a figure, the unit in the key's name. The discharge
curves stand in the file itself (`[[curves]]`) or in a CSV file beside it (`curves_file = "..."`).
What cannot be is refused, all of it at once; what can be but is unlikely is used, with a caution.
"""

from __future__ import annotations

import contextlib
import difflib
import functools
import os
import re
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.errors import InputError, Problem
from workbook.files.cell_check import CellCheck, check_cell, curve_resistance_mohm, either, unit_of
from workbook.files.curve_file import read_curves, text_of

__all__ = [
    "FORMAT",
    "CellCheck",
    "CellFile",
    "catalogue",
    "cell_text",
    "check_cell",
    "curve_resistance_mohm",
    "find_cell",
    "read_cell",
    "read_cell_file",
    "read_curves",
    "write_cell",
]

FORMAT = "workbook cell 1"


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
class CellFile:
    """A cell read from a file, and the doubts about it.

    Attributes:
        cell: the cell.
        notices: cautions, one sentence each.
    """

    cell: Cell
    notices: tuple[Problem, ...] = ()


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
    return _cell_from_text(text_of(path), path.name, path.parent)


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
    unreadable: list[Problem] = []
    try:
        record = _CellRecord.model_validate(data)
    except ValidationError as error:
        unreadable = [_problem(e, name) for e in error.errors()]
        record = _what_can_be_read(data, {e["loc"][:1] for e in error.errors()})
    curves = tuple(
        DischargeCurve(c.current_a, tuple(c.capacity_ah), tuple(c.voltage_v)) for c in record.curves
    )
    if record.curves_file:
        place = f"{name}, curves_file"
        if curves:
            unreadable.append(Problem("curves are given as well; one of the two is right.", place))
        elif folder is None or Path(record.curves_file).name != record.curves_file:
            told = f"{record.curves_file!r} is not the plain name of a file beside this one."
            unreadable.append(Problem(told, place))
        else:
            try:
                curves = read_curves(
                    folder / record.curves_file, rated_capacity_ah=record.rated_capacity_ah
                )
            except InputError as error:
                unreadable.extend(error.problems)
    values = record.model_dump(exclude={"format", "curves", "curves_file"})
    cell = Cell(**values, curves=curves)
    found = check_cell(cell, name)
    told_already = {p.where for p in unreadable}
    refusals = unreadable + [p for p in found.refusals if p.where not in told_already]
    if refusals:
        raise InputError(refusals)
    ordered = tuple(sorted(curves, key=lambda c: c.current_a))
    return CellFile(replace(cell, curves=ordered), found.cautions)


def _what_can_be_read(data: Mapping[str, Any], bad: set[tuple[Any, ...]]) -> _CellRecord:
    """The record with its unreadable keys left empty, so that the rest can still be checked."""
    values: dict[str, Any] = {}
    for key, field in _CellRecord.model_fields.items():
        if (key,) not in bad and key in data:
            values[key] = data[key]
        elif key == "curves":
            values[key] = []
        elif field.is_required():
            values[key] = float("nan") if field.annotation is float else ""
        else:
            values[key] = field.default
    values["curves"] = [_CurveRecord.model_construct(**c) for c in values["curves"]]
    return _CellRecord.model_construct(**values)


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
        hint = f"did you mean {either([folded[n] for n in near])}?"
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
    unit = unit_of(key)
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
