"""Every notebook opens in JupyterLab, runs, and shows its live figure.

For a change three do: `test_pages.py` runs every notebook as its page, and no notebook is JupyterLab's by itself.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.desk import NOTEBOOKS, Desk

pytestmark = pytest.mark.browser
SHOWN = {
    "start": ".jp-OutputArea-output table",
    "my_craft": ".wb-my-craft .wb-lead",
    "club_designs": ".wb-club-designs .wb-lead",
}
"""What a page has beside a live picture, where it has none."""
BOOKS = sorted(path for path in NOTEBOOKS.glob("*.ipynb") if path.stem != "glossary")
FOR_A_CHANGE = ("start", "07_landing_voltage", "sizing_bench")


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(
            path, id=path.stem, marks=[] if path.stem in FOR_A_CHANGE else pytest.mark.long
        )
        for path in BOOKS
    ],
)
def test_it_opens_runs_and_shows_its_figure(desk: Desk, path: Path) -> None:
    desk.open_notebook(path.name)
    desk.run_all_cells()
    page = desk.page
    page.wait_for_selector(SHOWN.get(path.stem, ".wb svg"), state="attached")
    assert page.locator(".wb-refusal", has_text="internal fault").count() == 0
    assert desk.errors == []
