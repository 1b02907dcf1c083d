"""The build sheet printed by Chromium on A4 and on Letter: nothing cut off, all of it readable."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import DESIGNS
from tests.pdf import PdfPage, read_pdf
from workbook.bench.cell_inspection import MeasuredCells
from workbook.files.design_file import read_design
from workbook.sheet.build import MARGIN_MM, PAPERS, build_sheet_html
from workbook.sheet.plan import plan_build
from workbook.sizing.size import size

pytestmark = [pytest.mark.browser, pytest.mark.long]

PX_PER_MM = 96.0 / 25.4
SMALLEST_PX = 12.0
"""9 pt at 96 px an inch."""

OVERFLOWING = """() => {
  const found = [];
  const edge = document.body.getBoundingClientRect();
  for (const element of document.querySelectorAll("section, table, p, li, .verdict, header")) {
    const box = element.getBoundingClientRect();
    const holder = element.parentElement.getBoundingClientRect();
    if (box.width > holder.width + 1) found.push("wider than its column: " + element.textContent.slice(0, 60));
    if (box.right > edge.right + 1) found.push("beyond the edge: " + element.textContent.slice(0, 60));
  }
  return found;
}"""

SMALL = """(least) => {
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const element = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim()) continue;
    if (element.closest(".mark") || element.closest(".legend")) continue;
    let size = parseFloat(getComputedStyle(element).fontSize);
    if (element.closest("svg")) {
      const m = element.getScreenCTM();
      size *= Math.hypot(m.a, m.b);
    }
    if (size < least - 0.05) found.push(size.toFixed(2) + " px: " + element.textContent.slice(0, 40));
  }
  return found;
}"""


def printed(
    browser: Any, folder: Path, name: str, paper: str, cells: int = 0, **changed: Any
) -> tuple[list[PdfPage], list[str]]:
    """Print a sheet; its pages and what is wrong with its looks."""
    file = read_design(DESIGNS / f"{name}.toml")
    design = file.design.changed(**changed) if changed else file.design
    answer = size(design, notices=file.notices)
    measured = None
    if cells:
        capacity = [4.75 + 0.003 * (k * 7 % 11) for k in range(cells)]
        measured = MeasuredCells(tuple(f"A{k + 1}" for k in range(cells)), capacity)
    plan = plan_build(answer, file.settings, measured)
    html = folder / f"{name}.html"
    html.write_text(build_sheet_html(answer, plan, paper, "2026-05-01"), "utf-8")
    asked: list[str] = []
    sheet = PAPERS[paper]
    page = browser.new_page(
        viewport={"width": int((sheet.width_mm - 2 * MARGIN_MM) * PX_PER_MM), "height": 1000}
    )
    page.on("request", lambda request: asked.append(request.url))
    try:
        page.emulate_media(media="print")
        page.goto(html.as_uri())
        faults = page.evaluate(OVERFLOWING) + page.evaluate(SMALL, SMALLEST_PX)
        pdf = html.with_suffix(".pdf")
        page.pdf(path=str(pdf), prefer_css_page_size=True)
    finally:
        page.close()
    assert asked == [html.as_uri()]
    return read_pdf(pdf), faults


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", sorted(path.stem for path in DESIGNS.glob("*.toml")))
def test_a_sheet_prints_with_nothing_cut_off(
    browser: Any, tmp_path: Path, name: str, paper: str
) -> None:
    pages, faults = printed(browser, tmp_path, name, paper)
    assert faults == []
    assert len(pages) > 2
    asked = (PAPERS[paper].width_mm, PAPERS[paper].height_mm)
    for number, page in enumerate(pages, 1):
        assert (page.width_mm, page.height_mm) == pytest.approx(asked, abs=0.3)
        text = page.text
        assert f"page {number} of {len(pages)}" in text
        assert "2026-05-01, workbook" in text
        assert "UNSAFE" not in text
    assert max(page.mark_pct for page in pages) < 0.1
    assert "What the design comes to" in pages[0].text
    assert any("Top face" in page.text for page in pages)
    assert any("What was taken as given" in page.text for page in pages)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_groups_of_measured_cells_still_fit(browser: Any, tmp_path: Path, paper: str) -> None:
    pages, faults = printed(browser, tmp_path, "survey_six", paper, cells=20)
    assert faults == []
    assert any("Measured cells in groups" in page.text for page in pages)


def test_an_unsafe_design_says_so_on_every_page(browser: Any, tmp_path: Path) -> None:
    pages, faults = printed(browser, tmp_path, "survey_six", "a4", parallel=1)
    assert faults == []
    for page in pages:
        assert "UNSAFE: do not build or fly this design as it stands" in page.text
    assert min(page.mark_pct for page in pages) > 2.5


def test_an_unsafe_large_pack_says_so_on_every_page_of_its_drawing_too(
    browser: Any, tmp_path: Path
) -> None:
    pages, faults = printed(browser, tmp_path, "survey_six", "a4", series=8, parallel=12)
    assert faults == []
    assert any("Bottom face" in page.text for page in pages)
    assert all("UNSAFE: do not build or fly" in page.text for page in pages)
    assert min(page.mark_pct for page in pages) > 2.5


def test_it_reads_on_a_telephone_too(browser: Any, tmp_path: Path) -> None:
    file = read_design(DESIGNS / "survey_wing.toml")
    answer = size(replace(file.design, today=None), notices=file.notices)
    html = tmp_path / "wing.html"
    html.write_text(build_sheet_html(answer, plan_build(answer), date="2026-05-01"), "utf-8")
    page = browser.new_page(viewport={"width": 390, "height": 800})
    try:
        page.goto(html.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    finally:
        page.close()
