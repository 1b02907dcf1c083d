"""Lesson notebooks: shape, glossary links, stored outputs. nbval runs them and compares their text."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.lessons import notebook_tools as tools
from workbook.data.notebooks import copy_notebooks
from workbook.lessons import lesson_view
from workbook.lessons.course import COURSE
from workbook.pages.page import CODE_TAG, OWN_TAG

LESSONS = tools.lesson_notebooks()


def test_every_written_lesson_has_its_notebook_and_the_other_way_about() -> None:
    assert [p.name for p in LESSONS] == [le.notebook for le in COURSE]


@pytest.mark.parametrize("path", LESSONS, ids=lambda p: p.stem)
def test_glossary_terms_are_linked_at_their_first_use_and_only_there(path: Path) -> None:
    assert tools.glossary_faults(tools.read(path)) == []


@pytest.mark.parametrize(
    "path", [*LESSONS, tools.NOTEBOOKS / "start.ipynb", tools.GLOSSARY], ids=lambda p: p.stem
)
def test_links_resolve(path: Path) -> None:
    for text, target in tools.links(tools.read(path)):
        assert text
        assert not target.startswith(("http", "/")), "nothing needs the network"
        name, _, fragment = target.partition("#")
        file = path if not name else path.parent / name
        assert file.exists(), target
        assert not fragment or fragment in tools.anchors(file), target


@pytest.mark.parametrize("path", LESSONS, ids=lambda p: p.stem)
def test_shape(path: Path) -> None:
    book = tools.read(path)
    lesson = next(le for le in COURSE if le.notebook == path.name)
    first = book.cells[0]
    assert first.cell_type == "markdown"
    assert first.source.startswith(f"# {lesson.number:02d} {lesson.title}\n")
    code = [c.source for c in book.cells if c.cell_type == "code"]
    assert any(f'open_lesson("{lesson.slug}")' in c for c in code)
    assert any(f'page_part("{lesson.slug}", "exercises")' in c for c in code)
    text = "\n".join(c.source for c in book.cells if c.cell_type == "markdown")
    assert "What carries over" in text
    assert all(len(c.splitlines()) <= 10 for c in code), "a cell is a few lines"


@pytest.mark.parametrize("path", sorted(tools.NOTEBOOKS.glob("*.ipynb")), ids=lambda p: p.stem)
def test_stored_outputs_are_printed_text_and_no_widget_state(path: Path) -> None:
    book = tools.read(path)
    assert set(book.metadata) <= {"kernelspec", "language_info"}
    for cell in book.cells:
        assert cell.metadata in ({}, {"tags": [CODE_TAG]}, {"tags": [OWN_TAG]})
        if cell.cell_type != "code":
            continue
        assert all(o.output_type == "stream" and o.name == "stdout" for o in cell.outputs)
        assert (cell.execution_count is not None) == bool(cell.outputs), "compared or not"


@pytest.mark.long
@pytest.mark.parametrize("path", sorted(tools.NOTEBOOKS.glob("*.ipynb")), ids=lambda p: p.stem)
def test_every_cell_runs_alone(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    copy_notebooks(tools.NOTEBOOKS, tmp_path / "notebooks")
    monkeypatch.chdir(tmp_path / "notebooks")
    for cell in tools.read(path).cells:
        if cell.cell_type != "code":
            continue
        monkeypatch.setattr(lesson_view, "_opened", {})
        monkeypatch.setattr(lesson_view, "_waiting", {})
        exec(compile(cell.source, path.name, "exec"), {})
        stored = [output.text for output in cell.outputs]
        assert [capsys.readouterr().out][: len(stored)] == stored


@pytest.mark.parametrize("path", LESSONS, ids=lambda p: p.stem)
def test_every_printed_number_is_stored_and_so_compared(path: Path) -> None:
    code = [c for c in tools.read(path).cells if c.cell_type == "code"]
    printing = [c for c in code if "print(" in c.source]
    assert printing, "a lesson shows the computation as lines to copy"
    assert all(c.outputs for c in printing)
