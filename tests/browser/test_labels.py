"""Labels of every chart and picture: none on another, none cut off, at the ends of the first slider too."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.desk import Desk
from tests.browser.test_every_notebook import BOOKS
from tests.browser.test_pages import open_page

pytestmark = pytest.mark.browser
FOUND = Path(__file__).with_name("labels.js").read_text("utf-8")
LESSONS = [path for path in BOOKS if path.stem[0].isdigit() or path.stem == "sizing_bench"]
WINDOWS = {390: 844, 1366: 768, 1920: 1080}


def labels_in_each_others_way(desk: Desk) -> list[str]:
    """What is on the page when all of it has been looked at: a chart out of view is laid out when it comes into it."""
    page = desk.page
    for chart in page.locator(".wb .bqplot:visible").all():
        chart.scroll_into_view_if_needed()
        page.wait_for_timeout(450)  # it waits 300 ms itself
    page.wait_for_timeout(500)
    return list(page.evaluate(FOUND))


@pytest.mark.long
@pytest.mark.parametrize("width", WINDOWS)
@pytest.mark.parametrize("path", LESSONS, ids=lambda p: p.stem)
def test_no_label_lies_on_another(desk: Desk, path: Path, width: int) -> None:
    page = desk.page
    page.set_viewport_size({"width": width, "height": WINDOWS[width]})
    open_page(desk, path.name)
    slider = page.locator(".wb .noUi-handle").first
    for key in ("", "Home", "End"):
        if key:
            slider.focus()
            page.keyboard.press(key)
            page.wait_for_timeout(1500)
        desk.eventually(lambda: _none(labels_in_each_others_way(desk)))


def _none(found: list[str]) -> None:
    assert found == []
