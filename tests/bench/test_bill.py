"""Bill of materials."""

import pytest

from workbook.bench.bill import Parts, bill_of_materials, spare_cells


def parts(**changes):
    return Parts(
        **{
            "cells": 24,
            "cell_name": "energy cell, 21700",
            "series": 6,
            "strip_mm": {"nickel 0.2 x 10 mm": 1000.0, "copper 0.1 x 10 mm": 500.0},
            "main_lead_mm": 200.0,
            "balance_lead_mm": 900.0,
            "connector": "60 A class",
            "wrap_mm": 250.0,
            "insulation_sheets": 4,
            "fuses": ("blade, 15 A", "blade, 5 A"),
            "holders": 48,
        }
        | changes
    )


@pytest.mark.parametrize(
    ("cells", "spare"), [(1, 2), (20, 2), (21, 3), (24, 3), (30, 3), (140, 14)]
)
def test_spare_cells(cells, spare):
    # 10 % rounded up, at least 2
    assert spare_cells(cells) == spare


def test_every_part_is_on_the_bill_with_spares():
    bill = bill_of_materials(parts())
    lines = {line.item if line.key == "strip" else line.key: line for line in bill.lines}
    assert set(lines) == {
        "cells",
        "rings",
        "strip, nickel 0.2 x 10 mm",
        "strip, copper 0.1 x 10 mm",
        "main lead",
        "balance wire",
        "balance plug",
        "connector",
        "holders",
        "insulation",
        "wrap",
        "fuse",
    }
    assert lines["cells"].buy == 27
    assert lines["rings"].buy == 2 * 27
    assert lines["main lead"].needed == pytest.approx(0.4)  # out and back
    assert [line.item for line in bill.lines[-2:]] == ["blade, 15 A", "blade, 5 A"]
    assert lines["strip, nickel 0.2 x 10 mm"].buy == pytest.approx(1.3)
    assert lines["balance plug"].item == "balance plug, 7 pins"


def test_cost_counts_only_what_has_a_price():
    bill = bill_of_materials(parts(holders=0), {"cells": 5.0, "strip": 2.0, "holders": 9.0})
    # 27 x 5 + 1.3 m x 2 + 0.65 m x 2; no holder is bought
    assert bill.cost == pytest.approx(138.9)
    assert {line.key for line in bill.lines if line.price is not None} == {"cells", "strip"}
    assert "connector pair, 60 A class" in bill.unpriced
    assert len(bill.unpriced) == len(bill.lines) - 3


def test_bare_parts():
    bill = bill_of_materials(Parts(cells=4))
    assert [line.key for line in bill.lines] == ["cells", "rings"]
    assert bill.cost == 0
