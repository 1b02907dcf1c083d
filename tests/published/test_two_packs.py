"""Two unlike packs in parallel against the network solved independently: scipy's solve_ivp of both branches."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from workbook.battery.pack import Pack
from workbook.battery.two_packs import Joining, fly_pair
from workbook.files.cell_file import find_cell

SIGNS = ((1, 1), (1, -1), (-1, 1), (-1, -1))
"""Of the capacity and of the voltage, against the resistance: the ways in which two packs differ."""


GENTLE, HARD = (300.0, (30.0, 8.0, 0.05)), (600.0, (10.0, 3.0, 0.02))


@pytest.mark.parametrize(
    ("name", "watts", "apart"),
    [
        ("Bittern", *GENTLE),
        ("Sedge", *HARD),
        *(
            pytest.param(name, *flown, marks=pytest.mark.long)
            for name, flown in (
                ("Bittern", HARD), ("Sedge", GENTLE), ("Avocet", GENTLE), ("Avocet", HARD)
            )
        ),
    ],
)  # fmt: skip
def test_currents_through_the_flight(name, watts, apart):
    """Every current of every way within 0.1 % of the mean current, all along; the time within 0.1 %.

    The reference integrates both depths over time at constant power with the node voltage found by
    bisection, so that neither the root nor the step of the code is used.
    """
    cell, joining = find_cell(name), Joining(2, "parallel", *apart)
    whole = Pack(cell, 6, 4, 10.0, 100.0, 4.0)
    flight = fly_pair(joining, whole, watts, 0.8)
    model, joint = cell.model, 4.0 * 4 / 6  # of one cell: 8 mohm of each pack x 2 / 6
    r_half, q_half = apart[0] / 200.0, apart[1] / 200.0

    for way, (q_sign, v_sign) in enumerate(SIGNS):
        factor = np.array([1.0 - r_half, 1.0 + r_half])
        ah = model.capacity_ah * (1.0 + q_sign * q_half * np.array([-1.0, 1.0]))
        lower = np.interp(
            model.open_circuit_v[0] - apart[2],
            model.open_circuit_v[::-1],
            model.depth_of_discharge[::-1],
        )
        start = np.where(v_sign * np.array([-1.0, 1.0]) > 0, lower, 0.0)

        def currents(z, factor=factor):
            u = model.open_circuit_at(np.clip(z, 0.0, 1.0))
            r = (model.resistance_at(np.clip(z, 0.0, 1.0)) * factor + joint) / 1000.0
            low, high = 0.5 * u.min(), u.max()  # power falls with the voltage above half of U
            for _ in range(60):
                volts = 0.5 * (low + high)
                more = volts * ((u - volts) / r).sum() > watts / 12.0
                low, high = (volts, high) if more else (low, volts)
            return (u - volts) / r

        def grows(hours, z, ah=ah, currents=currents):
            return currents(z) / ah

        solved = solve_ivp(
            grows,
            (0.0, flight.hours[-1, way]),
            start,
            t_eval=flight.hours[:, way].clip(max=flight.hours[-1, way]),
            rtol=1e-8,
            atol=1e-10,
            max_step=flight.hours[-1, way] / 300,
        )
        amps = np.array([currents(z) for z in solved.y.T])
        assert flight.cell_a[:, way] == pytest.approx(amps, abs=1e-3 * amps.mean())
        # the planned charge is gone at the time that the code says
        assert (ah * (solved.y[:, -1] - start)).sum() == pytest.approx(
            2 * 0.8 * model.capacity_ah, rel=1e-3
        )
