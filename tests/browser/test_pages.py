"""Every notebook as a page: live without a key, nothing from another machine, nothing cut at any size."""

from __future__ import annotations

import json
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from tests.browser.desk import ANSWER_S, START_S, Desk, Lab
from tests.browser.test_every_notebook import BOOKS, SHOWN
from tests.conftest import NOTEBOOKS
from workbook.pages.page import LARGEST_MESSAGE_BYTES

pytestmark = pytest.mark.browser
SIZES = ((390, 844), (768, 1024), (1366, 768), (1920, 1080))


def kernels(lab: Lab) -> list[dict[str, Any]]:
    """The kernels that run, as the server says."""
    with urllib.request.urlopen(f"{lab.url}/api/kernels?token={lab.token}", timeout=10) as answer:
        return list(json.load(answer))


def open_page(desk: Desk, name: str) -> list[str]:
    """Open a page and wait until its figure stands there; returns what it asked of other machines."""
    page, asked = desk.page, list[str]()
    page.on("request", lambda request: asked.append(request.url))
    page.goto(desk.lab.page_address(name), timeout=START_S * 1000)
    page.wait_for_selector("#waiting", state="detached", timeout=START_S * 1000)
    shown = SHOWN.get(Path(name).stem, ".wb svg").replace(".jp-OutputArea-output table", "table")
    page.wait_for_selector(shown, state="attached", timeout=ANSWER_S * 1000)
    home = desk.lab.url.partition("://")[2]
    return [
        url for url in asked if f"//{home}/" not in url and not url.startswith(("data:", "blob:"))
    ]


@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_a_page_is_live_without_a_key_and_asks_no_other_machine(desk: Desk, path: Path) -> None:
    assert open_page(desk, path.name) == []
    page = desk.page
    assert page.locator("text=internal fault").count() == 0
    assert page.locator(".jp-InputArea-editor").count() == 0
    assert page.locator(".jp-RenderedText[data-mime-type*=stderr]").count() == 0
    assert desk.errors == []


@pytest.mark.parametrize("name", ["07_landing_voltage.ipynb", "sizing_bench.ipynb"])
def test_a_slider_moves_what_a_page_says(desk: Desk, name: str) -> None:
    open_page(desk, name)
    page = desk.page
    before = page.locator(".wb").first.inner_text()
    page.locator(".wb .noUi-handle").first.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")

    def differs() -> None:
        assert page.locator(".wb").first.inner_text() != before

    desk.eventually(differs)


def test_the_way_leads_on_and_to_the_notebook_as_code(desk: Desk) -> None:
    open_page(desk, "start.ipynb")
    page = desk.page
    page.locator("header .after a").click()
    page.wait_for_selector("#waiting", state="detached", timeout=START_S * 1000)
    assert page.locator("header nav").inner_text().startswith("Start page")
    assert page.locator("h1").inner_text().endswith("What the craft asks for")
    page.locator("header .as-code").click()
    page.wait_for_selector(".jp-NotebookPanel .jp-Cell", timeout=START_S * 1000)


def test_a_page_that_is_left_ends_its_kernel(desk: Desk) -> None:
    open_page(desk, "01_craft_asks.ipynb")
    config = desk.page.locator("#jupyter-config-data").inner_text()
    kernel = json.loads(config)["kernelId"]
    assert kernel in [one["id"] for one in kernels(desk.lab)]
    desk.page.goto("about:blank")

    def ended() -> None:
        assert kernel not in [one["id"] for one in kernels(desk.lab)]

    desk.eventually(ended)


def test_a_file_too_large_for_a_message_is_refused_and_the_next_is_taken(
    desk: Desk, tmp_path: Path
) -> None:
    open_page(desk, "sizing_bench.ipynb")
    page, told = desk.page, list[str]()
    page.on("dialog", lambda dialog: (told.append(dialog.message), dialog.accept()))
    button = page.get_by_role("button", name="choose a file")
    large, sent = tmp_path / "large.csv", tmp_path / "sent.csv"
    large.write_bytes(bytes(round(0.9 * LARGEST_MESSAGE_BYTES) + 1))
    sent.write_bytes(bytes(12_000_000))  # more than Tornado takes if it is not told otherwise
    replies = {
        large: "no file yet",
        sent: "sent.csv: 12.0 MB; at most 5.0 MB",
        NOTEBOOKS / "tables" / "survey_motor.csv": "survey_motor.csv, 2",
    }
    for chosen, reply in replies.items():
        with page.expect_file_chooser() as box:
            button.click()
        box.value.set_files(chosen)
        page.wait_for_selector(f"text={reply}", timeout=ANSWER_S * 1000)
    assert told == [
        "large.csv is too large for a page: 90 MB at most. Nothing was sent. Type its path instead."
    ]


MINUTE_MS = 61_000


@pytest.mark.parametrize("missing", ["scripts", "kernel"])
def test_a_page_whose_figure_does_not_come_says_what_to_do(desk: Desk, missing: str) -> None:
    page = desk.page
    page.clock.install()
    if missing == "scripts":
        page.route("**/voila.js", lambda route: route.abort())
    else:
        page.route_web_socket("**/channels*", lambda _: None)  # opens, and nothing ever answers
    address = desk.lab.page_address("01_craft_asks.ipynb")
    page.goto(address, timeout=START_S * 1000, wait_until="domcontentloaded")
    page.wait_for_selector("footer", state="attached", timeout=START_S * 1000)
    assert page.locator("#late").count() == 0
    page.clock.fast_forward(MINUTE_MS)
    late = page.wait_for_selector("#late", timeout=ANSWER_S * 1000)
    assert "Reload the page" in late.inner_text()
    assert "terminal" in late.inner_text()
    assert page.locator(".jupyter-widgets").count() == 0
    desk.screenshot(f"late_{missing}")
    desk.errors.clear()


@pytest.mark.parametrize("name", ["01_craft_asks.ipynb", "start.ipynb"])
def test_a_page_that_is_there_says_nothing_of_it(desk: Desk, name: str) -> None:
    desk.page.clock.install()
    open_page(desk, name)
    desk.page.clock.fast_forward(MINUTE_MS)
    assert desk.page.locator("#late").count() == 0


CUT = """() => [...document.querySelectorAll(".wb select")].filter(list => list.offsetParent).filter(list => {
  const look = getComputedStyle(list), pen = document.createElement("canvas").getContext("2d");
  pen.font = look.font;
  const room = list.clientWidth - parseFloat(look.paddingLeft) - 20;  // of the arrow
  const panel = list.closest(".jupyter-widgets-Collapse-contents, .wb").getBoundingClientRect();
  return pen.measureText(list.selectedOptions[0]?.text ?? "").width > room + 1
    || list.getBoundingClientRect().right > panel.right + 1;
}).map(list => list.selectedOptions[0].text)"""
"""Lists whose chosen entry lies under their arrow, or that stick out of their panel."""


@pytest.mark.parametrize(
    ("name", "width"), [("my_craft", 390), ("my_craft", 1366), ("12_build_sheet", 390)]
)
def test_what_is_chosen_in_a_list_can_be_read_whole(desk: Desk, name: str, width: int) -> None:
    desk.page.set_viewport_size({"width": width, "height": 844})
    open_page(desk, f"{name}.ipynb")

    def whole() -> None:
        assert desk.page.evaluate(CUT) == []

    desk.eventually(whole)
    assert desk.page.locator(".wb select:visible").count() > 2


@pytest.mark.long
@pytest.mark.parametrize("path", BOOKS, ids=lambda p: p.stem)
def test_nothing_of_a_page_is_cut_at_any_size(desk: Desk, path: Path) -> None:
    open_page(desk, path.name)
    for width, height in SIZES:
        desk.page.set_viewport_size({"width": width, "height": height})

        def fits(width: int = width) -> None:
            wide = desk.page.evaluate("() => document.documentElement.scrollWidth")
            assert wide <= width, f"{wide} px wide in a window of {width}"

        desk.eventually(fits)
