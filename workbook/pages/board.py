"""The teacher's board: how often each exercise was right, and which slip was made how often.

Nobody's name is on it, and it is kept nowhere: it is gone with the server.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

from workbook.exercises.exercise import Exercise, SettingExercise
from workbook.lessons.course import COURSE

MOST_SLIPS = 40
LONGEST_SLIP = 300
EXERCISES: dict[str, tuple[str, Exercise]] = {
    exercise.id: (lesson.title, exercise) for lesson in COURSE for exercise in lesson.exercises
}


def question_of(exercise: Exercise) -> str:
    """The question as everybody has it: the learner's own numbers left open.

    Example:
        >>> question_of(EXERCISES["wiring-full-voltage"][1])[:62]
        'A pack of …S…P is charged to … V per cell; its cells are … V n'
    """
    text = exercise.task if isinstance(exercise, SettingExercise) else exercise.question
    return re.sub(r"\{[^}]*\}", "…", text)


class Board:
    """Counts of answers.

    Example:
        >>> board = Board()
        >>> name = next(iter(EXERCISES))
        >>> for state in ("right", "right", "wrong"):
        ...     board.add({"exercise": name, "state": state, "slip": ""})
        >>> board.rows()[0]["right"], board.rows()[0]["other"]
        (2, 1)
    """

    def __init__(self) -> None:
        self._counts: dict[str, Counter[str]] = {}
        self._slips: dict[str, Counter[str]] = {}

    def add(self, answer: Any) -> None:
        """Count an answer, as `workbook.exercises.answers` sends it.

        Raises:
            ValueError: it is none.
        """
        match answer:
            case {
                "exercise": str(name),
                "state": "right" | "wrong" | "slip" as state,
                "slip": str(slip),
            }:
                pass
            case _:
                raise ValueError("this is no answer.")
        if name not in EXERCISES:
            raise ValueError("there is no such exercise.")
        counts = self._counts[name] = self._counts.pop(name, Counter())
        slips = self._slips.setdefault(name, Counter())
        if state == "slip" and (slip in slips or len(slips) < MOST_SLIPS):
            slips[slip[:LONGEST_SLIP]] += 1
        else:
            counts["right" if state == "right" else "other"] += 1

    def rows(self) -> list[dict[str, Any]]:
        """Each exercise that was answered, the last answered first: title of its lesson, question, counts."""
        return [
            {
                "lesson": EXERCISES[name][0],
                "question": question_of(EXERCISES[name][1]),
                "right": counts["right"],
                "slips": self._slips[name].most_common(),
                "other": counts["other"],
            }
            for name, counts in reversed(self._counts.items())
        ]
