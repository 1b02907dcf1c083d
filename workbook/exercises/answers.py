"""Results of answers, sent without a name to the teacher's board where there is one."""

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

_sent: set[tuple[str, str]] = set()


def slip_name(checked: Checked) -> str:
    """The name of a slip: its message without the learner's own numbers; empty where the answer is no slip.

    Example:
        >>> slip_name(Checked("slip", "That is one cell's figure; there are 4 cells in parallel."))
        "That is one cell's figure; there are … cells in parallel."
    """
    return re.sub(r"\d+([.,]\d+)?", "…", checked.message) if checked.state == "slip" else ""


def send_to_board(exercise_id: str, checked: Checked) -> None:
    """Send the result of an answer to the board: each result of an exercise once a page, without a name.

    Args:
        exercise_id: of the exercise.
        checked: the result.
    """
    board = os.environ.get(BOARD)
    result = (exercise_id, slip_name(checked) or checked.state)
    if not board or checked.state == "unanswered" or result in _sent:
        return
    _sent.add(result)
    answer = {"exercise": exercise_id, "state": checked.state, "slip": slip_name(checked)}
    Thread(target=_post, args=(board, json.dumps(answer)), daemon=True).start()


def _post(board: str, body: str) -> None:
    address = urlsplit(board)
    with suppress(OSError, http.client.HTTPException):
        line = http.client.HTTPConnection(address.hostname or "", address.port, timeout=5)
        line.request("POST", f"{address.path}?{address.query}", body)
        line.getresponse().read()
        line.close()
