"""Two designs side by side, and one design with each of several thrust tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, Literal, TypeAlias

import numpy as np

from workbook.battery.cell import Cell
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.quantities import INPUTS, RESULTS, Quantity
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.figures import plain
from workbook.sizing.limits import Limit
from workbook.sizing.size import SizingResult, size

Value: TypeAlias = float | str | None
Verdict: TypeAlias = Literal["better", "worse", "other", "same"]

SAME_SHARE = 1e-9
"""Figures that differ by no more than this share are the same."""


PART_NAMES = {"pack.cell": "cell", "craft.table": "thrust table"}
"""What is no figure, as people call it."""


@dataclass(frozen=True)
class Change:
    """One input that differs.

    Attributes:
        key: part and name: `pack.parallel`, `craft.payload_g`, `pack.cell`, `cell.mass_g`.
        before, after: both values; a name for a cell or a thrust table, None where there is none.
    """

    key: str
    before: Value
    after: Value

    @property
    def text(self) -> str:
        """In words.

        Example:
            >>> Change("craft.payload_g", 350.0, 400.0).text
            'payload from 350 to 400 g'
        """
        part, _, name = self.key.rpartition(".")
        quantity = INPUTS.get(name) if part != "cell" else None
        named = PART_NAMES.get(self.key, self.key)
        label, unit = (quantity.label, f" {quantity.unit}") if quantity else (named, "")
        return (
            f"{label} from {_value_text(self.before)} to {_value_text(self.after)}{unit}".rstrip()
        )


@dataclass(frozen=True)
class FigureChange:
    """What became of one figure.

    Attributes:
        quantity: which figure.
        before, after: None where it is undefined.
    """

    quantity: Quantity
    before: Value
    after: Value

    @property
    def difference(self) -> float | None:
        """After less before; None where one of them is no number."""
        before, after = self.before, self.after
        if not isinstance(before, int | float) or not isinstance(after, int | float):
            return None
        same = abs(after - before) <= SAME_SHARE * max(abs(before), abs(after))
        return 0.0 if same else after - before

    @property
    def percent(self) -> float | None:
        """The difference as a share of before; None where there is none."""
        if self.difference is None or not isinstance(self.before, int | float) or not self.before:
            return 0.0 if self.difference == 0.0 else None
        return 100.0 * self.difference / abs(self.before)

    @property
    def verdict(self) -> Verdict:
        """`other` where it changed and neither way is better."""
        if self.difference is None:
            return "same" if self.before == self.after else "other"
        if self.difference == 0.0:
            return "same"
        if not self.quantity.better:
            return "other"
        return "better" if (self.difference > 0) == (self.quantity.better == "high") else "worse"


@dataclass(frozen=True)
class LimitChange:
    """What became of one limit.

    Attributes:
        key, name: of the limit.
        before, after: verdicts ("holds", "close", "broken", "not checked"); None where the design has no such limit.
        before_pct, after_pct: margins; None where they are undefined.
    """

    key: str
    name: str
    before: str | None
    after: str | None
    before_pct: float | None
    after_pct: float | None

    @property
    def matters(self) -> bool:
        """Whether the verdict changed."""
        return self.before != self.after


@dataclass(frozen=True)
class Comparison:
    """Two designs side by side.

    Attributes:
        before, after: both results.
        changes: inputs that differ.
        figures: every figure that either has, in order.
        limits: every limit that either has; those whose verdict changed come first.
    """

    before: SizingResult
    after: SizingResult
    changes: tuple[Change, ...]
    figures: tuple[FigureChange, ...]
    limits: tuple[LimitChange, ...]

    @property
    def matters(self) -> tuple[LimitChange, ...]:
        """The limits whose verdict changed."""
        return tuple(limit for limit in self.limits if limit.matters)

    def figure(self, key: str) -> FigureChange:
        """A figure by its key."""
        return next(f for f in self.figures if f.quantity.key == key)


def compare(before: Design[Any] | SizingResult, after: Design[Any] | SizingResult) -> Comparison:
    """Put two single designs side by side.

    Args:
        before, after: designs of one type of craft, or what `size` gave for them.

    Raises:
        InputError: they are of different types of craft.
    """
    one, other = (x if isinstance(x, SizingResult) else size(x) for x in (before, after))
    names = [craft_type_of(x.design).name for x in (one, other)]
    if names[0] != names[1]:
        raise InputError(
            f"a {names[0]} and a {names[1]} have different figures; two designs of one type of craft "
            "are needed."
        )
    old, new = one.figures(), other.figures()
    return Comparison(
        one,
        other,
        changes(one.design, other.design),
        tuple(FigureChange(_quantity(k), old.get(k), new.get(k)) for k in {**old, **new}),
        _limits(one, other),
    )


def _quantity(key: str) -> Quantity:
    return RESULTS.get(key) or Quantity(key, key.replace("_", " "))


def changes(before: Design[Any], after: Design[Any]) -> tuple[Change, ...]:
    """The inputs that differ between two single designs.

    A cell of another name is one change; of the same name, each of its figures that differs is one.
    """
    parts = {"craft": "craft", "pack": "pack", "joining": "pack", "flight": "flight"}
    return tuple(
        change
        for part, where in parts.items()
        for change in _differences(where, getattr(before, part), getattr(after, part))
    )


def _differences(where: str, one: Any, other: Any) -> list[Change]:
    """Differences of two records of one type, and of the records within them."""
    found: list[Change] = []
    for field in fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        key = f"{where}.{field.name}"
        if a is b or (field.name == "name" and where != "cell"):
            continue
        if isinstance(a, Cell) and isinstance(b, Cell) and a.name == b.name:
            found += _differences("cell", a, b)
        elif is_dataclass(a) and type(a) is type(b) and not isinstance(a, Cell | ThrustTable):
            found += _differences(key, a, b)
        elif field.name == "curves" and a != b:
            found.append(Change(key, f"{len(a)} curves", f"{len(b)} other curves"))
        elif field.name != "curves":
            shown = _plain_value(a), _plain_value(b)
            if shown[0] != shown[1]:
                found.append(Change(key, *shown))
            elif _rows_differ(a, b):
                found.append(Change(key, shown[0], f"{shown[1]}, other rows"))
    return found


def _rows_differ(one: Any, other: Any) -> bool:
    """Whether two thrust tables differ in a row; they may have been read from one file twice."""
    if not isinstance(one, ThrustTable):
        return False
    columns = (f.name for f in fields(one) if isinstance(getattr(one, f.name), np.ndarray))
    return not all(
        np.array_equal(getattr(one, c), getattr(other, c), equal_nan=True) for c in columns
    )


def _plain_value(value: Any) -> Value:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, Cell):
        return value.name
    if isinstance(value, ThrustTable):
        volts = f" at {value.supply_v:g} V" if np.isfinite(value.supply_v) else ""
        return f"{value.motor}, {value.propeller}{volts}"
    return float(value)


def _value_text(value: Value) -> str:
    """Four significant digits, whole from a thousand on.

    Example:
        >>> _value_text(1224.6), _value_text(0.063612), _value_text(None)
        ('1225', '0.06361', 'nothing')
    """
    if value is None or isinstance(value, str):
        return value or "nothing"
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"


def _limits(before: SizingResult, after: SizingResult) -> tuple[LimitChange, ...]:
    old, new = ({limit.key: limit for limit in x.limits} for x in (before, after))
    found = []
    for key, latest in {**old, **new}.items():
        was, now = old.get(key), new.get(key)
        found.append(
            LimitChange(
                key,
                latest.name,
                None if was is None else was.verdict,
                None if now is None else now.verdict,
                _margin(was),
                _margin(now),
            )
        )
    return tuple(sorted(found, key=lambda limit: not limit.matters))


def _margin(limit: Limit | None) -> float | None:
    margin = np.nan if limit is None else float(limit.margin_pct)
    return margin if np.isfinite(margin) else None


OF_HOVER = (
    "hover_power_w",
    "endurance_min",
    "hover_throttle_full_pct",
    "hover_throttle_end_pct",
    "thrust_to_weight_end",
    "full_throttle_cell_current_a",
)
"""What is shown of a design that hovers by another table, keys of its figures."""


@dataclass(frozen=True)
class TableRow:
    """A single design hovering by one thrust table.

    Attributes:
        table: the table.
        in_use: whether it is the table of the design.
        result: the design sized with it.
    """

    table: ThrustTable
    in_use: bool
    result: SizingResult

    @property
    def figures(self) -> dict[str, float]:
        """By name; NaN outside the table, and of the throttle without a throttle column.

        Thrust over power is that of one motor on the bench, at any voltage; thrust over current is at the pack's mean
        voltage in flight.
        """
        table, run, pack = self.table, self.result.point.run, self.result.design.pack
        thrust_gf = float(self.result.point.thrust_per_motor_gf)
        bench_gf_w = thrust_gf / float(table.power_at_thrust(thrust_gf))
        with np.errstate(divide="ignore", invalid="ignore"):
            mean_v = float(pack.series * run.energy_wh / run.charge_ah)
        of_hover = {key: self.result.figure(key) for key in OF_HOVER}
        return {
            "table_v": float(
                table.supply_v if np.isfinite(table.supply_v) else table.voltage_v.max()
            ),
            "hover_thrust_per_motor_gf": thrust_gf,
            "hover_efficiency_gf_w": bench_gf_w,
            "hover_efficiency_gf_a": bench_gf_w * mean_v,
            **{key: np.nan if x is None else float(x) for key, x in of_hover.items()},
        }

    @property
    def broken(self) -> tuple[str, ...]:
        """Names of the limits that do not hold, or that of pack or flight could not be checked."""
        unchecked = (x.name for x in self.result.not_checked if x.concern != "part")
        broken = (limit.name for limit in self.result.broken)
        return (*broken, *(f"not checked: {name}" for name in unchecked))

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix."""
        return {
            "motor": self.table.motor,
            "propeller": self.table.propeller,
            **plain(self.figures),
            "in_use": self.in_use,
            "holds": self.result.holds,
            "verdict": self.result.verdict,
            "broken": list(self.broken),
        }


def compare_tables(design: Design[Any], tables: Sequence[ThrustTable]) -> tuple[TableRow, ...]:
    """Size a single design that hovers with each thrust table in turn, all else equal.

    The craft's mass stays as it is: motors and propellers of another mass need another design. A
    throttle cap does not count for a table without throttle.

    Raises:
        InputError: the craft does not hover.

    Example:
        >>> from workbook.battery.pack import Pack
        >>> from workbook.craft.craft_types import Multirotor
        >>> from workbook.files.cell_file import find_cell
        >>> from workbook.sizing.design import Flight
        >>> thrust, blank = np.array([200.0, 600.0, 1200.0, 2400.0]), np.full(4, np.nan)
        >>> throttle, volts = np.array([15.0, 40.0, 65.0, 100.0]), np.full(4, 22.2)
        >>> def table(propeller, watts):
        ...     power = watts * (thrust / 1000) ** 1.5
        ...     return ThrustTable(
        ...         "m", propeller, thrust, power / volts, volts, power, throttle, blank
        ...     )
        >>> small, large = table("13x4", 130.0), table("15x5", 110.0)
        >>> six = Multirotor(
        ...     name="six",
        ...     rotors=6,
        ...     mass_without_pack_g=2100.0,
        ...     payload_g=350.0,
        ...     table=small,
        ...     avionics_w=12.0,
        ...     flight_factor=1.1,
        ... )
        >>> pack = Pack(find_cell("Sedge"), 6, 3, 10.0, 75.0, 8.0)
        >>> for row in compare_tables(Design("six", six, pack, Flight(3.1, 20.0)), (small, large)):
        ...     found = row.figures
        ...     print(
        ...         row.table.propeller,
        ...         *(round(found[k], 1) for k in ("hover_efficiency_gf_w", "endurance_min")),
        ...     )
        13x4 9.6 31.4
        15x5 11.3 37.3
    """
    if craft_type_of(design).steady != "hover":
        raise InputError(
            "thrust tables are compared in hover, and this craft does not hover. Compare its designs by "
            "their cruise and launch figures."
        )
    return tuple(_row(design, table) for table in tables)


def _row(design: Design[Any], table: ThrustTable) -> TableRow:
    used, cap = design.craft.table, {} if table.has_throttle else {"throttle_cap_pct": 100.0}
    alone = replace(design, today=None, mission=()).changed(table=table, **cap)
    names = ("motor", "propeller", "source")
    same = all(getattr(table, name) == getattr(used, name) for name in names)
    in_use = table is used or (same and np.array_equal(table.thrust_gf, used.thrust_gf))
    return TableRow(table, in_use, size(alone))
