"""What a page shows of its notebook: no cell that is about code, and the way through the course."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import Any

from workbook.lessons.course import COURSE
from workbook.data.notebooks import START_PAGE

CODE_TAG = "code"
"""Tag of a cell that is for JupyterLab only: code to copy, and what is said of it."""


@dataclass(frozen=True)
class Way:
    """Where a page stands, and where one goes from it.

    Attributes:
        title: of the page.
        place: which lesson it is, in words; empty where it is none.
        before: notebook and title of the lesson before; None where there is none.
        after: the same of the next one.
    """

    title: str
    place: str = ""
    before: tuple[str, str] | None = None
    after: tuple[str, str] | None = None


def way_from(name: str, title: str) -> Way:
    """Where the page of a notebook stands in the course.

    Args:
        name: of the notebook's file.
        title: its first heading.

    Example:
        >>> way_from("02_series_parallel.ipynb", "Series and parallel").before
        ('01_craft_asks.ipynb', 'What the craft asks for')
        >>> way_from("start.ipynb", "Start here").after
        ('01_craft_asks.ipynb', 'What the craft asks for')
    """
    links = [(lesson.notebook, lesson.title) for lesson in COURSE]
    names = [START_PAGE, *(notebook for notebook, _ in links)]
    if name not in names:
        return Way(title)
    number = names.index(name)
    before = links[number - 2] if number > 1 else None
    after = links[number] if number < len(links) else None
    place = f"Lesson {number} of {len(links)}" if number else ""
    return Way(title, place, before, after)


def page_of(notebook: Any, name: str) -> Any:
    """A notebook as its page: without the cells for JupyterLab, and knowing its title and its way.

    Args:
        notebook: as nbformat reads it; it is changed.
        name: of its file.

    Returns:
        the same notebook.
    """
    notebook.cells = [
        cell for cell in notebook.cells if CODE_TAG not in cell.metadata.get("tags", ())
    ]
    found = re.search(r"^# (?:\d+ )?(.+)$", notebook.cells[0].source, re.MULTILINE)
    title = found[1].strip() if found else name.removesuffix(".ipynb")
    notebook.metadata["title"] = title
    notebook.metadata["way"] = asdict(way_from(name, title))
    return notebook
