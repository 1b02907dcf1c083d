"""What discharge curves at other temperatures say of a cell: its resistance and its charge there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from workbook.battery.derating import REFERENCE_C, TemperatureFit
from workbook.battery.model import CellModel, DischargeCurve
from workbook.numbers import FloatArray

RESISTANCE_RANGE = (0.2, 50.0)
CHARGE_RANGE = (0.05, 1.1)
"""Factors are looked for within these."""

PAST_EMPTY_V = 3.0
"""Volts that the model falls for each capacity past its last node, so that a fit can turn back from there."""


def with_temperatures(model: CellModel, curves: Sequence[DischargeCurve]) -> CellModel:
    """A model made at room temperature, with what curves at other temperatures say of it.

    At each of those temperatures one factor on the resistance and, for each curve, one on the charge are
    fitted, so that the model gives the curves back.

    Args:
        model: made from the curves at room temperature.
        curves: all of them; those at room temperature are left out here.

    Source: least squares over delivered charge.

    Example:
        >>> depth = np.linspace(0.0, 1.0, 11)
        >>> model = CellModel(depth, 4.2 - 1.2 * depth, np.full(11, 30.0), 5.0, "curves")
        >>> cold = DischargeCurve(5.0, (0.0, 2.0, 4.0), (3.9, 3.3667, 2.8333), 0.0)
        >>> law = with_temperatures(model, [cold]).temperature
        >>> print(law.resistance_factor.round(2), law.capacity_factor[0].round(2))
        [2. 1.] [0.9]
    """
    away = [curve for curve in curves if not curve.at_room_temperature]
    if not away:
        return model
    temperatures = sorted({curve.temperature_c for curve in away})
    amps = np.array(sorted({curve.current_a for curve in away}))
    found: list[tuple[float, float, FloatArray, float, float]] = []
    for temperature_c in temperatures:
        here = sorted(
            (c for c in away if c.temperature_c == temperature_c), key=lambda c: c.current_a
        )
        of_resistance, of_charge, missed_mv = _fitted(model, here)
        # more current never gives more charge
        shared = np.minimum.accumulate(np.interp(amps, [c.current_a for c in here], of_charge))
        found.append((temperature_c, of_resistance, shared, here[-1].current_a, missed_mv))
    highest_a = model.highest_a if np.isfinite(model.highest_a) else float(amps[-1])
    found.append((REFERENCE_C, 1.0, np.ones(amps.size), highest_a, 0.0))
    found.sort(key=lambda row: row[0])
    at_c, factor, charge, highest, miss_mv = (np.array(part) for part in zip(*found, strict=True))
    law = TemperatureFit(at_c, factor, amps, charge, highest, miss_mv)
    return replace(model, temperature=law)


def _fitted(model: CellModel, curves: list[DischargeCurve]) -> tuple[float, FloatArray, float]:
    """Factor on resistance, one on charge for each curve, and how far they miss in mV, root mean square."""

    def misses(factors: FloatArray) -> FloatArray:
        out = []
        for curve, of_charge in zip(curves, factors[1:], strict=True):
            charge, volts = np.array(curve.capacity_ah), np.array(curve.voltage_v)
            depth = charge / (model.capacity_ah * of_charge)
            drop_v = curve.current_a * factors[0] * model.resistance_at(depth) / 1000.0
            past = PAST_EMPTY_V * np.maximum(depth - 1.0, 0.0)
            missed = volts - (model.open_circuit_at(depth) - drop_v - past)
            out.append(missed * np.sqrt(np.gradient(charge) / (charge[-1] - charge[0])))
        return np.concatenate(out)

    low, high = (
        [r, *[q] * len(curves)] for r, q in zip(RESISTANCE_RANGE, CHARGE_RANGE, strict=True)
    )
    from scipy.optimize import least_squares

    found = least_squares(misses, [1.5, *[0.98] * len(curves)], bounds=(low, high))
    miss_mv = 1000.0 * float(np.sqrt(2.0 * found.cost / len(curves)))
    return float(found.x[0]), np.asarray(found.x[1:]), miss_mv
