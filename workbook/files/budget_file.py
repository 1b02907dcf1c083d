"""The lines of a margin budget in TOML: a `[[budget]]` list, read, checked and written.

format = "workbook budget 1"

[[budget]]
key = "gusts"
name = "gusts over the reed bed"
low = 0.0
expected = 5.0
high = 20.0
unit = "%"
distribution = "triangular"
why = "the field lies open to the west"
source = "three flights of last autumn"
applies_to = [{ figure = "power_factor", gain = 1.0, how = "share" }]
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from workbook.errors import InputError, Problem
from workbook.files.text_file import read_text, write_text
from workbook.sizing.budget_lines import BudgetLine, Effect, check_lines

FORMAT = "workbook budget 1"
LARGEST_BYTES = 1_000_000


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, frozen=True)


class EffectPart(_Part):
    """What one unit of a line does to one figure."""

    figure: str = Field(min_length=1, description="a factor, or a figure of the design")
    gain: float = Field(1.0, description="how strongly, and which way")
    how: Literal["share", "plus"] = Field("share", description="share (percent of it) or plus")


class BudgetLinePart(_Part):
    """One line; what it means is told at `BudgetLine`."""

    key: str = Field(pattern=r"^[a-z][a-z0-9_]*$", description="lower case with underscores")
    name: str = Field(min_length=1, description="in words")
    low: float = Field(description="at its low end")
    expected: float = Field(description="as expected")
    high: float = Field(description="at its high end")
    unit: str = Field("%", description="of the three")
    distribution: Literal["triangular", "uniform", "normal"] = Field(
        "triangular", description="triangular, uniform or normal"
    )
    why: str = Field("", description="in a few words")
    source: str = Field("common practice, no source", description="where the figures are from")
    applies_to: list[EffectPart] = Field(min_length=1, description="what it does")

    def line(self) -> BudgetLine:
        """The line for the computation."""
        effects = tuple(Effect(e.figure, e.gain, e.how) for e in self.applies_to)
        plain = self.model_dump(exclude={"applies_to"})
        return BudgetLine(applies_to=effects, **plain)


class BudgetPart(_Part):
    """A whole budget file."""

    format: Literal["workbook budget 1"] = Field(description=f'the format: "{FORMAT}"')
    budget: list[BudgetLinePart] = Field(min_length=1, description="the lines")


def budget_lines(data: dict[str, Any], where: str = "budget") -> tuple[BudgetLine, ...]:
    """The lines of a budget file's contents.

    Raises:
        InputError: every key that is missing, unknown or out of range, one sentence each.
    """
    try:
        part = BudgetPart.model_validate(data)
    except ValidationError as fault:
        raise InputError(_sentence(error, where) for error in fault.errors()) from None
    lines = tuple(entry.line() for entry in part.budget)
    try:
        check_lines(lines)
    except InputError as fault:
        raise InputError(Problem(p.what, f"{where}, {p.where}") for p in fault.problems) from None
    return lines


def parse_budget(text: str, where: str = "budget") -> tuple[BudgetLine, ...]:
    """Read budget lines from text.

    Raises:
        InputError: not TOML, or lines that cannot be used.

    Example:
        >>> text = '''format = "workbook budget 1"
        ... [[budget]]
        ... key = "gusts"
        ... name = "gusts"
        ... low = 0.0
        ... expected = 5.0
        ... high = 20.0
        ... applies_to = [{ figure = "power_factor" }]'''
        >>> parse_budget(text)[0].high
        20.0
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise InputError(Problem(f"this is not TOML: {fault}.", where)) from None
    return budget_lines(data, where)


def read_budget(path: Path | str) -> tuple[BudgetLine, ...]:
    """Read and check a budget file.

    Raises:
        InputError: every reason why it cannot be used.
    """
    path = Path(path)
    return parse_budget(read_text(path, LARGEST_BYTES), path.name)


def budget_text(lines: Sequence[BudgetLine]) -> str:
    """Lines as the text of a budget file."""
    document = tomlkit.document()
    document.add("format", tomlkit.item(FORMAT))
    listed = tomlkit.aot()
    for line in lines:
        table = tomlkit.table()
        for key in BudgetLinePart.model_fields:
            if key != "applies_to":
                table.add(key, tomlkit.item(getattr(line, key)))
        effects = tomlkit.array()
        for effect in line.applies_to:
            entry = tomlkit.inline_table()
            entry.update({"figure": effect.figure, "gain": effect.gain, "how": effect.how})
            effects.append(entry)
        table.add("applies_to", effects)
        listed.append(table)
    document.add("budget", listed)
    return tomlkit.dumps(document)


def write_budget(lines: Sequence[BudgetLine], path: Path | str, *, overwrite: bool = False) -> None:
    """Write a budget file, whole or not at all; over an existing one only when asked to.

    Raises:
        InputError: lines that cannot be, the file exists and `overwrite` is False, or it cannot be
            written.
    """
    check_lines(lines)
    write_text(Path(path), budget_text(lines), overwrite=overwrite)


def _sentence(error: Any, where: str) -> Problem:
    """One of pydantic's findings as one sentence; lines are counted from 1."""
    place = ".".join(str(step + 1) if isinstance(step, int) else step for step in error["loc"])
    kind, value = error["type"], error.get("input")
    model: type[BaseModel] = BudgetPart
    if len(error["loc"]) > 1:
        model = EffectPart if "applies_to" in error["loc"][:-1] else BudgetLinePart
    field = model.model_fields.get(str(error["loc"][-1]))
    wanted = field.description if field is not None else ""
    if kind == "extra_forbidden":
        return Problem(f"{place} is not a key of a budget file; correct or remove it.", where)
    if kind == "missing":
        return Problem(f"{place} is missing ({wanted}).", where)
    if kind == "float_type":
        return Problem(f"{place} is {value!r}; a plain number is needed ({wanted}).", where)
    if kind == "finite_number":
        return Problem(f"{place} is {value}; a number that is not infinite is needed.", where)
    return Problem(f"{place} is {value!r}; {wanted or 'another value'} is needed.", where)
