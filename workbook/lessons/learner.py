"""The learner's design: one design file of their own, and cells of their own, from lesson to lesson.

`designs/mine.toml` is the learner's; every lesson opens with it, or with the club's demo design where
it is not there. So no lesson needs an earlier one to have been run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook.battery.cell import Cell
from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError, Problem
from workbook.files.cell_file import Catalogue, catalogue, read_catalogue
from workbook.files.club_file import club_rules
from workbook.files.design_file import DesignFile, check_design, parse_design, read_design
from workbook.files.design_file import design_text as text_of_design
from workbook.files.design_parts import BenchPart, DesignPart
from workbook.files.new_design import DEMO_TABLES, new_design_text
from workbook.files.writing import FileChangedError, locked, write_text
from workbook.sizing.design import Design, OriginName
from workbook.units import use_units
from workbook.widgets.controls import ChoiceControl, suggestions

OWN_CELLS = Path("cells")
DESIGNS = Path("designs")

FILES = {
    "multirotor": ("mine.toml", "survey_six.toml"),
    "fixed wing": ("mine_wing.toml", "survey_wing.toml"),
}
"""Craft type to the learner's own file and the demo. Another craft type is one more line."""


def own_path(craft_type: str = "multirotor") -> Path:
    """Where the learner's own design of a craft type is."""
    return DESIGNS / FILES[craft_type][0]


MEASURED_OF_CELL = ("cell_capacity_ah", "cell_resistance_mohm")
"""Keys of the pack that were measured of its cells, and go with them."""


def use_club_units() -> None:
    """Show figures from now on in the units that the club's rules name."""
    use_units(club_rules().rules.units)


@dataclass(frozen=True)
class LearnersDesign:
    """The design that a lesson opens with.

    Attributes:
        file: the design file.
        own: whether it is the learner's own.
        notice: which it is, and why, in a sentence.
        stands_in: whether it is the demo in the place of a good design of their own that a lesson cannot show.
    """

    file: DesignFile
    own: bool
    notice: str
    stands_in: bool = False


def demo_design(
    craft_type: str, why: str, *, stands_in: bool = False, name: str = ""
) -> LearnersDesign:
    """The demo, and why it is the demo, in a sentence.

    Args:
        craft_type: a key of `FILES`.
        why: a sentence.
        stands_in: whether a lesson cannot show the learner's own design.
        name: file name of another demo design than the one that lessons open with.
    """
    file = read_design(here_or_shipped(DESIGNS / (name or FILES[craft_type][1])))
    return LearnersDesign(file, False, f"Design: {file.part.name}, the demo. {why}", stands_in)


def learners_design(craft_type: str = "multirotor") -> LearnersDesign:
    """The learner's own design where it is there and good, else the demo; and which, in words.

    Args:
        craft_type: a key of `FILES`.
    """
    mine = own_path(craft_type)
    if not mine.exists():
        return demo_design(craft_type, f"Keep a change, and your own copy is saved as {mine}.")
    try:
        file = read_design(mine)
    except InputError as fault:
        return demo_design(craft_type, f"Your own cannot be used: {' '.join(fault.lines)}")
    return LearnersDesign(file, True, f"Design: {file.part.name}, your own ({mine}).")


def current_design(craft_type: str = "multirotor") -> Design:
    """The design that a lesson opens with: the learner's own, else the demo.

    Args:
        craft_type: `multirotor` or `fixed wing`.

    Example:
        >>> current_design().pack.cell.name
        'Sedge'
    """
    return learners_design(craft_type).file.design


class SeenDesign:
    """What a page knows of the figures in the learner's design file.

    Args:
        part: the file's contents when the page read it.
    """

    def __init__(self, part: DesignPart) -> None:
        self._figures = _figures_of(part)

    def note(self, figures: Mapping[str, Any]) -> None:
        """Take figures that the page has written for known."""
        self._figures.update(figures)

    def check_unchanged(self, now: DesignPart, figures: Mapping[str, Any], mine: Path) -> None:
        """Refuse once to write over figures that another hand has changed since they were seen.

        Args:
            now: what the file holds.
            figures: to be written, by key.
            mine: the file.

        Raises:
            FileChangedError: there are such.
        """
        current = _figures_of(now)
        overwritten = {
            key: current.get(key)
            for key, value in figures.items()
            if current.get(key) not in (self._figures.get(key), value)
        }
        if overwritten:
            self.note(overwritten)
            changes = ", ".join(f"{key} is {value}" for key, value in overwritten.items())
            message = (
                f"this file was changed elsewhere since this page read it ({changes}), and was left as it is; keep "
                "once more to put this page's figures there."
            )
            raise FileChangedError(Problem(message, str(mine)))


def begun_design(craft_type: str) -> LearnersDesign:
    """A new design that is the learner's own: every figure assumed; nothing is written.

    Args:
        craft_type: a key of `FILES`.
    """
    mine = own_path(craft_type)
    table = (Path("..") / DEMO_TABLES[craft_type]).as_posix()
    file = parse_design(new_design_text("My craft", craft_type, table), mine)
    notice = f"{mine} is a new design: every other figure is assumed until you measure it."
    return LearnersDesign(file, True, notice)


def keep_table(craft_type: str, table: Path) -> str:
    """Put a maker's thrust table into the learner's own design; where there is none, into a new one.

    Args:
        craft_type: a key of `FILES`.
        table: its file.

    Returns:
        What was done, in a sentence.

    Raises:
        InputError: as `keep` does.
    """
    begun = None if (own_path(craft_type)).exists() else begun_design(craft_type)
    kept = keep(
        craft_type,
        base=begun,
        origins={"thrust_table": "maker's"},
        thrust_table=(Path("..") / table).as_posix(),
        motor=None,
        propeller=None,
        table_voltage_v=None,
    )
    return begun.notice if begun else kept


def keep(
    craft_type: str = "multirotor",
    *,
    seen: SeenDesign | None = None,
    base: LearnersDesign | None = None,
    origins: Mapping[str, OriginName] | None = None,
    change: Callable[[DesignPart], DesignPart] | None = None,
    **figures: Any,
) -> str:
    """Put figures into the learner's own design file, which the next lesson opens with.

    The file is written whole or not at all, and only when a design can be made from it. What others have put
    into it meanwhile stays; where that changed a figure that is kept now, the first try is refused.

    Args:
        craft_type: a key of `FILES`.
        seen: what the page that keeps knows of the file.
        base: the design to put them into; the learner's own, else the demo, where not given.
        origins: where they come from.
        change: what else is done to the design, such as putting in what flights measured.
        figures: key of the design file to value, such as `payload_g=350.0`, `series=6`,
            `cell="Sedge"`; None takes a key out.

    Returns:
        What was done, in a sentence.

    Raises:
        InputError: a figure that cannot be, or a file that cannot be used or written; what is
            there stays as it is.
        FileChangedError: a figure was changed by another hand since it was seen.
        TypeError: no section of a design file has such a key.
    """
    mine = own_path(craft_type)
    with locked(mine):
        base = base or learners_design(craft_type)
        if mine.exists() and not base.own:
            message = "it cannot be used, so it is left as it is and nothing is kept; correct it or give it another name."
            raise InputError(message, str(mine))
        part, figures = base.file.part, base.file.without_rules(figures)
        if base.own and seen is not None:
            seen.check_unchanged(part, figures, mine)
        cell = figures.get("cell", part.pack.cell)
        if cell != part.pack.cell and cell in cells() and cell not in catalogue():
            figures["cell_folder"] = (Path("..") / OWN_CELLS).as_posix()
        data = with_figures(part if change is None else change(part), figures)
        if origins:
            data.setdefault("origins", {}).update(origins)
        if not base.own:
            data["name"] = f"{part.name}, mine"
        text = text_of_design(check_design(data, str(mine)), base.file.document)
        parse_design(text, mine)
        write_text(mine, text, overwrite=True)
    if seen is not None:
        seen.note(figures)
    return f"Kept in {mine}; the next lesson opens with it."


def _figures_of(part: DesignPart) -> dict[str, Any]:
    """Every figure of a design by its key, whatever its section."""
    sections = (part.craft, part.pack, part.flight, *([part.bench] if part.bench else []))
    return {key: value for section in sections for key, value in section.model_dump().items()}


def with_figures(part: DesignPart, figures: Mapping[str, Any]) -> dict[str, Any]:
    """The contents of a design file with some figures replaced.

    Args:
        part: the checked contents.
        figures: key of the design file to value; None takes a key out.

    Raises:
        TypeError: no section of a design file has such a key.
    """
    data: dict[str, Any] = part.model_dump(exclude_none=True, exclude_unset=True)
    sections: dict[str, Any] = {s: type(getattr(part, s)) for s in ("craft", "pack", "flight")}
    sections["bench"] = BenchPart
    if figures.get("cell", part.pack.cell) != part.pack.cell:
        for key in MEASURED_OF_CELL:  # of the cell before
            data["pack"].pop(key, None)
            data.get("origins", {}).pop(key, None)
    for key, value in figures.items():
        section = next((s for s, model in sections.items() if key in model.model_fields), None)
        if section is None:
            raise TypeError(f"no section of a design file has {key}.")
        if value is None:
            data.get(section, {}).pop(key, None)
        else:
            data.setdefault(section, {})[key] = value
    return data


def cells() -> Mapping[str, Cell]:
    """The workbook's cells and the learner's own from `cells/`, by name.

    A file that cannot be used is left out; `own_cells_notice` gives the reason.
    """
    try:
        return _own_cells().cells
    except InputError:
        return catalogue()


def _own_cells() -> Catalogue:
    return read_catalogue(*([OWN_CELLS] if OWN_CELLS.is_dir() else []))


def cell_choice(design: Design[Any]) -> ChoiceControl:
    """A control for the cell: the workbook's, the learner's own and the design's, the design's chosen."""
    own = design.pack.cell
    names = {
        f"{c.name} ({c.cell_format}, {c.kind}, {c.rated_capacity_ah:g} Ah, {c.continuous_a:g} A)": c
        for c in ({**cells(), own.name: own}).values()
    }
    return ChoiceControl("cell", names, own, label_px=40)


def design_path(text: str, craft_type: str = "multirotor") -> Path:
    """Where a design is saved for which this path was typed; its suffix may be left out.

    Args:
        text: as typed.
        craft_type: a key of `FILES`: the learner's own design is meant where nothing was typed.

    Example:
        >>> design_path(" designs/heron ").as_posix(), design_path("").as_posix()
        ('designs/heron.toml', 'designs/mine.toml')
    """
    path = Path(text.strip() or own_path(craft_type))
    return path if path.suffix else path.with_suffix(".toml")


def design_suggestions(box: W.Text) -> W.Dropdown:
    """A list of the designs in `designs/`, of which one is put into a box for its path."""
    found = sorted(path.as_posix() for path in DESIGNS.glob("*.toml"))
    return suggestions(box, found, "choose a design", 110)


def own_cells_notice() -> str:
    """Which of the learner's own cells are left out and why, in words; empty where none is."""
    try:
        return " ".join(map(str, _own_cells().notices))
    except InputError as fault:
        reasons = " ".join(fault.lines)
        return f"Your own cells are left out: {reasons}"
