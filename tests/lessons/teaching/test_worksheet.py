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
    message = [says for s in found for _, says in s.wrong]
    message += [step.text() for s in of_kind(found, "number") for step in s.working]
    message += [s.why for s in of_kind(found, "choice")]
    message += [s.answer for s in of_kind(found, "setting")]
    assert not [says for says in message if says in asked]
    assert '<span class="box">x</span>' not in sheet
    for s in of_kind(found, "number"):
        block = re.search(rf'data-exercise="{s.exercise.id}">.*?Answer: (.*?)</div>', sheet, re.S)
        assert closed(words(block[1])) == s.unit


@pytest.mark.parametrize("lesson", COURSE, ids=lambda le: le.slug)
def test_filled_sheet_tells_what_the_live_lesson_and_its_solutions_tell(pages, lesson) -> None:
    sheet = section(pages[True], lesson.slug)
    text, (view, found) = words(sheet), solved(lesson)
    numbers_and_choices = [*of_kind(found, "number"), *of_kind(found, "choice")]
    expected = [s.answer for s in found]
    expected += [step.text() for s in found for step in s.working]
    expected += [says for s in numbers_and_choices for _, says in s.wrong]
    expected += [step.numbers for step in view.working(view.result)]
    expected += [step.shown.removesuffix(step.unit).strip() for step in view.working(view.result)]
    expected += [c.label for c in view.inputs.values() if isinstance(c, NumberControl)]
    expected += [
        re.sub(r" Click [^.]*\.", "", part.finding_text)  # paper cannot be clicked
        for part in vars(view).values()
        if isinstance(part, Picture | Chart)
    ]
    assert not [says for says in expected if closed(says) not in text]
    assert sheet.count('<span class="box">x</span>') == len(of_kind(found, "choice"))


@pytest.mark.parametrize("lesson", COURSE, ids=lambda le: le.slug)
def test_blank_sheet_has_a_blank_where_its_results_would_stand(pages, lesson) -> None:
    """A result of three digits or more, unless it is put in; a number alone on a figure is of its axis."""
    sheet, (view, _) = section(pages[False], lesson.slug), solved(lesson)
    figure = sheet[sheet.index("<h2>The figure") : sheet.index("<h2>Exercises</h2>")]
    inputs = re.search(r'<div class="two inputs">(.*?)</div>\s*<div class="shown">', figure, re.S)
    written = figure if inputs is None else figure.replace(inputs[1], "")
    seen = [
        number
        for text in re.findall(r"(?<=>)[^<>]+(?=</(?:td|text|tspan)>)", written)
        if not re.fullmatch(r"[\d.,-]+", text) or f"{text}</td>" in written
        for number in re.findall(r"(?<![\w.])\d[\d,.]*\d", text)
    ]
    given = words(inputs[1]).split() if inputs else []
    results = {step.shown.split()[0] for step in view.working(view.result)}
    blanked = {r for r in results if sum(map(str.isdigit, r)) > 2 and r not in given}
    assert not blanked.intersection(seen)


def test_the_first_sheet_does_not_tell_what_it_asks(pages) -> None:
    """Of the demo craft: 2100 + 350 + 1406 g are 3856 g, over 6 motors 643 gf each."""
    sheet = section(pages[False], "craft_asks")
    asked = words(sheet[: sheet.index("<h2>Exercises</h2>")])
    assert "1406 g" in asked
    assert "each motor ____ gf" in asked
    assert not [result for result in ("3856", "643 gf", "61.0", "424") if result in asked]
    assert "3856 g" not in sheet
    assert "643 gf" not in sheet
    assert "3856" in section(pages[True], "craft_asks")


def test_nothing_on_paper_asks_for_a_click(pages) -> None:
    assert not [page for page in pages.values() if "Click" in words(page)]


def test_club_rules_stand_on_it(pages) -> None:
    assert "land at 3.1 V per cell under load" in words(pages[False])


def test_it_is_one_file_without_script_or_anything_from_elsewhere(pages) -> None:
    for page in pages.values():
        assert "<script" not in page
        assert not re.search(r'(?:src|href)\s*=\s*"(?!#)', page)
        assert not re.search(r"url\((?!#)", page)
        assert "@import" not in page
        ids = re.findall(r'<clipPath id="([^"]+)"', page)
        assert len(ids) == len(set(ids))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["ninety"], "there is no lesson 'ninety'; there are 1 (craft_asks)"),
        (["1", "--seed", "-2"], "seed is -2"),
    ],
)
def test_impossible_arguments_are_refused_in_one_sentence(
    tmp_path, capsys, arguments, message
) -> None:
    target = tmp_path / "sheet.html"
    assert main(["worksheet", *arguments, "-o", str(target)]) == 2
    assert message in capsys.readouterr().err
    assert not target.exists()


def test_without_a_browser_a_pdf_is_refused_in_a_sentence(tmp_path, capsys, monkeypatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("WORKBOOK_CHROMIUM", raising=False)
    assert main(["worksheet", "1", "-o", str(tmp_path / "sheet.pdf")]) == 2
    assert "a PDF is printed by Chromium, which is not found here" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_file_that_is_there_stays(tmp_path, capsys) -> None:
    target = tmp_path / "sheet.html"
    assert main(["worksheet", "11", "-o", str(target), "--paper", "letter", "--answers"]) == 0
    assert "size: letter" in target.read_text("utf-8")
    target.write_text("mine", "utf-8")
    assert main(["worksheet", "wire_and_strips", "-o", str(target)]) == 2
    assert target.read_text("utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [target], "no progress file is left behind"
