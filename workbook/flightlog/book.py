"""The book of one pack: a text file kept for its life, one line an event, readable without the program.

A line has the day, the event, figures with their units, words, and at its end a mark of its own:

    2026-05-03 flown: time 14 min, charge 6.1 Ah; windy, north bank [k7pm3xqd]

Lines are only added. The mark closes a line: one without it was broken off, by a full disk or a power cut, and is
set aside, with a notice. It also identifies the lines of two copies, so that either can be added to the other, by
this program or by any tool that unites lines. A wrong line is struck by a line of its own.
"""

from __future__ import annotations

import datetime
import re
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from workbook.errors import InputError, Problem, refuse, shortened, visible
from workbook.files.reading import read_bytes
from workbook.files.writing import append_text, locked, write_text
from workbook.parse import parse_number
from workbook.quantities import NOTED, Quantity

HEAD = "# The book of a pack"
OPENING = f"""{HEAD}: one line an event, for as long as the pack lives.
# Each line: day, what happened: figures with units, then words [a mark of its own].
# Lines are only added. A wrong one is struck by a line that names its mark; nothing is rubbed out.
"""

KINDS = ("built", "tested", "charged", "flown", "stored", "knocked", "retired", "struck")
"""Kinds of events: the pack was made; measured at the bench; charged, not after a flight; one flight, with the
charge put back after it; looked at in storage; a crash, a drop, a dent, water; taken out of use; a line that was wrong."""

LARGEST_BYTES = 5_000_000
"""Some forty thousand lines."""
LONGEST_WORDS = 300
MARK_SIGNS = "abcdefghjkmnpqrstuvwxyz23456789"
"""No sign among them that is taken for another."""
MARK_LENGTH = 8
"""In a book of 3,000 lines two marks are alike in one book of 190,000: 31^8 marks, 3,000^2 / 2 pairs."""

_LINE = re.compile(
    r"(?P<day>\d{4}-\d{2}-\d{2})\s+(?P<kind>[a-z]+)(?:\s*:\s*(?P<figures>[^;]*))?(?:;(?P<words>.*?))?"
    r"\s*\[(?P<mark>[A-Za-z0-9]{4,16})\]"
)
_FIGURE = re.compile(r"(?P<label>.*?\S)\s+(?P<value>[-+]?[\d.].*)")
_BETWEEN = re.compile(r",\s+(?=[a-z])")
"""Between two figures; a decimal comma is not."""
_BY_LABEL = {quantity.label: quantity for quantity in NOTED.values()}


@dataclass(frozen=True)
class Event:
    """One line of a book.

    Attributes:
        day: when it happened.
        kind: one of `KINDS`.
        figures: by the keys of `workbook.quantities.NOTED`, in their units.
        words: whatever else is to be remembered.
        mark: identifies the line.
        struck: of a line that strikes another, the mark of that.
    """

    day: datetime.date
    kind: str
    figures: Mapping[str, float] = field(default_factory=dict)
    words: str = ""
    mark: str = ""
    struck: str = ""

    @property
    def line(self) -> str:
        """The line of the file.

        Example:
            >>> day = datetime.date(2026, 5, 3)
            >>> Event(day, "flown", {"time_min": 14.0, "charge_ah": 6.1}, "windy", "k7pm3xqd").line
            '2026-05-03 flown: time 14 min, charge 6.1 Ah; windy [k7pm3xqd]'
        """
        text = self.struck or self.figures_text
        words = f"; {self.words}" if self.words else ""
        return (
            f"{self.day.isoformat()} {self.kind}{f': {text}' if text else ''}{words} [{self.mark}]"
        )

    @property
    def figures_text(self) -> str:
        """Its figures with their words and units."""
        figures = ((NOTED[key], value) for key, value in self.figures.items())
        return ", ".join(f"{of.label} {value:.6g} {of.unit}".rstrip() for of, value in figures)


@dataclass(frozen=True)
class Book:
    """A book as it was read.

    Attributes:
        name: of its file.
        events: what counts, the oldest first; of one day in the order of the lines.
        struck: lines of the file that were struck.
        notices: what was set aside, and what looks wrong, one sentence each.
        marks: of every whole line.
    """

    name: str
    events: tuple[Event, ...] = ()
    struck: tuple[str, ...] = ()
    notices: tuple[Problem, ...] = ()
    marks: frozenset[str] = frozenset()

    def of(self, *kinds: str) -> tuple[Event, ...]:
        """The events of some kinds."""
        return tuple(event for event in self.events if event.kind in kinds)

    def stated(self, key: str) -> float | None:
        """The latest figure of that key, None where no line gives it."""
        values = [event.figures[key] for event in self.events if key in event.figures]
        return values[-1] if values else None


def new_event(
    kind: str,
    day: datetime.date | None = None,
    figures: Mapping[str, str | float] | None = None,
    words: str = "",
    *,
    struck: str = "",
    today: datetime.date | None = None,
) -> Event:
    """An event with a mark of its own, its figures checked.

    Args:
        kind: one of `KINDS`.
        day: when it happened; today where left out.
        figures: by key; a text may carry a unit of its kind, as "6100 mAh".
        words: what else to remember; brackets and line breaks in it are made plain.
        struck: the mark of a line to strike.
        today: the day on which it is written down.

    Raises:
        InputError: a kind or key not known, a figure that cannot be used, a day that is not over.

    Example:
        >>> event = new_event("flown", datetime.date(2026, 5, 3), {"charge_ah": "6100 mAh"})
        >>> event.figures_text
        'charge 6.1 Ah'
    """
    today = today or datetime.date.today()
    day = day or today
    wrong: list[Problem] = []
    if kind not in KINDS:
        wrong.append(Problem(f"{kind!r} is no event; one of {', '.join(KINDS)} is needed."))
    if day > today + datetime.timedelta(days=1):
        wrong.append(Problem(f"{day} is still to come; the day on which it happened is needed."))
    if kind == "tested" and not figures:
        known = ", ".join(quantity.label for quantity in NOTED.values())
        wrong.append(Problem(f"a test without a figure says nothing; one is needed of: {known}."))
    taken: dict[str, float] = {}
    for key, given in (figures or {}).items():
        quantity = NOTED[key]
        try:
            taken[key] = _figure(quantity, given)
        except InputError as fault:
            wrong.append(Problem(str(fault), quantity.label))
    refuse(wrong)
    mark = "".join(secrets.choice(MARK_SIGNS) for _ in range(MARK_LENGTH))
    return Event(day, kind, taken, plain_words(words), mark, struck)


def plain_words(words: str) -> str:
    """Words as a line can hold them: on one line, no square brackets in them, not longer than a few lines.

    Example:
        >>> plain_words("windy [north\\nbank]")
        'windy (north bank)'
    """
    plain = visible(" ".join(words.split())).translate({ord("["): "(", ord("]"): ")"})
    return shortened(plain, LONGEST_WORDS)


def _figure(quantity: Quantity, given: str | float) -> float:
    value = parse_number(given, quantity.unit, quantity.least, quantity.most, whole=quantity.whole)
    if quantity.above and value <= quantity.least:
        raise InputError(f"{value:g} is not above {quantity.least:g}.")
    return value


def add_event(path: Path, event: Event) -> None:
    """Write an event into a book; a book that is not there yet is begun.

    When this returns the line is on the disk. Whenever it is broken off, every earlier line is as it was.

    Args:
        path: of the book.
        event: as `new_event` makes it.

    Raises:
        InputError: the file is no book, or cannot be written; a line to strike that is not there.
    """
    line = f"{event.line}\n"
    with locked(path):
        if path.exists():
            _text_of(path)
            append_text(path, line)
        else:
            write_text(path, OPENING + line)


def strike(path: Path, mark: str, words: str = "", day: datetime.date | None = None) -> Event:
    """Strike a line of a book: it stays in the file and no longer counts.

    Args:
        path: of the book.
        mark: of the line.
        words: why.
        day: when it was struck; today where left out.

    Raises:
        InputError: no line has that mark.
    """
    if mark not in read_book(path).marks:
        message = f"no line here has the mark {shortened(visible(mark))}; it stands in brackets at a line's end."
        raise InputError(message, str(path))
    event = new_event("struck", day, words=words, struck=mark)
    add_event(path, event)
    return event


def merge(path: Path, other: Path) -> tuple[int, tuple[Problem, ...]]:
    """Add to a book every whole line of another copy that it has not.

    Args:
        path: the book that is added to.
        other: the other copy, which is left as it is.

    Returns:
        How many lines were added; and what was not, one sentence each: a line that differs between the two, a
        line of the other that is not whole.

    Raises:
        InputError: one of them is no book, or the book cannot be written.
    """
    with locked(path):
        own_lines = {line.mark: line for line in _lines(_text_of(path)) if line.mark}
        notices: list[Problem] = []
        missing: list[str] = []
        for line in _lines(_text_of(other)):
            place = f"{other}, line {line.number}"
            if not line.mark:
                notices.append(Problem(f"{line.broken} It was not added.", place))
            elif line.mark not in own_lines:
                own_lines[line.mark] = line
                missing.append(line.text)
            elif line.text != own_lines[line.mark].text:
                was = own_lines[line.mark].number
                notices.append(
                    Problem(f"it differs from line {was} of {path.name}, which was kept.", place)
                )
        if missing:
            append_text(path, "".join(f"{text}\n" for text in missing))
    return len(missing), tuple(notices)


def read_book(path: Path) -> Book:
    """Read a book. What is not whole or not understood is set aside, with a notice; the rest counts.

    Args:
        path: of the book.

    Raises:
        InputError: there is no file, or it is no book of a pack.
    """
    return parse_book(_text_of(path), str(path))


def parse_book(text: str, where: str = "book") -> Book:
    """The book in a text; see `read_book`.

    Args:
        text: the lines.
        where: what to call it in a message.

    Example:
        >>> book = parse_book('''# The book of a pack
        ... 2026-05-03 flown: time 14 min, charge 6100 mAh; windy [k7pm3xqd]
        ... 2026-05-04 flown: time 13 min, charge 58''')
        >>> [event.figures["charge_ah"] for event in book.events], len(book.notices)
        ([6.1], 1)
    """
    seen: dict[str, _BookLine] = {}
    notices: list[Problem] = []
    events: list[Event] = []
    for line in _lines(text):
        place = f"{where}, line {line.number}"
        if not line.mark:
            notices.append(Problem(f"{line.broken} It was set aside.", place))
            continue
        first = seen.setdefault(line.mark, line)
        if first is not line:
            if first.text != line.text:
                message = f"it has the mark of line {first.number} and says something else; it was set aside."
                notices.append(Problem(message, place))
            continue
        try:
            events.append(_event(line.text))
        except InputError as fault:
            notices += [
                Problem(f"{one.what} The line was set aside.", place) for one in fault.problems
            ]
    struck = {event.struck for event in events if event.struck} & {event.mark for event in events}
    notices += [
        Problem(f"a line strikes {event.struck}, which is no line here.", where)
        for event in events
        if event.struck and event.struck not in struck
    ]
    counted = [e for e in events if e.mark not in struck and e.kind != "struck"]
    return Book(
        Path(where).name,
        tuple(sorted(counted, key=lambda event: event.day)),
        tuple(event.line for event in events if event.mark in struck),
        tuple(notices),
        frozenset(seen),
    )


@dataclass(frozen=True)
class _BookLine:
    """A line of the file; its mark is empty where it is not whole."""

    number: int
    text: str
    mark: str

    @property
    def broken(self) -> str:
        """Why a line without a mark is none."""
        return (
            f"{shortened(self.text)!r} has no mark in brackets at its end: it was broken off, or written by "
            "hand; if it is whole, add one, as [mine01]."
        )


def _lines(text: str) -> Iterator[_BookLine]:
    for number, raw in enumerate(text.split("\n"), 1):
        line = raw.strip(" \t\r\0")
        if line and not line.startswith("#"):
            end = re.search(r"\[([A-Za-z0-9]{4,16})\]$", line)
            yield _BookLine(number, line, end[1] if end else "")


def _event(line: str) -> Event:
    """The event of a whole line."""
    found = _LINE.fullmatch(line)
    if found is None or found["kind"] not in KINDS:
        message = f"{shortened(line)!r} is not read: a day as 2026-05-03 and one of {', '.join(KINDS)} are needed."
        raise InputError(message)
    try:
        day = datetime.date.fromisoformat(found["day"])
    except ValueError:
        raise InputError(f"{found['day']} is no day of the calendar.") from None
    event = Event(day, found["kind"], {}, (found["words"] or "").strip(), found["mark"])
    message = (found["figures"] or "").strip()
    if event.kind == "struck":
        return replace(event, struck=message)
    return replace(event, figures=_figures(message))


def _figures(text: str) -> dict[str, float]:
    figures: dict[str, float] = {}
    for part in filter(None, _BETWEEN.split(text)):
        found = _FIGURE.fullmatch(part)
        quantity = _BY_LABEL.get(found["label"]) if found else None
        if found is None or quantity is None:
            message = f"{shortened(part)!r} is no figure of a book; words go behind a semicolon."
            raise InputError(message)
        if quantity.key in figures:
            raise InputError(f"{quantity.label} stands here twice.")
        try:
            figures[quantity.key] = _figure(quantity, found["value"])
        except InputError as fault:
            raise InputError(f"{quantity.label}: {fault}") from None
    return figures


def _text_of(path: Path) -> str:
    """The text of a book, bytes that are none made visible.

    Raises:
        InputError: no file, or not a book.
    """
    text = read_bytes(path, LARGEST_BYTES).decode("utf-8-sig", errors="backslashreplace")
    if not text.startswith(HEAD):
        message = (
            f'this is no book of a pack, which begins with "{HEAD}"; name the book, or a new file.'
        )
        raise InputError(message, str(path))
    return text
