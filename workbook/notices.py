"""Notices about a pack, a flight or a delivery: their texts are in one table, `data/notices.toml`."""

from __future__ import annotations

from typing import Any

from workbook.data.tables import data_sections
from workbook.units import filled


def notice(section: str, name: str, /, **given: Any) -> str:
    """A notice in a sentence or two, its figures in the units that are shown.

    Args:
        section: what the notice is about, a section of `data/notices.toml`.
        name: of the notice there.
        given: what its text asks for.

    Raises:
        KeyError: no such notice, or its text asks for something that is not given.

    Example:
        >>> notice("wear", "few_cycles", left=12)
        'About 12 full cycles are left: plan the next pack now.'
    """
    return filled(data_sections("notices.toml")[section][name], **given)
