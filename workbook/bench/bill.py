"""Bill of materials: what to buy, with spares, and what it costs where prices are given."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from math import ceil

SPARE_CELLS_PCT = 10.0
SPARE_CELLS_LEAST = 2
"""Spare cells: 10 %, at least 2, for matching and for a spoilt weld. Common practice, no source."""


def spare_cells(cells: int) -> int:
    """Cells to buy beyond those built in: a tenth, rounded up, at least two.

    Source: common practice, no source.

    Example:
        >>> [spare_cells(cells) for cells in (6, 24, 28)]
        [2, 3, 3]
    """
    return max(ceil(cells * SPARE_CELLS_PCT / 100.0 - 1e-9), SPARE_CELLS_LEAST)


@dataclass(frozen=True)
class Parts:
    """Plain counts and lengths of one pack, and how many are built; zero or empty where there is none.

    Attributes:
        cells: cells built in.
        cell_name: which.
        series: S, for the balance plug.
        strip_mm: length of each kind of strip, by its name ("nickel 0.15 x 8 mm").
        main_lead_mm: one main lead; two are bought.
        main_lead_awg: its gauge.
        balance_lead_mm: all balance wires together.
        balance_awg: their gauge.
        connector: which ("60 A class"); two halves make a pair, one pair is bought.
        wrap_mm: heat-shrink sleeve or wrap.
        wrap_name: its size.
        insulation_sheets: sheets between groups and over the ends.
        fuses: what each fuse of the bench is.
        holders: cell holders or spacers.
        packs: like packs that are built.
    """

    cells: int
    cell_name: str = "cell"
    series: int = 0
    strip_mm: Mapping[str, float] = field(default_factory=dict)
    main_lead_mm: float = 0.0
    main_lead_awg: int = 12
    balance_lead_mm: float = 0.0
    balance_awg: int = 22
    connector: str = ""
    wrap_mm: float = 0.0
    wrap_name: str = "heat-shrink sleeve"
    insulation_sheets: int = 0
    fuses: tuple[str, ...] = ()
    holders: int = 0
    packs: int = 1


@dataclass(frozen=True)
class BillLine:
    """One line of the bill.

    Attributes:
        key: what prices are looked up by ("cells", "rings", "strip", ...).
        item: what to ask for.
        needed: built in, in `unit`.
        spare: bought beyond.
        unit: "pieces" or "m".
        price: each piece or metre; None where not given.
        why: why so many spares.
    """

    key: str
    item: str
    needed: float
    spare: float
    unit: str
    price: float | None
    why: str

    @property
    def buy(self) -> float:
        """Needed and spare."""
        return self.needed + self.spare

    @property
    def cost(self) -> float | None:
        """What the line costs; None where no price is given."""
        return None if self.price is None else self.buy * self.price


@dataclass(frozen=True)
class Bill:
    """The bill of materials.

    Attributes:
        lines: in the order in which they are used.
    """

    lines: tuple[BillLine, ...]

    @property
    def cost(self) -> float:
        """Sum of the lines that have a price."""
        return sum(line.cost for line in self.lines if line.cost is not None)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Items without a price: the sum leaves them out."""
        return tuple(line.item for line in self.lines if line.price is None)


def bill_of_materials(parts: Parts, prices: Mapping[str, float] | None = None) -> Bill:
    """The bill of one pack.

    Args:
        parts: counts and lengths.
        prices: price of one piece or metre, in one currency, by line key; of what is not on the bill it says
            nothing.

    Source: spares by common practice, no source.

    Example:
        >>> parts = Parts(cells=8, series=4, strip_mm={"nickel 0.15 x 8 mm": 400}, main_lead_mm=150)
        >>> bill = bill_of_materials(parts, {"cells": 4.5})
        >>> for line in bill.lines[:3]:
        ...     print(f"{line.buy:g} {line.unit} {line.item}")
        10 pieces cell
        20 pieces paper or fish-paper ring for the plus end
        0.52 m strip, nickel 0.15 x 8 mm
        >>> float(bill.cost)
        45.0
    """
    return Bill(tuple(line for line in _lines(parts, prices or {}) if line.buy > 0))


def _lines(parts: Parts, prices: Mapping[str, float]) -> Iterator[BillLine]:
    """Every line, in the order in which it is used; those that are not needed have nothing to buy."""
    packs = parts.packs

    def line(
        key: str, item: str, needed: float, spare: float, why: str, unit: str = "pieces"
    ) -> BillLine:
        return BillLine(key, item, needed * 1.0, spare * 1.0, unit, prices.get(key), why)

    def metres(
        key: str, item: str, mm: float, more: float, why: str, least: float = 0.0
    ) -> BillLine:
        length = packs * mm / 1000.0
        return line(key, item, length, max(least, more * length) if mm else 0.0, why, "m")

    cells = packs * parts.cells
    extra = spare_cells(cells)
    match = "10 %, at least 2, to match from; buy all from one batch"
    yield line("cells", parts.cell_name, cells, extra, match)
    ring = "one for every cell bought, as many again for torn ones"
    yield line("rings", "paper or fish-paper ring for the plus end", cells, cells + 2 * extra, ring)
    for name, mm in parts.strip_mm.items():
        why = "30 % for trial welds and peel tests"
        yield metres("strip", f"strip, {name}", mm, 0.3, why)
    lead = f"silicone lead, {parts.main_lead_awg} AWG, two colours"
    why = "20 %, at least 0.1 m, for stripping and trimming"
    yield metres("main lead", lead, 2.0 * parts.main_lead_mm, 0.2, why, least=0.1)
    wire = f"silicone lead, {parts.balance_awg} AWG"
    why = "20 % for stripping and trimming"
    yield metres("balance wire", wire, parts.balance_lead_mm, 0.2, why)
    plugs = packs if parts.series else 0
    why = "one for a slip: a bent pin is not straightened"
    yield line("balance plug", f"balance plug, {parts.series + 1} pins", plugs, min(plugs, 1), why)
    pairs = packs if parts.connector else 0
    pair = f"connector pair, {parts.connector}"
    yield line("connector", pair, pairs, min(pairs, 1), "one to practise on")
    why = "one for the craft; a mate for each pack is bought with its pair"
    yield line("joining lead", "lead that joins the packs", 1 if packs > 1 else 0, 0, why)
    yield line("holders", "cell holder or spacer", packs * parts.holders, 0, "")
    sheets = packs * parts.insulation_sheets
    sheet = "fish-paper or polyimide sheet"
    yield line("insulation", sheet, sheets, 1 if sheets else 0, "one to cut anew")
    why = "as much again: a sleeve that shrank askew is cut off"
    yield metres("wrap", parts.wrap_name, parts.wrap_mm, 1.0, why)
    for fuse in parts.fuses:
        yield line("fuse", fuse, 1, 2, "two, since it may do its job")
