"""Thirty presses of a key at thirty a second: none is lost, in JupyterLab and as a page."""

from __future__ import annotations

from typing import Any

import pytest

from tests.benchmarks.bench_live import burst
from tests.browser.desk import Desk

CURVES = "() => [...document.querySelectorAll('.bqplot path, .wb-finding')].map(e => e.getAttribute('d') ?? e.innerText)"


def settled(page: Any) -> list[str]:
    """Every curve, and what is said under it, once nothing moves."""
    page.wait_for_timeout(1500)
    return list(page.evaluate(CURVES))


pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.mark.parametrize(
    "book", ["01_craft_asks.ipynb", "07_landing_voltage.ipynb", "sizing_bench.ipynb"]
)
@pytest.mark.parametrize("as_page", [False, True], ids=["in JupyterLab", "as a page"])
def test_no_press_is_lost_and_the_newest_wins(desk: Desk, book: str, as_page: bool) -> None:
    """`burst` raises where the box does not come to show the place of the last press; every figure is of that place."""
    page = desk.page
    if as_page:
        page.goto(desk.lab.page_address(book))
    else:
        desk.open_notebook(book)
        desk.focus_on_output()
        desk.run_all_cells()
    page.wait_for_selector(".bqplot path, .wb-picture svg", state="attached")
    page.wait_for_timeout(2500)
    knob = page.locator(".noUi-handle").first
    knob.scroll_into_view_if_needed()
    knob.focus()
    for _ in range(3):
        burst(page, knob)
    shown = settled(page)
    for key in ("ArrowLeft", "ArrowRight"):
        knob.press(key)
        page.wait_for_timeout(1500)
    assert settled(page) == shown, "it is what one press shows that comes to the same place"
    assert desk.errors == []
