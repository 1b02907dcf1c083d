"""A flight against its plan: measured rightly, and as sure as it says."""

from __future__ import annotations

import re
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from tests.conftest import DESIGNS, NOTEBOOKS
from tests.flightlog import simulated
from tests.flightlog.simulated import Flown, Sensor, fly, truths
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.flightlog import planned
from workbook.flightlog.comparison import FlightComparison, compare_flight
from workbook.flightlog.measures import ZERO_A
from workbook.flightlog.phases import find_phases
from workbook.flightlog.reading import read_log
from workbook.flightlog.slip import ChargerSlip
from workbook.sizing.calibration import COVERAGE, Readings
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design

KEYS = ("energy_wh", "charge_ah", "steady_power_w", "pack_resistance_mohm")


def truth_of(design: Design[Any], flown: Flown, k: int) -> dict[str, float]:
    """What the comparison should find."""
    pack, truth = design.pack, flown.truth
    mean = np.mean(pack.cell.model.resistance_at(np.linspace(0.0, flown.depth[k], 200)))
    own = mean * truth.resistance_factor[k]
    return {
        "energy_wh": flown.energy_wh[k],
        "charge_ah": flown.charge_ah[k],
        "steady_power_w": truth.steady_w[k],
        "pack_resistance_mohm": float(own + pack.joint_mohm_per_cell) * 6 / 3,
    }


SENSORS = {
    "1 Hz, steps of 1 A": Sensor(rate_hz=1.0, step_a=1.0),
    "5 Hz": Sensor(),
    "10 Hz, zero 0.9 A off": Sensor(rate_hz=10.0, offset_a=0.9),
    "50 Hz, noise, gaps": Sensor(
        rate_hz=50.0, noise_a=1.0, step_a=0.5, gaps=((300.0, 330.0), (500.0, 503.0))
    ),
}


@pytest.mark.parametrize("flights", [2, pytest.param(8, marks=pytest.mark.long)])
@pytest.mark.parametrize("sensor", SENSORS.values(), ids=SENSORS)
def test_energy_power_and_resistance_of_simulated_flights(
    census_six: Design, sensor: Sensor, flights: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Energy within 0.5 %, hover power within 1 %, resistance within 5 %: cells and electronics as their papers say."""
    monkeypatch.setattr(planned, "DRAWS", 3)
    rng = np.random.default_rng(7)
    truth = truths(8, rng, census_six)
    as_told = replace(truth, avionics_w=np.full(8, 14.0), curve_off_v=None)
    flown = fly(census_six, as_told, rng)
    for k in range(flights):
        found, true = (
            compare_flight(census_six, flown.log(k, sensor, rng)),
            truth_of(census_six, flown, k),
        )
        assert found.line("energy_wh").measured == pytest.approx(true["energy_wh"], rel=0.005)
        assert found.line("steady_power_w").measured == pytest.approx(flown.hover_w[k], rel=0.01)
        mohm = found.line("pack_resistance_mohm").measured
        assert mohm == pytest.approx(true["pack_resistance_mohm"], rel=0.05)


def evenly(rng: np.random.Generator, count: int) -> np.ndarray:
    """Draws of a standard normal that lie evenly over it (Latin hypercube), so that 100 of them stand for all."""
    return np.array([NormalDist().inv_cdf((k + 0.5) / count) for k in rng.permutation(count)])


@pytest.mark.long
def test_intervals_hold_the_truth_as_often_as_they_say(
    census_six: Design, monkeypatch: pytest.MonkeyPatch
) -> None:
    """100 seeds, the sensors' scale and zero drawn as `Readings` and `ZERO_A` have them: 90 to 98 hold the truth."""
    monkeypatch.setattr(planned, "DRAWS", 3)
    rng, may, count = np.random.default_rng(21), Readings(), 100
    sensor = Sensor(
        current_gain=1.0 + evenly(rng, count) * may.current_pct / COVERAGE / 100.0,
        voltage_gain=1.0 + evenly(rng, count) * may.voltage_pct / COVERAGE / 100.0,
        offset_a=evenly(rng, count) * ZERO_A / COVERAGE,
    )
    flown = fly(census_six, truths(count, rng, census_six), rng)
    held = dict.fromkeys(KEYS, 0)
    for k in range(count):
        found, true = (
            compare_flight(census_six, flown.log(k, sensor, rng)),
            truth_of(census_six, flown, k),
        )
        for key in KEYS:
            line = found.line(key)
            held[key] += abs(line.measured - true[key]) <= line.uncertainty
    assert all(90 <= times <= 98 for times in held.values()), held


@pytest.fixture(scope="module")
def held(census_six: Design) -> FlightComparison:
    """A flight of a craft that takes what the plan says, on a pack of 1.3 times the resistance."""
    rng = np.random.default_rng(2)
    steady = np.array([float(operate(census_six).power_w)])
    truth = simulated.Truth(
        steady, np.array([14.0]), np.array([1.3]), np.array([1.0]), hover_s=400.0
    )
    return compare_flight(census_six, fly(census_six, truth, rng).log(0, Sensor(), rng))


def test_what_agrees_with_the_plan_is_within_it(held: FlightComparison) -> None:
    for key in ("energy_wh", "steady_power_w", "flight_factor", "landing_cell_v"):
        assert held.line(key).within in (True, None), held.line(key)
    assert held.holds


def test_every_line_is_reported_with_its_interval_and_its_words(held: FlightComparison) -> None:
    text = held.report()
    for line in held.lines:
        assert line.uncertainty > 0
        assert line.judgement.endswith(".")
        assert line.label in text
    assert "within the cell's continuous current" in held.line("peak_cell_a").judgement


def test_the_band_holds_the_plan_and_spans_the_flight(held: FlightComparison) -> None:
    band = held.band
    assert band.time_min[-1] == pytest.approx(held.measures.minutes.value)
    assert np.all(band.low_v <= band.high_v)
    assert np.all(band.low_v <= band.plan_v + 1e-9)
    assert np.all(np.diff(band.plan_v) < 0)


def test_plain_values_for_json(held: FlightComparison) -> None:
    values = held.as_dict()
    assert values["holds"] is True
    assert {line["key"] for line in values["lines"]} == {line.key for line in held.lines}
    assert values["phases"][0]["kind"] == "ground"


def test_a_flight_that_took_far_more_is_reported_to_be_outside(census_six: Design) -> None:
    found = compare_flight(census_six, ChargerSlip(12.0, 7.5))
    line = found.line("steady_power_w")
    assert line.within is False
    assert line.worse
    assert not found.holds
    assert line.judgement == "more than plan and margin budget left room for."
    assert any("was there wind" in doubt for doubt in found.doubts)  # as the calibration doubts it


def test_a_current_above_the_burst_limit_is_called_unsafe(census_six: Design) -> None:
    rng = np.random.default_rng(3)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=200.0
    )
    log = fly(census_six, truth, rng).log(0, Sensor(), rng)
    burst_a = census_six.pack.burst_a
    amps = np.where((log.time_s > 100) & (log.time_s < 104), 1.2 * burst_a, log.current_a)
    volts = np.where((log.time_s > 100) & (log.time_s < 104), 17.0, log.voltage_v)
    found = compare_flight(census_six, replace(log, current_a=amps, voltage_v=volts))
    assert "Unsafe" in found.line("peak_cell_a").judgement
    assert found.line("peak_cell_a").unsafe
    assert not any(line.key == "lowest_cell_v" for line in found.lines)  # 17.0 V / 6 = 2.83 V


def test_cells_below_their_floor_are_called_unsafe_wherever_it_was(census_six: Design) -> None:
    """Four seconds at 16.2 V in the middle of a flight that lands well: 2.7 V per cell, under 2.8 V."""
    rng = np.random.default_rng(3)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=200.0
    )
    log = fly(census_six, truth, rng).log(0, Sensor(), rng)
    dip = (log.time_s > 100) & (log.time_s < 104)
    low = replace(
        log,
        voltage_v=np.where(dip, 16.2, log.voltage_v),
        current_a=np.where(dip, 45.0, log.current_a),
    )
    found = compare_flight(census_six, low)
    assert [line.key for line in found.lines if line.unsafe] == ["lowest_cell_v"]
    assert "2.70 V per cell is under 2.8 V" in found.line("lowest_cell_v").judgement
    assert not found.holds


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ({"mass_g": 0.0}, "mass_g: 0 is not possible; more than 0 g is needed."),
        ({"pack_temperature_c": -300.0}, "-300 is not possible; -40 to 60 °C is needed."),
        ({"air_temperature_c": 999.0}, "999 is not possible; -40 to 55 °C is needed."),
    ],
)
def test_what_cannot_be_of_a_flight_is_refused(census_six, stated, expected) -> None:
    with pytest.raises(InputError, match=re.escape(expected)):
        compare_flight(census_six, ChargerSlip(21.0, 7.2), **stated)


def test_a_pack_charged_too_high_is_called_unsafe(census_six: Design) -> None:
    """26 V are 4.34 V per cell of six; 25.4 V, 4.24 V per cell, is what a meter may be off."""
    found = compare_flight(census_six, ChargerSlip(21.0, 7.2, before_v=26.0, after_v=22.6))
    assert [line.key for line in found.lines if line.unsafe] == ["full_cell_v"]
    assert "4.34 V per cell is above" in found.line("full_cell_v").judgement
    right = compare_flight(census_six, ChargerSlip(21.0, 7.2, before_v=25.4, after_v=22.6))
    assert not any(line.unsafe for line in right.lines)


def test_a_mistyped_charge_does_not_hold(census_six: Design) -> None:
    """720 mAh for 7,200: a tenth of the power that the figures give is doubted, not better than the plan."""
    found = compare_flight(census_six, ChargerSlip(21.0, 0.72, after_v=22.6))
    assert found.doubts
    assert not found.holds


def test_a_pack_hotter_than_its_cells_stand_is_called_unsafe(census_six: Design) -> None:
    rng = np.random.default_rng(3)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=200.0
    )
    log = fly(census_six, truth, rng).log(0, Sensor(), rng)
    hot_c = census_six.pack.cell.max_temperature_c + 0.4
    found = compare_flight(census_six, replace(log, temperature_c=np.full(len(log), hot_c)))
    assert found.line("temperature_c").unsafe
    assert "Unsafe: 61 °C is above the 60 °C" in found.line("temperature_c").judgement


def test_a_pack_that_was_not_full_is_flown_so_by_the_plan(census_six: Design) -> None:
    found = compare_flight(census_six, ChargerSlip(10.0, 3.4, before_v=23.4, after_v=22.2))
    assert any("was not full at take-off" in note for note in found.notes)


def test_a_cold_pack_is_compared_with_a_cold_plan(census_six: Design) -> None:
    rng = np.random.default_rng(5)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=200.0
    )
    log = fly(census_six, truth, rng).log(0, Sensor(), rng)
    log = replace(log, temperature_c=np.full(len(log), 4.0))
    warm = compare_flight(census_six, log)
    assert any("a cold pack sags more" in note for note in warm.notes)
    cold = compare_flight(census_six, log, pack_temperature_c=4.0)
    assert not any("a cold pack sags more" in note for note in cold.notes)
    assert (
        cold.line("pack_resistance_mohm").planned > 1.2 * warm.line("pack_resistance_mohm").planned
    )


def test_a_log_without_rows_on_the_ground_is_less_sure(census_six: Design) -> None:
    rng = np.random.default_rng(6)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=300.0
    )
    flown = fly(census_six, truth, rng)
    log = flown.log(0, Sensor(), rng)
    whole = compare_flight(census_six, log)
    air = compare_flight(census_six, log.between(flown.air[0] + 10, flown.air[1] - 10))
    assert any("Start the log before the motors" in note for note in air.notes)
    assert (
        air.line("pack_resistance_mohm").uncertainty
        > 1.2 * whole.line("pack_resistance_mohm").uncertainty
    )


def test_the_zero_of_the_sensor_is_reported_and_taken_out(census_six: Design) -> None:
    rng = np.random.default_rng(8)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=200.0
    )
    log = fly(census_six, truth, rng).log(0, Sensor(offset_a=-1.5), rng)
    found = compare_flight(census_six, log)
    assert any("taken for the sensor's zero and left out" in note for note in found.notes)
    assert "avionics_w" not in {line.key for line in found.lines}  # nothing is left to tell it by


def test_moved_phases_are_used_and_a_slip_has_none(census_six: Design) -> None:
    rng = np.random.default_rng(9)
    truth = simulated.Truth(
        np.array([420.0]), np.array([14.0]), np.array([1.0]), np.array([1.0]), hover_s=200.0
    )
    log = fly(census_six, truth, rng).log(0, Sensor(), rng)
    phases = find_phases(log)
    moved = phases.moved(0, phases.parts[0].end_s + 4.0)
    found = compare_flight(census_six, log, phases=moved)
    assert found.measures.minutes.value == pytest.approx(
        (phases.flight[1] - phases.flight[0] - 4.0) / 60.0
    )
    with pytest.raises(InputError, match="phases belong to a log"):
        compare_flight(census_six, ChargerSlip(20.0, 6.0), phases=phases)


def test_the_log_of_another_pack_is_refused_in_words() -> None:
    """A six-cell log against four cells in series, and against a pack of a fifth of the charge."""
    log = read_log(NOTEBOOKS / "logs" / "six_warm.csv")
    design = read_design(DESIGNS / "survey_six.toml").design
    other = replace(design, pack=replace(design.pack, series=4))
    with pytest.raises(InputError, match=r"V per cell with 4 cells in series; is it the log"):
        compare_flight(other, log)
    small = replace(design, pack=replace(design.pack, parallel=1))
    with pytest.raises(InputError, match=r"7\.7 Ah were taken from a pack of 4\.6 Ah"):
        compare_flight(small, log)
