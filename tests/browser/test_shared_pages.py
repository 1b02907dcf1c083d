"""Shared pages in a real browser: from the code on the projector to a live figure, on a phone, in the light and the dark."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.desk import ANSWER_S, START_S
from tests.browser.test_accessibility import serious
from tests.pages.visiting import Shared, sharing

pytestmark = [pytest.mark.browser, pytest.mark.long]
WAIT = {"timeout": START_S * 1000}


@pytest.fixture(scope="module")
def shared(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shared]:
    folder = tmp_path_factory.mktemp("shared") / "club"
    folder.mkdir()
    with sharing(folder, "--board", "--visitors", "4", port=8950) as server:
        yield server


def fits(page: Any) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert serious(page, "body") == []


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [(390, 844), (1920, 1080)], ids=str)
def test_door_and_projector_fit_and_axe_finds_nothing_serious(
    shared: Shared, browser: Any, size: tuple[int, int], theme: str
) -> None:
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme=theme
    )
    page = context.new_page()
    page.goto(f"{shared.address}/?club={shared.club}")
    fits(page)
    page.get_by_role("button", name="I am new here").click()
    page.wait_for_selector("p.word")
    fits(page)
    page.get_by_role("textbox", name="Your word").fill("no such word")
    page.get_by_role("button", name="Come back").click()
    assert "not known here" in page.get_by_role("alert").inner_text()
    for address in (shared.projector, shared.projector.replace("projector?", "projector/board?")):
        page.goto(address)
        fits(page)
    context.close()


def test_a_visitor_is_live_and_is_told_when_the_page_has_ended(
    shared: Shared, browser: Any
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page, asked, errors = context.new_page(), list[str](), list[str]()
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("response", lambda answer: answer.status >= 400 and errors.append(answer.url))
    page.goto(f"{shared.address}/?club={shared.club}")
    page.get_by_role("button", name="I am new here").click()
    page.get_by_role("link", name="Open the workbook").click()
    page.goto(f"{shared.address}/voila/render/02_series_parallel.ipynb")
    page.wait_for_selector(".wb svg", state="attached", **WAIT)
    page.wait_for_selector("#waiting", state="detached", **WAIT)
    before = page.locator(".wb").first.inner_text()
    knob = page.locator(".wb .noUi-handle").first
    knob.focus()
    knob.press("ArrowRight")
    page.wait_for_function(
        "(before) => document.querySelector('.wb').innerText !== before",
        arg=before,
        timeout=ANSWER_S * 1000,
    )
    away = [url for url in asked if not url.startswith((shared.address, "data:", "blob:"))]
    assert (away, errors) == ([], [])
    for book in ("01_craft_asks", "sizing_bench"):
        other = context.new_page()
        other.goto(f"{shared.address}/voila/render/{book}.ipynb")
        other.wait_for_selector(".wb svg", state="attached", **WAIT)
    for_own_copies = other.locator(".wb-own-copy")
    assert for_own_copies.count() == 2  # the path of a table, files from other folders
    assert not any(part.is_visible() for part in for_own_copies.all())
    page.bring_to_front()
    page.wait_for_selector("#ended", state="visible", timeout=ANSWER_S * 1000)
    assert "This page has ended" in page.locator("#ended").inner_text()
    context.close()
