"""The working behind a figure: formula, the numbers put in, result, unit and source."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from workbook.numbers import Number, in_digits
from workbook.quantities import RESULTS, unit_of
from workbook.units import shown, shown_unit

_UNKNOWN = re.compile(r"-?\b(nan|inf)\b")


@dataclass(frozen=True)
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

        The rule is reckoned in the units of files; where figures are shown in others, it is told in both.
        """
        side = RESULTS[self.key].safe if self.key in RESULTS else "nearest"
        unit = self.unit if math.isfinite(self.result) else ""
        told = f"{in_digits(self.result, 4, side)} {unit}".rstrip()
        other = shown_unit(unit).name
        if other == unit:
            return told
        return f"{told} = {in_digits(shown(self.result, unit), 4, side)} {other}"

    def text(self) -> str:
        """The whole line as text."""
        return f"{self.label} = {self.formula} = {self.numbers} = {self.shown}  [{self.source}]"


def step(
    key: str, formula: str, numbers: str, result: Number, source: str, label: str = ""
) -> Step:
    """A line of working whose words and unit are those of its figure.

    Args:
        key: the figure; one of `RESULTS` unless `label` is given.
        formula: the rule in words or symbols.
        numbers: the rule with this design's numbers put in.
        result: the figure, one number.
        source: standard, table, equation, or "common practice, no source".
        label: in words, where the figure is not in the table of quantities.

    Example:
        >>> step("pack_nominal_v", "S x cell voltage", "4 x 3.6 V", 14.4, "IEC 61960-3").text()
        'pack voltage, nominal = S x cell voltage = 4 x 3.6 V = 14.4 V  [IEC 61960-3]'
    """
    words = label or RESULTS[key].label
    return Step(key, words, formula, numbers, float(result), unit_of(key), source)
