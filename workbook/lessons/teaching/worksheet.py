"""Worksheets to print: a lesson on paper, with room to write, or with its answers filled in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import ipywidgets as W
import mistune
import nbformat as _nbformat

from workbook.errors import InputError
from workbook.files.writing import may_write, write_text
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.lesson_view import open_lesson
from workbook.lessons.teaching.editions import classroom
from workbook.lessons.teaching.solution import (
    Solution,
    control_label,
    shown_value,
    solutions,
)
from workbook.sheet.build import page_template
from workbook.widgets.allowance_table import AllowanceTable
from workbook.widgets.charts import Chart
from workbook.widgets.controls import NumberControl
from workbook.widgets.picture import Picture
from workbook.widgets.still import shown_parts
from workbook.widgets.table import GridMap, Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

nbformat: Any = _nbformat
"""The library has no types."""
TEMPLATE = Path(__file__).with_name("worksheet.html.j2")
PAPERS = {"a4": "A4", "letter": "letter"}
"""Name on the command line to its name in CSS. Source: CSS Paged Media, page size names."""
_LINK = re.compile(r"\[([^\]]*)\]\([^)]*\)")


@dataclass(frozen=True)
class Drawing:
    """A figure on paper: heading, SVG, and its finding in words."""

    title: str
    svg: str
    finding: str


@dataclass
class SheetBlock:
    """What a live lesson shows, taken from its widgets in the order of the page.

    Attributes:
        inputs: name and value of each control.
        items: figures and tables (HTML), as they come.
        figures: key figures.
    """

    inputs: list[tuple[str, str]] = field(default_factory=list)
    items: list[Drawing | str] = field(default_factory=list)
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
        raise InputError(f"'{name}' is no lesson; there is {known}, or all of them with 'all'.")
    return found


def shown_by(view: Any) -> SheetBlock:
    """Take what a lesson shows from its widgets.

    Args:
        view: an opened lesson, and what it shows in cells of its own (`further`).
    """
    shown = SheetBlock()
    tops, whole = (view, *getattr(view, "further", ())), (NumberControl, AllowanceTable)
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
                shown.items.append(Drawing(part.title, part.as_svg(), part.finding_text))
    return shown


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
    """Markdown of a notebook as HTML, links as plain words: paper cannot be clicked."""
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
    steps = () if view.result is None else tuple(view.working(view.result))
    return Leaf(lesson, view, idea, caution, shown_by(view), steps, solutions(lesson, seed, view))


def worksheet_html(
    lessons: Sequence[Lesson], *, answers: bool = False, paper: str = "a4", seed: int = 1
) -> str:
    """Worksheets of lessons as one self-contained page: no script, nothing from elsewhere.

    Args:
        lessons: one or more.
        answers: whether everything is filled in.
        paper: "a4" or "letter".
        seed: of the exercises' numbers.

    Raises:
        InputError: a paper or seed that cannot be used, or club rules that cannot.
    """
    if paper not in PAPERS:
        raise InputError(f"paper is {paper}; one of {', '.join(PAPERS)} is needed.")
    if seed < 0:
        raise InputError(f"seed is {seed}; 0 or more is needed.")
    with classroom(seed) as folder:
        leaves = [make_leaf(folder, lesson, seed) for lesson in lessons]
    return page_template(TEMPLATE).render(
        leaves=leaves, answers=answers, paper=PAPERS[paper], seed=seed
    )


def write_worksheet(
    name: str, path: Path, *, answers: bool = False, paper: str = "a4", seed: int = 1
) -> tuple[Lesson, ...]:
    """Write the worksheet of one lesson, or of all in one file.

    Args:
        name: "all", a lesson's number or its slug.
        path: the HTML file; one that is there stays.
        answers: whether everything is filled in.
        paper: "a4" or "letter".
        seed: of the exercises' numbers.

    Returns:
        The lessons in it.

    Raises:
        InputError: no such lesson or paper, or a file that is there already.
    """
    lessons = chosen_lessons(name)
    may_write(path)
    write_text(path, worksheet_html(lessons, answers=answers, paper=paper, seed=seed))
    return lessons
