"""A plan laid over a flight: it meets what it was made from, and says what is off where it does not."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.battery.discharge import constant_power
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.flightlog.log import FlightLog
from workbook.flightlog.overlay import Overlay, lay_over
from workbook.flightlog.phases import FlightPhase, Phases
from workbook.numbers import plain
from workbook.sizing.constant_power_flight import power_trace
from workbook.sizing.design import Design

WATTS, FACTOR = 450.0, 1.3


@cache
def design() -> Design[Any]:
    return plain(read_design(DESIGNS / "survey_six.toml").design)  # type: ignore[no-any-return]


PHASES = Phases(
    (
        FlightPhase("ground", 0.0, 60.0),
        FlightPhase("hover", 60.0, 1260.0),
        FlightPhase("ground", 1260.0, 1300.0),
    )
)


def flight(noise_v: float = 0.0) -> FlightLog:
    """Twenty minutes of hover, on the plan's own curve: by Euler's steps, not by the plan's own sum over depth."""
    pack, time = design().pack, np.arange(0.0, 1300.0, 0.5)
    model, volts, amps, depth = pack.cell.model, [], [], 0.0
    for moment in time:
        watts = WATTS if 60.0 <= moment < 1260.0 else 0.0
        ohm = (float(model.resistance_at(depth)) * FACTOR + float(pack.joint_mohm_per_cell)) / 1e3
        rest, cell_w = float(model.open_circuit_at(depth)), watts / float(pack.cells)
        cell_v = 0.5 * (rest + np.sqrt(rest * rest - 4.0 * cell_w * ohm))
        volts.append(6.0 * cell_v)
        amps.append(3.0 * cell_w / cell_v)
        depth += cell_w / cell_v * 0.5 / 3600.0 / float(model.capacity_ah)
    draw = np.random.default_rng(1)
    return FlightLog(
        "six.csv", time, np.array(volts) + draw.normal(0, noise_v, len(time)), np.array(amps)
    )


LOG = flight()


def laid(power_w: float = WATTS, factor: float = FACTOR) -> Overlay:
    return lay_over(design(), LOG, PHASES, power_w, factor)


def test_a_flight_on_the_plan_meets_the_plan() -> None:
    found = laid()
    assert found.meets
    assert found.steady_w == pytest.approx(WATTS, rel=1e-3)
    assert max(map(abs, found.off_mv)) < 2.0
    assert "meets the flight" in found.text()


def test_noise_does_not_part_them() -> None:
    noisy = lay_over(design(), flight(0.05), PHASES, WATTS, FACTOR)
    assert noisy.meets
    assert max(map(abs, noisy.off_mv)) < 5.0


@pytest.mark.parametrize(
    ("power_w", "factor", "expected"),
    [
        (405.0, FACTOR, "takes 10 % less power"),
        (495.0, FACTOR, "takes 10 % more power"),
        (WATTS, 1.0, "more of it"),
        (WATTS, 1.8, "less of it"),
        (WATTS, 6.0, "collapses, before the flight ends"),
    ],
)
def test_what_is_off_is_named_with_its_remedy(power_w: float, factor: float, expected: str) -> None:
    found = laid(power_w, factor)
    assert not found.meets
    assert expected in found.text()


def test_resistance_is_off_from_the_start_and_power_more_and_more() -> None:
    ohm, watts = laid(WATTS, 1.0).off_mv, laid(1.2 * WATTS, FACTOR).off_mv
    assert abs(watts[1] - watts[0]) > abs(ohm[1] - ohm[0])


def test_the_working_finds_power_and_resistance_without_the_plan() -> None:
    power, rest, ohm = laid(300.0, 0.7).working()
    pack = design().pack
    assert power.result == pytest.approx(WATTS, rel=1e-3)
    depth = 0.5 * 20.0 / 60.0 * WATTS / 22.5 / (3.0 * float(pack.cell.model.capacity_ah))
    own = float(pack.cell.model.resistance_at(depth)) * FACTOR * 6.0 / 3.0
    assert ohm.result == pytest.approx(own + float(pack.joint_mohm), rel=0.04)
    assert 6 * 3.5 < rest.result < 6 * 4.2


def test_the_trace_ends_as_the_discharge_of_the_plan_does() -> None:
    pack = design().pack
    trace = power_trace(pack, WATTS, resistance_factor=1.5, end_depth=0.8)
    run = constant_power(
        pack.cell.model, WATTS / float(pack.cells), 2.0, 0.8,
        extra_mohm=pack.joint_mohm_per_cell, resistance_factor=1.5,
    )  # fmt: skip
    assert trace.time_min[-1] == pytest.approx(float(run.time_s) / 60.0, rel=2e-3)
    assert trace.cell_v[-1] == pytest.approx(float(run.end_v), abs=1e-3)


@pytest.mark.parametrize("phases", [Phases((FlightPhase("climb", 0.0, 1300.0),)),
                                    Phases((FlightPhase("ground", 0.0, 60.0), FlightPhase("hover", 60.0, 100.0),
                                            FlightPhase("landing", 100.0, 1300.0)))])  # fmt: skip
def test_too_little_steady_flight_is_reported(phases: Phases) -> None:
    with pytest.raises(InputError, match=r"six\.csv: less than 120 s of steady flight"):
        lay_over(design(), LOG, phases, WATTS)


def test_a_log_without_a_figure_is_reported() -> None:
    empty = FlightLog("none.csv", LOG.time_s, np.full(len(LOG), np.nan), LOG.current_a)
    with pytest.raises(InputError, match="less than 120 s of steady flight"):
        lay_over(design(), empty, PHASES, WATTS)
