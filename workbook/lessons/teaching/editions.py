"""Learners' and instructor's edition of the notebooks, from the one source, each in a folder of its own."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import chdir, contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import nbformat as _nbformat
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from workbook.csv_text import csv_text
from workbook.data.notebooks import notebooks_source
from workbook.errors import InputError
from workbook.exercises.progress import FILE_NAME, ProgressFile
from workbook.files.club_file import CLUB_FILE, read_club
from workbook.files.reading import read_text
from workbook.files.writing import new_folder, write_text
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.lesson_view import open_lesson
from workbook.lessons.teaching.solution import Solution, solutions
from workbook.opening import lay_out

INSTRUCTORS = "instructors"
LARGEST_CLUB_BYTES = 100_000


def furnish(folder: Path, seed: int) -> None:
    """Lay the notebooks out in a folder, with the club's rules and the seed of its exercises.

    The rules are those of the working folder, where it has some, else those shipped.

    Args:
        folder: new, or empty.
        seed: of the exercises' numbers.

    Raises:
        InputError: rules that cannot be used, or a folder that cannot be written.
    """
    own_rules = os.path.lexists(CLUB_FILE)
    if own_rules:
        read_club(CLUB_FILE)
    lay_out(notebooks_source(), folder)
    if own_rules:
        write_text(folder / CLUB_FILE, read_text(CLUB_FILE, LARGEST_CLUB_BYTES), overwrite=True)
    seeded = ProgressFile(seed=seed).model_dump_json(indent=2) + "\n"
    write_text(folder / FILE_NAME, seeded, overwrite=True)


@contextmanager
def classroom(seed: int) -> Iterator[Path]:
    """Work for a while in such a folder, which is gone afterwards.

    Args:
        seed: of the exercises' numbers.

    Example:
        >>> with classroom(7) as folder:
        ...     (folder / "start.ipynb").exists(), Path.cwd() == folder
        (True, True)
    """
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base).resolve() / "notebooks"
        furnish(folder, seed)
        with chdir(folder):
            yield folder


MOST_COPIES = 60
nbformat: Any = _nbformat
"""The library has no types."""
EXERCISES_CELL = 'page_part("{slug}", "exercises")'
KEY_FILE = "answers.csv"


@dataclass(frozen=True)
class Editions:
    """What was written.

    Attributes:
        learners: one folder a copy.
        instructors: the folder with solutions.
        seeds: of the copies, in their order.
        key: the answers of every copy, as a table.
    """

    learners: tuple[Path, ...]
    instructors: Path
    seeds: tuple[int, ...]
    key: Path


def _escaped(text: str) -> str:
    """Plain text as Markdown shows it: no sign of it is taken for markup."""
    return "".join(f"\\{sign}" if sign in r"\`*_{}[]<>#|~$" else sign for sign in text)


@cache
def _template(name: str) -> Template:
    """Markdown to be filled in: plain texts go through the filter `plain`."""
    loader = FileSystemLoader(Path(__file__).parent)
    environment = Environment(loader=loader, undefined=StrictUndefined)
    environment.filters["plain"] = _escaped
    return environment.get_template(name)


def plan_text(lesson: Lesson, found: tuple[Solution, ...]) -> str:
    """The lesson's time, line by line, as Markdown."""
    return _template("plan.md.j2").render(lesson=lesson, solved=found)


def solution_text(number: int, solution: Solution) -> str:
    """One solution as Markdown: question, answer, working, slips and hints."""
    return _template("solution.md.j2").render(number=number, solved=solution)


def with_solutions(book: Any, lesson: Lesson, found: tuple[Solution, ...]) -> Any:
    """A lesson's notebook with its time plan on top and the solutions after the exercises."""
    cells = []
    for number, cell in enumerate(book.cells):
        cells.append(cell)
        if number == 0:
            cells.append(nbformat.v4.new_markdown_cell(plan_text(lesson, found)))
        if cell.cell_type == "code" and EXERCISES_CELL.format(slug=lesson.slug) in cell.source:
            cells += [
                nbformat.v4.new_markdown_cell(solution_text(k, s)) for k, s in enumerate(found, 1)
            ]
    for number, cell in enumerate(cells):
        cell["id"] = f"c{number:02d}"
    book.cells = cells
    return book


def write_editions(folder: Path, seed: int = 1, copies: int = 1) -> Editions:
    """Write both editions into a new folder.

    Args:
        folder: not there yet, or empty.
        seed: of the first learners' copy; each further copy has the next one, so that neighbours
            differ. The instructor's notebooks solve the first; the table of answers has all.
        copies: learners' copies, 1 to 60.

    Returns:
        What was written.

    Raises:
        InputError: a folder that holds something, or a count out of range.
    """
    if not 1 <= copies <= MOST_COPIES:
        raise InputError(f"copies is {copies}; 1 to {MOST_COPIES} is needed.")
    if seed < 0:
        raise InputError(f"seed is {seed}; 0 or more is needed.")
    seeds = tuple(range(seed, seed + copies))
    names = ["learners"] if copies == 1 else [f"learners-{k:02d}" for k in range(1, copies + 1)]
    with new_folder(folder) as place:
        rows, solved = _solved(names, seeds)
        for name, own_seed in zip((*names, INSTRUCTORS), (*seeds, seed), strict=True):
            furnish(place / name, own_seed)
        for lesson, found in solved.items():
            path = place / INSTRUCTORS / lesson.notebook
            book = with_solutions(nbformat.read(path, as_version=4), lesson, found)
            write_text(path, nbformat.writes(book) + "\n", overwrite=True)
        answers = csv_text(["copy", "seed", "exercise", "answer"], rows)
        write_text(place / INSTRUCTORS / KEY_FILE, answers)
    instructors = folder / INSTRUCTORS
    learners = tuple(folder / name for name in names)
    return Editions(learners, instructors, seeds, instructors / KEY_FILE)


def _solved(
    names: Sequence[str], seeds: Sequence[int]
) -> tuple[list[tuple[str, int, str, str]], dict[Lesson, tuple[Solution, ...]]]:
    """Rows of the table of answers of every copy, by its seed; and the first copy's solutions, by lesson."""
    rows: list[tuple[str, int, str, str]] = []
    solved: dict[Lesson, tuple[Solution, ...]] = {}
    with classroom(seeds[0]):
        for lesson in COURSE:
            view = open_lesson(lesson.slug)
            solved[lesson] = solutions(lesson, seeds[0], view)
            for copy, own_seed in zip(names, seeds, strict=True):
                found = solutions(lesson, own_seed, view)
                rows += [(copy, own_seed, s.exercise.id, s.answer) for s in found]
    return sorted(rows, key=lambda row: row[1]), solved
