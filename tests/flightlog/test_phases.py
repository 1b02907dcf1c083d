"""The flight in a log."""

from __future__ import annotations

import numpy as np
import pytest

from tests.flightlog.simulated import Sensor, fly, truths
from workbook.errors import InputError
from workbook.flightlog.log import FlightLog
from workbook.flightlog.phases import FlightPhase, Phases, find_phases
from workbook.sizing.design import Design


@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_the_flight_is_found_where_it_was(census_six: Design, rate_hz: float) -> None:
    rng = np.random.default_rng(1)
    flown = fly(census_six, truths(5, rng, census_six, hover_s=300.0), rng)
    for seed in range(5):
        found = find_phases(flown.log(seed, Sensor(rate_hz=rate_hz), rng))
        start, end = found.flight
        assert start == pytest.approx(flown.air[0], abs=2.5)
        assert end == pytest.approx(flown.air[1], abs=2.5)
        hover_s = sum(part.duration_s for part in found.of("hover"))
        assert hover_s == pytest.approx(300.0, abs=30.0)  # climbs and descents take 70 s beside it
        assert {"climb", "descent"} <= {part.kind for part in found.parts}


def steady(time_s: np.ndarray, **others: np.ndarray) -> FlightLog:
    amps = np.where((time_s > 30) & (time_s < 270), 20.0, 0.5)
    return FlightLog("made", time_s, 24.0 - 0.04 * amps, amps, **others)  # type: ignore[arg-type]


def test_height_tells_climb_and_descent_and_speed_tells_cruise() -> None:
    time_s = np.arange(0.0, 300.0, 0.5)
    height = np.interp(time_s, [0, 30, 60, 200, 240, 300], [0, 0, 45, 45, 0, 0])
    speed = np.where((time_s > 100) & (time_s < 180), 9.0, 0.5)
    found = find_phases(steady(time_s, height_m=height, speed_m_s=speed))
    kinds = " ".join(part.kind for part in found.parts)
    assert kinds == "ground take-off climb hover cruise hover descent hover landing ground"
    (cruise,) = found.of("cruise")
    assert (cruise.start_s, cruise.end_s) == (pytest.approx(100, abs=3), pytest.approx(180, abs=3))


def test_phases_cover_the_log_without_a_hole() -> None:
    found = find_phases(steady(np.arange(0.0, 300.0, 0.5)))
    assert found.parts[0].start_s == 0.0
    assert found.parts[-1].end_s == 299.5
    assert all(a.end_s == b.start_s for a, b in zip(found.parts[:-1], found.parts[1:], strict=True))


def test_a_log_that_was_begun_in_the_air_is_all_flight() -> None:
    time_s = np.arange(0.0, 200.0, 0.5)
    amps = 20.0 + np.sin(time_s)
    found = find_phases(FlightLog("made", time_s, 24.0 - 0.04 * amps, amps))
    assert found.flight == (0.0, 199.5)


def test_no_flight_is_reported() -> None:
    time_s = np.arange(0.0, 200.0, 0.5)
    amps = np.where(np.abs(time_s - 100) < 4, 20.0, 0.5)
    with pytest.raises(InputError, match="no flight of 15 s or more is in it"):
        find_phases(FlightLog("made", time_s, 24.0 - 0.04 * amps, amps))


def test_a_boundary_is_moved_within_its_room() -> None:
    three = Phases(
        (FlightPhase("ground", 0, 10), FlightPhase("hover", 10, 90), FlightPhase("ground", 90, 99))
    )
    moved = three.moved(1, 80.0)
    assert [part.end_s for part in moved.parts[:-1]] == [10, 80.0]
    assert moved.flight == (10, 80.0)
    with pytest.raises(InputError, match="between 10 and 99 s there is room"):
        three.moved(1, 5.0)
    with pytest.raises(InputError, match="0 to 1 are"):
        three.moved(2, 5.0)
