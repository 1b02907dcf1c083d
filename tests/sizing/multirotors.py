"""A multirotor design that several tests share. Invented."""

from __future__ import annotations

from typing import Any

from tests.conftest import power_law_table, straight_cell
from workbook.battery.pack import Pack
from workbook.craft.craft_types import Multirotor
from workbook.sizing.design import Design, Flight


def six(**changes: Any) -> Design[Multirotor]:
    """Six rotors on 6S3P of a straight cell; figures changed by name."""
    craft = Multirotor(
        name="six",
        rotors=6,
        mass_without_pack_g=2100.0,
        payload_g=350.0,
        table=power_law_table(),
        avionics_w=14.0,
        flight_factor=1.1,
    )
    pack = Pack(straight_cell(), 6, 3, 10.0, 75.0, 8.0)
    # the table goes on to 12 times the weight, so that every thrust asked for lies in it
    design = Design("six", craft, pack, Flight(3.0, 10.0, 1.5), sure=("table",))
    return design.changed(**changes)
