"""The margin budget: what must hold for any lines, and what is refused."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.conftest import DESIGNS
from tests.sizing.lines import line
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.sizing.budget import (
    Budget,
    budget,
    evaluate,
    quantities_read,
    survival_curve,
)
from workbook.sizing.budget_lines import (
    STANDARD_LINES,
    Effect,
    draw_lines,
)
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Allowances, Design
from workbook.sizing.size import size


def test_a_fixed_seed_gives_the_same_figures_whatever_the_threads(six_rotor: Design) -> None:
    one, again = (budget(six_rotor, draws=20_000, seed=3) for _ in range(2))
    other = budget(six_rotor, draws=20_000, seed=4)
    assert one.readings == again.readings
    alone = evaluate(
        six_rotor, STANDARD_LINES, draw_lines(STANDARD_LINES, 20_000, 3), threads=1
    ).samples
    for key, values in one.samples.items():
        np.testing.assert_array_equal(values, alone[key])
    assert one.reading("endurance_min").p50 != other.reading("endurance_min").p50
    # two scrambled sequences of the same distribution agree closely
    assert one.reading("endurance_min").p50 == pytest.approx(
        other.reading("endurance_min").p50, rel=2e-3
    )


def test_readings_stand_in_order(six_rotor: Design) -> None:
    by_reserve = six_rotor.changed(wanted_min=25.0, landing_v=2.75, reserve_pct=30.0)
    found = budget(by_reserve)  # its landing voltage moves, for the reserve ends the flight
    for reading in found.readings:
        sign = 1.0 if reading.quantity.better == "high" else -1.0
        low, high = sorted((sign * reading.p05, sign * reading.p95))
        assert low < sign * reading.p50 < high
        if reading.quantity.key == "end_cell_temperature_c":
            continue  # a pack that is cold and old at its worst lands before it is warm
        assert sign * reading.worst < low
        assert np.min(sign * found.samples[reading.quantity.key]) >= sign * reading.worst - 1e-9
        if reading.quantity.key == "peak_cell_a":
            continue  # an old, cold pack sags: full throttle pulls less
        assert sign * reading.worst < sign * reading.expected < sign * reading.plan


def test_no_line_leaves_the_plan(six_rotor: Design) -> None:
    answer = size(six_rotor)
    found = budget(six_rotor, (), draws=8)
    reading = found.reading("endurance_min")
    minutes = pytest.approx(float(answer.point.endurance_min), rel=1e-12)
    for told in (reading.plan, reading.expected, reading.worst, reading.p05, reading.p95):
        assert told == minutes
    for limit in (x for x in answer.limits if not x.unchecked):
        assert found.limit(limit.key).plan == pytest.approx(limit.margin_pct, rel=1e-9)
        assert found.limit(limit.key).broken_fraction == float(bool(limit.broken))


def test_costs_end_at_what_is_left(six_rotor: Design) -> None:
    found = budget(six_rotor)
    time = found.reading("endurance_min")
    assert found.costs[-1].left_expected_min == pytest.approx(time.expected, rel=1e-12)
    assert found.costs[-1].left_worst_min == pytest.approx(time.worst, rel=1e-12)
    left = [cost.left_worst_min for cost in found.costs]
    assert all(later <= before for before, later in itertools.pairwise(left))
    first = operate(
        six_rotor, Allowances(power_factor=1.10)
    )  # the table's tolerance, 10 % at worst
    assert left[0] == pytest.approx(float(first.endurance_min), rel=1e-9)


def test_chances_are_those_of_the_draws(six_rotor: Design) -> None:
    median = budget(six_rotor).reading("endurance_min").p50
    found = budget(six_rotor.changed(wanted_min=median))
    assert found.met_pct == pytest.approx(50.0, abs=1.0)
    lasts = np.mean(found.samples["endurance_min"] >= median)
    assert found.met_pct == pytest.approx(100.0 * lasts)
    assert np.isnan(budget(six_rotor).met_pct)


def test_a_craft_too_heavy_for_its_table_is_counted_as_broken(six_rotor: Design) -> None:
    """Half of a uniform mass line lies above the table's top thrust: 8000 gf on each of 6 motors."""
    pack_g = float(six_rotor.pack.mass_g)
    heavy = six_rotor.changed(mass_without_pack_g=48_000.0 - 350.0 - pack_g)
    mass = line(
        key="mass",
        low=-2.0,
        expected=0.0,
        high=2.0,
        distribution="uniform",
        applies_to=(Effect("mass_factor"),),
    )
    found = budget(heavy, (mass,), draws=1024)
    assert found.reading("thrust_to_weight_end").quantity.better == "high"
    assert found.limit("table_thrust").broken_fraction == pytest.approx(0.5, abs=0.01)
    assert found.reading("endurance_min").undefined_fraction == pytest.approx(0.5, abs=0.01)
    assert np.isnan(found.reading("endurance_min").worst)


def test_the_worst_cell_carries_its_share(six_rotor: Design) -> None:
    """A line that makes the worst cell carry 10 % more: peak current and the limits go up by that."""
    share = line(
        key="share", low=10.0, expected=10.0, high=10.0, applies_to=(Effect("cell_share_factor"),)
    )
    found = budget(six_rotor, (share,), draws=2)
    peak = found.reading("peak_cell_a")
    assert peak.expected == pytest.approx(1.1 * peak.plan, rel=1e-12)
    steady = next(x for x in size(six_rotor).limits if x.key == "continuous_cell_current")
    assert found.limit("continuous_cell_current").expected == pytest.approx(
        100 * (1 - 1.1 * steady.demand / steady.limit), rel=1e-9
    )


def test_a_wing_has_a_budget_too() -> None:
    wing = read_design(DESIGNS / "survey_wing.toml").design
    found = budget(wing, draws=512)
    assert [r.quantity.key for r in found.readings] == [f.key for f in quantities_read(wing)]
    climb = found.reading("climb_end_m_s")
    assert climb.worst < climb.p05 < climb.plan
    assert found.reading("endurance_min").worst < found.reading("endurance_min").p05


def test_two_lines_of_one_key_are_refused(six_rotor: Design) -> None:
    with pytest.raises(InputError, match="two lines"):
        budget(six_rotor, (line(), line()))


def test_stopping_is_said(six_rotor: Design) -> None:
    values = draw_lines(STANDARD_LINES, 40_000, 1)
    with pytest.raises(InputError, match="stopped"):
        evaluate(six_rotor, STANDARD_LINES, values, progress=lambda done, total: False)


@pytest.fixture(scope="module")
def survey() -> Budget:
    return budget(read_design(DESIGNS / "survey_six.toml").design, draws=2048)


def test_shares_of_draws_against_counting(survey: Budget) -> None:
    found = survey.survival_curve()
    times = survey.samples["endurance_min"]
    # by counting the draws that last at least so long
    counted = [100.0 * np.mean(times >= t) for t in found.time_min]
    assert found.share_pct == pytest.approx(counted)
    assert found.share_pct[0] == 100.0
    assert (np.diff(found.share_pct) < 0).all()
    assert (np.diff(found.time_min) >= 0).all()


def test_draws_that_do_not_fly_last_no_time() -> None:
    found = survival_curve(np.array([np.nan, 10.0, np.nan, 20.0]), 2)
    assert found.share_pct.tolist() == [50.0, 25.0]  # two of four, one of four
    with pytest.raises(InputError, match="undefined in every draw"):
        survival_curve(np.full(3, np.nan))


def test_the_working_agrees_with_the_readings(survey: Budget) -> None:
    steps = {s.key: s for s in survey.working()}
    time = survey.reading("endurance_min")
    assert steps["endurance_plan_min"].result == time.plan
    assert steps["endurance_expected_min"].result == time.expected
    assert steps["endurance_worst_min"].result == time.worst
    assert steps["endurance_p05_min"].result == time.p05
    assert steps["endurance_spread_min"].result == pytest.approx(time.p95 - time.p05)
    assert steps["met_pct"].result == pytest.approx(survey.met_pct)
    # wind 5 % and climb 3 % expected, by hand: 1.05 x 1.03
    assert steps["power_factor"].result == pytest.approx(1.05 * 1.03)
    assert steps["power_factor"].numbers == "(1 + 5 %) x (1 + 3 %)"
    # 50 cycles, spread 1 %, capacity 0 %; ageing by its own rate; the cold acts on the temperature
    lines = {line.key: line for line in STANDARD_LINES}
    ageing = next(e.gain for e in lines["ageing"].applies_to if e.figure == "capacity_factor")
    by_hand = (1 + 50 * ageing / 100) * 0.99
    assert steps["capacity_factor"].result == pytest.approx(by_hand)
    assert all(s.source for s in steps.values())
