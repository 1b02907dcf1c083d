"""Flights of a general library's cells (PyBaMM, BSD licence), flown by power as a craft flies; answers known.

The library's cells are no cells on sale. An equivalent circuit (Thevenin) has its resistances stated; an electrochemical
cell (Chen2020, DFN) has none, and is known to the plan by its discharge curves alone, as a cell is by its datasheet.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.published.simulated_cells import curve, library
from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.files.cell_file import find_cell
from workbook.numbers import FloatArray

JOINT_MOHM, SERIES, PARALLEL = 8.0, 6, 3
CIRCUIT_AH = 5.0


@dataclass(frozen=True, eq=False)
class LibraryFlight:
    """Voltage and current of one cell at its terminals, before joints; shape (n,)."""

    time_s: FloatArray
    cell_v: FloatArray
    cell_a: FloatArray
    power_w: FloatArray
    air: tuple[float, float]


def power_profile(
    steady_w: float, rest_w: float, seed: int, hover_s: float = 1900.0
) -> tuple[FloatArray, FloatArray, tuple[float, float]]:
    """Watts of one cell over time, a row a second: ground, take-off, climb, hover in moving air, ground."""
    rng = np.random.default_rng(seed)
    shares = [
        *[1.7] * 4,
        *[1.35] * 20,
        *[1.0] * int(0.5 * hover_s),
        *[1.35] * 20,
        *[1.0] * int(0.5 * hover_s),
        *[0.7] * 12,
    ]
    gust, swing = 0.0, []
    for _ in shares:
        gust = 0.75 * gust + np.sqrt(1 - 0.75**2) * rng.normal(0.0, 0.05)
        swing.append(gust)
    watts = np.concatenate(
        [np.full(40, rest_w), steady_w * (np.array(shares) + swing), np.full(30, rest_w)]
    )
    return np.arange(len(watts), dtype=float), watts, (40.0, 40.0 + len(shares))


def _flown(model: Any, values: Any, steady_w: float, seed: int, **solve: Any) -> LibraryFlight:
    pybamm = library()
    time_s, watts, air = power_profile(steady_w, 0.8, seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        step = pybamm.step.power(np.column_stack([time_s, watts]), period="0.5 seconds")
        simulation = pybamm.Simulation(
            model,
            parameter_values=values,
            experiment=pybamm.Experiment([step]),
            solver=pybamm.IDAKLUSolver(rtol=1e-6, atol=1e-7),
        )
        found = simulation.solve(**solve)
    return LibraryFlight(
        found["Time [s]"].entries,
        found["Voltage [V]"].entries,
        found["Current [A]"].entries,
        watts,
        air,
    )


def chen(steady_w: float, seed: int) -> LibraryFlight:
    """The electrochemical cell, from full."""
    pybamm = library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model, values = pybamm.lithium_ion.DFN(), pybamm.ParameterValues("Chen2020")
    return _flown(model, values, steady_w, seed, initial_soc=1.0)


def thevenin(
    steady_w: float, seed: int, series_mohm: float, branch_mohm: float, late_s: float
) -> LibraryFlight:
    """The equivalent circuit, its voltage at rest 3.0 + 1.2 z."""
    pybamm = library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 1})
        values = pybamm.ParameterValues("ECM_Example")
        values.update(
            {
                "R0 [Ohm]": lambda t, i, s: pybamm.Scalar(series_mohm / 1000),
                "R1 [Ohm]": lambda t, i, s: pybamm.Scalar(branch_mohm / 1000),
                "C1 [F]": lambda t, i, s: pybamm.Scalar(1000.0 * late_s / branch_mohm),
                "Open-circuit voltage [V]": lambda s: 3.0 + 1.2 * s,
                "Entropic change [V/K]": lambda u, t: pybamm.Scalar(0),
                "Cell capacity [A.h]": CIRCUIT_AH,
                "Nominal cell capacity [A.h]": CIRCUIT_AH,
                "Jig thermal mass [J/K]": 1e12,
                "Initial SoC": 0.9999,
                "Initial temperature [K]": 298.15,
                "Ambient temperature [K]": 298.15,
                "Upper voltage cut-off [V]": 4.5,
                "Lower voltage cut-off [V]": 2.0,
            }
        )
    return _flown(model, values, steady_w, seed)


def chen_cell() -> Cell:
    """The electrochemical cell as its datasheet would have it: three curves read off a page."""
    return _cell(tuple(curve("Chen2020", it, rounded=True) for it in (0.2, 1.0, 1.5)))


def thevenin_cell(mohm: float) -> Cell:
    """The circuit as its datasheet would have it: two curves."""
    charge = np.linspace(0.0, 0.98 * CIRCUIT_AH, 15)
    rest = 4.2 - 1.2 * charge / CIRCUIT_AH
    return _cell(
        tuple(
            DischargeCurve(amps, tuple(charge), tuple(rest - amps * mohm / 1000))
            for amps in (1.0, 10.0)
        )
    )


def _cell(curves: tuple[DischargeCurve, ...]) -> Cell:
    most_ah = max(c.capacity_ah[-1] for c in curves)
    return replace(
        find_cell("Sedge"),
        name="library's",
        curves=curves,
        rated_capacity_ah=most_ah,
        typical_capacity_ah=most_ah,
    )
