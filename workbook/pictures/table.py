"""A thrust table read from a picture: read, laid out, doubted; and the text that the ordinary reader takes."""

from __future__ import annotations

import numpy as np

from workbook.errors import InputError, Problem
from workbook.files.columns import recognise
from workbook.files.thrust_blocks import THRUST
from workbook.files.thrust_table_file import ThrustTableFile, read_thrust_tables
from workbook.pictures.doubts import with_doubts
from workbook.pictures.layout import PictureTable, lay_out
from workbook.pictures.opening import OpenedPicture
from workbook.pictures.recognise import read_words, written_words

BLURRED_CONFIDENCE = 0.8
"""Median confidence under which nothing is worth correcting. From trials on drawn tables."""


def table_in(picture: OpenedPicture) -> PictureTable:
    """The thrust table in a picture, each doubtful cell with its doubt.

    On a page of a PDF that has it as text it is taken from there, and from the picture else.

    Raises:
        InputError: the reader is not installed, most of the text cannot be read, or no table was found.
    """
    written = lay_out(written_words(picture))
    if _is_thrust_table(written):
        return with_doubts(written)
    words = read_words(picture)
    if words and np.median([word.confidence for word in words]) < BLURRED_CONFIDENCE:
        message = (
            "the text in it is too small or too blurred to be read. Take it from nearer, or save it larger, or "
            "type the figures in beside it."
        )
        raise InputError(Problem(message, picture.name))
    table = lay_out(words)
    if not table.rows:
        message = (
            "no table was found in it: two rows of figures, one below the other, are needed. Cut the picture "
            "down to the table, or type the figures in beside it."
        )
        raise InputError(Problem(message, picture.name))
    return with_doubts(table)


def _is_thrust_table(table: PictureTable) -> bool:
    """Whether it has rows, and thrust with amperes or watts: else the table on the page is a picture."""
    keys = {recognise(heading.text, THRUST).key for heading in table.headings}
    return (
        bool(table.rows) and "thrust_gf" in keys and not keys.isdisjoint({"current_a", "power_w"})
    )


def doubtful(table: PictureTable) -> tuple[str, ...]:
    """Every doubt that is open, with its place.

    Example:
        >>> from workbook.pictures.layout import PictureCell
        >>> cell = PictureCell("7", doubt="hard to read (60 % sure)")
        >>> doubtful(PictureTable((), (PictureCell("Thrust (g)"),), ((cell,),)))
        ('row 1, "Thrust (g)": "7", hard to read (60 % sure)',)
    """
    return tuple(
        f'{f"row {r}" if r else "heading"}, "{table.headings[k].text}": "{cell.text}", {cell.doubt}'
        for r, row in enumerate((table.headings, *table.rows))
        for k, cell in enumerate(row)
        if cell.doubt
    )


def table_text(table: PictureTable) -> str:
    """The table as text with tabs, its notes as lines above it.

    Example:
        >>> from workbook.pictures.layout import PictureCell
        >>> table_text(PictureTable(("4S",), (PictureCell("A"),), ((PictureCell("2,5"),),)))
        '4S\\nA\\n2,5\\n'
    """
    rows = (table.headings, *table.rows)
    lines = [
        *table.notes,
        *("\t".join(" ".join(cell.text.split()) for cell in row) for row in rows),
    ]
    return "\n".join(lines) + "\n"


def use_table(table: PictureTable, name: str) -> ThrustTableFile:
    """The thrust tables in it, through the same reader as any file.

    Args:
        table: without an open doubt.
        name: of the picture.

    Raises:
        InputError: a doubt is open, or the reader cannot use it.
    """
    if open_doubts := doubtful(table):
        message = f"{len(open_doubts)} cells are still marked: {'; '.join(open_doubts[:3])}"
        more = " and so on" if len(open_doubts) > 3 else ""
        raise InputError(Problem(f"{message}{more}. Correct each, or say that it is right.", name))
    return read_thrust_tables(table_text(table), name)
