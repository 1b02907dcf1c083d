"""The working behind a figure: formula, the numbers put in, result, unit and source."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from workbook.data.tables import data_sections
from workbook.numbers import Number, in_digits
from workbook.quantities import RESULTS, unit_of
from workbook.units import shown, shown_unit

_UNKNOWN = re.compile(r"-?\b(nan|inf)\b")


@dataclass(frozen=True, eq=False)
class Step:
    """One line of working.

    Attributes:
        key: the name of the figure that it explains, unit as suffix (`hover_current_a`).
        label: the figure in words.
        formula: the rule in words or symbols.
        numbers: the same rule with this design's numbers put in.
        result: the figure.
        unit: its unit, empty for a ratio.
        source: standard, table, equation, or "common practice, no source".

    Example:
        >>> Step(
        ...     "series", "pack voltage", "S x cell voltage", "4 x 3.6 V", 14.4, "V", "IEC 61960-3"
        ... ).text()
        'pack voltage = S x cell voltage = 4 x 3.6 V = 14.4 V  [IEC 61960-3]'
    """

    key: str
    label: str
    formula: str
    numbers: str
    result: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        """A number that is not known is a dash among the others."""
        object.__setattr__(self, "numbers", _UNKNOWN.sub("-", self.numbers))

    @property
    def shown(self) -> str:
        """The figure with its unit, rounded to its safe side; a dash where there is no such figure.

        The rule is computed in the units of files; where figures are shown in others, it is shown in both.
        """
        side = RESULTS[self.key].safe if self.key in RESULTS else "nearest"
        unit = self.unit if math.isfinite(self.result) else ""
        text = f"{in_digits(self.result, 4, side)} {unit}".rstrip()
        other = shown_unit(unit).name
        if other == unit:
            return text
        return f"{text} = {in_digits(shown(self.result, unit), 4, side)} {other}"

    def text(self) -> str:
        """The whole line as text."""
        return f"{self.label} = {self.formula} = {self.numbers} = {self.shown}  [{self.source}]"


def has_step(name: str) -> bool:
    """Whether `data/steps.toml` has such a line of working."""
    return name in data_sections("steps.toml")


def step(name: str, result: Number, /, **given: Any) -> Step:
    """A line of working, with the words that `data/steps.toml` has for it.

    Args:
        name: of the line there.
        result: the figure, one number.
        given: what its texts ask for.

    Raises:
        KeyError: no such line, or its texts ask for something that is not given.

    Example:
        >>> step("pin_v", 14.4, pin=4, cell_v=3.6).text()
        'voltage of pin 4 against pin 0 = groups between x cell voltage = 4 x 3.6 V = 14.4 V  [cells in ...'
    """
    table = data_sections("steps.toml")
    texts = table[name].items()
    words = {key: text.format(sources=table["sources"], **given) for key, text in texts}
    key = words.pop("key", name)
    label = words.pop("label", "") or RESULTS[key].label
    return Step(key, label, **words, result=float(result), unit=unit_of(key))
