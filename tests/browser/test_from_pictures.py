"""From a picture to a table in use, and from a graph to a cell file: by mouse and by keys, with no file edited by hand."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.desk import Desk
from tests.lessons.test_from_pictures import from_drawn
from tests.pictures.test_curves import CURRENTS_A, truth
from workbook.files.cell_file import read_cell
from workbook.files.thrust_table_file import read_thrust_tables
from workbook.pictures.recognise import can_read
from workbook.pictures.trace import can_follow

pytestmark = [
    pytest.mark.browser,
    pytest.mark.long,
    pytest.mark.skipif(not (can_read() and can_follow()), reason="the extra 'picture' is lacking"),
]
TRACER = ".wb-tracer"


def opened(desk: Desk) -> Any:
    desk.page.set_viewport_size({"width": 1366, "height": 1700})
    desk.open_notebook("from_pictures.ipynb")
    desk.run_all_cells()
    desk.page.wait_for_selector(TRACER)
    return desk.page


def typed(page: Any, title: str, value: float) -> None:
    """Type a number into the box of a control of the tracer."""
    box = page.locator(f'{TRACER} input[title^="{title}"]').first
    box.fill(f"{value:g}")
    box.press("Enter")


def chosen(page: Any, label: str, option: str) -> None:
    row = page.locator(f"{TRACER} .widget-dropdown", has_text=label).first
    row.locator("select").select_option(label=option)


def test_a_table_is_read_corrected_and_used(desk: Desk) -> None:
    page = opened(desk)
    page.get_by_role("button", name="read the text").click()
    page.wait_for_selector("text=12 rows of 7 columns are read", timeout=90_000)
    desk.screenshot("table-read")
    marked = page.locator(".wb-doubt input")
    lost = page.locator('.wb-doubt input[title*="nothing was read here"]')
    assert lost.count() == 1
    lost.fill("12.25")  # 270.1 W / 22.05 V: the cell that the practice picture has lost
    lost.press("Enter")
    for _ in range(10):
        desk.wait_until_idle()
        page.wait_for_timeout(300)
        if not marked.count():
            break
        button = page.get_by_role("button", name="it is right")
        button.focus()
        page.keyboard.press("Enter")
    page.get_by_role("button", name="use this table in my design").click()
    page.wait_for_selector("text=Saved as tables/mine_my_motor.csv", timeout=20_000)
    desk.screenshot("table-used")
    (table,) = read_thrust_tables(desk.lab.folder / "tables" / "mine_my_motor.csv").tables
    assert table.top_thrust_gf == 2400.0
    assert "mine_my_motor.csv" in (desk.lab.folder / "designs" / "mine.toml").read_text("utf-8")
    assert desk.errors == []


def test_a_cell_is_traced_by_mouse_and_by_keys_and_saved(desk: Desk) -> None:
    page = opened(desk)
    graph = from_drawn()
    image = page.locator(f"{TRACER} .bqplot image").first
    image.scroll_into_view_if_needed()

    def click(ah: float, volts: float) -> None:
        box = image.bounding_box()
        x, y = graph.at(ah, volts)
        page.mouse.click(
            box["x"] + (x + 0.5) * box["width"] / graph.size[0],
            box["y"] + (y + 0.5) * box["height"] / graph.size[1],
        )

    def by_keys(ah: float, volts: float) -> None:
        x, y = graph.at(ah, volts)
        typed(page, "from the left", round(x, 1))
        typed(page, "from the top", round(y, 1))
        page.get_by_role("button", name="set the point here").focus()
        page.keyboard.press("Enter")

    def until_points(count: int) -> None:
        """Wait until the page lists so many points of the kind that is chosen, and has come to rest."""
        page.wait_for_function(
            f"""() => [...document.querySelectorAll('{TRACER} .widget-dropdown')].some(row =>
                row.querySelector('label')?.textContent.trim() === 'point' && row.querySelectorAll('option').length === {count + 1})"""
        )
        desk.wait_until_idle()
        page.wait_for_timeout(200)

    for axis, places in (
        ("the axis from left to right", ((0.0, 0.0), (5000.0, 5.0))),
        ("the voltage axis", ((2.5, 2.5), (4.0, 4.0))),
    ):
        chosen(page, "a click is a point of", axis)
        until_points(0)
        for left, (value, at) in zip((1, 0), places, strict=True):  # after two it goes on by itself
            typed(page, "its printed value", value)
            desk.wait_until_idle()
            click(*((at, 2.5) if "left to right" in axis else (0.0, at)))
            until_points(left)
    for n, (set_point, amps, (charge, volts)) in enumerate(
        zip((click, by_keys), CURRENTS_A, truth(), strict=False)
    ):
        if n:
            page.get_by_role("button", name="another curve").click()
        until_points(0)
        typed(page, "its current", amps)
        desk.wait_until_idle()
        page.wait_for_timeout(300)
        for count, k in enumerate((0, 40, 90, 112, 119), 1):
            set_point(charge[k], volts[k])
            until_points(count)
    desk.screenshot("graph-clicked")
    page.wait_for_selector("text=2 curves are read", timeout=20_000)
    desk.screenshot("graph-traced")
    save = page.get_by_role("button", name="save as a cell of my own")
    save.click()
    page.wait_for_selector("text=press save once more")
    save.click()
    page.wait_for_selector('.wb-fitter .wb-finding:has-text("Saved as")', timeout=20_000)
    (path,) = (desk.lab.folder / "cells").glob("*.toml")
    cell = read_cell(path)
    assert [curve.current_a for curve in cell.curves] == list(CURRENTS_A[:2])
    # bqplot says this once when a point is added to a mark that can be dragged, and draws it right at once after
    assert [line for line in desk.errors if "translate(undefined" not in line] == []
