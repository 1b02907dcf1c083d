"""The room for the pack in the craft, and what moving the pack in it does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
