"""One design at every place of some of its figures: what is found there, for a page that only looks it up."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from workbook.errors import InputError, Problem
from workbook.numbers import by_row
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design
from workbook.sizing.limits import Subject, limits_of, stops_of, suspects
from workbook.sizing.size import SizingResult, judged


@dataclass(frozen=True, eq=False)
class Places:
    """A design with one cell at every place of its other figures, the last of them fastest.

    Attributes:
        figures: the figures of steady flight by name, one a place; NaN where there is no such figure.
        answers: what is found at each place, or why nothing can be. Of a place that breaks a limit as planned only
            what it breaks: its flights are not drawn and its mission is not flown.
    """

    figures: Mapping[str, np.ndarray]
    answers: tuple[SizingResult | InputError, ...]


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
        progress: told after some places how many of them are done.

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
    many = design.changed(**columns)
    craft_type = craft_type_of(many)
    point = craft_type.operate(many)
    figures = {
        key: np.broadcast_to(np.asarray(value), (count, 1))[:, 0]
        for key, value in craft_type.figures(many, point).items()
    }
    subject = Subject(many, point)
    asked = suspects(subject)
    take = by_row(subject, count)
    answers: list[SizingResult | InputError] = []
    for place in range(count):
        one = take(place)
        rules = [rule for rule, where in asked if where[place, 0]]
        unsafe = stops_of(one, rules)
        broken = () if unsafe else limits_of(one, rules)
        found = SizingResult(one.design, one.flown, broken, unsafe)
        answers.append(found if not found.kept else _judged(one, notices))
        progress(place + 1)
    return Places(figures, tuple(answers))


def _judged(subject: Subject, notices: Sequence[Problem]) -> SizingResult | InputError:
    """What is found for a single design, or why nothing can be."""
    try:
        return judged(subject.design, subject.point, tuple(notices))
    except InputError as fault:
        return fault
