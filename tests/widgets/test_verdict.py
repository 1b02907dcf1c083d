from html.parser import HTMLParser

import pytest

from workbook.sizing.limits import Limit
from workbook.widgets.verdict import (
    Figure,
    KeyFigures,
    LimitsTable,
    Notices,
    Verdict,
    WorkingPanel,
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
    [("holds", "✓ HOLDS"), ("close", "△ HOLDS, BUT CLOSE"), ("broken", "✕ DOES NOT HOLD")],
)
def test_verdict_says_it_in_sign_word_and_sentence(verdict, words):
    banner = Verdict()
    banner.update(verdict, f"Because {NASTY}.", lead="21.4 min")
    assert words in banner.html.value
    assert "21.4 min" in banner.html.value
    assert "script" not in tags(banner.html.value)


def test_how_long_flights_last_stands_beside_the_verdict():
    banner = Verdict()
    banner.update("holds", "All is kept.", flights=f"one in two lasts 20 min {NASTY}")
    assert "Flight time: one in two lasts 20 min" in banner.html.value
    assert "script" not in tags(banner.html.value)
    banner.update("holds", "All is kept.")
    assert "Flight time" not in banner.html.value


def test_limits_table_has_headings_and_words():
    table = LimitsTable()
    table.show(
        [
            Limit("a", NASTY, 9.5, 10.0, "A", "Too much.", ""),
            Limit("b", "b", 12.0, 10.0, "A", "Too much.", "end"),
        ]
    )
    html = table.html.value
    assert tags(html).count("th") == 5 + 2
    assert html.count('scope="row"') == 2
    assert html.count('scope="col"') == 5
    assert "script" not in tags(html)
    assert "✕ does not hold: Too much." in html


def test_a_limit_without_a_demand_is_broken_and_says_none():
    table = LimitsTable()
    table.show([Limit("current", "cell current", float("nan"), 10.0, "A", "Unknown.", "end")])
    html = table.html.value
    assert html.count(">none</td>") == 2
    assert "10\u00a0A</td>" in html
    assert "✕ does not hold: Unknown." in html


@pytest.mark.parametrize(
    ("value", "beside", "found"),
    [
        (21.44, 15.0, Figure("endurance", "21.4", "min", "15.0")),
        (21.44, None, Figure("endurance", "21.4", "min")),
        (None, 15.0, Figure("endurance", "none", "", "15.0")),
        (float("nan"), float("nan"), Figure("endurance", "none")),
    ],
)
def test_a_figure_takes_words_unit_and_decimals_from_the_table_of_quantities(value, beside, found):
    assert Figure.of("endurance_min", value, beside) == found


def test_figures_escape_and_show_today():
    figures = KeyFigures()
    figures.update([Figure(NASTY, "21.4", "min", "15.0"), Figure("series", "4")])
    assert "today 15.0 min" in figures.html.value
    assert "script" not in tags(figures.html.value)


def test_working_stays_as_the_reader_left_it():
    step = Step("v", NASTY, "S x V", "4 x 3.6", 14.4, "V", "arithmetic")
    panel = WorkingPanel()
    assert panel.html.layout.display == "none"
    panel.update(lambda: [step])
    assert panel.html.value == "", "folded, nothing is worked out"
    panel.fold.value = True
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
