"""The three kinds of exercise: a number to find, a choice to make, controls to set. Records and checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import floor, log10
from random import Random
from types import SimpleNamespace
from typing import Any, Literal

from workbook.errors import InputError
from workbook.exercises.slips import distinct_slips, is_near
from workbook.numbers import plain
from workbook.parse import parse_number, read_number
from workbook.working import Step, has_step, step

State = Literal["unanswered", "right", "slip", "wrong"]


@dataclass(frozen=True)
class Checked:
    """What a check found.

    Attributes:
        state: `unanswered`, `right`, `slip` (wrong in a way that has a name) or `wrong`.
        message: one or two sentences to the learner.
    """

    state: State
    message: str

    @property
    def right(self) -> bool:
        """Whether the answer is right."""
        return self.state == "right"


NOT_ANSWERED = Checked("unanswered", "Not answered yet.")


ENOUGH_FIGURES = 2
"""An answer rounded to fewer is too coarse to be judged right."""


def _rounding(answer: str) -> tuple[float, int] | None:
    """How far an answer as typed may have been rounded, as a share of it, and how many figures it has."""
    found = read_number(answer)
    if found is None or not found.readings[-1].value:
        return None
    typed = found.readings[-1]
    size = abs(typed.value)
    return typed.half_step / size, floor(log10(size / (2.0 * typed.half_step)) + 1e-9) + 1


def check_number(
    answer: str | float | None,
    expected: float,
    tolerance: float,
    unit: str = "",
    slips: Mapping[str, float] | None = None,
) -> Checked:
    """Check a number that a learner gave.

    Args:
        answer: as typed (decimal comma or point, unit or none), a number, or None for no answer yet.
        expected: the right value, in `unit`.
        tolerance: greatest share by which the answer may be off, such as 0.02; an answer that is the right
            value honestly rounded, to two figures or more, is right too.
        unit: the wanted unit.
        slips: message to the wrong value that it is about; the first one that fits is used.

    Returns:
        The result; never an error, whatever was typed.

    Example:
        >>> check_number("10,1", 10.0, 0.02, "Ah").state
        'right'
        >>> check_number("10000", 10.0, 0.02, "Ah", {"That is in mAh.": 10000.0}).message
        'That is in mAh.'
        >>> check_number(None, 10.0, 0.02).state
        'unanswered'
    """
    if answer is None or (isinstance(answer, str) and not answer.strip()):
        return NOT_ANSWERED
    try:
        value = parse_number(answer, unit)
    except InputError as error:
        return Checked("unanswered", f"{error}")
    shown = f"{value:.6g} {unit}".strip()
    if is_near(value, expected, tolerance):
        return Checked("right", f"Right: {shown}.")
    for message, wrong in (slips or {}).items():
        if is_near(value, wrong, tolerance):
            return Checked("slip", message)
    if isinstance(answer, str) and (reach := _rounding(answer)) is not None:
        share, figures = reach
        if abs(value - expected) <= share * abs(value) * (1 + 1e-9):
            others = (wrong for wrong in (slips or {}).values())
            clear = not any(abs(value - wrong) <= share * abs(value) for wrong in others)
            if figures >= ENOUGH_FIGURES and clear:
                exact = f"{expected:.4g} {unit}".strip()
                return Checked("right", f"Right: {shown}, to more figures {exact}.")
            return Checked("unanswered", f"Nearly: {shown} is rounded too far; give three figures.")
    if value * expected < 0:
        return Checked("wrong", f"{shown} has the wrong sign.")
    direction = "too high" if value > expected else "too low"
    return Checked("wrong", f"{shown} is {direction}.")


@dataclass(frozen=True)
class Drawn:
    """One learner's question with its answer.

    Attributes:
        text: the question.
        expected: the right answer, in the exercise's unit.
        slips: message to the wrong value that it is about.
        working: how the right answer comes about.
        given: what was drawn, by name.
        clear: whether it is plausible, and no slip leads to the right answer or to that of another slip.
    """

    text: str
    expected: float
    slips: Mapping[str, float]
    working: tuple[Step, ...]
    given: Any
    clear: bool


MOST_DRAWS = 500
"""A question is drawn anew until it is clear; where a club's own rules let none be, the last one is asked."""


@dataclass(frozen=True)
class NumberExercise:
    """A number to find, with numbers of its own for each learner.

    Attributes:
        id: short and lasting, such as `pack-current`; progress is kept under it.
        question: text with `{name}` or `{name:.1f}` where a drawn number goes.
        unit: of the answer.
        tolerance: greatest share by which an answer may be off.
        draw: name to the values it is drawn from, or to a function of what is drawn so far (`d.name`;
            `d.random` draws). Two names, "series parallel", share one draw of pairs.
        slips: of what is drawn and the right `d.answer`: message to the wrong value that it is about.
        plausible: of what is drawn and `d.answer`: whether a practitioner could meet it.
        answer: of what is drawn; the result of the last of `steps` where not given.
        steps: of what is drawn: lines of working that come before the one that `data/steps.toml` has under the id.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about; a figure for planning a lesson (common practice, no source).

    Example:
        >>> exercise = NumberExercise(
        ...     "capacity",
        ...     "{parallel} cells of 5 Ah in parallel hold how much?",
        ...     "Ah",
        ...     draw={"parallel": [2, 3, 4]},
        ...     answer=lambda d: 5 * d.parallel,
        ...     slips=lambda d: {"That is one cell.": 5},
        ... )
        >>> exercise.text(seed=1) == exercise.text(seed=1)
        True
        >>> exercise.check(1, exercise.drawn(1).expected).state, exercise.check(1, "5").message
        ('right', 'That is one cell.')
    """

    id: str
    question: str
    unit: str = ""
    tolerance: float = 0.01
    draw: Mapping[str, Sequence[Any] | Callable[[Any], Any]] = field(default_factory=dict)
    slips: Callable[[Any], Mapping[str, float]] | None = None
    plausible: Callable[[Any], Any] | None = None
    answer: Callable[[Any], Any] | None = None
    steps: Callable[[Any], Sequence[Step]] | None = None
    hints: tuple[str, ...] = ()
    minutes: float = 4.0

    def drawn(self, seed: int) -> Drawn:
        """This learner's numbers: the same for the same seed, on every machine."""
        random = Random(f"{seed}:{self.id}")
        for _ in range(MOST_DRAWS):
            found = self._draw(SimpleNamespace(random=random))
            if found.clear:
                break
        return found

    def _draw(self, d: Any) -> Drawn:
        """One draw, clear or not."""
        for key, source in self.draw.items():
            value = source(d) if callable(source) else d.random.choice(source)
            names = key.split()
            values = value if len(names) > 1 else [value]
            vars(d).update({n: plain(v) for n, v in zip(names, values, strict=True)})
        working = list(self.steps(d)) if self.steps else []
        d.answer = float(self.answer(d) if self.answer else working[-1].result)
        if has_step(self.id):
            working.append(replace(step(self.id, d.answer, **vars(d)), unit=self.unit))
        slips = self.slips(d) if self.slips else {}
        kept = distinct_slips(d.answer, slips, self.tolerance)
        sound = d.answer != 0 and (self.plausible is None or bool(self.plausible(d)))
        clear = sound and len(kept) == len(slips)
        return Drawn(self.question.format(**vars(d)), d.answer, kept, tuple(working), d, clear)

    def text(self, seed: int) -> str:
        """The question with this learner's numbers."""
        return self.drawn(seed).text

    def check(self, seed: int, answer: str | float | None, tries: int = 0) -> Checked:
        """Check this learner's answer; where it is wrong without a known slip, the message has the next step.

        Args:
            seed: of the learner.
            answer: as `check_number` takes it.
            tries: how often this learner was wrong before; the next step becomes plainer.
        """
        drawn = self.drawn(seed)
        found = check_number(answer, drawn.expected, self.tolerance, self.unit, drawn.slips)
        if found.state != "wrong" or not self.hints:
            return found
        step = self.hints[min(tries, len(self.hints) - 1)]
        return replace(found, message=f"{found.message} Next step: {step}")


@dataclass(frozen=True)
class ChoiceExercise:
    """One of several answers to choose.

    Attributes:
        id: short and lasting.
        question: the text.
        options: the answers to choose from, each to what follows from it.
        right: the place of the right one, from 1.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about.

    Raises:
        ValueError: there is no option at the place of the right one.

    Example:
        >>> exercise = ChoiceExercise(
        ...     "burst",
        ...     "May a cell give its burst current through a whole hover?",
        ...     {"yes": "A burst lasts seconds.", "no": "It would overheat."},
        ...     right=2,
        ... )
        >>> exercise.check("yes").state, exercise.check("no").state, exercise.check(None).state
        ('slip', 'right', 'unanswered')
    """

    id: str
    question: str
    options: Mapping[str, str]
    right: int
    hints: tuple[str, ...] = ()
    minutes: float = 2.0

    def __post_init__(self) -> None:
        """Refuse a question without a right option."""
        if not 1 <= self.right <= len(self.options):
            raise ValueError(f"exercise {self.id} has no option {self.right}.")

    @property
    def answer(self) -> str:
        """The right option."""
        return list(self.options)[self.right - 1]

    def check(self, answer: str | None) -> Checked:
        """Check the chosen option."""
        if answer is None or answer not in self.options:
            return NOT_ANSWERED
        follows = self.options[answer]
        return (
            Checked("right", f"Right. {follows}")
            if answer == self.answer
            else Checked("slip", follows)
        )


@dataclass(frozen=True)
class SettingExercise:
    """Controls to set so that the live figure shows what the task asks for.

    Attributes:
        id: short and lasting.
        task: what to reach.
        conditions: message while a condition does not hold, to the condition on what is shown.
        solution: control to value, one way to reach it.
        why: what there is to see once they all hold.
        hints: from the gentlest to the plainest.
        minutes: that it takes, about.

    Example:
        >>> exercise = SettingExercise(
        ...     "cap",
        ...     "Set the pack so that it holds 10 Ah or more.",
        ...     {"It holds less than 10 Ah.": lambda ah: ah >= 10},
        ...     {"parallel": 2},
        ...     "Parallel adds charge.",
        ... )
        >>> exercise.check(8.0).message, exercise.check(12.0).state
        ('Not there yet. It holds less than 10 Ah.', 'right')
    """

    id: str
    task: str
    conditions: Mapping[str, Callable[[Any], Any]]
    solution: Mapping[str, object]
    why: str = ""
    hints: tuple[str, ...] = ()
    minutes: float = 3.0

    def check(self, shown: Any) -> Checked:
        """Check what the live figure shows; None where it shows nothing yet."""
        if shown is None:
            return Checked("unanswered", "The live figure shows no result yet.")
        off = [message for message, holds in self.conditions.items() if not holds(shown)]
        if off:
            return Checked("wrong", " ".join(["Not there yet.", *off]))
        return Checked("right", f"Right. {self.why}".strip())


Exercise = NumberExercise | ChoiceExercise | SettingExercise
