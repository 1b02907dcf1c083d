"""What a page shows of its notebook: no cell that is about code, and the way through the course.

A page runs as soon as it is open, so it runs nothing but the lines that came with this copy of the workbook: what
somebody else wrote into a notebook, code or HTML, is not run until a person does so in JupyterLab.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import nbformat

from workbook.data.notebooks import START_PAGE, notebooks_source
from workbook.lessons.course import COURSE

CODE_TAG = "code"
"""Tag of a cell that is for JupyterLab only: code to copy, and the words about it."""

OWN_TAG = "own"
"""Tag of a cell that is for whoever has a copy of their own: no visitor of shared pages reads what they cannot do."""

LARGEST_MESSAGE_BYTES, LARGEST_OF_VISITOR_BYTES = 100_000_000, 10_000_000
"""That a page of one's own copy, or a visitor's, may send at once, a file in it; Tornado closes the connection of one
that sends more."""

KEPT_METADATA = ("kernelspec", "language_info")
"""Metadata of a notebook that are kept; the rest may choose a template, or hold widgets that nobody has made here."""

TEXT_ONLY = str.maketrans({"<": "&lt;", "[": "&#91;"})
"""Markdown without HTML, links and pictures: a link may hold code."""

NOT_RUN = (
    "**This page has lines of code that did not come with the workbook.** A page does not run them."
)
AS_CODE = " Open this page *as code* (above), read them, and run them there if you trust whoever wrote them."


@dataclass(frozen=True)
class Way:
    """The place of a page in the course, and the links from it.

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
    """The place of a notebook's page in the course.

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


@cache
def own_cells() -> frozenset[tuple[str, str]]:
    """Kind and source of every cell that came with this copy of the workbook."""
    books = (
        nbformat.read(path, as_version=4) for path in sorted(notebooks_source().glob("*.ipynb"))
    )
    return frozenset((cell.cell_type, cell.source) for book in books for cell in book.cells)


def _harmless(cell: Any, not_run: str) -> Any:
    """A cell as a page may show it: what is not the workbook's own holds no code, HTML or link."""
    if (cell.cell_type, cell.source) in own_cells():
        if cell.cell_type == "code":
            cell.outputs = []
        return cell
    written = cell.source.translate(TEXT_ONLY) if cell.cell_type == "markdown" else not_run
    return nbformat.v4.new_markdown_cell(written)


def page_of(notebook: Any, name: str, *, code: bool = True) -> Any:
    """A notebook as its page: without the cells for JupyterLab, and knowing its title and its way.

    Args:
        notebook: as nbformat reads it; it is changed.
        name: of its file.
        code: whether whoever sees it has a copy of their own, and can open it as code.

    Returns:
        the same notebook, with nothing in it that runs but the workbook's own lines.
    """
    not_run = NOT_RUN + AS_CODE if code else NOT_RUN
    left_out = {CODE_TAG} if code else {CODE_TAG, OWN_TAG}
    shown = (c for c in notebook.cells if not left_out & set(c.metadata.get("tags", ())))
    notebook.cells = cells = [_harmless(cell, not_run) for cell in shown]
    first = cells[0].source if cells else ""
    found = re.search(r"^# (?:\d+ )?(.+)$", first, re.MULTILINE)
    title = found[1].strip() if found else name.removesuffix(".ipynb")
    kept = {key: notebook.metadata[key] for key in KEPT_METADATA if key in notebook.metadata}
    notebook.metadata = nbformat.from_dict(kept)
    notebook.metadata["title"] = title
    largest_bytes = LARGEST_MESSAGE_BYTES if code else LARGEST_OF_VISITOR_BYTES
    notebook.metadata["largest_message_bytes"] = largest_bytes
    notebook.metadata["way"] = asdict(way_from(name, title))
    return notebook
