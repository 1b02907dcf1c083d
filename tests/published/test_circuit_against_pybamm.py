"""The stepped cell against a general library's Thevenin circuit with the same parameters.

Source: PyBaMM's equivalent-circuit model, solved to a relative 1e-7; and figures of the same library and of
scipy's LSODA noted once by hand, which agree with each other to a millisecond.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.published.simulated_cells import Circuit, circuit
from tests.reference.simulate import RcBranch, Segment, Simulation, Until, simulate
from workbook.battery.discharge import constant_power
from workbook.battery.heat import HeatPath
from workbook.battery.model import CellModel

pytestmark = pytest.mark.long

SMALL = Circuit(3.0, 20.0, 10.0, 2000.0, 45.0, 0.05, 0.95)
LARGE = Circuit(5.0, 30.0, 10.0, 2000.0, 68.0, 0.05, 0.999)
TO_THE_END = float("inf")
PULSED = [
    ("power", 12.0, 60.0),
    ("power", 45.0, 10.0),
    ("rest", 0.0, 30.0),
    ("current", 8.0, 20.0),
] * 4


def ours(case: Circuit, profile: list[Segment], step_s: float = 5.0) -> Simulation:
    depth = np.linspace(0.0, 1.0, 201)
    whole = case.series_mohm + case.branch_mohm
    model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, whole), case.capacity_ah, "curves")
    return simulate(
        model,
        profile,
        Until(landing_v=3.0),
        heat=HeatPath(case.stored_j_k, 0.0, 1.0 / case.loss_w_k),
        start_depth_of_discharge=1.0 - case.start_charge,
        branch=RcBranch(case.branch_mohm / whole, case.branch_mohm * case.branch_f / 1000.0),
        cold=False,
        step_s=step_s,
    )


def in_words(kind: str, value: float, duration_s: float) -> str:
    load = {
        "power": f"Discharge at {value} W",
        "current": f"Discharge at {value} A",
        "rest": "Rest",
    }
    end = "until 3.0 V" if np.isinf(duration_s) else f"for {duration_s:g} seconds"
    return f"{load[kind]} {end}"


@pytest.mark.parametrize("case", [SMALL, LARGE])
@pytest.mark.parametrize(
    ("kind", "value"), [("current", 3.0), ("current", 10.0), ("power", 15.0), ("power", 30.0)]
)
def test_steady_loads(case: Circuit, kind: str, value: float) -> None:
    theirs = circuit(case, (in_words(kind, value, TO_THE_END),))
    found = ours(case, [Segment(TO_THE_END, kind, value)])
    assert found.time_s == pytest.approx(theirs.time_s[-1], rel=1e-3)
    assert found.end_c == pytest.approx(theirs.temperature_c[-1], abs=0.2)
    assert found.charge_ah == pytest.approx(theirs.charge_ah[-1], rel=1e-3)
    at = theirs.time_s < float(found.time_s)
    volts = np.interp(theirs.time_s[at], found.trace.time_s, found.trace.voltage_v)
    warmth = np.interp(theirs.time_s[at], found.trace.time_s, found.trace.temperature_c)
    assert np.abs(volts - theirs.voltage_v[at]).max() < 0.002
    assert np.abs(warmth - theirs.temperature_c[at]).max() < 0.2


def test_a_pulsed_profile() -> None:
    """Climb, pulse, rest and current in turn; each change of load is a jump in both traces."""
    theirs = circuit(LARGE, tuple(in_words(k, v, t) for k, v, t in PULSED), 1.0)
    found = ours(LARGE, [Segment(t, k, v) for k, v, t in PULSED], step_s=1.0)
    assert found.end_text == "profile flown"
    assert found.time_s == pytest.approx(480.0)
    # compare inside the segments: at a change of load two voltages share one instant
    edges = np.cumsum([0.0] + [t for *_, t in PULSED])
    near = np.abs(theirs.time_s[:, None] - edges).min(axis=1) < 0.5
    inside = theirs.time_s[~near]
    assert inside.size > 400
    volts = np.interp(inside, found.trace.time_s, found.trace.voltage_v)
    warmth = np.interp(inside, found.trace.time_s, found.trace.temperature_c)
    assert np.abs(volts - theirs.voltage_v[~near]).max() < 0.002
    assert np.abs(warmth - theirs.temperature_c[~near]).max() < 0.2
    assert found.charge_ah == pytest.approx(theirs.charge_ah[-1], rel=1e-3)


@pytest.mark.parametrize(
    ("load", "time_s", "charge_ah", "energy_wh", "end_c", "end_charge"),
    [
        # PyBaMM 26.10.1.1, Thevenin, and scipy LSODA to the same digits
        (("power", 15.0), 2089.172, 2.47548, 8.70488, 35.9823, 0.124840),
        (("power", 30.0), 872.755, 2.10200, 7.27296, 54.2174, 0.249332),
        (("current", 3.0), 3150.000, 2.62500, 9.25363, 30.2357, 0.075000),
    ],
)
def test_figures_noted_once(load, time_s, charge_ah, energy_wh, end_c, end_charge) -> None:
    found = ours(SMALL, [Segment(TO_THE_END, *load)])
    assert found.time_s == pytest.approx(time_s, abs=0.01)
    assert found.charge_ah == pytest.approx(charge_ah, abs=2e-5)
    assert found.energy_wh == pytest.approx(energy_wh, abs=5e-5)
    assert found.end_c == pytest.approx(end_c, abs=0.01)
    assert 1.0 - found.end_depth_of_discharge == pytest.approx(end_charge, abs=2e-6)


def test_step_response_in_closed_form() -> None:
    """V = U - I R0 - I R1 (1 - exp(-t/tau)); 3 A: 4.08, 4.054370, 4.031494, 3.85, 3.45 V (by hand)."""
    found = ours(SMALL, [Segment(TO_THE_END, "current", 3.0)], step_s=2.0)
    volts = np.interp([0, 20, 60, 600, 1800], found.trace.time_s, found.trace.voltage_v)
    assert volts == pytest.approx([4.08, 4.054370, 4.031494, 3.85, 3.45], abs=1e-5)


@pytest.mark.parametrize(
    ("power_w", "resistance_mohm", "time_s"),
    [(15, 20, 2205.509), (30, 20, 986.233), (15, 30, 2088.559), (30, 30, 871.475)],
)
def test_constant_power_in_closed_form(power_w, resistance_mohm, time_s) -> None:
    """Resistance alone: t = 3600 Q / (2 P A) [F(E0 + A s0) - F(V + R P / V)], evaluated by hand; the first
    equals the library's run with its branch taken away."""
    depth = np.linspace(0.0, 1.0, 201)
    model = CellModel(depth, 4.2 - 1.2 * depth, np.full(201, float(resistance_mohm)), 3.0, "curves")
    run = constant_power(model, power_w, 3.0, start_depth_of_discharge=0.05)
    assert run.time_s == pytest.approx(time_s, abs=1e-3)


def test_endurance_against_an_independent_integration() -> None:
    """dq/dt = P / V in time, by scipy's solve_ivp, tolerances 1e-9, on a bent voltage and resistance."""
    depth = np.linspace(0.0, 1.0, 201)
    u = 3.0 + 1.1 * (1 - depth) ** 0.7 + 0.1 * np.cos(6 * depth)
    r = 20.0 + 30.0 * depth**4
    model = CellModel(depth, u, r, 4.0, "curves")
    for power_w, extra in ((6.0, 0.0), (15.0, 3.0), (35.0, 8.0)):

        def volts(q, power_w=power_w, extra=extra):
            e = np.interp(q / 4.0, depth, u)
            ohm = (np.interp(q / 4.0, depth, r) + extra) / 1000
            return 0.5 * (e + np.sqrt(e * e - 4 * power_w * ohm))

        ends = [lambda t, q: volts(q[0]) - 2.9, lambda t, q: 0.97 - q[0] / 4.0]
        for end in ends:
            end.terminal = True
        theirs = solve_ivp(
            lambda t, q, power_w=power_w: [power_w / volts(q[0]) / 3600],
            (0, 1e5),
            [0.0],
            events=ends,
            rtol=1e-9,
            atol=1e-9,
            max_step=60.0,
        )
        run = constant_power(model, power_w, 2.9, 0.97, extra_mohm=extra)
        assert run.time_s == pytest.approx(theirs.t[-1], rel=1e-4)  # 0.1 % is asked for
