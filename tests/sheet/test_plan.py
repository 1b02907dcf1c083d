"""From a result to the plan at the bench, and what the plan's own figures change."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.sheet.test_build import DEMOS, SIX, answered
from workbook.bench.cell_inspection import MeasuredCells
from workbook.files.design_file import read_design
from workbook.numbers import rounded
from workbook.sheet.plan import differences, flight_load, plan_build
from workbook.sizing.size import size


def test_joints_and_mass_that_were_found_are_sized_anew() -> None:
    """The found figures put into the design by hand give the endurance that the sheet tells."""
    answer = answered()
    plan = plan_build(answer, read_design(SIX).settings)
    joints, masses = differences(answer, plan)
    again = size(answer.design.changed(joint_mohm=plan.joint_mohm))
    assert f"becomes {float(again.point.endurance_min):.1f} min" in joints
    assert f"Joints: {rounded(plan.joint_mohm, 1, 'up'):.1f} mΩ found" in joints
    by_hand = size(
        answer.design.changed(overhead_pct=0.0, extra_mass_g=plan.mass_g - 18 * 67.2)
    )  # 18 cells of 67.2 g, from the cell's file
    assert f"becomes {float(by_hand.point.endurance_min):.1f} min" in masses
    assert f"Pack mass: {rounded(plan.mass_g, 0, 'up'):.0f} g found" in masses


def test_a_limit_that_breaks_with_the_found_mass_is_named() -> None:
    answer = answered(overhead_pct=0.0, extra_mass_g=0.0)
    found_g = plan_build(answer).mass_g
    most = float(answer.point.all_up_mass_g) + 0.5 * (found_g - float(answer.design.pack.mass_g))
    tight = size(answer.design.changed(max_all_up_mass_g=most))
    assert not any(limit.key == "all_up_mass" for limit in tight.broken)
    _, masses = differences(tight, plan_build(tight))
    assert "a limit breaks: all-up mass" in masses


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_load_is_that_of_the_figures(path: Path) -> None:
    answer = answered(path)
    load, figures = flight_load(answer), answer.figures()
    assert load.minutes == figures["endurance_min"]
    assert load.used_ah == pytest.approx(figures["charge_used_ah"])
    assert load.end_v == figures["landing_cell_v"]
    plan = plan_build(answer)
    assert plan.thresholds is not None
    # the alarm's landing voltage and the end of the flight are one thing, computed twice
    assert float(plan.thresholds.land.loaded_v) == pytest.approx(load.end_v, abs=1e-3)


TWO = {"parallel": 4, "packs": 2}
"""The demo six-rotor on two packs of 6S2P; as one pack it is 6S4P."""


def test_one_of_two_packs_is_planned_for_what_it_carries_where_they_differ() -> None:
    """Steady and burst of one pack: its cells' highest current by the network, times its own P."""
    answer = size(read_design(SIX).design.changed(**TWO))
    pair, plan = answer.pair, plan_build(answer)
    assert pair is not None
    assert (plan.pack.series, plan.pack.parallel) == (6, 2)
    assert plan.made_for.steady_a == pytest.approx(2 * float(pair.steady_a), abs=0.1)
    assert plan.made_for.highest_a == pytest.approx(2 * float(pair.full_power_a), abs=0.1)
    assert plan.wire.chosen is not None
    assert plan.connector is not None
    assert plan.label.burst_a < answer.design.pack.burst_a / 2
    assert plan.carried.energy_wh == pytest.approx(answer.design.pack.energy_wh / 2)
    assert len(plan.balance) == 7


@pytest.mark.parametrize(("joined", "one"), [("parallel", (6, 2)), ("series", (3, 4))])
def test_settings_and_voltages_are_those_of_both_packs_together(joined: str, one: Any) -> None:
    whole = plan_build(size(read_design(SIX).design.changed(parallel=4)))
    plan = plan_build(size(read_design(SIX).design.changed(**TWO, joined=joined)))
    assert (plan.pack.series, plan.pack.parallel) == one
    assert plan.thresholds is not None
    assert whole.thresholds is not None
    assert plan.thresholds.alarm.pack_loaded_v == pytest.approx(
        float(whole.thresholds.alarm.pack_loaded_v)
    )
    assert plan.thresholds.land.used_ah == pytest.approx(float(whole.thresholds.land.used_ah))
    assert plan.devices is not None
    assert [item.expected for item in plan.devices.know[:2]] == [6.0, 18280.0]


def test_two_packs_that_are_alike_carry_half_each_and_the_bill_counts_both() -> None:
    apart = {"apart_resistance_pct": 0.0, "apart_capacity_pct": 0.0, "apart_cell_v": 0.0}
    whole = flight_load(size(read_design(SIX).design.changed(parallel=4)))
    answer = size(read_design(SIX).design.changed(**TWO, **apart))
    one = flight_load(answer, of_one=True)
    for key in ("steady_w", "mean_a", "highest_a", "steady_a", "climb_w", "used_ah"):
        assert getattr(one, key) == pytest.approx(getattr(whole, key) / 2, rel=1e-6)
    assert (one.minutes, one.end_v) == (whole.minutes, whole.end_v)
    built = {line.key: line.needed for line in plan_build(answer).bill.lines}
    assert (built["cells"], built["balance plug"], built["connector"]) == (24, 2, 2)
    assert built["joining lead"] == 1
    single = plan_build(size(read_design(SIX).design.changed(parallel=4))).bill.lines
    assert "joining lead" not in {line.key for line in single}


def test_measured_cells_are_dealt_into_the_groups_of_both_packs() -> None:
    """24 groups of one cell could be had; two packs of 6S2P have twelve groups of two, six for each."""
    answer = size(read_design(SIX).design.changed(**TWO))
    cells = MeasuredCells(
        tuple(f"c{k}" for k in range(26)), capacity_ah=[4.6 + 0.01 * (k % 7) for k in range(26)]
    )
    groups = plan_build(answer, cells=cells).groups
    assert groups is not None
    assert [len(names) for names in groups.names] == [2] * 12
    assert len({name for names in groups.names for name in names}) == 24


def test_what_two_packs_weigh_and_resist_is_reported_of_both() -> None:
    """Joints of one pack in parallel are halved; masses are doubled."""
    answer = size(read_design(SIX).design.changed(**TWO))
    plan = plan_build(answer)
    joints, masses = differences(answer, plan)
    assert f"{rounded(plan.joint_mohm / 2, 1, 'up'):.1f} mΩ found" in joints
    assert f"{rounded(2 * plan.mass_g, 0, 'up'):.0f} g found" in masses
