"""What a builder should know besides the figures: a text and what it is about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, TypeAlias

Topic: TypeAlias = Literal[
    "file", "craft", "cell", "cold", "carrying", "place in the craft", "mission", "spread of cells"
]
"""What a note is about: remarks on the files read, the craft and its tables, the cell, cold cells,
carrying the pack, its place and the centre of gravity, the mission, cells that differ."""


@dataclass(frozen=True)
class Note:
    """One note to the builder.

    Attributes:
        topic: what it is about; whoever shows notes selects by it, never by their words.
        text: one or more sentences.
    """

    topic: Topic
    text: str

    def __str__(self) -> str:
        """Its text."""
        return self.text


def notes_on(topic: Topic, texts: Iterable[str]) -> tuple[Note, ...]:
    """Texts as notes on one topic.

    Example:
        >>> [note.topic for note in notes_on("file", ["six.toml: grams are taken."])]
        ['file']
    """
    return tuple(Note(topic, text) for text in texts)
