"""Tables in text: encoding, line ends, separator and quotes; rows of cells, or columns under headings."""

from __future__ import annotations

import csv
import functools
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from workbook.errors import CONTROL, InputError, Problem
from workbook.files.columns import Heading, Texts
from workbook.files.reading import read_bytes, refuse_size
from workbook.parse import RawCell, plain

_WESTERN_SIGNS = frozenset("°µ²³·×±÷–—‘’“”½¼ äöüßéèêàâçñåøæíóúáôîûÄÖÜÅØÆÉ\xa0")
_SIGNATURES = (
    (b"PK\x03\x04", "a spreadsheet workbook or zip archive; save the sheet as CSV"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook; save the sheet as CSV"),
    (
        b"%PDF",
        "a PDF; the page from_pictures reads a table in it, or copy the text out and paste it",
    ),
    (b"\x89PNG", "a picture; the page from_pictures reads a table in it, or type the rows in"),
    (b"\xff\xd8\xff", "a picture; the page from_pictures reads a table in it, or type the rows in"),
)
_LINE_ENDS = dict.fromkeys("\v\f\x85\u2028\u2029", "\n")
_CONTROLS = bytes([*range(9), *range(14, 32)])
LIMIT_BYTES = 5_000_000
"""Largest table read: a maker's table has a few kilobytes."""
MOST_LINES, LONGEST_LINE = 20_000, 20_000
"""Lines of a table, and characters of a line: a logger's ten curves of a thousand points have 10 000 lines."""
SEPARATORS = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "bar", "  ": "spaces", " ": "space"}


@dataclass(frozen=True, eq=False)
class GridRow:
    """One row of cells with the number of the line on which it starts.

    Attributes:
        places: first and last character of each cell, where columns are lined up with spaces.
    """

    number: int
    cells: tuple[RawCell, ...]
    places: tuple[tuple[int, int], ...] = ()

    @property
    def text(self) -> str:
        """The row's filled cells on one line."""
        return " ".join(plain(str(cell)) for cell in self.cells if str(cell).strip())


def table_text(
    source: Path | str | bytes, name: str, most_lines: int = MOST_LINES
) -> tuple[str, str]:
    """The text of a table, and a sentence when its encoding had to be inferred.

    Args:
        source: a file, its bytes, or the text itself.
        name: what to call it in a message.
        most_lines: more than a table of its kind ever has are refused before any of them is looked at.

    Raises:
        InputError: it cannot be read, is too large for a table, empty, or not text.
    """
    if isinstance(source, Path):
        source = read_bytes(source, LIMIT_BYTES)
    refuse_size(len(source), name, LIMIT_BYTES)
    text, inferred = decode(source, name) if isinstance(source, bytes) else (source, "")
    refuse_length(text, name, most_lines)
    text = text.lstrip("\ufeff").translate(_obeyed())
    if not text.strip():
        raise InputError("the file is empty; a table is needed.", name)
    refuse_length(text, name, most_lines)  # other signs have become line ends
    return text, inferred


def refuse_length(text: str, name: str, most_lines: int) -> None:
    """Refuse more lines than a table has, and longer ones.

    Raises:
        InputError: it has more, or a longer one.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n", most_lines)
    if len(lines) > most_lines and lines[-1].strip():
        message = f"there are more than {most_lines} lines; keep the rows that you use."
        raise InputError(message, name)
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            message = f"the line has {len(line)} characters; at most {LONGEST_LINE} are expected of a table."
            raise InputError(message, f"{name}, row {number}")


@functools.cache
def _obeyed() -> dict[int, str]:
    """Every sign that a terminal or a page obeys to its replacement: a line end for those that end a line."""
    found = CONTROL.findall("".join(map(chr, range(0x10000))))
    return {ord(sign): _LINE_ENDS.get(sign, "") for sign in found if sign not in "\t\r\n"}


def decode(data: bytes, name: str) -> tuple[str, str]:
    """Bytes as text, and a sentence when the encoding had to be inferred.

    Raises:
        InputError: the bytes are not text, or their encoding cannot be determined.
    """
    for signature, what in _SIGNATURES:
        if data.startswith(signature):
            raise InputError(f"{name} is not text: it looks like {what}.")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), ""
        except UnicodeDecodeError:
            raise InputError(f"{name} is not whole UTF-16 text; save it as UTF-8.") from None
    controls = len(data) - len(data.translate(None, _CONTROLS))
    if b"\x00" in data or controls > len(data) / 100:
        raise InputError(f"{name} is a binary file; a table as text (CSV) is needed.")
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        pass
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        text = "\x00"
    if any(ord(sign) > 127 and sign not in _WESTERN_SIGNS for sign in text) or "\x00" in text:
        raise InputError(f"{name} is in an unknown encoding; save it as UTF-8.")
    return text, "not UTF-8; read as Western European text (windows-1252)."


def _quoted_rows(text: str, separator: str, quoting: int) -> Iterator[GridRow]:
    lines = [line + "\n" for line in text.split("\n")]
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True, quoting=quoting)  # type: ignore[arg-type]
    start = 1
    for cells in reader:
        yield GridRow(start, tuple(cells))
        start = reader.line_num + 1


def _separated(text: str, separator: str) -> list[GridRow]:
    rows = list(_quoted_rows(text, separator, csv.QUOTE_MINIMAL))
    if any(cell.count("\n") > 3 for row in rows for cell in row.cells if isinstance(cell, str)):
        rows = list(_quoted_rows(text, separator, csv.QUOTE_NONE))
    return rows


def _barred(text: str, separator: str) -> list[GridRow]:
    return [
        GridRow(number, tuple(cell.strip() for cell in line.strip().strip("|").split("|")))
        for number, line in enumerate(text.split("\n"), 1)
        if set(line) - set("|-:+= ") or not line.strip()
    ]


def _spaced(text: str, separator: str) -> list[GridRow]:
    cell = re.compile(r"\S+(?: \S+)*" if separator == "  " else r"\S+")
    rows = []
    for number, line in enumerate(text.split("\n"), 1):
        found = list(cell.finditer(line.expandtabs()))
        places = tuple(match.span() for match in found) if separator == "  " else ()
        rows.append(GridRow(number, tuple(match[0] for match in found), places))
    return rows


def _fields(separator: str) -> Callable[[str, str], list[GridRow]]:
    if separator in ("  ", " "):
        return _spaced
    return _barred if separator == "|" else _separated


def rows_of(text: str, separator: str) -> list[GridRow]:
    """Rows of cells of a text under one separator, each with its line number.

    Args:
        separator: a key of `SEPARATORS`; two spaces mean columns lined up with spaces.

    Raises:
        InputError: a cell is too long to be a cell of a table.

    Example:
        >>> rows_of("a;b\\n1;2", ";")[1].cells
        ('1', '2')
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    try:
        return _fields(separator)(text, separator)
    except csv.Error:
        raise InputError("one cell is longer than any table's; the quotes may not match.") from None


@dataclass(frozen=True, eq=False)
class TextTable:
    """A table with one heading row.

    Attributes:
        headings: one a column.
        row: line of the file on which each row starts.
        columns: cells as text, one array a column.
        separator: between the columns.
    """

    headings: tuple[Heading, ...]
    row: tuple[int, ...]
    columns: tuple[Texts, ...]
    separator: str


def read_table(text: str, name: str, heading: Callable[[str], Heading]) -> TextTable:
    """A table whose first row is its headings; comment lines (#) and blank rows are left out.

    Args:
        text: with tabs, semicolons or commas between columns.
        name: what to call it in a message.
        heading: what a heading means.

    Raises:
        InputError: a row is wider than the headings, or there is no row.

    Example:
        >>> read_table("a;b\\n1;2\\n3;", "t.csv", Heading).columns[1]
        array(['2', ''], dtype=object)
    """
    lines = ["" if line.lstrip().startswith("#") else line for line in text.splitlines()]
    first = next((line for line in lines if line.strip(" \t;,")), "")
    separator = max("\t;,", key=first.count)
    rows = [
        row
        for row in rows_of("\n".join(lines), separator)
        if any(str(cell).strip() for cell in row.cells)
    ]
    if len(rows) < 2:
        raise InputError(
            "a header row and at least one row below it are needed; there is less.", name
        )
    width = len(rows[0].cells)
    wide = [row for row in rows[1:] if any(str(cell).strip() for cell in row.cells[width:])]
    if wide:
        raise InputError(
            Problem(
                f"there are {len(row.cells)} columns; the header has {width}. Is a decimal comma "
                "used with commas between columns? Separate the columns with semicolons then.",
                f"{name}, row {row.number}",
            )
            for row in wide
        )
    cells = np.full((len(rows), width), "", dtype=object)
    for place, row in enumerate(rows):
        cells[place, : len(row.cells)] = [" ".join(str(cell).split()) for cell in row.cells[:width]]
    return TextTable(
        tuple(heading(str(text)) for text in cells[0]),
        tuple(row.number for row in rows[1:]),
        tuple(cells[1:].T),
        separator,
    )
