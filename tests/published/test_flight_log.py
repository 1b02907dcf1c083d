"""Flights of a general library's cells (PyBaMM), read as logs: resistance, energy and power are found again.

The sensors have noise, steps, gaps and a zero that is off, no wrong scale. What the resistance of an electrochemical cell
is, no parameter says: it is that of the plan's model, identified from the same cell's discharge curves, as a datasheet has
them (mean over the charge of the flight), plus whatever was put in series with it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.conftest import DESIGNS
from tests.flightlog.library_flights import (
    JOINT_MOHM,
    PARALLEL,
    SERIES,
    LibraryFlight,
    chen,
    chen_cell,
    thevenin,
    thevenin_cell,
)
from workbook.battery.cell import Cell
from workbook.battery.pack import Pack
from workbook.files.design_file import read_design
from workbook.flightlog import planned
from workbook.flightlog.comparison import compare_flight
from workbook.flightlog.log import FlightLog
from workbook.sizing.calibration import Readings

pytestmark = pytest.mark.long
pytest.importorskip("pybamm")

MAY = Readings(current_pct=0.2, voltage_pct=0.2)
"""The simulated sensors have no wrong scale."""


def held(
    flight: LibraryFlight,
    cell: Cell,
    more_mohm: float,
    rate_hz: float,
    step_a: float,
    zero_a: float,
):
    """The flight as a log of a pack with `more_mohm` in series with every cell, against its plan."""
    rng = np.random.default_rng(1)
    pack = Pack(cell, SERIES, PARALLEL, joint_mohm=JOINT_MOHM)
    six = read_design(DESIGNS / "survey_six.toml").design
    ohm = (float(pack.joint_mohm_per_cell) + more_mohm) / 1000.0
    time_s = np.arange(0.0, flight.time_s[-1], 1.0 / rate_hz)
    time_s = time_s[(time_s < 300.0) | (time_s > 320.0)]
    cell_a = np.interp(time_s, flight.time_s, flight.cell_a)
    cell_v = np.interp(time_s, flight.time_s, flight.cell_v) - ohm * cell_a
    air = (flight.time_s >= flight.air[0]) & (flight.time_s <= flight.air[1])
    true_w = (flight.cell_v - ohm * flight.cell_a) * flight.cell_a * pack.cells
    true_wh = float(np.trapezoid(true_w[air], flight.time_s[air])) / 3600.0
    rest_w = float(true_w[flight.time_s < 30.0].mean())
    amps = PARALLEL * cell_a + zero_a + rng.normal(0.0, 0.3, len(time_s))
    volts = SERIES * cell_v + rng.normal(0.0, 0.03, len(time_s))
    log = FlightLog("made", time_s, np.round(volts, 2), np.round(amps / step_a) * step_a)
    design = replace(six, pack=pack, craft=replace(six.craft, avionics_w=rest_w), today=None)
    return compare_flight(design, log, readings=MAY), true_wh, pack


LOGGED = [(5.0, 0.1, 0.9), (1.0, 1.0, 0.0), (50.0, 0.5, -0.7)]
"""Rate, Hz; step of the current and its zero, A."""


@pytest.fixture(autouse=True)
def _few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planned, "DRAWS", 3)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_circuit_of_known_resistance(seed: int) -> None:
    """20 mohm at once, 8 mohm after 15 s, and 0 or 6 mohm more in series: within 5 %; energy within 0.5 %."""
    flight = thevenin(22.0, seed, 20.0, 8.0, 15.0)
    for more in (0.0, 6.0):
        for logged in LOGGED:
            found, true_wh, pack = held(flight, thevenin_cell(28.0), more, *logged)
            true = (28.0 + more + float(pack.joint_mohm_per_cell)) * SERIES / PARALLEL
            assert found.line("pack_resistance_mohm").measured == pytest.approx(true, rel=0.05)
            assert found.line("energy_wh").measured == pytest.approx(true_wh, rel=0.005)


@pytest.mark.parametrize(("cell_w", "seed"), [(16.0, 1), (20.0, 2)])
def test_an_electrochemical_cell_known_by_its_curves(cell_w: float, seed: int) -> None:
    """Chen et al. (2020), its full model: within 5 % of the plan's resistance and what is put in series."""
    cell = chen_cell()
    flight = chen(cell_w, seed)
    for more in (0.0, 8.0):
        for logged in LOGGED:
            found, true_wh, pack = held(flight, cell, more, *logged)
            fit = found.measures.fit
            assert fit is not None
            depth = np.linspace(fit.start_depth, fit.end_depth, 200)
            own = float(np.mean(cell.model.resistance_at(depth)))
            true = (own + more + float(pack.joint_mohm_per_cell)) * SERIES / PARALLEL
            assert found.line("pack_resistance_mohm").measured == pytest.approx(true, rel=0.05)
            assert found.line("energy_wh").measured == pytest.approx(true_wh, rel=0.005)
