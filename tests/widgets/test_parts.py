"""A button, boxes, and the reply to what was done."""

from __future__ import annotations

from workbook.errors import InputError, Problem
from workbook.widgets.parts import Reply, finding_html, heading, text_box, tick, wrapped


def test_a_reply_says_why_not_and_takes_no_room_while_it_is_empty() -> None:
    reply = Reply()
    assert reply.layout.display == "none"
    with reply.trying():
        raise InputError([Problem("it is empty.", "a.csv"), Problem("it is old.", "b.csv")])
    assert reply.text == "a.csv: it is empty. b.csv: it is old."
    assert 'role="alert"' in reply.value
    assert reply.layout.display == ""
    with reply.trying():
        assert (reply.text, reply.value) == ("", "")  # of the try before
        reply.done("Saved <as> a.")
    assert "Saved &lt;as&gt; a." in reply.value
    assert reply.text == ""
    reply.ask("Is it meant?")
    assert (reply.text, "? Is it meant?" in reply.value) == ("Is it meant?", True)
    reply.clear()
    assert reply.layout.display == "none"


def test_what_is_shown_is_text_and_no_markup() -> None:
    assert "<b>" not in heading("<b>").value + finding_html("<b>")
    assert finding_html("") == ""
    assert "role" not in finding_html("as it is", announced=False)


def test_boxes_are_as_wide_as_asked_and_as_usual_else() -> None:
    box = text_box("a", "name", width_px=240, label_px=60)
    assert (box.layout.width, box.style.description_width) == ("240px", "60px")
    assert tick("yes").layout.width is None
    assert wrapped(box, align_items="center").layout.align_items == "center"
