"""The page of arriving cells in real JupyterLab: a slider moved, rows typed, and what was measured kept in the design."""

from __future__ import annotations

import pytest

from tests.browser.desk import Desk
from workbook.files.design_file import read_design

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_a_sample_is_planned_a_form_written_and_a_lot_counted_on(desk: Desk) -> None:
    page = desk.page
    desk.open_notebook("arriving_cells.ipynb")
    desk.run_all_cells()
    page.wait_for_selector(".wb-lot .wb-verdict")
    box = page.locator('.wb-sample input[title^="cells tested"]')
    box.fill("5")
    box.press("Enter")
    page.wait_for_selector("text=Test 10 to find it")
    page.get_by_role("button", name="write the form").click()
    page.wait_for_selector("text=Written: arriving_cells.html")
    assert (desk.lab.folder / "arriving_cells.html").exists()
    desk.screenshot("arriving-sample")
    row = page.locator(".wb-lot .widget-dropdown", has_text="measured").first
    row.locator("select").select_option(label="doubtful batch (demo)")
    page.wait_for_selector("text=6 of the 26 tested must not be built in")
    desk.screenshot("arriving-lot")
    row.locator("select").select_option(label="good batch (demo)")
    page.wait_for_selector("text=every cell was tested")
    page.get_by_role("button", name="count on these cells").click()
    page.wait_for_selector("text=It counts on capacity as measured")
    kept = read_design(desk.lab.folder / "designs" / "mine.toml").part
    assert (
        kept.pack.cell_capacity_ah == 4.65
    )  # the weakest of 6 groups of 3: 13.975 Ah / 3, rounded down
    assert desk.errors == []


def test_the_bench_shows_ounces_at_a_switch_and_keeps_what_was_set(desk: Desk) -> None:
    page = desk.page
    desk.open_notebook("sizing_bench.ipynb")
    desk.run_all_cells()
    page.wait_for_selector(".wb-bench .wb-figures")
    box = page.locator('.wb-bench input[title^="payload, g"]')
    box.fill("700")
    box.press("Enter")
    page.wait_for_selector(".wb-bench .wb-figures >> text=4206 g")
    row = page.locator(".wb-bench .widget-dropdown", has_text="shown in").first
    row.locator("select").select_option(label="oz, in")
    page.wait_for_selector('.wb-bench input[title^="payload, oz"]')
    # 700 / 28.349523 = 24.692 oz; 4206 / 28.349523 = 148.4 oz
    assert page.locator('.wb-bench input[title^="payload, oz"]').input_value() == "24.692"
    page.wait_for_selector(".wb-bench .wb-figures >> text=148.4 oz")
    desk.screenshot("bench-ounces")
    assert desk.errors == []
