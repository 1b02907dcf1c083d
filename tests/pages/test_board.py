"""The answer board: counts by exercise, and nothing that is no answer."""

from __future__ import annotations

from typing import Any

import pytest

from workbook.pages.board import EXERCISES, LONGEST_SLIP, MOST_SLIPS, Board, question_of

FIRST, SECOND = list(EXERCISES)[:2]


def answer_of(exercise: str = FIRST, state: str = "slip", slip: str = "") -> dict[str, Any]:
    return {"exercise": exercise, "state": state, "slip": slip}


def test_counts_by_exercise_the_last_answered_first() -> None:
    board = Board()
    for answer in (
        answer_of(state="right"),
        answer_of(slip="one cell"),
        answer_of(slip="twice"),
        answer_of(slip="one cell"),
        answer_of(SECOND, "wrong"),
    ):
        board.add(answer)
    second, first = board.rows()
    assert (first["right"], first["slips"], first["other"]) == (
        1,
        [("one cell", 2), ("twice", 1)],
        0,
    )
    assert (second["right"], second["slips"], second["other"]) == (0, [], 1)
    board.add(answer_of(state="right"))
    assert board.rows()[0]["right"] == 2


@pytest.mark.parametrize(
    "answer",
    [
        None,
        [],
        {},
        {"exercise": FIRST},
        answer_of("no such exercise", "right"),
        answer_of(state="unanswered"),
        {"exercise": [FIRST], "state": "right", "slip": ""},
        {"exercise": FIRST, "state": "slip", "slip": 3},
    ],
)
def test_what_is_no_answer_is_refused(answer: Any) -> None:
    board = Board()
    with pytest.raises(ValueError, match="no"):
        board.add(answer)
    assert board.rows() == []


def test_slips_are_bounded_in_number_and_length() -> None:
    board = Board()
    for number in range(MOST_SLIPS + 5):
        board.add(answer_of(slip=f"{number} " + "x" * 1000))
    [row] = board.rows()
    assert len(row["slips"]) == MOST_SLIPS
    assert row["other"] == 5
    assert max(len(name) for name, _ in row["slips"]) == LONGEST_SLIP


def test_no_question_shows_a_placeholder() -> None:
    for _, exercise in EXERCISES.values():
        assert not set("{}") & set(question_of(exercise))
        assert question_of(exercise)
