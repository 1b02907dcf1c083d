"""A cell's datasheet read: at one charge, at one's own current, and beside its model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import straight_cell
from workbook.errors import InputError
from workbook.files.cell_file import find_cell


def test_reading_and_own_curve_of_a_straight_cell():
    # U = 4.2 - 1.2 z, 30 mohm, 5 Ah: at 2.5 Ah 3.6 V at rest; at 10 A 3.3 V. Down to 3.1 V at 10 A:
    # 4.2 - 1.2 z - 0.3 = 3.1, z = 2/3, 3.333 Ah; mean (3.9 + 3.1) / 2 = 3.5 V, 11.667 Wh.
    cell = straight_cell()
    reading = cell.read_at(2.5)
    assert reading.resistance_mohm == pytest.approx(30.0)
    assert reading.rest_v == pytest.approx(3.6)
    assert reading.voltage_v == pytest.approx([3.57, 3.45, 3.3])
    curve = cell.curve_at(10.0, 3.1)
    assert float(curve.run.charge_ah) == pytest.approx(10 / 3)
    assert curve.mean_v == pytest.approx(3.5)
    assert float(curve.run.energy_wh) == pytest.approx(35 / 3)
    assert curve.voltage_v[-1] == pytest.approx(3.1)


def test_a_charge_that_too_few_curves_reach_is_told():
    with pytest.raises(InputError, match="two are needed"):
        find_cell("Sandpiper").read_at(3.0)


def test_report_gives_each_curve_with_its_residuals() -> None:
    report = straight_cell().fit_report()
    assert [c.current_a for c in report.curves] == [1.0, 5.0, 10.0]
    for curve in report.curves:
        assert curve.voltage_v - curve.residual_mv / 1000 == pytest.approx(curve.model_v)
        assert curve.rms_mv <= curve.worst_mv < 0.01  # V = U - I R exactly
    assert report.held_out_rms_mv < 0.01


def test_a_plan_counts_on_the_rated_charge() -> None:
    """Issue: plans that counted on the curves' typical charge were 2 to 5 % long."""
    typical = straight_cell(capacity_ah=5.0)  # curves end at 5.0 Ah
    cell = replace(typical, rated_capacity_ah=4.8)
    assert cell.datasheet_model.capacity_ah == 5.0
    assert cell.model.capacity_ah == pytest.approx(4.8)
    # by hand: at equal depth nothing else differs
    assert np.array_equal(cell.model.resistance_mohm, cell.datasheet_model.resistance_mohm)
    # curves that stop early keep their distance: 4.0 Ah x 4.8 / 5.0
    early = replace(cell, curves=straight_cell(capacity_ah=4.0).curves, typical_capacity_ah=5.0)
    assert early.model.capacity_ah == pytest.approx(4.0 * 4.8 / 5.0)
    # a cell rated above what its curves give is not made better than they are
    assert replace(early, rated_capacity_ah=5.0).model.capacity_ah == 4.0


def test_without_curves_the_rated_charge_counts_too() -> None:
    cell = replace(straight_cell(capacity_ah=5.0), rated_capacity_ah=4.8, curves=())
    assert cell.model.capacity_ah == pytest.approx(4.8)
