"""Discharges simulated by a general library (PyBaMM, BSD licence), kept while the tests run.

Its parameter sets do not claim to be any one cell on sale; they are complete cells with known answers.
"""

from __future__ import annotations

import logging
import warnings
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.integrate import cumulative_trapezoid

from workbook.battery.model import DischargeCurve
from workbook.numbers import FloatArray


@dataclass(frozen=True)
class Simulated:
    """What the library says about one discharge."""

    time_s: FloatArray
    charge_ah: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    temperature_c: FloatArray

    @property
    def energy_wh(self) -> float:
        """Energy delivered; over charge, so that it leans on no spacing in time."""
        return float(np.trapezoid(self.voltage_v, self.charge_ah))


def library():
    """The library, without its notices."""
    logging.disable(logging.WARNING)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pybamm
    pybamm.set_logging_level("ERROR")
    pybamm.telemetry.disable()
    return pybamm


def _solved(model, values, steps, period_s, **solve) -> Simulated:
    pybamm = library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        experiment = pybamm.Experiment(list(steps), period=f"{period_s} seconds")
        simulation = pybamm.Simulation(
            model,
            parameter_values=values,
            experiment=experiment,
            solver=pybamm.IDAKLUSolver(rtol=1e-7, atol=1e-8),
        )
        found = simulation.solve(**solve)
    kelvin = (
        "Cell temperature [K]"
        if "Jig temperature [K]" in found.all_models[0].variables
        else "Volume-averaged cell temperature [K]"
    )
    time_s, current_a = found["Time [s]"].entries, found["Current [A]"].entries
    charge_ah = np.concatenate([[0.0], cumulative_trapezoid(current_a, time_s)]) / 3600.0
    if "Discharge capacity [A.h]" in found.all_models[0].variables:
        charge_ah = found["Discharge capacity [A.h]"].entries
    return Simulated(
        time_s,
        charge_ah,
        found["Voltage [V]"].entries,
        current_a,
        found[kelvin].entries - 273.15,
    )


@dataclass(frozen=True)
class Circuit:
    """A Thevenin circuit whose voltage at rest is 3.0 + 1.2 z."""

    capacity_ah: float
    series_mohm: float
    branch_mohm: float
    branch_f: float
    stored_j_k: float
    loss_w_k: float
    start_charge: float  # below 1: the library ends a run that starts at exactly 1


@cache
def circuit(case: Circuit, steps: tuple[str, ...], period_s: float = 10.0) -> Simulated:
    """The library's equivalent-circuit model; a huge jig stands in for the air at 25 C."""
    pybamm = library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 1})
        values = pybamm.ParameterValues("ECM_Example")
        values.update(
            {
                "R0 [Ohm]": lambda t, i, s: pybamm.Scalar(case.series_mohm / 1000),
                "R1 [Ohm]": lambda t, i, s: pybamm.Scalar(case.branch_mohm / 1000),
                "C1 [F]": lambda t, i, s: pybamm.Scalar(case.branch_f),
                "Open-circuit voltage [V]": lambda s: 3.0 + 1.2 * s,
                "Entropic change [V/K]": lambda u, t: pybamm.Scalar(0),
                "Cell capacity [A.h]": case.capacity_ah,
                "Nominal cell capacity [A.h]": case.capacity_ah,
                "Cell thermal mass [J/K]": case.stored_j_k,
                "Jig thermal mass [J/K]": 1e12,
                "Cell-jig heat transfer coefficient [W/K]": case.loss_w_k,
                "Initial SoC": case.start_charge,
                "Initial temperature [K]": 298.15,
                "Ambient temperature [K]": 298.15,
                "Upper voltage cut-off [V]": 4.5,
                "Lower voltage cut-off [V]": 2.5,
            }
        )
    return _solved(model, values, steps, period_s)


@cache
def charged(parameters: str, it: float, end_it: float = 0.05) -> Simulated:
    """The same from empty, charged at 25 C by constant current and then held; charge counts below 0."""
    pybamm = library()
    amps, end_a = (round(CAPACITY_AH[parameters] * x, 5) for x in (it, end_it))
    volts = min(FULL_V[parameters], 4.2)
    steps = (f"Charge at {amps} A until {volts} V", f"Hold at {volts} V until {end_a} A")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model, values = pybamm.lithium_ion.DFN(), pybamm.ParameterValues(parameters)
    return _solved(model, values, steps, 30.0, initial_soc=0.0)


@cache
def cell(
    parameters: str, step: str, temperature_c: float = 25.0, thermal: str = "isothermal"
) -> Simulated:
    """The library's full electrochemical model (DFN) from full, sampled every 30 s."""
    pybamm = library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        options = {"thermal": thermal.split(",")[0]}
        if thermal.endswith("with all heat"):
            options["heat of mixing"] = "true"
        model = pybamm.lithium_ion.DFN(options=options)
        values = pybamm.ParameterValues(parameters)
        values["Initial temperature [K]"] = values["Ambient temperature [K]"] = (
            temperature_c + 273.15
        )
    return _solved(model, values, (step,), 30.0, initial_soc=1.0)


CAPACITY_AH = {
    "Chen2020": 5.0,
    "OKane2022": 5.0,
    "ORegan2022": 5.0,
    "Mohtat2020": 5.0,
    "Ecker2015": 0.15625,
    "Marquis2019": 0.680616,
    "Ai2020": 2.28,
}
LOWEST_V = {
    "Chen2020": 2.5,
    "OKane2022": 2.5,
    "ORegan2022": 2.5,
    "Mohtat2020": 2.8,
    "Ecker2015": 2.5,
    "Marquis2019": 3.105,
    "Ai2020": 3.0,
}
FULL_V = {
    "Chen2020": 4.2,
    "OKane2022": 4.2,
    "ORegan2022": 4.4,
    "Mohtat2020": 4.2,
    "Ecker2015": 4.2,
    "Marquis2019": 4.1,
    "Ai2020": 4.2,
}
"""The sets' own figures."""

TEMPERATURE_SETS = tuple(CAPACITY_AH)
"""Sets in which temperature acts: Ecker2015, OKane2022, Marquis2019, Ai2020 and ORegan2022 with an activation energy on
reactions, diffusion and (all but Ai2020 and OKane2022) the electrolyte; Chen2020 and Mohtat2020 on reactions mainly."""


def curve(
    parameters: str,
    it: float,
    *,
    temperature_c: float = 25.0,
    thermal: str = "isothermal",
    points: int = 30,
    rounded: bool = False,
) -> DischargeCurve:
    """A constant-current curve as read off a page: unevenly spaced points, closer where it bends.

    Args:
        it: current in multiples of the set's own capacity over 1 h.
        temperature_c: of the chamber.
        rounded: to 5 mV and 10 mAh, as a person reads a printed curve.
    """
    amps = round(CAPACITY_AH[parameters] * it, 4)
    step = f"Discharge at {amps} A until {LOWEST_V[parameters]} V"
    run = cell(parameters, step, temperature_c, thermal)
    part = 0.5 - 0.5 * np.cos(np.pi * np.linspace(0.0, 1.0, points))
    charge = part * run.charge_ah[-1]
    volts = np.interp(charge, run.charge_ah, run.voltage_v)
    if rounded:
        charge, first = np.unique(np.round(charge, 2), return_index=True)
        volts = np.round(volts[first] / 0.005) * 0.005
    return DischargeCurve(amps, tuple(charge), tuple(volts), temperature_c)
