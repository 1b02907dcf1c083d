"""Current sharing against closed forms and a general solver; drawn packs against order statistics."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.stats import norm

from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.battery.spread import draw_cells, highest_shares, pack_spread
from workbook.errors import InputError
from workbook.files.cell_file import find_cell

NODES = np.linspace(0, 1, 201)
STRAIGHT = CellModel(NODES, 4.2 - 1.2 * NODES, np.full(201, 20.0), 5.0, "curves")
BITTERN = find_cell("Bittern").model


def test_like_cells_share_evenly():
    assert highest_shares(BITTERN, 8.0, np.ones(4)) == pytest.approx(np.ones(4))


def test_the_start_is_kirchhoffs_divider():
    """Equal open-circuit voltages: currents as 1 / R; the cell that leads never carries more than then."""
    factor = np.array([0.8, 1.0, 1.3])
    highest = highest_shares(STRAIGHT, 10.0, factor)
    assert highest[0] == pytest.approx(1 / 0.8 / (1 / factor).mean())


def test_a_pair_against_its_closed_form():
    """Two cells, U = 4.2 - 1.2 z, R1 and R2 constant. With d = z1 - z2 and total current 2 I:
    I1 - I2 = (-2 x 1.2 d + 2 I (R2 - R1)) / (R1 + R2), d' = (I1 - I2) / Q, so d runs to
    I (R2 - R1) / 1.2 with the time constant Q (R1 + R2) / 2.4, and the second carries most at the end:
    there 4.2 - 1.2 (I t / Q + d / 2) - I1 R1 is the landing voltage, t found by bisection."""
    r1, r2, amps, q = 0.016, 0.024, 10.0, 5.0

    def at(hours):
        gap = amps * (r2 - r1) / 1.2 * (1 - np.exp(-2.4 * hours / (q * (r1 + r2))))
        half = (-1.2 * gap + amps * (r2 - r1)) / (r1 + r2)
        return 4.2 - 1.2 * (amps * hours / q + gap / 2) - (amps + half) * r1, half

    end = brentq(lambda hours: at(hours)[0] - 3.2, 0.0, 0.5)
    highest = highest_shares(STRAIGHT, amps, np.array([0.8, 1.2]), landing_v=3.2)
    assert highest[0] == pytest.approx(1.2)  # the start: 2 R2 / (R1 + R2)
    assert highest[1] == pytest.approx(1 - at(end)[1] / amps, abs=2e-3)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_against_a_general_solver(seed):
    """Four unlike cells, the invented cell's curved U(z) and R(z), by scipy's solve_ivp to 1e-9."""
    rng = np.random.default_rng(seed)
    factor, capacity = rng.uniform(0.8, 1.25, 4), rng.uniform(0.95, 1.05, 4)
    amps = 8.0

    def currents(z):
        u = np.interp(z, BITTERN.depth_of_discharge, BITTERN.open_circuit_v)
        r = np.interp(z, BITTERN.depth_of_discharge, BITTERN.resistance_mohm) * factor / 1000.0
        volts = ((u / r).sum() - 4 * amps) / (1 / r).sum()
        return (u - volts) / r, volts

    def landing(_, z):
        return currents(z)[1] - 3.0

    landing.terminal = True
    solved = solve_ivp(
        lambda _, z: currents(z)[0] / (BITTERN.capacity_ah * capacity),
        (0.0, 1.0),
        np.zeros(4),
        events=landing,
        rtol=1e-9,
        atol=1e-11,
        max_step=1e-3,
    )
    found = highest_shares(BITTERN, amps, factor, capacity, landing_v=3.0)
    highest = np.max([currents(z)[0] for z in solved.y.T], axis=0) / amps
    assert found == pytest.approx(highest, rel=0.01)


def test_many_groups_at_once_agree_with_one_at_a_time():
    resistance, capacity = draw_cells(3, 4, 5)
    amps = np.full((5, 3), 6.0)
    amps[2] = 9.0
    together = highest_shares(BITTERN, amps, resistance, capacity)
    for d in range(5):
        for s in range(3):
            alone = highest_shares(BITTERN, amps[d, s], resistance[d, s], capacity[d, s])
            assert together[d, s] == pytest.approx(alone)


def test_halving_the_step_hardly_matters():
    factor = np.array([0.8, 1.0, 1.2])
    coarse, fine = (highest_shares(BITTERN, 8.0, factor, steps=n) for n in (200, 800))
    assert coarse == pytest.approx(fine, rel=0.02)


def test_a_group_already_under_the_landing_voltage_has_its_start_alone():
    """As 1 / R: 2 R2 / (R1 + R2) and 2 R1 / (R1 + R2)."""
    found = highest_shares(STRAIGHT, 10.0, np.array([0.8, 1.2]), landing_v=4.1)
    assert found == pytest.approx([1.2, 0.8])


def test_draws_have_the_spread_that_is_stated_and_are_the_same_each_time():
    resistance, capacity = draw_cells(10, 10, 1000)
    assert capacity.mean() == pytest.approx(1.0, abs=2.5e-4)
    assert capacity.std() == pytest.approx(0.01, rel=0.02)
    assert resistance.std() == pytest.approx(0.05, rel=0.02)
    assert np.abs(capacity - 1.0).max() <= 0.03 + 1e-12
    assert np.array_equal(draw_cells(10, 10, 1000)[1], capacity)


@pytest.mark.parametrize(("series", "parallel"), [(2, 1), (4, 2), (6, 4)])
def test_the_weakest_group_against_order_statistics(series, parallel):
    """1 % over the root of P cells a group; the least of S is below z in one pack of 20 where a single one is with
    the chance 1 - 0.95 ** (1 / S)."""
    spread = pack_spread(Pack(find_cell("Bittern"), series, parallel), 8.0 * parallel, draws=4000)
    z = -norm.ppf(1 - 0.95 ** (1 / series))
    assert spread.poor_lost_pct == pytest.approx(z / np.sqrt(parallel), rel=0.05)


def test_a_pack_is_only_as_good_as_its_worst_cell():
    pack = Pack(find_cell("Bittern"), 4, 2)
    assert 1.0 < pack_spread(pack, 16.0).poor_share < 1.3
    assert pack_spread(Pack(pack.cell, 4, 1), 8.0).poor_share == 1.0
    with pytest.raises(InputError, match="pack_a: 0 is not possible"):
        pack_spread(pack, 0.0)
