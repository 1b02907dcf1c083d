"""Pages: what of a notebook is on them, and the way through the course."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import pytest

from workbook.data.notebooks import CHECKOUT_NOTEBOOKS
from workbook.lessons.course import COURSE, Lesson
from workbook.lessons.what_flight_said import LARGEST_MB
from workbook.pages.page import AS_CODE, LARGEST_MESSAGE_BYTES, NOT_RUN, page_of, way_from
from workbook.pictures.opening import MOST_BYTES

BOOKS = sorted(CHECKOUT_NOTEBOOKS.glob("*.ipynb"))
OF_JUPYTERLAB = re.compile(r"\bthe cells? below|empty cell|Shift|kernel", re.IGNORECASE)
"""Words that send a reader of a page to something that is not there."""


@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_no_page_speaks_of_what_only_jupyterlab_has(path: Path) -> None:
    page = page_of(nbformat.read(path, as_version=4), path.name)
    texts = [cell.source for cell in page.cells if cell.cell_type == "markdown"]
    assert [t for t in texts if OF_JUPYTERLAB.search(t)] == []
    assert page.metadata.title == page.metadata.way.title
    assert not page.metadata.title[:2].isdigit()


OF_ONES_OWN = re.compile(
    r"this computer|beside this page|network|pip install|JupyterLab|as code|`[.\w/]*(?:club\.toml|\.workbook)`"
)
"""Words that tell a visitor what only whoever has a copy of their own can do or find."""


@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_no_visitor_is_told_of_what_they_cannot_do(path: Path) -> None:
    page = page_of(nbformat.read(path, as_version=4), path.name, code=False)
    texts = [cell.source for cell in page.cells if cell.cell_type == "markdown"]
    assert [t for t in texts if OF_ONES_OWN.search(t)] == []
    assert any("Lithium-ion" in t for t in texts) or path.stem != "start"  # the caution stays


@pytest.mark.parametrize("lesson", COURSE, ids=lambda le: le.slug)
def test_a_lesson_s_page_shows_its_figure_and_its_exercises(lesson: Lesson) -> None:
    name = lesson.notebook
    page = page_of(nbformat.read(CHECKOUT_NOTEBOOKS / name, as_version=4), name)
    code = [cell.source for cell in page.cells if cell.cell_type == "code"]
    assert "open_lesson" in code[0]
    assert any(f'page_part("{lesson.slug}", "exercises")' in c for c in code)
    headings = [c.source.split("\n")[0] for c in page.cells if c.cell_type == "markdown"]
    assert "## The same in a few lines" not in headings


def test_the_way_leads_through_every_lesson_and_back() -> None:
    name, seen = "start.ipynb", []
    while after := way_from(name, "").after:
        seen.append(after[0])
        back = way_from(after[0], "").before
        assert back is None if name == "start.ipynb" else back is not None and back[0] == name
        name = after[0]
    assert seen == [lesson.notebook for lesson in COURSE]


def test_a_page_beside_the_course_leads_nowhere_but_to_the_start() -> None:
    way = way_from("sizing_bench.ipynb", "The sizing bench")
    assert (way.place, way.before, way.after) == ("", None, None)


def test_a_notebook_without_a_heading_is_called_by_its_file() -> None:
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell("no heading")])
    assert page_of(book, "mine.ipynb").metadata.title == "mine"
    empty = nbformat.v4.new_notebook()
    assert page_of(empty, "mine.ipynb").metadata.title == "mine"


@pytest.mark.parametrize("kind", ["code", "raw", "other"])
def test_a_page_runs_no_line_that_did_not_come_with_the_workbook(kind: str) -> None:
    mine = nbformat.v4.new_code_cell("import workbook as wb\n\nwb.course()")
    theirs = nbformat.v4.new_code_cell("import workbook as wb; wb.course(); print('run')")
    theirs["cell_type"] = kind
    book = nbformat.v4.new_notebook()
    book.cells = [mine, theirs]
    page = page_of(book, "start.ipynb")
    assert [cell.cell_type for cell in page.cells] == ["code", "markdown"]
    assert page.cells[1].source == NOT_RUN + AS_CODE


def test_a_page_sends_the_largest_file_that_it_takes() -> None:
    assert max(LARGEST_MB * 1e6, MOST_BYTES) < 0.9 * LARGEST_MESSAGE_BYTES


def test_a_page_keeps_no_outputs_widgets_or_template_of_somebody_else() -> None:
    mine = nbformat.v4.new_code_cell("import workbook as wb\n\nwb.course()")
    theirs = {"text/html": "<script>run()</script>"}
    mine.outputs = [nbformat.v4.new_output("display_data", data=theirs)]
    book = nbformat.v4.new_notebook(cells=[mine], metadata={"language_info": {"name": "python"}})
    book.metadata |= {"voila": {"template": "theirs"}, "widgets": {"state": {}}}
    page = page_of(book, "start.ipynb")
    assert page.cells[0].outputs == []
    assert sorted(page.metadata) == ["language_info", "largest_message_bytes", "title", "way"]


def test_a_page_shows_somebody_else_s_html_and_links_as_text() -> None:
    book = nbformat.v4.new_notebook()
    book.cells = [nbformat.v4.new_markdown_cell("# Mine\n<img src=x> [a](javascript:b) **kept**")]
    [cell] = page_of(book, "mine.ipynb").cells
    assert cell.source == "# Mine\n&lt;img src=x> &#91;a](javascript:b) **kept**"
