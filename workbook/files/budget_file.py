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

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Literal

import tomlkit
from pydantic import Field

from workbook.errors import naming
from workbook.files.commented import parse_document, record_text
from workbook.files.reading import read_text
from workbook.files.records import Part, check, model_of, parse_toml
from workbook.files.writing import SeenFiles, locked, write_text
from workbook.sizing.budget_lines import BudgetLine, Distribution, Effect, check_lines

FORMAT = "workbook budget 1"
LARGEST_BYTES = 200_000

EffectPart = model_of(Effect)
BudgetLinePart = model_of(
    BudgetLine,
    key=(
        str,
        Field(pattern=r"^[a-z][a-z0-9_]*$", description="a text of lower case letters, digits, _"),
    ),
    distribution=(Distribution, "triangular"),
    applies_to=(list[EffectPart], Field(min_length=1, description="what it does")),  # type: ignore[valid-type]
)


class BudgetPart(Part):
    """A whole budget file."""

    format: Literal["workbook budget 1"]
    budget: list[BudgetLinePart] = Field(min_length=1, description="a list of lines")  # type: ignore[valid-type]


def parse_budget(text: str, where: str = "budget") -> tuple[BudgetLine, ...]:
    """Read budget lines from text.

    Raises:
        InputError: not TOML, or every key that is missing, unknown or out of range, one sentence each.

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
    lines = []
    for stated in check(BudgetPart, parse_toml(text, where), where).model_dump()["budget"]:
        effects = tuple(Effect(**effect) for effect in stated.pop("applies_to"))
        lines.append(BudgetLine(applies_to=effects, **stated))
    with naming(where):
        check_lines(lines)
    return tuple(lines)


def read_budget(path: Path | str) -> tuple[BudgetLine, ...]:
    """Read and check a budget file.

    Raises:
        InputError: every reason why it cannot be used.
    """
    path = Path(path)
    return parse_budget(read_text(path, LARGEST_BYTES), path.name)


def budget_text(lines: Sequence[BudgetLine], document: tomlkit.TOMLDocument | None = None) -> str:
    """Lines as the text of a budget file; with the comments of the document that they came from."""
    stated = []
    for line in lines:
        effects = tomlkit.array()
        for effect in line.applies_to:
            effects.append(tomlkit.inline_table().append("figure", effect.figure))
            effects[-1].update(asdict(effect))
        values = asdict(line) | {"applies_to": effects}
        stated.append({key: values[key] for key in BudgetLinePart.model_fields})
    return record_text({"format": FORMAT, "budget": stated}, document)


def write_budget(
    lines: Sequence[BudgetLine],
    path: Path | str,
    *,
    overwrite: bool = False,
    seen: SeenFiles | None = None,
) -> None:
    """Write a budget file, whole or not at all; over an existing one only when asked to, with its comments.

    Raises:
        InputError: lines that cannot be, the file exists and may not be replaced, or it cannot be
            written.
    """
    check_lines(lines)
    path = Path(path)
    with locked(path):
        document = None
        if overwrite and path.is_file():
            document = parse_document(read_text(path, LARGEST_BYTES), path.name)
        write_text(path, budget_text(lines, document), overwrite=overwrite, seen=seen)
