"""The exercises in which one of several answers is chosen, from `workbook/data/choices.toml`."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from workbook.exercises.exercise import ChoiceExercise

TABLE = Path(__file__).parents[1] / "data" / "choices.toml"


@cache
def _blocks() -> list[dict[str, Any]]:
    blocks: list[dict[str, Any]] = tomllib.loads(TABLE.read_text("utf-8"))["choice"]
    return blocks


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
    return tuple(
        ChoiceExercise(
            *(block["id"], block["question"], block["options"], block["right"]),
            hints=tuple(block.get("hints", ())),
        )
        for block in _blocks()
        if block["lesson"] == slug
    )
