"""From the start page to the first right exercise without help: by keyboard, by touch, and in JupyterLab."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.desk import ANSWER_S, IDLE, PHONE, START_S, Desk
from workbook.exercises.exercise import NumberExercise
from workbook.exercises.progress import Progress
from workbook.lessons.course import COURSE

pytestmark = [pytest.mark.browser, pytest.mark.long]
FIRST = COURSE[0]
MOST_TABS = 60
"""So often one presses Tab at most to get from one thing to the next that one wants."""
FOCUS = "() => document.activeElement.outerHTML.slice(0, 300)"
FOCUS_IS_SEEN = """() => {
  const at = document.activeElement, look = getComputedStyle(at);
  return !at.closest('.wb') || (look.outlineStyle !== 'none' && parseFloat(look.outlineWidth) >= 2);
}"""


def answer(desk: Desk) -> str:
    """The answer to the first exercise, for the numbers that this learner was given."""
    exercise = FIRST.exercises[0]
    assert isinstance(exercise, NumberExercise)
    return f"{exercise.drawn(Progress(desk.lab.folder).seed).expected:.1f}"


def tab_to(page: Any, selector: str, key: str = "Tab") -> None:
    """Press Tab until the first of such things has the focus."""
    for _ in range(MOST_TABS + 1):
        if page.evaluate("s => document.activeElement === document.querySelector(s)", selector):
            return
        page.keyboard.press(key)
        assert page.evaluate(FOCUS_IS_SEEN), page.evaluate(FOCUS)
    at = page.evaluate(FOCUS)
    raise AssertionError(
        f"{selector} is not reached by {MOST_TABS} times Tab; the focus is at {at}"
    )


def begin(page: Any, desk: Desk) -> None:
    page.goto(desk.lab.page_address("start.ipynb"), timeout=START_S * 1000)
    _settled(page)
    page.wait_for_selector("main table")


def _settled(page: Any) -> None:
    page.wait_for_selector("#waiting", state="detached", timeout=START_S * 1000)


def praised(page: Any) -> None:
    # a busy page reports Enter before what was typed: "not answered yet" stands there until that comes
    found = page.locator(".wb-exercise .wb-verdict", has_text="✓").first
    found.wait_for(timeout=ANSWER_S * 1000)
    assert found.evaluate("e => e.getBoundingClientRect().top < innerHeight"), "out of sight"


def test_the_reply_to_enter_comes_into_view(desk: Desk) -> None:
    page = desk.page
    page.goto(desk.lab.page_address(FIRST.notebook), timeout=START_S * 1000)
    _settled(page)
    box = page.locator(".wb-exercise input").first
    box.fill(answer(desk))
    box.evaluate("e => scrollBy(0, e.getBoundingClientRect().bottom - innerHeight + 4)")
    assert box.evaluate("e => e.getBoundingClientRect().bottom > innerHeight - 12")
    page.keyboard.press("Enter")
    praised(page)


def test_by_keyboard_alone(desk: Desk) -> None:
    page = desk.page
    begin(page, desk)
    tab_to(page, f"main a[href='{FIRST.notebook}']")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/{FIRST.notebook}*")
    _settled(page)
    page.wait_for_selector(".wb-exercise input")
    tab_to(page, ".wb-exercise input")
    page.keyboard.type(answer(desk))
    page.keyboard.press("Enter")
    praised(page)
    desk.screenshot("beginner-keyboard")


def test_by_touch_on_a_phone(desk: Desk, browser: Any) -> None:
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.set_default_timeout(ANSWER_S * 1000)
    begin(page, desk)
    page.locator(f"main a[href='{FIRST.notebook}']").first.tap()
    page.wait_for_url(f"**/{FIRST.notebook}*")
    _settled(page)
    exercise = page.locator(".wb-exercise").first
    exercise.locator("input").tap()
    page.keyboard.type(answer(desk))
    exercise.locator("button", has_text="check").tap()
    praised(page)
    desk.shots.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=desk.shots / "beginner-touch.png")
    context.close()


def _run_until(desk: Desk, selector: str) -> None:
    """Press Shift + Enter, as the page says, from cell to cell until something is shown."""
    while desk.page.locator(selector).count() == 0:
        desk.page.keyboard.press("Shift+Enter")
        desk.page.wait_for_timeout(400)
        desk.wait_until_idle()
        desk.page.wait_for_timeout(600)


def test_by_keyboard_in_jupyterlab(desk: Desk) -> None:
    page = desk.page
    desk.open_notebook("start.ipynb")
    in_table = f".jp-OutputArea-output a[href*='{FIRST.notebook}']"
    _run_until(desk, in_table)
    tab_to(page, in_table, "Shift+Tab")  # the next cell is chosen; the table stands before it
    page.keyboard.press("Enter")
    page.wait_for_function(
        f"() => window.jupyterapp.shell.currentWidget?.context?.path === '{FIRST.notebook}'"
    )
    page.wait_for_selector(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-CodeCell")
    desk.page.wait_for_function(IDLE, timeout=START_S * 1000)
    _run_until(desk, ".wb-exercise input")
    tab_to(page, ".wb-exercise input", "Shift+Tab")
    page.keyboard.type(answer(desk))
    page.keyboard.press("Enter")
    praised(page)
    desk.screenshot("beginner-jupyterlab")
