"""Sag from full to empty under constant power, and where no voltage can give the power any more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.discharge import voltage_under_power
from workbook.battery.model import CellModel
from workbook.numbers import FloatArray, Number


def most_power_w(open_circuit_v: Number, resistance_mohm: Number) -> FloatArray:
    """The most power that a source with a resistance can give: U^2 / (4 R). Above it voltage collapses.

    Args:
        open_circuit_v: voltage at rest, V, 0 or more.
        resistance_mohm: resistance of the source, mohm, above 0.

    Source: maximum power transfer theorem; the discriminant of V^2 - U V + P R = 0.

    Example:
        >>> most_power_w([4.0, 3.2], 40.0)
        array([100.,  64.])
    """
    u = np.asarray(open_circuit_v, dtype=float)
    return np.asarray(u**2 / (4.0 * np.asarray(resistance_mohm) / 1000.0))


@dataclass(frozen=True)
class SagCurve:
    """One cell under constant power over its whole charge, arrays of shape (K,).

    Attributes:
        depth_of_discharge: depth of discharge, 0 to 1.
        charge_ah: taken by then.
        rest_v: voltage at rest.
        loaded_v, current_a: under the power; NaN where the cell cannot give it.
        collapse_depth_of_discharge: first depth at which it cannot; NaN where it always can.
    """

    depth_of_discharge: FloatArray
    charge_ah: FloatArray
    rest_v: FloatArray
    loaded_v: FloatArray
    current_a: FloatArray
    collapse_depth_of_discharge: float


def sag_curve(
    model: CellModel,
    power_w: float,
    *,
    extra_mohm: float = 0.0,
    resistance_factor: float = 1.0,
    capacity_factor: float = 1.0,
    points: int = 401,
) -> SagCurve:
    """The voltage of one cell under constant power, from full to empty.

    Args:
        model: the cell.
        power_w: of the cell, above 0.
        extra_mohm: joints and leads, as seen by one cell.
        resistance_factor, capacity_factor: on the cell's own (age, cold); 1 is fresh at 25 C.
        points: how many, evenly over depth.

    Source: V = (U + sqrt(U^2 - 4 P R)) / 2.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> curve = sag_curve(find_cell("Bittern 50E").model, 20.0)
        >>> bool(curve.current_a[300] > curve.current_a[0]), curve.collapse_depth_of_discharge
        (True, nan)
    """
    depth = np.linspace(0.0, 1.0, points)
    rest = model.open_circuit_at(depth)
    r_mohm = model.resistance_at(depth) * resistance_factor + extra_mohm
    loaded = voltage_under_power(rest, r_mohm, power_w)
    gone = np.flatnonzero(np.isnan(loaded))
    if gone.size:  # past the first place where it fails, the flight is over
        loaded[gone[0] :] = np.nan
    return SagCurve(
        depth,
        depth * model.capacity_ah * capacity_factor,
        rest,
        loaded,
        np.asarray(power_w / loaded),
        float(depth[gone[0]]) if gone.size else float("nan"),
    )


def naive_minutes(charge_ah: Number, current_a: Number) -> FloatArray:
    """Minutes by charge over one current: 60 x Ah / A. It takes the current for constant.

    At constant power the current rises as the voltage falls, so with the current of take-off this is
    too long; kept to be held against `workbook.battery.discharge.constant_power`.

    Args:
        charge_ah: charge to be used, Ah, 0 or more.
        current_a: current, A, above 0.

    Source: arithmetic.

    Example:
        >>> float(naive_minutes(10.0, 20.0))
        30.0
    """
    return np.asarray(60.0 * np.asarray(charge_ah, dtype=float) / np.asarray(current_a))
