"""The exercises in which one of several answers is chosen, from `workbook/data/choices.toml`."""

from __future__ import annotations

from workbook.data.tables import data_sections
from workbook.exercises.exercise import ChoiceExercise


def choices_of(slug: str) -> tuple[ChoiceExercise, ...]:
    """Those of a lesson, in the order asked.

    Args:
        slug: of the lesson.

    Raises:
        ValueError: one has no option at the place of the right one.

    Example:
        >>> choices_of("datasheet")[0].id
        'datasheet-own-current'
    """
    blocks = (dict(block) for block in data_sections("choices.toml")["choice"])
    return tuple(ChoiceExercise(**block) for block in blocks if block.pop("lesson") == slug)
