"""The flight report printed by Chromium on A4 and on Letter: one page, nothing cut off, all of it readable."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.test_sheet import OVERFLOWING, PX_PER_MM, SMALL, SMALLEST_PX
from tests.conftest import DESIGNS, NOTEBOOKS
from tests.pdf import read_pdf
from workbook.files.design_file import read_design
from workbook.flightlog.comparison import compare_flight
from workbook.flightlog.correction import correct
from workbook.flightlog.reading import read_log
from workbook.sheet.build import MARGIN_MM, PAPERS
from workbook.sheet.flight_report import flight_report_html

pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    ("design", "log"),
    [("survey_six", "six_warm.csv"), ("survey_six", "six_cold.csv"), ("survey_wing", "wing.csv")],
)
def test_a_report_is_one_page_and_readable(
    browser: Any, tmp_path: Path, paper: str, design: str, log: str
) -> None:
    plan = read_design(DESIGNS / f"{design}.toml").design
    found = compare_flight(plan, read_log(NOTEBOOKS / "logs" / log))
    html, pdf = tmp_path / "report.html", tmp_path / "report.pdf"
    html.write_text(flight_report_html(found, correct(plan, [found]), paper, "2026-05-01"), "utf-8")
    sheet = PAPERS[paper]
    width = int((sheet.width_mm - 2 * MARGIN_MM) * PX_PER_MM)
    page = browser.new_page(viewport={"width": width, "height": 1000})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    try:
        page.emulate_media(media="print")
        page.goto(html.as_uri())
        assert page.evaluate(OVERFLOWING) + page.evaluate(SMALL, SMALLEST_PX) == []
        page.pdf(path=str(pdf), prefer_css_page_size=True)
    finally:
        page.close()
    assert asked == [html.as_uri()]
    pages = read_pdf(pdf)
    assert len(pages) == 1
