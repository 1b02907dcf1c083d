"""What came of an answer, told without a name to the board of whoever teaches, where one was asked for."""

from __future__ import annotations

import http.client
import json
import os
import re
from contextlib import suppress
from threading import Thread
from urllib.parse import urlsplit

from workbook.exercises.exercise import Checked

BOARD = "WORKBOOK_BOARD"
"""Variable of the environment: the board's address on this machine, with its key."""

_told: set[tuple[str, str]] = set()


def slip_of(checked: Checked) -> str:
    """The name of a slip: what is said to it, without the learner's own numbers; empty where it is none.

    Example:
        >>> slip_of(Checked("slip", "That is one cell's figure; there are 4 cells in parallel."))
        "That is one cell's figure; there are … cells in parallel."
    """
    return re.sub(r"\d+([.,]\d+)?", "…", checked.message) if checked.state == "slip" else ""


def tell_board(exercise_id: str, checked: Checked) -> None:
    """Tell the board what came of an answer: each result of an exercise once a page, and nothing of who gave it.

    Args:
        exercise_id: of the exercise.
        checked: what was found.
    """
    board = os.environ.get(BOARD)
    result = (exercise_id, slip_of(checked) or checked.state)
    if not board or checked.state == "unanswered" or result in _told:
        return
    _told.add(result)
    told = {"exercise": exercise_id, "state": checked.state, "slip": slip_of(checked)}
    Thread(target=_post, args=(board, json.dumps(told)), daemon=True).start()


def _post(board: str, told: str) -> None:
    address = urlsplit(board)
    with suppress(OSError, http.client.HTTPException):
        line = http.client.HTTPConnection(address.hostname or "", address.port, timeout=5)
        line.request("POST", f"{address.path}?{address.query}", told)
        line.getresponse().read()
        line.close()
