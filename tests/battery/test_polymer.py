"""The generic lithium-polymer cell: its curves give back what was put in."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.battery.discharge import constant_power
from workbook.battery.polymer import DEPTH, OPEN_CIRCUIT_V, polymer_cell
from workbook.errors import InputError
from workbook.files.cell_check import check_cell, curve_resistance_mohm
from workbook.files.cell_file import read_cell, write_cell

LABELS = [
    (5.0, 110.0, 3.0, 30.0, 60.0),
    (1.3, 38.0, 9.0, 75.0, 120.0),
    (16.0, 330.0, 1.2, 15.0, 25.0),
]


@pytest.mark.parametrize("label", LABELS)
def test_curves_give_back_the_resistance_and_the_shape(label):
    cell = polymer_cell(*label)
    assert curve_resistance_mohm(cell.curves) == pytest.approx(label[2], rel=0.02)
    middle = (cell.model.depth_of_discharge > 0.1) & (cell.model.depth_of_discharge < 0.75)
    assert cell.model.resistance_mohm[middle] == pytest.approx(label[2], rel=0.02)
    expected = np.interp(cell.model.depth_of_discharge[middle], DEPTH, OPEN_CIRCUIT_V)
    assert cell.model.open_circuit_v[middle] == pytest.approx(expected, abs=0.005)
    assert cell.model.capacity_ah == pytest.approx(label[0])
    assert check_cell(cell).refusals == ()


def test_shape_lies_where_the_trade_finds_it():
    """Full 4.20 V, half about 3.80 to 3.85 V, mean 3.7 to 3.9 V (common practice, no source)."""
    assert OPEN_CIRCUIT_V[0] == 4.2
    assert 3.80 <= OPEN_CIRCUIT_V[10] <= 3.86
    assert 3.7 <= np.trapezoid(OPEN_CIRCUIT_V, DEPTH) <= 3.9
    assert (np.diff(OPEN_CIRCUIT_V) < 0).all()


def test_landing_early_leaves_charge():
    """Landing at 3.5 V under a gentle load uses most of it; at 3.7 V under load about three parts in
    four: the curve is flat, so the landing voltage decides much."""
    model = polymer_cell(5.0, 110.0, 3.0, 30.0, 60.0).model
    late, early = (float(constant_power(model, 20.0, v).end_depth_of_discharge) for v in (3.5, 3.7))
    assert late > 0.93
    assert 0.6 < early < late


def test_it_is_saved_like_any_cell(tmp_path):
    cell = polymer_cell(5.0, 110.0, 3.0, 30.0, 60.0)
    write_cell(cell, tmp_path / "flown.toml")
    assert read_cell(tmp_path / "flown.toml") == cell


def test_wrong_labels_are_named_together():
    with pytest.raises(InputError) as caught:
        polymer_cell(0.0, -1.0, float("nan"), 30.0, 20.0)
    assert [p.where for p in caught.value.problems] == [
        "capacity_ah",
        "mass_g",
        "resistance_mohm",
        "burst_c",
    ]
