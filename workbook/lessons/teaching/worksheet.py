"""Worksheets to print: a lesson on paper with room to write, and the key with its answers for the teacher."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import ipywidgets as W
import mistune
import nbformat as _nbformat

from workbook.errors import InputError
from workbook.files.writing import check_writable
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.lesson_view import open_lesson
from workbook.lessons.teaching.editions import classroom
from workbook.lessons.teaching.solution import Solution, control_label, shown_value, solutions
from workbook.sheet.build import page_template, paper_named
from workbook.sheet.printing import write_page
from workbook.widgets.allowance_table import AllowanceTable
from workbook.widgets.charts import Chart, LineChart
from workbook.widgets.controls import NumberControl
from workbook.widgets.picture import Picture
from workbook.widgets.still import shown_parts
from workbook.widgets.table import GridMap, Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

nbformat: Any = _nbformat
"""The library has no types."""
TEMPLATE = Path(__file__).with_name("worksheet.html.j2")
_LINK = re.compile(r"\[([^\]]*)\]\([^)]*\)")
_CLICK = re.compile(r" ?Click [^.]*\.")
"""Paper cannot be clicked."""
ROOM_PX = 470
"""Width of a chart that fills a column of the page, two to a page, with letters of 7 pt."""
MOST_ROWS = 12
"""Of a table on paper."""
BLANK = "____"
_NUMBER = re.compile(r"(?<![A-Za-z0-9.])-?\d[\d,]*(?:\.\d+)?")
_SVG_WORDS = re.compile(r"(?<=>)[^<>]*[A-Za-z%°][^<>]*(?=</t(?:ext|span)>)")
"""What is written on a figure; a number alone belongs to an axis."""
_DESCRIPTION = re.compile(r' (?:role="img"|aria-label="[^"]*")')
"""The description of a figure for readers who cannot see it."""
_TABLE_CELL = re.compile(r"(?<=>)[^<>]*(?=</td>)")
ROUNDING = 0.006
"""By how much a result may be off where it is printed again, rounded otherwise."""


@dataclass(frozen=True)
class Drawing:
    """A figure on paper: heading, SVG, and whether it takes the width of the page."""

    title: str
    svg: str
    wide: bool = False


@dataclass
class SheetBlock:
    """What a live lesson shows, taken from its widgets in the order of the page.

    Attributes:
        inputs: name and value of each control.
        items: figures and tables (HTML), as they come.
        findings: what the figures say, in words.
        figures: key figures.
    """

    inputs: list[tuple[str, str]] = field(default_factory=list)
    items: list[Drawing | str] = field(default_factory=list)
    findings: list[str] = field(default_factory=list)
    figures: list[Figure] = field(default_factory=list)


@dataclass(frozen=True)
class Leaf:
    """One lesson on paper, before it is laid out.

    Attributes:
        lesson: which; view: opened.
        idea: HTML of the idea.
        caution: HTML of the caution; empty where the lesson has none.
        shown: what the live figure shows.
        steps: the working.
        solutions: exercises with their answers.
    """

    lesson: Lesson
    view: Any
    idea: str
    caution: str
    shown: SheetBlock
    steps: tuple[Step, ...]
    solutions: tuple[Solution, ...]

    @property
    def items(self) -> list[Drawing | str]:
        """Figures and tables with a blank for each result, to be filled in; no table of more rows than one fills in."""
        results = [(step.shown, step.unit) for step in self.steps]
        results += [(figure.text, figure.unit) for figure in self.shown.figures]
        given = _numbers(" ".join(value for _, value in self.shown.inputs))
        answers = [(n, unit) for text, unit in results for n in _numbers(text) if n not in given]
        return [
            replace(item, svg=_blanked(_DESCRIPTION.sub("", item.svg), _SVG_WORDS, answers))
            if isinstance(item, Drawing)
            else _blanked(item, _TABLE_CELL, answers)
            for item in self.shown.items
            if isinstance(item, Drawing) or item.count("<tr") <= MOST_ROWS
        ]


def chosen_lessons(name: str) -> tuple[Lesson, ...]:
    """The lessons that a name on the command line means.

    Args:
        name: "all", a number or a slug.

    Raises:
        InputError: no such lesson.

    Example:
        >>> chosen_lessons("11")[0].slug
        'wire_and_strips'
    """
    if name == "all":
        return COURSE
    found = tuple(le for le in COURSE if name in (le.slug, str(le.number), f"{le.number:02d}"))
    if not found:
        known = ", ".join(f"{le.number} ({le.slug})" for le in COURSE)
        raise InputError(f"there is no lesson '{name}'; there are {known}, or 'all' of them.")
    return found


def shown_by(view: Any) -> SheetBlock:
    """Take what a lesson shows from its widgets.

    Args:
        view: an opened lesson, and what else of it is printed (`printed_parts`).
    """
    shown = SheetBlock()
    tops, whole = (view, *getattr(view, "printed_parts", ())), (NumberControl, AllowanceTable)
    for part in (p for top in tops for p in shown_parts(top, whole)):
        match part:
            case NumberControl() | W.Dropdown():
                shown.inputs.append((control_label(part), shown_value(part, part.value)))
            case AllowanceTable():
                shown.items.append(_allowances(part))
            case GridMap():
                shown.items.append(part.table.value)
            case Table():
                shown.items.append(part.html.value)
            case KeyFigures():
                shown.figures += part.figures
            case Chart() | Picture():
                wide = not isinstance(part, LineChart)
                shown.items.append(Drawing(part.title, part.as_svg(), wide))
                shown.findings.append(_CLICK.sub("", part.finding_text))
    return shown


def _numbers(text: str) -> list[float]:
    return [float(found.replace(",", "")) for found in _NUMBER.findall(text)]


def _blanked(html: str, where: re.Pattern[str], answers: Sequence[tuple[float, str]]) -> str:
    """A figure or a table with a blank in the place of every result; one of two digits only where its unit follows."""

    def blank(found: re.Match[str]) -> str:
        (number,) = _numbers(found[0])
        digits, after = len(re.sub(r"\D", "", found[0])), found.string[found.end() :].split()
        hit = any(
            abs(number - answer) <= ROUNDING * abs(answer) and (digits > 2 or unit in after[:1])
            for answer, unit in answers
        )
        return BLANK if hit else found[0]

    return where.sub(lambda words: _NUMBER.sub(blank, words[0]), html)


def _allowances(part: AllowanceTable) -> str:
    """Lines with their three figures as a table."""
    table = Table()
    table.update(
        ("line", "low", "expected", "high", "unit"),
        [
            (
                f"{number}. {line.name}",
                *(f"{x:g}" for x in (line.low, line.expected, line.high)),
                line.unit,
            )
            for number, line in enumerate(part.value, 1)
        ],
        "Lines, in the order of the rows of the next figure",
    )
    return str(table.html.value)


def _markdown(text: str) -> str:
    """Markdown of a notebook as HTML, links as plain words."""
    html = mistune.html(_LINK.sub(r"\1", text))
    return str(html)


def _cell_texts(folder: Path, lesson: Lesson) -> tuple[str, str]:
    """Idea and caution of a lesson, from its notebook."""
    book = nbformat.read(folder / lesson.notebook, as_version=4)
    texts = [c.source for c in book.cells if c.cell_type == "markdown"]
    paragraphs = re.split(r"\n\s*\n", texts[0])
    idea = "\n\n".join(p for p in paragraphs if not p.lstrip().startswith(("#", "**")))
    caution = next((t.partition("\n")[2] for t in texts if t.startswith("## Caution")), "")
    return _markdown(idea), _markdown(caution)


def make_leaf(folder: Path, lesson: Lesson, seed: int) -> Leaf:
    """One lesson, opened and read.

    Args:
        folder: the working folder, laid out.
        lesson: which.
        seed: of the exercises' numbers.
    """
    view = open_lesson(lesson.slug)
    idea, caution = _cell_texts(folder, lesson)
    for part in shown_parts(view):
        if isinstance(part, LineChart):
            part.fit(ROOM_PX)
    steps = () if view.result is None else tuple(view.working(view.result))
    return Leaf(lesson, view, idea, caution, shown_by(view), steps, solutions(lesson, seed, view))


def worksheet_html(
    lessons: Sequence[Lesson], *, answers: bool = False, paper: str = "a4", seed: int = 1
) -> str:
    """Worksheets of lessons as one self-contained page: no script, nothing from elsewhere.

    Args:
        lessons: one or more.
        answers: the teacher's key in place of the sheets.
        paper: "a4" or "letter".
        seed: of the exercises' numbers.

    Raises:
        InputError: a paper or seed that cannot be used, or club rules that cannot.
    """
    sheet = paper_named(paper)
    if seed < 0:
        raise InputError(f"seed is {seed}; 0 or more is needed.")
    with classroom(seed) as folder:
        leaves = [make_leaf(folder, lesson, seed) for lesson in lessons]
    return page_template(TEMPLATE).render(
        leaves=leaves, answers=answers, paper=sheet.css, seed=seed
    )


def write_worksheet(
    name: str, path: Path, *, answers: bool = False, paper: str = "a4", seed: int = 1
) -> tuple[Lesson, ...]:
    """Write the worksheet of one lesson, or of all in one file.

    Args:
        name: "all", a lesson's number or its slug.
        path: the file, .html or .pdf; one that is there stays.
        answers: the teacher's key in place of the sheet.
        paper: "a4" or "letter".
        seed: of the exercises' numbers.

    Returns:
        The lessons in it.

    Raises:
        InputError: no such lesson or paper, a file that is there already, or no browser to make a PDF.
    """
    lessons = chosen_lessons(name)
    check_writable(path)
    write_page(path, worksheet_html(lessons, answers=answers, paper=paper, seed=seed))
    return lessons
