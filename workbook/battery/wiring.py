"""What wiring cells in series and parallel does: voltage at each joint, current in each cell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.pack import Pack
from workbook.numbers import FloatArray
from workbook.working import Step


@dataclass(frozen=True, eq=False)
class Wiring:
    """A single pack carrying a current.

    Attributes:
        joint_v: nominal voltage from the minus end to each joint, 0 first, shape (S + 1,).
        group_a: current through each parallel group: the pack's, the same in all.
        cell_a: current of one cell, with even sharing.
        cell_c_rate: the same over the cell's rated capacity, 1/h.
    """

    joint_v: FloatArray
    group_a: float
    cell_a: float
    cell_c_rate: float


def wiring(pack: Pack, current_a: float) -> Wiring:
    """Voltages and currents in a single pack of plain whole S and P.

    Args:
        pack: the pack.
        current_a: drawn from the pack, 0 or more.

    Source: Kirchhoff's two laws, cells alike.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> pack = Pack(find_cell("Bittern 50E"), 3, 2)
        >>> found = wiring(pack, 12.0)
        >>> found.joint_v.round(1), found.cell_a
        (array([ 0. ,  3.6,  7.2, 10.8]), 6.0)
    """
    cell = pack.cell
    cell_a = current_a / float(pack.parallel)
    return Wiring(
        cell.nominal_v * np.arange(float(pack.series) + 1.0),
        current_a,
        cell_a,
        cell_a / cell.rated_capacity_ah,
    )


def wiring_steps(pack: Pack, current_a: float) -> tuple[Step, ...]:
    """The working of the current of one cell."""
    found = wiring(pack, current_a)
    return (
        Step(
            "cell_a", "current of one cell", "pack current / P (series does not share current)",
            f"{current_a:g} A / {float(pack.parallel):g}", found.cell_a, "A", "Kirchhoff's current law, cells alike",
        ),
        Step(
            "cell_c_rate", "the same as a C-rate", "cell current / cell's rated capacity",
            f"{found.cell_a:.2f} A / {pack.cell.rated_capacity_ah:g} Ah", found.cell_c_rate, "1/h",
            "IEC 61960-3: It = capacity / 1 h",
        ),
    )  # fmt: skip
