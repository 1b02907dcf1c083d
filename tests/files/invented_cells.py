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
    ("Bittern", "21700", "energy", 69.4, 21.2, 70.2, 5.04, 5.17, 2.5,
     8.5, 12.5, 10.0, 1.6, 3.2, 30.0, 4.7, (1.0, 2.0, 4.0, 8.5)),
    ("Bulrush", "21700", "energy", 72.2, 21.4, 70.3, 5.41, 5.54, 2.5,
     6.5, 9.5, 10.0, 1.5, 2.4, 38.0, 5.6, (1.1, 2.0, 4.0, 6.5)),
    ("Sedge", "21700", "energy", 67.2, 21.2, 70.1, 4.57, 4.66, 2.5,
     12.5, 21.5, 10.0, 2.3, 4.5, 25.0, 4.3, (0.9, 4.5, 8.5, 12.5)),
    ("Lapwing", "21700", "power", 68.9, 21.3, 70.2, 4.26, 4.36, 2.5,
     18.0, 27.0, 10.0, 2.0, 5.5, 18.6, 4.9, (0.9, 4.0, 9.0, 18.0)),
    ("Godwit", "21700", "power", 68.1, 21.5, 70.2, 3.77, 3.87, 2.5,
     23.0, 33.0, 8.0, 1.9, 5.6, 16.4, 5.1, (0.8, 4.0, 11.0, 23.0)),
    ("Avocet", "21700", "power", 67.4, 21.4, 70.3, 3.52, 3.61, 2.5,
     28.0, 41.0, 6.0, 1.8, 5.8, 13.6, 5.7, (0.7, 3.5, 11.0, 28.0)),
    ("Curlew", "18650", "energy", 47.3, 18.4, 65.1, 3.13, 3.22, 2.5,
     7.0, 11.0, 10.0, 1.5, 3.0, 38.0, 3.3, (0.6, 1.5, 3.0, 7.0)),
    ("Reedling", "18650", "energy", 46.8, 18.5, 65.2, 2.84, 2.93, 2.5,
     12.0, 17.0, 10.0, 1.2, 3.1, 29.0, 3.7, (0.6, 2.0, 5.5, 12.0)),
    ("Rail", "18650", "energy", 45.1, 18.3, 65.0, 2.65, 2.74, 2.5,
     5.5, 7.5, 10.0, 1.3, 2.6, 48.0, 2.3, (0.5, 1.5, 3.0, 5.5)),
    ("Teal", "18650", "power", 46.2, 18.4, 65.0, 2.71, 2.79, 2.5,
     14.0, 19.0, 10.0, 1.4, 3.6, 25.0, 3.6, (0.6, 3.0, 7.5, 14.0)),
    ("Wigeon", "18650", "power", 44.6, 18.3, 64.9, 2.34, 2.43, 2.5,
     18.0, 27.0, 8.0, 1.2, 3.7, 19.6, 3.4, (0.5, 2.0, 9.0, 18.0)),
    ("Sandpiper", "18650", "power", 44.1, 18.4, 65.0, 1.82, 1.91, 2.5,
     23.0, 33.0, 6.0, 0.9, 3.7, 15.6, 3.5, (0.4, 2.0, 9.0, 23.0)),
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
