"""Every lesson notebook in a real JupyterLab: it runs, its sliders move, nothing sticks out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.desk import NOTEBOOKS, Desk

pytestmark = [pytest.mark.browser, pytest.mark.long]
LESSONS = sorted(NOTEBOOKS.glob("[0-9][0-9]_*.ipynb"))
FOUND = """() => [...document.querySelectorAll('.jp-mod-active, .jp-NotebookPanel')].length"""
TOO_WIDE = """() => {
  const panel = window.jupyterapp.shell.currentWidget.node;
  const edge = panel.getBoundingClientRect().right;
  return [...panel.querySelectorAll('.jp-OutputArea-output, .wb, .wb *')]
    .filter(e => !e.closest('.noUi-target') && !e.closest('.widget-readout'))
    .filter(e => e.getBoundingClientRect().width > 0 && e.getBoundingClientRect().right > edge + 1)
    .map(e => `${e.tagName}.${e.getAttribute('class')}: ${(e.textContent || '').slice(0, 60)}`)
    .slice(0, 5);
}"""
SCROLLS_SIDEWAYS = """() => {
  const panel = window.jupyterapp.shell.currentWidget.node;
  return [document.documentElement, ...panel.querySelectorAll('.jp-WindowedPanel-outer, .jp-OutputArea-output')]
    .filter(e => e.scrollWidth > e.clientWidth + 1)
    .map(e => `${e.tagName}.${e.className}: ${e.scrollWidth} in ${e.clientWidth}`);
}"""


def open_and_run(desk: Desk, name: str) -> Any:
    desk.open_notebook(name)
    desk.focus_on_output()
    desk.run_all_cells()
    page = desk.page
    page.wait_for_selector(".wb-lesson", state="attached")
    desk.at_rest(lambda: shown(page))
    return page


def shown(page: Any) -> str:
    """Everything that a lesson shows: words and shapes."""
    return page.locator(".wb-lesson").first.evaluate(
        "e => e.innerText + [...e.querySelectorAll('svg')].map(s => s.outerHTML).join()"
    )


def bring(page: Any, selector: str) -> None:
    page.locator(selector).first.evaluate("e => e.scrollIntoView({block: 'start'})")
    page.wait_for_timeout(400)


def far_up(handle: Any) -> bool:
    """Whether a slider stands in its upper half."""
    low, high, now = (
        float(handle.get_attribute(f"aria-value{e}") or 0) for e in ("min", "max", "now")
    )
    return now > (low + high) / 2


@pytest.mark.parametrize("path", LESSONS, ids=lambda p: p.stem)
def test_lesson_runs_moves_and_fits_at_either_size(desk: Desk, path: Path) -> None:
    page = open_and_run(desk, path.name)
    desk.screenshot(f"{path.stem}-1-top")
    bring(page, ".wb-lesson")
    desk.screenshot(f"{path.stem}-2-figure")
    assert page.evaluate(SCROLLS_SIDEWAYS) == []
    assert page.evaluate(TOO_WIDE) == []

    handles = page.locator(".wb-lesson .noUi-handle")
    assert handles.count() >= 1
    moved = [handles.nth(n) for n in range(handles.count()) if handles.nth(n).is_visible()]
    for number, handle in enumerate(moved):  # by a step, before any is far from where it was
        handle.scroll_into_view_if_needed()
        before = shown(page)
        handle.focus()
        page.keyboard.press("ArrowLeft" if far_up(handle) else "ArrowRight")
        assert desk.at_rest(lambda: shown(page), unlike=before) != before, f"slider {number} by key"
    for number, handle in enumerate(moved):
        handle.scroll_into_view_if_needed()
        before, box = shown(page), handle.bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + (-40 if far_up(handle) else 40), y, steps=4)
        page.mouse.up()
        assert desk.at_rest(lambda: shown(page), unlike=before) != before, (
            f"slider {number} by mouse"
        )
    bring(page, ".wb-lesson")
    desk.screenshot(f"{path.stem}-3-moved")
    assert page.evaluate(TOO_WIDE) == []

    page.locator(".wb-lesson button", has_text="show the working").first.click()
    page.wait_for_timeout(300)
    page.locator(
        ".wb-lesson button", has_text="hide the working"
    ).first.scroll_into_view_if_needed()
    desk.screenshot(f"{path.stem}-4-working")
    for number in range(page.locator(".wb-exercise").count()):
        exercise = page.locator(".wb-exercise").nth(number)
        exercise.scroll_into_view_if_needed()
        if number == 0:
            desk.screenshot(f"{path.stem}-5-exercises")
        hint = exercise.locator("button", has_text="hint 1")
        if hint.count() and hint.first.is_visible():
            hint.first.click()
    exercise = page.locator(".wb-exercise").last
    exercise.evaluate("e => e.scrollIntoView({block: 'end'})")
    page.wait_for_timeout(400)
    desk.screenshot(f"{path.stem}-6-last-exercise")
    page.locator(".jp-Cell").last.scroll_into_view_if_needed()
    page.wait_for_timeout(400)
    desk.screenshot(f"{path.stem}-7-end")
    assert page.locator(".wb-refusal", has_text="internal fault").count() == 0
    assert page.evaluate(SCROLLS_SIDEWAYS) == []

    page.locator(".wb-lesson button", has_text="large text").first.click()
    page.wait_for_selector(".wb-lesson.wb-big")
    bring(page, ".wb-lesson")
    desk.at_rest(lambda: shown(page))
    desk.screenshot(f"{path.stem}-8-projector")
    assert page.evaluate(TOO_WIDE) == []
    assert desk.errors == []


def test_start_page_shows_the_course_and_follows_progress(desk: Desk) -> None:
    desk.open_notebook("start.ipynb")
    desk.focus_on_output()
    desk.run_all_cells()
    page = desk.page
    table = page.locator(".jp-OutputArea-output table")
    table.wait_for()
    assert table.locator("tbody tr").count() == len(LESSONS)
    desk.screenshot("start")
    table.locator("a", has_text="What the craft asks for").click()
    page.wait_for_function(
        "() => window.jupyterapp.shell.currentWidget.context.path.startsWith('01_')"
    )
    assert desk.errors == []
