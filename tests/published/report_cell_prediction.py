"""How well a cell made from a few discharge curves tells constant-power flights it was not made from.

`python -m tests.published.report_cell_prediction` prints the table. The answers are those of a full
electrochemical model in a general library (see simulated_cells.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.published.simulated_cells import CAPACITY_AH, FULL_V, TEMPERATURE_SETS, cell, curve
from tests.reference.simulate import Segment, Until, simulate
from workbook.battery.cell import with_temperatures
from workbook.battery.discharge import constant_power
from workbook.battery.heat import HeatPath
from workbook.battery.model import CellModel, identify_curves
from workbook.sizing.conditions import cold_fade, derate
from workbook.sizing.design import Allowances, Flight

FOUR, THREE, TWO = (0.2, 0.5, 1.0, 1.5), (0.2, 1.0, 1.5), (0.2, 1.0)
CHEN2020_HEAT = HeatPath(stored_j_k=42.775, core_k_w=0.0, surface_k_w=1.0 / 0.0531)
"""The set's own heat capacity and loss: volume 2.42e-5 m3; 10 W/m2/K over 0.00531 m2."""


@dataclass(frozen=True)
class Prediction:
    """Ours against the library's, for one constant-power discharge to 3.0 V."""

    case: str
    power_w: float
    library_s: float
    ours_s: float
    energy_pct: float
    rms_mv: float
    end_k: float

    @property
    def time_pct(self) -> float:
        return 100.0 * (self.ours_s / self.library_s - 1.0)


def fitted(
    parameters: str, its: tuple[float, ...], thermal: str = "isothermal", rounded: bool = False
) -> CellModel:
    """A model from simulated curves at these multiples of 5 A."""
    curves = tuple(curve(parameters, it, thermal=thermal, rounded=rounded) for it in its)
    return identify_curves(curves, charge_v=FULL_V[parameters])


HEATED = "lumped, with all heat"
"""The library's lumped heat leaves out what diffusion inside the particles turns into heat unless told
otherwise; energy is only conserved with it, and the workbook's I (U - V) holds all of it."""


def predict(
    case: str,
    parameters: str,
    model: CellModel,
    power_w: float,
    *,
    thermal: str = "isothermal",
    temperature_c: float = 25.0,
) -> Prediction:
    """One constant-power discharge to 3.0 V by both."""
    truth = cell(parameters, f"Discharge at {power_w} W until 3.0 V", temperature_c, thermal)
    ours = simulate(
        model,
        [Segment(float("inf"), "power", power_w)],
        Until(landing_v=3.0),
        heat=CHEN2020_HEAT if thermal == HEATED else None,
        start_c=temperature_c,
        air_c=temperature_c,
        cold=temperature_c != 25.0,  # curves that heated themselves already hold what heat does
        step_s=10.0,
    )
    assert ours.trace is not None
    shared = truth.time_s <= float(ours.time_s)
    volts = np.interp(truth.time_s[shared], ours.trace.time_s, ours.trace.voltage_v)
    rms = float(np.sqrt(np.mean((volts - truth.voltage_v[shared]) ** 2)))
    energy_pct = 100.0 * (float(ours.energy_wh) / truth.energy_wh - 1.0)
    end_k = float(ours.end_c) - float(truth.temperature_c[-1])
    return Prediction(
        case, power_w, float(truth.time_s[-1]), float(ours.time_s), energy_pct, 1000.0 * rms, end_k
    )


def isothermal(parameters: str, its: tuple[float, ...], powers: tuple[float, ...]):
    """Predictions at 25 C from these curves."""
    model = fitted(parameters, its)
    told = f"{parameters}, curves at {', '.join(f'{it:g}' for it in its)} It"
    return [predict(told, parameters, model, p) for p in powers]


def read_by_eye(powers: tuple[float, ...]):
    """Points rounded to 5 mV and 10 mAh."""
    model = fitted("Chen2020", FOUR, rounded=True)
    return [predict("Chen2020, four curves read by eye", "Chen2020", model, p) for p in powers]


def self_heated(powers: tuple[float, ...]):
    """Curves and flight both of a cell that heats itself in calm air."""
    model = fitted("Chen2020", FOUR, HEATED)
    told = "Chen2020, four curves, self-heated"
    return [predict(told, "Chen2020", model, p, thermal=HEATED) for p in powers]


COLD = (0.2, 0.5, 1.0)
"""Multiples of 5 A (or of the set's own capacity) of the curves at other temperatures."""


def in_the_cold(
    parameters: str,
    powers: tuple[float, ...],
    temperature_c: float = 0.0,
    curves_c: tuple[float, ...] = (),
    its: tuple[float, ...] = COLD,
) -> list[Prediction]:
    """A flight in the cold, by the charge and resistance that a design in the cold is sized with.

    Args:
        powers: W for 5 Ah, scaled to the set's own capacity.
        curves_c: temperatures of curves beside those at 25 C; without any the workbook's usual factors act.
        its: of those curves.
    """
    at_25 = tuple(curve(parameters, it) for it in FOUR)
    away = tuple(curve(parameters, it, temperature_c=c) for c in curves_c for it in its)
    model = with_temperatures(identify_curves(at_25, charge_v=FULL_V[parameters]), away)
    flight = Flight(3.0, 0.0, pack_temperature_c=temperature_c)
    taken = derate(flight, Allowances(), model)
    rows = []
    for power_w in powers:
        own_w = round(power_w * CAPACITY_AH[parameters] / 5.0, 4)
        truth = cell(parameters, f"Discharge at {own_w} W until 3.0 V", temperature_c)
        run = constant_power(
            model,
            own_w,
            3.0,
            resistance_factor=taken.resistance_factor,
            capacity_factor=taken.capacity_factor * cold_fade(flight, model, own_w),
        )
        energy_pct = 100.0 * (float(run.energy_wh) / truth.energy_wh - 1.0)
        told = f"{parameters}, curves at 25{''.join(f', {c:g}' for c in curves_c)} C, flown at {temperature_c:g} C"
        seconds = float(truth.time_s[-1]), float(run.time_s)
        rows.append(Prediction(told, power_w, *seconds, energy_pct, np.nan, np.nan))
    return rows


def every_row() -> list[Prediction]:
    """All cases, in the order of the printed table."""
    rows = []
    for its in (FOUR, THREE, TWO):
        rows += isothermal("Chen2020", its, (8, 12, 15, 20))
    rows += read_by_eye((8, 12, 15, 20))
    for parameters in ("OKane2022", "Mohtat2020", "ORegan2022"):
        rows += isothermal(parameters, FOUR, (8, 12, 15, 20))
    rows += self_heated((8, 12, 15, 20))
    for parameters in TEMPERATURE_SETS:
        for curves_c in ((), (0.0,)):
            rows += in_the_cold(parameters, (8, 12, 15), curves_c=curves_c)
        rows += in_the_cold(parameters, (8, 12, 15), 10.0, (0.0,))
    return rows


def main() -> None:
    """Print the table."""
    print(
        f"{'case':52}{'W':>4}{'library s':>11}{'ours s':>10}{'time %':>8}{'Wh %':>7}{'mV':>6}{'end K':>7}"
    )
    for row in every_row():
        print(
            f"{row.case:52}{row.power_w:4g}{row.library_s:11.1f}{row.ours_s:10.1f}{row.time_pct:8.2f}"
            f"{row.energy_pct:7.2f}{row.rms_mv:6.1f}{row.end_k:7.2f}"
        )


if __name__ == "__main__":
    main()
