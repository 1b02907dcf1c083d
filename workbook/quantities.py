"""Every quantity that a person reads or sets: one place for its words, unit, decimals and range.

The table is `data/quantities.csv`. A key is the name in code, in files and in JSON; its suffix is the unit.
Text, working, charts, sheets, controls and the checks of a design file take words, unit and range from here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import cast

from workbook.data.tables import data_rows
from workbook.numbers import Number, Side
from workbook.units import number_in, shown_unit, with_unit

UNITS = {row["suffix"]: row["unit"] for row in data_rows("suffixes.csv")}
"""Unit of a name by its suffix, the longer suffixes first."""

NOT_UNITS = ("continuous_c", "burst_c")
"""Ratings on a label as C, which a suffix would misread as degrees."""


@cache
def unit_of(key: str) -> str:
    """The unit of a name, by its suffix; empty for a ratio or a count.

    Example:
        >>> unit_of("landing_cell_v"), unit_of("cruise_m_s"), unit_of("thrust_to_weight")
        ('V', 'm/s', '')
    """
    if key in NOT_UNITS:
        return ""
    return next((unit for suffix, unit in UNITS.items() if key.endswith(suffix)), "")


@dataclass(frozen=True)
class Quantity:
    """One quantity.

    Attributes:
        key: its name, the unit as suffix.
        label: in words.
        decimals: shown after the point.
        better: `high` or `low`; empty where neither is better.
        help: what it is, for whoever fills it in, and what is usual.
        least, most: range that a file may state.
        above: whether the least itself is not allowed.
        usual: ends of its slider.
        step: of its slider.
        whole: whether only whole numbers make sense.
        safe: which way it is rounded when it is printed. The table states it only where it is not what
            `better` asks for: down where more is better, up where less is, else to the nearest.
    """

    key: str
    label: str
    decimals: int = 0
    better: str = ""
    help: str = ""
    least: float = float("-inf")
    most: float = float("inf")
    above: bool = False
    usual: tuple[float, float] = (0.0, 1.0)
    step: float = 1.0
    whole: bool = False
    safe: Side = "nearest"

    @property
    def unit(self) -> str:
        """Its unit; empty for a ratio or a count."""
        return unit_of(self.key)

    @property
    def shown_unit(self) -> str:
        """The unit in which it is shown, in the system in use."""
        return shown_unit(self.unit).name

    @property
    def axis(self) -> str:
        """Label and unit as a file has it, for a form or an axis.

        Example:
            >>> INPUTS["payload_g"].axis
            'payload, g'
        """
        return f"{self.label}, {self.unit}" if self.unit else self.label

    @property
    def shown_axis(self) -> str:
        """Label and unit as it is shown, for the heading of a table."""
        return f"{self.label}, {self.shown_unit}" if self.unit else self.label

    def number(self, value: Number) -> str:
        """A single value as it is shown, rounded to the safe side; a dash where there is none.

        Example:
            >>> RESULTS["endurance_min"].number(12.39), RESULTS["all_up_mass_g"].number(4012.1)
            ('12.3', '4013')
        """
        return number_in(float(value), self.unit, self.decimals, self.safe)

    def text(self, value: Number) -> str:
        """The same with its unit.

        Example:
            >>> RESULTS["endurance_min"].text(12.39), INPUTS["landing_v"].text(3.101)
            ('12.3 min', '3.11 V')
        """
        return with_unit(value, self.unit, self.decimals, self.safe)


SAFE_SIDE: dict[str, Side] = {"high": "down", "low": "up", "": "nearest"}
"""Which way a quantity is rounded by what is better of it, where the table states nothing else."""


def _read(table: str) -> dict[str, Quantity]:
    rows = data_rows("quantities.csv")
    return {row["key"]: _quantity(row) for row in rows if row["table"] == table}


def _quantity(row: dict[str, str]) -> Quantity:
    words = (row["key"], row["label"], int(row["decimals"]), row["better"], row["help"])
    safe = cast(Side, row["safe"] or SAFE_SIDE[row["better"]])
    if not row["step"]:
        return Quantity(*words, safe=safe)
    return Quantity(
        *words,
        least=float(row["least"]),
        most=float(row["most"]),
        above=row["above"] == "yes",
        usual=(float(row["usual_low"]), float(row["usual_high"])),
        step=float(row["step"]),
        whole=row["whole"] == "yes",
        safe=safe,
    )


RESULTS = _read("answered")
"""What the computation answers, by key."""

INPUTS = _read("asked")
"""What a design file states or a control asks for, by key."""

NOTED = _read("noted")
"""What a line of a pack's book can state, by key; its words and units are those of the file."""


PLACE = re.compile(r"(\([^()]*)?\b((?:craft|pack|flight|today|bench)\.(\w+))(?![\w.]\w)")
"""The place of a figure in a design file, and the text before it in brackets."""


def with_words(sentence: str) -> str:
    """A sentence with its label before each figure that it calls by its place in the file, for a page with labels.

    Args:
        sentence: as a command line prints it.

    Example:
        >>> print(
        ...     with_words("craft.drag_area_m2 is 30 m2; the mass is not stated (craft.payload_g)")
        ... )
        drag area (craft.drag_area_m2) is 30 m2; the mass is not stated (payload: craft.payload_g)
    """

    def labelled(found: re.Match[str]) -> str:
        before, place, key = found.groups()
        if key not in INPUTS:
            return found[0]
        label = INPUTS[key].label
        return f"{label} ({place})" if before is None else f"{with_words(before)}{label}: {place}"

    return PLACE.sub(labelled, sentence)


def results(keys: Iterable[str]) -> tuple[Quantity, ...]:
    """The results of some keys, in their order.

    Example:
        >>> [quantity.label for quantity in results(["pack_mass_g", "endurance_min"])]
        ['pack mass', 'endurance']
    """
    return tuple(RESULTS[key] for key in keys)
