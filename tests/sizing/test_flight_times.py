"""How long flights last beside the plan: against many draws, against the budget, for many designs at once."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.budget import budget
from workbook.sizing.budget_lines import STANDARD_LINES, draw_lines
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design, MissionPhase
from workbook.sizing.flight_times import (
    FlightTimes,
    flight_times,
    half_of_flights,
)
from workbook.sizing.limits import limits_of_flights
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep

DEMOS = ("survey_six", "survey_wing", "light_quad")


def demo(name: str) -> Design:
    return replace(read_design(DESIGNS / f"{name}.toml").design, today=None, mission=())


def read(design: Design) -> FlightTimes:
    found = size(design).flights
    assert found is not None
    return found


def with_parallel(design: Design, parallel: np.ndarray, rows: np.ndarray) -> Design:
    """Some of the designs with each number of cells in parallel, as columns."""
    return design.changed(parallel=parallel[rows][:, None])


@pytest.mark.parametrize(
    "name", ["survey_six", "light_quad", pytest.param("survey_wing", marks=pytest.mark.long)]
)
def test_the_reading_against_a_hundred_thousand_draws(name: str) -> None:
    """The same lines drawn anew, 2^17 times with another seed: bounds are those that DRAWS states."""
    design = demo(name)
    many, few = budget(design, draws=2**17, seed=9), read(design)
    plan = many.reading("endurance_min")
    assert few.endurance_plan_min == pytest.approx(plan.plan, rel=1e-12)
    assert few.endurance_p50_min == pytest.approx(plan.p50, abs=0.003 * plan.plan)
    assert few.endurance_p05_min == pytest.approx(plan.p05, abs=0.007 * plan.plan)
    asked = design.changed(wanted_min=plan.p50)
    assert read(asked).met_pct == pytest.approx(50.0, abs=5.0)


def test_the_budget_with_as_many_draws_reads_the_same() -> None:
    design = demo("survey_six")
    found = budget(design, draws=1024, seed=1)
    assert read(design).endurance_p50_min == pytest.approx(
        found.reading("endurance_min").p50, rel=1e-12
    )
    assert read(design).met_pct == pytest.approx(found.met_pct)


def test_the_same_design_always_reads_the_same() -> None:
    first, again = (repr(read(demo("light_quad"))) for _ in range(2))
    assert first == again  # as text, for a figure that is not there is like no other


def test_a_flight_that_cannot_be_flown_lasts_no_time() -> None:
    """By the table's end: where hover in some draws needs more thrust than the table has, none is counted as met."""
    six = demo("survey_six")
    top_g = six.craft.rotors * six.craft.table.top_thrust_gf
    heavy = six.changed(payload_g=0.0, parallel=12, wanted_min=0.5)
    heavy = heavy.changed(payload_g=0.995 * top_g - float(size(heavy).point.all_up_mass_g))
    found = flight_times(heavy, float(size(heavy).point.endurance_min))
    assert found is not None
    grams = 1.0 + draw_lines(STANDARD_LINES, 1024, 1)[1] / 100.0  # the second line is the scale's
    assert found.met_pct <= 100.0 * np.mean(0.995 * grams <= 1.0) + 1e-9
    assert found.endurance_p05_min == 0.0


def test_no_plan_no_reading() -> None:
    assert flight_times(demo("survey_six"), np.nan) is None
    assert flight_times(demo("survey_six"), 0.0) is None


def test_a_plan_that_fewer_than_half_meet_does_not_hold() -> None:
    six = demo("survey_six")
    half = read(six).endurance_p50_min
    kept, missed = (
        size(six.changed(wanted_min=half - 0.01)),
        size(six.changed(wanted_min=half + 0.01)),
    )
    assert kept.holds
    assert not missed.holds
    assert [limit.key for limit in missed.broken] == ["endurance_half"]
    assert missed.flights is not None
    assert missed.flights.met_pct < 50.0
    assert f"one in two lasts {np.floor(10 * half) / 10:.1f} min" in missed.broken[0].broken_text


def test_a_distance_that_fewer_than_half_meet_does_not_hold() -> None:
    wing = demo("survey_wing").changed(wanted_min=None)
    half = read(wing).range_p50_km
    missed = size(wing.changed(wanted_km=half + 0.01))
    assert "range_half" in [limit.key for limit in missed.broken]
    assert size(wing.changed(wanted_km=half - 0.01)).holds
    assert "km asked" in missed.flights_text


def test_nothing_asked_nothing_missed() -> None:
    found = size(demo("survey_six").changed(wanted_min=None))
    assert found.flights is not None
    assert np.isnan(found.flights.met_pct)
    assert "asked" not in found.flights_text
    assert found.as_dict()["flights"]["met_pct"] is None


def test_the_sentence_is_rounded_to_the_short_side() -> None:
    text = FlightTimes(26.99, endurance_plan_min=35.29, endurance_p05_min=23.88, met_pct=93.9).text(
        24.0
    )
    assert text.startswith("35.2 min as planned; one flight in two lasts 26.9 min or more")
    assert "less than 23.8 min; 93 in a hundred last the 24 min asked for." in text


@pytest.mark.parametrize("name", DEMOS)
def test_many_designs_at_once_get_the_verdict_of_each(name: str) -> None:
    """Each cell by P, asked for times about what half of its flights reach."""
    design, cells = demo(name), list(catalogue().values())
    parallel = np.array([1.0, 2.0, 3.0, 4.0])
    for cell in cells:
        one = design.changed(cell=cell)
        alone = [size(one.changed(parallel=p)).flights for p in parallel]
        halves = np.array([0.0 if found is None else found.endurance_p50_min for found in alone])
        for share in (0.8, 0.98, 0.999, 1.001, 1.02, 1.2):
            asked = one.changed(wanted_min=float(share * halves.max()))
            found = half_of_flights(partial(with_parallel, asked, parallel), np.arange(4))
            broken = limits_of_flights(asked, found)[0].broken
            assert (broken == (halves < share * halves.max())).all(), (cell.name, share)
            np.testing.assert_allclose(found.endurance_p50_min, halves, rtol=0.09)


@pytest.mark.parametrize("name", ["survey_six", "survey_wing"])
def test_of_many_designs_a_few_drawn_tell_which_others_must_be(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """400 packs from 15 to 35 °C, asked for what half of their flights reach, on average: the verdicts are
    those of drawing each, and fewer than half are drawn."""
    count = 400
    rng = np.random.default_rng(5)
    drawn: list[int] = []
    values = {
        "joint_mohm": rng.uniform(6.0, 10.0, count),
        "payload_g": rng.uniform(340.0, 360.0, count),
        "pack_temperature_c": np.linspace(15.0, 35.0, count),
    }
    design = demo(name)

    def designs(rows: np.ndarray) -> Design:
        drawn.append(len(rows))
        return asked.changed(**{key: v[rows][:, None] for key, v in values.items()})

    asked, rows = design, np.arange(count)
    monkeypatch.setattr("workbook.sizing.flight_times.WIDEST", 2.0)
    monkeypatch.setattr("workbook.sizing.flight_times.FIRST", count)
    asked = design.changed(wanted_min=read(design).endurance_p50_min)
    every = half_of_flights(designs, rows)
    monkeypatch.undo()
    wanted_min = float(np.median(every.endurance_p50_min))
    asked = design.changed(wanted_min=wanted_min)
    drawn.clear()
    few = half_of_flights(designs, rows)
    assert drawn[0] == count
    assert 32 <= sum(drawn[1:]) < count / 2
    np.testing.assert_array_equal(
        few.endurance_p50_min < wanted_min, every.endurance_p50_min < wanted_min
    )
    assert 0 < np.count_nonzero(few.endurance_p50_min < wanted_min) < count


def test_the_choice_asks_for_half_of_the_flights() -> None:
    six = demo("survey_six").changed(wanted_min=25.0)
    found = sweep(six, list(catalogue().values()), range(5, 8), range(2, 6))
    keys = [limit.key for limit in found.limits]
    assert "endurance_half" in keys
    assert all(size(one.design).holds for one in found.survivors())
    missed = found.rejected_by("endurance_half")
    assert len(missed) > 0
    assert not any(size(one.design).holds for one in missed)


def test_a_mission_takes_as_much_more_as_the_flight_is_shorter() -> None:
    """40 % of the plan's charge; half of the flights last 0.77 of the plan, so half take 40 / 0.77 %."""
    design = read_design(DESIGNS / "survey_six.toml").design
    plan_min = float(operate(design).endurance_min)
    read = flight_times(design, plan_min, 0.4)
    assert read is not None
    assert read.mission_p50_pct == pytest.approx(40.0 * plan_min / float(read.endurance_p50_min))
    assert read.mission_p95_pct == pytest.approx(40.0 * plan_min / read.endurance_p05_min)
    assert read.mission_met_pct > 95.0
    assert "the mission takes 40 % of what the pack gives as planned" in read.text()
    long = flight_times(design, plan_min, 0.95)
    assert long is not None
    assert long.mission_met_pct < 50.0


def test_a_mission_that_fewer_than_half_of_the_flights_complete_does_not_hold() -> None:
    design = read_design(DESIGNS / "survey_six_mission.toml").design
    kept = {limit.key: limit for limit in size(design).limits}
    assert not kept["mission_half"].broken
    hover = MissionPhase("hover", "look", duration_s=60.0 * 0.9 * 33.0)
    tight = size(replace(design, mission=(hover,)))
    assert "mission_half" in [limit.key for limit in tight.broken]


def test_of_a_mission_that_the_craft_cannot_fly_no_chance_is_told() -> None:
    """The pack would carry the mission whole; its climb is faster than the propellers lift this craft."""
    design = read_design(DESIGNS / "survey_six_mission.toml").design
    climb = MissionPhase("climb", "up", height_m=20.0, rate_m_s=9.0)
    slow = size(replace(design, mission=(replace(climb, rate_m_s=2.0),)))
    assert "in a hundred complete it" in slow.flights_text
    fast = size(replace(design, mission=(climb,)))
    assert fast.mission is not None
    assert fast.mission.completes
    assert "mission_climb" in [limit.key for limit in fast.broken]
    assert "mission" not in fast.flights_text
    assert "mission_half" not in [limit.key for limit in fast.limits]
    assert fast.flights is not None
    assert math.isnan(fast.flights.mission_met_pct)
