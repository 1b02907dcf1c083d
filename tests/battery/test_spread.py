"""Current sharing against closed forms and a general solver; drawn packs against order statistics."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from workbook.battery.model import CellModel
from workbook.battery.pack import Pack
from workbook.battery.spread import draw_cells, pack_spread, share_current, weakest_group
from workbook.errors import InputError
from workbook.files.cell_file import find_cell

NODES = np.linspace(0, 1, 201)
STRAIGHT = CellModel(NODES, 4.2 - 1.2 * NODES, np.full(201, 20.0), 5.0, "curves")
BITTERN = find_cell("Bittern").model


def test_like_cells_share_evenly():
    run = share_current(BITTERN, 8.0, np.ones(4))
    assert run.start_share == pytest.approx(np.ones(4))
    assert run.highest_share == pytest.approx(np.ones(4))


def test_the_start_is_kirchhoffs_divider():
    """Equal open-circuit voltages: currents as 1 / R."""
    factor = np.array([0.8, 1.0, 1.3])
    run = share_current(STRAIGHT, 10.0, factor)
    assert run.start_share == pytest.approx((1 / factor) / (1 / factor).mean())


def test_a_pair_against_its_closed_form():
    """Two cells, U = 4.2 - 1.2 z, R1 and R2 constant. With d = z1 - z2 and total current 2 I:
    I1 - I2 = (-2 x 1.2 d + 2 I (R2 - R1)) / (R1 + R2), d' = (I1 - I2) / Q, so d runs to
    I (R2 - R1) / 1.2 with the time constant Q (R1 + R2) / 2.4."""
    r1, r2, amps, q = 0.016, 0.024, 10.0, 5.0
    run = share_current(STRAIGHT, amps, np.array([0.8, 1.2]), landing_v=3.2)
    charge = float(run.end_charge_ah)
    hours = charge / amps
    tau_h = q * (r1 + r2) / 2.4
    gap = amps * (r2 - r1) / 1.2 * (1 - np.exp(-hours / tau_h))
    assert run.end_depth_of_discharge[0] - run.end_depth_of_discharge[1] == pytest.approx(
        gap, rel=2e-3
    )
    assert run.end_depth_of_discharge.sum() * q / 2 == pytest.approx(charge, rel=1e-9)
    # the landing voltage: mean of U_i - I_i R_i at that time
    half = (-1.2 * gap + amps * (r2 - r1)) / (r1 + r2)
    volts = 4.2 - 1.2 * run.end_depth_of_discharge[0] - (amps + half) * r1
    assert volts == pytest.approx(3.2, abs=2e-4)
    assert run.highest_share[0] == pytest.approx(1.2)  # the start: 2 R2 / (R1 + R2)


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
    run = share_current(BITTERN, amps, factor, capacity, landing_v=3.0)
    assert run.end_charge_ah == pytest.approx(solved.t[-1] * amps, rel=1e-3)
    assert run.end_depth_of_discharge == pytest.approx(solved.y[:, -1], abs=2e-3)
    highest = np.max([currents(z)[0] for z in solved.y.T], axis=0) / amps
    assert run.highest_share == pytest.approx(highest, rel=0.01)


def test_many_groups_at_once_agree_with_one_at_a_time():
    cells = draw_cells(3, 4, 5, seed=4)
    amps = np.full((5, 3), 6.0)
    amps[2] = 9.0
    together = share_current(BITTERN, amps, cells.resistance_factor, cells.capacity_factor)
    for d in range(5):
        for s in range(3):
            alone = share_current(
                BITTERN, amps[d, s], cells.resistance_factor[d, s], cells.capacity_factor[d, s]
            )
            assert together.hottest_share[d, s] == pytest.approx(alone.hottest_share)
            assert together.end_charge_ah[d, s] == pytest.approx(alone.end_charge_ah)
            assert together.end_depth_of_discharge[d, s] == pytest.approx(
                alone.end_depth_of_discharge
            )


def test_halving_the_step_hardly_matters():
    factor = np.array([0.8, 1.0, 1.2])
    coarse, fine = (share_current(BITTERN, 8.0, factor, steps=n) for n in (200, 800))
    assert coarse.hottest_share == pytest.approx(fine.hottest_share, rel=0.02)
    assert coarse.end_charge_ah == pytest.approx(fine.end_charge_ah, rel=2e-3)


def test_a_group_already_under_the_landing_voltage_gives_nothing():
    run = share_current(STRAIGHT, 10.0, np.array([0.8, 1.2]), landing_v=4.1)
    assert run.end_charge_ah == 0.0
    assert run.end_depth_of_discharge.tolist() == [0.0, 0.0]


def test_the_same_seed_gives_the_same_pack():
    a, b, c = (draw_cells(4, 3, 50, seed=s) for s in (7, 7, 8))
    assert np.array_equal(a.capacity_factor, b.capacity_factor)
    assert not np.array_equal(a.capacity_factor, c.capacity_factor)


def test_draws_have_the_spread_asked_for():
    cells = draw_cells(10, 10, 1000, capacity_spread_pct=2.0, resistance_spread_pct=8.0)
    assert cells.capacity_factor.mean() == pytest.approx(1.0, abs=5e-4)
    assert cells.capacity_factor.std() == pytest.approx(0.02, rel=0.02)
    assert cells.resistance_factor.std() == pytest.approx(0.08, rel=0.02)
    assert np.abs(cells.capacity_factor - 1.0).max() <= 0.06 + 1e-12


# Mean of the least of n standard normal draws: Harter, Biometrika 48 (1961), table 1 (from memory).
@pytest.mark.parametrize(("series", "least"), [(2, -0.56419), (4, -1.02938), (6, -1.26721)])
@pytest.mark.parametrize("parallel", [1, 4])
def test_weakest_group_against_order_statistics(series, least, parallel):
    cells = draw_cells(series, parallel, 40000, capacity_spread_pct=2.0, seed=3)
    expected = 1.0 + 0.02 / np.sqrt(parallel) * least
    assert weakest_group(cells.capacity_factor).mean() == pytest.approx(expected, abs=4e-4)


def test_a_pack_is_only_as_good_as_its_worst_cell_and_weakest_group():
    pack = Pack(find_cell("Bittern"), 4, 2)
    spread = pack_spread(pack, 16.0)
    assert 1.0 < spread.poor_share < 1.3
    # 1 % over the root of two cells a group; the least of four is below z in one pack of 20 where a single one is in
    # one of 78.5 (1 - 0.95 ** (1 / 4)): z = -2.234 of the normal distribution
    assert spread.poor_lost_pct == pytest.approx(2.234 / np.sqrt(2), abs=0.15)
    alone = pack_spread(Pack(pack.cell, 4, 1), 8.0)
    assert alone.poor_share == 1.0
    with pytest.raises(InputError, match="pack_a: 0 cannot be"):
        pack_spread(pack, 0.0)


def test_wrong_figures_are_named_together():
    with pytest.raises(InputError) as caught:
        draw_cells(0, 0, 0, capacity_spread_pct=-1.0, resistance_spread_pct=99.0)
    assert len(caught.value.problems) == 5
