"""The three kinds of exercise: a number to find, a choice to make, controls to set."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from workbook.exercises.check import Outcome, check_number
from workbook.exercises.slips import Slip
from workbook.working import Step


@dataclass(frozen=True)
class Drawn:
    """The numbers of one learner's question and what follows from them.

    Attributes:
        numbers: put into the question's text by name.
        expected: the right answer, in the exercise's unit.
        slips: wrong answers that have a name.
        working: how the right answer comes about.
    """

    numbers: Mapping[str, float | str]
    expected: float
    slips: tuple[Slip, ...] = ()
    working: tuple[Step, ...] = ()


@dataclass(frozen=True)
class NumberExercise:
    """A number to find, with numbers of its own for each learner.

    Attributes:
        id: short and lasting, such as `pack-current`; progress is kept under it.
        lesson: name of the lesson that it belongs to.
        question: text with `{name}` or `{name:.1f}` where a drawn number goes.
        make: draws the numbers from a random source and gives the answer with its slips and working.
        unit: of the answer.
        tolerance: greatest share by which an answer may be off.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about; a figure for planning a lesson (common practice, no source).

    Example:
        >>> exercise = NumberExercise(
        ...     "capacity",
        ...     "packs",
        ...     "{parallel} cells of 5 Ah in parallel hold how much?",
        ...     lambda draw: Drawn({"parallel": (p := draw.choice([2, 3, 4]))}, 5.0 * p),
        ...     "Ah",
        ... )
        >>> exercise.text(seed=1) == exercise.text(seed=1)
        True
        >>> exercise.check(1, exercise.drawn(1).expected).state
        'right'
    """

    id: str
    lesson: str
    question: str
    make: Callable[[random.Random], Drawn]
    unit: str = ""
    tolerance: float = 0.02
    hints: tuple[str, ...] = ()
    minutes: float = 4.0

    def drawn(self, seed: int) -> Drawn:
        """This learner's numbers: the same for the same seed, on every machine."""
        return self.make(random.Random(f"{seed}:{self.id}"))

    def text(self, seed: int) -> str:
        """The question with this learner's numbers."""
        return self.question.format(**self.drawn(seed).numbers)

    def check(self, seed: int, answer: str | float | None) -> Outcome:
        """Check this learner's answer."""
        drawn = self.drawn(seed)
        return check_number(answer, drawn.expected, self.tolerance, self.unit, drawn.slips)

    def working(self, seed: int) -> tuple[Step, ...]:
        """How this learner's right answer comes about."""
        return self.drawn(seed).working


@dataclass(frozen=True)
class Option:
    """One answer to choose: its text, what to say to it, and whether it is right."""

    text: str
    message: str
    right: bool = False


@dataclass(frozen=True)
class ChoiceExercise:
    """One of several answers to choose.

    Attributes:
        id: short and lasting.
        lesson: name of the lesson.
        question: the text.
        options: exactly one is right; each says what follows from it.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about.

    Raises:
        ValueError: none or several of the options are right.

    Example:
        >>> exercise = ChoiceExercise(
        ...     "burst",
        ...     "cells",
        ...     "May a cell give its burst current through a whole hover?",
        ...     (
        ...         Option("yes", "A burst lasts seconds."),
        ...         Option("no", "It would overheat.", right=True),
        ...     ),
        ... )
        >>> exercise.check("yes").state, exercise.check("no").state, exercise.check(None).state
        ('slip', 'right', 'unanswered')
    """

    id: str
    lesson: str
    question: str
    options: tuple[Option, ...]
    hints: tuple[str, ...] = ()
    minutes: float = 2.0

    def __post_init__(self) -> None:
        """Refuse a question without exactly one right option."""
        if sum(option.right for option in self.options) != 1:
            raise ValueError(f"exercise {self.id} needs exactly one right option.")

    def check(self, answer: str | None) -> Outcome:
        """Check the text of the chosen option."""
        for option in self.options:
            if option.text == answer:
                if option.right:
                    return Outcome("right", f"Right. {option.message}")
                return Outcome("slip", option.message)
        return Outcome("unanswered", "Not answered yet.")


@dataclass(frozen=True)
class Condition:
    """One thing that the live figure must show.

    Attributes:
        holds: told from the live figure's result.
        off: what to say when it does not hold.
    """

    holds: Callable[[Any], bool]
    off: str


@dataclass(frozen=True)
class SettingExercise:
    """Controls to set so that the live figure shows what is asked.

    Attributes:
        id: short and lasting.
        lesson: name of the lesson.
        task: what to reach.
        conditions: all of them must hold.
        why: what there is to see once they do.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about.

    Example:
        >>> exercise = SettingExercise(
        ...     "cap",
        ...     "packs",
        ...     "Set the pack so that it holds 10 Ah or more.",
        ...     (Condition(lambda ah: ah >= 10, "It holds less than 10 Ah."),),
        ...     "Parallel adds charge.",
        ... )
        >>> exercise.check(8.0).message, exercise.check(12.0).state
        ('Not there yet. It holds less than 10 Ah.', 'right')
    """

    id: str
    lesson: str
    task: str
    conditions: tuple[Condition, ...]
    why: str = ""
    hints: tuple[str, ...] = field(default=())
    minutes: float = 3.0

    def check(self, result: Any) -> Outcome:
        """Check what the live figure shows; None where it shows nothing yet."""
        if result is None:
            return Outcome("unanswered", "The live figure shows no result yet.")
        off = [c.off for c in self.conditions if not c.holds(result)]
        if off:
            return Outcome("wrong", " ".join(["Not there yet.", *off]))
        return Outcome("right", f"Right. {self.why}".strip())


Exercise = NumberExercise | ChoiceExercise | SettingExercise
