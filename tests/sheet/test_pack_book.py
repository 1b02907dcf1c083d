"""A book written from the prompt or a page: events of a design, and the page of it as text."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from tests.conftest import DESIGNS
from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.flightlog.book import read_book
from workbook.flightlog.wear import life
from workbook.sheet.pack_book import acceptance_of, book_text, figures_of_design, note_event

SIX = DESIGNS / "survey_six.toml"
DAY = datetime.date(2026, 5, 1)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "heron_1.txt"
    note_event(path, "built", str(SIX), day=DAY)
    return path


def test_a_pack_built_to_a_design_is_stated_as_the_design_has_it(path: Path) -> None:
    (built,) = read_book(path).events
    file = read_design(SIX)
    pack = file.design.pack
    assert built.figures["series"] == pack.series
    assert built.figures["rated_ah"] == pytest.approx(float(pack.capacity_ah))
    assert built.figures == pytest.approx(figures_of_design(file))
    assert built.words == file.design.name


def test_a_test_is_held_against_the_sheet_and_its_verdict_written(path: Path) -> None:
    event, judged = note_event(path, "tested", str(SIX), {"mass_g": "1.01 kg"}, "by hand", DAY)
    assert judged is not None
    assert [line.item.key for line in judged.failed] == ["mass_g"]
    assert event.words.startswith("FAILS: mass: 1010 g")
    assert event.words.endswith("by hand")
    assert read_book(path).events[-1] == event
    assert "Not accepted" in life(read_book(path), DAY).stops[0]


def test_the_table_is_that_of_the_sheet(path: Path) -> None:
    event, judged = note_event(path, "tested", "", {"resistance_mohm": 1.0}, day=DAY)
    assert judged is None
    found = acceptance_of(read_design(SIX), event)
    assert [line.item.text for line in found.lines][-1] == "hottest cell"


def test_nothing_is_written_where_the_design_or_a_figure_cannot_be_used(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(InputError, match="no file here"):
        note_event(path, "tested", "no such design.toml", {"mass_g": 900.0})
    with pytest.raises(InputError, match="nothing on the acceptance table"):
        note_event(path, "tested", str(SIX), {"price": 900.0})
    with pytest.raises(InputError, match="time"):
        note_event(path, "flown", "14 V")
    assert path.read_bytes() == before


def test_first_figures_go_where_they_belong(path: Path) -> None:
    assert note_event(path, "flown", "14min")[0].figures == {"time_min": 14.0}
    assert note_event(path, "stored", "22.2V")[0].figures == {"rest_v": 22.2}
    assert note_event(path, "charged", "2100mAh")[0].figures == {"charge_ah": 2.1}
    assert (
        note_event(path, "knocked", "off the bench", words="group 3")[0].words
        == "off the bench. group 3"
    )


def test_the_page_says_what_is_unsafe_before_anything_else(path: Path) -> None:
    note_event(path, "flown", "14min", {"charge_ah": "6100mAh"}, day=DAY)
    note_event(path, "knocked", "off the bench", day=DAY)
    with path.open("a", encoding="utf-8") as file:
        file.write("2026-05-02 flown: ti")
    lines = book_text(life(read_book(path), DAY)).splitlines()
    assert lines[0] == "heron_1.txt: 1 flight, 14 min in the air, 0.4 full cycles, 0.0 years."
    assert lines[1].startswith("UNSAFE until looked at")
    text = "\n".join(lines)
    assert "by the usual wear, which yours may not follow" in text
    assert "What was set aside" in text
    assert "'2026-05-02 flown: ti' has no mark" in text
