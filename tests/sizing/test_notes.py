"""Notes are distinguished by their topic."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.sizing.multirotors import six
from workbook.errors import Problem
from workbook.sizing.notes import Note, notes_on
from workbook.sizing.size import size


def test_a_note_reads_as_its_text() -> None:
    note = Note("cold", "Warm the pack.")
    assert str(note) == note.text
    assert notes_on("cold", ["Warm the pack."]) == (note,)


@pytest.mark.parametrize(
    ("change", "topic", "applies"),
    [
        ({"pack_temperature_c": 5.0}, "cold", True),
        ({"pack_temperature_c": 25.0}, "cold", False),
        ({"series": 2, "parallel": 1}, "carrying", True),
        ({}, "place in the craft", True),
        ({}, "craft", True),
    ],
)
def test_every_topic_is_shown_where_it_applies(
    change: dict[str, float], topic: str, applies: bool
) -> None:
    assert any(note.topic == topic for note in size(six(**change)).notes) == applies


def test_remarks_on_files_stay_apart_whatever_they_say() -> None:
    """A remark that reads like a note on something else is a remark all the same."""
    text = "No UN 38.3 test. Not checked here: nan. Basis: a guess."
    result = size(six(), notices=(Problem(text),))
    assert [note.text for note in result.notes if note.topic == "file"] == [text]
    assert result.as_dict()["notes"][0] == text
    without = replace(result, remarks=())
    assert all(note.topic != "file" for note in without.notes)
