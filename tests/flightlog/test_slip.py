"""A charger's slip: what it says, and what it cannot."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flightlog.simulated import Truth, fly
from workbook.errors import InputError
from workbook.flightlog.comparison import compare_flight
from workbook.flightlog.slip import ChargerSlip, parse_slip
from workbook.sizing.calibration import Readings
from workbook.sizing.design import Design


def test_a_slip_is_read_as_it_is_typed() -> None:
    found = parse_slip("18,5 min; 5900 mAh; before: 25.1 V; after 22.8 V; felt 38 °C; charger 97 %")
    assert found == ChargerSlip(18.5, 5.9, 25.1, 22.8, 38.0, 97.0)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("18.5 min", "the charge put back is missing"),
        ("after 22 V", "the minutes flown and the charge put back are missing"),
        ("18 min; 5 Ah; 6 Ah", "repeats a figure"),
        ("18 min; much", "is not one number"),
        ("0 min; 5 Ah", "0 is not possible; 0.1 to 1440 min is needed"),
        ("18 min; 5 Ah; before 22 V; after 25 V", "are they swapped"),
        ("18 min; 5 W", "."),
        ("18; 5.9", "'18' has no unit"),
        ("18 min; 5900", "'5900' has no unit"),
        ("18 min; 5 Ah; vor 22 V", "'vor 22 V' is not one number"),
    ],
)
def test_a_slip_that_cannot_be_is_refused(text: str, why: str) -> None:
    with pytest.raises(InputError, match=why):
        parse_slip(text)


def test_a_slip_finds_power_and_charge_of_a_simulated_flight(census_six: Design) -> None:
    """Steady power, still air; the charger's share of 98 % taken off again. All 12 within their intervals."""
    rng = np.random.default_rng(4)
    count = 12
    truth = Truth(
        rng.uniform(400.0, 520.0, count),
        np.full(count, 14.0),
        rng.uniform(0.9, 1.3, count),
        rng.uniform(0.93, 1.03, count),
        wind_pct=1.0,
    )
    flown = fly(census_six, truth, rng)
    minutes = (flown.air[1] - flown.air[0]) / 60.0
    model = census_six.pack.cell.model
    for k in range(count):
        after_v = float(census_six.pack.series * model.open_circuit_at(flown.depth[k]))
        slip = ChargerSlip(minutes, float(flown.charge_ah[k]) / 0.98, after_v=after_v)
        found = compare_flight(census_six, slip)
        energy = found.line("energy_wh")
        assert abs(energy.measured - flown.energy_wh[k]) < energy.uncertainty
        charge, off = found.measures.capacity or (np.nan, np.nan)
        assert abs(charge - truth.capacity_factor[k]) < 2.0 * off


def test_the_chargers_share_counts(census_six: Design) -> None:
    whole = ChargerSlip(20.0, 7.0, charge_share_pct=100.0).mean_power_w(census_six)
    assert ChargerSlip(20.0, 7.0).mean_power_w(census_six) < 0.99 * whole


def test_a_slip_says_that_it_knows_neither_resistance_nor_peaks(census_six: Design) -> None:
    found = compare_flight(census_six, ChargerSlip(21.0, 7.2))
    assert not {"pack_resistance_mohm", "peak_cell_a"} & {line.key for line in found.lines}
    assert any("neither resistance nor peaks" in note for note in found.notes)
    assert ChargerSlip(21.0, 7.2).capacity_factor(census_six, 450.0, Readings()) is None


def test_more_than_the_pack_has_is_refused(census_six: Design) -> None:
    with pytest.raises(InputError, match="cannot come out of a pack"):
        compare_flight(census_six, ChargerSlip(21.0, 72.0))
