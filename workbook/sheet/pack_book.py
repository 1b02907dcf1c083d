"""A pack's book: a line written into it, held against the design where one is named, and its page as text."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from workbook.files.design_file import DesignFile, read_design
from workbook.flightlog.book import Event, add_event, new_event, plain_words
from workbook.flightlog.proof import Acceptance, accept
from workbook.flightlog.wear import LEAST_POINTS, Life
from workbook.numbers import rounded
from workbook.sheet.plan import plan_build
from workbook.sizing.size import size

LAST_LINES = 5
FIRST_FIGURE = {"flown": "time_min", "charged": "charge_ah", "stored": "rest_v"}
"""Figure that a person gives first with an event; with any other kind it is words or a design."""
DESIGN_KINDS = ("built", "tested")


def note_event(
    book: Path,
    kind: str,
    first: str = "",
    figures: Mapping[str, str | float] | None = None,
    words: str = "",
    day: datetime.date | None = None,
) -> tuple[Event, Acceptance | None]:
    """Write what happened into a book.

    Args:
        book: its path; a book that is not there is begun.
        kind: what happened (`workbook.flightlog.book.KINDS`).
        first: the first detail: minutes of a flight, a charge, a voltage, a design of which the pack was
            built or to which it is tested; else words.
        figures: by the keys of `workbook.quantities.NOTED`.
        words: what else to remember.
        day: on which it happened; today where left out.

    Returns:
        The event, and of a pack tested to a design the verdict of its acceptance table.

    Raises:
        InputError: a figure, design or book that cannot be used; nothing was written then.
    """
    stated, judged = dict(figures or {}), None
    if first and kind in FIRST_FIGURE:
        stated = {FIRST_FIGURE[kind]: first, **stated}
    elif first and kind not in DESIGN_KINDS:
        words = f"{first}. {words}" if words else first
    elif first and kind == "built":
        file = read_design(first)
        stated, words = {**figures_of_design(file), **stated}, words or file.design.name
    event = new_event(kind, day, stated, words)
    if first and kind == "tested":
        judged = acceptance_of(read_design(first), event)
        event = replace(
            event, words=" ".join(filter(None, (plain_words(judged.words), event.words)))
        )
    add_event(book, event)
    return event, judged


def figures_of_design(file: DesignFile) -> dict[str, float]:
    """What a book states of a pack built to a design; its price where the design's cells have one."""
    pack, packs = file.design.one_pack, file.design.joining.packs
    plan = plan_build(size(file.design), file.settings)
    figures = {
        "series": float(pack.series),
        "parallel": float(pack.parallel),
        "rated_ah": float(pack.capacity_ah),
    }
    return figures | ({"price": round(plan.bill.cost / packs, 2)} if plan.bill.cost else {})


def acceptance_of(file: DesignFile, event: Event) -> Acceptance:
    """The verdict of a design's acceptance table on the figures of an event."""
    plan = plan_build(size(file.design), file.settings)
    return accept(plan.acceptance, event.figures)


def book_text(found: Life) -> str:
    """The state of a pack in its life: what is unsafe first, then wear, cost, what to watch, the last lines.

    Args:
        found: as `workbook.flightlog.wear.life` gives it.

    Example:
        >>> import datetime
        >>> from workbook.flightlog.book import parse_book
        >>> from workbook.flightlog.wear import life
        >>> book = parse_book(
        ...     "# The book of a pack\\n2026-05-03 flown: time 14 min [bbbbbbbb]\\n", "H-1.txt"
        ... )
        >>> print(book_text(life(book, datetime.date(2026, 5, 3))).splitlines()[0])
        H-1.txt: 1 flight, 14 min in the air, 1.0 full cycles, 0.0 years.
    """
    flights = f"{found.flights} flight{'' if found.flights == 1 else 's'}"
    lines = [
        f"{found.book.name}: {flights}, {found.minutes:.0f} min in the air, {found.cycles:.1f} full cycles, "
        f"{found.years:.1f} years.",
        *found.stops,
    ]
    parts = {
        "How it wears": [*wear_lines(found), retire_text(found), *_cost(found)],
        "What to watch": found.watch,
        "What was taken as read": found.taken,
        "What was set aside": [str(notice) for notice in found.book.notices],
        "The last lines": [event.line for event in found.book.events[-LAST_LINES:]],
    }
    for title, texts in parts.items():
        if texts:
            lines += ["", title, *(f"  {line}" for line in texts)]
    return "\n".join(lines)


def wear_lines(found: Life) -> list[str]:
    """Every trend in a sentence, or why there is none yet."""
    if found.trends:
        return [one.text() for one in found.trends]
    return [
        f"No trend yet: it takes {LEAST_POINTS} measurements of resistance, capacity or the spread of the groups."
    ]


def retire_text(found: Life) -> str:
    """When the pack comes to its retiring rule."""
    whence = (
        "by what was measured"
        if found.by_trend
        else "by the usual wear, which yours may not follow"
    )
    flights = found.flights_left
    also = f", some {rounded(flights, 0, 'down'):.0f} flights" if math.isfinite(flights) else ""
    return f"Left until it retires: about {rounded(found.cycles_left, 0, 'down'):.0f} full cycles{also}; {whence}."


def _cost(found: Life) -> list[str]:
    if found.cost is None or found.whole_life_cost is None:
        return []
    return [
        f"Price a flight: {found.cost:.2f} so far, {found.whole_life_cost:.2f} when it retires."
    ]
