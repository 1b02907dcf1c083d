"""The course: its lessons in order, and the table of them on the start page.

The shape of a lesson, for its author:

- One line in `workbook/data/course.csv`: slug, title, question, minutes. Its place is the lesson's number.
- `workbook/exercises/course/SLUG.py`: `EXERCISES`, a tuple of four exercise records or more, of all three kinds:
  numbers to find, `choices_of("SLUG")` from `workbook/data/choices.toml`, controls to set. An id never changes once
  it is out (progress is kept under it); rules come from `workbook.files.club_file.club_rules()`, figures
  from the computation. `tests/exercises/test_course.py` finds the file by itself.
- `workbook/lessons/SLUG.py`: one subclass of `workbook.lessons.lesson_view.LessonView` (its docstring says
  what to fill in) named as the slug in CamelCase. It computes nothing.
- `notebooks/NN_SLUG.ipynb`, cells in this order:
  1. markdown: `# NN Title`, the question in bold, the idea in a few sentences;
  2. code: `import workbook as wb` / `lesson = wb.open_lesson("SLUG")` / `lesson`: the live figure with its
     working;
  3. markdown "Try": two or three things to change and watch, predicting first;
  4. markdown and code in turns: the same computation by its own names, in lines that a learner can copy
     into an empty cell and change. It ends in `print` of plain text: that output is stored and compared. These
     cells have the tag `code`: they are for JupyterLab, and no page shows them;
  5. code: `import workbook as wb` / `wb.page_part("SLUG", "exercises")`;
  6. markdown "Caution" where something can hurt; markdown "What carries over", code: the part "keep".
- Every cell runs alone: it imports and opens what it needs.
- Terms of `notebooks/glossary.ipynb` are linked at their first use. Write the term plainly; then
  `python -m tests.lessons.refresh notebooks/NN_SLUG.ipynb` links it, runs the notebook, stores the text
  outputs and drops all else. A new term is a cell `## term` in the glossary, at its place in the alphabet.
- Tests: `tests/lessons/test_SLUG.py` moves a control and reads text, chart and working;
  `tests/browser/test_lessons.py` finds the notebook by itself.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from IPython.display import Markdown, display

from workbook.data.tables import data_rows
from workbook.exercises.exercise import Exercise
from workbook.exercises.progress import FILE_NAME, Progress

LOOK_EVERY_S = 2.0


@dataclass(frozen=True)
class Lesson:
    """One lesson of the course.

    Attributes:
        number: its place, from 1.
        slug: name of its module and, after the number, of its notebook.
        title: in words.
        question: the one that it answers, a sentence.
        minutes: that a learner needs, about.
    """

    number: int
    slug: str
    title: str
    question: str
    minutes: int

    @property
    def notebook(self) -> str:
        """File name of its notebook."""
        return f"{self.number:02d}_{self.slug}.ipynb"

    @property
    def exercises(self) -> tuple[Exercise, ...]:
        """Its exercises."""
        module = import_module(f"workbook.exercises.course.{self.slug}")
        found: tuple[Exercise, ...] = module.EXERCISES
        return found

    @property
    def exercise_ids(self) -> tuple[str, ...]:
        """Under which progress is kept."""
        return tuple(exercise.id for exercise in self.exercises)


def _read_course() -> tuple[Lesson, ...]:
    return tuple(
        Lesson(n, row["slug"], row["title"], row["question"], int(row["minutes"]))
        for n, row in enumerate(data_rows("course.csv"), 1)
    )


COURSE = _read_course()
"""Every lesson, in order."""


def lesson_of(slug: str) -> Lesson:
    """The lesson of a slug.

    Raises:
        KeyError: there is none.

    Example:
        >>> lesson_of("series_parallel").notebook
        '02_series_parallel.ipynb'
    """
    for lesson in COURSE:
        if lesson.slug == slug:
            return lesson
    raise KeyError(f"no lesson '{slug}'; there is {', '.join(le.slug for le in COURSE)}.")


def course_text(progress: Progress) -> str:
    """The course as a table in Markdown: lessons with links, minutes and what is done."""
    rows, done, minutes = [], 0, 0
    for lesson in COURSE:
        ids = lesson.exercise_ids
        right = sum(progress.mark(i).right for i in ids)
        whole = right == len(ids)
        done += whole
        minutes += 0 if whole else lesson.minutes
        state = f"{'✓ done' if whole else '…' if right else ''} {right} of {len(ids)}".strip()
        rows.append(
            f"| {lesson.number} | [{lesson.title}]({lesson.notebook}) | {lesson.question} "
            f"| {lesson.minutes} | {state} |"
        )
    head = "| | lesson | the question | minutes | exercises right |\n|--:|:--|:--|--:|:--|"
    notices = "".join(f"\n\n✕ {notice}" for notice in progress.notices)
    return (
        head + "\n" + "\n".join(rows) + f"\n\n**{done} of {len(rows)} lessons done**, about "
        f"{minutes} minutes to go." + notices
    )


def course(folder: Path | str = ".") -> None:
    """Show the course as a table that follows the learner's progress while the page is open.

    Args:
        folder: where the progress file is.
    """
    handle = display(Markdown(course_text(Progress(folder))), display_id=True)

    async def follow() -> None:
        path, seen = Path(folder) / FILE_NAME, None
        while True:
            now = path.stat().st_mtime_ns if path.exists() else None
            if now != seen:
                seen = now
                handle.update(Markdown(course_text(Progress(folder))))
            await asyncio.sleep(LOOK_EVERY_S)

    try:
        following.add(asyncio.get_running_loop().create_task(follow()))
    except RuntimeError:
        return


following: set[asyncio.Task[None]] = set()
"""Tasks are kept here, since a loop keeps no hold of its own on them."""
