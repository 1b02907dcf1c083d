"""Bill of materials."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from workbook.battery.pack import Pack
from workbook.bench.bench_settings import BenchSettings
from workbook.bench.bill import Bill, bill_of_materials, spare_cells
from workbook.bench.current_path import CurrentPath, current_path
from workbook.bench.fuse import choose_fuse
from workbook.files.cell_file import find_cell

CELL = replace(find_cell("Bittern"), price=None)
PACK = Pack(CELL, 6, 4)


@pytest.fixture(scope="module")
def made() -> CurrentPath:
    return current_path(PACK, 30.0, 50.0, 200.0, 10)


def bill_of(made: CurrentPath, **settings: Any) -> Bill:
    fuses = {"bench": choose_fuse(10.0, 25.2, 12), "charge": choose_fuse(4.0, 25.2, 16)}
    return bill_of_materials(
        PACK,
        made,
        BenchSettings(lead_mm=200.0, **settings),
        strip_name="nickel 0.15 x 8 mm",
        balance_mm=900.0,
        fuses=fuses,
    )


@pytest.mark.parametrize(
    ("cells", "spare"), [(1, 2), (20, 2), (21, 3), (24, 3), (30, 3), (140, 14)]
)
def test_spare_cells(cells: int, spare: int) -> None:
    # 10 % rounded up, at least 2
    assert spare_cells(cells) == spare


def test_every_part_is_on_the_bill_with_spares(made: CurrentPath) -> None:
    bill = bill_of(made, spacing_mm=1.0)
    lines = {line.key: line for line in bill.lines}
    assert set(lines) == {
        "cells",
        "rings",
        "strip",
        "main lead",
        "balance wire",
        "balance plug",
        "connector",
        "holders",
        "insulation",
        "wrap",
        "fuse",
    }
    assert made.strips is not None
    assert made.layout is not None
    assert lines["cells"].buy == 27
    assert lines["rings"].buy == 2 * 27
    assert lines["main lead"].needed == pytest.approx(0.4)  # out and back
    assert [line.item for line in bill.lines[-2:]] == [
        "blade, 32 V, 15 A, for the bench lead",
        "blade, 32 V, 5 A, for the charge lead",
    ]
    assert lines["strip"].buy == pytest.approx(1.3 * made.strips.strip_mm / 1000.0)
    assert lines["balance plug"].item == "balance plug, 7 pins"
    assert lines["holders"].buy == 24
    assert lines["insulation"].needed == 2 * made.layout.layers  # a holder parts the groups
    short, _, long = sorted(made.layout.box_mm)
    assert lines["wrap"].buy == pytest.approx(2.0 * (short + long) / 1000.0)


def test_without_holders_a_sheet_parts_the_groups(made: CurrentPath) -> None:
    (sheets,) = (line for line in bill_of(made).lines if line.key == "insulation")
    assert made.layout is not None
    assert sheets.needed == 2 * made.layout.layers + 5


def test_two_packs_are_bought_for_together(made: CurrentPath) -> None:
    lines = {line.key: line for line in bill_of(made, packs=2).lines}
    assert lines["cells"].needed == 48
    assert lines["joining lead"].buy == 1
    assert lines["connector"].buy == 3


def test_cost_counts_only_what_has_a_price(made: CurrentPath) -> None:
    bill = bill_of(made, prices={"cells": 5.0, "main lead": 2.0, "holders": 9.0})
    assert bill.cost == pytest.approx(27 * 5.0 + 0.5 * 2.0)  # no holder is bought
    assert {line.key for line in bill.lines if line.price is not None} == {"cells", "main lead"}
    assert "connector pair, 90 A class" in bill.unpriced
    assert len(bill.unpriced) == len(bill.lines) - 2


def test_what_cannot_be_planned_is_not_bought(made: CurrentPath) -> None:
    bare = replace(
        made, layout=None, strips=None, connector=None, wire=replace(made.wire, chosen=None)
    )
    bill = bill_of_materials(PACK, bare, BenchSettings())
    assert [line.key for line in bill.lines] == ["cells", "rings", "balance plug"]
    assert bill.cost == 0
