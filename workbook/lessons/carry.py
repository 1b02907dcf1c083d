"""What a learner carries from lesson to lesson: one design file of their own, and cells of their own.

`designs/mine.toml` is the learner's; every lesson opens with it, or with the club's demo design where
it is not there. So no lesson needs an earlier one to have been run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from workbook.battery.cell import Cell
from workbook.data.notebooks import notebooks_source
from workbook.errors import InputError, Problem
from workbook.files.cell_file import catalogue
from workbook.files.club_file import Club, club_rules
from workbook.files.design_file import DesignFile, check_design, parse_design, read_design
from workbook.files.design_file import design_text as text_of_design
from workbook.files.design_parts import BenchPart
from workbook.files.records import write_text

__all__ = ["Carried", "carried", "carry", "cells", "club", "current_design"]

OWN_CELLS = Path("cells")


@dataclass(frozen=True)
class _Place:
    mine: Path
    demo: Path


PLACES = {
    "multirotor": _Place(Path("designs", "mine.toml"), Path("designs", "survey_six.toml")),
    "fixed wing": _Place(Path("designs", "mine_wing.toml"), Path("designs", "survey_wing.toml")),
}
"""Kind of craft to the learner's own file and the demo. Another kind of craft is one more line."""


@dataclass(frozen=True)
class Carried:
    """The design that a lesson opens with.

    Attributes:
        file: the design file.
        own: whether it is the learner's own.
        said: which it is, and why, in a sentence.
    """

    file: DesignFile
    own: bool
    said: str


def _demo(place: _Place) -> DesignFile:
    return read_design(place.demo if place.demo.exists() else notebooks_source() / place.demo)


def carried(kind: str = "multirotor") -> Carried:
    """The learner's own design where it is there and good, else the demo; and which, in words.

    Args:
        kind: of craft, a key of `PLACES`.
    """
    place = PLACES[kind]
    if not place.mine.exists():
        file = _demo(place)
        said = f"Design: {file.part.name}, the demo. Keep a change, and {place.mine} is yours."
        return Carried(file, False, said)
    try:
        file = read_design(place.mine)
    except InputError as fault:
        demo = _demo(place)
        reasons = " ".join(str(problem) for problem in fault.problems)
        said = f"Design: {demo.part.name}, the demo. Your own cannot be used: {reasons}"
        return Carried(demo, False, said)
    return Carried(file, True, f"Design: {file.part.name}, your own ({place.mine}).")


def current_design(kind: str = "multirotor") -> DesignFile:
    """The design file that a lesson opens with. See `carried`.

    Example:
        >>> design = current_design().design
        >>> design.pack.cell.name
        'Sedge 48E'
    """
    return carried(kind).file


def carry(kind: str = "multirotor", **figures: Any) -> str:
    """Put figures into the learner's own design file, which the next lesson opens with.

    The file is written whole or not at all, and only when a design can be made from it.

    Args:
        kind: of craft.
        figures: key of the design file to value, such as `payload_g=350.0`, `series=6`,
            `cell="Sedge 48E"`; None takes a key out.

    Returns:
        What was done, in a sentence.

    Raises:
        InputError: a figure that cannot be, or a file that cannot be used or written; what is
            there stays as it is.
    """
    place, found = PLACES[kind], carried(kind)
    if place.mine.exists() and not found.own:
        raise InputError(
            Problem(
                "it cannot be used, so it is left as it is and nothing is kept; correct it or give it "
                "another name.",
                str(place.mine),
            )
        )
    data = found.file.part.model_dump(exclude_none=True, exclude_unset=True)
    sections = {
        s: type(getattr(found.file.part, s)).model_fields for s in ("craft", "pack", "flight")
    }
    sections["bench"] = BenchPart.model_fields
    if "cell" in figures and figures["cell"] in cells() and figures["cell"] not in catalogue():
        figures["cell_folder"] = str(Path("..") / OWN_CELLS)
    for key, value in figures.items():
        section = next((s for s, fields in sections.items() if key in fields), None)
        if section is None:
            raise TypeError(f"no section of a design file has {key}.")
        if value is None:
            data.get(section, {}).pop(key, None)
        else:
            data.setdefault(section, {})[key] = value
    if not found.own:
        data["name"] = f"{found.file.part.name}, mine"
    text = text_of_design(check_design(data, str(place.mine)), found.file.document)
    parse_design(text, place.mine)
    write_text(place.mine, text, overwrite=True)
    return f"Kept in {place.mine}; the next lesson opens with it."


def cells() -> Mapping[str, Cell]:
    """The workbook's cells and the learner's own from `cells/`, by name.

    A folder of which a file cannot be used is left out whole; `own_cells_said` tells why.
    """
    try:
        return catalogue(OWN_CELLS) if OWN_CELLS.is_dir() else catalogue()
    except InputError:
        return catalogue()


def own_cells_said() -> str:
    """Why the learner's own cells are left out, in words; empty where they are not."""
    try:
        catalogue(*([OWN_CELLS] if OWN_CELLS.is_dir() else []))
    except InputError as fault:
        reasons = " ".join(str(problem) for problem in fault.problems)
        return f"Your own cells are left out: {reasons}"
    return ""


def club() -> Club:
    """The club's rules, from `club.toml` beside the notebooks."""
    return club_rules()
