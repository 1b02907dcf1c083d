"""Units as people have them: a number typed in pounds, inches or miles an hour in the unit that is asked for.

The units library is loaded when a unit other than the one asked for is met.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from workbook.errors import InputError, shortened, visible

if TYPE_CHECKING:
    from pint import UnitRegistry

MARKS = {'"': "inch", "''": "inch", "'": "foot", "%": "percent", "": "dimensionless"}
"""Signs that are no name of a unit."""

POWER = re.compile(r"(?<=[a-z])([23])\b")
"""The 2 of m2."""

LONGEST = 24
"""Characters of a unit's spelling."""

NAMES = ("kmh = kilometer / hour = kmph", "amps = ampere = amp", "mins = minute")


@cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    registry: UnitRegistry[Any] = UnitRegistry(cache_folder=None)
    for name in NAMES:
        registry.define(name)
    return registry


def _unit(text: str) -> Any:
    """A unit by its spelling, as written or else in small letters; None where there is no such unit."""
    if len(text) > LONGEST:
        return None
    registry, plain = _registry(), MARKS.get(text.strip(), text.strip())
    plain = POWER.sub(r"**\1", plain)
    for spelling in (plain, plain.lower()):
        try:
            return registry.Unit(spelling)
        except Exception:  # the library raises errors of a dozen kinds for a text that is no unit
            continue
    return None


def convert(value: float, written: str, unit: str) -> float:
    """A number in the unit that is asked for.

    A mass stands for its weight where a thrust is asked for, as thrust tables print it.

    Args:
        value: as typed.
        written: the unit behind it, as typed.
        unit: the unit asked for; empty for a ratio.

    Raises:
        InputError: the unit is not known, or one of something else.

    Source: definitions of the units library pint (international yard and pound, 1959; ISO 80000).

    Example:
        >>> (
        ...     round(convert(4.6, "lb", "g"), 1),
        ...     convert(35.0, "mph", "m/s"),
        ...     convert(3900.0, "mAh", "Ah"),
        ... )
        (2086.5, 15.6464, 3.9)
        >>> convert(4.6, "lb", "V")
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: it has the unit lb; the unit here is V.
    """
    wanted = f"the unit here is {unit}" if unit else "this is a number without a unit"
    found, asked = _unit(written), _unit(unit)
    if found is None:
        raise InputError(
            f"{shortened(visible(written), LONGEST)} is not a unit known here; {wanted}."
        )
    if asked.is_compatible_with("gram_force") and found.is_compatible_with("gram"):
        asked = _registry().Unit("gram")
    if not found.is_compatible_with(asked) or (found.dimensionless != asked.dimensionless):
        raise InputError(f"it has the unit {written}; {wanted}.")
    return float(f"{_registry().Quantity(value, found).m_as(asked):.12g}")
