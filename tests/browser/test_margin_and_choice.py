"""Lessons 8 and 13 in a real page: every kind of control by mouse and by keyboard."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.desk import Desk
from tests.browser.test_lessons import open_and_run, shown, shown_after

pytestmark = [pytest.mark.browser, pytest.mark.long]


def choose(page: Any, label: str, option: str) -> None:
    """An entry of a list, by the beginnings of both. (Letters typed into a list are JupyterLab's keys.)"""
    box = page.locator(".wb-lesson .widget-dropdown", has_text=label).first.locator("select")
    page.locator(".wb-lesson").first.evaluate("e => e.scrollIntoView()")
    page.wait_for_timeout(300)
    box.scroll_into_view_if_needed()
    texts = box.evaluate("e => [...e.options].map(o => o.text)")
    box.select_option(
        index=next(i for i, t in enumerate(texts) if t.replace("\u00a0", " ").startswith(option))
    )
    picked = box.evaluate("e => e.options[e.selectedIndex].text").replace("\u00a0", " ")
    assert picked.startswith(option)


def until(page: Any, text: str) -> None:
    """Wait until the lesson says so."""
    page.wait_for_function(
        "text => document.querySelector('.wb-lesson').innerText.replace(/\\s+/g, ' ').includes(text)",
        arg=text,
    )


def test_allowances_are_typed_settled_added_and_cancelled(desk: Desk) -> None:
    page = open_and_run(desk, "08_margin_budget.ipynb")
    before = shown(page)
    wind = page.locator('.wb-lesson input[title^="wind and gusts, expected"]')
    if wind.count() == 0:
        wind = page.locator('.wb-lesson [title^="wind and gusts, expected"] input')
    wind.first.click()
    wind.first.fill("12")
    page.keyboard.press("Tab")
    typed = shown_after(page, before)
    assert typed != before
    assert page.evaluate("() => document.activeElement.tagName") == "INPUT", "Tab goes on"

    choose(page, "suppose you settle", "wind")
    until(page, "With wind and gusts measured, as expected")
    choose(page, "it is", "taken")
    until(page, "With wind and gusts taken out")

    own = page.locator('.wb-lesson input[placeholder="a line of your own"]')
    own.scroll_into_view_if_needed()
    own.fill("camera heats up")
    page.keyboard.press("Tab")
    page.locator(".wb-lesson button", has_text="add this line").click()
    page.locator('.wb-lesson [title^="take out camera heats up"]').first.wait_for()
    page.wait_for_timeout(1500)
    page.locator(".wb-lesson").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    page.wait_for_timeout(400)
    desk.screenshot("margin-own-line")
    page.locator(".wb-lesson button", has_text="✕").first.click()
    page.locator('.wb-lesson [title^="take out camera heats up"]').wait_for(state="detached")

    choose(page, "simulated flights", "262")
    cancel = page.locator(".wb-lesson button", has_text="cancel")
    cancel.wait_for(state="visible", timeout=20_000)
    desk.screenshot("margin-progress")
    cancel.click()
    page.locator(".wb-refusal", has_text="stopped before its end").wait_for(timeout=30_000)
    desk.screenshot("margin-cancelled")
    assert desk.errors == []


def test_a_pack_is_chosen_by_click_by_list_and_compared(desk: Desk) -> None:
    page = open_and_run(desk, "13_choosing.ipynb")
    verdict = page.locator(".wb-lesson .wb-lead").first
    first = verdict.inner_text()
    page.locator(".wb-lesson").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    page.wait_for_timeout(400)
    dot = page.locator('.wb-lesson path.dot[style*="rgb(43, 55, 175)"]').first
    box = dot.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_function(
        "was => document.querySelector('.wb-lesson .wb-lead').innerText !== was", arg=first
    )
    clicked = verdict.inner_text()
    desk.screenshot("choosing-clicked")

    before = shown(page)
    front = page.locator(".wb-lesson .widget-dropdown", has_text="choose on the front").locator(
        "select"
    )
    front.focus()
    page.keyboard.press("End")
    page.keyboard.press("Tab")
    listed = shown_after(page, before)
    assert verdict.inner_text() not in (first, clicked)
    choose(page, "beside", "the design")
    until(page, "What is changed")
    shown_after(page, listed)
    choose(page, "sort by", "flight time")
    until(page, "by flight time, longest first")
    choose(page, "show", "rejected: all-up")
    until(page, "rejected: all-up mass: 15 of")
    choose(page, "transport", "up to 160")
    until(page, "hold every limit 0")
    choose(page, "cells", "18650 energy")
    page.wait_for_timeout(1500)
    page.locator(".wb-lesson").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    page.wait_for_timeout(400)
    desk.screenshot("choosing-nothing-holds")
    assert desk.errors == []
