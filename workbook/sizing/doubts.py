"""Doubts about a design's inputs: figures that can be but are not likely, to be looked at before it flies."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Any

from workbook.errors import Problem
from workbook.sizing.design import Design


@dataclass(frozen=True)
class Doubt:
    """One figure that is unlikely, and what it would mean if it is a slip.

    Attributes:
        key: short name of the rule, in lower case with underscores.
        about: its subject, the word that answers it in a design's `sure`: "mass", "table", "cell".
        text: one sentence: which figure, its value, what it would mean, what is usual.
        answered: whether the builder has said to be sure of that subject.

    Example:
        >>> doubt = Doubt("craft_mass", "mass", "craft.mass_without_pack_g is 2.1 g; ...")
        >>> doubt.answer
        'if it is right, put "mass" into the list sure of the design file: sure = ["mass"]'
        >>> answered((doubt,), ["mass"])[0].answered
        True
    """

    key: str
    about: str
    text: str
    answered: bool = False

    @property
    def answer(self) -> str:
        """How to answer it, in words."""
        return (
            f'if it is right, put "{self.about}" into the list sure of the design file: '
            f'sure = ["{self.about}"]'
        )

    @property
    def line(self) -> str:
        """The doubt on one line, as answered where it is."""
        if self.answered:
            return f'answered, sure = ["{self.about}"]: {self.text}'
        return f"doubt about {self.about}: {self.text} {self.answer[0].upper()}{self.answer[1:]}."


def answered(doubts: tuple[Doubt, ...], sure: Collection[str]) -> tuple[Doubt, ...]:
    """The doubts, each marked where the builder is sure of its subject.

    Args:
        doubts: as raised.
        sure: subjects that the builder has checked, as a design's `sure` lists them.
    """
    return tuple(replace(doubt, answered=doubt.about in sure) for doubt in doubts)


def doubts(design: Design[Any], notices: Iterable[Problem] = ()) -> tuple[Doubt, ...]:
    """Every doubt about a single design, those that its `sure` names marked as answered.

    Args:
        design: the design.
        notices: of the readers of its files; those with a subject are doubts.

    Example:
        >>> from types import SimpleNamespace
        >>> notice = Problem("30 A from 2 Ah.", "heron.toml", about="cell")
        >>> doubts(SimpleNamespace(sure=("cell",)), [notice])[0].line
        'answered, sure = ["cell"]: heron.toml: 30 A from 2 Ah.'
    """
    read = (Doubt(f"{n.about}_file", n.about, str(n)) for n in notices if n.about)
    return answered(tuple(read), design.sure)
