"""Discharge curves from a graph's picture: traced pixels to points of charge and voltage, few and in order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

from workbook.battery.derating import REFERENCE_C
from workbook.battery.model import DischargeCurve
from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.pictures.axes import Axes
from workbook.pictures.trace import TracedCurve

MOST_POINTS = 40
"""Of one curve: more add nothing."""
STRAIGHT_V = 0.002
"""A point is left out where the line through its neighbours misses the curve by less: half of what a pixel is
worth on a usual graph."""
LEAST_SEEN = 0.88
"""Share of a curve below which a message asks for more clicks."""
_HOURS = {"h": 1.0, "min": 1 / 60, "s": 1 / 3600}
ACROSS_UNITS = ("mAh", "Ah", "% taken", "% left", *_HOURS)
"""What an axis from left to right may count. Of a percentage the capacity must be known; a time is one at the
curve's own, constant current."""


@dataclass(frozen=True, eq=False)
class NamedCurve:
    """A traced curve and the current that is printed beside it.

    Attributes:
        traced: its pixels.
        current_a: above 0.
        temperature_c: at which it was taken.
    """

    traced: TracedCurve
    current_a: float
    temperature_c: float = REFERENCE_C


def charge_ah(across: FloatArray, unit: str, current_a: float, capacity_ah: float) -> FloatArray:
    """Charge delivered, from the figures on the axis.

    Args:
        across: figures on the axis.
        unit: one of `ACROSS_UNITS`.
        current_a: of the curve; for a time.
        capacity_ah: at 100 %; for a percentage.

    Example:
        >>> (
        ...     charge_ah(np.array([0.0, 30.0]), "min", 4.0, 5.0),
        ...     charge_ah(np.array([100.0, 60.0]), "% left", 4.0, 5.0),
        ... )
        (array([0., 2.]), array([0., 2.]))
    """
    if unit in _HOURS:
        return across * _HOURS[unit] * current_a
    if unit == "% left":
        return (100.0 - across) / 100.0 * capacity_ah
    return across * {"mAh": 0.001, "Ah": 1.0, "% taken": capacity_ah / 100.0}[unit]


def discharge_curve(curve: NamedCurve, axes: Axes, unit: str, capacity_ah: float) -> DischargeCurve:
    """Points of a traced curve, in the workbook's units, as few as the curve needs.

    Args:
        curve: traced and named.
        axes: of its graph.
        unit: of the axis from left to right, one of `ACROSS_UNITS`.
        capacity_ah: at 100 %.

    Raises:
        InputError: the current is not above 0, or the voltages or charges cannot be a cell's.
    """
    if not curve.current_a > 0:
        raise InputError(
            f"a current of {curve.current_a:g} A names no curve; one above 0 A is needed."
        )
    across, volts = axes.figures(curve.traced.pixels).T
    charge = charge_ah(across, unit, curve.current_a, capacity_ah)
    name = f"the curve at {curve.current_a:g} A"
    if volts.min() < 0.5 or volts.max() > 5.0:
        raise InputError(
            f"{name} runs from {volts.max():.2f} to {volts.min():.2f} V, which no cell does; check the known "
            "points of the voltage axis."
        )
    if charge.min() < -0.03 * np.ptp(charge):
        raise InputError(
            f"{name} begins at {charge.min():.3g} Ah; check the known points and the unit {unit}."
        )
    points = _thinned(_in_order(np.column_stack([np.maximum(charge, 0.0), volts])))
    return DischargeCurve(
        curve.current_a,
        tuple(points[:, 0].round(4).tolist()),
        tuple(points[:, 1].round(4).tolist()),
        curve.temperature_c,
    )


def _in_order(points: FloatArray) -> FloatArray:
    """Points by rising charge and never rising voltage, those that share 1/200 of the charge or 4 mV made one."""
    if points[0, 0] > points[-1, 0]:
        points = points[::-1]
    step = np.array([np.ptp(points[:, 0]) / 200, 0.004])
    moved = np.abs(np.diff(points, axis=0)) / step
    place = np.floor(np.concatenate([[0.0], np.cumsum(moved.max(axis=1))])).astype(int)
    means = np.array([points[place == n].mean(axis=0) for n in np.unique(place)])
    means[0], means[-1] = points[0], points[-1]
    rising = means[:, 0] >= np.maximum.accumulate(means[:, 0])
    means = means[rising]
    means = means[np.concatenate([[True], np.diff(means[:, 0]) > 0])]
    means[:, 1] = isotonic_regression(means[:, 1], increasing=False).x
    return np.asarray(means)


def _thinned(points: FloatArray) -> FloatArray:
    """As few of the points as draw the same curve.

    Source: Douglas and Peucker, Cartographica 10, 112, 1973, as scikit-image has it.
    """
    try:
        from skimage.measure import approximate_polygon
    except ImportError:
        return points
    scale = np.array([np.ptp(points[:, 0]) / 1.5, 1.0])
    tolerance = STRAIGHT_V
    kept = points
    while len(kept) > MOST_POINTS or tolerance == STRAIGHT_V:
        kept = np.asarray(approximate_polygon(points / scale, tolerance)) * scale
        tolerance *= 1.3
    return kept


def points_text(curves: Iterable[DischargeCurve]) -> str:
    """Curves as the table of points that the workbook's reader of curves takes.

    Example:
        >>> print(points_text([DischargeCurve(2.0, (0.0, 1.5), (4.1, 3.6))]))
        A;Ah;V;°C
        2;0;4.1;25
        2;1.5;3.6;25
        <BLANKLINE>
    """
    lines = [
        f"{c.current_a:g};{ah:.6g};{v:.6g};{c.temperature_c:g}"
        for c in curves
        for ah, v in zip(c.capacity_ah, c.voltage_v, strict=True)
    ]
    return "\n".join(["A;Ah;V;°C", *lines]) + "\n"


def unseen_text(curve: NamedCurve) -> str:
    """A sentence about the part of a traced curve that was not seen; empty where nearly all of it was."""
    if curve.traced.seen >= LEAST_SEEN:
        return ""
    hidden = 100 * (1 - curve.traced.seen)
    return (
        f"Of the curve at {curve.current_a:g} A {hidden:.0f} % was not seen in its colour: where another line or "
        "a legend covers it, click once more on the curve itself."
    )
