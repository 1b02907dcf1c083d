"""Answers told to the board: no name, no number of the learner's, each result once, and nothing where none is asked for."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pytest

from workbook.exercises import answers
from workbook.exercises.answers import BOARD, send_to_board, slip_name
from workbook.exercises.exercise import NOT_ANSWERED, Checked


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Any]]:
    """A board that listens."""
    answers_sent: list[Any] = []

    class Listens(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            answers_sent.append((self.path, json.loads(body)))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            """Nothing."""

    server = HTTPServer(("127.0.0.1", 0), Listens)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    monkeypatch.setenv(BOARD, f"http://127.0.0.1:{server.server_port}/told?key=k")
    monkeypatch.setattr(answers, "_sent", set())
    yield answers_sent
    server.shutdown()
    server.server_close()


def send_and_wait(exercise: str, checked: Checked) -> None:
    """Tell it, and wait until it is told."""
    before = set(threading.enumerate())
    send_to_board(exercise, checked)
    for thread in set(threading.enumerate()) - before:
        thread.join(5)


def test_a_slip_goes_by_its_name_without_the_learner_s_own_numbers(heard: list[Any]) -> None:
    send_and_wait(
        "sum", Checked("slip", "That uses the cutoff voltage, 2.5 V; here a cell has 3,6 V.")
    )
    name = "That uses the cutoff voltage, … V; here a cell has … V."
    assert heard == [("/told?key=k", {"exercise": "sum", "state": "slip", "slip": name})]


def test_each_result_is_told_once_a_page_and_no_answer_is_none(heard: list[Any]) -> None:
    for checked in (
        Checked("wrong", "2.5 V is too low."),
        Checked("wrong", "3 V is too low."),
        NOT_ANSWERED,
        Checked("right", "Right: 4 V."),
    ):
        send_and_wait("sum", checked)
    assert [answer["state"] for _, answer in heard] == ["wrong", "right"]
    assert [answer["slip"] for _, answer in heard] == ["", ""]


def test_where_no_board_was_asked_for_nothing_is_told(
    heard: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(BOARD)
    send_and_wait("sum", Checked("right", "Right."))
    assert heard == []


def test_a_board_that_is_gone_stops_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(BOARD, "http://127.0.0.1:9/told?key=k")
    monkeypatch.setattr(answers, "_sent", set())
    send_and_wait("sum", Checked("right", "Right."))


def test_what_is_no_slip_has_no_name() -> None:
    assert slip_name(Checked("wrong", "5 is too high.")) == ""
