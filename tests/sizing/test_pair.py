"""Two packs on one craft: alike they change nothing, unlike each limit is asked of the one that carries more."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.sizing.multirotors import six
from tests.sizing.wings import wing
from workbook.battery.discharge import constant_power
from workbook.battery.two_packs import ONE_PACK, Joining
from workbook.sizing.candidates import Sweep
from workbook.sizing.compare import compare
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Constraints, Design
from workbook.sizing.limits import flight_limits, ground_limits
from workbook.sizing.pair import one_left, pair_of
from workbook.sizing.remedy import remedy
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep

OF_TWO = {
    "packs_even",
    "packs_apart",
    "shared_steady_current",
    "shared_burst_current",
    "weaker_pack_voltage",
}


def two(joined: str = "parallel", **changes: Any) -> Design[Any]:
    """The six-rotor of these tests on two packs of 6S3P, or of 3S6P in series."""
    return six(**{"parallel": 6, "packs": 2, "joined": joined, "throttle_cap_pct": 52.0} | changes)


def alike(design: Design[Any]) -> Design[Any]:
    return design.changed(apart_resistance_pct=0.0, apart_capacity_pct=0.0, apart_cell_v=0.0)


@given(st.integers(2, 5), st.sampled_from(["parallel", "series"]), st.floats(0.0, 800.0))
def test_two_packs_that_are_alike_are_one_pack(half, joined, payload_g):
    """Every figure of the flight is the one pack's, and what each carries is an even share."""
    design = alike(two(joined, parallel=2 * half, payload_g=payload_g))
    pair, single = size(design), size(replace(design, joining=ONE_PACK))
    assert pair.figures() == single.figures()
    assert {x.key for x in pair.limits} - {x.key for x in single.limits} <= OF_TWO
    assert pair.verdict == single.verdict
    assert pair.pair is not None
    assert float(pair.pair.steady_a) == pytest.approx(float(pair.point.end.steady_a), rel=1e-6)
    top = max(float(s.full_throttle.cell_a) for s in pair.point.states)
    assert float(pair.pair.full_power_a) == pytest.approx(top, rel=1e-6)


def test_one_pack_has_none_of_the_limits_of_two():
    assert not OF_TWO & {limit.key for limit in size(six()).limits}
    assert size(six()).as_dict()["packs"] is None


def test_the_connector_carries_its_own_pack_and_the_power_module_all():
    """Alike, each connector carries half of the pack's current; apart by 20 % of resistance, more."""
    design = two(connector_max_a=100.0, power_module_max_a=200.0)
    found = {x.key: x for x in size(alike(design)).limits}
    assert found["connector_current"].demand == pytest.approx(
        found["power_module_current"].demand / 2.0
    )
    uneven = {x.key: x for x in size(design.changed(apart_resistance_pct=20.0)).limits}
    assert uneven["connector_current"].demand > 1.05 * found["connector_current"].demand


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"parallel": 5}, "packs_even"),
        ({"apart_cell_v": 0.5}, "packs_apart"),
        ({"apart_resistance_pct": 100.0, "throttle_cap_pct": 62.0}, "shared_burst_current"),
        ({"apart_resistance_pct": 100.0, "continuous_share_pct": 40.0}, "shared_steady_current"),
    ],
)
def test_each_limit_of_two_packs_in_parallel_breaks_when_it_should(changes, key):
    even = size(
        alike(two(**{"parallel": 6} | {k: v for k, v in changes.items() if k != "parallel"}))
    )
    assert key not in {limit.key for limit in even.broken}
    assert key in {limit.key for limit in size(two(**changes)).broken}


def test_the_weaker_of_two_in_series_is_asked_for_its_voltage():
    """By hand: the weaker has 1 - 0.03 / 2 of the charge, so it is at depth 0.9 / 0.985 when the plan lands."""
    design = two("series")
    pair = size(design).pair
    assert pair is not None
    assert pair.weaker_depth == pytest.approx(float(pair.point.run.end_depth_of_discharge) / 0.985)
    assert pair.weaker_v < pair.point.run.end_v
    worn = size(two("series", apart_capacity_pct=20.0, apart_resistance_pct=100.0, landing_v=2.9))
    assert "weaker_pack_voltage" in {limit.key for limit in worn.broken}


def test_what_one_pack_does_by_itself():
    """A craft that one pack carries: the minutes are a constant-power run on half of the cells, all the mass kept."""
    design = two(parallel=8, mass_without_pack_g=900.0, payload_g=0.0)
    point = operate(design)
    half_way, due = one_left(design, point)
    assert half_way.minutes > due.minutes > 0.0
    # the same power on half of the cells, joints of one pack, down to 2.8 V or the cell's continuous current
    cell_w = float(point.power_w) / (design.pack.cells / 2)
    run = constant_power(
        design.pack.cell.model,
        cell_w,
        max(2.8, cell_w / design.pack.cell.continuous_a),
        1.0,
        extra_mohm=16.0 * 4 / 6,
        start_depth_of_discharge=half_way.used_pct / 100.0,
    )
    assert half_way.minutes == pytest.approx(float(run.time_s) / 60.0)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"reserve_pct": 60.0}, "it reaches home"),
        ({}, "it does not reach home: land where it is"),
        ({"parallel": 2}, "for 10 s, no longer"),
        ({"parallel": 2, "payload_g": 1500.0}, "cannot carry the craft by itself"),
    ],
)
def test_what_is_left_is_stated_in_words(changes, sentence):
    texts = [note.text for note in size(two(**changes)).notes if note.topic == "two packs"]
    assert any(sentence in text for text in texts)


def test_a_connector_that_one_pack_alone_would_melt_is_stated():
    """Alone the other carries 8 x its cell's current at the most: more than 10 A, less than 400 A."""
    craft = {"parallel": 8, "mass_without_pack_g": 900.0, "payload_g": 0.0}
    for most_a, shown in ((10.0, True), (400.0, False)):
        notes = size(two(**craft, connector_max_a=most_a)).notes
        texts = " ".join(note.text for note in notes if note.topic == "two packs")
        assert ("can melt; as long as it holds, the other carries" in texts) == shown


def test_in_series_one_that_fails_takes_all_power():
    texts = " ".join(str(x) for x in size(two("series")).notes if x.topic == "two packs")
    assert "all power is lost at once" in texts
    assert "each of 3S6P" in texts


def test_a_wing_on_two_packs_is_sized_too():
    answer = size(wing(parallel=4, packs=2))
    assert {"shared_steady_current", "packs_apart"} <= {limit.key for limit in answer.limits}
    assert answer.as_dict()["packs"]["parallel"] == 2


def test_each_pack_is_a_battery_of_its_own_to_transport():
    """6S6P is one of 389 Wh by the cell's figures; two of 6S3P are carried by half of that."""
    design, one = two(), six(parallel=6)
    of_two, of_one = (
        {x.key: x for x in ground_limits(d, Constraints(transport=1))}["transport"]
        for d in (design, one)
    )
    assert of_two.demand == pytest.approx(of_one.demand / 2.0)
    assert size(design).as_dict()["packs"]["energy_wh"] == pytest.approx(float(of_two.demand))


def test_a_sweep_keeps_to_counts_that_two_packs_can_share():
    design = two()
    found: Sweep = sweep(design, [design.pack.cell], [6], range(4, 9), screen=False)
    odd = found.columns["parallel"] % 2 == 1
    place = [limit.key for limit in found.limits].index("packs_even")
    assert found.columns["broken"][:, place].tolist() == odd.tolist()
    for row in np.flatnonzero(~odd):
        alone = found.design_of(int(row))
        broken = {x.key for x in flight_limits(alone, operate(alone)) if x.broken}
        swept = {found.limits[k].key for k in np.flatnonzero(found.columns["broken"][row])}
        assert broken <= swept


def test_a_way_out_is_one_that_two_packs_can_share():
    design = two(parallel=4, wanted_min=24.0, throttle_cap_pct=100.0)
    answer = size(design)
    assert answer.broken
    assert "left over" not in remedy(answer, [design.pack.cell])


def test_two_packs_or_one_is_a_difference():
    pair = two()
    change = compare(replace(pair, joining=ONE_PACK), pair).changes
    assert [c.text for c in change] == ["packs from 1 to 2"]


def test_a_pair_of_arrays_is_its_single_designs():
    many = two(payload_g=np.array([0.0, 350.0]))
    pair = pair_of(operate(many))
    assert pair is not None
    for k, payload_g in enumerate((0.0, 350.0)):
        one = two(payload_g=payload_g)
        alone = pair_of(operate(one))
        assert alone is not None
        assert pair.steady_a[k] == pytest.approx(float(alone.steady_a))
        assert pair.full_power_a[k] == pytest.approx(float(alone.full_power_a))


@pytest.mark.parametrize("joined", ["parallel", "series"])
@pytest.mark.parametrize("changes", [{"payload_g": 40_000.0}, {"landing_v": 3.99, "parallel": 2}])
def test_two_packs_that_cannot_fly_say_no_figure(joined, changes):
    answer = size(two(joined, **changes))
    assert answer.stops
    texts = [str(note) for note in answer.notes if note.topic == "two packs"]
    assert len(texts) == 2
    assert "nan" not in " ".join(texts)
    record = answer.as_dict()["packs"]
    steady = record[
        "steady_cell_a"
    ]  # none where no power is known; at the start where the flight ends there
    assert (steady is None) == ("payload_g" in changes)
    assert record.get("one_left", []) == []
    assert remedy(answer, [answer.design.pack.cell])


def test_a_way_out_is_sought_where_the_count_itself_cannot_be_shared():
    answer = size(two("series", series=5, wanted_min=60.0))
    assert "packs_even" in {limit.key for limit in answer.broken}
    assert remedy(answer, [answer.design.pack.cell])


def test_a_joining_has_no_say_with_one_pack():
    assert not Joining(1, "series").several
    assert not Joining(1, "parallel").in_parallel
