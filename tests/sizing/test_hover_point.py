"""A multirotor's operating point: what must hold for any design."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import power_law_table
from tests.published.measured_propellers import bench_table
from tests.sizing.multirotors import six
from workbook.craft.motor import Motor
from workbook.sizing.design import Allowances, Design
from workbook.sizing.hover_point import hover_point
from workbook.sizing.size import size


@given(st.floats(1800, 3000), st.floats(1, 800))
def test_a_heavier_craft_never_hovers_longer(mass_g: float, more_g: float) -> None:
    light = hover_point(six(mass_without_pack_g=mass_g))
    heavy = hover_point(six(mass_without_pack_g=mass_g + more_g))
    assert heavy.endurance_min <= light.endurance_min
    assert heavy.end.thrust_to_weight <= light.end.thrust_to_weight + 1e-9


@given(st.floats(0, 2500), st.floats(1, 500))
def test_a_higher_field_never_lowers_hover_power(height_m: float, more_m: float) -> None:
    low = hover_point(six(field_height_m=height_m))
    high = hover_point(six(field_height_m=height_m + more_m))
    assert high.power_w >= low.power_w


@given(
    st.lists(st.integers(3, 7), min_size=3, max_size=3),
    st.lists(st.floats(0, 600), min_size=3, max_size=3),
)
def test_an_array_of_designs_gives_the_answers_one_by_one(
    parallel: list[int], payload_g: list[float]
) -> None:
    together = hover_point(six(parallel=np.array(parallel), payload_g=np.array(payload_g)))
    for k, (p, g) in enumerate(zip(parallel, payload_g, strict=True)):
        alone = hover_point(six(parallel=p, payload_g=g))
        for name in ("endurance_min", "power_w", "mean_current_a", "lowest_hover_cell_v"):
            assert getattr(together, name)[k] == pytest.approx(
                float(getattr(alone, name)), rel=1e-9
            ), name
        assert together.end.thrust_to_weight[k] == pytest.approx(
            float(alone.end.thrust_to_weight), rel=1e-9
        )


def test_allowances_work_in_the_direction_of_their_names() -> None:
    plan = hover_point(six())
    for name, factor in (
        ("mass_factor", 1.05), ("power_factor", 1.1), ("avionics_factor", 1.5),
        ("capacity_factor", 0.9), ("resistance_factor", 1.5), ("joint_factor", 3.0),
    ):  # fmt: skip
        worse = hover_point(six(), Allowances(**{name: factor}))
        assert worse.endurance_min < plan.endurance_min, name
    weak = hover_point(six(), Allowances(thrust_factor=0.9))
    assert weak.full.full_throttle.thrust_gf < plan.full.full_throttle.thrust_gf


def tightest_room(design: Design[Any], allowed_a: float) -> float:
    """The least that full throttle leaves to the current or the cutoff, of itself, over the states."""
    cutoff_v = design.pack.cell.cutoff_v
    pulled = [state.full_throttle for state in hover_point(design).states]
    return min(
        min(1.0 - float(full.cell_a) / allowed_a, float(full.cell_v) / cutoff_v - 1.0)
        for full in pulled
    )


def test_the_burst_cap_keeps_current_and_cutoff_at_every_state_and_touches_one() -> None:
    """At the throttle cap that the answer gives, no state is over, and the tightest is at its limit."""
    cap = size(six()).figures()["burst_throttle_cap_pct"]
    assert isinstance(cap, float)
    assert tightest_room(six(throttle_cap_pct=cap), 25.0) == pytest.approx(0.0, abs=5e-3)


@pytest.mark.parametrize(("cap_pct", "binds"), [(35.0, "motor"), (100.0, "pack")])
def test_just_above_the_lowest_hover_voltage_the_reserve_is_there_and_just_below_it_is_not(
    cap_pct: float, binds: str
) -> None:
    """Put back into the state: at that resistance and hover voltage the available thrust is the asked one."""
    point = hover_point(six(throttle_cap_pct=cap_pct, landing_v=2.5, reserve_pct=0.0))
    assert str(point.lowest_hover_binds) == binds
    lowest, cell_w = float(point.lowest_hover_cell_v), float(point.cell_power_w)
    r_ohm = float(point.end.resistance_mohm) / 1000
    for step_v, there in ((0.01, True), (-0.01, False)):
        at_rest_v = (lowest + step_v) + cell_w / (lowest + step_v) * r_ohm
        state = replace(point.end, open_circuit_v=np.asarray(at_rest_v))
        assert bool(state.thrust_to_weight >= 1.5) is there


@given(
    st.floats(1.1, 2.3),
    st.floats(1.0, 1.3),
    st.sampled_from(["continuous", "burst"]),
    st.floats(0, 2500),
)
def test_a_printed_cap_keeps_the_current_it_is_printed_for(
    exponent: float, flight_factor: float, limit: Literal["continuous", "burst"], height_m: float
) -> None:
    """Cap and limit are one function, whatever the exponent of the table: set in the design, the cap
    holds current and cutoff in every state, and one of them to the last digit."""
    table = power_law_table(exponent=exponent)
    design = six(table=table, flight_factor=flight_factor, field_height_m=height_m)
    cap = float(hover_point(design).throttle_cap_pct(limit))
    assert cap < 100.0
    allowed_a = 25.0 if limit == "burst" else 15.0
    room = tightest_room(design.changed(throttle_cap_pct=cap), allowed_a)
    assert room == pytest.approx(0.0, abs=1e-9)


def test_a_cap_by_an_identified_motor_keeps_its_current_too() -> None:
    table = bench_table(Motor(330.0, 120.0, 0.5), 22.2, np.arange(25.0, 101.0, 15.0), name="m")
    point = hover_point(six(table=table, rotors=4, mass_without_pack_g=1000.0, parallel=1))
    cap = float(point.throttle_cap_pct("continuous"))
    capped = hover_point(point.load.design.changed(throttle_cap_pct=cap))
    assert max(float(s.full_throttle.cell_a) for s in capped.states) == pytest.approx(15.0)


def test_a_table_that_ends_early_leaves_full_throttle_unknown_and_says_the_most_it_knows() -> None:
    table = replace(power_law_table(), throttle_pct=power_law_table().throttle_pct * 0.7)
    answer = size(six(table=table))
    assert np.isnan(answer.point.full.full_throttle.thrust_gf)
    assert np.isnan(answer.point.reserve)
    assert not answer.holds
    assert any(
        "ends at 70 % throttle" in note.text and "8000 gf" in note.text for note in answer.notes
    )
    assert np.isfinite(answer.point.endurance_min)
    assert any("one motor out is not checked" in note.text for note in answer.notes)
    # under a cap that the table reaches everything is known, though the burst current lies above it
    capped = size(six(table=table, throttle_cap_pct=30.0))
    assert float(capped.point.end.full_throttle.cell_a) < 25.0
    assert float(capped.point.reserve) == pytest.approx(
        float(capped.point.end.full_throttle.thrust_gf * 6 / capped.point.all_up_mass_g)
    )


def test_a_hover_just_below_the_first_row_is_carried_down_with_a_notice() -> None:
    """Power of the row at 800 gf x (thrust / 800)^1.5."""
    design = six(table=power_law_table(exponent=1.3, lowest_gf=800.0))
    point = hover_point(design)
    thrust = float(point.thrust_per_motor_gf)
    assert 400.0 < thrust < 800.0
    row_w = 110.0 * 0.8**1.3
    assert float(point.power_per_motor_w) == pytest.approx(row_w * (thrust / 800.0) ** 1.5)
    assert any(
        "below the thrust table's first row of 800 gf" in note.text for note in size(design).notes
    )
    assert "below the first row" in " ".join(step.text() for step in size(design).working)
