"""`club.toml` does what the start page promises: every place follows its rules, or says that it does not."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

import workbook as wb
from workbook.battery.charge import ChargePlan
from workbook.files.club_file import FLIGHT_RULES
from workbook.files.design_file import DesignFile, read_design
from workbook.lessons.course import COURSE
from workbook.lessons.lesson_view import open_page
from workbook.sheet.build import write_sheet
from workbook.sheet.plan import plan_build

STRICTER = {
    "landing_v": 3.35,
    "reserve_pct": 27.0,
    "thrust_reserve": 1.42,
    "continuous_share_pct": 61.0,
    "charge_c_rate": 0.3,
}
SIX = Path("designs", "survey_six.toml")


def rule(folder: Path, **rules: float) -> None:
    """The club has changed its rules."""
    path = folder / "club.toml"
    text = path.read_text("utf-8")
    for key, value in rules.items():
        text, count = re.subn(rf"^{key} = [\d.]+", f"{key} = {value}", text, flags=re.M)
        assert count == 1
    path.write_text(text, "utf-8")


def charge_of(file: DesignFile) -> ChargePlan:
    return plan_build(wb.size(file.design), file.settings).charge


def test_every_lesson_and_the_bench_follow_every_rule(folder: Path, opened: Any) -> None:
    rule(folder, **STRICTER)
    for lesson in COURSE:
        view = opened(lesson.slug)
        held = set(FLIGHT_RULES)
        if view.craft_type == "fixed wing":
            held.remove("thrust_reserve")
        for key in held:
            assert getattr(view.design.flight, key) == STRICTER[key], (lesson.slug, key)
        for key in set(FLIGHT_RULES) & set(view.inputs):
            assert view.inputs[key].value == STRICTER[key], (lesson.slug, key)
        assert view.club.charge_c_rate == 0.3
    assert opened("c_rate").inputs["charge_c"].value == 0.3
    flight = open_page("sizing_bench").result.answer.design.flight
    assert {key: getattr(flight, key) for key in FLIGHT_RULES}.items() <= STRICTER.items()


@pytest.mark.parametrize("key", FLIGHT_RULES)
def test_answer_sweep_and_sheet_follow_each_rule(folder: Path, key: str) -> None:
    before = wb.size(read_design(SIX).design)
    rule(folder, **{key: STRICTER[key]})
    file = read_design(SIX)
    after = wb.size(file.design)
    assert getattr(after.design.flight, key) == STRICTER[key]
    limits = [{x.key: x.margin_pct for x in found.limits} for found in (before, after)]
    assert limits[0] != limits[1], "some limit is nearer"
    swept = wb.sweep(file.design, [file.design.pack.cell], [6], [3])
    assert bool(swept.survives[0]) == (not after.broken)
    assert getattr(next(iter(swept)).design.flight, key) == STRICTER[key]
    sheet = write_sheet(file, "sheet.html")
    assert f"{STRICTER[key]:g}" in sheet.path.read_text("utf-8")


def test_the_sheet_charges_no_harder_than_the_club_allows(folder: Path) -> None:
    # 3 cells of 4.57 Ah at 0.5 C: 6.855 A, below 3 x 2.3 A; at 0.3 C: 4.113 A
    assert charge_of(read_design(SIX)).current_a == pytest.approx(6.855)
    rule(folder, charge_c_rate=0.3)
    plan = plan_build(wb.size(read_design(SIX).design), read_design(SIX).settings)
    assert plan.charge.current_a == pytest.approx(4.113)
    assert any("at most 4.1 A" in line for line in plan.label.lines())


def test_a_design_of_its_own_rules_keeps_them_with_a_notice_where_they_are_weaker(
    folder: Path,
) -> None:
    text = SIX.read_text("utf-8")
    own = Path("designs", "own.toml")
    own.write_text(text.replace('rules = "club"', 'rules = "club"\nlanding_v = 3.0', 1), "utf-8")
    file = read_design(own)
    assert file.design.flight.landing_v == 3.0
    notices = " ".join(str(notice) for notice in file.notices)
    assert (
        "flight.landing_v is 3; the rule of Reedmere wetland bird census club is 3.1 or more."
        in notices
    )
    assert "by the rules of Reedmere wetland bird census club: reserve 20 %" in notices
    assert wb.size(file.design, notices=file.notices).open_doubts == ()


def test_what_a_lesson_keeps_stays_the_clubs_where_it_is_the_clubs(
    folder: Path, opened: Any
) -> None:
    view = opened("landing_voltage")
    view.inputs["reserve_pct"].value = 25.0
    view.keep_now()
    mine = Path("designs", "mine.toml").read_text("utf-8")
    assert "reserve_pct = 25.0" in mine
    assert "landing_v" not in mine.partition("[flight]")[2].partition("[today]")[0]
    rule(folder, landing_v=3.35)
    assert wb.current_design().flight.landing_v == 3.35


def test_rules_that_cannot_be_read_are_reported_with_the_design(folder: Path) -> None:
    (folder / "club.toml").write_text("= 3", "utf-8")
    file = read_design(SIX)
    assert file.design.flight.landing_v == 3.1
    assert "The rules shipped with the workbook are in use" in " ".join(map(str, file.notices))


def test_a_design_does_not_hold_by_rules_that_stood_in_for_its_clubs(folder: Path) -> None:
    rule(folder, landing_v=0.31)  # 3.1 mistyped
    file = read_design(SIX)
    result = wb.size(file.design, notices=file.notices)
    assert result.verdict == "doubtful"
    assert "landing_v is 0.31" in " ".join(doubt.text for doubt in result.open_doubts)
