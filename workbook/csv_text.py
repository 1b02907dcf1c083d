"""Tables written as CSV, so that they are safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable

_FIGURE = re.compile(r"[-+]?\d+([.,]\d+)?([eE][-+]?\d+)?( [A-Za-z%°/]+)?")
"""A figure, with a unit or without."""
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\n")
"""A spreadsheet takes a cell that begins so for a formula. Source: OWASP, CSV injection."""


def csv_text(headings: Iterable[str], rows: Iterable[Iterable[str | float]]) -> str:
    """A table as CSV that is safe to open in a spreadsheet: every CSV of the workbook is written here.

    A text that a spreadsheet would take for a formula gets an apostrophe before it, which keeps it a
    text. Figures stay figures, below zero too; one that is not a number is left empty. A carriage
    return becomes a blank.

    Args:
        headings: of the columns.
        rows: their texts and figures.

    Example:
        >>> print(csv_text(["name", "A"], [("=1+1", -2.5), ("-3", float("nan"))]), end="")
        name,A
        '=1+1,-2.5
        -3,
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([_harmless(cell) for cell in row] for row in (headings, *rows))
    return text.getvalue()


def _harmless(cell: str | float) -> str | float:
    """A cell that no spreadsheet calculates."""
    if isinstance(cell, str):
        cell = cell.replace("\r", " ")
        begins = cell.lstrip(" ").startswith(FORMULA_SIGNS)
        return f"'{cell}" if begins and not _FIGURE.fullmatch(cell) else cell
    return "" if math.isnan(cell) else cell
