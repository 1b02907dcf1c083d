"""A lithium-polymer pouch cell from what its pack's label says, as the reference pack."""

from __future__ import annotations

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.errors import Problem, refuse
from workbook.numbers import FINITE, JUST_ABOVE_0, FloatArray, range_problems

DEPTH = np.linspace(0.0, 1.0, 21)
OPEN_CIRCUIT_V = np.fromstring(
    "4.20 4.15 4.11 4.07 4.02 3.98 3.95 3.91 3.87 3.85 3.83 "
    "3.81 3.80 3.78 3.77 3.75 3.73 3.71 3.69 3.60 3.00",
    sep=" ",
)
"""Source: from memory, the typical published shape of a lithium-polymer cell at rest."""

RESISTANCE_RISE = np.interp(DEPTH, [0.0, 0.8, 0.95, 1.0], [1.0, 1.0, 1.15, 1.4])
"""Resistance over its mid value. Source: common practice, no source; it rises towards the end."""

CUTOFF_V = 3.0
"""End of discharge under load: the label's habit; landing is much earlier."""

MOST_SAG_V = 0.5
"""The highest drawn curve sags by this at most: a label's current can be more than the cell gives."""


def polymer_cell(
    capacity_ah: float,
    mass_g: float,
    resistance_mohm: float,
    continuous_c: float,
    burst_c: float,
    *,
    name: str = "the reference pack",
) -> Cell:
    """One pouch cell of a lithium-polymer pack, with a generic discharge family.

    Args:
        capacity_ah: on the label, above 0.
        mass_g: the pack's mass over its number of cells, above 0.
        resistance_mohm: one cell, direct current, above 0; a charger's reading can stand in.
        continuous_c, burst_c: the label's current over its capacity, above 0.
        name: to show.

    Returns:
        A cell of format "pouch", whose curves give back the resistance.

    Raises:
        InputError: every figure that is not above 0, and a burst below continuous.

    Source: `OPEN_CIRCUIT_V`, from memory; labels overstate currents, so treat them with care.

    Example:
        >>> cell = polymer_cell(5.0, 110.0, 3.0, continuous_c=30.0, burst_c=60.0)
        >>> cell.continuous_a, float(cell.model.resistance_mohm[100])
        (150.0, 3.0)
    """
    above_0 = (JUST_ABOVE_0, FINITE, "above 0")
    problems = range_problems(
        {
            "capacity_ah": (capacity_ah, *above_0),
            "mass_g": (mass_g, *above_0),
            "resistance_mohm": (resistance_mohm, *above_0),
            "continuous_c": (continuous_c, *above_0),
            "burst_c": (burst_c, *above_0),
        }
    )
    if burst_c < continuous_c:
        low = f"{burst_c:g} is below continuous_c, {continuous_c:g}; it is at least that."
        problems.append(Problem(low, "burst_c"))
    refuse(problems)
    resistance = resistance_mohm * RESISTANCE_RISE
    highest_c = min(continuous_c, 1000.0 * MOST_SAG_V / (resistance_mohm * capacity_ah))
    slow_c = min(0.2, 0.1 * highest_c)
    open_circuit = OPEN_CIRCUIT_V.copy()
    open_circuit[-1] = CUTOFF_V + slow_c * capacity_ah * resistance[-1] / 1000.0
    open_circuit = np.minimum.accumulate(open_circuit)
    currents = np.geomspace(slow_c, highest_c, 4) * capacity_ah
    return Cell(
        name=name,
        cell_format="pouch",
        kind="lithium-polymer",
        mass_g=mass_g,
        diameter_mm=0.0,
        height_mm=0.0,
        rated_capacity_ah=capacity_ah,
        typical_capacity_ah=capacity_ah,
        nominal_v=3.7,
        charge_v=4.2,
        cutoff_v=CUTOFF_V,
        continuous_a=continuous_c * capacity_ah,
        burst_a=burst_c * capacity_ah,
        burst_s=10.0,
        standard_charge_a=capacity_ah,
        max_charge_a=capacity_ah,
        resistance_mohm=resistance_mohm,
        curves=tuple(
            _discharge_curve(current, open_circuit, resistance, capacity_ah)
            for current in currents.tolist()
        ),
        note="A generic shape with the label's figures; not a datasheet.",
    )


def _discharge_curve(
    current_a: float, open_circuit_v: FloatArray, resistance_mohm: FloatArray, capacity_ah: float
) -> DischargeCurve:
    """V = U - I R at the nodes, down to the cutoff, which is met exactly."""
    volts = open_circuit_v - current_a * resistance_mohm / 1000.0
    last = int(np.argmax(volts <= CUTOFF_V + 1e-12)) or len(volts) - 1
    part = (volts[last - 1] - CUTOFF_V) / (volts[last - 1] - volts[last])
    end = DEPTH[last - 1] + min(part, 1.0) * (DEPTH[last] - DEPTH[last - 1])
    depth = np.append(DEPTH[:last], end)
    ended = np.append(volts[:last], max(CUTOFF_V, volts[last]))
    return DischargeCurve(
        current_a,
        tuple((depth * capacity_ah).tolist()),
        tuple(np.minimum.accumulate(ended).tolist()),
    )
