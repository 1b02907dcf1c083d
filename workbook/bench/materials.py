"""Bill of materials: what to buy, with spares, and what it costs where prices are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import Number

SPARE_CELLS_PCT = 10.0
SPARE_CELLS_LEAST = 2
"""Spare cells: 10 %, at least 2, for matching and for a spoilt weld. Common practice, no source."""


def spare_cells(cells: Number) -> Number:
    """Cells to buy beyond those built in: a tenth, rounded up, at least two.

    Source: common practice, no source.

    Example:
        >>> spare_cells(np.array([6, 24, 28])).tolist()
        [2.0, 3.0, 3.0]
    """
    tenth = np.ceil(np.asarray(cells, float)[()] * SPARE_CELLS_PCT / 100.0 - 1e-9)
    spare: Number = np.maximum(tenth, float(SPARE_CELLS_LEAST))
    return spare


@dataclass(frozen=True)
class Parts:
    """Plain counts and lengths of one pack; zero or empty where there is none.

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
        fuse_a: fuse for bench tests and charging, 0 for none.
        fuse_name: its family.
        holders: cell holders or spacers.
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
    fuse_a: float = 0.0
    fuse_name: str = "blade fuse"
    holders: int = 0


@dataclass(frozen=True)
class BillLine:
    """One line of the bill.

    Attributes:
        key: what prices are looked up by ("cells", "rings", "strip: nickel 0.15 x 8 mm", ...).
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
        source: where the spares come from.
    """

    lines: tuple[BillLine, ...]
    source: str = "spares: common practice, no source"

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
        prices: price of one piece or metre, in one currency, by line key.

    Raises:
        InputError: a count or length below zero, no cells, a price below zero, or a price for
            something that is not on the bill.

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
    wrong = [
        Problem(f"{name} is {value:g}; 0 or more is needed.", name)
        for name, value in (
            *((f"strip_mm, {k}", v) for k, v in parts.strip_mm.items()),
            ("series", parts.series),
            ("main_lead_mm", parts.main_lead_mm),
            ("balance_lead_mm", parts.balance_lead_mm),
            ("wrap_mm", parts.wrap_mm),
            ("insulation_sheets", parts.insulation_sheets),
            ("fuse_a", parts.fuse_a),
            ("holders", parts.holders),
            *((f"price of {k}", v) for k, v in (prices or {}).items()),
        )
        if not value >= 0
    ]
    if not parts.cells >= 1:
        wrong.append(Problem(f"cells is {parts.cells:g}; at least 1 is needed.", "cells"))
    if wrong:
        raise InputError(wrong)

    extra = float(spare_cells(parts.cells))
    rows: list[tuple[str, str, float, float, str, str]] = [
        (
            "cells",
            parts.cell_name,
            parts.cells,
            extra,
            "pieces",
            "10 %, at least 2, to match from; buy all from one batch",
        ),
        (
            "rings",
            "paper or fish-paper ring for the plus end",
            parts.cells,
            parts.cells + 2 * extra,
            "pieces",
            "one for every cell bought, as many again for torn ones",
        ),
    ]
    for name, length in parts.strip_mm.items():
        rows.append(
            (
                f"strip: {name}",
                f"strip, {name}",
                length / 1000.0,
                0.3 * length / 1000.0,
                "m",
                "30 % for trial welds and peel tests",
            )
        )
    if parts.main_lead_mm:
        both = 2.0 * parts.main_lead_mm / 1000.0
        rows.append(
            (
                "main lead",
                f"silicone lead, {parts.main_lead_awg} AWG, two colours",
                both,
                max(0.1, 0.2 * both),
                "m",
                "20 %, at least 0.1 m, for stripping and trimming",
            )
        )
    if parts.balance_lead_mm or parts.series:
        length = parts.balance_lead_mm / 1000.0
        rows.append(
            (
                "balance wire",
                f"silicone lead, {parts.balance_awg} AWG",
                length,
                0.2 * length,
                "m",
                "20 % for stripping and trimming",
            )
        )
    if parts.series:
        rows.append(
            (
                "balance plug",
                f"balance plug, {parts.series + 1} pins",
                1,
                1,
                "pieces",
                "one for a slip: a bent pin is not straightened",
            )
        )
    if parts.connector:
        rows.append(
            (
                "connector",
                f"connector pair, {parts.connector}",
                1,
                1,
                "pieces",
                "one to practise on",
            )
        )
    if parts.holders:
        rows.append(("holders", "cell holder or spacer", parts.holders, 0, "pieces", ""))
    if parts.insulation_sheets:
        rows.append(
            (
                "insulation",
                "fish-paper or polyimide sheet",
                parts.insulation_sheets,
                1,
                "pieces",
                "one to cut anew",
            )
        )
    if parts.wrap_mm:
        length = parts.wrap_mm / 1000.0
        rows.append(
            (
                "wrap",
                parts.wrap_name,
                length,
                length,
                "m",
                "as much again: a sleeve that shrank askew is cut off",
            )
        )
    if parts.fuse_a:
        rows.append(
            (
                "fuse",
                f"{parts.fuse_name}, {parts.fuse_a:g} A, for bench tests and charging",
                1,
                2,
                "pieces",
                "two, since it may do its job",
            )
        )
    unknown = set(prices or {}) - {row[0] for row in rows}
    if unknown:
        known = ", ".join(row[0] for row in rows)
        raise InputError(
            [
                Problem(
                    f'there is a price for "{key}", which is not on the bill ({known}).', "prices"
                )
                for key in sorted(unknown)
            ]
        )
    return Bill(
        tuple(
            BillLine(key, item, float(needed), float(spare), unit, (prices or {}).get(key), why)
            for key, item, needed, spare, unit, why in rows
            if needed + spare > 0
        )
    )
