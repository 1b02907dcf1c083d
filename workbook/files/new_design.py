"""A design to begin with: every figure a guess that is marked as assumed, to be measured one by one.

`data/guide.csv` has the figures in the order of the job, what a new design begins with, and how each is measured.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import tomlkit

from workbook.data.notebooks import notebooks_source
from workbook.data.tables import data_rows
from workbook.errors import InputError
from workbook.files.club_file import FLIGHT_RULES, club_rules
from workbook.files.design_file import check_design
from workbook.files.design_parts import FORMAT
from workbook.files.reading import read_text
from workbook.files.writing import check_writable, write_text
from workbook.quantities import INPUTS
from workbook.sizing.origins import BEARINGS

DEMO_TABLES = {
    "multirotor": Path("tables", "light_motor.csv"),
    "fixed wing": Path("tables", "wing_motor.csv"),
}
"""The invented table that a new design begins with, by type of craft."""

LARGEST_TABLE_BYTES = 1_000_000
CRAFT_TYPES = tuple(DEMO_TABLES)


@dataclass(frozen=True)
class Guide:
    """The guide to one figure.

    Attributes:
        step: where in the job it is asked for.
        section, key: its place in a design file.
        start: what a new design begins with, by type of craft; nothing where it states none.
        how: how it is measured, what is usual, what it does.
    """

    step: str
    section: str
    key: str
    start: dict[str, str]
    how: str


@cache
def guide() -> tuple[Guide, ...]:
    """Every figure of a design in the order of the job."""
    return tuple(
        Guide(
            row["step"],
            row["section"],
            row["key"],
            {name: row[name] for name in CRAFT_TYPES if row[name]},
            row["how"],
        )
        for row in data_rows("guide.csv")
    )


def new_design_text(name: str, craft_type: str, thrust_table: str = "thrust.csv") -> str:
    """A design that can be sized as it is, with every figure assumed and the club's rules as they are.

    Args:
        name: of the craft.
        craft_type: "multirotor" or "fixed wing".
        thrust_table: its path as seen from the design.

    Raises:
        InputError: a name that a design cannot have.

    Example:
        >>> text = new_design_text("Heron", "fixed wing")
        >>> "mass_without_pack_g = 1400.0" in text, 'mass_without_pack_g = "assumed"' in text
        (True, True)
    """
    document = tomlkit.document()
    document.add(tomlkit.comment("A new design: every figure is a guess until you measure it."))
    document.add("format", tomlkit.item(FORMAT))
    document.add("name", tomlkit.item(name))
    begun = [entry for entry in guide() if craft_type in entry.start]
    rules = {key: f"{getattr(club_rules().rules, key)}" for key in FLIGHT_RULES}
    origins = tomlkit.table()
    for entry in begun:
        if entry.key in BEARINGS:
            origins.add(entry.key, "assumed")
    document.add("origins", origins)
    for section in ("craft", "pack", "flight"):
        table = tomlkit.table()
        if section == "craft":
            table.add("kind", craft_type)
        for entry in begun:
            if entry.section == section:
                begins = {**rules, "thrust_table": thrust_table}
                text = begins.get(entry.key, entry.start[craft_type])
                table.add(entry.key, _value(entry.key, text))
                table[entry.key].comment(entry.how)
        document.add(section, table)
    check_design(document.unwrap(), name)
    return tomlkit.dumps(document)


def _value(key: str, text: str) -> int | float | str:
    """A figure of the guide in the type that the file has for it."""
    try:
        figure = float(text)
    except ValueError:
        return text
    return int(figure) if INPUTS[key].whole else figure


def write_new_design(path: Path | str, craft_type: str = "multirotor") -> tuple[Path, ...]:
    """Write a new design, and beside it a thrust table to begin with, never over a file.

    Args:
        path: of the design; its name without the ending is the craft's.
        craft_type: "multirotor" or "fixed wing".

    Returns:
        The files written.

    Raises:
        InputError: a file of that name is there, or it cannot be written.
    """
    target = Path(path)
    if not target.name.strip():
        raise InputError("a name for the craft is needed.", str(path))
    target = target if target.suffix == ".toml" else target.with_name(f"{target.name}.toml")
    table = target.with_name(f"{target.stem}_thrust.csv")
    demo = notebooks_source() / DEMO_TABLES[craft_type]
    files = {
        target: new_design_text(target.stem, craft_type, table.name),
        table: read_text(demo, LARGEST_TABLE_BYTES),
    }
    for path in files:
        check_writable(path)
    for path, text in files.items():
        write_text(path, text)
    return tuple(files)


def steps(entries: Iterable[Guide]) -> dict[str, list[Guide]]:
    """Figures by the step of the job in which they are asked for, in order."""
    found: dict[str, list[Guide]] = {}
    for entry in entries:
        found.setdefault(entry.step, []).append(entry)
    return found
