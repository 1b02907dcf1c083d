"""Phases of constant power on one cell: against a general solver, a fine-stepped one, a quadrature, and by laws."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from tests.reference.simulate import Segment, Until, simulate
from workbook.battery.discharge import constant_power
from workbook.battery.heat import HeatPath
from workbook.battery.model import CellModel
from workbook.battery.power_phases import PowerPhase, power_phases
from workbook.errors import InputError
from workbook.files.cell_file import find_cell

DEPTH = np.linspace(0.0, 1.0, 201)
LINE = CellModel(DEPTH, 4.2 - 1.2 * DEPTH, np.full(201, 30.0), 5.0, "curves")
BENT = find_cell("Sandpiper").model
PATH = HeatPath(65.0, 2.0, 18.0)
STATE: dict[str, float] = {"extra_mohm": 2.0, "resistance_factor": 1.2, "capacity_factor": 0.9}
ENDS: dict[str, float] = {"cutoff_v": 2.5, "landing_v": 3.0, "last_depth_of_discharge": 0.9}
LAUNCH_CLIMB_LOITER = (np.array([45.0, 30.0, 0.0, 12.0]), np.array([8.0, 95.0, 60.0, 700.0]))


def flown(power_w: Any, duration_s: Any, model: CellModel = BENT, **change: Any) -> Any:
    return power_phases(model, np.array(power_w), np.array(duration_s), **(ENDS | STATE | change))


def warmed(phases: tuple[PowerPhase, ...], path: HeatPath, above_k: float) -> list[float]:
    """Above the air at the end of each phase."""
    found = []
    for phase in phases:
        heat = (phase.time_s, phase.heat_w, phase.heat_j)
        above_k = float(path.above_air_k(*heat, above_k)[-1])
        found.append(above_k)
    return found


def sagged_v(depth: float, power_w: float, model: CellModel = BENT) -> tuple[float, float, float]:
    """U, the cell's own resistance in ohm, and V, straight from their definition."""
    u, own = (
        float(np.interp(depth, model.depth_of_discharge, row))
        for row in (model.open_circuit_v, model.resistance_mohm * 1.2e-3)
    )
    return u, own, 0.5 * (u + max(u * u - 4.0 * power_w * (own + 0.002), 0.0) ** 0.5)


def test_depth_and_warmth_agree_with_a_general_solver() -> None:
    """scipy.integrate.solve_ivp (LSODA, 1e-12) on dz/dt = P / (V 3600 Q) and C dT/dt = I^2 R - G T.

    Steps no longer than a node keep it from stepping over the bends of U and R."""

    def rates(_: float, state: np.ndarray, power_w: float) -> list[float]:
        _, own, volts = sagged_v(state[0], power_w)
        amps = power_w / volts
        heat_w = amps**2 * own - state[1] / 20.0
        return [amps / (3600.0 * BENT.capacity_ah * 0.9), heat_w / 65.0]

    phases = flown(*LAUNCH_CLIMB_LOITER)
    state = [0.0, -3.0]
    for phase, above_k, power_w, seconds in zip(
        phases, warmed(phases, PATH, -3.0), *LAUNCH_CLIMB_LOITER, strict=True
    ):
        solved = solve_ivp(
            rates,
            (0.0, seconds),
            state,
            "LSODA",
            args=(power_w,),
            rtol=1e-12,
            atol=1e-13,
            max_step=2.0,
        )
        state = [float(y) for y in solved.y[:, -1]]
        assert phase.depth_of_discharge[-1] == pytest.approx(state[0], rel=1e-9)
        assert above_k == pytest.approx(state[1], rel=1e-7)
        assert phase.voltage_v[-1] == pytest.approx(sagged_v(state[0], power_w)[2], rel=1e-9)


def test_a_stepped_cell_comes_nearer_the_finer_its_steps() -> None:
    """The Runge-Kutta steps of `tests.reference.simulate`: at a quarter of a second nothing is between them."""
    phases = flown(*LAUNCH_CLIMB_LOITER)

    def off(step_s: float) -> np.ndarray:
        """Relative errors of the stepped one: depth, warmth, current and voltage at the end, highest of all."""
        stepped = simulate(
            BENT,
            [Segment(s, "power", p) for p, s in zip(*LAUNCH_CLIMB_LOITER, strict=True)],
            Until(landing_v=2.5),
            heat=PATH,
            air_c=20.0,
            cold=False,
            step_s=step_s,
            **STATE,
        )
        ours = [
            phases[-1].depth_of_discharge[-1],
            warmed(phases, PATH, 0.0)[-1],
            phases[-1].current_a[-1],
            max(phase.current_a.max() for phase in phases),
        ]
        theirs = [
            stepped.end_depth_of_discharge,
            stepped.end_c - 20.0,
            stepped.end_a,
            stepped.highest_a,
        ]
        return np.abs(np.array(theirs) / np.array(ours) - 1.0)

    assert off(0.25).max() < 1e-6
    assert off(20.0).max() > 10 * off(0.25).max()


@pytest.mark.parametrize("cutoff_v", [2.5, 1.0])
@pytest.mark.parametrize("power_w", [5.0, 40.0, 80.0, 150.0])
def test_time_is_the_integral_of_the_voltage(power_w: float, cutoff_v: float) -> None:
    """scipy.integrate.quad over each piece of t = 3600 Q / P x integral of V dz, down to where the power gives out."""
    (phase,) = flown([power_w], [1e6], cutoff_v=cutoff_v)
    depth = phase.depth_of_discharge
    area = sum(
        quad(lambda z: sagged_v(z, power_w)[2], a, b, epsrel=1e-12)[0] for a, b in pairwise(depth)
    )
    assert not phase.flown
    assert phase.time_s[-1] == pytest.approx(
        3600 * BENT.capacity_ah * 0.9 / power_w * area, rel=1e-10
    )


@pytest.mark.parametrize("power_w", [10.0, 40.0, 80.0])
def test_the_planned_end_is_that_of_a_steady_flight(power_w: float) -> None:
    """`constant_power` sums trapezoids: within 1e-5."""
    (phase,) = flown([power_w], [1e6])
    steady = constant_power(BENT, power_w, 3.0, 0.9, **STATE)
    assert phase.ends_s == pytest.approx(float(steady.time_s), rel=1e-5)
    assert phase.ends_by == ("landing voltage" if steady.landed else "reserve")


@given(st.floats(0.5, 60.0), st.floats(0.0, 400.0), st.floats(0.01, 0.99), st.floats(0.01, 100.0))
def test_a_phase_in_two_parts_is_the_same_phase(
    power_w: float, seconds: float, part: float, surface_k_w: float
) -> None:
    path = replace(PATH, surface_k_w=surface_k_w)
    whole = flown([power_w], [seconds])
    parts = flown([power_w] * 2, [part * seconds, (1 - part) * seconds])
    assert parts[-1].flown == whole[-1].flown
    assert parts[-1].depth_of_discharge[-1] == pytest.approx(
        whole[0].depth_of_discharge[-1], rel=1e-12, abs=1e-14
    )
    assert max(p.current_a.max() for p in parts) == pytest.approx(
        whole[0].current_a.max(), rel=1e-9
    )
    assert warmed(parts, path, 5.0)[-1] == pytest.approx(warmed(whole, path, 5.0)[-1], rel=1e-6)


def test_a_phase_of_no_length_changes_nothing() -> None:
    plain, beside = flown([20.0, 12.0], [60.0, 60.0]), flown([20.0, 40.0, 12.0], [60.0, 0.0, 60.0])
    assert beside[1].flown
    assert beside[1].time_s.tolist() == [0.0, 0.0]
    assert beside[2].depth_of_discharge[-1] == plain[1].depth_of_discharge[-1]
    assert warmed(beside, PATH, 0.0)[-1] == pytest.approx(warmed(plain, PATH, 0.0)[-1], rel=1e-12)


def test_a_cell_at_rest_only_cools() -> None:
    """By hand: what it has above the air goes down as exp(-t / 1300 s)."""
    (rest,) = flown([0.0], [650.0])
    assert rest.flown
    assert rest.depth_of_discharge.tolist() == [0.0, 0.0]
    assert rest.current_a.tolist() == [0.0, 0.0]
    assert rest.voltage_v[0] == BENT.open_circuit_v[0]
    assert warmed((rest,), PATH, 12.0) == pytest.approx([12.0 * np.exp(-0.5)])


def test_power_out_of_reach_from_the_start_is_stated_at_once() -> None:
    """By hand: U^2 / (4 R) = 4.2^2 / 0.12 = 147 W; of 200 W the most current is 4.2 / 0.06 = 70 A at 2.1 V."""
    (phase,) = power_phases(LINE, 200.0, 60.0, **ENDS)
    assert (phase.flown, phase.ends_by, phase.ends_s) == (False, "power out of reach", 0.0)
    assert (phase.current_a[0], phase.voltage_v[0]) == pytest.approx((70.0, 2.1))
    assert phase.heat_w[0] == pytest.approx(70.0**2 * 0.030)


def test_power_that_gives_out_on_the_way() -> None:
    """U^2 = 4 P R: 100 W, 30 mohm at U = 3.4641 V, z = 0.61325, where V = U / 2 = 1.732 V."""
    (phase,) = power_phases(LINE, 100.0, 1e4, **(ENDS | {"cutoff_v": 1.0, "landing_v": 1.0}))
    assert phase.ends_by == "power out of reach"
    assert phase.depth_of_discharge[-1] == pytest.approx((4.2 - np.sqrt(12.0)) / 1.2)
    assert phase.voltage_v[-1] == pytest.approx(np.sqrt(3.0), rel=1e-6)
    assert phase.time_s[-1] == phase.ends_s


def test_a_cell_that_is_empty_in_the_middle_flies_no_further() -> None:
    """30 W of 5 Ah at 3.4 V last for about 2000 s; the planned end comes in the phase before the last that is flown."""
    ends = ENDS | {"landing_v": 2.5}
    phases = power_phases(LINE, 30.0, np.array([1500.0, 400.0, 600.0, 60.0]), **ends)
    assert [phase.flown for phase in phases] == [True, True, False]
    assert [phase.ends_by for phase in phases] == ["", "reserve", "reserve"]
    assert phases[1].ends_s + 1500.0 == pytest.approx(
        float(constant_power(LINE, 30.0, 2.5, 0.9).time_s), rel=1e-5
    )
    assert phases[2].ends_s == 0.0  # it began past the planned end
    assert phases[2].depth_of_discharge[-1] == pytest.approx(
        float(constant_power(LINE, 30.0, 2.5).end_depth_of_discharge)
    )


def test_a_cell_that_cold_leaves_no_charge_rests_and_flies_nothing() -> None:
    rest, hover = flown([0.0, 12.0], [10.0, 10.0], capacity_factor=0.0)
    assert [rest.flown, hover.flown] == [True, False]
    assert (hover.ends_by, hover.ends_s, hover.time_s.tolist()[-1]) == ("reserve", 0.0, 0.0)


def test_a_launch_may_go_where_the_flight_may_not() -> None:
    """80 W sag the full cell to 3.5 V: below a landing voltage of 3.6 V, above the cutoff voltage."""
    lands_v = np.array([2.5, 3.6])
    launch, on = power_phases(LINE, 80.0, np.array([5.0, 5.0]), **(ENDS | {"landing_v": lands_v}))
    assert launch.voltage_v.min() < 3.6
    assert (launch.ends_by, on.ends_by, on.ends_s) == ("", "landing voltage", 0.0)
    assert on.flown


@given(st.floats(-9.0, 9.0))
def test_many_cells_as_one_fly_as_one_does(decades: float) -> None:
    """n cells in parallel at n times the power: the same depths and voltages, whatever their size."""
    n = 10.0**decades
    power_w, seconds = LAUNCH_CLIMB_LOITER
    large = replace(
        BENT, capacity_ah=n * BENT.capacity_ah, resistance_mohm=BENT.resistance_mohm / n
    )
    one, many = (
        flown(power_w, seconds),
        flown(n * power_w, seconds, large, extra_mohm=STATE["extra_mohm"] / n),
    )
    for a, b in zip(one, many, strict=True):
        assert b.depth_of_discharge[-1] == pytest.approx(a.depth_of_discharge[-1], rel=1e-9)
        assert b.voltage_v.min() == pytest.approx(a.voltage_v.min(), rel=1e-9)
        assert b.heat_j.sum() == pytest.approx(n * a.heat_j.sum(), rel=1e-8, abs=1e-12 * n)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([10.0], [-1.0]), "duration_s: -1 is not possible; 0 s or more"),
        (([10.0], [np.inf]), "duration_s: inf"),
        (([-10.0], [5.0]), "power_w: -10 is not possible"),
    ],
)
def test_what_cannot_be_is_refused(arguments: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        flown(*arguments)
