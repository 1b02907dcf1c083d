"""A mission of eight phases, and ten thousand cells stepped side by side, against a general solver.

The peer is scipy's solve_ivp, which solves the same equations for one cell after the other, with an event at the
landing voltage; its relative tolerance is 1e-6. Processor time, the least of several runs.

Run: python -m tests.benchmarks --only simulate
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from tests.reference.simulate import Segment, Until, simulate
from workbook.battery.heat import HeatPath, heat_path
from workbook.battery.model import CellModel
from workbook.files.cell_file import find_cell
from workbook.files.design_file import read_design
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.mission import fly_mission, plan_mission

DESIGN = Path(__file__).parents[2] / "notebooks" / "designs" / "survey_six_mission.toml"
DESIGNS, LOOPED = 10_000, 30
STEP_S, LANDING_V, AIR_C = 60.0, 3.0, 20.0


def least(work: Callable[[], Any], times: int = 5) -> float:
    """The shortest of several runs, by processor time."""
    took = []
    for _ in range(times):
        start = process_time()
        work()
        took.append(process_time() - start)
    return min(took)


def flown_by_solver(
    model: CellModel, heat: HeatPath, power_w: float, duration_s: float, start: tuple[float, float]
) -> Any:
    """One cell at a constant power: depth of discharge and temperature, warmth told and not acting."""

    def at(depth: float) -> tuple[float, float]:
        u = np.interp(depth, model.depth_of_discharge, model.open_circuit_v)
        ohm = np.interp(depth, model.depth_of_discharge, model.resistance_mohm) / 1000.0
        return u, 0.5 * (u + np.sqrt(max(u * u - 4.0 * power_w * ohm, 0.0)))

    def rates(_: float, state: np.ndarray) -> list[float]:
        u, volts = at(state[0])
        amps = power_w / volts
        shed_w = (state[1] - AIR_C) * float(np.min(heat.loss_w_k))
        return [
            amps / 3600.0 / model.capacity_ah,
            (amps * (u - volts) - shed_w) / float(heat.stored_j_k),
        ]

    def lands(_: float, state: np.ndarray) -> float:
        return at(state[0])[1] - LANDING_V

    lands.terminal = True  # type: ignore[attr-defined]
    return solve_ivp(rates, (0.0, duration_s), start, events=lands, rtol=1e-6)


def _stepped() -> dict[str, Any]:
    cell = find_cell("Bittern")
    heat, powers = heat_path(cell), np.random.default_rng(1).uniform(8.0, 25.0, DESIGNS)
    how: dict[str, Any] = {
        "heat": heat,
        "air_c": AIR_C,
        "cold": False,
        "step_s": STEP_S,
        "record": False,
    }

    def ours() -> Any:
        hover = Segment(np.inf, "power", powers)
        return simulate(cell.model, [hover], Until(landing_v=LANDING_V), **how)

    def peer() -> list[float]:
        flown = partial(flown_by_solver, cell.model, heat, duration_s=1e5, start=(0.0, AIR_C))
        return [flown(power).t[-1] for power in powers[:LOOPED]]

    few = powers[:LOOPED]
    fine = simulate(
        cell.model,
        [Segment(np.inf, "power", few)],
        Until(landing_v=LANDING_V),
        **how | {"step_s": 0.5},
    )
    off, peer_off = (
        float(np.max(np.abs(np.asarray(time_s) / fine.time_s - 1.0)))
        for time_s in (ours().time_s[:LOOPED], peer())
    )
    assert off < peer_off < 1e-4, (off, peer_off)
    return {
        "name": f"{DESIGNS:,} cells stepped side by side",
        "ours_s": least(ours, 3),
        "peer": "solve_ivp one by one",
        "peer_s": least(peer, 3) * DESIGNS / LOOPED,
        "note": f"loop extended from {LOOPED}; steps of {STEP_S:g} s, {off:.0e} off steps of 0.5 s; the peer {peer_off:.0e}",
    }


def _mission() -> dict[str, Any]:
    design = read_design(DESIGN).design
    kind, heat = craft_type_of(design), heat_path(design.pack.cell)
    model = design.pack.cell.model
    point = kind.operate(design)
    run = fly_mission(plan_mission(kind.mission_model(point)))

    def peer() -> None:
        state = (0.0, AIR_C)
        for phase in run.phases:
            power_w = phase.power_w / float(design.pack.cells)
            state = flown_by_solver(model, heat, power_w, phase.duration_s, state).y[:, -1]

    return {
        "name": f"mission of {len(run.phases)} phases",
        "ours_s": least(lambda: fly_mission(plan_mission(kind.mission_model(point))), 15),
        "peer": "solve_ivp, its cell alone",
        "peer_s": least(peer),
        "note": "ours with craft, currents, bursts, and two cells' warmth",
    }


def run() -> list[dict[str, Any]]:
    """The rows of this benchmark."""
    return [_mission(), _stepped()]
