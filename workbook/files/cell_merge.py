"""Two catalogues merged: new cells are taken, equal ones left, and differences listed figure by figure."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from workbook.battery.cell import Cell
from workbook.errors import InputError, Problem, naming, refuse, shortened, visible
from workbook.files.cell_file import (
    cell_differences,
    cell_paths,
    read_catalogue,
    read_cell,
    write_own_cell,
)
from workbook.files.design_file import LARGEST_BYTES, read_design
from workbook.files.design_parts import FORMAT
from workbook.files.reach import refuse_leading_out
from workbook.files.reading import read_text
from workbook.files.records import parse_toml


@dataclass(frozen=True)
class Merge:
    """What another catalogue holds beside one's own.

    Attributes:
        new: cells of other names.
        same: names of cells that are here already, every figure alike.
        conflicts: name to each key in which the two of that name differ; nothing is done about them.
        faults: what could not be read or written.
        written: files of the cells that were taken.
    """

    new: tuple[Cell, ...]
    same: tuple[str, ...]
    conflicts: dict[str, tuple[str, ...]]
    faults: tuple[Problem, ...]
    written: tuple[Path, ...] = ()

    def text(self) -> str:
        """All of it in lines, one a cell."""
        taken = "taken" if self.written else "new"
        lines = [f"{taken}: {_name(cell.name)}" for cell in self.new]
        lines += [f"same: {_name(name)}" for name in self.same]
        lines += [
            f"conflict: {_name(name)}, here and there: {'; '.join(keys)}. Yours stays as it is."
            for name, keys in self.conflicts.items()
        ]
        lines += [f"left out: {fault}" for fault in self.faults]
        return "\n".join(lines or ["no cells there."])


def _name(text: str) -> str:
    return shortened(visible(text))


def merge_cells(mine: Path | str, theirs: Path | str, *, take: bool = False) -> Merge:
    """Hold another's cells against one's own; take the new ones where asked. Nothing is written over.

    Args:
        mine: folder of one's own cells; the workbook's count as one's own, too.
        theirs: another folder of cells, or one cell or packed design in a file.
        take: whether new cells are written into `mine`.

    Raises:
        InputError: a folder that cannot be read, or a file of one's own that cannot be used.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> print(merge_cells("cells", notebooks_source() / "designs" / "survey_six.toml").text())
        same: Sedge
    """
    catalogue = read_catalogue(*([mine] if Path(mine).exists() else []))
    refuse(catalogue.faults)  # a name in a file that cannot be used might be taken a second time
    own = {name.casefold(): cell for name, cell in catalogue.cells.items()}
    found, faults = _cells_there(Path(theirs))
    new: dict[str, Cell] = {}
    same: list[str] = []
    conflicts: dict[str, tuple[str, ...]] = {}
    for cell in found:
        key = cell.name.casefold()
        other = own.get(key) or new.get(key)
        if other is None:
            new[key] = cell
        elif keys := cell_differences(other, cell):
            conflicts[cell.name] = (*conflicts.get(cell.name, ()), *keys)
        else:
            same.append(cell.name)
    written = []
    for key, cell in list(new.items()) if take else []:
        try:
            written.append(write_own_cell(cell, mine))
        except InputError as fault:
            del new[key]
            faults += fault.problems
    return Merge(
        tuple(new.values()), tuple(dict.fromkeys(same)), conflicts, tuple(faults), tuple(written)
    )


def _cells_there(theirs: Path) -> tuple[list[Cell], list[Problem]]:
    """The cells of a folder or a file, and what is wrong with the files that give none."""
    if not theirs.is_dir():
        return [_cell_of(theirs)], []
    found: list[Cell] = []
    faults: list[Problem] = []
    for path in cell_paths(theirs):
        try:
            refuse_leading_out(path)
            found.append(_cell_of(path))
        except InputError as fault:
            faults += fault.problems
    return found, faults


def _cell_of(path: Path) -> Cell:
    """The cell of a cell file or of a design with its cell inside."""
    stated = parse_toml(read_text(path, LARGEST_BYTES), path.name)
    if stated.get("format") != FORMAT:
        return read_cell(path)
    with naming(path.name):
        return read_design(path).datasheet_cell
