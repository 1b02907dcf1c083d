"""Checks with this pack's numbers: weld and in which order, charge, prove, accept, store; and its label.

The texts are in `data/checks.toml`, in the order of the work; here are the figures that go into them and
what is decided. The cell maker's datasheet takes precedence over every limit.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cache
from math import inf
from typing import TYPE_CHECKING, Any

import numpy as np

from workbook.battery.pack import Pack
from workbook.bench.layout import Layout
from workbook.data.tables import data_sections
from workbook.numbers import Side, rounded
from workbook.units import number_in, shown_unit, with_unit

if TYPE_CHECKING:
    from jinja2 import Environment, Template
    from jinja2.environment import TemplateExpression

PRACTICE = "common practice, no source"
MOST_CHARGE_V = 4.2
"""No cell of a home-built pack is charged higher. Common practice, no source."""

NO_BREAK_SPACE = "\u00a0"
"""Keeps a figure and its unit on one line."""
DECIMALS = {"V": 2, "A": 2, "Ah": 2, "mAh": 0, "min": 0, "mΩ": 0, "g": 0, "mV": 0, "°C": 0}
"""Decimals of a figure by its unit, where a check says it."""
SPREAD_FULL_MV, SPREAD_EMPTY_MV = 30.0, 80.0
"""Most between the groups of a sound pack, full and nearly empty. Common practice, no source."""
MONTH_LOSS_V = 0.02
"""Most that a cell loses in a month of storage. Common practice, no source."""
COMMON_FIGURES = {
    "spread_full_mv": SPREAD_FULL_MV,
    "spread_empty_mv": SPREAD_EMPTY_MV,
    "month_loss_v": MONTH_LOSS_V,
}
"""Figures that every section may use."""


@dataclass(frozen=True)
class CheckItem:
    """One line to do and tick.

    Attributes:
        text: what to do or look at, in one or two sentences.
        expected: the figure or word to find; None where it is done or not done.
        unit: of the figure.
        low: lowest figure that passes; None for no limit.
        high: highest figure that passes; None for no limit.
        caution: what can hurt here; empty where nothing special.
        source: where the rule or figure comes from.
        leaves: of a setting, what it leaves of thrust or climb and of time; empty where that is not stated.
        safe: which way the figure to find or to set is rounded when it is printed.
        key: of the figure as a pack's book notes it; empty where it is not noted.
    """

    text: str
    expected: float | str | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    caution: str = ""
    source: str = PRACTICE
    leaves: str = ""
    safe: Side = "nearest"
    key: str = ""

    def passes(self, found: float) -> bool:
        """Whether a measured figure lies within the limits.

        Example:
            >>> CheckItem("pack voltage", 14.4, "V", low=14.0, high=14.8).passes(13.9)
            False
        """
        return (self.low is None or found >= self.low) and (self.high is None or found <= self.high)

    def shown(self, value: float, side: Side = "nearest") -> str:
        """A figure of this check as it is printed, rounded to a side, without its unit."""
        return number_in(value, self.unit, DECIMALS.get(self.unit, 0), side)

    @property
    def shown_unit(self) -> str:
        """Its unit as it is printed."""
        return shown_unit(self.unit).name

    @property
    def limits_text(self) -> str:
        """What passes; empty where nothing is limited.

        Example:
            >>> CheckItem("spread", 0.0, "mV", high=30.0).limits_text
            'up to 30\xa0mV'
        """
        low = "" if self.low is None else self.shown(self.low, "up")
        high = "" if self.high is None else self.shown(self.high, "down")
        unit = f"{NO_BREAK_SPACE}{self.shown_unit}"
        if self.low == 0.0 and self.high is None:
            return "above 0"
        if low and high:
            return f"{low} to {high}{unit}"
        if high:
            return f"up to {high}{unit}" if self.high != self.expected else ""
        return f"{low}{unit} or more" if low else ""


@cache
def _templates() -> Environment:
    from jinja2 import Environment, StrictUndefined

    return Environment(undefined=StrictUndefined)  # plain text: the sheet escapes it


@cache
def _words(template: str) -> Template:
    return _templates().from_string(template)


@cache
def _expression(text: str) -> TemplateExpression:
    return _templates().compile_expression(text, undefined_to_none=False)


def checks(section: str, **figures: Any) -> tuple[CheckItem, ...]:
    """The items of a section of `data/checks.toml`, with figures put in.

    Args:
        section: its name.
        figures: by the names that the section uses.

    Raises:
        jinja2.UndefinedError: a figure that the section needs is not there.

    Example:
        >>> [item.expected for item in checks("running_voltage", step=2, cell_v=3.5)]
        [7.0]
    """
    figures = {**COMMON_FIGURES, "with_unit": with_unit, **figures}

    def word(template: str) -> str:
        return _words(template).render(figures).strip()

    def worked(expression: str) -> Any:
        return _expression(expression)(**figures)

    def figure(expression: str | None) -> float | None:
        return None if expression is None else float(worked(expression))

    return tuple(
        CheckItem(
            text=word(row["text"]),
            expected=word(row["found"]) if "found" in row else figure(row.get("expected")),
            unit=row.get("unit", ""),
            low=figure(row.get("low")),
            high=figure(row.get("high")),
            caution=word(row.get("caution", "")),
            leaves=word(row.get("leaves", "")),
            source=row.get("source", PRACTICE),
            safe=row.get("safe", "nearest"),
            key=row.get("key", ""),
        )
        for row in data_sections("checks.toml")[section]
        if worked(row.get("when", "true"))
    )


def designation(diameter_mm: float, height_mm: float, series: int = 1, parallel: int = 1) -> str:
    """Cell or battery designation: letters, size rounded up to whole mm, S before, P after.

    The letters are I (lithium ion), N (nickel in the cathode), R (round).

    Args:
        diameter_mm: largest diameter on the cell's sheet.
        height_mm: largest height.
        series: S.
        parallel: P.

    Source: IEC 61960-3, from memory.

    Example:
        >>> designation(18.4, 65.2, 4, 2)
        '4INR19/66-2'
    """
    before = str(series) if series > 1 else ""
    after = f"-{parallel}" if parallel > 1 else ""
    across, high = (int(np.ceil(size - 1e-9)) for size in (diameter_mm, height_mm))
    return f"{before}INR{across}/{high}{after}"


@dataclass(frozen=True)
class PackLabel:
    """What is written on the pack.

    Attributes:
        pack: one S and one P.
        pack_id: the builder's mark.
        landing_cell_v: under load.
        continuous_a: of the pack, as it is built.
        burst_a: of the pack, as it is built.
        charge_c_rate: highest charge current over capacity, by a rule such as a club's.
        builder: name or mark.
    """

    pack: Pack
    pack_id: str
    landing_cell_v: float
    continuous_a: float
    burst_a: float
    charge_c_rate: float = inf
    builder: str = ""

    @property
    def designation(self) -> str:
        """By IEC 61960-3."""
        cell, pack = self.pack.cell, self.pack
        return designation(cell.diameter_mm, cell.height_mm, int(pack.series), int(pack.parallel))

    def lines(self) -> tuple[str, ...]:
        """The label line by line.

        Example:
            >>> import workbook as wb
            >>> print(
            ...     PackLabel(
            ...         wb.Pack(wb.find_cell("Bittern"), 4, 2), "H-1", 3.2, 16.0, 20.0
            ...     ).lines()[1]
            ... )
            10.08 Ah   145.2 Wh   14.4 V nominal
        """
        pack, series = self.pack, int(self.pack.series)
        most_a = min(pack.cell.max_charge_a, self.charge_c_rate * pack.cell.rated_capacity_ah)
        charge_a = rounded(int(pack.parallel) * most_a, 1, "down")
        land_v = rounded(series * self.landing_cell_v, 2 if series == 1 else 1, "up")
        return (
            f"{self.pack_id}   {series}S{int(pack.parallel)}P   lithium ion   {self.designation}",
            f"{pack.capacity_ah:g} Ah   {pack.energy_wh:.4g} Wh   {pack.nominal_v:g} V nominal",
            f"full {pack.full_v:.4g} V   land at {land_v:g} V under load",
            f"continuous {rounded(self.continuous_a, 1, 'down'):g} A   "
            f"burst {rounded(self.burst_a, 1, 'down'):g} A for "
            f"{pack.cell.burst_s:g} s",
            f"charge {pack.full_v:.4g} V, at most {charge_a:g} A, balanced, attended, above {with_unit(0.0, '°C')}",
            f"built ________   by {self.builder or '________'}",
            "Home-built, no UN 38.3 test. Do not short, crush, wet or heat. Dented: do not use.",
        )


KINDS = ("parallel", "series", "tab")


@dataclass(frozen=True)
class WeldStep:
    """All strips of one junction, welded before the next one is begun.

    Attributes:
        junction: 0 (pack minus) to S (pack plus).
        where: layers and faces on which its strips lie, in words.
        pieces: how many pieces of each kind, in words.
        measure: between what to measure afterwards, in words; empty where nothing new is joined.
        measure_v: what is found there, cells as they are now; 0 where nothing is measured.
    """

    junction: int
    where: str
    pieces: str
    measure: str
    measure_v: float


def _joined_groups(junction: int, welded: set[int], series: int) -> tuple[int, int]:
    """First and last group that hang together over a junction."""
    first = last = junction
    while first > 1 and first - 1 in welded:
        first -= 1
    while last < series and last in welded:
        last += 1
    return first, last


def weld_order(layout: Layout, cell_v: float) -> tuple[WeldStep, ...]:
    """Junctions in the order of the work.

    In one layer, and in layers that are welded side by side, that is from the pack's minus to its
    plus. Stacks are welded on their facing ends first, which are covered once they are folded, and
    then joined on their outer faces. After each step its voltage shows whether every group stands the
    right way round. What is not being welded stays covered.

    Args:
        layout: the layout.
        cell_v: voltage of every cell now.

    Source: common practice, no source; voltages in series add.

    Example:
        >>> import workbook as wb
        >>> for one in weld_order(wb.layouts(wb.Pack(wb.find_cell("Bittern"), 2, 2))[0], 3.5):
        ...     print(one.junction, one.where, one.pieces, one.measure, one.measure_v)
        0 ... 0.0
        1 ... B0 to B1 3.5
        2 ... B0 to B2 7.0
    """
    folded = {link.junction for link in layout.links if link.folded}
    stacks = layout.grid.order == "stacks"
    order = sorted(range(layout.series + 1), key=lambda j: (stacks and j not in folded, j))
    welded: set[int] = set()
    steps = []
    for junction in order:
        links = [link for link in layout.links if link.junction == junction]
        places = sorted({(link.layer, link.face) for link in links})
        faces = [
            face if layout.layers == 1 else f"layer {layer + 1} {face}" for layer, face in places
        ]
        count = Counter(link.kind for link in links)
        pieces = ", ".join(f"{count[kind]} {kind}" for kind in KINDS if count[kind])
        welded.add(junction)
        first, last = _joined_groups(junction, welded, layout.series) if stacks else (1, junction)
        words, volts = f"B0 to B{junction}", (last - first + 1) * cell_v
        if junction == 0:
            words, volts = "", 0.0
        elif stacks and junction < layout.series:
            words = f"minus of group {first} to plus of {last}"
        steps.append(WeldStep(junction, " and ".join(faces), pieces, words, volts))
    return tuple(steps)
