"""The rules of a club, one file: what lessons and exercises take as given."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import Field

from workbook.data.notebooks import notebooks_source
from workbook.errors import InputError
from workbook.files.reading import read_text
from workbook.files.records import Part, check, parse_toml

CLUB_FILE = Path("club.toml")
FORMAT = "workbook club 1"
LARGEST_BYTES = 100_000
FLIGHT_RULES = {
    "landing_v": "more",
    "reserve_pct": "more",
    "thrust_reserve": "more",
    "continuous_share_pct": "less",
}
"""Rules that a design's `[flight]` may leave to its club, and which way a design is stricter."""


class ClubRules(Part):
    """What a club asks of every flight. Voltages are per cell, under load."""

    def weaker(self, stated: Mapping[str, float | None]) -> list[str]:
        """Where a design is less strict than the club, a sentence each.

        Args:
            stated: keys of `FLIGHT_RULES` to what a design states; None where it states nothing.
        """
        sentences = []
        for key, stricter in FLIGHT_RULES.items():
            value, rule = stated.get(key), getattr(self, key)
            if value is not None and (value < rule if stricter == "more" else value > rule):
                sentences.append(
                    f"flight.{key} is {value:g}; the rule of {self.club} is {rule:g} or {stricter}."
                )
        return sentences

    format: Literal["workbook club 1"]
    club: str = Field(min_length=1, description="a name between quotes")
    landing_v: float
    reserve_pct: float
    continuous_share_pct: float
    thrust_reserve: float
    charge_c_rate: float = Field(gt=0, le=5, description="highest charge current over capacity")
    units: Literal["g, mm", "oz, in"] = Field(
        "g, mm", description='screens and sheets in "g, mm" or in "oz, in"; files keep their own'
    )


@dataclass(frozen=True, eq=False)
class Club:
    """The rules in use.

    Attributes:
        rules: the rules.
        problem: a sentence where the club's own file could not be used; else empty.
    """

    rules: ClubRules
    problem: str = ""


def read_club(path: Path | str) -> ClubRules:
    """Read and check a club's rules.

    Args:
        path: a TOML file; `notebooks/club.toml` is one to copy.

    Raises:
        InputError: every key that is missing, unknown or out of range, one sentence each.

    Example:
        >>> read_club(notebooks_source() / CLUB_FILE).landing_v
        3.1
    """
    path = Path(path)
    return check(ClubRules, parse_toml(read_text(path, LARGEST_BYTES), path.name), path.name)


def club_rules(folder: Path | str = ".") -> Club:
    """The rules of the folder's own `club.toml`, else those shipped with the workbook.

    Args:
        folder: the notebooks' folder, which is the working folder of a notebook.

    Returns:
        The rules, and a sentence where the club's own file is there but cannot be used.

    Example:
        >>> club_rules("no such folder").rules.reserve_pct
        20.0
    """
    own = Path(folder) / CLUB_FILE
    problem = ""
    if os.path.lexists(own):
        try:
            return Club(read_club(own))
        except InputError as fault:
            reasons = " ".join(fault.lines)
            problem = f"The rules shipped with the workbook are in use: {reasons}"
    return Club(read_club(notebooks_source() / CLUB_FILE), problem)
