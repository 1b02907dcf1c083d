"""Is an answer right, and if not, which known slip does it look like? Pure arithmetic, no widgets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from workbook.errors import InputError
from workbook.exercises.slips import Slip
from workbook.parse import parse_number

State = Literal["unanswered", "right", "slip", "wrong"]


@dataclass(frozen=True)
class Outcome:
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


def is_near(value: float, target: float, tolerance: float) -> bool:
    """Whether a value is within a share of a target; a target of 0 takes the tolerance as it is.

    Example:
        >>> is_near(101, 100, 0.02), is_near(103, 100, 0.02)
        (True, False)
    """
    return abs(value - target) <= tolerance * (abs(target) or 1.0) * (1 + 1e-12)


def check_number(
    answer: str | float | None,
    expected: float,
    tolerance: float,
    unit: str = "",
    slips: Iterable[Slip] = (),
) -> Outcome:
    """Check a number that a learner gave.

    Args:
        answer: as typed (decimal comma or point, unit or none), a number, or None for no answer yet.
        expected: the right value, in `unit`.
        tolerance: greatest share by which the answer may be off, such as 0.02.
        unit: the unit asked for.
        slips: wrong values that have a name; one that lies within the tolerance is passed over.

    Returns:
        The outcome; never an error, whatever was typed.

    Example:
        >>> check_number("10,1", 10.0, 0.02, "Ah").state
        'right'
        >>> check_number("10000", 10.0, 0.02, "Ah", [Slip(10000.0, "That is in mAh.")]).message
        'That is in mAh.'
        >>> check_number(None, 10.0, 0.02).state
        'unanswered'
    """
    if answer is None or (isinstance(answer, str) and not answer.strip()):
        return Outcome("unanswered", "Not answered yet.")
    try:
        value = parse_number(answer, unit)
    except InputError as error:
        return Outcome("unanswered", f"{error}")
    shown = f"{value:.6g} {unit}".strip()
    if is_near(value, expected, tolerance):
        return Outcome("right", f"Right: {shown}.")
    for slip in slips:
        if is_near(value, slip.value, tolerance):
            return Outcome("slip", slip.message)
    if value * expected < 0:
        return Outcome("wrong", f"{shown} has the wrong sign.")
    direction = "too high" if value > expected else "too low"
    return Outcome("wrong", f"{shown} is {direction}; look at the formula and the units once more.")
