"""Constant-power endurance: ours a design against a general library, a general solver and a plain loop.

`python -m tests.benchmarks.bench_discharge` prints the rows. All answer the same question, and each
peer's answer is checked against ours to 0.1 %.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from unittest.mock import patch

import numpy as np
from scipy.integrate import solve_ivp

from tests.published.simulated_cells import library
from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel
from workbook.files.cell_file import find_cell

DESIGNS = 1_000_000
CAPACITY_AH, RESISTANCE_OHM, LANDING_V = 5.0, 0.030, 3.0
POWERS_W = (8.0, 15.0, 25.0)


def _best(work: Callable[[], object], repeats: int) -> float:
    took = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return min(took)


def _plain_loop(power_w: float, step_s: float = 1.0) -> float:
    """Step by step in plain Python, the last step cut where the landing voltage is met."""
    charge_as, now_s, before_v = 0.0, 0.0, math.inf
    while True:
        u = 4.2 - 1.2 * charge_as / (3600.0 * CAPACITY_AH)
        volts = 0.5 * (u + math.sqrt(u * u - 4.0 * power_w * RESISTANCE_OHM))
        if volts < LANDING_V:
            return now_s - step_s * (LANDING_V - volts) / (before_v - volts)
        charge_as += power_w / volts * step_s
        now_s += step_s
        before_v = volts


def _solver(power_w: float) -> float:
    """scipy.integrate.solve_ivp with an event, default method, relative tolerance 1e-6."""

    def volts(charge_ah: float) -> float:
        u = 4.2 - 1.2 * charge_ah / CAPACITY_AH
        return 0.5 * (u + math.sqrt(max(u * u - 4.0 * power_w * RESISTANCE_OHM, 0.0)))

    def ends(_: float, charge: np.ndarray) -> float:
        return volts(charge[0]) - LANDING_V

    ends.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        lambda _, q: [power_w / volts(q[0]) / 3600.0], (0.0, 1e5), [0.0], events=ends, rtol=1e-6
    )
    return float(found.t[-1])


def _circuit(power_w: float) -> Callable[[], float]:
    """The library's Thevenin circuit, built once; only its solving is timed."""
    pybamm = library()
    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 0})
    values = pybamm.ParameterValues("ECM_Example")
    values.update(
        {
            "R0 [Ohm]": lambda t, i, s: pybamm.Scalar(RESISTANCE_OHM),
            "Open-circuit voltage [V]": lambda s: 3.0 + 1.2 * s,
            "Entropic change [V/K]": lambda u, t: pybamm.Scalar(0),
            "Cell capacity [A.h]": CAPACITY_AH,
            "Nominal cell capacity [A.h]": CAPACITY_AH,
            "Initial SoC": 0.9999999,
            "Upper voltage cut-off [V]": 4.5,
            "Lower voltage cut-off [V]": 2.5,
        }
    )
    steps = pybamm.Experiment(
        [f"Discharge at {power_w} W until {LANDING_V} V"], period="60 seconds"
    )
    simulation = pybamm.Simulation(
        model,
        parameter_values=values,
        experiment=steps,
        solver=pybamm.IDAKLUSolver(rtol=1e-6, atol=1e-6),
    )
    return lambda: float(simulation.solve()["Time [s]"].entries[-1])


def _whole(power_w: np.ndarray, extra_mohm: np.ndarray) -> tuple[str, float, str, float, str]:
    """What the expansion buys where many discharges reach their last depth."""
    model = find_cell("Bittern").model

    def ours() -> np.ndarray:
        return constant_power(model, power_w, 2.5, 0.8, extra_mohm=extra_mohm).time_s

    many, ours_s = ours(), _best(ours, 3)
    with patch("workbook.battery.discharge.MANY", sys.maxsize):
        alone, alone_s = ours(), _best(ours, 1)
    worst = float(np.max(np.abs(many / alone - 1.0)))
    assert worst < 1e-10, worst
    return (
        "endurance, to a last depth",
        ours_s,
        "each by itself",
        alone_s / DESIGNS,
        f"answers within {worst:.0e}",
    )


def run() -> list[dict[str, object]]:
    """One row a peer: seconds for one design by each, and how many times as long the peer takes."""
    depth = np.linspace(0.0, 1.0, 201)
    resistance = np.full(201, 1000.0 * RESISTANCE_OHM)
    model = CellModel(depth, 4.2 - 1.2 * depth, resistance, CAPACITY_AH, "curves")
    rng = np.random.default_rng(0)
    power_w, extra_mohm = rng.uniform(5.0, 25.0, DESIGNS), rng.uniform(0.0, 8.0, DESIGNS)
    exact_s = _best(lambda: constant_power(model, power_w, LANDING_V, extra_mohm=extra_mohm), 3)
    rows: list[dict[str, object]] = []

    def row(name: str, ours_s: float, peer: str, peer_s: float, note: str) -> None:
        ours_s = ours_s / DESIGNS
        rows.append(
            {
                "name": name,
                "ours_s": ours_s,
                "peer": peer,
                "peer_s": peer_s,
                "ratio": peer_s / ours_s,
                "note": note,
            }
        )

    ours = {p: float(constant_power(model, p, LANDING_V).time_s) for p in POWERS_W}
    circuits = {p: _circuit(p) for p in POWERS_W}
    for peer, solve, note in (
        ("PyBaMM Thevenin", lambda p: circuits[p](), "built beforehand, solving only"),
        ("scipy solve_ivp", _solver, "RK45 with an event, rtol 1e-6"),
        ("plain Python loop", _plain_loop, "1 s steps"),
    ):
        off = max(abs(solve(p) / ours[p] - 1.0) for p in POWERS_W)
        assert off < 1e-3, (peer, off)
        peer_s = _best(lambda solve=solve: [solve(p) for p in POWERS_W], 3) / len(POWERS_W)
        said = f"{note}; answers within {100 * off:.3f} %"
        row("endurance, exact", exact_s, peer, peer_s, said)
    row(*_whole(power_w, extra_mohm))
    return rows


def main() -> None:
    """Print the rows."""
    for each in run():
        print(
            f"{each['name']:18} {1e-6 / each['ours_s']:6.2f} M designs/s   {each['peer']:18}"
            f" {1e3 * each['peer_s']:8.3f} ms a design   x {each['ratio']:,.0f}   {each['note']}"
        )


if __name__ == "__main__":
    main()
