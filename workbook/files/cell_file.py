"""Cell files: one TOML file a cell, read, checked, listed and written.

A cell file says what a datasheet says, one key a figure, the unit in the key's name. The discharge
curves stand in the file itself (`[[curves]]`) or in a CSV file beside it (`curves_file = "..."`).
What cannot be is refused, all of it at once; what can be but is unlikely is used, with a caution.
"""

from __future__ import annotations

import difflib
import functools
import os
from collections.abc import Mapping
from dataclasses import MISSING, asdict, dataclass, fields
from importlib import resources
from math import nan
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from pydantic import Field, ValidationError

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.errors import InputError, Problem
from workbook.files.cell_check import check_cell, either
from workbook.files.curve_file import read_curves
from workbook.files.records import (
    model_of,
    parse_toml,
    read_text,
    record_text,
    sentences,
    write_text,
)

FORMAT = "workbook cell 1"
LARGEST_BYTES = 1_000_000


_CurvePart = model_of(DischargeCurve, capacity_ah=(list[float], ...), voltage_v=(list[float], ...))
_CellPart = model_of(
    Cell,
    format=(Literal["workbook cell 1"], ...),
    name=(str, Field(min_length=1)),
    curves=(list[_CurvePart], []),  # type: ignore[valid-type]
    curves_file=(str, ""),
)
_ORDER = (
    "format",
    "name",
    "note",
    *(f.name for f in fields(Cell) if f.name not in ("name", "note")),
)
"""In which a file states its keys; the curves come last."""


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
    return _cell_from_text(read_text(path, LARGEST_BYTES), path.name, path.parent)


def read_cell(path: str | os.PathLike[str]) -> Cell:
    """Read a cell file; the cell alone. See `read_cell_file`.

    Args:
        path: a TOML file; its first key is `format = "workbook cell 1"`.

    Raises:
        InputError: every item that cannot be used, one sentence each.
    """
    return read_cell_file(path).cell


def _cell_from_text(text: str, name: str, folder: Path | None) -> CellFile:
    data = parse_toml(text, name)
    if data.get("format") != FORMAT:
        shown = repr(data.get("format"))[:80]
        raise InputError(
            Problem(f"{shown} is not a cell file's format; {FORMAT!r} is.", f"{name}, format")
        )
    problems: list[Problem] = []
    bad: set[int | str] = set()
    try:
        _CellPart.model_validate(data)
    except ValidationError as fault:
        problems = sentences(_CellPart, fault, name)
        bad = {error["loc"][0] for error in fault.errors()}
    stated = {key: value for key, value in data.items() if key not in bad}
    curves = [DischargeCurve(**_tuples(curve)) for curve in stated.get("curves", [])]
    if stated.get("curves_file"):
        rated = stated.get("rated_capacity_ah")
        try:
            curves += _curves_beside(stated["curves_file"], name, folder, rated, bool(curves))
        except InputError as fault:
            problems += fault.problems
    values = {
        f.name: stated.get(
            f.name, "" if f.type == "str" else nan if f.default is MISSING else f.default
        )
        for f in fields(Cell)
    }
    cell = Cell(**values | {"curves": tuple(sorted(curves, key=lambda c: c.current_a))})
    found = check_cell(cell, name)
    problems += [p for p in found.refusals if p.where.removeprefix(f"{name}, ") not in bad]
    if problems:
        raise InputError(problems)
    return CellFile(cell, found.cautions)


def _tuples(curve: dict[str, Any]) -> dict[str, Any]:
    return {key: tuple(v) if isinstance(v, list) else v for key, v in curve.items()}


def _curves_beside(
    file: str, name: str, folder: Path | None, rated_ah: float | None, also_given: bool
) -> tuple[DischargeCurve, ...]:
    """The curves of the file that a cell file names beside itself."""
    told = ""
    if also_given:
        told = "curves are given as well; one of the two is right."
    elif folder is None or Path(file).name != file:
        told = f"{file!r} is not the plain name of a file beside this one."
    if told:
        raise InputError(Problem(told, f"{name}, curves_file"))
    return read_curves(Path(folder or ".", file), rated_capacity_ah=rated_ah)


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
    write_text(path, cell_text(cell), overwrite=overwrite)


def cell_text(cell: Cell) -> str:
    """A cell as the text of its file.

    Example:
        >>> print(cell_text(find_cell("Bittern 50E")).splitlines()[0])
        format = "workbook cell 1"
    """
    values = {"format": FORMAT, **asdict(cell)}
    curves = values.pop("curves")
    stated = {key: values[key] for key in _ORDER if values.get(key) not in (None, "")}
    stated |= {key: float(v) for key, v in stated.items() if not isinstance(v, str)}
    family = [{key: list(v) if isinstance(v, tuple) else v for key, v in c.items()} for c in curves]
    return record_text(stated | ({"curves": family} if family else {}))
