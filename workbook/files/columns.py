"""Columns of a table in text: what a heading means, and a column's cells as numbers in one unit.

Spellings of headings and units are in `data/headings.csv` and `data/units.csv`: another kind of
table, or another language, is more rows there.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from workbook.data.tables import data_rows
from workbook.numbers import FloatArray
from workbook.parse import RawCell, is_blank, plain, read_number

KNOWN_UNUSED = re.compile(
    r"torque|moment|vibration|temp|time|mechanical|shaft|output|remark|note|comment|message|resistance|"
    r"weight|°c|扭矩|温度|drehmoment|airspeed|pressure|humidity|density|date|index|figure of merit"
)
OTHER_UNITS = frozenset(("n.m", "n*m", "nm", "°c", "℃", "degc", "c", "s", "ms", "inch"))
"""Units of columns that no table uses."""
_FILLERS = re.compile(
    r"\b(input|total|load|supply|battery|electric|electrical|elec|avg|average|mean|measured|dc|"
    r"nominal|test|static|actual)\b"
)
_BRACKET = re.compile(r"[(\[{<]([^()\[\]{}<>]*)[)\]}>]")
_LAST_IS_UNIT = re.compile(r"(.*?)(?:\s*[/,_\-;|]\s*|\s+in\s+|\s+)((?:m )?ohm|m ω|\S+(?: force)?)")

Texts = NDArray[np.object_]


# headings -----------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Measure:
    """A quantity that a table may have a column of.

    Attributes:
        key: its name in the workbook, the unit as suffix.
        name: in words.
        units: spelling of a unit, in small letters, to the factor that turns it into the key's unit.
        shown: factor to the unit's usual spelling.
        usual: the trade's usual unit; empty for a name.
        low, high: the range in which any table's figure lies.
        bare: whether a unit alone may be its heading: "yes", or "long" for units of three letters.
        words: what its heading may be.
    """

    key: str
    name: str
    units: Mapping[str, float]
    shown: Mapping[float, str]
    usual: str
    low: float
    high: float
    bare: str
    words: frozenset[str]

    def names(self, text: str) -> bool:
        """Whether a unit alone names it."""
        return text in self.units and (
            self.bare == "yes" or (self.bare == "long" and len(text) > 2)
        )


@dataclass(frozen=True, eq=False)
class Heading:
    """One column heading.

    Attributes:
        text: as printed.
        key: of a measure; empty when the column is not used.
        unit: the unit stated, plain lower case; empty when not stated.
        known: whether an unused column is of a known kind (torque, temperature, ...).
        numeric: whether the column holds figures that are read.
    """

    text: str
    key: str = ""
    unit: str = ""
    known: bool = False
    numeric: bool = False


@cache
def _units(kind: str) -> list[tuple[str, float]]:
    """Spellings of a kind of unit, with their factors; "force/power" is made of the two."""
    if "/" in kind:
        over, under = (_units(part) for part in kind.split("/"))
        pairs = itertools.product(over, ("/", " / ", " per "), under)
        return [(f"{a}{mark}{b}", x / y) for (a, x), mark, (b, y) in pairs if y == 1.0]
    return [
        (unit, float(row["factor"]))
        for row in data_rows("units.csv")
        if row["kind"] == kind
        for unit in row["spellings"].split("|")
    ]


@cache
def measures(table: str) -> Mapping[str, Measure]:
    """The quantities of a kind of table.

    Args:
        table: "thrust", "cell log", "cell log rest" or "curves".

    Example:
        >>> measures("thrust")["thrust_gf"].units["kgf"]
        1000.0
    """
    found = {}
    for row in data_rows("headings.csv"):
        if row["table"] == table:
            units = _units(row["kind"])
            found[row["key"]] = Measure(
                row["key"],
                row["name"],
                {unit.casefold(): factor for unit, factor in units},
                {factor: unit for unit, factor in reversed(units)},
                row["usual"],
                float(row["low"] or "-inf"),
                float(row["high"] or "inf"),
                row["bare"],
                frozenset(row["spellings"].split("|")),
            )
    return found


@cache
def all_units(table: str) -> frozenset[str]:
    """Every unit that a kind of table may print."""
    return frozenset(unit for measure in measures(table).values() for unit in measure.units)


def clean_unit(text: str) -> str:
    """A unit's text made plain: brackets, odd signs and capitals off.

    Example:
        >>> clean_unit("（Ｇ／Ｗ）")
        'g/w'
    """
    return plain(text).casefold().strip(" ()[]{}<>:;*").replace("µ", "μ")


def _key(name: str, among: Mapping[str, Measure]) -> str:
    name = " ".join(name.replace("_", " ").replace(":", " ").strip(" .,-/*#").split())
    short = " ".join(_FILLERS.sub(" ", name).split())
    return next((m.key for text in (name, short) for m in among.values() if text in m.words), "")


@cache
def recognise(text: str, table: str) -> Heading:
    """What a column heading means.

    Args:
        text: the heading as printed, with its unit or without.
        table: the kind of table, as in `measures`.

    Example:
        >>> recognise("Thrust (kgf)", "thrust").key, recognise("Thrust (kgf)", "thrust").unit
        ('thrust_gf', 'kgf')
        >>> recognise("Vibration (g)", "thrust").key
        ''
    """
    among = measures(table)
    shown = plain(text)
    words = shown.casefold().replace("µ", "μ").strip(" *:#")
    unit, rest = "", words
    for inside in _BRACKET.findall(words):
        bare = clean_unit(inside)
        if bare in all_units(table) and not unit:
            unit = bare
            rest = re.sub(r"[(\[{<]" + re.escape(inside) + r"[)\]}>]", " ", rest)
    rest = " ".join(re.sub(r"[()\[\]{}<>]", " ", rest).split())
    known = bool(KNOWN_UNUSED.search(rest))
    named = _key(rest, among)
    alone = next((m.key for m in among.values() if m.names(rest)), "")
    split = _LAST_IS_UNIT.fullmatch(rest)
    if named:
        unit = unit or (rest if alone == named else "")
    elif not unit and alone:
        named, unit = alone, rest
    elif not unit and split and (found := _key(split[1], among)):
        unit = clean_unit(split[2])
        named = found if unit in among[found].units else ""
    if not named or (among[named].usual and unit and unit not in among[named].units):
        return Heading(shown, known=known or unit in all_units(table))
    numeric = bool(among[named].usual)
    return Heading(shown, named, unit if numeric else "", known, numeric)


# cells --------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Numbers:
    """The cells of a column as numbers, in the unit that they are printed in.

    Attributes:
        value: NaN where blank or not a number; of "1.250" the reading with a thousands mark.
        half: half of the last printed place.
        other: of "1.250" the reading with a decimal mark; NaN for all that can be read in one way only.
        thousands, decimal: the marks that a cell has; of "1.250" its point is in `thousands`.
        unit: written in the cell, plain lower case.
        wrong: neither blank nor a number.
    """

    value: FloatArray
    half: FloatArray
    other: FloatArray
    thousands: Texts
    decimal: Texts
    unit: Texts
    wrong: NDArray[np.bool_]

    @property
    def open(self) -> NDArray[np.bool_]:
        """Cells that can be read in two ways."""
        return ~np.isnan(self.other)


def read_numbers(cells: Sequence[RawCell] | Texts, decimal: str = "") -> Numbers:
    """A column's cells as numbers.

    Args:
        cells: as they came.
        decimal: marks known to be decimal marks, so that "1.250" is 1.25.

    Example:
        >>> read_numbers(["1.250", "12,5 A", "-"]).value
        array([1250. ,   12.5,    nan])
        >>> read_numbers(["1.250", "12,5 A", "-"], decimal=".").value
        array([ 1.25, 12.5 ,   nan])
    """
    known: dict[RawCell, _Read] = {}
    rows = [known.get(cell) or known.setdefault(cell, _read(cell, decimal)) for cell in cells]
    columns = zip(*rows, strict=True) if rows else [()] * len(fields(Numbers))
    kinds = (float,) * 3 + (object,) * 3 + (bool,)
    return Numbers(*(np.array(c, dtype=kind) for c, kind in zip(columns, kinds, strict=True)))


_Read: TypeAlias = tuple[float, float, float, str, str, str, bool]
"""One cell as `Numbers` has it."""


_PLAIN = re.compile(r"[+-]?\d{1,20}(\.\d{1,15})?")
"""Most cells: digits and at most a point."""


def _read(cell: RawCell, decimal: str) -> _Read:
    if isinstance(cell, str) and (found := _PLAIN.fullmatch(cell)):
        point = found[1] or ""
        if not point or "." in decimal:
            places = max(0, len(point) - 1)
            return float(cell), 0.5 * 10.0**-places, np.nan, "", point[:1], "", False
    number = None if is_blank(cell) else read_number(cell)
    if number is None:
        return np.nan, 0.0, np.nan, "", "", "", not is_blank(cell)
    first, last = number.readings[0], number.readings[-1]
    unit = clean_unit(re.sub(r"\(.*?\)", "", number.unit))
    if number.mark and number.mark not in decimal:
        return first.value, first.half_step, last.value, number.mark, "", unit, False
    return last.value, last.half_step, np.nan, last.thousands_mark, last.decimal_mark, unit, False


def by_own_column(thousands: Texts, decimal: Texts, mark: str) -> bool | None:
    """Whether a mark is a thousands mark, by the unambiguous cells of its column; None where they do not show it."""
    others = set(decimal) - {"", mark}
    is_decimal, is_thousands = mark in decimal, mark in thousands or bool(others)
    return None if is_decimal == is_thousands else is_thousands


def by_range(measure: Measure, large: FloatArray, small: FloatArray) -> bool | None:
    """The same by the range of any table's figures: the column read with thousands and with decimal marks."""
    fits = [
        bool(np.all((v == 0) | ((v >= measure.low) & (v <= measure.high))))
        for v in (np.abs(large), np.abs(small))
    ]
    return None if fits[0] == fits[1] else fits[0]


def by_spread(large: FloatArray, small: FloatArray) -> bool | None:
    """The same by the size of the other cells of the column: one reading spreads five times more."""
    spread = []
    for values in (large, small):
        positive = values[values > 0]
        spread.append(np.log(positive.max() / positive.min()) if positive.size else 0.0)
    return None if abs(spread[0] - spread[1]) < np.log(5) else bool(spread[0] < spread[1])


def factors(numbers: Numbers, unit: str, measure: Measure) -> FloatArray:
    """What turns each cell into the measure's unit; NaN where a cell's own unit is none of its.

    Args:
        numbers: the column.
        unit: of the heading; empty for the usual one.
        measure: what the column holds.

    Example:
        >>> factors(read_numbers(["5 kg", "5", "5 W"]), "", measures("thrust")["thrust_gf"])
        array([1000.,    1.,   nan])
    """
    units, codes = np.unique(numbers.unit.astype(str), return_inverse=True)
    stated = [str(u) or unit or measure.usual.casefold() for u in units]
    return np.array([measure.units.get(u, np.nan) for u in stated])[codes]


def not_a_number(name: str, text: str) -> str:
    """The message about a cell that is no number.

    Example:
        >>> not_a_number("thrust", "88O")
        'thrust is "88O"; a number is needed (a letter O or l may stand for 0 or 1).'
    """
    hint, bare = "", text.strip()
    if re.search(r"\d", bare) and re.search(r"[oOlI]", bare):
        hint = " (a letter O or l may stand for 0 or 1)"
    elif re.fullmatch(r"\d{1,4}[-/]\d{1,2}([-/]\d{1,4})?|\d{1,2}[-. ][A-Za-z]{3,}", bare):
        hint = " (a spreadsheet may have made a date of it)"
    return f'{name} is "{bare[:40]}"; a number is needed{hint}.'


def spans(numbers: Iterable[int]) -> str:
    """Row numbers as a short text.

    Example:
        >>> spans([3, 4, 5, 9])
        '3 to 5, 9'
    """
    parts: list[list[int]] = []
    for number in sorted({int(n) for n in numbers}):
        if parts and number == parts[-1][-1] + 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    texts = [f"{p[0]} to {p[-1]}" if len(p) > 2 else ", ".join(map(str, p)) for p in parts]
    return ", ".join(texts[:8]) + (f" and {len(texts) - 8} more" if len(texts) > 8 else "")
