"""Worksheets printed by Chromium on either paper: pages of its size, and nothing sticks out of them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.pdf import read_pdf
from workbook.lessons.course import COURSE
from workbook.lessons.teaching.worksheet import write_worksheet

pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210, 297)), ("letter", (216, 279))])
def test_printed_pages_hold_everything(
    browser: Any, tmp_path: Path, paper: str, size_mm: tuple[int, int]
) -> None:
    html, pdf = tmp_path / "all.html", tmp_path / "all.pdf"
    write_worksheet("all", html, paper=paper, seed=17)
    page = browser.new_page()
    page.goto(html.as_uri())
    page.pdf(path=str(pdf), prefer_css_page_size=True)
    page.close()
    pages = read_pdf(pdf)
    assert len(pages) <= 3 * len(COURSE)
    for sheet in pages:
        assert (round(sheet.width_mm), round(sheet.height_mm)) == size_mm
        assert len(sheet.text) > 120, f"next to nothing on a page: {sheet.text}"
        for left, bottom, right, top in sheet.text_boxes_mm:
            assert min(left, bottom) >= 0, sheet.text[:60]
            assert right <= sheet.width_mm, sheet.text[:60]
            assert top <= sheet.height_mm, sheet.text[:60]
    starts = sum(bool(re.match(r"\d+\. ", sheet.text)) for sheet in pages)
    assert starts == len(COURSE), "each lesson begins on a page of its own"


def test_a_name_in_pdf_is_a_pdf(browser: Any, tmp_path: Path) -> None:
    write_worksheet("weight_spiral", tmp_path / "spiral.pdf", paper="letter")
    pages = read_pdf(tmp_path / "spiral.pdf")
    assert len(pages) == 2
    assert pages[0].text.startswith("6. The weight spiral")
    assert round(pages[0].width_mm) == 216
