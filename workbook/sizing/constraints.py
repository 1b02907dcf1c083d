"""What constrains the choice of a pack before anything flies: bay, money, transport, mass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.bench.layout import Bay
from workbook.bench.transport import APPROVAL, APPROVAL_WH, CABIN, CABIN_WH
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.design import Design


@dataclass(frozen=True)
class Constraints:
    """What a choice must keep to beside the design's own limits; None where nothing is asked.

    Attributes:
        bay: the space for the pack, in any order of its sides. The check is a necessary one: a pack
            that passes may still not fit, one that fails cannot.
        max_price: money for the cells, in the unit of the catalogue's prices. A cell without a price
            does not pass.
        transport: highest class accepted, as `workbook.bench.transport.passenger_class` has it.
        max_pack_mass_g: heaviest pack.

    Raises:
        InputError: a side of the bay or a class that cannot be.

    Example:
        >>> Constraints(Bay(150.0, 70.0, 50.0)).bay_sides_mm
        [50.0, 70.0, 150.0]
    """

    bay: Bay | None = None
    max_price: float | None = None
    transport: int | None = None
    max_pack_mass_g: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        problems = [
            Problem(f"{side:g} mm cannot be; above 0 mm is needed.", "bay")
            for side in self.bay_sides_mm
            if not side > 0
        ]
        if self.transport is not None and self.transport not in (0, 1, 2):
            problems.append(Problem(f"{self.transport}; 0, 1 or 2 is needed.", "transport"))
        if problems:
            raise InputError(problems)

    @property
    def bay_sides_mm(self) -> list[float]:
        """Sides of the bay, shortest first; none without a bay."""
        bay = self.bay
        return [] if bay is None else sorted((bay.length_mm, bay.width_mm, bay.height_mm))

    @property
    def bay_cm3(self) -> float | None:
        """Volume of the bay; None without one."""
        return np.prod(self.bay_sides_mm).item() / 1000.0 if self.bay else None

    @property
    def most_wh(self) -> float | None:
        """Most energy that the class of transport allows; None where any does."""
        limits = {CABIN: CABIN_WH, APPROVAL: APPROVAL_WH}
        return None if self.transport is None else limits.get(self.transport)


NO_CONSTRAINTS = Constraints()


def price(design: Design[Any]) -> FloatArray:
    """Money for the pack's cells; NaN where the catalogue has no price."""
    each = design.pack.cell.price
    return np.asarray(design.pack.cells * (np.nan if each is None else each), dtype=float)
