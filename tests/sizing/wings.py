"""A fixed-wing design that several tests share. Invented."""

from __future__ import annotations

from typing import Any

from tests.conftest import straight_cell
from workbook.battery.pack import Pack
from workbook.craft.fixed_wing import FixedWing
from workbook.craft.wing import Polar
from workbook.sizing.design import Design, Flight

POLAR = Polar(0.4, 2.0, 0.03, 0.8, 1.2)


def wing(**changes: Any) -> Design[FixedWing]:
    """4S2P of a straight cell under a clean wing of 10 aspect ratio; figures changed by name."""
    craft = FixedWing("heron", 1, 1400.0, 250.0, 8.0, POLAR, 0.6, 0.8, 180.0)
    pack = Pack(straight_cell(), 4, 2, 10.0, 60.0, 6.0)
    return Design("heron", craft, pack, Flight(3.0, 10.0, cruise_m_s=12.0)).changed(**changes)
