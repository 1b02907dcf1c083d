"""The build sheet says what the computation says, holds everything in itself, and escapes a user's text."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.conftest import DESIGNS, edited
from tests.sheet.page import Page
from workbook.bench.cell_inspection import MeasuredCells
from workbook.cli import main
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.numbers import Side, in_digits, rounded
from workbook.quantities import results
from workbook.sheet.build import PAPERS, build_sheet_html, write_sheet
from workbook.sheet.plan import plan_build
from workbook.sheet.text import result_text
from workbook.sizing.notes import Note
from workbook.sizing.size import SizingResult, size

DEMOS = sorted(DESIGNS.glob("*.toml"))
SIX = DESIGNS / "survey_six.toml"


def answered(path: Path = SIX, **changed: Any) -> SizingResult:
    file = read_design(path)
    return size(file.design.changed(**changed) if changed else file.design, notices=file.notices)


def page_of(answer: SizingResult, path: Path = SIX, **more: Any) -> Page:
    settings = read_design(path).settings
    return Page(build_sheet_html(answer, plan_build(answer, settings), date="2026-05-01", **more))


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_every_figure_equals_that_of_size_json(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Checked against the command line's own JSON, at full precision and as printed."""
    assert main(["size", "--json", str(path)]) == 0
    values = json.loads(capsys.readouterr().out)
    limits = {limit["key"]: limit for limit in values["limits"]}
    assert main(["sheet", str(path), "-o", str(tmp_path / "sheet.html")]) == 0
    page = Page((tmp_path / "sheet.html").read_text("utf-8"))
    rows = {row.key: row for row in results(answered(path).craft_type.keys)}
    seen = set()
    for shown in page.figures:
        seen.add(shown.key)
        if shown.key.startswith("limits."):
            _, key, figure = shown.key.split(".")
            value = limits[key][figure]
            unit = limits[key]["unit"] if figure == "limit" else ""
            if value is None:
                expected = "-"
            elif figure == "margin_pct":  # never told too large
                expected = f"{np.floor(value + 1e-7):.0f} %"
            else:  # what is asked is told up, what there is down
                side: Side = "up" if figure == "demand" else "down"
                beside = limits[key]["limit"] if figure == "demand" else None
                expected = f"{in_digits(value, 4, side, beside)} {unit}".strip()
        else:
            value = values[shown.key]
            expected = value if isinstance(value, str) else result_text(shown.key, value)
        assert shown.text == expected, shown.key
        held = float(shown.value) if isinstance(value, float) else shown.value
        assert held == ("" if value is None else value), shown.key
    assert seen >= set(rows) | {"ends_by"}
    assert seen >= {
        f"limits.{key}.{part}" for key in limits for part in ("demand", "limit", "margin_pct")
    }


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_page_holds_everything_in_itself(path: Path) -> None:
    page = page_of(answered(path), path)
    assert not re.search(r"https?:|//[a-z]|@import", page.html)
    assert {tag for tag, _ in page.tags} & {
        "script",
        "link",
        "img",
        "iframe",
        "object",
        "base",
    } == set()
    for tag, given in page.tags:
        for name, value in given.items():
            assert not name.startswith("on"), (tag, name)
            leads = name in ("href", "src", "xlink:href")
            assert not leads or value.startswith("#"), (tag, name, value)
            assert all(url.startswith("#") for url in re.findall(r"url\(([^)]*)\)", value)), value
    ids = {given["id"] for _, given in page.tags if "id" in given}
    used = set(re.findall(r"url\(#([^)]*)\)", page.html))
    assert used <= ids


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_what_a_builder_needs_is_there(path: Path) -> None:
    answer = answered(path)
    page = page_of(answer, path)
    words = page.words
    for heading in (
        "Limits", "1. Prepare", "2. Test the cells", "3. Lay out", "4. Weld in this order",
        "5. Leads, connector, fuses", "6. Balance plug", "7. First charge", "8. Proof discharge",
        "Acceptance", "9. Set: voltages", "Know the pack", "Warn", "Protect the pack", "Come home",
        "10. Write on the pack", "11. First flights", "12. Store, join, retire", "13. Carry and send",
        "Strip to cut", "To buy", "Insulation", "Before and while welding", "How the figures came about",
        "What was taken as given", "Built by", "Checked by", "Top face", "Bottom face",
        "50 mm of the pack", "As found at the bench, against the design", "67th edition (2026)",
        "Check the current rules and your operator", "set by hand",
    ):  # fmt: skip
        assert heading in words, heading
    numbered = [int(n) for n in re.findall(r"<h2>(\d+)\. ", page.html)]
    work = [
        *range(2, 9)
    ]  # in the order of the bench; of two packs each is built and labelled by itself
    alone, pair = [1, *work, *range(9, 14)], [1, *work, 10, *work, 10, 9, *range(11, 14)]
    assert numbered == (alone if answer.pair is None else pair)
    assert "UNSAFE" not in words
    assert answer.design.name in words


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_every_caution_of_the_checks_is_printed(path: Path) -> None:
    answer = answered(path)
    plan = plan_build(answer, read_design(path).settings)
    words = page_of(answer, path).words
    assert plan.devices is not None
    settings = [item for _, items in plan.devices.sections for item in items]
    items = (
        *plan.prepare,
        *plan.cells,
        *plan.welds,
        *plan.insulation,
        *plan.leads,
        *plan.first,
        *plan.proof,
    )
    for item in (*items, *plan.storage, *settings):
        assert " ".join(item.caution.split()) in words
        assert " ".join(item.leaves.split()) in words
    for text in (*plan.cautions, *plan.assumed, plan.carried.untested, plan.carried.by_size):
        assert " ".join(text.split()) in words
    assert ("Cautions of this pack" in words) == bool(plan.cautions)


def test_what_the_cold_does_to_an_alarm_stands_under_cautions() -> None:
    """A climb pulls cold cells below a threshold: the first page says so, under its own heading."""
    words = page_of(answered(pack_temperature_c=2.0)).words
    cautions = words.partition("Cautions of this pack")[2].partition("Limits, each at")[0]
    assert "A climb at the alarm pulls the cells to" in cautions


def test_what_was_given_is_reported_as_it_was_given() -> None:
    given = page_of(answered()).words.partition("What was taken as given")[2]
    assert "25 °C at take-off, new: no cycles, no years" in given
    old = page_of(answered(pack_temperature_c=8.0, pack_cycles=150.0, pack_years=2.0)).words
    given = old.partition("What was taken as given")[2]
    assert "8 °C at take-off, aged by 150 full cycles and 2 years" in given
    assert "25 °C" not in given


def test_that_it_is_untested_comes_before_its_watt_hours() -> None:
    answer = answered()
    words = page_of(answer).words.partition("13. Carry and send")[2]
    energy_wh = rounded(float(answer.design.pack.energy_wh), 1, "up")
    assert words.index("section 38.3") < words.index(f"tested battery of {energy_wh:.1f} Wh")


def test_notes_are_chosen_by_topic_and_never_by_their_words() -> None:
    answer = answered()
    text = "Not checked here: nan. Basis: UN 38.3."
    odd = replace(answer, remarks=(*answer.remarks, Note("file", text)))
    assert text in page_of(odd).words


def test_pins_and_their_voltages_by_arithmetic() -> None:
    """Six cells of 4.20 V: pin k reads k x 4.20 V."""
    words = page_of(answered()).words
    for k in range(1, 6):
        assert re.search(rf"B{k} {4.2 * k:.2f} ", words), k
    assert "B6 + 25.20" in words


def test_the_scale_that_is_written_is_the_scale_that_is_drawn() -> None:
    """A 21.2 mm cell, measured in the drawing in print millimetres."""
    page = page_of(answered())
    scale = next(float(g["data-scale"]) for tag, g in page.tags if tag == "svg")
    assert f"scale 1 : {scale:g}" in page.words
    assert f"{round(10.6 / scale, 2):g}" in {g["r"] for tag, g in page.tags if tag == "circle"}
    cells = [g for tag, g in page.tags if g.get("class") == "cell"]
    assert len(cells) == 2 * 18  # both faces


def test_an_unsafe_design_says_so_first() -> None:
    answer = answered(parallel=1)
    assert answer.stops
    page = page_of(answer)
    assert ("body", {"class": "unsafe-sheet"}) in page.tags
    assert any(given.get("class") == "mark" for _, given in page.tags)
    before = page.words.partition("What the design comes to")[0]
    assert "UNSAFE: do not build or fly this design as it stands." in before
    for stop in answer.stops:
        assert stop in before
    assert any(given.get("data-verdict") == "unsafe" for _, given in page.tags)


def test_a_broken_limit_stands_out_without_colour() -> None:
    page = page_of(answered(wanted_min=90.0))
    assert "NOT YET: The pack does not last the flight time asked for." in page.words
    assert ("b", {"class": "broken"}) in page.tags
    assert any(given.get("data-verdict") == "broken" for _, given in page.tags)


def test_a_fault_of_the_bench_is_reported_at_the_top() -> None:
    answer = answered()
    settings = read_design(SIX).settings
    assert settings.bay is not None
    small = replace(settings, bay=replace(settings.bay, height_mm=30.0))
    page = Page(build_sheet_html(answer, plan_build(answer, small), date="2026-05-01"))
    before = page.words.partition("What the design comes to")[0]
    assert "Not to be built as planned: The pack does not fit its bay." in before


ODD_NAME = 'Heron & <b>"swan"</b></style><script>alert(1)</script> \\ {{ 7 * 7 }}'


def test_text_of_the_user_stays_text() -> None:
    answer = answered()
    odd = replace(answer, design=replace(answer.design, name=ODD_NAME))
    settings = replace(
        read_design(SIX).settings,
        builder="<i>me</i>", pack_id='"><img src=x>', currency="<u>",
    )  # fmt: skip
    page = Page(build_sheet_html(odd, plan_build(odd, settings), date="<today>"))
    assert " ".join(ODD_NAME.split()) in page.words
    assert {tag for tag, _ in page.tags} & {"script", "img", "u"} == set()
    assert "<i>me</i>" in page.words
    assert "<today>" in page.words
    style = page.html.partition("<style>")[2].partition("</style>")[0]
    assert "alert" in style  # in the page's foot, every mark of it as a code point
    assert not re.search(r'content: "[^"]*[<>&]', style)


def test_a_large_drawing_is_in_pieces_that_fit_a_page() -> None:
    page = page_of(answered(series=8, parallel=12))
    drawn = [given for tag, given in page.tags if tag == "svg"]
    assert len(drawn) > 2
    assert max(float(given["height"].removesuffix("mm")) for given in drawn) <= 277.0
    assert page.words.count("50 mm of the pack") == 1


def test_paper_is_one_of_those_known() -> None:
    answer = answered()
    plan = plan_build(answer)
    for name, paper in PAPERS.items():
        assert f"size: {paper.css};" in build_sheet_html(answer, plan, name)
    with pytest.raises(InputError, match="paper is 'a5'; one of a4, letter is needed"):
        build_sheet_html(answer, plan, "a5")


def cell_log(folder: Path, cells: int = 20, least_mah: int = 4780) -> Path:
    path = folder / "cells.csv"
    rows = [f"A{k},{least_mah + 7 * (k * 7 % 11)},{23 + k % 3 / 10}" for k in range(1, cells)]
    path.write_text(
        "\n".join(["id,capacity mAh,resistance mohm", *rows, "BAD & <b>,4100,40"]), "utf-8"
    )
    return path


def test_measured_cells_are_dealt_and_named(tmp_path: Path) -> None:
    log = cell_log(tmp_path)
    sheet = write_sheet(read_design(SIX), tmp_path / "sheet.html", cells=log)
    page = Page(sheet.path.read_text("utf-8"))
    assert "Measured cells in groups" in page.words
    assert "Leave out BAD & <b>:" in page.words
    assert sheet.plan.groups is not None
    for names in sheet.plan.groups.names:
        assert ", ".join(names) in page.words
    assert f"Weakest group {sheet.plan.groups.matching.weakest_ah:.3f} Ah" in page.words


def test_gain_in_minutes_is_that_of_flights_with_the_weaker_packs(tmp_path: Path) -> None:
    log = cell_log(tmp_path)
    sheet = write_sheet(read_design(SIX), tmp_path / "sheet.html", cells=log)
    assert sheet.plan.groups is not None
    mixed = sheet.plan.groups.ways[2]
    # constant power: minutes go with charge as long as the reserve ends the flight (within 2 %)
    per_ah = float(sheet.answer.point.endurance_min) / (3 * 4.57)  # the rated charge of the cell
    assert mixed.gain_min == pytest.approx(per_ah * mixed.gain_ah, rel=0.02)


def test_cells_weaker_than_rated_decide_for_every_line(tmp_path: Path) -> None:
    """Charge decides the time: 4.42 of 4.57 Ah per cell is 3.3 % less, and as much less of every figure of it."""
    rated = write_sheet(read_design(SIX), tmp_path / "rated.html", cells=cell_log(tmp_path))
    weak = write_sheet(
        read_design(SIX), tmp_path / "weak.html", cells=cell_log(tmp_path, least_mah=4400)
    )
    assert "counts on" not in Page(rated.path.read_text("utf-8")).words
    words = Page(weak.path.read_text("utf-8")).words
    assert "Every line of this plan counts on 4.4" in words
    dealt = weak.plan.groups
    assert dealt is not None
    share = dealt.matching.weakest_ah / (3 * 4.57)
    before, after = (float(x.answer.point.endurance_min) for x in (rated, weak))
    assert after / before == pytest.approx(share, rel=0.005)
    kept = {x.key: x for x in weak.answer.limits}
    assert float(kept["endurance"].limit) == pytest.approx(after)
    assert float(kept["endurance_half"].limit) < float(
        next(x for x in rated.answer.limits if x.key == "endurance_half").limit
    )


def test_the_command_writes_and_never_over(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = club / "designs" / "survey_six.toml", club / "out" / "sheet.html"
    assert main(["sheet", str(path), "-o", str(out), "--paper", "letter"]) == 0
    assert "size: letter;" in out.read_text("utf-8")
    out.write_text("mine", "utf-8")
    assert main(["sheet", str(path), "-o", str(out)]) == 2
    assert "already here" in capsys.readouterr().err
    assert out.read_text("utf-8") == "mine"
    assert main(["sheet", str(path), "-o", str(out), "--overwrite"]) == 0
    assert out.read_text("utf-8") != "mine"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("parallel = 3", "parallel = 1", "can overheat, vent and burn"),
        ("wanted_min = 23.0", "wanted_min = 90.0", "does not last the flight time asked for"),
        ("bay_height_mm = 80.0", "bay_height_mm = 20.0", "does not fit its bay"),
    ],
)
def test_what_does_not_hold_is_written_all_the_same_and_exits_1(
    club: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, expected: str
) -> None:
    path = edited(club / "designs" / "survey_six.toml", old, new)
    assert main(["sheet", str(path), "-o", str(club / "sheet.html")]) == 1
    assert expected in capsys.readouterr().err
    assert expected in Page((club / "sheet.html").read_text("utf-8")).words


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("bay_height_mm = 80.0\n", "", "bench.bay_height_mm is missing"),
        ("lead_mm = 120.0", "lead_mm = 0.0", "bench.lead_mm is 0; a number from 1"),
        ("series = 6", "series = 0", "pack.series is 0"),
    ],
)
def test_what_cannot_be_used_exits_2_and_writes_nothing(
    club: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, expected: str
) -> None:
    path = edited(club / "designs" / "survey_six.toml", old, new)
    assert main(["sheet", str(path), "-o", str(club / "sheet.html")]) == 2
    assert expected in capsys.readouterr().err
    assert not (club / "sheet.html").exists()


def test_a_log_of_too_few_cells_exits_2(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = cell_log(club, 10)
    design = club / "designs" / "survey_six.toml"
    assert main(["sheet", str(design), "-o", str(club / "s.html"), "--cells", str(log)]) == 2
    assert "6 groups of 3 need 18" in capsys.readouterr().err
    assert not (club / "s.html").exists()


@pytest.mark.parametrize(
    "changed",
    [
        {"series": 1, "parallel": 1},
        {"series": 24, "parallel": 1},
        {"parallel": 40},
        {"payload_g": 40_000.0},
        {"landing_v": 2.0},
        {"reserve_pct": 90.0},
        {"continuous_share_pct": 1.0},
    ],
    ids=str,
)
def test_odd_designs_still_make_a_sheet(changed: dict[str, Any]) -> None:
    page = page_of(answered(**changed))
    assert not re.search(r"\bnan\b|\binf\b|None|Undefined", page.words)


@pytest.mark.parametrize("joined", ["parallel", "series"])
def test_two_packs_have_a_sheet_and_a_label_each(joined: str) -> None:
    answer = answered(parallel=4, packs=2, joined=joined)
    settings = read_design(SIX).settings
    page = build_sheet_html(answer, plan_build(answer, settings), date="2026-05-01")
    one = "6S2P" if joined == "parallel" else "3S4P"
    for mark in ("A", "B"):
        assert page.count(f"<h1>Pack {mark}: {one}, one of two</h1>") == 1
        assert page.count(f"<p>SIX-1 {mark}   {one}") == 1
    for heading in ("3. Lay out", "6. Balance plug", "Acceptance", "10. Write on the pack"):
        assert page.count(f"<h2>{heading}") == 2
    for heading in ("1. Prepare", "9. Set: voltages of both packs together", "To buy", "11. First"):
        assert page.count(f"<h2>{heading}") == 1
    assert (
        page.count(f"two packs of {one} joined in {joined}") == 2
    )  # in the head and on the drawing
    assert "http" not in page


def test_measured_cells_of_two_packs_stand_on_the_sheet_of_their_own_pack(tmp_path: Path) -> None:
    """26 cells into two packs of 6S2P: groups 1 to 6 for each, no cell on both sheets."""
    answer = answered(parallel=4, packs=2)
    cells = MeasuredCells(
        tuple(f"cell{k:02d}" for k in range(26)),
        capacity_ah=[4.6 + 0.01 * (k % 7) for k in range(26)],
    )
    page = build_sheet_html(answer, plan_build(answer, cells=cells), date="2026-05-01")
    _, first, second = re.split(r"<h1>Pack [AB]", page)
    found = [set(re.findall(r"cell\d\d(?=[,<])", half)) for half in (first, second)]
    spare = set(re.findall(r"Good, left over: ([^.]*)\.", first)[0].split(", "))
    assert [len(x - spare) for x in found] == [12, 12]
    assert not (found[0] - spare) & (found[1] - spare)
