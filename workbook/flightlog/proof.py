"""The finished pack held against the acceptance table of its build sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from workbook.bench.procedure import CheckItem
from workbook.errors import InputError
from workbook.numbers import Side

FAILS = "FAILS"
"""Begins the words of a book about a pack that is not accepted."""


@dataclass(frozen=True)
class Judged:
    """One line of the acceptance table with what was measured.

    Attributes:
        item: the line.
        found: what was measured; None where it was not.
    """

    item: CheckItem
    found: float | None

    @property
    def passes(self) -> bool | None:
        """Whether it lies within the limits; None where it was not measured."""
        return None if self.found is None else self.item.passes(self.found)

    def text(self) -> str:
        """In a sentence."""
        item = self.item
        if self.found is None:
            return f"{item.text}: not measured ({item.limits_text} passes)."
        over = item.high is not None and self.found > item.high
        side: Side = "up" if over else "down" if not self.passes else "nearest"
        word = "passes" if self.passes else FAILS
        return f"{item.text}: {item.shown(self.found, side)} {item.shown_unit}, {word} ({item.limits_text})."


@dataclass(frozen=True)
class Acceptance:
    """The verdict of the acceptance table on a pack.

    Attributes:
        lines: of the table, in its order.
    """

    lines: tuple[Judged, ...]

    @property
    def failed(self) -> tuple[Judged, ...]:
        """What does not pass."""
        return tuple(line for line in self.lines if line.passes is False)

    @property
    def open(self) -> tuple[Judged, ...]:
        """What was not measured."""
        return tuple(line for line in self.lines if line.passes is None)

    @property
    def passes(self) -> bool:
        """Whether everything was measured and passes."""
        return not self.failed and not self.open

    @property
    def words(self) -> str:
        """The verdict on one line, as it goes into the pack's book."""
        if self.failed:
            return f"{FAILS}: " + " ".join(line.text() for line in self.failed)
        if self.open:
            return f"passes as far as measured; not measured: {', '.join(line.item.text for line in self.open)}"
        return "passes every line of the acceptance table"


def accept(items: Sequence[CheckItem], figures: Mapping[str, float]) -> Acceptance:
    """Hold measured figures against an acceptance table.

    Args:
        items: the table (`BuildPlan.acceptance`).
        figures: what was measured, by the keys of `workbook.quantities.NOTED`.

    Raises:
        InputError: the table is empty, as of a design whose flight cannot be computed, or nothing on it was measured.

    Source: the limits are those of `workbook/data/checks.toml`: common practice, no source.

    Example:
        >>> from workbook.bench.procedure import checks
        >>> table = checks(
        ...     "acceptance", series=6, pack_mohm=40.0, mass_g=900.0, charge_ah=8.0, max_c=60.0
        ... )
        >>> found = accept(table, {"resistance_mohm": 50.4, "mass_g": 905.0})
        >>> found.passes, found.failed[0].text()
        (False, 'resistance of the pack: 51 mΩ, FAILS (up to 48\\xa0mΩ).')
    """
    if not items:
        message = "the design's sheet has no acceptance table, because its flight is not known; mend the design first."
        raise InputError(message)
    known = {key: value for key, value in figures.items() if math.isfinite(value)}
    lines = tuple(Judged(item, known.get(item.key)) for item in items)
    if all(line.found is None for line in lines):
        message = f"nothing on the acceptance table was measured; it asks for {', '.join(i.text for i in items)}."
        raise InputError(message)
    return Acceptance(lines)
