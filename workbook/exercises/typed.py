"""Reading one number that a person typed: decimal comma or point, and one sentence if it fails."""

from __future__ import annotations

import math

from workbook.errors import InputError
from workbook.files.number_text import read_number


def _range_text(low: float, high: float, unit: str) -> str:
    tail = f" {unit}" if unit else ""
    if math.isinf(low) and math.isinf(high):
        return f"a number{' in' + tail if tail else ''}"
    if math.isinf(high):
        return f"{low:g}{tail} or more"
    if math.isinf(low):
        return f"at most {high:g}{tail}"
    return f"{low:g} to {high:g}{tail}"


def number_typed(
    text: str,
    unit: str = "",
    low: float = -math.inf,
    high: float = math.inf,
    *,
    whole: bool = False,
) -> float:
    """The number that a person typed, in the unit asked for.

    Args:
        text: what was typed; a decimal comma is as good as a point, the unit may follow.
            "1.250" is 1.25 where the range does not rule it out.
        unit: the unit asked for.
        low: least value that can be used.
        high: greatest value that can be used.
        whole: whether only a whole number can be used.

    Returns:
        The number. Where "1,250" could mean two numbers and only one of them fits the range, that one.

    Raises:
        InputError: nothing there, not a number, another unit, outside the range, or ambiguous.

    Example:
        >>> number_typed("3,7 V", "V", 2.5, 4.2)
        3.7
        >>> number_typed("44", "V", 2.5, 4.2)
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: 44 is out of range; 2.5 to 4.2 V is needed.
    """
    asked = _range_text(low, high, unit)
    shown = text.strip()
    if not shown:
        raise InputError(f"nothing is typed; {asked} is needed.")
    found = read_number(shown)
    if found is None:
        raise InputError(f"'{shown[:40]}' is not one number; {asked} is needed.")
    if found.unit and found.unit.replace(" ", "") != unit.casefold().replace(" ", ""):
        wanted = f"the unit here is {unit}" if unit else "this is a number without a unit"
        raise InputError(f"'{shown[:40]}' has the unit {found.unit}; {wanted}.")
    values = [r.value for r in found.readings]
    fitting = [v for v in values if _fits(v, low, high, whole)]
    if len(fitting) > 1 and found.mark == ".":
        return fitting[-1]
    if len(fitting) > 1:
        large, small = fitting
        raise InputError(f"'{shown}' could be {large:g} or {small:g}; write one of them.")
    if not fitting:
        raise InputError(_refusal(shown[:40], values[-1], asked, low, high))
    return fitting[0]


def _fits(value: float, low: float, high: float, whole: bool) -> bool:
    return low <= value <= high and (not whole or value == round(value))


def _refusal(shown: str, value: float, asked: str, low: float, high: float) -> str:
    if low <= value <= high:
        return f"{shown} is not whole; a whole number, {asked}, is needed."
    return f"{shown} is out of range; {asked} is needed."


def number_in_range(
    value: float,
    unit: str = "",
    low: float = -math.inf,
    high: float = math.inf,
    *,
    whole: bool = False,
) -> float:
    """The same number, checked.

    Args:
        value: any number.
        unit: its unit.
        low: least value that can be used.
        high: greatest value that can be used.
        whole: whether only a whole number can be used.

    Raises:
        InputError: not finite, outside the range, or not whole where it must be.

    Example:
        >>> number_in_range(1.125, "m", 0, 2000)
        1.125
    """
    if not math.isfinite(value) or not _fits(value, low, high, whole):
        asked = _range_text(low, high, unit)
        raise InputError(_refusal(f"{value:.8g}", value, asked, low, high))
    return value
