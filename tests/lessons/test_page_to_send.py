"""The page to send: made of the design as it stands, under a free name, with a link that holds it."""

from __future__ import annotations

import asyncio
import base64
import re
from pathlib import Path

import pytest

from tests.sheet.test_live_page import few
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.lessons.lesson_view import open_page
from workbook.lessons.page_to_send import CANCELLED, PageToSend
from workbook.sheet import live_page

SIX = "designs/survey_six.toml"


@pytest.fixture(autouse=True)
def _small_pages(monkeypatch):
    monkeypatch.setattr(live_page, "sliders_of", few)


def test_the_benchs_page_is_of_the_figures_that_are_set_and_goes_over_nothing(folder):
    bench = open_page("sizing_bench", SIX)
    bench.inputs["payload_g"].value = 123.0
    bench.files.page.button.click()
    page = Path("designs/survey_six.html")
    assert f"Written: {page}" in bench.files.page.reply.value
    assert read_design(page).design.craft.payload_g == 123.0
    first = page.read_bytes()
    held = re.search(
        r'download="survey_six.html" href="data:text/html;base64,([^"]+)"',
        bench.files.page.link.value,
    )
    assert base64.b64decode(held[1]) == first
    bench.inputs["payload_g"].value = 200.0
    bench.files.page.button.click()
    assert page.read_bytes() == first
    assert read_design("designs/survey_six_2.html").design.craft.payload_g == 200.0


def test_my_craft_sends_what_is_typed(folder):
    craft = open_page("my_craft", SIX)
    craft.form.fields["craft.payload_g"].value = "150"
    craft.page.button.click()
    assert read_design("designs/survey_six.html").design.craft.payload_g == 150.0


def test_a_page_that_is_cancelled_is_not_written(folder, monkeypatch):
    file = read_design(SIX)
    page = PageToSend(lambda: file, lambda: Path("six.toml"))
    monkeypatch.setattr(page.progress, "_on_page", lambda act: page.progress.cancel())
    monkeypatch.setattr("workbook.widgets.live.SHOWN_AFTER_S", 0.0)
    monkeypatch.setattr("workbook.widgets.live.REPORT_EVERY_S", 0.0)
    page.press()
    assert page.reply.text == CANCELLED
    assert not Path("six.html").exists()
    assert not page.button.disabled


def test_beside_an_event_loop_the_page_comes_when_it_is_made(folder):
    async def pressed():
        page = PageToSend(lambda: read_design(SIX), lambda: Path("six.toml"))
        page.press()
        assert page.button.disabled
        assert page.reply.value == ""
        await page._task
        return page

    page = asyncio.run(pressed())
    assert "Written: six.html" in page.reply.value
    assert not page.button.disabled


def test_the_reason_is_given_where_no_page_is_made(folder):
    def none_there():
        raise InputError("Some figure cannot be used.")

    page = PageToSend(none_there, lambda: Path("six.toml"))
    page.button.click()
    assert page.reply.text == "Some figure cannot be used."
    assert page.link.value == ""
    assert not page.button.disabled


def test_a_table_that_is_in_no_file_is_saved_first(folder):
    bench = open_page("sizing_bench", SIX)
    bench.files.rows.fill(
        "30;250;0,9;22,2;\n60;1050;6,1;22,2;\n90;2250;18,3;22,2;\n100;2700;24,1;22,2;"
    )
    bench.files.take_rows()
    bench.files.page.button.click()
    assert "Save the design first" in bench.files.page.reply.text
    bench.files.design_path.value = "designs/typed.toml"
    bench.files.save_button.click()
    bench.files.page.button.click()
    assert "Written: designs/typed.html" in bench.files.page.reply.value
