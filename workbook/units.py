"""Units as people have them: typed in pounds, inches or miles an hour, and shown so where that is wished.

Files, JSON and computation have one unit a key (`workbook.quantities`). What is put on a screen or a sheet is
shown in the system in use, set for the whole process as a language would be: `data/unit_systems.csv` has the unit
that takes the place of each, and how many decimals more it needs. The units library is loaded when a unit other
than the wanted one is met.
"""

from __future__ import annotations

import math
import re
import string
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache, wraps
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from workbook.data.tables import data_rows
from workbook.errors import InputError, shortened, visible
from workbook.numbers import FloatArray, Number, Side, rounded

if TYPE_CHECKING:
    from pint import UnitRegistry

UNIT_SIGNS = {'"': "inch", "''": "inch", "'": "foot", "%": "percent", "": "dimensionless"}
"""Signs that are no name of a unit."""

SQUARED_OR_CUBED = re.compile(r"(?<=[a-z])([23])\b")
"""The 2 of m2."""

LONGEST_UNIT = 24
"""Characters of a unit's spelling."""

UNIT_DEFINITIONS = ("kmh = kilometer / hour = kmph", "amps = ampere = amp", "mins = minute")


@cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    registry: UnitRegistry[Any] = UnitRegistry(cache_folder=None)
    for name in UNIT_DEFINITIONS:
        registry.define(name)
    return registry


def _unit(text: str) -> Any:
    """A unit by its spelling, as written or else in small letters; None where there is no such unit."""
    if len(text) > LONGEST_UNIT:
        return None
    registry, plain = _registry(), UNIT_SIGNS.get(text.strip(), text.strip())
    plain = SQUARED_OR_CUBED.sub(r"**\1", plain)
    for spelling in (plain, plain.lower()):
        try:
            return registry.Unit(spelling)
        except Exception:  # the library raises errors of a dozen kinds for a text that is no unit
            continue
    return None


def convert(value: float, written: str, unit: str) -> float:
    """A number converted to another unit.

    A mass counts as its weight where the unit is one of thrust, as thrust tables print it.

    Args:
        value: as typed.
        written: the unit behind it, as typed.
        unit: the wanted unit; empty for a ratio.

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
    found, target = _unit(written), _unit(unit)
    if found is None:
        raise InputError(
            f"{shortened(visible(written), LONGEST_UNIT)} is not a unit known here; {wanted}."
        )
    quantity = _registry().Quantity(value, found)
    if target.is_compatible_with("gram_force") and found.is_compatible_with("gram"):
        quantity = quantity * _registry().standard_gravity
        found = quantity.units
    if not found.is_compatible_with(target) or (found.dimensionless != target.dimensionless):
        raise InputError(f"it has the unit {written}; {wanted}.")
    return float(f"{quantity.m_as(target):.12g}")


# as they are shown ------------------------------------------------------------------------------

FILE_UNITS = "g, mm"
"""The system of files: every unit as its key has it."""


_Values = TypeVar("_Values", float, FloatArray)


@dataclass(frozen=True)
class ShownUnit:
    """The unit that takes the place of a file's on a screen or a sheet.

    Attributes:
        name: as it is printed.
        factor, offset: value shown = factor x the file's value + offset.
        decimals: shown more than of the file's unit.
    """

    name: str
    factor: float = 1.0
    offset: float = 0.0
    decimals: int = 0

    @property
    def same(self) -> bool:
        """Whether it is the file's own unit."""
        return self.factor == 1.0 and self.offset == 0.0

    def shown(self, value: _Values) -> _Values:
        """Figures of the file's unit in this one."""
        return value if self.same else self.factor * value + self.offset

    def filed(self, value: float) -> float:
        """A figure of this unit in the file's, to nine digits."""
        return value if self.same else float(f"{(value - self.offset) / self.factor:.9g}")


def _read() -> dict[str, dict[str, tuple[str, str, int]]]:
    systems: dict[str, dict[str, tuple[str, str, int]]] = {FILE_UNITS: {}}
    for row in data_rows("unit_systems.csv"):
        entry = (row["shown"], row["read_as"], int(row["decimals"]))
        systems.setdefault(row["system"], {})[row["unit"]] = entry
    return systems


_SYSTEMS = _read()

SYSTEMS = tuple(_SYSTEMS)
"""Names of the systems, that of files first."""


class _InUse:
    """The system in use, one for the whole process."""

    name = FILE_UNITS


def units_in_use() -> str:
    """Name of the system in which figures are shown."""
    return _InUse.name


def use_units(name: str) -> None:
    """Show figures in a system from now on.

    Args:
        name: of `SYSTEMS`.

    Raises:
        InputError: there is no such system.
    """
    if name not in _SYSTEMS:
        known = " or ".join(f'"{system}"' for system in SYSTEMS)
        raise InputError(
            f"units are {shortened(visible(name), LONGEST_UNIT)!r}; {known} is needed."
        )
    _InUse.name = name


@contextmanager
def units(name: str) -> Iterator[None]:
    """Show figures in a system for a while.

    Args:
        name: as `use_units` takes it.

    Example:
        >>> with units("oz, in"):
        ...     with_unit(141.7, "g", 0), with_unit(20.0, "m/s", 1), with_unit(2.0, "A", 1)
        ('5.0 oz', '44.7 mph', '2.0 A')
    """
    before = units_in_use()
    use_units(name)
    try:
        yield
    finally:
        _InUse.name = before


_Result = TypeVar("_Result")
_Arguments = ParamSpec("_Arguments")


def cached_by_units(function: Callable[_Arguments, _Result]) -> Callable[_Arguments, _Result]:
    """A function whose results are cached, by its arguments and the units in use.

    Args:
        function: of arguments that can be keys.
    """

    kept: Any = lru_cache(maxsize=64)(lambda _, *args, **kwargs: function(*args, **kwargs))

    @wraps(function)
    def cached(*args: _Arguments.args, **kwargs: _Arguments.kwargs) -> _Result:
        result: _Result = kept(_InUse.name, *args, **kwargs)
        return result

    return cached


@cache
def _shown_unit(system: str, unit: str) -> ShownUnit:
    found = _SYSTEMS[system].get(unit)
    if found is None:
        return ShownUnit(unit)
    name, read_as, decimals = found
    registry = _registry()
    quantity, target = registry.Quantity, registry.Unit(read_as)
    offset = float(quantity(0.0, _unit(unit)).m_as(target))
    factor = float(quantity(1.0, _unit(unit)).m_as(target)) - offset
    return ShownUnit(name, float(f"{factor:.12g}"), float(f"{offset:.12g}"), decimals)


def shown_unit(unit: str) -> ShownUnit:
    """The unit in which figures of a file's unit are shown now.

    Args:
        unit: of a key; empty for a ratio.

    Example:
        >>> shown_unit("g").name
        'g'
    """
    return _shown_unit(_InUse.name, unit)


def shown(value: _Values, unit: str) -> _Values:
    """Figures in the unit in which they are shown; as they are in that of files.

    Args:
        value: in the file's unit.
        unit: that unit.
    """
    return shown_unit(unit).shown(value)


def number_in(value: Number, unit: str, decimals: int, side: Side = "nearest") -> str:
    """A figure as it is shown, without its unit; a dash where there is none.

    Args:
        value: in the file's unit.
        unit: that unit.
        decimals: that it has in that unit.
        side: as `workbook.numbers.rounded` takes it.
    """
    single = float(value)
    if not math.isfinite(single):
        return "-"
    places = decimals + shown_unit(unit).decimals
    return f"{rounded(shown(single, unit), places, side):.{places}f}"


def with_unit(value: Number, unit: str, decimals: int | None = None, side: Side = "nearest") -> str:
    """A figure with its unit, as it is shown; a dash where there is none.

    Args:
        value: a single figure in the file's unit.
        unit: that unit.
        decimals: that it has in that unit; as many as it takes where left out.
        side: as `workbook.numbers.rounded` takes it.

    Example:
        >>> with_unit(812.4, "gf", 0), with_unit(0.5, "mm"), with_unit(float("nan"), "g", 0)
        ('812 gf', '0.5 mm', '-')
    """
    single = float(value)
    if not math.isfinite(single):
        return "-"
    to = shown_unit(unit)
    if decimals is None:
        number = f"{single:g}" if to.name == unit else f"{shown(single, unit):.3g}"
    else:
        number = number_in(single, unit, decimals, side)
    return f"{number} {to.name}".rstrip()


def axis_text(label: str) -> str:
    """A label with a unit behind its last comma, as on an axis or a column, with the unit that is shown.

    Example:
        >>> axis_text("all-up mass, g"), axis_text("gf/W"), axis_text("row")
        ('all-up mass, g', 'gf/W', 'row')
        >>> with units("oz, in"):
        ...     axis_text("all-up mass, g")
        'all-up mass, oz'
    """
    words, comma, unit = label.rpartition(", ")
    return f"{words}{comma}{shown_unit(unit).name}"


def sides_text(sides: Iterable[float], unit: str, decimals: int | None = None) -> str:
    """Sides of something, the longest first or as they are called, with their unit once.

    Args:
        sides: in the file's unit.
        unit, decimals: as `with_unit` takes them.

    Example:
        >>> sides_text((0.15, 8.0), "mm"), sides_text((148.2, 63.0, 71.0), "mm", 0)
        ('0.15 x 8 mm', '148 x 63 x 71 mm')
    """
    texts = [with_unit(side, unit, decimals) for side in sides]
    return " x ".join([*(text.partition(" ")[0] for text in texts[:-1]), *texts[-1:]])


@cache
def _figures(system: str) -> re.Pattern[str]:
    """Finds a field of a template before a unit that is shown otherwise, and one to it from another field."""
    field = r"\{([^{}:!]+)(?::([^{}]*))?\}"
    longest_first = sorted(_SYSTEMS[system], key=len, reverse=True)
    named = "|".join(re.escape(unit) for unit in longest_first)
    return re.compile(rf"(?:{field}( to ))?{field} ({named})(?![\w/²³])")


def filled(template: str, /, **values: Any) -> str:
    """A template with its figures, as `str.format` fills it; those before a unit as they are shown.

    Args:
        template: with fields such as `{limit:.1f} m/s`.
        values: by name.

    Example:
        >>> filled("It needs {x:.0f} gf at {y:g} V.", x=812.4, y=22.2)
        'It needs 812 gf at 22.2 V.'
        >>> with units("oz, in"):
        ...     filled("It needs {x:.0f} gf at {y:g} V.", x=812.4, y=22.2)
        'It needs 28.7 ozf at 22.2 V.'
    """
    if _InUse.name == FILE_UNITS:
        return template.format(**values)

    def figure(name: str, spec: str | None, unit: str) -> str:
        value = string.Formatter().get_field(name, (), values)[0]
        digits = re.sub(r"\D", "", spec or "") if (spec or "").endswith("f") else ""
        return with_unit(value, unit, int(digits) if digits else None)

    def replacement(match: re.Match[str]) -> str:
        first, first_spec, to, name, spec, unit = match.groups()
        last = figure(name, spec, unit)
        return last if first is None else f"{figure(first, first_spec, unit)}{to}{last}"

    return _figures(_InUse.name).sub(replacement, template).format(**values)
