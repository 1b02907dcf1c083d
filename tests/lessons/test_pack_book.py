"""The page of a pack's book: the demo's until a line is written, then one's own."""

from __future__ import annotations

import pytest

from tests.lessons.conftest import plain
from workbook.flightlog.book import read_book
from workbook.lessons.pack_book import OWN, PackBook


@pytest.fixture
def page(folder) -> PackBook:
    return PackBook()


def test_the_demo_is_shown_and_called_invented(page) -> None:
    assert "the demo's book, invented" in plain(page.reply.value)
    assert page.life.flights == 110
    assert "flights 110" in plain(page.figures.html.value)
    trend = next(one for one in page.life.trends if one.key == "resistance_mohm")
    assert page.chart.finding_text == trend.text()
    assert page.chart.dots.y.tolist() == trend.values.tolist()
    assert page.chart.levels[0].y == trend.limit


def test_a_flight_is_written_into_a_book_of_ones_own(page, folder) -> None:
    page.first.value, page.second.value, page.words.value = "14 min", "6100 mAh", "windy"
    page.button.click()
    (event,) = read_book(folder / OWN).events
    assert (event.figures, event.words) == ({"time_min": 14.0, "charge_ah": 6.1}, "windy")
    assert "✓ Written into logs/mine_pack_1.txt" in plain(page.reply.value)
    assert page.life.flights == 1
    assert page.first.value == page.words.value == ""
    assert page.chart.layout.display == "none"  # no trend yet
    assert "No trend yet" in plain(page.wear.html.value)


def test_what_cannot_be_used_is_reported_and_stays_in_its_box(page, folder) -> None:
    page.first.value, page.second.value = "14 V", "6100"
    page.button.click()
    assert "time" in page.reply.text
    assert "charge" in page.reply.text
    assert page.first.value == "14 V"
    assert not (folder / OWN).exists()


def test_a_knock_is_unsafe_in_words_at_the_top(page) -> None:
    page.kind.value = "knocked"
    assert page.first.layout.display == page.second.layout.display == "none"
    page.words.value = "off the bench"
    page.button.click()
    assert "UNSAFE until looked at" in plain(page.stops.html.value)


def test_the_boxes_follow_what_happened(page) -> None:
    page.kind.value = "stored"
    assert (page.first.description, page.second.description) == (
        "voltage at rest, V",
        "lowest cell, V",
    )
    page.kind.value = "flown"
    assert (page.first.description, page.second.description) == ("time, min", "charge, Ah")


def test_a_path_that_is_no_book_is_refused_and_left(page, folder) -> None:
    (folder / "club.toml").write_text("landing_v = 3.1\n", "utf-8")
    page.path.value = "club.toml"
    assert "no book of a pack" in page.reply.text
    page.first.value = "14"
    page.button.click()
    assert (folder / "club.toml").read_text("utf-8") == "landing_v = 3.1\n"
