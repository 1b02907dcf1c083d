"""What constrains the choice of a pack before anything flies: bay, money, transport, mass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.bench.layout import Bay
from workbook.bench.transport import APPROVAL_WH, CABIN_WH
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.conditions import has_size
from workbook.sizing.design import Allowances, Design
from workbook.sizing.limit import HIGHEST_CHARGE_V, Limit

DENSEST = np.pi / (2.0 * np.sqrt(3.0))
"""Share of a space that parallel round cells can fill at most: 0.9069, the hexagonal packing.
Source: Thue; Fejes Toth (1940)."""

ON_GROUND = "on the ground"


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


NO_CONSTRAINTS = Constraints()


def price(design: Design[Any]) -> FloatArray:
    """Money for the pack's cells; NaN where the catalogue has no price."""
    each = design.pack.cell.price
    return np.asarray(design.pack.cells * (np.nan if each is None else each), dtype=float)


def all_up_mass_g(design: Design[Any], allowances: Allowances) -> FloatArray:
    """Mass of everything that flies."""
    mass_g = design.craft.all_up_mass_g(design.pack.mass_g)
    return np.asarray(mass_g * allowances.mass_factor, dtype=float)


def constraint_limits(
    design: Design[Any], constraints: Constraints, allowances: Allowances
) -> tuple[Limit, ...]:
    """The constraints as limits, with those of the design that need no operating point.

    Args:
        design: the design, or arrays of designs.
        constraints: what the choice must keep to.
        allowances: as for `operate`; the mass factor counts.
    """
    craft, pack, asked = design.craft, design.pack, constraints
    found = [
        Limit(
            "charge_voltage",
            "cell's charge voltage",
            pack.cell.charge_v,
            HIGHEST_CHARGE_V,
            "V",
            "A charge voltage above the usual one needs its own charger setting and care.",
            ON_GROUND,
        )
    ]
    if craft.max_all_up_mass_g is not None:
        found.append(
            Limit(
                "all_up_mass",
                "all-up mass",
                all_up_mass_g(design, allowances),
                craft.max_all_up_mass_g,
                "g",
                "The craft would be heavier than its highest take-off mass.",
                "take-off",
            )
        )
    if craft.controller_max_v is not None:
        found.append(
            Limit(
                "controller_voltage",
                "voltage of the full pack at the speed controllers",
                pack.full_v,
                craft.controller_max_v,
                "V",
                "The full pack is above the speed controllers' highest voltage; they can burn.",
                "full pack",
            )
        )
    found += _bay_limits(design, asked.bay_sides_mm)
    if asked.max_price is not None:
        found.append(
            Limit(
                "price",
                "money for the cells",
                price(design),
                asked.max_price,
                "",
                "The cells cost more than is there, or their price is not known.",
                ON_GROUND,
            )
        )
    if asked.transport is not None and asked.transport < 2:
        found.append(
            Limit(
                "transport",
                "pack energy by the transport class",
                pack.energy_wh,
                (CABIN_WH, APPROVAL_WH)[asked.transport],
                "Wh",
                "The pack has more energy than the transport class allows.",
                ON_GROUND,
            )
        )
    if asked.max_pack_mass_g is not None:
        found.append(
            Limit(
                "pack_mass",
                "pack mass",
                pack.mass_g,
                asked.max_pack_mass_g,
                "g",
                "The pack is heavier than is asked.",
                ON_GROUND,
            )
        )
    return tuple(found)


def _bay_limits(design: Design[Any], sides_mm: list[float]) -> list[Limit]:
    """One cell's size and all cells' volume against the bay."""
    if not sides_mm:
        return []
    cell, known = design.pack.cell, 1.0 if has_size(design) else np.nan
    size = sorted((cell.diameter_mm, cell.diameter_mm, cell.height_mm))
    over = max(range(3), key=lambda k: size[k] / sides_mm[k])
    volume_cm3 = np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm / 1000.0
    return [
        Limit(
            "bay_size",
            "a cell's size in the bay",
            known * size[over],
            sides_mm[over],
            "mm",
            "Not even one cell fits the bay, or its size is not known.",
            ON_GROUND,
        ),
        Limit(
            "bay_volume",
            "the cells' volume, packed as densely as can be, in the bay",
            known * design.pack.cells * volume_cm3 / DENSEST,
            float(np.prod(sides_mm)) / 1000.0,
            "cm3",
            "The cells take more room than the bay has, or their size is not known.",
            ON_GROUND,
        ),
    ]
