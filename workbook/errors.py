"""Messages about input that cannot be used, and about input that was used with a doubt."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

LONGEST_REPEATED = 60
"""Characters of somebody's input that a message repeats."""
LONGEST_SENTENCE, LONGEST_PLACE = 600, 160
MOST_LISTED = 10
"""Problems that are listed one by one; of the others their number is shown."""

CONTROL = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u2064\u2066-\u2069\ud800-\udfff\ufeff]"
)
"""What a terminal or a page obeys instead of showing it: controls, line breaks, turns of the writing's
direction, halves of characters, and what has no width. Source: Unicode Standard, general categories Cc,
Zl, Zp, Cs; Unicode Standard Annex 9, table 2 (marks of direction); Unicode Standard, chapter 23 (soft
hyphen, zero width space, word joiner, invisible operators, byte order mark), from memory."""


def visible(text: str) -> str:
    """Text on one line, with whatever a terminal or a page would obey written out.

    Example:
        >>> print(visible("heron\\x1b[2K\\u202e.toml"))
        heron\\x1b[2K\\u202e.toml
    """
    return CONTROL.sub(lambda sign: ascii(sign[0])[1:-1], text)


def shortened(text: str, longest: int = LONGEST_REPEATED) -> str:
    """Text with its middle left out where it is longer than that; its end is kept, because it names what would be right.

    Example:
        >>> shortened("a" * 50 + "b" * 50, 20)
        'aaaaaaaaaaa...bbbbbb'
    """
    if len(text) <= longest:
        return text
    head = (longest - 3) * 2 // 3
    return f"{text[:head]}...{text[head + 3 - longest :]}"


def first_of(lines: Iterable[str], most: int = MOST_LISTED) -> tuple[str, ...]:
    """The first of many lines, and how many more there are.

    Example:
        >>> first_of("abcde", 3)
        ('a', 'b', 'c', 'and 2 more.')
    """
    lines = tuple(lines)
    if len(lines) <= most + 1:
        return lines
    return (*lines[:most], f"and {len(lines) - most} more.")


@dataclass(frozen=True)
class Problem:
    """One clear sentence about one place in the user's input; what it repeats of it is made visible, and short.

    Attributes:
        what: the sentence: which value, and what would be right.
        where: file, row, column or key; empty when there is only one place it could be.
        about: where it casts a doubt that must be answered before a design holds: its subject, as
            "table" or "cell"; empty for a remark.

    Example:
        >>> str(Problem("mass is -5 g; a mass above 0 g is needed.", "heron.toml, craft.mass_g"))
        'heron.toml, craft.mass_g: mass is -5 g; a mass above 0 g is needed.'
    """

    what: str
    where: str = ""
    about: str = ""

    def __post_init__(self) -> None:
        """Make visible what is repeated of the input, and cut what is too long."""
        words = re.sub(rf"\S{{{LONGEST_REPEATED + 1},}}", lambda w: shortened(w[0]), self.what)
        object.__setattr__(self, "what", shortened(visible(words), LONGEST_SENTENCE))
        object.__setattr__(self, "where", shortened(visible(self.where), LONGEST_PLACE))

    def __str__(self) -> str:
        """The place and the sentence on one line."""
        return f"{self.where}: {self.what}" if self.where else self.what


class InputError(ValueError):
    """Input that cannot be used: every problem found, one sentence each.

    Args:
        problems: a sentence, a `Problem`, or several of either.
        where: the place that the sentences are about.

    Example:
        >>> str(InputError("series is 0; 1 to 24 is needed.", "heron.toml"))
        'heron.toml: series is 0; 1 to 24 is needed.'
    """

    def __init__(self, problems: str | Problem | Iterable[str | Problem], where: str = "") -> None:
        if isinstance(problems, str | Problem):
            problems = (problems,)
        self.problems: tuple[Problem, ...] = tuple(
            p if isinstance(p, Problem) else Problem(p, where) for p in problems
        )
        super().__init__("\n".join(self.lines))

    @property
    def lines(self) -> tuple[str, ...]:
        """The problems in sentences, for a page or a terminal: the first ten, and how many more there are."""
        return first_of(str(p) for p in self.problems)


def refuse(problems: Iterable[Problem]) -> None:
    """Stop where there are problems.

    Args:
        problems: every one found.

    Raises:
        InputError: there is one or more.
    """
    found = tuple(problems)
    if found:
        raise InputError(found)


@contextmanager
def naming(place: str) -> Iterator[None]:
    """Put a place before that of every problem found within: the file, or the part of it, that is worked with.

    Args:
        place: file, section or part.

    Raises:
        InputError: the same problems, each with the place.

    Example:
        >>> with naming("heron.toml"):
        ...     raise InputError(Problem("no headway against the wind.", "phase 2"))
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: heron.toml, phase 2: no headway against the wind.
    """
    try:
        yield
    except InputError as fault:
        raise InputError(
            replace(p, where=_within(place, p.where)) for p in fault.problems
        ) from None


def _within(place: str, where: str) -> str:
    """A place with the one that it is in before it, named once."""
    if not where or where == place or where.startswith(f"{place}, "):
        return where or place
    return f"{place}, {where}"
