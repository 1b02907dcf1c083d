"""A page to send in Chromium, from disk with networking off: at four sizes, in light and dark, with its sliders."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.browser.desk import START_S, Desk
from tests.browser.test_accessibility import GUIDELINES
from tests.browser.test_pages import open_page
from tests.conftest import DESIGNS
from tests.sheet.test_live_page import few
from workbook.files.design_file import DesignFile, read_design
from workbook.quantities import RESULTS
from workbook.sheet import live_page
from workbook.sheet.live_page import Slider, figure_keys, sliders_of, write_live_page
from workbook.sheet.text import WORDS
from workbook.sizing.size import size

pytestmark = pytest.mark.browser

SIZES = ((390, 844), (768, 1024), (1366, 768), (1920, 1080))
SET = """values => {
  for (const [id, value] of Object.entries(values)) document.getElementById(id).value = value;
  document.getElementById("controls").dispatchEvent(new Event("input"));
  const text = id => document.getElementById(id).textContent;
  const figures = [...document.querySelectorAll("#figures > div")].map(
    box => [box.dataset.key, box.querySelector("dd").textContent]);
  return {word: document.querySelector("#verdict .word").textContent, said: text("said"),
          flights: text("flights"), figures: Object.fromEntries(figures)};
}"""
IN_VIEW = """() => ["verdict", "cell", "series", "parallel", "payload_g", "reserve_pct"].filter(id => {
  const box = document.getElementById(id).getBoundingClientRect();
  return box.top < 0 || box.top > innerHeight - 40 || box.left < 0 || box.right > innerWidth;
})"""


@dataclass(frozen=True)
class Sent:
    """A page that was written, with what it was made from."""

    path: Path
    file: DesignFile
    sliders: tuple[Slider, ...]


def _sent(folder: Path, name: str, sliders: Any) -> Sent:
    file = read_design(DESIGNS / f"{name}.toml")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(live_page, "sliders_of", sliders)
        write_live_page(file, folder / f"{name}.html", date="2026-05-01")
    return Sent(folder / f"{name}.html", file, sliders(file))


@pytest.fixture(scope="module", params=["survey_six", "survey_wing"])
def sent(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Sent:
    """A page of 32 places."""
    return _sent(tmp_path_factory.mktemp("sent"), request.param, few)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Sent:
    """A page as the command writes it."""
    return _sent(tmp_path_factory.mktemp("sent"), "survey_six", sliders_of)


@pytest.fixture
def opened(browser: Any) -> Iterator[Any]:
    """Opens a page from disk with networking off; nothing that it says to its console is passed over."""
    contexts, faults, own = [], [], set()
    asked: list[str] = []

    def show(path: Path, wide: int = 1366, high: int = 768, scheme: str = "light") -> Any:
        context = browser.new_context(
            viewport={"width": wide, "height": high}, color_scheme=scheme, offline=True
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: faults.append(message.text))
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.on("request", lambda request: asked.append(request.url))
        own.add(path.as_uri())
        page.goto(path.as_uri())
        page.wait_for_selector("#controls:not([hidden])")
        return page

    yield show
    for context in contexts:
        context.close()
    assert faults == []
    assert {url for url in asked if not url.startswith("data:")} == own


def check_places(page: Any, sent: Sent, tried: int) -> None:
    """Word, figures and sentences at places by chance, against `size` there."""
    chance, keys = np.random.default_rng(tried), figure_keys(size(sent.file.design))
    for _ in range(tried):
        places = [int(chance.integers(len(slider.values))) for slider in sent.sliders]
        shown = page.evaluate(SET, {s.key: k for s, k in zip(sent.sliders, places, strict=True)})
        changes = {s.key: s.values[k] for s, k in zip(sent.sliders, places, strict=True)}
        design = sent.file.design.changed(**changes)
        answer = size(design, notices=sent.file.notices_of(design))
        figures = json.loads(json.dumps(answer.as_dict()))
        assert shown["word"].endswith(f" {WORDS[answer.verdict]}"), changes
        texts = {
            key: "-" if figures[key] is None else RESULTS[key].text(figures[key]) for key in keys
        }
        assert shown["figures"] == texts, changes
        assert all(stop in shown["said"] for stop in answer.stops)
        assert shown["flights"] in ("", f"Flight time: {answer.flights_text}")
        assert shown["flights"] or not answer.kept


def test_twenty_places_show_what_size_says(opened: Any, sent: Sent) -> None:
    check_places(opened(sent.path), sent, 20)


@pytest.mark.long
def test_two_hundred_places_of_a_whole_page_show_what_size_says(opened: Any, whole: Sent) -> None:
    check_places(opened(whole.path), whole, 200)


@pytest.mark.parametrize("size_px", SIZES, ids=lambda px: f"{px[0]}x{px[1]}")
def test_nothing_is_cut_off_and_the_answer_stands_by_its_sliders(
    opened: Any, sent: Sent, size_px: tuple[int, int]
) -> None:
    page = opened(sent.path, *size_px)
    assert page.evaluate("document.documentElement.scrollWidth") <= size_px[0]
    page.locator("#answer").evaluate("e => scrollTo(0, e.getBoundingClientRect().top)")
    assert page.evaluate(IN_VIEW) == []
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= size_px[0]


def test_the_time_asked_for_stands_above_its_line_where_no_point_can_hide_it(
    opened: Any, sent: Sent
) -> None:
    page, asked_min = opened(sent.path), sent.file.design.flight.wanted_min
    assert page.locator("#chart .asked").count() == 1
    assert (
        page.locator("#chart-title").inner_text().endswith(f"dashed: {asked_min:g} min asked for")
    )


@pytest.mark.parametrize(
    ("wide", "scheme"),
    [
        (390, "light"),
        (1366, "dark"),
        pytest.param(390, "dark", marks=pytest.mark.long),
        pytest.param(1366, "light", marks=pytest.mark.long),
    ],
)
def test_axe_finds_nothing_serious(opened: Any, sent: Sent, wide: int, scheme: str) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    page = opened(sent.path, wide, 800, scheme)
    for parallel in (0, 1):  # what breaks a limit, and what holds
        page.evaluate(SET, {"parallel": parallel})
        options = {"resultTypes": ["violations"], "runOnly": GUIDELINES}
        found = axe.run(page, options=options).response["violations"]
        serious = [
            {"rule": v["id"], "at": [node["html"][:200] for node in v["nodes"][:3]]}
            for v in found
            if v["impact"] in ("serious", "critical")
        ]
        assert serious == []


def test_a_slider_moves_by_key_and_as_sent_goes_back(opened: Any, sent: Sent) -> None:
    page = opened(sent.path)
    before = page.locator("#answer").inner_text()
    page.locator("#parallel").focus()
    page.keyboard.press("Home")
    assert "✕" in page.locator("#verdict").inner_text()
    assert page.locator("#changed").inner_text() == "Changed: parallel, P."
    page.locator("#as-sent").click()
    assert page.locator("#answer").inner_text() == before
    assert page.locator("#changed").inner_text() == ""


def test_without_scripts_the_answer_stands_there(browser: Any, sent: Sent) -> None:
    context = browser.new_context(java_script_enabled=False, offline=True)
    page = context.new_page()
    page.goto(sent.path.as_uri())
    assert "CLOSE" in page.locator("#verdict").inner_text()
    assert not page.locator("#controls").is_visible()
    assert "Scripts are switched off" in page.locator("body").inner_text()
    context.close()


def test_the_bench_makes_the_page_of_the_design_as_it_stands(
    desk: Desk, opened: Any, tmp_path: Path
) -> None:
    open_page(desk, "sizing_bench.ipynb")
    page = desk.page
    page.get_by_role("button", name="page to send").click()
    page.get_by_text("places of its sliders:").wait_for(state="attached")  # the bar, with words
    link = page.locator("a[download]")
    link.wait_for(timeout=START_S * 1000)  # half a minute where nothing else runs
    with page.expect_download() as download:
        link.click()
    sent = tmp_path / download.value.suggested_filename
    download.value.save_as(sent)
    answer = size(read_design(sent).design)
    assert WORDS[answer.verdict] in opened(sent).locator("#verdict .word").inner_text()
    assert desk.errors == []
