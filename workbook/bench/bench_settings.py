"""What is at the bench: where the pack must fit, the strip, leads and charger there are, and prices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf

import numpy as np

from workbook.battery.charge import Charger
from workbook.bench.strip import Strip
from workbook.numbers import Number

SIDES = ("length", "width", "height")
"""Sides of the bay and of the pack as it lies in it: along, across and up in the craft."""


@dataclass(frozen=True)
class Bay:
    """The room for the pack in the craft.

    Attributes:
        length_mm: along the craft.
        width_mm: across.
        height_mm: up.
        cell_axes: directions in which the cells may point; all three unless something forbids one.
    """

    length_mm: float
    width_mm: float
    height_mm: float
    cell_axes: tuple[str, ...] = SIDES

    @property
    def room_mm(self) -> tuple[float, float, float]:
        """Along, across and up."""
        return self.length_mm, self.width_mm, self.height_mm


def centre_of_gravity_shift_mm(pack_g: Number, all_up_g: Number, moved_mm: Number) -> Number:
    """How far the craft's centre of gravity moves when the pack is moved.

    Args:
        pack_g: pack mass.
        all_up_g: the whole craft with the pack.
        moved_mm: how far the pack is moved, forward positive.

    Returns:
        Shift in mm, the same way.

    Source: statics, moved mass over whole mass times the way.

    Example:
        >>> float(centre_of_gravity_shift_mm(600.0, 2400.0, 20.0))
        5.0
    """
    return np.asarray(pack_g, float)[()] * moved_mm / all_up_g


STRIPS = (
    Strip("nickel 200", 8.0, 0.15),
    Strip("nickel 200", 10.0, 0.15),
    Strip("nickel 200", 10.0, 0.2),
    Strip("copper", 8.0, 0.15),
    Strip("copper", 10.0, 0.15),
    Strip("copper", 10.0, 0.2),
)
"""Strips that are tried in turn where the builder names none: the first that will do is taken."""


@dataclass(frozen=True)
class BenchSettings:
    """What is at the bench. Whatever is left out is assumed, and the plan says so.

    Attributes:
        bay: room for the pack; None for no check of it.
        packings: of "square" and "staggered".
        max_layers: most layers of cells end to end.
        spacing_mm: gap between cans, the web of a holder; holder_g: a holder's mass for each cell.
        padding_mm: foam around the pack.
        strip: strip off the reel; None to have one chosen from `STRIPS`.
        lead_mm: one main lead, pack to connector; balance_lead_mm: balance lead out of the pack.
        charger: None to be shown what a charger must give.
        charge_c_rate: highest charge current over capacity, by a rule such as a club's; the datasheet's takes precedence.
        prices: by line of the bill ("cells", "connector", "strip" for any strip, ...).
        currency: of the prices.
        builder, pack_id: for the label.
        packs: like packs that are built; the plan is of one, and what is to buy is for all.
    """

    bay: Bay | None = None
    packings: tuple[str, ...] = ("square", "staggered")
    max_layers: int = 2
    spacing_mm: float = 0.0
    holder_g: float = 0.0
    padding_mm: float = 0.0
    strip: Strip | None = None
    lead_mm: float = 150.0
    balance_lead_mm: float = 120.0
    charger: Charger | None = None
    charge_c_rate: float = inf
    prices: Mapping[str, float] = field(default_factory=dict)
    currency: str = ""
    builder: str = ""
    pack_id: str = ""
    packs: int = 1
