"""Flights at 0 C of cells known by their curves at 25 and 0 C, against kept figures of a full electrochemical model.

Source: PyBaMM 26.10.1.1, DFN, isothermal, from full; parameter sets OKane2022 (O'Kane et al., Phys. Chem. Chem. Phys. 24,
7909, 2022) and ORegan2022 (O'Regan et al., Electrochim. Acta 425, 140700, 2022), in both of which temperature acts on
reactions and diffusion. Printed once; tests/published/test_cell_against_pybamm.py computes them and more anew.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from workbook.battery.cell import with_temperatures
from workbook.battery.discharge import constant_power
from workbook.battery.model import CellModel, DischargeCurve, identify_curves
from workbook.sizing.conditions import cold_fade, derate
from workbook.sizing.design import Allowances, Flight

FULL_V = {"OKane2022": 4.2, "ORegan2022": 4.4}
# W of the cell at 0 C: seconds down to 3.0 V
FLIGHTS = {
    "OKane2022": {8: 7234.4, 12: 4473.4, 15: 3284.3},
    "ORegan2022": {8: 6229.3, 12: 2886.7, 15: 1733.6},
}


def curves(name: str) -> tuple[DischargeCurve, ...]:
    """The set's discharge curves; cold_cell.txt has two lines of each, charge and voltage."""
    lines = Path(__file__).with_name("cold_cell.txt").read_text("utf-8").splitlines()
    rows = [line.split() for line in lines if line.startswith(name)]
    return tuple(
        DischargeCurve(
            float(charge[1]),
            tuple(map(float, charge[6:])),
            tuple(map(float, volts[6:])),
            float(charge[3]),
        )
        for charge, volts in zip(rows[::2], rows[1::2], strict=True)
    )


def at_25_c(name: str) -> CellModel:
    """The cell by its curves at 25 C alone."""
    room = tuple(curve for curve in curves(name) if curve.at_room_temperature)
    return identify_curves(room, charge_v=FULL_V[name])


@pytest.mark.parametrize("name", sorted(FLIGHTS))
def test_a_flight_at_0_c_is_told_within_5_percent(name: str) -> None:
    """Seen: OKane2022 within 1 %; ORegan2022, which chokes, from -4 to +1.5 %."""
    model = with_temperatures(at_25_c(name), curves(name))
    flight = Flight(3.0, 0.0, pack_temperature_c=0.0)
    taken = derate(flight, Allowances(), model)
    for watts, seconds in FLIGHTS[name].items():
        run = constant_power(
            model,
            float(watts),
            3.0,
            resistance_factor=taken.resistance_factor,
            capacity_factor=taken.capacity_factor * cold_fade(flight, model, float(watts)),
        )
        assert float(run.time_s) == pytest.approx(seconds, rel=0.05), watts
        assert float(run.energy_wh) == pytest.approx(watts * seconds / 3600.0, rel=0.05), watts


def test_without_the_cold_curves_it_would_be_out_by_more() -> None:
    """The usual law promises 26 % more of ORegan2022 at 15 W than there is."""
    model = at_25_c("ORegan2022")
    taken = derate(Flight(3.0, 0.0, pack_temperature_c=0.0), Allowances(), model)
    run = constant_power(
        model,
        15.0,
        3.0,
        resistance_factor=taken.resistance_factor,
        capacity_factor=taken.capacity_factor,
    )
    assert float(run.time_s) > 1.2 * FLIGHTS["ORegan2022"][15]
