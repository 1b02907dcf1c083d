"""A fixed-wing design that several tests share. Invented."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.conftest import power_law_table, straight_cell
from workbook.battery.pack import Pack
from workbook.craft.craft_types import FixedWing
from workbook.craft.wing import Polar
from workbook.sizing.design import Design, Flight

POLAR = Polar(0.4, 2.0, 0.03, 0.8, 1.2)

STATIC = replace(
    power_law_table(voltage_v=14.8, lowest_gf=50.0, highest_gf=1900.0), propeller="11x5.5"
)
"""A static table whose propeller's size is told, so that climb is too."""


def wing(**changes: Any) -> Design[FixedWing]:
    """4S2P of a straight cell under a clean wing of 10 aspect ratio; figures changed by name.

    It has no thrust table, so its climb is not known; see `STATIC`.
    """
    craft = FixedWing(
        name="heron",
        motors=1,
        mass_without_pack_g=1400.0,
        payload_g=250.0,
        avionics_w=8.0,
        polar=POLAR,
        propeller_efficiency=0.6,
        motor_efficiency=0.8,
        launch_w_per_kg=180.0,
    )
    pack = Pack(straight_cell(), 4, 2, 10.0, 60.0, 6.0)
    return Design("heron", craft, pack, Flight(3.0, 10.0, cruise_m_s=12.0)).changed(**changes)
