"""One design at every place of some of its figures: what is found there, for a page that only looks it up."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import by_row
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.limits import RuleLimits, Subject, figures_to_stop, rule_limits
from workbook.sizing.size import Answer, SizingResult, judged
from workbook.units import filled

BATCH = 512
"""Places that are worked out together; more of them at once do not fit a processor's own memory, and take longer."""


@dataclass(frozen=True)
class Breach:
    """What one of many designs breaks as planned, in words.

    Attributes:
        stops: reasons not to build or fly it as it stands.
        broken: what the limits that it breaks mean; empty where something stops it.
    """

    stops: tuple[str, ...]
    broken: tuple[str, ...]

    @property
    def verdict(self) -> Answer:
        """The verdict on it, as `SizingResult` has it."""
        return "unsafe" if self.stops else "not yet"


PlaceAnswer: TypeAlias = SizingResult | Breach | InputError
"""Of one place: what is found, what it breaks as planned, or why nothing can be found."""


@dataclass(frozen=True, eq=False)
class Places:
    """A design with one cell at every place of its other figures, the last of them fastest.

    Attributes:
        figures: the figures of steady flight by name, one a place; NaN where there is no such figure.
        answers: what is found at each place. Of a place that breaks a limit as planned only what it breaks: its
            flights are not drawn and its mission is not flown.
    """

    figures: Mapping[str, np.ndarray]
    answers: tuple[PlaceAnswer, ...]


def places(
    design: Design[Any],
    varied: Mapping[str, Sequence[float]],
    notices: Sequence[Problem] = (),
    progress: Callable[[int], None] = lambda done: None,
) -> Places:
    """Work out a design at every combination of some of its figures.

    What breaks no limit as planned is judged like any other design (`workbook.sizing.size.judged`), so that its
    verdict counts drawn flights, mission, doubts and what is assumed.

    Args:
        design: a single design.
        varied: figures of the design, each with its values.
        notices: as `size` takes them.
        progress: called after some places with how many of them are done.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> found = places(six, {"series": [6, 7], "payload_g": [350.0, 900.0]})
        >>> [answer.verdict for answer in found.answers]
        ['close', 'unsafe', 'unsafe', 'unsafe']
    """
    design = replace(design, today=None)
    mesh = np.meshgrid(*varied.values(), indexing="ij")
    columns = {
        key: values.reshape(-1, 1).astype(float) for key, values in zip(varied, mesh, strict=True)
    }
    count = mesh[0].size
    figures: dict[str, list[np.ndarray]] = {}
    answers: list[PlaceAnswer] = []
    for some in np.array_split(np.arange(count), -(-count // BATCH)):
        many = design.changed(**{key: values[some] for key, values in columns.items()})
        point = craft_type_of(many).operate(many)
        for key, value in craft_type_of(many).figures(many, point).items():
            figure = value() if callable(value) else value
            row = np.broadcast_to(np.asarray(figure), (len(some), 1))[:, 0]
            figures.setdefault(key, []).append(row)
        for found in _answers(Subject(many, point), len(some), notices):
            answers.append(found)
            progress(len(answers))
    joined = {key: np.concatenate(rows) for key, rows in figures.items()}
    return Places(joined, tuple(answers))


def _answers(subject: Subject, count: int, notices: Sequence[Problem]) -> Iterator[PlaceAnswer]:
    """What is found at each of some places that are worked out together."""
    limits = rule_limits(subject)
    one_of = by_row(subject, count)  # with what the limits have worked out of it
    for place, breach in enumerate(_breaches(limits, subject, one_of, count)):
        yield _judged(one_of(place), notices) if breach is None else breach


def _judged(subject: Subject, notices: Sequence[Problem]) -> SizingResult | InputError:
    """What is found for a single design, or why nothing can be."""
    try:
        return judged(subject, tuple(notices))
    except InputError as fault:
        return fault


def _breaches(
    limits: RuleLimits,
    subject: Subject,
    one_of: Callable[[int], Subject],
    count: int,
) -> tuple[Breach | None, ...]:
    """What each of many designs breaks as planned; None where that is nothing.

    Args:
        limits: rules, each with the limit that it makes of the designs.
        subject: designs with their operating point, arrays of shape (count, 1).
        one_of: takes one of them.
        count: how many there are.

    Returns:
        Of each the words that `stops` and `limits` have of it alone.
    """
    stops: list[list[str]] = [[] for _ in range(count)]
    broken: list[list[str]] = [[] for _ in range(count)]
    explained = np.zeros(count, dtype=bool)
    for rule, limit in limits:
        demand, most, where = (
            np.broadcast_to(one, (count, 1))[:, 0]
            for one in (limit.demand, limit.limit, rule.breaks(limit))
        )
        for row in np.flatnonzero(where & ~explained).tolist():
            figures = {"demand": demand[row], "limit": most[row]}
            for text, named, texts in (
                (rule.stop, figures_to_stop(**figures), stops),
                (rule.limit_text, figures, broken),
            ):
                if text:
                    texts[row].append(_filled_for(text, named, subject, one_of, row))
        if rule.alone:
            explained |= where
    return tuple(
        Breach(tuple(stop), () if stop else tuple(less)) if stop or less else None
        for stop, less in zip(stops, broken, strict=True)
    )


def _filled_for(
    text: str, words: dict[str, Any], subject: Subject, one_of: Callable[[int], Subject], row: int
) -> str:
    """A text of one of many designs; that one is only taken out where the text names a figure in which they differ."""
    try:
        return filled(text, **words, s=subject)
    except TypeError:  # an array is not formatted as a number is
        return filled(text, **words, s=one_of(row))
