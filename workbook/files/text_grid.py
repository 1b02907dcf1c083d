"""Bytes or pasted text into rows of cells: encoding, line ends, separator, quotes."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from workbook.errors import InputError
from workbook.parse import RawCell, plain

_WESTERN_SIGNS = frozenset("°µ²³·×±÷–—‘’“”½¼ äöüßéèêàâçñåøæíóúáôîûÄÖÜÅØÆÉ\xa0")
_SIGNATURES = (
    (b"PK\x03\x04", "a spreadsheet workbook or zip archive; save the sheet as CSV"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook; save the sheet as CSV"),
    (b"%PDF", "a PDF; copy the table out of it and paste the text"),
    (b"\x89PNG", "a picture; type the rows in"),
    (b"\xff\xd8\xff", "a picture; type the rows in"),
)
SEPARATORS = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "bar", "  ": "spaces", " ": "space"}


@dataclass(frozen=True)
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


def load_bytes(path: Path, limit_bytes: int) -> bytes:
    """A file's bytes, refused before reading when the file is too large.

    Raises:
        InputError: the file is missing, is a folder, cannot be read, or is larger than the limit.
    """
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError(f"{path.name} is a folder; a file is needed.")
        refuse_size(size, path.name, limit_bytes)
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise InputError(f"{path.name} cannot be opened: {reason.lower()}.") from None
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise InputError("the file name holds a character that no file name can have.") from None


def refuse_size(size: int, name: str, limit_bytes: int) -> None:
    """Refuse text that is too large to be a table.

    Raises:
        InputError: the size is over the limit.
    """
    if size > limit_bytes:
        raise InputError(
            f"{name} is {size / 1e6:.1f} MB; a table of at most {limit_bytes / 1e6:g} MB is read."
        )


def decode(data: bytes, name: str) -> tuple[str, str]:
    """Bytes as text, and a sentence when the encoding had to be inferred.

    Raises:
        InputError: the bytes are not text, or no encoding can be told.
    """
    for signature, what in _SIGNATURES:
        if data.startswith(signature):
            raise InputError(f"{name} is not text: it looks like {what}.")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), ""
        except UnicodeDecodeError:
            raise InputError(f"{name} is not whole UTF-16 text; save it as UTF-8.") from None
    if b"\x00" in data or sum(byte < 9 or 13 < byte < 32 for byte in data) > len(data) / 100:
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
        raise InputError(f"{name} is in an encoding that cannot be told; save it as UTF-8.")
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
        separator: a key of `SEPARATORS`; two spaces stand for columns lined up with spaces.

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
