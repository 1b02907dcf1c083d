"""What bounds the choice of a pack before anything flies: bay, money, transport, charge voltage."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.bench.transport import APPROVAL_WH, CABIN_WH
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray
from workbook.sizing.design import Allowances, Design
from workbook.sizing.limit import HIGHEST_CHARGE_V, Limit
from workbook.sizing.operating_point import NO_ALLOWANCES

DENSEST = float(np.pi / (2.0 * np.sqrt(3.0)))
"""Share of a space that parallel round cells can fill at most: 0.9069, the hexagonal packing.
Source: Thue; Fejes Toth (1940)."""

TRANSPORT = ("cabin", "with the airline's approval", "not by passengers")
"""Classes by the pack's watt-hours. A home-built pack has no UN 38.3 test; the carrier decides."""


@dataclass(frozen=True)
class Bay:
    """The space for the pack, inside, wrap taken off; in any order.

    Attributes:
        length_mm, width_mm, height_mm: each above 0.
    """

    length_mm: float
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        """Refuse a side that cannot be."""
        problems = [
            Problem(f"{value:g} mm cannot be; above 0 mm is needed.", f"bay {key}")
            for key, value in vars(self).items()
            if not value > 0
        ]
        if problems:
            raise InputError(problems)

    @property
    def sides_mm(self) -> tuple[float, float, float]:
        """The sides, shortest first."""
        a, b, c = sorted((self.length_mm, self.width_mm, self.height_mm))
        return a, b, c

    @property
    def volume_cm3(self) -> float:
        """Its volume."""
        return self.length_mm * self.width_mm * self.height_mm / 1000.0


@dataclass(frozen=True)
class Bounds:
    """What a choice must keep to beside the design's own limits; None where nothing is asked.

    Attributes:
        bay: the space for the pack. The check is a necessary one: a pack that passes may still not
            fit, one that fails cannot.
        max_price: money for the cells, in the unit of the catalogue's prices. A cell without a price
            cannot be told and does not pass.
        transport: 0, 1 or 2, the highest class of `TRANSPORT` accepted.
        max_pack_mass_g: heaviest pack.
    """

    bay: Bay | None = None
    max_price: float | None = None
    transport: int | None = None
    max_pack_mass_g: float | None = None

    def __post_init__(self) -> None:
        """Refuse a class that there is not."""
        if self.transport is not None and self.transport not in (0, 1, 2):
            raise InputError(Problem(f"{self.transport}; 0, 1 or 2 is needed.", "transport"))


NO_BOUNDS = Bounds()


def price(design: Design[Any]) -> FloatArray:
    """Money for the pack's cells; NaN where the catalogue has no price."""
    each = design.pack.cell.price
    return np.asarray(design.pack.cells * (float("nan") if each is None else each), dtype=float)


def bound_limits(
    design: Design[Any], bounds: Bounds = NO_BOUNDS, allowances: Allowances = NO_ALLOWANCES
) -> tuple[Limit, ...]:
    """The bounds as limits, with those of the design that need no operating point.

    Args:
        design: the design, or arrays of designs.
        bounds: what the choice must keep to.
        allowances: as for `operate`; the mass factor counts.

    Example:
        >>> Bay(150.0, 70.0, 50.0).sides_mm
        (50.0, 70.0, 150.0)
    """
    craft, pack = design.craft, design.pack
    cell = pack.cell
    ground = "on the ground"
    found = [
        Limit(
            "charge_voltage", "cell's charge voltage", cell.charge_v, HIGHEST_CHARGE_V, "V",
            "A charge voltage above the usual one needs its own charger setting and care.", ground,
        ),
    ]  # fmt: skip
    if craft.max_all_up_mass_g is not None:
        mass_g = (
            craft.mass_without_pack_g + craft.payload_g + pack.mass_g
        ) * allowances.mass_factor
        found.append(
            Limit(
                "all_up_mass", "all-up mass", mass_g, craft.max_all_up_mass_g, "g",
                "The craft would be heavier than its highest take-off mass.", "take-off",
            )
        )  # fmt: skip
    if craft.controller_max_v is not None:
        found.append(
            Limit(
                "controller_voltage", "voltage of the full pack at the speed controllers",
                pack.full_v, craft.controller_max_v, "V",
                "The full pack is above the speed controllers' highest voltage; they can burn.",
                "full pack",
            )
        )  # fmt: skip
    if bounds.bay is not None:
        sides = bounds.bay.sides_mm
        size = sorted((cell.diameter_mm, cell.diameter_mm, cell.height_mm))
        over = int(np.argmax([a / b for a, b in zip(size, sides, strict=True)]))
        volume = np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm / 1000.0
        found += [
            Limit(
                "bay_size", "a cell's size in the bay", size[over], sides[over], "mm",
                "Not even one cell fits the bay.", ground,
            ),
            Limit(
                "bay_volume", "the cells' volume, packed as densely as can be, in the bay",
                pack.cells * volume / DENSEST, bounds.bay.volume_cm3, "cm3",
                "The cells take more room than the bay has.", ground,
            ),
        ]  # fmt: skip
    if bounds.max_price is not None:
        found.append(
            Limit(
                "price", "money for the cells", price(design), bounds.max_price, "",
                "The cells cost more than is there, or their price is not known.", ground,
            )
        )  # fmt: skip
    if bounds.transport is not None and bounds.transport < 2:
        most_wh = (CABIN_WH, APPROVAL_WH)[bounds.transport]
        found.append(
            Limit(
                "transport", "pack energy by the transport class", pack.energy_wh, most_wh, "Wh",
                "The pack has more energy than the transport class allows.", ground,
            )
        )  # fmt: skip
    if bounds.max_pack_mass_g is not None:
        found.append(
            Limit(
                "pack_mass", "pack mass", pack.mass_g, bounds.max_pack_mass_g, "g",
                "The pack is heavier than is asked.", ground,
            )
        )  # fmt: skip
    return tuple(found)
