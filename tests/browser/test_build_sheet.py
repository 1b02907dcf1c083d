"""Lesson 12 by hand in real JupyterLab: a log chosen, a plug read, the sheet written and opened."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.desk import Desk

pytestmark = [pytest.mark.browser, pytest.mark.long]


def bring(page: Any, part: Any, block: str) -> None:
    """Scroll to a part; twice, since cells grow as they come into view."""
    for _ in range(2):
        part.evaluate(f"e => e.scrollIntoView({{block: '{block}'}})")
        page.wait_for_timeout(700)


def test_log_plug_and_sheet_by_mouse_and_keyboard(desk: Desk) -> None:
    desk.open_notebook("12_build_sheet.ipynb")
    desk.focus_on_output()
    desk.run_all_cells()
    page = desk.page
    batch, plug, writer = (page.locator(f".wb-{name}") for name in ("batch", "plug", "page-writer"))
    batch.wait_for(state="attached")

    # to the log with planted faults
    bring(page, batch, "start")
    batch.locator("td", has_text="A13").first.wait_for()
    desk.screenshot("12-batch-good")
    desk.choose(batch.locator("select").first, "doubtful batch")
    batch.locator("td", has_text="31 mV a week at rest").wait_for()
    assert "B08" in batch.inner_text()
    desk.screenshot("12-batch-doubtful")
    batch.locator("button", has_text="show the working").click()
    batch.locator("li", has_text="smallest of its groups").wait_for()

    bring(page, plug, "center")
    typed = plug.locator("input")
    typed.fill("3,6 10,8 7,2 14,4 18 21,6")
    typed.press("Enter")
    plug.locator(".wb-verdict", has_text="Do not plug it in").wait_for()
    desk.screenshot("12-plug-swapped")
    typed.fill("3,6 7,2 10,8 14,4 18 21,6")
    typed.press("Enter")
    plug.locator(".wb-verdict", has_text="Every step is one cell").wait_for()

    bring(page, writer, "center")
    writer.locator("input[type=text]").fill("by_hand.html")
    writer.locator("input[type=text]").press("Tab")
    writer.locator("button").click()
    writer.locator("text=Written: by_hand.html").wait_for()
    assert "B21" in (desk.lab.folder / "by_hand.html").read_text("utf-8")
    desk.screenshot("12-sheet-written")
    writer.locator("button").click()
    writer.locator("[role=alert]", has_text="already here").wait_for()
    writer.locator("label", has_text="replace a file").click()
    writer.locator("button").click()
    link = writer.locator("a", has_text="open by_hand.html")
    link.wait_for()
    link.click()
    page.wait_for_function(
        "() => window.jupyterapp.shell.currentWidget?.context?.path === 'by_hand.html'"
    )
    desk.screenshot("12-sheet-opened")
    assert desk.errors == []
