"""Draw the workbook's invented cells, as a module (-m), to write workbook/data/cells again.

Each cell has an open-circuit voltage U(z) and a resistance R(z) over depth of discharge z, invented
within the usual shapes of its kind. A curve is V = U - I R, at one temperature, read off at round
values of charge to 10 mAh and 5 mV, as a person would read it off a page.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.files.cell_file import write_cell

FOLDER = Path(__file__).parents[2] / "workbook" / "data" / "cells"
NOTE = "Invented for this workbook; it is no maker's product and no datasheet stands behind it."

# Open-circuit voltage over depth; the last figure is put in so that the slowest curve ends at the
# cutoff. Energy cells slope more and keep a shoulder near 3.5 V; power cells lie a little higher.
DEPTH = (0.0, 0.03, 0.08, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.84, 0.91, 0.955, 0.985, 1.0)
OPEN_V = {
    "energy": (4.19, 4.13, 4.08, 4.04, 3.95, 3.85, 3.76, 3.68, 3.60, 3.52, 3.42, 3.29, 3.15, 2.86),
    "power": (4.19, 4.13, 4.07, 4.01, 3.92, 3.83, 3.74, 3.66, 3.60, 3.53, 3.44, 3.32, 3.17, 2.88),
}
RISE_DEPTH = (0.0, 0.02, 0.06, 0.15, 0.5, 0.75, 0.88, 0.95, 1.0)
RISE = (0.6, 0.78, 0.92, 1.0, 1.0, 1.03, 1.15, 1.4, 2.0)

# name, format, kind, g, mm, mm, rated Ah, typical Ah, cutoff V, continuous A, burst A, burst s,
# standard and highest charge A, mohm, price, currents of the curves in A
ROWS = (
    ("Bittern 50E", "21700", "energy", 70.0, 21.2, 70.2, 4.85, 5.00, 2.5,
     10.0, 15.0, 10.0, 1.7, 3.5, 28.0, 4.6, (1.0, 2.5, 5.0, 10.0)),
    ("Bulrush 53E", "21700", "energy", 71.5, 21.4, 70.3, 5.15, 5.30, 2.5,
     8.0, 12.0, 10.0, 1.6, 2.6, 34.0, 5.4, (1.0, 2.5, 5.0, 8.0)),
    ("Sedge 48E", "21700", "energy", 68.5, 21.2, 70.1, 4.70, 4.80, 2.5,
     14.0, 20.0, 10.0, 2.4, 4.8, 24.0, 4.4, (1.0, 4.8, 9.6, 14.0)),
    ("Lapwing 45P", "21700", "power", 69.5, 21.3, 70.2, 4.40, 4.50, 2.5,
     20.0, 30.0, 10.0, 2.2, 6.0, 18.0, 5.0, (0.9, 4.5, 10.0, 20.0)),
    ("Godwit 42P", "21700", "power", 70.0, 21.5, 70.2, 4.05, 4.20, 2.5,
     25.0, 35.0, 8.0, 2.1, 6.0, 16.0, 5.2, (0.8, 4.2, 12.0, 25.0)),
    ("Avocet 40P", "21700", "power", 70.0, 21.4, 70.3, 3.90, 4.00, 2.5,
     30.0, 45.0, 6.0, 2.0, 6.0, 14.0, 5.8, (0.8, 4.0, 12.0, 30.0)),
    ("Curlew 34E", "18650", "energy", 48.0, 18.4, 65.1, 3.30, 3.40, 2.5,
     8.0, 12.0, 10.0, 1.6, 3.2, 36.0, 3.4, (0.7, 1.7, 3.4, 8.0)),
    ("Reedling 35E", "18650", "energy", 48.5, 18.5, 65.2, 3.35, 3.50, 2.65,
     10.0, 13.0, 10.0, 1.7, 3.4, 32.0, 3.9, (0.7, 1.75, 5.0, 10.0)),
    ("Rail 29E", "18650", "energy", 46.0, 18.3, 65.0, 2.80, 2.90, 2.5,
     6.0, 8.0, 10.0, 1.4, 2.8, 46.0, 2.4, (0.6, 1.5, 3.0, 6.0)),
    ("Teal 30P", "18650", "power", 47.0, 18.4, 65.0, 2.95, 3.05, 2.5,
     15.0, 20.0, 10.0, 1.5, 4.0, 24.0, 3.8, (0.6, 3.0, 8.0, 15.0)),
    ("Wigeon 26P", "18650", "power", 45.5, 18.3, 64.9, 2.50, 2.60, 2.5,
     20.0, 30.0, 8.0, 1.3, 4.0, 19.0, 3.5, (0.5, 2.5, 10.0, 20.0)),
    ("Sandpiper 20P", "18650", "power", 45.0, 18.4, 65.0, 1.95, 2.05, 2.5,
     25.0, 35.0, 6.0, 1.0, 4.0, 15.0, 3.6, (0.4, 2.0, 10.0, 25.0)),
)  # fmt: skip


def shapes(kind: str, resistance_mohm: float, first_a: float, cutoff_v: float):
    """U(z) and R(z) as smooth monotone curves."""
    end_v = cutoff_v + first_a * resistance_mohm * RISE[-1] / 1000.0
    shift = np.array(OPEN_V[kind])
    open_v = PchipInterpolator(DEPTH, [*shift, end_v])
    rise = PchipInterpolator(RISE_DEPTH, np.array(RISE) * resistance_mohm)
    return open_v, rise


def drawn(kind, resistance_mohm, capacity_ah, cutoff_v, currents) -> tuple[DischargeCurve, ...]:
    open_v, rise = shapes(kind, resistance_mohm, currents[0], cutoff_v)
    curves = []
    for current in currents:

        def volts(z, current=current):
            return open_v(z) - current * rise(z) / 1000.0

        end = 1.0 if current == currents[0] else brentq(lambda z: volts(z) - cutoff_v, 0.5, 1.0)
        z = np.unique(np.append([0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.87], end))
        z = np.unique(np.append(z, end - np.array([0.05, 0.025, 0.012, 0.005])))
        z = z[z <= end]
        charge = np.unique(np.round(z * capacity_ah, 2))
        read = np.round(volts(np.minimum(charge / capacity_ah, end)) / 0.005) * 0.005
        read[-1] = cutoff_v
        curves.append(
            DischargeCurve(
                current,
                tuple(float(q) for q in charge),
                tuple(float(v) for v in np.round(np.minimum.accumulate(read), 3)),
            )
        )
    return tuple(curves)


def cell_of(row) -> Cell:
    (name, size, kind, mass, diameter, height, rated, typical, cutoff, continuous, burst, burst_s,
     standard, highest, resistance, price, currents) = row  # fmt: skip
    return Cell(
        name=name, cell_format=size, kind=kind, mass_g=mass, diameter_mm=diameter,
        height_mm=height, rated_capacity_ah=rated, typical_capacity_ah=typical, nominal_v=3.6,
        charge_v=4.2, cutoff_v=cutoff, continuous_a=continuous, burst_a=burst, burst_s=burst_s,
        standard_charge_a=standard, max_charge_a=highest, resistance_mohm=resistance,
        curves=drawn(kind, resistance, typical, cutoff, currents), price=price, note=NOTE,
    )  # fmt: skip


if __name__ == "__main__":
    for each in ROWS:
        file_name = each[0].lower().replace(" ", "-") + ".toml"
        write_cell(cell_of(each), FOLDER / file_name, overwrite=True)
