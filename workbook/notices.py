"""What is said of a pack, a flight or a delivery where something is to be minded: the words stand in one table."""

from __future__ import annotations

from typing import Any

from workbook.data.tables import data_sections
from workbook.units import filled


def notice(of: str, name: str, /, **given: Any) -> str:
    """A notice in a sentence or two, its figures in the units that are shown.

    Args:
        of: what it is said of, a section of `data/notices.toml`.
        name: of the notice there.
        given: what its text asks for.

    Raises:
        KeyError: no such notice, or its text asks for something that is not given.

    Example:
        >>> notice("wear", "few_cycles", left=12)
        'About 12 full cycles are left: plan the next pack now.'
    """
    return filled(data_sections("notices.toml")[of][name], **given)
