"""What a builder should know besides the figures: a text and what it is about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from workbook.craft.climb import stream_of
from workbook.craft.thrust_table import ThrustTable
from workbook.units import with_unit

Topic: TypeAlias = Literal[
    "file",
    "craft",
    "cell",
    "cold",
    "assumed",
    "carrying",
    "place in the craft",
    "mission",
    "two packs",
    "spread of cells",
]
"""What a note is about: remarks on the files read, the craft and its tables, the cell, cold cells,
figures that were assumed, carrying the pack, its place and the centre of gravity, the mission,
two packs on one craft, cells that differ."""


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


def full_throttle_note(table: ThrustTable, motors: float, mass_g: float) -> str:
    """What a thrust table that does not reach full throttle leaves unknown, and the most it knows.

    Args:
        table: of one motor.
        motors: number of them.
        mass_g: all-up.
    """
    top_pct, top_gf = table.throttle_pct[-1], table.top_thrust_gf
    stated = np.isfinite(top_pct)
    ends = f"ends at {top_pct:g} % throttle" if stated else "does not say at which throttle it ends"
    cap = f", or a throttle cap of at most {top_pct:g} %" if stated else ""
    return (
        f"Full throttle is not checked: the thrust table {ends}. The highest thrust known is {with_unit(top_gf, 'gf', 0)} per "
        f"motor at {table.voltage_v[-1]:.1f} V, {top_gf * motors / mass_g:.2f} times the weight. A row at 100 % is "
        f"needed{cap}."
    )


def climb_note(table: ThrustTable | None) -> str:
    """Why no climb is computed, or how sure it is where one is.

    Args:
        table: of one motor, where there is one.
    """
    if table is None:
        return (
            "Climb is not checked: without a static thrust table of motor and propeller nobody knows what is left "
            "of the thrust in the air."
        )
    if stream_of(table.propeller) is None:
        return (
            f'Climb is not checked: the propeller\'s name, "{table.propeller}", does not state diameter and pitch; '
            "name it as diameter x pitch in inches (15x5)."
        )
    return (
        "A climb expected is that of the usual propeller of its size. Limits and missions count on the slowest "
        "of 191 that were measured in a stream, about a quarter slower: its name does not say which yours is."
    )
