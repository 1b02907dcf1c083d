"""A key pressed in one of our controls never edits the notebook."""

from __future__ import annotations

import string

import pytest

from tests.browser.desk import Desk

pytestmark = [pytest.mark.browser, pytest.mark.long]

CELLS = """() => window.jupyterapp.shell.currentWidget.content.widgets.map(
  c => [c.model.type, c.model.sharedModel.source])"""
CONTROLS = {
    "a list": ".wb select",
    "a slider": ".wb .noUi-handle",
    "a button": ".wb button:not([disabled]):visible",
    "a box": ".wb input[type=text]",
    "a tick": ".wb input[type=checkbox]",
}
KEYS = (*string.ascii_lowercase, *string.ascii_uppercase, "0", "0", "d", "d", "i", "i")


@pytest.mark.parametrize("kind", CONTROLS)
def test_no_letter_pressed_in_a_control_reaches_the_notebook(desk: Desk, kind: str) -> None:
    desk.open_notebook("sizing_bench.ipynb")
    desk.run_all_cells()
    page = desk.page
    page.wait_for_selector(".wb-chart path.line", state="attached")
    before = page.evaluate(CELLS)
    for key in KEYS:
        page.locator(CONTROLS[kind]).first.focus()
        page.keyboard.press(key)
    page.wait_for_timeout(500)
    assert page.evaluate(CELLS) == before
    assert page.locator(".jp-Dialog").count() == 0
