"""Bill of materials: what to buy, with spares, and what it costs where prices are given."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from types import MappingProxyType

from workbook.battery.pack import Pack
from workbook.bench.balance import BALANCE_AWG
from workbook.bench.bench_settings import BenchSettings
from workbook.bench.current_path import CurrentPath
from workbook.bench.fuse import FuseChoice
from workbook.units import with_unit

SPARE_CELLS_PCT = 10.0
SPARE_CELLS_LEAST = 2
"""Spare cells: 10 %, at least 2, for matching and for a spoilt weld. Common practice, no source."""
SLEEVE_OVER = 1.06
"""Lay-flat width of a sleeve over half the girth of the pack. Common practice, no source."""


def spare_cells(cells: int) -> int:
    """Cells to buy beyond those built in: a tenth, rounded up, at least two.

    Source: common practice, no source.

    Example:
        >>> [spare_cells(cells) for cells in (6, 24, 28)]
        [2, 3, 3]
    """
    return max(ceil(cells * SPARE_CELLS_PCT / 100.0 - 1e-9), SPARE_CELLS_LEAST)


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


def bill_of_materials(
    pack: Pack,
    made: CurrentPath,
    settings: BenchSettings,
    *,
    strip_name: str = "",
    balance_mm: float = 0.0,
    fuses: Mapping[str, FuseChoice | None] = MappingProxyType({}),
) -> Bill:
    """The bill of one pack, or of as many like packs as are built.

    Args:
        pack: one of them.
        made: what carries its current.
        settings: what is at the bench, prices among it: of one piece or metre, in one currency, by line key; of what
            is not on the bill they say nothing.
        strip_name: material and size of the strip.
        balance_mm: all balance wires of a pack together.
        fuses: of the bench, each by the lead that it guards.

    Source: spares by common practice, no source.

    Example:
        >>> import workbook as wb
        >>> pack = wb.Pack(wb.find_cell("Bittern"), 4, 2)
        >>> path = wb.current_path(pack, 20.0, 40.0, 150.0, 12)
        >>> bill = bill_of_materials(pack, path, BenchSettings(prices={"cells": 4.5}))
        >>> for line in bill.lines[:2]:
        ...     print(f"{line.buy:g} {line.unit} {line.item}")
        10 pieces 21700 cell Bittern
        20 pieces paper or fish-paper ring for the plus end
        >>> float(bill.cost)
        45.0
    """
    lines = _lines(pack, made, settings, strip_name, balance_mm, fuses)
    return Bill(tuple(line for line in lines if line.buy > 0))


def _lines(
    pack: Pack,
    made: CurrentPath,
    settings: BenchSettings,
    strip_name: str,
    balance_mm: float,
    fuses: Mapping[str, FuseChoice | None],
) -> Iterator[BillLine]:
    """Every line, in the order in which it is used; those that are not needed have nothing to buy."""
    packs, series = settings.packs, int(pack.series)
    prices = {} if pack.cell.price is None else {"cells": pack.cell.price}
    prices |= settings.prices

    def line(
        key: str, item: str, needed: float, spare: float, why: str, unit: str = "pieces"
    ) -> BillLine:
        return BillLine(key, item, needed * 1.0, spare * 1.0, unit, prices.get(key), why)

    def metres(
        key: str, item: str, mm: float, more: float, why: str, least: float = 0.0
    ) -> BillLine:
        length = packs * mm / 1000.0
        return line(key, item, length, max(least, more * length) if mm else 0.0, why, "m")

    cells = packs * series * int(pack.parallel)
    extra = spare_cells(cells)
    match = "10 %, at least 2, to match from; buy all from one batch"
    cell = f"{pack.cell.cell_format} cell {pack.cell.name}"
    yield line("cells", cell, cells, extra, match)
    ring = "one for every cell bought, as many again for torn ones"
    yield line("rings", "paper or fish-paper ring for the plus end", cells, cells + 2 * extra, ring)
    if made.strips is not None:
        why = "30 % for trial welds and peel tests"
        yield metres("strip", f"strip, {strip_name}", made.strips.strip_mm, 0.3, why)
    if made.wire.chosen is not None:
        lead = f"silicone lead, {made.wire.chosen.awg} AWG, two colours"
        why = "20 %, at least 0.1 m, for stripping and trimming"
        yield metres("main lead", lead, 2.0 * settings.lead_mm, 0.2, why, least=0.1)
    wire = f"silicone lead, {BALANCE_AWG} AWG"
    why = "20 % for stripping and trimming"
    yield metres("balance wire", wire, balance_mm, 0.2, why)
    why = "one for a slip: a bent pin is not straightened"
    yield line("balance plug", f"balance plug, {series + 1} pins", packs, 1, why)
    if made.connector is not None and made.connector.chosen is not None:
        pair = f"connector pair, {made.connector.chosen.class_a:g} A class"
        yield line("connector", pair, packs, 1, "one to practise on")
    why = "one for the craft; a mate for each pack is bought with its pair"
    yield line("joining lead", "lead that joins the packs", 1 if packs > 1 else 0, 0, why)
    if settings.spacing_mm > 0:
        yield line("holders", "cell holder or spacer", cells, 0, "")
    if made.layout is not None:
        between = series - 1 if settings.spacing_mm == 0 else 0
        sheets = packs * (2 * made.layout.layers + between)
        yield line("insulation", "fish-paper or polyimide sheet", sheets, 1, "one to cut anew")
        least, middle, most = sorted(made.layout.box_mm)
        flat = with_unit(SLEEVE_OVER * (least + middle), "mm", 0)
        why = "as much again: a sleeve that shrank askew is cut off"
        yield metres("wrap", f"heat-shrink sleeve, lay-flat {flat}", most + least, 1.0, why)
    for use, choice in fuses.items():
        if choice is not None and choice.fuse is not None:
            fuse = f"{choice.fuse.name}, {choice.chosen_a:g} A, for the {use} lead"
            yield line("fuse", fuse, 1, 2, "two, since it may do its job")
