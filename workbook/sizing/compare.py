"""Two designs side by side: what was changed, and what it does to each figure and each limit."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Literal, TypeAlias

import numpy as np

from workbook.battery.cell import Cell
from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.quantities import results
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Allowances, Design
from workbook.sizing.operating_point import NO_ALLOWANCES
from workbook.sizing.size import SizingResult, size

Told: TypeAlias = float | str | None
Verdict: TypeAlias = Literal["better", "worse", "other", "same"]

SAME = 1e-9
"""Figures that differ by no more than this share are the same."""

BETTER_HIGH = (
    "endurance_min", "range_km", "best_endurance_min", "best_range_km", "thrust_ceiling_gf",
    "thrust_ceiling_per_motor_gf", "burst_thrust_ceiling_gf", "throttle_cap_pct",
    "burst_throttle_cap_pct", "thrust_to_weight_full", "thrust_to_weight_end",
    "hover_efficiency_gf_w", "climb_continuous_m_s", "climb_burst_m_s", "climb_full_power_m_s",
    "cruise_lift_over_drag", "launch_cell_v",
)  # fmt: skip
BETTER_LOW = (
    "all_up_mass_g", "pack_mass_g", "hover_power_w", "hover_power_per_motor_w",
    "hover_thrust_per_motor_gf", "hover_current_a", "hover_current_end_a", "hover_c_rate",
    "hover_cell_current_end_a", "full_throttle_cell_current_a", "cruise_power_w",
    "cruise_current_a", "cruise_current_end_a", "cruise_c_rate", "cruise_cell_current_end_a",
    "cruise_energy_wh_km", "launch_cell_current_a", "stall_m_s", "lowest_hover_cell_v",
)  # fmt: skip
"""Which way a figure is better; of the others neither way is."""


@dataclass(frozen=True)
class Change:
    """One input that differs.

    Attributes:
        key: part and name: `pack.parallel`, `craft.payload_g`, `pack.cell`, `cell.mass_g`.
        before, after: both values; a name for a cell or a thrust table, None where there is none.
    """

    key: str
    before: Told
    after: Told

    @property
    def text(self) -> str:
        """In words.

        Example:
            >>> Change("pack.parallel", 3.0, 4.0).text
            'pack.parallel from 3 to 4'
        """
        return f"{self.key} from {_shown(self.before)} to {_shown(self.after)}"


@dataclass(frozen=True)
class FigureChange:
    """What became of one figure.

    Attributes:
        key, name, unit: of the figure.
        before, after: None where it cannot be told.
        difference, percent: after less before, and as a share of before; None where there is none.
        verdict: "better", "worse", "other" (changed, and neither), "same".
        text: in words.
    """

    key: str
    name: str
    unit: str
    before: Told
    after: Told
    difference: float | None
    percent: float | None
    verdict: Verdict
    text: str


@dataclass(frozen=True)
class LimitChange:
    """What became of one limit.

    Attributes:
        key, name: of the limit.
        before, after: verdicts ("holds", "close", "broken"); None where the design has no such limit.
        before_pct, after_pct: margins; None where they cannot be told.
        matters: whether the verdict changed.
        text: in words.
    """

    key: str
    name: str
    before: str | None
    after: str | None
    before_pct: float | None
    after_pct: float | None
    matters: bool
    text: str


@dataclass(frozen=True)
class Comparison:
    """Two designs side by side.

    Attributes:
        before, after: both answers.
        changes: inputs that differ.
        figures: every figure that either has, in order.
        limits: every limit that either has; those whose verdict changed come first.
        today: whether `before` is the pack flown today.
    """

    before: SizingResult
    after: SizingResult
    changes: tuple[Change, ...]
    figures: tuple[FigureChange, ...]
    limits: tuple[LimitChange, ...]
    today: bool = False

    @property
    def matters(self) -> tuple[LimitChange, ...]:
        """The limits whose verdict changed."""
        return tuple(limit for limit in self.limits if limit.matters)

    def figure(self, key: str) -> FigureChange:
        """A figure by its key."""
        return next(f for f in self.figures if f.key == key)

    @property
    def text(self) -> str:
        """The whole in a few sentences: time and mass, what matters, whether it may be flown."""
        told = [f"{self.figure(key).text}." for key in ("endurance_min", "all_up_mass_g")]
        told += [limit.text for limit in self.matters]
        told = [sentence[:1].upper() + sentence[1:] for sentence in told]
        if not self.matters:
            told.append("No limit changes its verdict.")
        if self.before.holds != self.after.holds:
            told.append(
                "Every limit holds now."
                if self.after.holds
                else "It must not be built or flown as it stands."
            )
        return " ".join(told)


def compare(
    before: Design[Any], after: Design[Any], allowances: Allowances = NO_ALLOWANCES
) -> Comparison:
    """Put two single designs side by side, both with the same allowances.

    Raises:
        InputError: they are of different kinds of craft.
    """
    if craft_type_of(before).name != craft_type_of(after).name:
        raise InputError(
            f"a {craft_type_of(before).name} and a {craft_type_of(after).name} have different figures; two designs of "
            "one kind are needed."
        )
    return compare_answers(size(before, allowances), size(after, allowances))


def compare_with_today(answer: SizingResult) -> Comparison:
    """Put a design beside the same craft with the pack flown today.

    Raises:
        InputError: the design states no pack of today.
    """
    if answer.today is None:
        raise InputError("the design states no pack flown today; a section [today] is needed.")
    return compare_answers(answer.today, answer, today=True)


def compare_answers(
    before: SizingResult, after: SizingResult, *, today: bool = False
) -> Comparison:
    """Put two answers side by side.

    Args:
        before, after: answers for one kind of craft.
        today: whether `before` is the pack flown today.
    """
    return Comparison(
        before,
        after,
        changes(before.design, after.design),
        _figures(before, after),
        _limits(before, after),
        today,
    )


def changes(before: Design[Any], after: Design[Any]) -> tuple[Change, ...]:
    """The inputs that differ between two single designs.

    A cell of another name is one change; of the same name, each of its figures that differs is one.
    """
    found = []
    for part_name in ("craft", "pack", "flight"):
        one, other = getattr(before, part_name), getattr(after, part_name)
        found += _parts(part_name, one, other)
    return tuple(found)


def _parts(where: str, one: Any, other: Any) -> list[Change]:
    """Differences of two records of one kind, one level deep into those within."""
    found: list[Change] = []
    for field in fields(one):
        if field.name in ("name", "curves") and where != "cell":
            continue
        a, b = getattr(one, field.name), getattr(other, field.name)
        key = f"{where}.{field.name}"
        if a is b:
            continue
        if isinstance(a, Cell) and isinstance(b, Cell) and a.name == b.name:
            found += _parts("cell", a, b)
        elif isinstance(a, ThrustTable) or isinstance(b, ThrustTable):
            found.append(Change(key, _named(a), _named(b)))
        elif hasattr(a, "__dataclass_fields__") and type(a) is type(b) and not isinstance(a, Cell):
            found += _parts(key, a, b)
        elif field.name == "curves":
            if a != b:
                found.append(Change(key, f"{len(a)} curves", f"{len(b)} other curves"))
        elif _plain(a) != _plain(b):
            found.append(Change(key, _plain(a), _plain(b)))
    return found


def _number(value: float, digits: int = 4) -> str:
    """So many significant digits, whole from a thousand on.

    Example:
        >>> _number(1224.6, 3), _number(0.06361, 3)
        ('1225', '0.0636')
    """
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.{digits}g}"


def _named(table: Any) -> str | None:
    """A thrust table in words."""
    if table is None:
        return None
    volts = f" at {table.supply_v:g} V" if np.isfinite(table.supply_v) else ""
    return f"{table.motor}, {table.propeller}{volts}"


def _plain(value: Any) -> Told:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, Cell):
        return value.name
    return float(value)


def _shown(value: Told) -> str:
    if value is None:
        return "nothing"
    return value if isinstance(value, str) else _number(value)


def _figures(before: SizingResult, after: SizingResult) -> tuple[FigureChange, ...]:
    one, other = before.figures(), after.figures()
    rows = {row.key: row for row in results(craft_type_of(after.design).keys)}
    found = []
    for key in [*one, *(k for k in other if k not in one)]:
        row = rows.get(key)
        name, unit = (row.label, row.unit) if row else _words(key)
        found.append(_figure(key, name, unit, one.get(key), other.get(key)))
    return tuple(found)


UNITS = {
    "v": "V", "a": "A", "w": "W", "wh": "Wh", "ah": "Ah", "mohm": "mohm", "g": "g", "gf": "gf",
    "mm": "mm", "m": "m", "s": "s", "min": "min", "c": "C", "k": "K", "pct": "%", "km": "km",
}  # fmt: skip
"""What a name's last part says of the unit."""


def _words(key: str) -> tuple[str, str]:
    """A figure's key in words, and its unit.

    Example:
        >>> _words("charge_used_ah"), _words("climb_speed_m_s"), _words("pack_cells")
        (('charge used', 'Ah'), ('climb speed', 'm/s'), ('pack cells', ''))
    """
    for suffix, unit in (("_m_s", "m/s"), ("_gf_w", "gf/W"), ("_wh_km", "Wh/km")):
        if key.endswith(suffix):
            return key.removesuffix(suffix).replace("_", " "), unit
    stem, _, last = key.rpartition("_")
    if stem and last in UNITS:
        return stem.replace("_", " "), UNITS[last]
    return key.replace("_", " "), ""


def _figure(key: str, name: str, unit: str, a: Told, b: Told) -> FigureChange:
    shown = f" {unit}" if unit else ""
    if not isinstance(a, int | float) or not isinstance(b, int | float):
        same = a == b
        text = f"{name} {_told(a, shown)}" + ("" if same else f", then {_told(b, shown)}")
        return FigureChange(key, name, unit, a, b, None, None, "same" if same else "other", text)
    difference = b - a
    percent = 100.0 * difference / abs(a) if a else None
    if abs(difference) <= SAME * max(abs(a), abs(b)):
        same_text = f"{name} stays at {_number(a)}{shown}"
        return FigureChange(key, name, unit, a, b, 0.0, 0.0, "same", same_text)
    verdict: Verdict = "other"
    if key in BETTER_HIGH or key in BETTER_LOW:
        verdict = "better" if (difference > 0) == (key in BETTER_HIGH) else "worse"
    way = "up" if difference > 0 else "down"
    share = "" if percent is None else f" ({percent:+.1f} %)"
    text = f"{name} {way} {_number(abs(difference), 3)}{shown} to {_number(b)}{shown}{share}"
    return FigureChange(key, name, unit, a, b, difference, percent, verdict, text)


def _told(value: Told, shown: str) -> str:
    if value is None:
        return "cannot be told"
    return value if isinstance(value, str) else f"{_number(value)}{shown}"


def _limits(before: SizingResult, after: SizingResult) -> tuple[LimitChange, ...]:
    one = {limit.key: limit for limit in before.limits}
    other = {limit.key: limit for limit in after.limits}
    found = []
    for key in [*one, *(k for k in other if k not in one)]:
        a, b = one.get(key), other.get(key)
        either = b or a
        assert either is not None
        was, now = (None if limit is None else limit.verdict for limit in (a, b))
        was_pct, now_pct = (
            None if limit is None or not np.isfinite(limit.margin_pct) else float(limit.margin_pct)
            for limit in (a, b)
        )
        name = either.name
        if was is None or now is None:
            text = f"{name}: {'asked' if was is None else 'no longer asked'}, {now or was}."
        elif was == now:
            text = f"{name}: {now}, as before{_margins(was_pct, now_pct)}."
        else:
            text = f"{name}: {was} before, {now} now{_margins(was_pct, now_pct)}."
            if now == "broken":
                text = f"{text} {either.broken_text}"
        found.append(LimitChange(key, name, was, now, was_pct, now_pct, was != now, text))
    return tuple(sorted(found, key=lambda limit: not limit.matters))


def _margins(before: float | None, after: float | None) -> str:
    def shown(value: float | None) -> str:
        return "untold" if value is None else f"{value:.0f} %"

    return f" (margin {shown(before)}, then {shown(after)})"
