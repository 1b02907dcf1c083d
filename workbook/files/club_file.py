"""The rules of a club, one file: what lessons and exercises take as given."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from tomlkit.exceptions import TOMLKitError

from workbook.errors import InputError, Problem
from workbook.files.text_file import read_text
from workbook.opening import notebooks_source

CLUB_FILE = Path("club.toml")
FORMAT = "workbook club 1"
LARGEST_BYTES = 100_000


class ClubRules(BaseModel):
    """What a club asks of every flight. Voltages are per cell, under load."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, frozen=True)

    format: Literal["workbook club 1"] = Field(description=f'"{FORMAT}"')
    club: str = Field(min_length=1, description="a name between quotes")
    landing_v: float = Field(ge=2.5, le=4.0, description="2.5 to 4 V")
    reserve_pct: float = Field(ge=0, le=90, description="0 to 90 %")
    continuous_share_pct: float = Field(gt=0, le=100, description="above 0, up to 100 %")
    thrust_reserve: float = Field(ge=1, le=5, description="a ratio from 1 to 5")
    charge_c_rate: float = Field(gt=0, le=5, description="above 0, up to 5")


@dataclass(frozen=True)
class Club:
    """The rules in use.

    Attributes:
        rules: the rules.
        said: a sentence where the club's own file could not be used; else empty.
    """

    rules: ClubRules
    said: str = ""


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
    try:
        data = tomlkit.parse(read_text(path, LARGEST_BYTES)).unwrap()
    except TOMLKitError as fault:
        raise InputError(Problem(f"this is not TOML: {fault}.", path.name)) from None
    try:
        return ClubRules.model_validate(data)
    except ValidationError as fault:
        raise InputError(_sentence(error, path.name) for error in fault.errors()) from None


def _sentence(error: object, where: str) -> Problem:
    key, kind, value = str(error["loc"][0]), error["type"], error["input"]  # type: ignore[index]
    if kind == "extra_forbidden":
        known = ", ".join(ClubRules.model_fields)
        return Problem(f"{key} is not a rule of a club; there is {known}.", where)
    needed = ClubRules.model_fields[key].description
    if kind == "missing":
        return Problem(f"{key} is missing; {needed} is needed.", where)
    return Problem(f"{key} is {value!r}; {needed} is needed.", where)


def club_rules(folder: Path | str = ".") -> Club:
    """The rules of the folder's own `club.toml`, else those shipped with the workbook.

    Args:
        folder: the notebooks' folder, which is the working folder of a notebook.

    Returns:
        The rules, and a sentence where the club's own file is there but cannot be used.

    Example:
        >>> club_rules("no such folder").rules.reserve_pct
        15.0
    """
    own = Path(folder) / CLUB_FILE
    said = ""
    if own.exists():
        try:
            return Club(read_club(own))
        except InputError as fault:
            reasons = " ".join(str(problem) for problem in fault.problems)
            said = f"The rules shipped with the workbook are in use: {reasons}"
    return Club(read_club(notebooks_source() / CLUB_FILE), said)
