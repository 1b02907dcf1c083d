from html.parser import HTMLParser

import pytest

from workbook.sizing.limits import Limit
from workbook.widgets.verdict import (
    Figure,
    KeyFigures,
    LimitRow,
    LimitsTable,
    Notices,
    Verdict,
    WorkingPanel,
    limit_row,
)
from workbook.working import Step

NASTY = '<script>alert("x")</script>'


def tags(html):
    found = []
    parser = HTMLParser()
    parser.handle_starttag = lambda tag, attrs: found.append(tag)
    parser.feed(html)
    return found


@pytest.mark.parametrize(
    ("verdict", "words"),
    [("holds", "✓ HOLDS"), ("close", "△ CLOSE"), ("broken", "✕ DOES NOT HOLD")],
)
def test_verdict_says_it_in_sign_word_and_sentence(verdict, words):
    banner = Verdict()
    banner.update(verdict, f"Because {NASTY}.", lead="21.4 min")
    assert words in banner.html.value
    assert "21.4 min" in banner.html.value
    assert "script" not in tags(banner.html.value)


def test_limits_table_has_headings_and_words():
    table = LimitsTable()
    table.update(
        [
            LimitRow(NASTY, "9 A", "10 A", "10 %", "close"),
            LimitRow("b", "12 A", "10 A", "-20 %", "broken", "Too much."),
        ]
    )
    html = table.html.value
    assert tags(html).count("th") == 5 + 2
    assert html.count('scope="row"') == 2
    assert html.count('scope="col"') == 5
    assert "script" not in tags(html)
    assert "✕ does not hold: Too much." in html


def test_row_of_a_limit_that_cannot_be_told():
    row = limit_row(Limit("current", "cell current", float("nan"), 10.0, "A", "Unknown.", "end"))
    assert (row.asked, row.there_is, row.margin, row.verdict) == (
        "cannot be told",
        "10 A",
        "–",
        "broken",
    )
    assert row.name == "cell current (end)"
    assert row.meaning == "Unknown."


def test_figures_escape_and_show_today():
    figures = KeyFigures()
    figures.update([Figure(NASTY, "21.4", "min", "15.0"), Figure("series", "4")])
    assert "today 15.0 min" in figures.html.value
    assert "script" not in tags(figures.html.value)


def test_working_stays_as_the_reader_left_it():
    step = Step("v", NASTY, "S x V", "4 x 3.6", 14.4, "V", "arithmetic")
    panel = WorkingPanel()
    assert panel.html.layout.display == "none"
    panel.fold.value = True
    panel.update([step])
    assert panel.html.layout.display == ""
    assert "source: arithmetic" in panel.html.value
    assert "script" not in tags(panel.html.value)


def test_notices_take_no_room_when_there_are_none():
    notices = Notices()
    notices.update([NASTY])
    assert "script" not in tags(notices.html.value)
    notices.update([])
    assert notices.html.value == ""


def test_projector_size_is_a_class():
    banner = Verdict()
    banner.set_big(True)
    assert "wb-big" in banner._dom_classes
    banner.set_big(False)
    assert "wb-big" not in banner._dom_classes
