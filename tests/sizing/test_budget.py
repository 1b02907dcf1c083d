"""The margin budget: what must hold for any lines, and what is refused."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import DESIGNS
from workbook.errors import InputError
from workbook.files.budget_file import budget_text, parse_budget, read_budget, write_budget
from workbook.files.design_file import read_design
from workbook.sizing.budget import draw_lines, evaluate, figures_of, margin_budget
from workbook.sizing.budget_lines import (
    STANDARD_LINES,
    BudgetLine,
    Effect,
    apply,
    check_lines,
)
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Allowances, Design
from workbook.sizing.size import size


def line(**changes: object) -> BudgetLine:
    start = {
        "key": "gusts", "name": "gusts", "low": 0.0, "expected": 5.0, "high": 20.0,
        "distribution": "triangular", "applies_to": (Effect("power_factor"),),
    }  # fmt: skip
    return BudgetLine(**{**start, **changes})  # type: ignore[arg-type]


def test_a_fixed_seed_gives_the_same_figures_whatever_the_threads(six_rotor: Design) -> None:
    one = margin_budget(six_rotor, draws=20_000, seed=3, threads=1)
    again = margin_budget(six_rotor, draws=20_000, seed=3, threads=2)
    other = margin_budget(six_rotor, draws=20_000, seed=4)
    for key, values in one.samples.items():
        np.testing.assert_array_equal(values, again.samples[key])
    assert one.readings == again.readings
    assert one.reading("endurance_min").p50 != other.reading("endurance_min").p50
    # two scrambled sequences of the same distribution agree closely
    assert one.reading("endurance_min").p50 == pytest.approx(
        other.reading("endurance_min").p50, rel=2e-3
    )


def test_readings_stand_in_order(six_rotor: Design) -> None:
    by_reserve = six_rotor.changed(wanted_min=25.0, landing_v=2.6, reserve_pct=30.0)
    found = margin_budget(by_reserve)  # its landing voltage moves, for the reserve ends the flight
    for reading in found.readings:
        sign = 1.0 if reading.figure.better == "high" else -1.0
        low, high = sorted((sign * reading.p05, sign * reading.p95))
        assert sign * reading.worst < low < sign * reading.p50 < high
        assert np.min(sign * found.samples[reading.figure.key]) >= sign * reading.worst
        if reading.figure.key != "peak_cell_a":  # an old, cold pack sags: full throttle pulls less
            assert sign * reading.worst < sign * reading.expected < sign * reading.plan


def test_no_line_leaves_the_plan(six_rotor: Design) -> None:
    answer = size(six_rotor)
    found = margin_budget(six_rotor, (), draws=8)
    reading = found.reading("endurance_min")
    minutes = pytest.approx(float(answer.point.endurance_min), rel=1e-12)
    for told in (reading.plan, reading.expected, reading.worst, reading.p05, reading.p95):
        assert told == minutes
    for limit in answer.limits:
        assert found.limit(limit.key).plan_pct == pytest.approx(limit.margin_pct, rel=1e-9)
        assert found.limit(limit.key).broken_share == float(bool(limit.broken))


def test_costs_end_at_what_is_left(six_rotor: Design) -> None:
    found = margin_budget(six_rotor)
    time = found.reading("endurance_min")
    assert found.costs[-1].left_expected_min == pytest.approx(time.expected, rel=1e-12)
    assert found.costs[-1].left_worst_min == pytest.approx(time.worst, rel=1e-12)
    left = [cost.left_worst_min for cost in found.costs]
    assert all(later <= before for before, later in itertools.pairwise(left))
    wind = next(c for c in found.costs if c.line.key == "wind")
    alone = operate(six_rotor, Allowances(power_factor=1.15))
    assert wind.alone_min == pytest.approx(time.plan - float(alone.endurance_min), rel=1e-9)


def test_chances_are_those_of_the_draws(six_rotor: Design) -> None:
    median = margin_budget(six_rotor).reading("endurance_min").p50
    found = margin_budget(six_rotor.changed(wanted_min=median))
    assert found.met_share == pytest.approx(0.5, abs=0.01)
    assert found.limit("endurance").broken_share == pytest.approx(1 - found.met_share)
    assert margin_budget(six_rotor).met_share is None


def test_a_craft_too_heavy_for_its_table_is_counted_as_broken(six_rotor: Design) -> None:
    """Half of a uniform mass line lies above the table's top thrust: 8000 gf on each of 6 motors."""
    pack_g = float(six_rotor.pack.mass_g)
    heavy = six_rotor.changed(mass_without_pack_g=48_000.0 - 350.0 - pack_g)
    mass = line(key="mass", low=-2.0, expected=0.0, high=2.0, distribution="uniform",
                applies_to=(Effect("mass_factor"),))  # fmt: skip
    found = margin_budget(heavy, (mass,), draws=1024)
    assert found.reading("thrust_to_weight_end").figure.better == "high"
    assert found.limit("table_thrust").broken_share == pytest.approx(0.5, abs=0.01)
    assert found.reading("endurance_min").untold_share == pytest.approx(0.5, abs=0.01)
    assert np.isnan(found.reading("endurance_min").worst)


def test_the_worst_cell_carries_its_share(six_rotor: Design) -> None:
    """A line that makes the worst cell carry 10 % more: peak current and the limits go up by that."""
    share = line(key="share", low=10.0, expected=10.0, high=10.0,
                 applies_to=(Effect("cell_share_factor"),))  # fmt: skip
    found = margin_budget(six_rotor, (share,), draws=2)
    peak = found.reading("peak_cell_a")
    assert peak.expected == pytest.approx(1.1 * peak.plan, rel=1e-12)
    steady = next(x for x in size(six_rotor).limits if x.key == "continuous_cell_current")
    assert found.limit("continuous_cell_current").expected_pct == pytest.approx(
        100 * (1 - 1.1 * steady.demand / steady.limit), rel=1e-9
    )


def test_lines_on_a_design_figure_add_or_share(six_rotor: Design) -> None:
    lines = (
        line(key="a", applies_to=(Effect("reserve_pct", 1.0, "plus"),)),
        line(key="b", applies_to=(Effect("payload_g", 2.0), Effect("power_factor", -0.5))),
    )
    applied = apply(six_rotor, lines, np.array([3.0, 10.0]))
    assert applied.design.flight.reserve_pct == pytest.approx(13.0)
    assert applied.design.craft.payload_g == pytest.approx(350.0 * 1.2)
    assert applied.allowances.power_factor == pytest.approx(0.95)


def test_draws_keep_to_the_distribution() -> None:
    lines = (
        line(key="t", low=0.0, expected=3.0, high=6.0),
        line(key="u", low=-1.0, expected=0.0, high=1.0, distribution="uniform"),
        line(key="n", low=-1.0, expected=0.0, high=1.0, distribution="normal"),
        line(key="f", low=2.0, expected=2.0, high=2.0),
    )
    t, u, n, f = draw_lines(lines, 8192, 1)
    assert t.min() >= 0.0
    assert t.max() <= 6.0
    assert np.abs(u).max() <= 1.0
    # a triangle of half width w has variance w^2 / 6, an even spread of half width w has w^2 / 3
    assert np.var(t) == pytest.approx(9.0 / 6.0, rel=5e-3)
    assert np.var(u) == pytest.approx(1.0 / 3.0, rel=5e-3)
    # low and high are the 5 % and 95 % points: 1 / 1.6449 is the standard deviation
    assert np.std(n) == pytest.approx(1.0 / 1.6449, rel=5e-3)
    assert np.all(f == 2.0)


def test_a_wing_has_a_budget_too() -> None:
    wing = read_design(DESIGNS / "survey_wing.toml").design
    found = margin_budget(wing, draws=512)
    assert [r.figure.key for r in found.readings] == [f.key for f in figures_of(wing)]
    climb = found.reading("climb_end_m_s")
    assert climb.worst < climb.p05 < climb.plan
    assert found.reading("endurance_min").worst < found.reading("endurance_min").p05


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"low": 6.0}, "do not fall"),
        ({"high": float("nan")}, "numbers"),
        ({"distribution": "normal"}, "in the middle"),
        ({"distribution": "round"}, "triangular, uniform or normal"),
        ({"applies_to": ()}, "applies to nothing"),
        ({"applies_to": (Effect("wind_factor"),)}, "not a figure"),
        ({"applies_to": (Effect("power_factor", 1.0, "plus"),)}, "how must be share"),
        ({"applies_to": (Effect("capacity_factor", -10.0),)}, "takes all"),
        ({"applies_to": (Effect("wanted_min"),)}, "not a figure"),
    ],
)
def test_lines_that_cannot_be_used(
    changes: dict[str, object], said: str, six_rotor: Design
) -> None:
    with pytest.raises(InputError, match=said):
        check_lines((line(**changes),), six_rotor)


def test_two_lines_of_one_key_are_refused(six_rotor: Design) -> None:
    with pytest.raises(InputError, match="two lines"):
        margin_budget(six_rotor, (line(), line()))


def test_stopping_is_said(six_rotor: Design) -> None:
    values = draw_lines(STANDARD_LINES, 40_000, 1)
    with pytest.raises(InputError, match="stopped"):
        evaluate(six_rotor, STANDARD_LINES, values, progress=lambda done, total: False)


def test_a_budget_file_comes_back_as_written(tmp_path: Path) -> None:
    path = tmp_path / "club.toml"
    write_budget(STANDARD_LINES, path)
    assert read_budget(path) == STANDARD_LINES
    with pytest.raises(InputError):
        write_budget(STANDARD_LINES, path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("workbook budget 1", "something else", "format"),
        ("low = 0.0", "lowest = 0.0", "budget line 1, lowest is not a key"),
        ("high = 20.0", 'high = "much"', "high is .*; a number is needed"),
        ("high = 20.0", "high = -3.0", "gusts: low 0, expected 5, high -3"),
        ("high = 20.0", "high = inf", "high is inf; a number is needed"),
        ('"triangular"', '"round"', '"triangular", "uniform" or "normal" is needed'),
        ('figure = "power_factor"', 'figures = "power_factor"', "figure is missing"),
        ("[[budget]]", "[[budget", "not TOML"),
    ],
)
def test_budget_files_that_cannot_be_used(old: str, new: str, said: str) -> None:
    text = budget_text((line(),))
    assert parse_budget(text) == (line(),)
    assert old in text
    with pytest.raises(InputError, match=said):
        parse_budget(text.replace(old, new, 1), "club.toml")
