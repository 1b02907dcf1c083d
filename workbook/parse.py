"""Numbers as people type and print them: decimal comma or point, thousands, a unit behind.

`read_number` gives every reading of a text; `parse_number` the one that fits, or raises one sentence
with the reason why none does.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass, replace

from workbook.errors import InputError, shortened, visible
from workbook.units import convert

RawCell = str | float
"""One cell as it came: text from a file, or a number from a grid."""

_BLANK_SIGNS = frozenset(("", "-", "--", "---", "/", "\\", "*", ".", "...", "?"))
_BLANK_WORDS = frozenset(("n/a", "na", "n.a.", "n.a", "none", "nil", "null", "tbd"))
_SHEET_ERRORS = frozenset(("#n/a", "#div/0!", "#value!", "#ref!", "#name?", "#num!", "#null!"))
_BLANKS = _BLANK_SIGNS | _BLANK_WORDS | _SHEET_ERRORS
_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212"), "-")
_QUOTES = dict.fromkeys(map(ord, "\u2018\u2019\u02bc\u00b4`"), "'")
_NUMBER = re.compile(
    r"([+-]?)((?:\d+(?:[ '.,]\d+)*[.,]?|[.,]\d+))(e[+-]?\d{1,2})?(?![\d.,'])\s*(.*)", re.S
)
_GROUPED = re.compile(r"\d{1,3}(?:([ '.,])\d{3})(?:\1\d{3})*")


@dataclass(frozen=True, eq=False)
class NumberReading:
    """One reading of a number: its value, half of its last printed place, its decimal mark."""

    value: float
    half_step: float
    decimal_mark: str = ""
    thousands_mark: str = ""


@dataclass(frozen=True, eq=False)
class NumberText:
    """Every reading of one cell, and the unit written inside it.

    Attributes:
        text: the cell as it came.
        readings: one reading, or two when "1.250" could be 1250 or 1.25 (thousands first).
        unit: text after the number, plain and lower case; empty when there is none.
    """

    text: str
    readings: tuple[NumberReading, ...]
    unit: str = ""

    @property
    def mark(self) -> str:
        """The mark that makes the cell ambiguous, or an empty text."""
        return self.readings[0].thousands_mark if len(self.readings) > 1 else ""


def plain(text: str) -> str:
    """Text with full-width signs, odd dashes, odd quotes and odd spaces made plain.

    Example:
        >>> plain("１２５０\\u00a0％")
        '1250 %'
    """
    if text.isascii():
        return " ".join(text.replace("`", "'").split())
    text = unicodedata.normalize("NFKC", text).translate(_DASHES).translate(_QUOTES)
    text = text.replace("\ufeff", "").replace("\u200b", "").replace("【", "(").replace("】", ")")
    return " ".join(text.split())


def is_blank(cell: RawCell) -> bool:
    """Whether a cell states that there is no figure ("-", "N/A", "#DIV/0!", nothing)."""
    if isinstance(cell, str):
        return plain(cell).casefold() in _BLANKS
    return False


def _reading(
    whole: str, decimals: str, exponent: str, mark: str = "", thousands: str = ""
) -> NumberReading:
    power = int(exponent[1:]) if exponent else 0
    value = float(f"{whole or '0'}.{decimals or '0'}e{power}")
    return NumberReading(value, 0.5 * 10.0 ** (power - len(decimals)), mark, thousands)


def _readings(body: str, exponent: str) -> tuple[NumberReading, ...]:
    marks = [c for c in body if c in " '.,"]
    if not marks:
        return (_reading(body, "", exponent),)
    last = marks[-1]
    head, _, tail = body.rpartition(last)
    if len(marks) == 1 and last in ".,":
        decimal = _reading(head, tail, exponent, last)
        if not exponent and _GROUPED.fullmatch(body) and not head.startswith("0"):
            return (_reading(head + tail, "", "", thousands=last), decimal)
        return (decimal,)
    if len(set(marks)) == 1:
        if _GROUPED.fullmatch(body) and not exponent:
            return (_reading(re.sub(r"[ '.,]", "", body), "", "", thousands=last),)
        return ()
    if last in ".," and marks.count(last) == 1 and _GROUPED.fullmatch(head):
        whole = re.sub(r"[ '.,]", "", head)
        return (_reading(whole, tail, exponent, last, marks[0]),)
    return ()


def read_number(cell: RawCell) -> NumberText | None:
    """Every reading of a cell; None when it is not a finite number.

    Args:
        cell: text such as "1,250", "12,5 A", "50%", or a number.

    Example:
        >>> [r.value for r in read_number("1.250 g").readings]
        [1250.0, 1.25]
        >>> read_number("1'250,5").readings[0].value
        1250.5
        >>> read_number("about 5") is None
        True
    """
    if not isinstance(cell, str):
        value = float(cell)
        if not math.isfinite(value):
            return None
        digits = repr(value)
        decimals = len(digits.partition(".")[2]) if "e" not in digits and value % 1 else 0
        return NumberText(f"{value:g}", (NumberReading(value, 0.5 * 10.0**-decimals),))
    text = plain(cell).casefold()
    match = _NUMBER.fullmatch(text)
    if match is None or len(match[2]) > 40:
        return None
    sign, body, exponent, unit = match[1], match[2], match[3] or "", match[4].strip()
    readings = _readings(body, exponent)
    if sign == "-":
        readings = tuple(replace(r, value=-r.value) for r in readings)
    if not readings:
        return None
    return NumberText(cell.strip(), readings, unit)


def _range_text(unit: str, low: float, high: float) -> str:
    tail = f" {unit}" if unit else ""
    if math.isinf(low) and math.isinf(high):
        return f"a number in{tail}" if unit else "a number"
    if math.isinf(high):
        return f"{low:g}{tail} or more"
    if math.isinf(low):
        return f"at most {high:g}{tail}"
    return f"{low:g} to {high:g}{tail}"


def _unit_key(unit: str) -> str:
    """Units that are the same whatever the spelling: "mohm" is "mΩ", "C" is "°C"."""
    return plain(unit).casefold().replace(" ", "").replace("ohm", "ω").removeprefix("°")


def _readings_in(text: str, unit: str, wanted: str) -> tuple[list[float], str]:
    """What a typed text can mean, with the mark that leaves it open."""
    if not text:
        raise InputError(f"nothing is typed; {wanted} is needed.")
    found = read_number(text)
    if found is None or (not (found.unit[:1] or "%").isalpha() and found.unit[:1] not in "%°\"'"):
        raise InputError(f"'{text[:40]}' is not one number; {wanted} is needed.")
    values = [reading.value for reading in found.readings]
    if found.unit and _unit_key(found.unit) != _unit_key(unit):
        written = plain(text)[-len(found.unit) :]
        try:
            values = [convert(value, written, unit) for value in values]
        except InputError as fault:
            message = str(fault).removeprefix("it ")
            raise InputError(f"'{shortened(visible(text), 40)}' {message}") from None
    return values, found.mark


def parse_number(
    given: str | float,
    unit: str = "",
    low: float = -math.inf,
    high: float = math.inf,
    *,
    whole: bool = False,
) -> float:
    """The number that a person gave, in the unit asked for.

    Args:
        given: a number, or a text: a decimal comma is as good as a point, a unit of its kind may follow.
            "1.250" is 1.25 where the range does not rule it out.
        unit: the unit asked for.
        low: least value that can be used.
        high: greatest value that can be used.
        whole: whether only a whole number can be used.

    Returns:
        The number. Where "1,250" could mean two numbers and only one of them fits the range, that one.

    Raises:
        InputError: nothing there, not a finite number, a unit that does not fit, outside the range, not whole where
            it must be, or ambiguous.

    Example:
        >>> parse_number("3,7 V", "V", 2.5, 4.2)
        3.7
        >>> parse_number("4.6 lb", "g")
        2086.524902
        >>> parse_number(44, "V", 2.5, 4.2)
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: 44 is out of range; 2.5 to 4.2 V is needed.
    """
    wanted = _range_text(unit, low, high)
    if isinstance(given, str):
        shown = given.strip()
        values, mark = _readings_in(shown, unit, wanted)
    else:
        shown, values, mark = f"{given:.8g}", [given], ""
    within = [v for v in values if math.isfinite(v) and low <= v <= high]
    fitting = [v for v in within if not whole or v == round(v)]
    if len(fitting) > 1 and mark != ".":
        large, small = fitting
        raise InputError(f"'{shown}' could be {large:g} or {small:g}; write one of them.")
    if fitting:
        return fitting[-1]
    if within:
        raise InputError(f"{shown[:40]} is not whole; a whole number, {wanted}, is needed.")
    raise InputError(f"{shown[:40]} is out of range; {wanted} is needed.")
