"""Lessons 8 and 13 in a real page: every kind of control by mouse and by keyboard, against the computation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from tests.browser.desk import Desk
from tests.browser.test_lessons import open_and_run
from tests.conftest import DESIGNS
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.lessons import margin_budget
from workbook.sheet.text import result_text
from workbook.sizing.budget import budget
from workbook.sizing.budget_lines import STANDARD_LINES, BudgetLine, Effect, settle
from workbook.sizing.compare import compare
from workbook.sizing.size import size
from workbook.sizing.sweep import Constraints, Sweep, sweep

pytestmark = [pytest.mark.browser, pytest.mark.long]

DESIGN = read_design(DESIGNS / "survey_six.toml").design
DRAWS = next(iter(margin_budget.DRAWS.values()))  # what the lesson draws at first


def choose(desk: Desk, label: str, option: str) -> None:
    """An entry of one of the lesson's lists, by the beginnings of both."""
    lists = desk.page.locator(".wb-lesson .widget-dropdown", has_text=label)
    desk.choose(lists.first.locator("select"), option)


def until(page: Any, text: str) -> None:
    """Wait until the lesson says so."""
    page.wait_for_function(
        "text => document.querySelector('.wb-lesson').innerText.replace(/\\s+/g, ' ').includes(text)",
        arg=text,
    )


def until_expected(page: Any, lines: Sequence[BudgetLine]) -> None:
    """Wait until lesson 8 shows what these lines leave as expected."""
    time = budget(DESIGN, lines, draws=DRAWS).reading("endurance_min")
    until(page, f"As expected the lines leave {result_text('endurance_min', time.expected)}")


def until_chosen(page: Any, pack: str) -> None:
    """Wait until the lesson's verdict is on that pack."""
    page.wait_for_function(
        "name => document.querySelector('.wb-lesson .wb-lead').textContent === name", arg=pack
    )


def test_allowances_are_typed_settled_added_and_cancelled(desk: Desk) -> None:
    page = open_and_run(desk, "08_margin_budget.ipynb")
    wind = page.locator('.wb-lesson input[title^="wind and gusts, expected"]')
    if wind.count() == 0:
        wind = page.locator('.wb-lesson [title^="wind and gusts, expected"] input')
    wind.first.click()
    wind.first.fill("12")
    page.keyboard.press("Tab")
    lines = tuple(
        replace(line, expected=12.0) if line.key == "wind" else line for line in STANDARD_LINES
    )
    until_expected(page, lines)
    time = budget(DESIGN, lines, draws=DRAWS).reading("endurance_min")
    until(page, f"95 of 100 last {result_text('endurance_p05_min', time.p05)}")
    assert page.evaluate("() => document.activeElement.tagName") == "INPUT", "Tab goes on"

    for choice, value, words in (("measured", None, "measured, as expected"), ("taken", 0.0, "taken out")):  # fmt: skip
        choose(desk, "suppose you settle", "wind")
        choose(desk, "by", choice)
        then = budget(DESIGN, settle(lines, "wind", value), draws=DRAWS)
        p05 = then.reading("endurance_min").p05
        met, last = result_text("met_pct", then.met_pct), result_text("endurance_p05_min", p05)
        until(page, f"With wind and gusts {words}: {met}, 95 of 100 last {last}")

    own = page.locator('.wb-lesson input[placeholder="a line of your own"]')
    own.scroll_into_view_if_needed()
    own.fill("camera heats up")
    page.keyboard.press("Tab")
    page.locator(".wb-lesson button", has_text="add this line").click()
    taken_out = page.locator('.wb-lesson [title^="take out camera heats up"]')
    taken_out.first.wait_for()
    effects = (Effect("power_factor"),)
    added = BudgetLine("own", "camera heats up", 0.0, 2.0, 5.0, "triangular", effects)
    until_expected(page, (*lines, added))
    page.locator(".wb-lesson").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    desk.screenshot("margin-own-line")
    page.locator(".wb-lesson button", has_text="✕").first.click()
    taken_out.wait_for(state="detached")
    until_expected(page, lines)

    cancel = page.locator('.wb-lesson button[title="stop this work"]')
    cancel.wait_for(state="hidden")
    choose(desk, "simulated flights", "262")
    cancel.wait_for(state="visible")
    desk.screenshot("margin-progress")
    cancel.click()
    page.locator(".wb-refusal", has_text="stopped before its end").wait_for()
    desk.screenshot("margin-cancelled")
    assert desk.errors == []


def candidates(transport: int) -> Sweep:
    """What the lesson tries at first: every cell, 1S to 12S, 1P to 8P."""
    cells = list(catalogue().values())
    limits = Constraints(transport=transport)
    return sweep(DESIGN, cells, range(1, 13), range(1, 9), constraints=limits)


def test_a_pack_is_chosen_by_click_by_list_and_compared(desk: Desk) -> None:
    found = candidates(transport=2)
    assert found.lightest is not None
    front = list(found.pareto().sorted_by("endurance_min"))
    longest = front[-1]
    group = (longest.cell_format, longest.kind)
    assert group == ("21700", "energy"), "the blue dots"
    assert longest.key != found.lightest.key

    page = open_and_run(desk, "13_choosing.ipynb")
    until_chosen(page, found.lightest.name)
    page.locator(".wb-lesson").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    dots = page.locator('.wb-lesson path.dot[style*="rgb(43, 55, 175)"]')
    desk.at_rest(lambda: str(dots.evaluate_all("els => els.map(e => e.getBoundingClientRect().y)")))
    boxes = [dots.nth(number).bounding_box() for number in range(dots.count())]
    box = min((b for b in boxes if b is not None), key=lambda b: b["y"])
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    until_chosen(page, longest.name)
    desk.screenshot("choosing-clicked")

    by_list = page.locator(".wb-lesson .widget-dropdown", has_text="choose on the front")
    for key, pack in (("Home", found.lightest.name), ("End", longest.name)):
        by_list.locator("select").focus()
        page.keyboard.press(key)
        page.keyboard.press("Tab")
        until_chosen(page, pack)
    choose(desk, "beside", "the design")
    between = compare(size(DESIGN), size(longest.design)).changes
    until(page, f"Changed: {'; '.join(change.text for change in between)}")
    choose(desk, "sort by", "flight time")
    until(page, "by flight time, longest first")
    choose(desk, "show", "rejected: all-up")
    until(page, f"of {len(found.rejected_by('all_up_mass'))} shown, by flight time")
    choose(desk, "transport", "up to 160")
    until(page, f"hold every limit {int(candidates(transport=1).survives.sum())}")
    choose(desk, "cells", "18650 energy")
    until(page, "tried 288")
    desk.screenshot("choosing-18650")
    assert desk.errors == []
