"""No serious accessibility fault in the widgets' own markup, by axe-core in the real page.

axe-core (Deque Systems) names its rules after the Web Content Accessibility Guidelines. What JupyterLab and
ipywidgets draw themselves, and this project cannot mend, is listed below with its reason.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.browser.desk import NOTEBOOKS, Desk
from tests.browser.test_every_notebook import BOOKS
from tests.browser.test_pages import open_page

pytestmark = [pytest.mark.browser, pytest.mark.long]

GUIDELINES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
"""Levels A and AA. Left out is axe's own advice beyond them, such as that a title alone should not name
a box: the name in sight belongs to the slider beside it."""

CHANGE_THEME = "theme => window.jupyterapp.commands.execute('apputils:change-theme', { theme })"
NOT_OURS = {
    "aria-input-field-name": "the handle of the slider library inside ipywidgets has no name of its own; "
    "the typed box beside it has one",
}


def serious(page: Any, context: str) -> list[dict[str, Any]]:
    """The serious faults in a part of the page, each with its first places."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    options = {"resultTypes": ["violations"], "runOnly": GUIDELINES}
    found = axe.run(page, context=context, options=options).response["violations"]
    return [
        {"rule": v["id"], "impact": v["impact"], "at": [n["html"][:200] for n in v["nodes"][:3]]}
        for v in found
        if v["impact"] in ("serious", "critical") and v["id"] not in NOT_OURS
    ]


@pytest.mark.parametrize(
    "name",
    [
        "sizing_bench.ipynb",
        "01_craft_asks.ipynb",
        "08_margin_budget.ipynb",
        "14_what_flight_said.ipynb",
    ],
)
def test_axe_finds_nothing_serious_in_jupyterlab_light_or_dark(desk: Desk, name: str) -> None:
    assert (NOTEBOOKS / name).exists()
    desk.open_notebook(name)
    desk.run_all_cells()
    desk.page.wait_for_selector(".wb", state="attached")
    # a figure takes its size where it is seen
    desk.page.locator(".wb").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    for theme in ("JupyterLab Light", "JupyterLab Dark"):
        desk.page.evaluate(CHANGE_THEME, theme)
        desk.page.wait_for_timeout(2000)
        desk.screenshot(f"lab-{Path(name).stem}-{theme[-4:].strip()}")
        found = serious(desk.page, ".wb")
        assert found == [], theme + json.dumps(found, indent=1)


@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_axe_finds_nothing_serious_on_a_page_light_or_dark(desk: Desk, path: Path) -> None:
    open_page(desk, path.name)
    desk.page.wait_for_timeout(1500)
    for theme in ("light", "dark"):
        desk.page.emulate_media(color_scheme=theme)
        desk.page.wait_for_timeout(300)
        desk.screenshot(f"page-{path.stem}-{theme}")
        found = serious(desk.page, "body")
        assert found == [], theme + json.dumps(found, indent=1)
