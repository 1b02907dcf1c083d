"""From a result to the plan at the bench, and what the plan's own figures change."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheet.test_build import DEMOS, SIX, answered
from workbook.files.design_file import bench_settings, read_design
from workbook.sheet.plan import differences, flight_load, plan_build
from workbook.sizing.size import size


def test_joints_and_mass_that_were_found_are_sized_anew() -> None:
    """The found figures put into the design by hand give the endurance that the sheet tells."""
    answer = answered()
    plan = plan_build(answer, bench_settings(read_design(SIX).part.bench))
    joints, masses = differences(answer, plan)
    again = size(answer.design.changed(joint_mohm=plan.joint_mohm))
    assert joints.endurance_min == pytest.approx(float(again.point.endurance_min))
    assert joints.change_min > 0 if plan.joint_mohm < 8.0 else joints.change_min < 0
    lighter = float(answer.design.pack.mass_g) - plan.mass_g
    assert masses.found == pytest.approx(float(answer.design.pack.mass_g) - lighter)
    by_hand = size(
        answer.design.changed(overhead_pct=0.0, extra_mass_g=plan.mass_g - 18 * 67.2)
    )  # 18 cells of 67.2 g, from the cell's file
    assert masses.endurance_min == pytest.approx(float(by_hand.point.endurance_min))
    for line in (joints, masses):
        assert f"{line.endurance_min:.1f} min" in line.text


def test_a_limit_that_breaks_with_the_found_mass_is_named() -> None:
    answer = answered(overhead_pct=0.0, extra_mass_g=0.0)
    found_g = plan_build(answer).mass_g
    most = float(answer.point.all_up_mass_g) + 0.5 * (found_g - float(answer.design.pack.mass_g))
    tight = size(answer.design.changed(max_all_up_mass_g=most))
    assert not any(limit.key == "all_up_mass" for limit in tight.broken)
    _, masses = differences(tight, plan_build(tight))
    assert "a limit breaks: all-up mass" in masses.text


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_load_is_that_of_the_figures(path: Path) -> None:
    answer = answered(path)
    load, figures = flight_load(answer), answer.figures()
    assert load.minutes == figures["endurance_min"]
    assert load.used_ah == pytest.approx(figures["charge_used_ah"])
    assert load.end_v == figures["landing_cell_v"]
    plan = plan_build(answer)
    assert plan.at is not None
    # the alarm's landing voltage and the end of the flight are one thing, computed twice
    assert float(plan.at.land.loaded_v) == pytest.approx(load.end_v, abs=1e-3)
