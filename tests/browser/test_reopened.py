"""A notebook opened in any state shows its live figure or its still picture, and opening changes nothing."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbconvert import HTMLExporter

from tests.browser.desk import IDLE, START_S, Desk
from tests.browser.test_every_notebook import BOOKS

pytestmark = [pytest.mark.browser, pytest.mark.long]
DIRTY = "() => window.jupyterapp.shell.currentWidget.context.model.dirty"
PICTURES = """() => [...document.querySelectorAll('.jp-OutputArea-output img')]
  .map(picture => picture.naturalWidth)"""


def book_of(desk: Desk, name: str) -> Any:
    return nbformat.read(desk.lab.folder / name, as_version=4)


def reopened(desk: Desk, name: str) -> None:
    """Open a notebook once more, with a kernel that has run nothing."""
    page = desk.page
    page.evaluate("() => window.jupyterapp.shell.currentWidget.sessionContext.shutdown()")
    desk.open_notebook(name)
    page.wait_for_function(IDLE, timeout=START_S * 1000)
    page.wait_for_timeout(1500)


@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_saved_and_reopened_it_shows_still_pictures_and_is_as_it_was(
    desk: Desk, path: Path
) -> None:
    page, name = desk.page, f"again_{path.name}"
    (desk.lab.folder / name).write_bytes(path.read_bytes())
    desk.open_notebook(name)
    page.wait_for_timeout(1500)
    assert not page.evaluate(DIRTY), "opening alone"
    desk.run_all_cells()
    drawn = page.locator(".wb-chart, .wb-picture").count()
    page.evaluate("() => window.jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function(f"() => !({DIRTY})()")
    reopened(desk, name)
    assert "model not found" not in page.locator(".jp-Notebook").inner_text()
    pictures = page.evaluate(PICTURES)
    assert all(pictures)
    assert bool(pictures) == bool(drawn)
    desk.screenshot(f"reopened-{path.stem}")
    assert not page.evaluate(DIRTY), "opening what was saved"
    saved = book_of(desk, name)
    html, _ = HTMLExporter().from_notebook_node(saved)
    assert "widget-view" not in html
    assert len(re.findall("<img [^>]*data:image/svg", html)) == len(pictures)
    (desk.lab.folder / name).unlink()


def test_the_first_start_asks_nothing(desk: Desk) -> None:
    desk.open_notebook("start.ipynb")
    desk.page.wait_for_timeout(3000)
    desk.screenshot("first-start")
    assert desk.page.locator(".jp-Dialog, .Toastify__toast").count() == 0


def test_sent_to_somebody_it_shows_its_pictures_untrusted(desk: Desk) -> None:
    page, name = desk.page, "sent.ipynb"
    desk.open_notebook("01_craft_asks.ipynb")
    desk.run_all_cells()
    page.evaluate("() => window.jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function(f"() => !({DIRTY})()")
    book = book_of(desk, "01_craft_asks.ipynb")
    book.cells[0].source += "\n\nA greeting to whom it is sent."
    nbformat.write(book, desk.lab.folder / name)
    desk.open_notebook(name)
    page.wait_for_timeout(1500)
    assert all(page.evaluate(PICTURES))
    assert page.evaluate(PICTURES)
    desk.screenshot("sent")
