"""Worksheets: blank or filled in, self-contained, agreeing with the page."""

from __future__ import annotations

import re
from functools import cache
from html import unescape

import pytest

from workbook.cli import main
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.lesson_view import LessonView, open_lesson
from workbook.lessons.teaching.editions import classroom
from workbook.lessons.teaching.solution import Solution, solutions
from workbook.lessons.teaching.worksheet import worksheet_html
from workbook.widgets.charts import Chart
from workbook.widgets.controls import NumberControl
from workbook.widgets.picture import Picture

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
        answers: worksheet_html(COURSE, answers=answers, seed=SEED) for answers in (False, True)
    }


def section(page: str, slug: str) -> str:
    return re.search(rf'<section class="leaf" data-lesson="{slug}">.*?</section>', page, re.DOTALL)[
        0
    ]


@cache
def solved(lesson: Lesson) -> tuple[LessonView, tuple[Solution, ...]]:
    with classroom(SEED):
        view = open_lesson(lesson.slug)
        return view, solutions(lesson, SEED, view)


def of_kind(found: tuple[Solution, ...], kind: str) -> list[Solution]:
    return [solution for solution in found if solution.kind == kind]


@pytest.mark.parametrize("lesson", COURSE, ids=lambda le: le.slug)
def test_blank_sheet_asks_and_does_not_tell(pages, lesson) -> None:
    sheet = section(pages[False], lesson.slug)
    text, (_, found) = words(sheet), solved(lesson)
    assert lesson.title in text
    assert lesson.question in text
    asked = words(sheet[sheet.index("<h2>Exercises</h2>") :])
    assert all(closed(s.question) in text for s in found)
    assert all(closed(option) in text for s in found for option in s.options)
    told = [says for s in found for _, says in s.wrong]
    told += [step.text() for s in of_kind(found, "number") for step in s.working]
    told += [s.why for s in of_kind(found, "choice")]
    told += [s.answer for s in of_kind(found, "setting")]
    assert not [says for says in told if says in asked]
    assert '<span class="box">x</span>' not in sheet
    for s in of_kind(found, "number"):
        block = re.search(rf'data-exercise="{s.exercise.id}">.*?Answer: (.*?)</div>', sheet, re.S)
        assert closed(words(block[1])) == s.unit


@pytest.mark.parametrize("lesson", COURSE, ids=lambda le: le.slug)
def test_filled_sheet_tells_what_the_live_lesson_and_its_solutions_tell(pages, lesson) -> None:
    sheet = section(pages[True], lesson.slug)
    text, (view, found) = words(sheet), solved(lesson)
    numbers_and_choices = [*of_kind(found, "number"), *of_kind(found, "choice")]
    told = [s.answer for s in found]
    told += [step.text() for s in found for step in s.working]
    told += [says for s in numbers_and_choices for _, says in s.wrong]
    told += [step.numbers for step in view.working(view.result)]
    told += [step.shown.removesuffix(step.unit).strip() for step in view.working(view.result)]
    told += [c.label for c in view.inputs.values() if isinstance(c, NumberControl)]
    told += [part.finding_text for part in vars(view).values() if isinstance(part, Picture | Chart)]
    assert not [says for says in told if closed(says) not in text]
    assert sheet.count('<span class="box">x</span>') == len(of_kind(found, "choice"))


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
