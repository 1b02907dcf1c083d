"""What the workbook says about input that it cannot use, and about input that it used with a doubt."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One clear sentence about one place in the user's input.

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

    def __str__(self) -> str:
        """The place and the sentence on one line."""
        return f"{self.where}: {self.what}" if self.where else self.what


class InputError(ValueError):
    """Input that cannot be used: every problem found, one sentence each.

    Args:
        problems: a sentence, a `Problem`, or several of either.

    Example:
        >>> str(InputError("series is 0; 1 to 24 is needed."))
        'series is 0; 1 to 24 is needed.'
    """

    def __init__(self, problems: str | Problem | Iterable[str | Problem]) -> None:
        if isinstance(problems, str | Problem):
            problems = (problems,)
        self.problems: tuple[Problem, ...] = tuple(
            p if isinstance(p, Problem) else Problem(p) for p in problems
        )
        super().__init__("\n".join(str(p) for p in self.problems))
