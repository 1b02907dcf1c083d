"""What stays of a panel where no kernel runs: its pictures with their words, and one line on how to make it live."""

from __future__ import annotations

import base64
import re

import ipywidgets as W

from workbook.widgets.picture import Picture
from workbook.widgets.still import LIVE_AGAIN, STILL, shown_parts, still_html


def picture(words: str) -> Picture:
    made = Picture("A drawing", 200, 100)
    made.draw('<path d="M0 0h9"/>', words)
    return made


def test_each_picture_stays_with_its_words_as_text() -> None:
    text = still_html(W.VBox([picture("up < down"), W.HBox([picture("second")])]))
    assert text.startswith(f"<p><em>{STILL}</em></p>")
    assert text.count("<img ") == 2
    assert "<p>up &lt; down</p>" in text
    held = base64.b64decode(re.findall(r"base64,([^']+)'", text)[0]).decode()
    assert held.startswith("<svg")
    assert '<path d="M0 0h9"/>' in held


def test_what_is_hidden_is_left_out_with_all_that_it_holds() -> None:
    hidden = W.VBox([picture("not seen")], layout=W.Layout(display="none"))
    panel = W.VBox([hidden, picture("seen")])
    assert "not seen" not in still_html(panel)
    assert hidden not in list(shown_parts(panel))


def test_without_a_picture_there_is_still_the_line() -> None:
    assert still_html(W.VBox([W.HTML("words")])) == f"<p><em>{LIVE_AGAIN}</em></p>"


def test_parts_of_an_opaque_widget_are_left_out() -> None:
    inner = W.HBox([W.HTML("a")])
    assert list(shown_parts(W.VBox([inner]), opaque=(W.HBox,)))[1:] == [inner]
