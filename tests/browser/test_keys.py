"""A key pressed in one of our controls never edits the notebook."""

from __future__ import annotations

import string
from pathlib import Path

import pytest

from tests.browser.desk import Desk
from tests.browser.test_every_notebook import BOOKS

pytestmark = [pytest.mark.browser, pytest.mark.long]

CELLS = """() => window.jupyterapp.shell.currentWidget.content.widgets.map(
  c => [c.model.type, c.model.sharedModel.source])"""
ONE_OF_EACH_KIND = """() => {
  const kinds = new Map();
  for (const e of document.querySelectorAll(
      '.wb :is(a[href], button, input, select, textarea, summary, [tabindex])')) {
    const holder = e.closest('.jupyter-widgets');
    const kind = [e.tagName, e.type, e.getAttribute('role'), holder?.className].join(' ');
    if (e.checkVisibility() && !e.disabled && e.tabIndex >= 0 && !kinds.has(kind)) kinds.set(kind, e);
  }
  window.wbKinds = [...kinds.values()];
  return [...kinds.keys()];
}"""
FOCUS = (
    "n => { window.wbKinds[n].focus(); return window.wbKinds[n].contains(document.activeElement); }"
)
KEYS = (*string.ascii_lowercase, *string.ascii_uppercase, "0", "0", "d", "d", "i", "i")


@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_no_letter_pressed_in_a_control_reaches_the_notebook(desk: Desk, path: Path) -> None:
    desk.open_notebook(path.name)
    desk.run_all_cells()
    page = desk.page
    before = page.evaluate(CELLS)
    kinds = page.evaluate(ONE_OF_EACH_KIND)
    assert kinds or path.stem == "start"
    for number, kind in enumerate(kinds):
        pressed = 0
        for key in KEYS:
            if page.evaluate(
                FOCUS, number
            ):  # a key may have taken the control away, or put it out of use
                page.keyboard.press(key)
                pressed += 1
        assert pressed, kind
        assert page.evaluate(CELLS) == before, kind
        assert page.locator(".jp-Dialog").count() == 0, kind
