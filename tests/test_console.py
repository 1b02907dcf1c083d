"""Whatever ends a command: a sentence of the project's own, and the exit code that is promised."""

from __future__ import annotations

import errno
import io
import json
import sys
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from workbook.console import (
    FIRST_SHOWN_S,
    STOPPED,
    UNUSABLE,
    can_show,
    guarded,
    print_error,
    print_json,
    print_line,
    progress_bar,
)
from workbook.errors import InputError


def failing(fault: BaseException) -> Callable[[], int]:
    def command() -> int:
        raise fault

    return command


@pytest.mark.parametrize(
    ("fault", "code", "expected"),
    [
        (InputError(["one.", "two."]), UNUSABLE, "one.\ntwo.\n"),
        (MemoryError(), UNUSABLE, "There is not enough memory for this.\n"),
        (RecursionError("deep"), UNUSABLE, "The input is nested deeper than can be read.\n"),
        (KeyboardInterrupt(), STOPPED, "Stopped.\n"),
        (BrokenPipeError(), UNUSABLE, "The output was closed before all of it was written.\n"),
        (OSError(errno.ENOSPC, "No space left on device"), UNUSABLE,
         "The output cannot be written (No space left on device).\n"),
        (PermissionError(errno.EACCES, "Permission denied", "a\x1b.toml"), UNUSABLE,
         "a\\x1b.toml: cannot be used (Permission denied).\n"),
    ],
)  # fmt: skip
def test_every_failure_is_a_sentence(
    capsys: pytest.CaptureFixture[str], fault: BaseException, code: int, expected: str
) -> None:
    assert guarded(failing(fault)) == code
    assert capsys.readouterr().err == expected


def test_what_nobody_foresaw_says_so_and_how_to_see_more(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("WORKBOOK_DEBUG", raising=False)
    assert guarded(failing(ZeroDivisionError("by zero\n" * 500))) == UNUSABLE
    (line,) = capsys.readouterr().err.splitlines()
    assert "a fault of the workbook, not of your input" in line
    assert "ZeroDivisionError" in line
    assert len(line) < 700
    monkeypatch.setenv("WORKBOOK_DEBUG", "1")
    assert guarded(failing(ZeroDivisionError("by zero"))) == UNUSABLE
    assert "Traceback" in capsys.readouterr().err


def test_many_problems_are_the_first_ten_and_a_number(capsys: pytest.CaptureFixture[str]) -> None:
    assert guarded(failing(InputError(f"problem {k}." for k in range(47)))) == UNUSABLE
    lines = capsys.readouterr().err.splitlines()
    assert lines[9:] == ["problem 9.", "and 37 more."]


def test_figures_that_overflow_are_no_business_of_the_reader(
    capsys: pytest.CaptureFixture[str],
) -> None:
    def command() -> int:
        return int(np.isinf(np.float64(1e308) * 10.0))

    with warnings.catch_warnings():
        warnings.simplefilter("default")
        assert guarded(command) == 1
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_names_that_a_terminal_cannot_write_are_written_out(
    monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding)
    monkeypatch.setattr(sys, "stdout", out)

    def command() -> int:
        print_line("调查 \x1b[2K")
        return 0

    assert guarded(command) == 0
    assert out.buffer.getvalue().rstrip() == rb"\u8c03\u67e5 \x1b[2K"  # type: ignore[attr-defined]


@pytest.mark.parametrize(("encoding", "can"), [("utf-8", True), ("cp437", True), ("cp1252", False)])
def test_what_a_terminal_can_show_is_known(
    encoding: str, can: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of blocks, as a code to scan has them: old consoles of Western Windows have none."""
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding))
    assert can_show("█▀▄") is can


def test_a_closed_stream_is_told_on_the_other(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def command() -> int:
        print("answer")
        print_error("reason")
        return 0

    with monkeypatch.context() as patch:
        patch.setattr(sys, "stderr", None)
        assert guarded(command) == 0
    assert capsys.readouterr().out == "answer\n"
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", None)
        assert guarded(command) == UNUSABLE
    assert capsys.readouterr().err == "The output cannot be written (it is closed).\n"


def test_json_has_null_for_what_is_no_number(capsys: pytest.CaptureFixture[str]) -> None:
    print_json({"a": [float("nan"), 1.5], "b": {"c": float("-inf")}, "d": "nan"})
    values = json.loads(capsys.readouterr().out)
    assert values == {"a": [None, 1.5], "b": {"c": None}, "d": "nan"}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_help_that_cannot_be_written_is_no_success(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def helped() -> int:
        print("usage")
        raise SystemExit(0)

    with open("/dev/full", "w", encoding="utf-8") as full:
        monkeypatch.setattr(sys, "stdout", full)
        assert guarded(helped) == UNUSABLE
    assert "cannot be written" in capsys.readouterr().err


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "waited_s", "shown"),
    [
        (
            _Terminal,
            FIRST_SHOWN_S + 0.01,
            ["[###############               ] 1,000 of 2,000 places", " " * 54],
        ),
        (_Terminal, FIRST_SHOWN_S - 0.01, []),  # not worth a line
        (io.StringIO, FIRST_SHOWN_S + 0.01, []),  # nobody is looking
    ],
)
def test_progress_is_told_to_a_person_who_waits_and_is_gone_at_the_end(
    stream: type[io.StringIO], waited_s: float, shown: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clock, err = [0.0], stream()
    monkeypatch.setattr("workbook.console.time.monotonic", lambda: clock[0])
    monkeypatch.setattr(sys, "stderr", err)
    report = progress_bar("places")
    clock[0] = waited_s
    report(1000, 2000)
    clock[0] = 2 * waited_s if waited_s > FIRST_SHOWN_S else waited_s
    report(2000, 2000)
    assert [line for line in err.getvalue().split("\r") if line] == shown
