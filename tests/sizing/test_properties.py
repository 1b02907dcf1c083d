"""What must hold for any design."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import power_law_table, straight_cell
from tests.sizing.same_limits import assert_same_limits
from workbook.battery.pack import Pack
from workbook.craft.craft_types import Multirotor
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Allowances, Design, Flight
from workbook.sizing.limits import limits
from workbook.sizing.size import size

FEW = settings(max_examples=30, deadline=None)


def design(**changes: float) -> Design:
    craft = Multirotor(
        name="six",
        rotors=6,
        mass_without_pack_g=2100.0,
        payload_g=350.0,
        table=power_law_table(),
        avionics_w=14.0,
        flight_factor=1.1,
    )
    start = Design(
        "six", craft, Pack(straight_cell(), 6, 3, 10.0, 75.0, 8.0), Flight(3.0, 10.0, 1.5)
    )
    return start.changed(**changes)


@FEW
@given(st.integers(1, 14), st.integers(1, 11))
def test_more_parallel_never_lowers_continuous_current(series: int, parallel: int) -> None:
    one = Pack(straight_cell(), series, parallel)
    more = dataclasses.replace(one, parallel=parallel + 1)
    assert more.continuous_a > one.continuous_a
    assert more.burst_a > one.burst_a


@FEW
@given(st.integers(1, 12), st.integers(1, 12))
def test_energy_depends_on_the_number_of_cells_only(series: int, parallel: int) -> None:
    a = Pack(straight_cell(), series, parallel)
    b = Pack(straight_cell(), parallel, series)
    assert a.energy_wh == pytest.approx(b.energy_wh, rel=1e-12)
    assert a.mass_g == pytest.approx(b.mass_g, rel=1e-12)


@FEW
@given(st.floats(1800, 3000), st.floats(1, 800))
def test_a_heavier_craft_never_hovers_longer(mass_g: float, more_g: float) -> None:
    light = operate(design(mass_without_pack_g=mass_g))
    heavy = operate(design(mass_without_pack_g=mass_g + more_g))
    assert heavy.endurance_min <= light.endurance_min
    assert heavy.end.thrust_to_weight <= light.end.thrust_to_weight + 1e-9


@FEW
@given(st.floats(0, 2500), st.floats(1, 500))
def test_a_higher_field_never_lowers_hover_power(height_m: float, more_m: float) -> None:
    low = operate(design(field_height_m=height_m))
    high = operate(design(field_height_m=height_m + more_m))
    assert high.power_w >= low.power_w


@FEW
@given(
    st.lists(st.integers(3, 7), min_size=3, max_size=3),
    st.lists(st.floats(0, 600), min_size=3, max_size=3),
)
def test_an_array_of_designs_gives_the_answers_one_by_one(
    parallel: list[int], payload_g: list[float]
) -> None:
    together = operate(design(parallel=np.array(parallel), payload_g=np.array(payload_g)))
    for k, (p, g) in enumerate(zip(parallel, payload_g, strict=True)):
        alone = operate(design(parallel=p, payload_g=g))
        for name in ("endurance_min", "power_w", "mean_current_a", "lowest_hover_cell_v"):
            assert getattr(together, name)[k] == pytest.approx(
                float(getattr(alone, name)), rel=1e-9
            ), name
        assert together.end.thrust_to_weight[k] == pytest.approx(
            float(alone.end.thrust_to_weight), rel=1e-9
        )


def test_limits_of_an_array_are_the_limits_one_by_one() -> None:
    parallel = np.array([1, 2, 3, 5, 8])
    many = design(parallel=parallel, wanted_min=20.0)
    together = limits(many, operate(many))
    for k, p in enumerate(parallel):
        one = design(parallel=int(p), wanted_min=20.0)
        assert_same_limits(limits(one, operate(one)), together, k)


def test_allowances_work_in_the_direction_of_their_names() -> None:
    plan = operate(design())
    for name, factor in (
        ("mass_factor", 1.05), ("power_factor", 1.1), ("avionics_factor", 1.5),
        ("capacity_factor", 0.9), ("resistance_factor", 1.5), ("joint_factor", 3.0),
    ):  # fmt: skip
        worse = operate(design(), Allowances(**{name: factor}))
        assert worse.endurance_min < plan.endurance_min, name
    weak = operate(design(), Allowances(thrust_factor=0.9))
    assert weak.full.full_throttle.thrust_gf < plan.full.full_throttle.thrust_gf


def test_each_limit_breaks_when_it_should() -> None:
    """Each change breaks the limit named, by physics or arithmetic seen from the change itself."""
    for change, key in (
        ({"parallel": 1, "series": 4}, "continuous_cell_current"),
        ({"mass_without_pack_g": 9000.0, "continuous_share_pct": 100.0}, "continuous_cell_current"),
        ({"landing_v": 2.6, "reserve_pct": 0.0}, "landing_voltage"),
        ({"wanted_min": 300.0}, "endurance"),
        ({"max_all_up_mass_g": 3000.0}, "all_up_mass"),
        ({"controller_max_v": 25.0}, "controller_voltage"),
        ({"controller_max_a": 10.0}, "controller_current"),
        ({"throttle_cap_pct": 20.0}, "thrust_to_weight"),
        ({"payload_g": 60_000.0}, "table_thrust"),
    ):
        changed = design(**change)
        answer = size(changed)
        broken = {limit.key for limit in answer.broken}
        assert key in broken, (change, broken)
        assert not answer.holds
    assert "burst_cell_current" in {limit.key for limit in size(design()).broken}
    capped = size(design(throttle_cap_pct=30.0))
    assert "burst_cell_current" not in {limit.key for limit in capped.broken}


def test_the_burst_cap_keeps_current_and_cutoff_at_every_state_and_touches_one() -> None:
    """At the throttle cap that the answer gives, no state is over, and the tightest is at its limit."""
    cap = size(design()).figures()["burst_throttle_cap_pct"]
    assert isinstance(cap, float)
    capped = operate(design(throttle_cap_pct=cap))
    room = []
    for state in (capped.full, capped.half, capped.end):
        pulled = state.full_throttle
        room.append(1 - float(pulled.cell_a) / 25.0)
        room.append(float(pulled.cell_v) / 2.5 - 1)
    assert min(room) == pytest.approx(0.0, abs=5e-3)
