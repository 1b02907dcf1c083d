"""A design as one file to hand on: its thrust table, its cell and its club's rules are in it, as text that anybody can read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from workbook.errors import InputError
from workbook.files.cell_file import (
    catalogue,
    cell_data,
    cell_differences,
    write_own_cell,
)
from workbook.files.club_file import FLIGHT_RULES
from workbook.files.commented import record_text
from workbook.files.delimited import table_text
from workbook.files.design_file import LARGEST_BYTES, DesignFile, parse_design
from workbook.files.design_parts import FLIGHT_KEYS, INSIDE
from workbook.files.reading import refuse_size
from workbook.files.writing import new_folder, write_text
from workbook.numbers import plain

INSIDE_REMARK = "# What this design names stands below: its thrust table and its cell, as they were when it was packed.\n"


def packed_text(file: DesignFile) -> str:
    """A design as one file that needs no other; `read_design` takes it as any design, and opens nothing else.

    Args:
        file: the design as read, packed or not.

    Returns:
        TOML with the comments of the design's file.

    Raises:
        InputError: what it is made from cannot be read any more, or is too large to be packed.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> text = packed_text(read_design(notebooks_source() / "designs" / "survey_six.toml"))
        >>> "[inside.cell]" in text
        True
    """
    data = file.part.model_dump(exclude_none=True, exclude_unset=True)
    data.pop("inside", None)
    if data["flight"].pop("rules", None):
        rules = (key for key in FLIGHT_RULES if key not in FLIGHT_KEYS[file.part.craft.kind][1])
        data["flight"].update({key: plain(getattr(file.design.flight, key)) for key in rules})
    inside: dict[str, Any] = {}
    if file.part.craft.thrust_table is not None:
        lines = table_text(*file.table_source())[0].splitlines()
        inside["table"] = "".join(f"{line}\n" for line in lines)
        data["craft"]["thrust_table"] = INSIDE
    inside["cell"] = cell_data(file.datasheet_cell)
    data["pack"]["cell_folder"] = INSIDE
    own = record_text(data, file.document).replace(INSIDE_REMARK, "").rstrip("\n")
    text = "\n".join([own, "", INSIDE_REMARK + record_text({"inside": inside})])
    refuse_size(len(text.encode()), f"{file.path.name} as one file", LARGEST_BYTES)
    parse_design(text, file.path)
    return text


def unpack_design(file: DesignFile, folder: Path) -> Path:
    """Lay a packed design out in a new folder: the design, its thrust table and its cell in files of their own.

    Args:
        file: a packed design.
        folder: not there yet, or empty.

    Returns:
        The design's file.

    Raises:
        InputError: it has nothing inside, its cell conflicts with the workbook's, or the folder holds something.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> unpack_design(
        ...     read_design(notebooks_source() / "designs" / "survey_six.toml"), Path("six")
        ... )
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: survey_six.toml: it has neither table nor cell inside.
    """
    data = file.part.model_dump(exclude_none=True, exclude_unset=True)
    data.pop("inside", None)
    craft, pack = data["craft"], data["pack"]
    if INSIDE not in (craft.get("thrust_table"), pack.get("cell_folder")):
        raise InputError("it has neither table nor cell inside.", file.path.name)
    with new_folder(folder) as place:
        if craft.get("thrust_table") == INSIDE:
            craft["thrust_table"] = "thrust.csv"
            write_text(place / "thrust.csv", file.part.inside.table or "")
        if pack.get("cell_folder") == INSIDE:
            del pack["cell_folder"]
            cell = file.datasheet_cell
            if cell_differences(cell, catalogue().get(cell.name, replace(cell, name=""))):
                pack["cell_folder"] = "cells"
                write_own_cell(cell, place / "cells")
        text = record_text(data, file.document).replace(INSIDE_REMARK, "")
        name = file.path.with_suffix(".toml").name  # of a page that was sent too
        parse_design(text, place / name)
        write_text(place / name, text)
    return folder / name
