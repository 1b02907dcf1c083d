"""Packs divided and put together again; alike they are one pack, unlike they follow Kirchhoff's laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.battery.two_packs import ONE_PACK, Joining, fly_pair, joining_currents
from workbook.files.cell_file import find_cell

CELL = find_cell("Sedge")
WHOLE = Pack(CELL, 6, 4, 10.0, 120.0, 4.0)
ALIKE = Joining(2, "parallel", 0.0, 0.0, 0.0)

packs = st.builds(
    lambda s, p, extra, joints: Pack(CELL, s, p, 10.0, extra, joints),
    st.integers(1, 12),
    st.integers(1, 12),
    st.floats(0, 500),
    st.floats(0, 40),
)


@given(packs, st.sampled_from(["parallel", "series"]))
def test_two_packs_together_are_the_whole(one, joined):
    """Mass, charge, energy and currents add up; joints as Ohm's law has them, in series or in parallel."""
    joining = Joining(2, joined)
    whole = joining.whole_of(one)
    assert joining.over(whole) == 0
    assert joining.one_of(whole) == one
    for figure in ("mass_g", "energy_wh", "cells"):
        assert getattr(whole, figure) == pytest.approx(2 * getattr(one, figure))
    adds, stays = ("capacity_ah", "full_v") if joined == "parallel" else ("full_v", "capacity_ah")
    assert getattr(whole, adds) == pytest.approx(2 * getattr(one, adds))
    assert getattr(whole, stays) == pytest.approx(getattr(one, stays))
    # of one cell's share of the joints nothing changes
    assert whole.joint_mohm_per_cell == pytest.approx(one.joint_mohm_per_cell)


def test_an_odd_count_leaves_a_cell_over():
    assert Joining(2, "parallel").over(Pack(CELL, 6, 3)) == 1
    assert Joining(2, "series").over(Pack(CELL, 6, 3)) == 0
    assert ONE_PACK.over(Pack(CELL, 6, 3)) == 0
    assert Joining(2, "parallel").over(Pack(CELL, 6, np.array([2, 3]))).tolist() == [0, 1]


@given(st.floats(100, 900), st.floats(0.1, 0.9))
def test_like_packs_fly_as_one(power_w, end):
    """Two equal packs in parallel carry what one pack of twice P carries: `constant_power` of its cell."""
    flight = fly_pair(ALIKE, WHOLE, power_w, end)
    run = constant_power(
        CELL.model, power_w / WHOLE.cells, 0.1, end, extra_mohm=WHOLE.joint_mohm_per_cell
    )
    assert flight.highest_share == pytest.approx(1.0)
    assert flight.highest_a == pytest.approx(float(run.end_a), rel=1e-6)
    assert flight.deepest == pytest.approx(end)
    # the run's energy is a trapezoid sum over the model's nodes, within 1e-5
    assert 3600.0 * flight.hours[-1].max() == pytest.approx(float(run.time_s), rel=2e-4)


def test_the_start_by_hand():
    """U 4.2 V, R1 18 and R2 22 mohm, joints 0, 12 A per cell on the mean: I1 = 2 x 12 x 22 / 40 = 13.2 A."""
    nodes = np.linspace(0, 1, 201)
    model = CellModel(nodes, 4.2 - 1.2 * nodes, np.full(201, 20.0), 5.0, "curves")
    cell = type("Straight", (), {"model": model, "mass_g": 50.0})()
    flight = fly_pair(Joining(2, "parallel", 20.0, 0.0, 0.0), Pack(cell, 1, 2), 80.0, 0.5)
    assert flight.cell_a[0].max() / flight.cell_a[0].mean() == pytest.approx(1.1)
    assert flight.highest_a_at(0.0, 12.0) == pytest.approx(13.2)
    # 0.04 V apart: the higher one carries 0.04 V / 40 mohm = 1 A more
    apart = fly_pair(Joining(2, "parallel", 20.0, 0.0, 0.04), Pack(cell, 1, 2), 80.0, 0.5)
    assert apart.highest_a_at(0.0, 12.0) == pytest.approx(14.2)


def test_arrays_are_their_single_designs():
    whole = Pack(CELL, np.array([6.0, 8.0]), np.array([4.0, 6.0]), joint_mohm=4.0)
    both = fly_pair(Joining(2, "parallel"), whole, np.array([400.0, 500.0]), np.array([0.8, 0.7]))
    for k, (s, p, watts, end) in enumerate(((6, 4, 400.0, 0.8), (8, 6, 500.0, 0.7))):
        one = fly_pair(Joining(2, "parallel"), Pack(CELL, s, p, joint_mohm=4.0), watts, end)
        assert both.highest_a[k] == pytest.approx(float(one.highest_a))
        assert both.highest_a_at(0.5, 15.0)[k] == pytest.approx(float(one.highest_a_at(0.5, 15.0)))


def test_a_power_that_cannot_be_had_is_nan():
    assert np.isnan(fly_pair(Joining(2, "parallel"), WHOLE, 1e5, 0.8).highest_a)


def test_joining_packs_that_differ():
    """6S2P each of R a cell and 8 mohm of joints: loop 2 x (3 R + 8) mohm; 0.02 V per cell is 0.12 V."""
    least = float(CELL.model.resistance_mohm.min())
    found = joining_currents(Joining(2, "parallel", apart_cell_v=0.02), WHOLE)
    assert found.loop_mohm == pytest.approx(2 * (3 * least + 8.0))
    assert found.apart_a == pytest.approx(120.0 / found.loop_mohm)
    assert found.most_a == pytest.approx(2 * CELL.max_charge_a)
    assert found.most_v == pytest.approx(found.most_a * found.loop_mohm / 1000.0)
