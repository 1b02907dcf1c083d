"""Worksheets: blank or filled in, self-contained, agreeing with the page, printed on both papers."""

from __future__ import annotations

import re
import subprocess
from html import unescape
from pathlib import Path

import pytest

from tests.browser.desk import Missing, chromium_path
from tests.pdf import read_pdf
from workbook.cli import main
from workbook.lessons.course import COURSE
from workbook.lessons.lesson_view import open_lesson
from workbook.lessons.teaching.classroom import classroom
from workbook.lessons.teaching.solution import solutions
from workbook.lessons.teaching.worksheet import worksheet_html, write_worksheet

LESSONS = COURSE
SEED = 17


def words(html: str) -> str:
    """The text of a page, spaces closed up."""
    html = re.sub(r"<(style|title)>.*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


def closed(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


@pytest.fixture(scope="module")
def pages() -> dict[bool, str]:
    return {
        answers: worksheet_html(LESSONS, answers=answers, seed=SEED) for answers in (False, True)
    }


def section(page: str, slug: str) -> str:
    return re.search(rf'<section class="leaf" data-lesson="{slug}">.*?</section>', page, re.DOTALL)[
        0
    ]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda le: le.slug)
def test_blank_sheet_asks_and_does_not_tell(pages, lesson) -> None:
    sheet = section(pages[False], lesson.slug)
    text = words(sheet)
    assert lesson.title in text
    assert lesson.question in text
    assert "<svg" in sheet
    with classroom(SEED):
        found = solutions(lesson, SEED, open_lesson(lesson.slug))
    asked = words(sheet[sheet.index("<h2>Exercises</h2>") :])
    for s in found:
        assert closed(s.question) in text
        assert all(closed(option) in text for option in s.options)
        if s.kind == "number":
            block = re.search(
                rf'data-exercise="{s.exercise.id}">.*?Answer: (.*?)</div>', sheet, re.DOTALL
            )
            assert closed(words(block[1])) == s.unit
            assert all(step.text() not in asked for step in s.working)
        elif s.kind == "choice":
            assert s.why not in asked
        else:
            assert s.answer not in asked
        assert all(says not in asked for _, says in s.wrong)
    assert '<span class="box">x</span>' not in sheet


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda le: le.slug)
def test_filled_sheet_tells_answer_working_and_slips(pages, lesson) -> None:
    sheet = section(pages[True], lesson.slug)
    text = words(sheet)
    with classroom(SEED):
        view = open_lesson(lesson.slug)
        found = solutions(lesson, SEED, view)
        steps = tuple(view.working(view.result))
    for s in found:
        assert closed(s.answer) in text
        assert all(closed(step.text()) in text for step in s.working)
        if s.kind != "setting":
            assert all(closed(says) in text for _, says in s.wrong)
    assert sheet.count('<span class="box">x</span>') == sum(s.kind == "choice" for s in found)
    for step in steps:
        assert closed(step.numbers) in text
        assert f"{step.result:.4g}" in text


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda le: le.slug)
def test_sheet_and_live_lesson_say_the_same(pages, lesson) -> None:
    text = words(section(pages[True], lesson.slug))
    with classroom(SEED):
        view = open_lesson(lesson.slug)
        for part in (getattr(view, name, None) for name in ("chart", "picture")):
            if hasattr(part, "finding_text"):
                assert closed(part.finding_text) in text
        for name, control in view.inputs.items():
            if hasattr(control, "slider"):
                assert closed(control.label) in text, name


def test_club_rules_stand_on_it(pages) -> None:
    assert "land at 3.1 V a cell under load" in words(pages[False])


def test_it_is_one_file_without_script_or_anything_from_elsewhere(pages) -> None:
    for page in pages.values():
        assert "<script" not in page
        assert not re.search(r'(?:src|href)\s*=\s*"(?!#)', page)
        assert not re.search(r"url\((?!#)", page)
        assert "@import" not in page
        ids = re.findall(r'<clipPath id="([^"]+)"', page)
        assert len(ids) == len(set(ids))


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["ninety"], "'ninety' is no lesson; there is 1 (craft_asks)"),
        (["1", "--seed", "-2"], "seed is -2"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence(tmp_path, capsys, arguments, told) -> None:
    target = tmp_path / "sheet.html"
    assert main(["worksheet", *arguments, "-o", str(target)]) == 2
    assert told in capsys.readouterr().err
    assert not target.exists()


def test_a_file_that_is_there_stays(tmp_path, capsys) -> None:
    target = tmp_path / "sheet.html"
    assert main(["worksheet", "11", "-o", str(target), "--paper", "letter", "--answers"]) == 0
    assert "size: letter" in target.read_text("utf-8")
    target.write_text("mine", "utf-8")
    assert main(["worksheet", "wire_and_strips", "-o", str(target)]) == 2
    assert target.read_text("utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [target], "no progress file is left behind"


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210, 297)), ("letter", (216, 279))])
def test_printed_pages_hold_everything(
    tmp_path: Path, paper: str, size_mm: tuple[int, int]
) -> None:
    """Chromium prints it; the pages have the paper's size, and nothing sticks out of them."""
    try:
        chromium = chromium_path()
    except Missing as missing:
        pytest.skip(str(missing))
    write_worksheet("all", tmp_path / "all.html", paper=paper, seed=SEED)
    pdf = tmp_path / "all.pdf"
    subprocess.run(
        [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={pdf}", str(tmp_path / "all.html")],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    pages = read_pdf(pdf)
    assert len(pages) >= 3 * len(LESSONS)
    for page in pages:
        assert (round(page.width_mm), round(page.height_mm)) == size_mm
        assert page.text_boxes_mm, "no page is empty"
        for left, bottom, right, top in page.text_boxes_mm:
            assert min(left, bottom) >= 0, page.text[:60]
            assert right <= page.width_mm, page.text[:60]
            assert top <= page.height_mm, page.text[:60]
    starts = sum(bool(re.match(r"\d+\. ", page.text)) for page in pages)
    assert starts == len(LESSONS), "each lesson begins on a page of its own"
