"""The course tells one story of the club's pack: the same verdict in the same words, one mass, and prose that is true."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

import workbook as wb
from tests.conftest import NOTEBOOKS
from tests.lessons.conftest import plain
from workbook.cli import main
from workbook.files.design_file import read_design
from workbook.lessons.course import COURSE, lesson_of
from workbook.lessons.lesson_view import open_page
from workbook.sheet.build import write_sheet
from workbook.sheet.text import verdict_text
from workbook.sizing.budget import Budget
from workbook.widgets.verdict import KeyFigures

SIX = Path("designs", "survey_six.toml")
CAP_PCT = 84.0
"""Of the mended pack."""


def lesson_text(slug: str) -> str:
    """What a lesson tells of the club's pack, on one line."""
    cells = json.loads((NOTEBOOKS / lesson_of(slug).notebook).read_text("utf-8"))["cells"]
    texts = ("".join(cell["source"]) for cell in cells)
    found = [part for text in texts for part in text.split("\n\n") if "club's pack" in part[:30]]
    assert len(found) == 1, slug
    return re.sub(r"\[([^]]*)\]\([^)]*\)", r"\1", found[0]).replace("\n", " ")


def kept_pct(budget: Budget) -> float:
    """Share of the flights that keep the thrust asked for."""
    return 100 * (1 - budget.limit("thrust_to_weight").broken_fraction)


@pytest.fixture(scope="module")
def first() -> Any:
    return read_design(NOTEBOOKS / SIX).design


@pytest.fixture(scope="module")
def mended(first: Any) -> Any:
    return first.changed(parallel=4, throttle_cap_pct=CAP_PCT)


def test_the_verdict_is_the_same_wherever_it_stands(
    folder: Path, opened: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    file = read_design(SIX)
    answer = wb.size(file.design, notices=file.notices)
    verdict = verdict_text(answer)
    word, _, reason = verdict.partition(": ")
    assert word == "HOLDS, but close"
    assert main(["size", str(SIX), "--short"]) == 0
    assert verdict in capsys.readouterr().out.replace("\n", " ")
    for view in (open_page("sizing_bench"), opened("choosing")):
        banner = plain(view.verdict.html.value)
        assert word.upper() in banner
        assert reason.casefold() in banner.casefold()
    sheet = write_sheet(file, "sheet.html")
    assert verdict in plain(sheet.path.read_text("utf-8"))
    assert f"*{word}*" in (NOTEBOOKS / "start.ipynb").read_text("utf-8")
    for slug in ("landing_voltage", "margin_budget", "choosing", "what_flight_said"):
        assert f"*{word}*" in lesson_text(slug) or f"*{word}*" in lesson_text(slug).replace(
            "still ", ""
        )


def test_the_pack_has_one_mass_in_every_lesson_or_the_reason_is_given(
    folder: Path, opened: Any
) -> None:
    design = read_design(SIX).design
    # 18 cells of 67.2 g, 10 % on them, 75 g of leads: 1405.56 g; with 2100 g of craft and 350 g of camera 3855.56 g
    masses = {"pack mass": "1406 g", "mass": "1406 g", "all-up mass": "3856 g"}
    seen: list[tuple[str, str]] = []
    for lesson in COURSE:
        view = opened(lesson.slug)
        if view.craft_type != "multirotor":
            continue
        assert float(view.design.pack.mass_g) == pytest.approx(float(design.pack.mass_g))
        for panel in vars(view).values():
            for figure in panel.figures if isinstance(panel, KeyFigures) else ():
                seen.append((figure.label, f"{figure.text} {figure.unit}"))
    stated_masses = [(label, text) for label, text in seen if label in masses]
    assert len(stated_masses) >= 4
    assert set(stated_masses) <= set(masses.items())
    laid_out = plain(opened("build_sheet").mass_note.value)
    assert "The plan counts 10 % over the cells, and 75 g of leads and connector." in laid_out
    assert "until the finished pack is weighed" in laid_out


def test_lesson_7_and_8_tell_what_the_plan_and_the_flights_say(first: Any) -> None:
    answer, budget = wb.size(first), wb.budget(first, draws=1024)
    minutes, landing = float(answer.point.endurance_min), float(answer.figures()["landing_cell_v"])
    assert f"flies {minutes:.1f} min" in lesson_text("landing_voltage")
    assert f"{landing:.2f} V per cell" in lesson_text("landing_voltage")
    text = lesson_text("margin_budget")
    assert f"Of 100 real flights {int(budget.met_pct)} last the 23 min asked for" in text
    assert (
        f"one in two lasts {budget.reading('endurance_min').p50:.1f} min, not {minutes:.1f}" in text
    )
    assert f"in {100 - kept_pct(budget):.0f} of 100 the thrust asked for, 1.3 times" in text
    assert first.flight.thrust_reserve == 1.3


@pytest.mark.long
def test_lesson_9_tells_why_no_cap_mends_it(first: Any) -> None:
    answer, text = wb.size(first), lesson_text("thrust_ceiling")
    assert f"leaves {float(answer.figures()['thrust_to_weight_end']):.2f} times the weight" in text
    for cap in range(74, 90):
        budget = wb.budget(first.changed(throttle_cap_pct=float(cap)), draws=1024)
        burst = 100 * budget.limit("burst_cell_current").broken_fraction
        assert burst > 5 or kept_pct(budget) < 95, "no cap mends both"
        assert (burst > 20) == (cap >= 78), "from 78 % up on many a day"


def test_lesson_13_mends_it_and_lesson_12_has_room_for_it(first: Any, mended: Any) -> None:
    answer, budget = wb.size(mended), wb.budget(mended, draws=1024)
    text = lesson_text("choosing")
    more_g = float(answer.point.all_up_mass_g) - float(wb.size(first).point.all_up_mass_g)
    assert f"about {round(more_g, -1):.0f} g more" in text
    assert f"flies {int(10 * float(answer.point.endurance_min)) / 10} min" in text
    assert f"from 74 to {CAP_PCT:.0f} %" in text
    assert min(int(budget.met_pct), int(kept_pct(budget))) == 99
    close = {limit.key for limit in answer.limits if limit.verdict == "close"}
    assert verdict_text(answer).startswith("HOLDS, but close")
    assert close == {"burst_cell_current", "all_up_mass", "controller_voltage"}, close
    drawn = wb.layouts(mended.pack, (190.0, 85.0, 80.0))[0]
    assert drawn.fits
    assert drawn.arrangement.startswith("brick, staggered, 4 x 6 cells")


def text_after(slug: str) -> str:
    """The paragraph after what a lesson tells of the club's pack, on one line."""
    cells = json.loads((NOTEBOOKS / lesson_of(slug).notebook).read_text("utf-8"))["cells"]
    parts = [part for cell in cells for part in "".join(cell["source"]).split("\n\n")]
    return parts[next(n for n, p in enumerate(parts) if "club's pack" in p[:30]) + 1].replace(
        "\n", " "
    )


@pytest.fixture(scope="module")
def after_one(first: Any) -> Any:
    """The first pack's plan with its own flight in it."""
    log = wb.read_log(NOTEBOOKS / "logs" / "six_warm.csv")
    return wb.correct(first, [wb.compare_flight(first, log, pack_temperature_c=24.0)]).corrected


def test_the_pack_that_was_built_is_the_mended_one() -> None:
    first, built = (
        read_design(NOTEBOOKS / "designs" / f"{name}.toml").part.model_dump()
        for name in ("survey_six", "survey_six_built")
    )
    changed = {
        (section, key)
        for section in ("craft", "pack", "flight", "today", "bench")
        for key, value in first[section].items()
        if built[section][key] != value
    }
    assert changed == {("pack", "parallel"), ("flight", "throttle_cap_pct"), ("bench", "pack_id")}
    assert (built["pack"]["parallel"], built["flight"]["throttle_cap_pct"]) == (4, CAP_PCT)


def test_lesson_14_holds_the_first_pack_against_its_flight(first: Any, after_one: Any) -> None:
    log = wb.read_log(NOTEBOOKS / "logs" / "six_warm.csv")
    power = wb.compare_flight(first, log, pack_temperature_c=24.0).line("steady_power_w")
    better = after_one.changed(parallel=4, throttle_cap_pct=CAP_PCT)
    poor, good, text = wb.size(after_one), wb.size(better), lesson_text("what_flight_said")
    assert f"took {power.measured:.0f} W where {power.planned:.0f} W were planned" in text
    assert verdict_text(poor).startswith("NOT YET: ")
    assert f"{int(poor.flights.met_pct)} of 100 flights would last the 23 min asked for" in text
    assert f"predicted {float(good.point.power_w):.0f} W" in text
    assert verdict_text(good).startswith("HOLDS, but close: ")
    assert f"{int(good.flights.met_pct)} of 100 flights would last" in text
    kept = int(kept_pct(wb.budget(better, draws=1024)))
    assert f"{kept} of 100 keep the thrust asked for" in text


def test_lesson_14_tells_what_the_built_pack_did(mended: Any, after_one: Any) -> None:
    built = read_design(NOTEBOOKS / "designs" / "survey_six_built.toml").design
    log, text = wb.read_log(NOTEBOOKS / "logs" / "six_built.csv"), text_after("what_flight_said")
    found = wb.compare_flight(built, log, pack_temperature_c=21.0, air_temperature_c=18.0)
    start_s, end_s = found.phases.flight
    assert f"in the air for {int((end_s - start_s) / 60)} min" in text
    landed, power = found.line("landing_cell_v"), found.line("steady_power_w")
    assert f"read {landed.measured:.2f} V per cell before it landed" in text
    foretold = wb.size(after_one.changed(parallel=4, throttle_cap_pct=CAP_PCT))
    assert f"Steady flight took {power.measured:.0f} W" in text
    assert f"predicted {float(foretold.point.power_w):.0f} W" in text
    assert f"on paper {float(wb.size(mended).point.power_w):.0f} W" in text
    corrected = wb.correct(built, [found]).corrected
    answer = wb.size(corrected)
    assert verdict_text(answer).startswith("HOLDS, but close: ")
    close = {limit.key for limit in answer.limits if limit.verdict == "close"}
    assert close == {"all_up_mass", "controller_voltage"}
    assert f"{int(answer.flights.met_pct)} of 100 flights last the 23 min asked for" in text
    assert f"{int(kept_pct(wb.budget(corrected, draws=1024)))} keep the thrust asked for" in text
