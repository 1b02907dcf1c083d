"""Cell files: one TOML file a cell, read, checked, listed and written.

A cell file states what a datasheet states, one key a figure, the unit in the key's name. The discharge
curves are in the file itself (`[[curves]]`) or in a CSV file beside it (`curves_file = "..."`).
What cannot be is refused, all of it at once; what can be but is unlikely is used, with a caution.
"""

from __future__ import annotations

import difflib
import functools
import itertools
import os
import re
from collections import ChainMap
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, asdict, dataclass, fields, replace
from importlib import resources
from math import nan
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, Unpack

from pydantic import Field, ValidationError

from workbook.battery.cell import Cell, FitReport
from workbook.battery.derating import REFERENCE_C
from workbook.battery.model import DischargeCurve
from workbook.errors import InputError, Problem, refuse, shortened, visible
from workbook.files.cell_check import check_cell, either
from workbook.files.curve_file import MOST_CURVES, read_curves
from workbook.files.reach import refuse_leading_out
from workbook.files.reading import read_text
from workbook.files.records import model_of, parse_toml, sentences, with_units
from workbook.files.writing import Saving, write_text

FORMAT = "workbook cell 1"
LARGEST_BYTES = 200_000
"""A cell with ten curves of a hundred points has 20 kB."""
MOST_FILES = 300
"""In a folder of cells; each is read when a design of that folder is opened."""


_CurvePart = model_of(DischargeCurve, capacity_ah=(list[float], ...), voltage_v=(list[float], ...))
_CellPart = model_of(
    Cell,
    format=(Literal["workbook cell 1"], ...),
    name=(str, Field(min_length=1)),
    curves=(list[_CurvePart], Field([], max_length=MOST_CURVES)),  # type: ignore[valid-type]
    curves_file=(str, ""),
)
_ORDER = (
    "format",
    "name",
    "note",
    *(f.name for f in fields(Cell) if f.name not in ("name", "note")),
)
"""In which a file states its keys; the curves come last."""


def read_cell(path: str | os.PathLike[str]) -> Cell:
    """Read a cell file; what is unlikely but possible is found by `check_cell`.

    Args:
        path: a TOML file; its first key is `format = "workbook cell 1"`.

    Raises:
        InputError: every item that cannot be used, one sentence each.

    Example:
        >>> folder = resources.files("workbook.data") / "cells"
        >>> read_cell(folder / "bittern.toml").resistance_mohm
        30.0
    """
    path = Path(path)
    return cell_from_data(
        parse_toml(read_text(path, LARGEST_BYTES), path.name), path.name, path.parent
    )


def cell_from_data(data: Mapping[str, Any], name: str, folder: Path | None = None) -> Cell:
    """A cell from what a cell file states.

    Args:
        data: keys and values, as parsed.
        name: what to call it in a message.
        folder: of the file, where it may name one with its curves beside it.

    Raises:
        InputError: every item that cannot be used, one sentence each.
    """
    if "format" not in data:
        raise InputError(f"format is missing; the format of a cell file is {FORMAT!r}.", name)
    if (stated := data["format"]) != FORMAT:
        shown = repr(stated)[:80]
        raise InputError(f"{shown} is not a cell file's format; {FORMAT!r} is.", f"{name}, format")
    problems: list[Problem] = []
    bad: set[int | str] = set()
    try:
        _CellPart.model_validate(data)
    except ValidationError as fault:
        problems = sentences(_CellPart, fault, name)
        bad = {error["loc"][0] for error in fault.errors()}
    stated = {k: _figure(v) for k, v in with_units(_CellPart, dict(data)).items() if k not in bad}
    curves = [
        DischargeCurve(**_tuples(with_units(_CurvePart, curve)))
        for curve in stated.get("curves", [])
    ]
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
    refusals = check_cell(cell, name).refusals
    problems += [p for p in refusals if p.where.removeprefix(f"{name}, ") not in bad]
    refuse(problems)
    return cell


def _tuples(curve: dict[str, Any]) -> dict[str, Any]:
    return {
        key: tuple(map(_figure, v)) if isinstance(v, list) else _figure(v)
        for key, v in curve.items()
    }


def _figure(value: Any) -> Any:
    """A whole number as a figure, which has no more digits than a figure has."""
    return float(value) if isinstance(value, int) else value


def _curves_beside(
    file: str, name: str, folder: Path | None, rated_ah: float | None, also_given: bool
) -> tuple[DischargeCurve, ...]:
    """The curves of the file that a cell file names beside itself."""
    message = ""
    if also_given:
        message = "curves are given as well; one of the two is right."
    elif folder is None or Path(file).name != file:
        message = f"{file!r} is not the plain name of a file beside this one."
    if message:
        raise InputError(message, f"{name}, curves_file")
    refuse_leading_out(Path(folder or ".", file))
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
        >>> catalogue()["Bittern"].typical_capacity_ah
        5.17
    """
    found = read_catalogue(*extra_folders)
    refuse(found.faults)
    return found.cells


@dataclass(frozen=True, eq=False)
class Catalogue:
    """The cells that can be used, and what is wrong with the files that are left out.

    Attributes:
        cells: name to cell.
        faults: of folders and files that are left out.
        left_out: those files by name, each with the name of cell that it states; empty where it states none.
    """

    cells: Mapping[str, Cell]
    faults: tuple[Problem, ...]
    left_out: Mapping[str, str]

    def find(self, name: str) -> Cell:
        """The cell of that name, as `find_cell` finds it.

        Raises:
            InputError: no such cell, or a file that is left out may be meant; with every fault.
        """
        wanted = name.strip().casefold()
        if wanted in (stated.strip().casefold() for stated in self.left_out.values()):
            raise InputError(self.faults)
        try:
            return find_cell(name, self.cells)
        except InputError as fault:
            raise InputError([*self.faults, *fault.problems]) from None

    @property
    def notices(self) -> tuple[Problem, ...]:
        """What is wrong, as remarks for whoever uses another cell; empty where nothing is."""
        if not self.faults:
            return ()
        files = ", ".join(self.left_out)
        message = f"left out of the cells to choose from: {files}. What is wrong there:"
        return (Problem(message, "cell folder"), *(replace(p, about="") for p in self.faults))


def read_catalogue(*extra_folders: str | os.PathLike[str]) -> Catalogue:
    """The same as `catalogue`, with what is wrong in the folders beside the cells that can be used.

    Raises:
        InputError: a folder that is not there, cannot be read or holds too many files.
    """
    cells = ChainMap[str, Cell]({}, _shipped())  # type: ignore[arg-type]
    problems: list[Problem] = []
    left_out: dict[str, str] = {}
    missing = False
    origin = dict.fromkeys(cells, "the workbook's own cells")
    for folder in map(Path, extra_folders):
        if not os.path.isdir(folder):
            missing = True
            message = "there is no such folder of cell files."
            problems.append(Problem(message, str(folder)[:200]))
            continue
        for path in cell_paths(folder):
            try:
                refuse_leading_out(path)
                cell = read_cell(path)
            except InputError as error:
                problems.extend(error.problems)
                left_out[path.name] = _stated_name(path)
                continue
            if cell.name in cells:
                problems.append(
                    Problem(
                        f"{cell.name!r} is also in {origin[cell.name]}; each name is used once.",
                        f"{path.name}, name",
                    )
                )
                left_out[path.name] = cell.name
                continue
            cells[cell.name], origin[cell.name] = cell, path.name
    if missing:
        raise InputError(problems)
    return Catalogue(MappingProxyType(cells), tuple(problems), MappingProxyType(left_out))


_NAME_LINE = re.compile(r"""^\s*name\s*=\s*["'](.+?)["']""", re.MULTILINE)


def _stated_name(path: Path) -> str:
    """The cell's name in a file that cannot be used, as far as it can be read."""
    try:
        refuse_leading_out(path)
        return _name_in(read_text(path, LARGEST_BYTES))
    except InputError:
        return ""


def _name_in(text: str) -> str:
    named = _NAME_LINE.search(text)
    return named[1] if named else ""


def cell_paths(folder: Path) -> tuple[Path, ...]:
    """The cell files of a folder, in order of name.

    Raises:
        InputError: there are too many, or the folder cannot be read.
    """
    try:
        found = tuple(itertools.islice(folder.glob("*.toml"), MOST_FILES + 1))
    except OSError as fault:
        message = f"the folder cannot be read ({fault.strerror})."
        raise InputError(message, str(folder)[:200]) from None
    if len(found) > MOST_FILES:
        message = f"there are more than {MOST_FILES} cell files here; keep those that you use."
        raise InputError(message, str(folder))
    return tuple(sorted(found))


def with_cell(found: Catalogue, cell: Cell) -> Catalogue:
    """A catalogue with a cell in the place of whichever bears its name."""
    name = cell.name
    others = {k: c for k, c in found.cells.items() if k == name or k.casefold() != name.casefold()}
    return replace(found, cells=MappingProxyType({**others, name: cell}))


def cell_differences(one: Cell, other: Cell) -> tuple[str, ...]:
    """Every key in which two cells differ, with the figure of each; their notes aside.

    Example:
        >>> bittern = find_cell("Bittern")
        >>> cell_differences(bittern, replace(bittern, mass_g=70.5, price=None))
        ('mass_g 69.4 and 70.5', 'price 4.7 and none')
    """
    texts = []
    for key in (field.name for field in fields(Cell) if field.name != "note"):
        ours, theirs = getattr(one, key), getattr(other, key)
        if key == "curves" and ours != theirs:
            texts.append(f"curves ({len(ours)} and {len(theirs)}) with other points")
        elif ours != theirs:
            texts.append(f"{key} {_figure_text(ours)} and {_figure_text(theirs)}")
    return tuple(texts)


def _figure_text(figure: Any) -> str:
    if isinstance(figure, float):
        return f"{figure:g}"
    return shortened(visible(str(figure))) if figure not in (None, "") else "none"


class _Shipped(Mapping[str, Cell]):
    """The workbook's own cells by name, each checked when it is first asked for."""

    def __init__(self) -> None:
        folder = resources.files("workbook.data") / "cells"
        files = {e.name: e.read_text("utf-8") for e in folder.iterdir() if ".toml" in e.name}
        named = {_name_in(text): (file, text) for file, text in files.items()}
        self._files, self._read = dict(sorted(named.items())), dict[str, Cell]()

    def __getitem__(self, name: str) -> Cell:
        if name not in self._read:
            file, text = self._files[name]
            self._read[name] = cell_from_data(parse_toml(text, file), file)
        return self._read[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._files)

    def __len__(self) -> int:
        return len(self._files)


_shipped = functools.cache(_Shipped)


def find_cell(name: str, cells: Mapping[str, Cell] | None = None) -> Cell:
    """The cell of that name; upper and lower case do not matter.

    Args:
        name: as in the catalogue.
        cells: where to look; the workbook's own cells when left out.

    Raises:
        InputError: no such cell; the sentence names the closest ones.

    Example:
        >>> find_cell("bittern").cell_format
        '21700'
    """
    among = catalogue() if cells is None else cells
    folded = {key.casefold(): key for key in among}
    key = folded.get(name.strip().casefold())
    if key is not None:
        return among[key]
    near = difflib.get_close_matches(name.strip().casefold(), list(folded), n=3, cutoff=0.6)
    if near:
        hint = f"did you mean {either([folded[n] for n in near])}?"
    elif among:
        hint = f"there is {', '.join(sorted(among))}."
    else:
        hint = "the catalogue is empty."
    raise InputError(f"no cell is called {name!r}; {hint}")


def write_cell(cell: Cell, path: str | os.PathLike[str], **saving: Unpack[Saving]) -> None:
    """Write a cell file, whole or not at all.

    Args:
        cell: the cell; one with figures that cannot be is not written.
        path: the file; an existing one is replaced only when `overwrite` is set.
        inputs, seen: as `workbook.files.writing.write_text` takes them.

    Raises:
        InputError: the file exists, it cannot be written, or the cell cannot be.
    """
    path = Path(path)
    found = check_cell(cell, path.name)
    refuse(found.refusals)
    write_text(path, cell_text(cell), **saving)


def cell_text(cell: Cell) -> str:
    """A cell as the text of its file.

    Example:
        >>> print(cell_text(find_cell("Bittern")).splitlines()[0])
        format = "workbook cell 1"
    """
    from workbook.files.commented import record_text

    return record_text(cell_data(cell))


def cell_data(cell: Cell) -> dict[str, Any]:
    """What a cell's file states, as `cell_from_data` takes it."""
    values = {"format": FORMAT, **asdict(cell)}
    curves = values.pop("curves")
    stated = {key: values[key] for key in _ORDER if values.get(key) not in (None, "")}
    stated |= {key: float(v) for key, v in stated.items() if not isinstance(v, str)}
    family = [_curve_text(curve) for curve in curves]
    return stated | ({"curves": family} if family else {})


def _curve_text(curve: dict[str, Any]) -> dict[str, Any]:
    """What a file states of one curve; its temperature where it is not 25 °C."""
    stated = {key: list(v) if isinstance(v, tuple) else v for key, v in curve.items()}
    if stated["temperature_c"] == REFERENCE_C:
        del stated["temperature_c"]
    return stated


# a cell of one's own ------------------------------------------------------------------------------

SIZES_MM = {"18650": (18.4, 65.2), "21700": (21.2, 70.2)}
"""Diameter and height that go with a format's name, with its wrap. Source: IEC 61960-3 names a cell by
its size in millimetre and tenth; the tenths beyond are common practice, no source."""


USUAL_FIGURES = {"cutoff_v": 2.5, "charge_v": 4.2, "nominal_v": 3.6, "burst_s": 10.0}


@dataclass(frozen=True, eq=False)
class OwnCell:
    """A cell of one's own beside its points.

    Attributes:
        cell: the cell.
        report: how well its model reproduces the points.
        cautions: what can be but is unlikely.
    """

    cell: Cell
    report: FitReport
    cautions: tuple[Problem, ...]

    @property
    def trust(self) -> str:
        """How far the model is to be trusted, in words."""
        model, report = self.report.model, self.report
        words = [model.caution] if model.caution else []
        if model.residual_rms_mv == model.residual_rms_mv:
            words.append(
                f"The model lies {model.residual_rms_mv:.1f} mV from the points, root mean square, and was made "
                f"from {model.lowest_a:g} to {model.highest_a:g} A."
            )
        if model.temperature is not None:
            degrees = ", ".join(f"{t:g}" for t in model.temperature.temperature_c)
            words.append(f"It knows the cell at {degrees} °C.")
        if report.held_out_rms_mv == report.held_out_rms_mv:
            words.append(
                f"Made without its highest curve it misses that curve by {report.held_out_rms_mv:.0f} mV: about "
                "what reaching beyond the curves costs."
            )
        return " ".join(words)


def own_cell(points: str, name: str, *, cell_format: str, **figures: Any) -> OwnCell:
    """Make a cell from points of its discharge curves and the few figures of its datasheet.

    Args:
        points: a table as `workbook.files.curve_file.read_curves` takes it.
        name: any name that is not empty.
        cell_format: a key of `SIZES_MM`.
        figures: kind, mass_g and the rest, as in `Cell`; voltages and burst time may be left out.

    Returns:
        The cell; its typical capacity is where its longest curve ends, or the rated one.

    Raises:
        InputError: points or figures that cannot be, each with its place.

    Example:
        >>> made = own_cell(
        ...     "A;Ah;V\\n1;0;4.15\\n1;2;3.7\\n1;4;2.5\\n8;0;4.0\\n8;2;3.5\\n8;3.9;2.5\\n",
        ...     "Mine",
        ...     cell_format="21700",
        ...     kind="power",
        ...     mass_g=70.0,
        ...     rated_capacity_ah=3.9,
        ...     continuous_a=20.0,
        ...     burst_a=30.0,
        ...     standard_charge_a=2.0,
        ...     max_charge_a=4.0,
        ...     resistance_mohm=25.0,
        ... )
        >>> made.cell.typical_capacity_ah, made.report.model.basis
        (4.0, 'curves')
    """
    if not points.strip():
        raise InputError(
            "no points yet; a table of current, charge and voltage is needed.", "points"
        )
    if not name.strip():
        raise InputError("a name is needed.", "name")
    rated_ah = figures["rated_capacity_ah"]
    curves = read_curves(points.strip() + "\n", rated_capacity_ah=rated_ah)
    diameter_mm, height_mm = SIZES_MM[cell_format]
    cell = Cell(
        name=name.strip(),
        cell_format=cell_format,
        diameter_mm=diameter_mm,
        height_mm=height_mm,
        typical_capacity_ah=max(
            [rated_ah, *(c.capacity_ah[-1] for c in curves if c.at_room_temperature)]
        ),
        curves=curves,
        note="Points and figures put in by hand; the maker's datasheet overrides them.",
        **(USUAL_FIGURES | figures),
    )
    found = check_cell(cell)
    refuse(found.refusals)
    return OwnCell(cell, cell.fit_report(), found.cautions)


def write_own_cell(cell: Cell, folder: Path | str, **saving: Unpack[Saving]) -> Path:
    """Write a cell into a folder, named as the cell as far as every machine can have that name.

    Args:
        cell: as `write_cell` takes it.
        folder: made where it is not there.
        saving: how it may be written; see `workbook.files.writing.Saving`.

    Returns:
        The file.

    Raises:
        InputError: as `write_cell`.
    """
    name = re.sub(r"[^a-z0-9]+", "-", cell.name.casefold()).strip("-") or "cell"
    path = Path(folder) / f"{name}.toml"
    write_cell(cell, path, **saving)
    return path
