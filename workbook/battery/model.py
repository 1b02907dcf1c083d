"""Open-circuit voltage and resistance over depth of discharge, identified from datasheet curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.cell import Cell
from workbook.numbers import FloatArray

NODES = 201


@dataclass(frozen=True, eq=False)
class CellModel:
    """A cell as a voltage source and a resistance, both over depth of discharge.

    Between nodes both run straight. Depth 0 is full, depth 1 is `capacity_ah` delivered.

    Attributes:
        depth: uniform nodes from 0 to 1, shape (K,).
        open_circuit_v: voltage at rest at each node, shape (K,).
        resistance_mohm: at each node, at 25 C, fresh, shape (K,).
        capacity_ah: charge between depth 0 and 1.
        basis: how it was made: "curves", "one curve", or "stated resistance".
        caution: one sentence when the result deserves less trust, else empty.
    """

    depth: FloatArray
    open_circuit_v: FloatArray
    resistance_mohm: FloatArray
    capacity_ah: float
    basis: str
    caution: str = ""


def identify(cell: Cell) -> CellModel:
    """Regress voltage on current at equal delivered charge: intercept U, slope -R."""
    curves = sorted(cell.curves, key=lambda c: c.current_a)
    capacity_ah = max(c.capacity_ah[-1] for c in curves)
    charge = np.linspace(0.0, capacity_ah, NODES)
    current = np.array([c.current_a for c in curves])
    volts = np.array([np.interp(charge, c.capacity_ah, c.voltage_v, right=np.nan) for c in curves])
    u = np.full(NODES, np.nan)
    r = np.full(NODES, np.nan)
    for k in range(NODES):
        seen = ~np.isnan(volts[:, k])
        if seen.sum() >= 2:
            slope, u[k] = np.polyfit(current[seen], volts[seen, k], 1)
            r[k] = -1000.0 * slope
        else:
            r[k] = r[k - 1]
            u[k] = volts[seen, k][0] + current[seen][0] * r[k] / 1000.0
    return CellModel(np.linspace(0, 1, NODES), u, r, capacity_ah, "curves")
