"""The course: its lessons in order, and how a notebook opens one.

The shape of a lesson, for whoever writes one:

- One line in `COURSE` here: number, slug, title, question, minutes.
- `workbook/exercises/course/lesson_NN.py`: `EXERCISES`, a tuple of exercise records. An id never changes
  once it is out (progress is kept under it); numbers are drawn in `make`; rules come from
  `workbook.files.club_file.club_rules()`; the `lesson` of each record is the slug. Figures come from the
  computation. `SOLUTIONS`: id of each setting exercise to the control settings that solve it, for the
  test. `tests/lessons/test_exercises.py` finds the file by itself.
- `workbook/lessons/SLUG.py`: one subclass of `workbook.lessons.lesson_view.LessonView` (its docstring says
  what to fill in) named as the slug in CamelCase. It computes nothing.
- `notebooks/NN_SLUG.ipynb`, cells in this order:
  1. markdown: `# NN Title`, the question in bold, the idea in a few sentences;
  2. code: `from workbook.lessons.course import open_lesson` / `lesson = open_lesson("SLUG")` / `lesson`: the
     live figure with its working;
  3. markdown "Try": two or three things to change and watch, predicting first;
  4. markdown and code in turns: the same computation by its own names, in lines that a learner can copy
     into an empty cell and change. It ends in `print` of plain text: that output is stored and compared;
  5. code: `lesson.exercises`;
  6. markdown "Caution" where something can hurt; markdown "What carries on", code: `lesson.keep`.
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
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from IPython.display import Markdown, display

from workbook.exercises.exercise import Exercise
from workbook.exercises.progress import FILE_NAME, Progress

if TYPE_CHECKING:
    from workbook.lessons.lesson_view import LessonView

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
    def written(self) -> bool:
        """Whether the lesson is there."""
        return all(
            find_spec(name) is not None
            for name in (f"workbook.lessons.{self.slug}", self._exercise_module)
        )

    @property
    def _exercise_module(self) -> str:
        return f"workbook.exercises.course.lesson_{self.number:02d}"

    @property
    def exercises(self) -> tuple[Exercise, ...]:
        """Its exercises."""
        found: tuple[Exercise, ...] = import_module(self._exercise_module).EXERCISES
        return found

    @property
    def exercise_ids(self) -> tuple[str, ...]:
        """Under which progress is kept."""
        return tuple(exercise.id for exercise in self.exercises)


COURSE = (
    Lesson(1, "craft_asks", "What the craft asks for",
           "How many watts does your craft need just to stay in the air?", 15),
    Lesson(2, "series_parallel", "Series and parallel",
           "What changes when a cell is added end to end, and what when it is added side by side?", 12),
    Lesson(3, "datasheet", "Reading a cell's datasheet",
           "What does a cell really give at your current, down to your landing voltage?", 20),
    Lesson(4, "c_rate", "C-rate and current limits",
           "How hard may a pack be discharged and charged, and how long does a charge take?", 15),
    Lesson(5, "thrust_per_amp", "Thrust per amp",
           "How much thrust does each ampere buy, and where does it buy most?", 15),
    Lesson(6, "weight_spiral", "The weight spiral",
           "When does one more string of cells stop adding minutes?", 15),
    Lesson(7, "landing_voltage", "Sag, landing voltage and flight time",
           "How long does the flight last when the voltage falls as you fly?", 20),
    Lesson(8, "margin_budget", "Margin budgeting",
           "How much of the plan is left when reality takes its share?", 20),
    Lesson(9, "thrust_ceiling", "What the pack lets the craft do",
           "How much thrust can the pack give, full and almost empty, and where must throttle be capped?", 15),
    Lesson(10, "wing_asks", "Fixed wing",
           "What does a wing ask of a pack that a multirotor does not?", 20),
    Lesson(11, "wire_and_strips", "Wire, strips and joints",
           "Which strip, wire and connector carry the current without getting hot?", 15),
    Lesson(12, "build_sheet", "Layout, matching and the build sheet",
           "How do the cells go together, and what must be on paper before you build?", 20),
    Lesson(13, "choosing", "Choosing among candidates",
           "Which of many packs that hold every limit is the one to build?", 15),
)  # fmt: skip
"""Every lesson, in order. One that is not yet written is not shown."""


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


def open_lesson(slug: str) -> LessonView:
    """The live part of a lesson, ready to be shown in its notebook.

    Args:
        slug: of the lesson.
    """
    name = "".join(part.capitalize() for part in slug.split("_"))
    view: type[LessonView] = getattr(import_module(f"workbook.lessons.{slug}"), name)
    return view()


def course_text(progress: Progress) -> str:
    """The course as a table in Markdown: lessons with links, minutes and what is done."""
    rows, done, minutes = [], 0, 0
    for lesson in (le for le in COURSE if le.written):
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


def course_table(folder: Path | str = ".") -> None:
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
        _following.add(asyncio.get_running_loop().create_task(follow()))
    except RuntimeError:
        return


_following: set[asyncio.Task[None]] = set()
"""Tasks are kept here, since a loop keeps no hold of its own on them."""
