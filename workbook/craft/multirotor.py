"""A multirotor as the builder has it on the bench, without its pack."""

from __future__ import annotations

from dataclasses import dataclass

from workbook.craft.thrust_table import ThrustTable
from workbook.numbers import Number


@dataclass(frozen=True)
class Multirotor:
    """A craft held up by its rotors. Any figure may be an array of one shape.

    Attributes:
        name: the craft's name.
        rotors: number of rotors, one motor each.
        mass_without_pack_g: everything that flies but the pack and the payload.
        payload_g: what it carries.
        table: the motor maker's thrust table for the propeller fitted.
        avionics_w: what the electronics draw at rest, propellers off.
        flight_factor: watts in flight over watts on the test bench at equal thrust
            (arms under the propellers, control work, dirty air); 1.05 to 1.25 is common
            practice, no source.
        max_all_up_mass_g: highest take-off mass, where there is one.
        controller_max_v: highest pack voltage of the speed controllers, where known.
        controller_max_a: highest continuous current of one speed controller, where known.
        drag_area_m2: drag coefficient times frontal area of the body, for forward flight; 0.01 to
            0.06 is common practice, no source.

    Example:
        >>> import numpy as np
        >>> row = np.array([500.0, 1000.0])
        >>> blank = row * np.nan
        >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 22.2, row / 9, blank, blank)
        >>> Multirotor("census six", 6, 2100.0, 350.0, table, 12.0).rotors
        6
    """

    name: str
    rotors: Number
    mass_without_pack_g: Number
    payload_g: Number
    table: ThrustTable
    avionics_w: Number
    flight_factor: Number = 1.0
    max_all_up_mass_g: float | None = None
    controller_max_v: float | None = None
    controller_max_a: float | None = None
    drag_area_m2: Number = 0.03
