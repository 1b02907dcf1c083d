"""The workbook's own tables, in the folder of this file: CSV by rows, TOML by sections."""

from __future__ import annotations

import csv
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent


def data_rows(name: str) -> list[dict[str, str]]:
    """The rows of a table, each by its headings.

    Args:
        name: of a file in `data/`, .csv.

    Example:
        >>> data_rows("quantities.csv")[0]["table"]
        'answered'
    """
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def data_sections(name: str) -> dict[str, Any]:
    """The sections of a table, read once; for all who ask, so that nobody changes them.

    Args:
        name: of a file in `data/`, .toml.

    Example:
        >>> data_sections("choices.toml")["choice"][0]["lesson"]
        'craft_asks'
    """
    return tomllib.loads((DATA / name).read_text("utf-8"))
