"""Output to a terminal: one way out for every command, whatever goes wrong in it.

Whatever ends a command, its exit code means what the command line promises: only a verdict
reports a broken limit, never a failure.
"""

from __future__ import annotations

import errno
import io
import json
import math
import os
import sys
import time
import traceback
import warnings
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout, suppress
from typing import Any, TextIO, cast

from workbook.errors import InputError, first_of, shortened, visible

HOLDS, BROKEN, UNUSABLE, STOPPED = 0, 1, 2, 130
"""Exit codes; a command that is stopped from the keyboard ends with 128 and the signal's number, 2."""
DEBUG = "WORKBOOK_DEBUG"
LONGEST_QUOTED = 300


def print_json(value: Any) -> None:
    """Print a value as JSON that any reader takes: what is not a finite number is null."""

    def strict(part: Any) -> Any:
        if isinstance(part, dict):
            return {key: strict(inner) for key, inner in part.items()}
        if isinstance(part, list | tuple):
            return [strict(inner) for inner in part]
        return None if isinstance(part, float) and not math.isfinite(part) else part

    print(json.dumps(strict(value), indent=2, allow_nan=False))


def print_line(line: str) -> None:
    """Print a line on standard output, with nothing in it that a terminal obeys."""
    print(visible(line))


def can_show(text: str) -> bool:
    """Whether standard output has the signs of a text; what it has not, is written out there as an escape."""
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def print_error(*lines: object) -> None:
    """Print lines on standard error, the first ten of many; where that cannot be written, nothing."""
    with suppress(OSError, ValueError):
        for line in first_of(map(str, lines)):
            print(line, file=sys.stderr)


FIRST_SHOWN_S, SHOWN_EVERY_S = 0.5, 0.1
"""Progress is first shown after so long, and then updated as often."""


def progress_bar(what: str) -> Callable[[int, int], None]:
    """Tells a person at a terminal how far a command is, once it takes more than half a second.

    Args:
        what: is counted, in words.

    Returns:
        To be called with how many are done and how many there are; the line is gone when all are.
    """
    shown_s = time.monotonic() + FIRST_SHOWN_S - SHOWN_EVERY_S

    def report(done: int, total: int) -> None:
        nonlocal shown_s
        if not sys.stderr.isatty() or time.monotonic() - shown_s < SHOWN_EVERY_S:
            return
        shown_s = time.monotonic()
        bar = "#" * (30 * done // total)
        line = f"[{bar:<30}] {done:,} of {total:,} {what}"
        with suppress(OSError, ValueError):
            print(
                f"\r{line if done < total else ' ' * len(line)}\r",
                end="",
                file=sys.stderr,
                flush=True,
            )

    return report


def guarded(command: Callable[[], int]) -> int:
    """Run a command and return its exit code; a failure of any kind is a sentence and a code of its own.

    Args:
        command: gives its exit code.
    """
    with (
        redirect_stdout(_writable(sys.stdout)),
        redirect_stderr(_writable(sys.stderr)),
        warnings.catch_warnings(),
    ):
        # what overflows is dealt with where it is looked at; numpy's own words help nobody
        warnings.simplefilter("ignore", RuntimeWarning)
        try:
            try:
                code = command()
            finally:  # help that cannot be written is a failure too
                sys.stdout.flush()
        except SystemExit:
            raise
        except BaseException as fault:
            code = _report(fault)
        finally:
            _flush_or_drop(sys.stdout)
            _flush_or_drop(sys.stderr)
        return code


def _report(fault: BaseException) -> int:
    """Print what went wrong, and give the exit code."""
    if os.environ.get(DEBUG):
        print_error("".join(traceback.format_exception(fault)).rstrip())
    if isinstance(fault, KeyboardInterrupt):
        print_error("Stopped.")
        return STOPPED
    print_error(*(fault.lines if isinstance(fault, InputError) else [_sentence(fault)]))
    return UNUSABLE


def _sentence(fault: BaseException) -> str:
    if isinstance(fault, MemoryError):
        return "There is not enough memory for this."
    if isinstance(fault, RecursionError):
        return "The input is nested deeper than can be read."
    if isinstance(fault, BrokenPipeError):
        return "The output was closed before all of it was written."
    if isinstance(fault, OSError):
        reason = fault.strerror or "no reason given"
        if fault.filename is None:
            return f"The output cannot be written ({reason})."
        return (
            f"{shortened(visible(str(fault.filename)), LONGEST_QUOTED)}: cannot be used ({reason})."
        )
    if isinstance(fault, UnicodeEncodeError):
        return "A name holds a character that this machine cannot write; set the language to one in UTF-8."
    kind = type(fault).__name__
    about = shortened(visible(str(fault)), LONGEST_QUOTED)
    return (
        f"This is a fault of the workbook, not of your input, and nothing was decided: {kind}"
        f"{f' ({about})' if about else ''}. Please report it with your files; "
        f"{DEBUG}=1 before the command shows where it happened."
    )


class _ClosedStream(io.TextIOBase):
    """In the place of a stream that was closed before the command began."""

    def write(self, _: str) -> int:
        """Refuse, as a full disk does."""
        raise OSError(errno.EBADF, "it is closed")


def _writable(stream: TextIO | None) -> TextIO:
    """A stream that refuses no character, where there is a stream."""
    if stream is None:
        return cast(TextIO, _ClosedStream())
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors="backslashreplace")
    return stream


def _flush_or_drop(stream: TextIO) -> None:
    """Write what waits; where that fails let it go, so that Python does not try again at its end."""
    try:
        stream.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
