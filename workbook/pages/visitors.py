"""Who visits shared pages: a word to come back with, a folder of their own, and how often they may knock."""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from workbook.data.notebooks import PACKAGE
from workbook.errors import InputError
from workbook.files.reading import read_text
from workbook.files.records import parse_json
from workbook.files.writing import locked, write_text
from workbook.opening import lay_out

KEPT_FOLDER = Path(".workbook")
"""Folder, beside the notebooks, of what sharing keeps: the club's word, and a folder for each visitor."""

WORDS = (PACKAGE / "data" / "words.txt").read_text("utf-8").split()
"""Short, easily distinguished and spelt; with four figures, two of them make some hundred million."""


def new_word() -> str:
    """A word that nobody guesses: two names and four figures.

    Example:
        >>> len(new_word().split("-"))
        3
    """
    return f"{secrets.choice(WORDS)}-{secrets.choice(WORDS)}-{secrets.randbelow(9000) + 1000}"


def as_word(typed: str) -> str:
    """A word as it was given out, however it was typed.

    Example:
        >>> as_word(" Reed otter  4821 ")
        'reed-otter-4821'
    """
    return "-".join(re.findall(r"[a-z0-9]+", typed[:200].lower()))


class Turnstile:
    """How often something may be done in a minute.

    Args:
        most: times a minute.
        clock: gives seconds.

    Example:
        >>> door = Turnstile(2, clock=lambda: 0.0)
        >>> door.passes("a"), door.passes("a"), door.passes("a"), door.passes("b")
        (True, True, False, True)
    """

    def __init__(self, most: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._most, self._clock = most, clock
        self._past: dict[str, deque[float]] = defaultdict(deque)

    def passes(self, who: str) -> bool:
        """Whether they may pass now; who may not is not counted."""
        now = self._clock()
        if len(self._past) > 10_000:
            self._past = defaultdict(
                deque, {w: d for w, d in self._past.items() if d[-1] > now - 60}
            )
        past = self._past[who]
        while past and past[0] <= now - 60:
            past.popleft()
        if len(past) >= self._most:
            return False
        past.append(now)
        return True


@dataclass(frozen=True)
class Visitor:
    """One who visits.

    Attributes:
        id: name of their folder, from which the word cannot be found.
        word: with which they come back.
        folder: where what they keep is.
    """

    id: str
    word: str
    folder: Path


class Visitors:
    """Those who have a folder here. What is needed to find it again outlasts the server.

    Args:
        folder: of the notebooks that are shared.
        most: folders that are kept.

    Attributes:
        club: the word in the address that is given out.
        secret: with which cookies are signed and folders are named.
        folders: where the visitors' folders are.

    Raises:
        InputError: nothing can be kept in the folder.

    Example:
        >>> import tempfile
        >>> shared = Path(tempfile.mkdtemp())
        >>> visitor = Visitors(shared).welcome()
        >>> Visitors(shared).back(visitor.word) == visitor
        True
    """

    def __init__(self, folder: Path, most: int = 1000) -> None:
        self._source, self._most = folder.resolve(), most
        self.folders = self._source / KEPT_FOLDER / "visitors"
        record = self._source / KEPT_FOLDER / "share.json"
        with locked(record):
            self.secret, self.club = _secret(record)
        self.folders.mkdir(mode=0o700, parents=True, exist_ok=True)

    def welcome(self) -> Visitor:
        """A new visitor, with the demo designs and tables in a folder of their own.

        Raises:
            InputError: no more folders are kept here, or none can be written.
        """
        if sum(1 for _ in self.folders.iterdir()) >= self._most:
            raise InputError(f"{self._most} folders are kept here already; no new ones are begun.")
        visitor = self._named(new_word())
        if visitor.folder.exists():
            return self.welcome()
        write_text(visitor.folder / KEPT_FOLDER / "word.txt", visitor.word + "\n")
        return visitor

    def furnish(self, visitor: Visitor) -> None:
        """Put into a visitor's folder what it lacks of the shared one; what they changed stays theirs."""
        lay_out(self._source, visitor.folder, pages=False)

    def back(self, word: str) -> Visitor | None:
        """The visitor who was given a word; None where there is none."""
        visitor = self._named(as_word(word))
        return visitor if visitor.folder.is_dir() else None

    def of(self, visitor_id: str) -> Visitor | None:
        """The visitor of a folder; None where it is not there."""
        folder = self.folders / visitor_id
        if not re.fullmatch("[0-9a-f]{24}", visitor_id) or not folder.is_dir():
            return None
        return Visitor(
            visitor_id, read_text(folder / KEPT_FOLDER / "word.txt", 100).strip(), folder
        )

    def _named(self, word: str) -> Visitor:
        made = hmac.new(self.secret, word.encode(), hashlib.sha256).hexdigest()[:24]
        return Visitor(made, word, self.folders / made)


def _secret(record: Path) -> tuple[bytes, str]:
    """What names folders and signs cookies, and the club's word; made where there is none."""
    if not record.exists():
        kept = {"secret": secrets.token_hex(32), "club": new_word()}
        write_text(record, json.dumps(kept, indent=1))
        os.chmod(record, 0o600)
    found = parse_json(read_text(record, 10_000), record.name)
    try:
        return bytes.fromhex(found["secret"]), str(found["club"])
    except (KeyError, TypeError, ValueError):
        message = (
            "this does not hold what sharing needs. Delete it, and a new one is made; visitors' words then lead "
            "nowhere, and what they kept stays in the folder visitors beside it."
        )
        raise InputError(message, str(record)) from None
