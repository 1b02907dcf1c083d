"""Working of what is put together at the bench: outer size, groups, balance pins, joining."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.bench.balance import BalanceLead
from workbook.bench.incoming import joining_current_a
from workbook.bench.layout import Bay, Layout
from workbook.bench.plan import CellGroups
from workbook.working import Step

GEOMETRY = "geometry"


def _across_step(layout: Layout, axis: int, key: str, label: str) -> Step:
    f = layout.fittings
    at = [(c.x_mm, c.y_mm)[axis] for c in layout.cells]
    pitches = (max(at) - min(at)) / layout.pitch_mm
    skin = f.wrap_mm + f.padding_mm
    return Step(
        key,
        label,
        "pitches between outermost cells x pitch + cell diameter + 2 x (wrap + padding)",
        f"{pitches:.4g} x {layout.pitch_mm:g} mm + {layout.diameter_mm:g} mm + 2 x {skin:g} mm",
        layout.box_mm[axis],
        "mm",
        GEOMETRY + ("; staggered rows lie 0.866 pitch apart" if layout.packing != "square" else ""),
    )


def layout_steps(layout: Layout, bay: Bay | None = None) -> tuple[Step, ...]:
    """Working of the outer size and mass of a layout, and of the room left in a bay.

    Args:
        layout: the layout.
        bay: the room for it.

    Example:
        >>> from workbook.bench.layout import example_pack, layouts
        >>> print(layout_steps(layouts(example_pack(4, 2))[0])[0].text())
        longer side = pitches between outermost cells x pitch + cell diameter + 2 x (wrap + padding)
        = 3 x 21.2 mm + 21.2 mm + 2 x 0.15 mm = 85.1 mm  [geometry]
    """
    f = layout.fittings
    skin = f.wrap_mm + f.padding_mm
    steps = [
        _across_step(layout, 0, "box_x_mm", "longer side"),
        _across_step(layout, 1, "box_y_mm", "shorter side"),
        Step(
            "box_z_mm",
            "along the cells",
            "layers x (cell height + 2 x (ring + strips + sheet)) + 2 x (wrap + padding)",
            f"{layout.layers} x ({layout.cell_height_mm:g} mm + 2 x {f.end_mm:g} mm) "
            f"+ 2 x {skin:g} mm",
            layout.box_mm[2],
            "mm",
            GEOMETRY,
        ),
    ]
    if bay is not None:
        for side, size_mm in (
            ("length", layout.length_mm),
            ("width", layout.width_mm),
            ("height", layout.height_mm),
        ):
            room_mm = float(getattr(bay, f"{side}_mm"))
            steps.append(
                Step(
                    f"left_{side}_mm",
                    f"room left in the bay's {side}",
                    "bay - pack",
                    f"{room_mm:g} mm - {size_mm:.4g} mm",
                    room_mm - size_mm,
                    "mm",
                    GEOMETRY,
                )
            )
    masses = [line for line in layout.masses if line.mass_g > 0]
    steps.append(
        Step(
            "layout_mass_g",
            "mass of what is laid out",
            " + ".join(line.name for line in masses),
            " + ".join(f"{line.mass_g:.3g}" for line in masses) + " g",
            layout.mass_g,
            "g",
            "sum of the parts; sheet, wrap and ring masses: common practice, no source",
        )
    )
    return tuple(steps)


def weakest_steps(groups_ah: Sequence[Sequence[float]]) -> tuple[Step, ...]:
    """Working of a pack's charge from its cells: each group a sum, the pack its weakest group.

    Args:
        groups_ah: charge of each cell, one row a group.

    Example:
        >>> [round(s.result, 2) for s in weakest_steps([(4.7, 4.8), (4.6, 4.8)])]
        [9.5, 9.4, 9.4]
    """
    sums = [float(np.sum(row)) for row in groups_ah]
    steps = [
        Step(
            f"group_{number}_ah",
            f"charge of group {number}",
            "sum of its cells",
            " + ".join(f"{ah:.4g}" for ah in row) + " Ah",
            total,
            "Ah",
            "cells in parallel add charge",
        )
        for number, (row, total) in enumerate(zip(groups_ah, sums, strict=True), 1)
    ]
    steps.append(
        Step(
            "weakest_ah",
            "charge of the pack",
            "smallest of its groups",
            "smallest of " + ", ".join(f"{total:.4g}" for total in sums) + " Ah",
            min(sums),
            "Ah",
            "one current runs through all groups: the weakest is empty first",
        )
    )
    return tuple(steps)


@dataclass(frozen=True)
class Dealt:
    """What three ways of dealing the same good cells give.

    Attributes:
        way: in words.
        weakest_ah: charge of the weakest group.
        gain_min: minutes that matching flies longer than this way; 0 for matching.
    """

    way: str
    weakest_ah: float
    gain_min: float


def dealt_ways(groups: CellGroups) -> tuple[Dealt, ...]:
    """The groups found beside sorted dealing and beside cells as they come.

    Args:
        groups: with minutes, as `workbook.sheet.plan.plan_build` gives them.
    """
    m = groups.matching
    return (
        Dealt("matched", m.weakest_ah, 0.0),
        Dealt("sorted, dealt round", m.sorted_ah, float(m.gain_over_sorted_min or 0.0)),
        Dealt("as they come", m.random_ah, float(m.gain_over_random_min or 0.0)),
    )


def pin_step(lead: BalanceLead, pin: int, cell_v: float) -> Step:
    """Working of the voltage of one balance pin against pin 0.

    Args:
        lead: the lead.
        pin: 1 to S.
        cell_v: voltage of one cell now.

    Example:
        >>> from workbook.bench.balance import balance_lead
        >>> pin_step(balance_lead(6), 4, 3.6).text()
        'voltage of pin 4 against pin 0 = groups between x cell voltage = 4 x 3.6 V = 14.4 V  [cells in ...'
    """
    if not 1 <= pin <= lead.series:
        raise ValueError(f"pin is {pin}; 1 to {lead.series} is needed.")
    return Step(
        "pin_v",
        f"voltage of pin {pin} against pin 0",
        "groups between x cell voltage",
        f"{pin} x {cell_v:g} V",
        pin * cell_v,
        "V",
        "cells in series add voltage",
    )


def joining_step(difference_v: float, resistance_mohm: float) -> Step:
    """Working of the current at the moment two equal cells are joined in parallel.

    Args:
        difference_v: one voltage less the other.
        resistance_mohm: of one cell.

    Example:
        >>> joining_step(0.1, 25.0).result
        2.0
    """
    return Step(
        "joining_a",
        "current between the two",
        "difference / (resistance of both)",
        f"{1000.0 * difference_v:g} mV / (2 x {resistance_mohm:g} mohm)",
        float(joining_current_a(difference_v, resistance_mohm)),
        "A",
        "Ohm's law around the loop of both cells",
    )
