"""Where the figures of a design come from, and what that does to its margin budget.

A figure is measured, its maker's, or assumed. An assumed one widens its line of the budget; one that is
measured with a stated uncertainty takes the place of its line. `data/origins.csv` says which line that is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from workbook.data.tables import data_rows
from workbook.numbers import Number
from workbook.quantities import INPUTS
from workbook.sizing.budget_lines import STANDARD_LINES, BudgetLine, Effect
from workbook.sizing.design import Design, Origin


@dataclass(frozen=True, eq=False)
class Bearing:
    """What an assumed figure bears on.

    Attributes:
        key: the figure, as a design file names it.
        line: standard line of the budget that it widens; empty where it gets a line of its own.
        figure: what such a line acts on.
        assumed_pct: how far off an assumed one may be, either way.
        measured_pct: how far off a carefully measured one may be, 95 times in 100.
        source: of both.
    """

    key: str
    line: str
    figure: str
    assumed_pct: float
    measured_pct: float
    source: str

    @property
    def label(self) -> str:
        """The figure in words."""
        return _label(self.key)


def _read_bearings() -> dict[str, Bearing]:
    rows: list[dict[str, Any]] = [*data_rows("origins.csv")]
    figures = ("assumed_pct", "measured_pct")
    return {r["key"]: Bearing(**r | {name: float(r[name]) for name in figures}) for r in rows}


BEARINGS = _read_bearings()
"""What is known of each figure whose origin matters to the budget, by key."""


def lines_of(design: Design[Any]) -> tuple[BudgetLine, ...]:
    """The standard lines of the margin budget, widened or narrowed by where a design's figures come from.

    A figure whose origin is not stated changes nothing. Where the power module's error is stated, the charge
    left at landing is off by as much of the charge used.

    Args:
        design: its origins and its power module count.

    Source: the widths are common practice, no source (`data/origins.csv`); a measured figure's line is
        normal, its stated uncertainty an interval of 95 % (JCGM 100:2008, 6.2).

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> quad = read_design(notebooks_source() / "designs" / "light_quad.toml").design
        >>> wide = lines_of(replace(quad, origins=(Origin("avionics_w", "assumed"),)))
        >>> [(line.low, line.high) for line in wide if line.key == "avionics"]
        [(-50.0, 70.0)]
    """
    lines = _lines_of(design.origins)
    off_pct = design.craft.power_module_off_pct
    return lines if off_pct is None else _with_gauge(lines, off_pct)


@cache
def _with_gauge(lines: tuple[BudgetLine, ...], off_pct: float) -> tuple[BudgetLine, ...]:
    """The lines with the reserve as sure as the gauge: early by what is usual or by its error, if that is more."""
    return tuple(
        replace(line, high=max(line.high, off_pct)) if line.key == "reserve" else line
        for line in lines
    )


@cache
def _lines_of(origins: tuple[Origin, ...]) -> tuple[BudgetLine, ...]:
    lines = {line.key: line for line in STANDARD_LINES}
    for origin in origins:
        bearing = BEARINGS.get(origin.key)
        if bearing is None:
            continue
        key = bearing.line or origin.key
        if origin.origin == "assumed":
            lines[key] = _widened(lines.get(key) or _own_line(bearing), bearing.assumed_pct)
        elif origin.origin == "measured" and origin.uncertainty_pct is not None:
            lines[key] = _measured(bearing, key, origin.uncertainty_pct)
    return tuple(lines.values())


def assumed_lines(design: Design[Any]) -> tuple[BudgetLine, ...]:
    """Each assumed figure of a design as a line of its own, named in words, by how far off it may be.

    Args:
        design: its origins count.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> quad = read_design(notebooks_source() / "designs" / "light_quad.toml").design
        >>> guess = replace(quad, origins=(Origin("payload_g", "assumed"),))
        >>> [(line.name, line.high) for line in assumed_lines(guess)]
        [('payload', 15.0)]
    """
    bearings = [BEARINGS.get(key) for key in _assumed(design)]
    return tuple(
        replace(_widened(_own_line(one), one.assumed_pct), name=one.label)
        for one in bearings
        if one is not None
    )


def _own_line(bearing: Bearing) -> BudgetLine:
    return BudgetLine(
        bearing.key,
        f"{bearing.label}, assumed",
        0.0,
        0.0,
        0.0,
        "triangular",
        (Effect(bearing.figure),),
        why="not measured yet",
        source=bearing.source,
    )


def _widened(line: BudgetLine, by_pct: float) -> BudgetLine:
    return replace(line, low=line.low - by_pct, high=line.high + by_pct)


NINETY_PER_95 = 1.6449 / 1.9600
"""A normal line states its 5 % and 95 % points, a measurement its 2.5 % and 97.5 %: quantiles of the normal."""


def _measured(bearing: Bearing, key: str, uncertainty_pct: float) -> BudgetLine:
    # never surer than a careful measurement is, whatever was stated
    ends = NINETY_PER_95 * max(uncertainty_pct, bearing.measured_pct)
    return BudgetLine(
        key,
        f"{bearing.label}, measured",
        -ends,
        0.0,
        ends,
        "normal",
        (Effect(bearing.figure),),
        why="as the measurement left it open",
        source="the design's own measurement",
    )


def assumed_names(design: Design[Any]) -> tuple[str, ...]:
    """The figures of a design that were assumed, in words."""
    return tuple(_label(key) for key in _assumed(design))


def _assumed(design: Design[Any]) -> tuple[str, ...]:
    """Keys of what is assumed: as stated, and the resistance of a cell without any curve."""
    stated = tuple(origin.key for origin in design.origins if origin.origin == "assumed")
    stated_keys = {origin.key for origin in design.origins}
    bare = not design.pack.cell.curves and "cell_resistance_mohm" not in stated_keys
    return (*stated, "cell_resistance_mohm") if bare else stated


def assumed_text(design: Design[Any]) -> str:
    """The figures that were assumed, in one sentence; empty where none was.

    Args:
        design: a single design.
    """
    assumed = [o.key for o in design.origins if o.origin == "assumed"]
    if not assumed:
        return ""
    named = [f"{_label(key)}{_value(design, key)}" for key in assumed]
    return (
        f"Assumed, not measured: {', '.join(named)}. Each widens its line of the margin budget until it is "
        "measured."
    )


_OF_CELL = {
    "cell": "the cell's rated currents",
    "cell_capacity_ah": "the cell's capacity",
    "cell_resistance_mohm": "the cell's resistance",
}
"""Words for what is assumed of a cell."""


def _label(key: str) -> str:
    if key in _OF_CELL:
        return _OF_CELL[key]
    return INPUTS[key].label if key in INPUTS else key.replace("_", " ")


def _value(design: Design[Any], key: str) -> str:
    if key not in INPUTS:
        return ""
    parts = (design.craft, design.pack, design.flight)
    value: Number | None = next((getattr(p, key) for p in parts if hasattr(p, key)), None)
    return "" if value is None else f" ({INPUTS[key].text(value)})"
