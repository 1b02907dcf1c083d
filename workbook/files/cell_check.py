"""Whether a cell's figures can be, and whether they are likely."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.model import DischargeCurve
from workbook.errors import Problem

CELL_FORMATS = ("18650", "21700", "pouch")
KINDS = ("energy", "power", "lithium-polymer")

# Usual ranges of cylindrical cells: mass, diameter, height, highest believable capacity and
# continuous current. Common practice, no source; sizes follow the name of the format (IEC 61960-3).
USUAL = {
    "18650": {
        "mass_g": (44.0, 50.0),
        "diameter_mm": (18.0, 18.7),
        "height_mm": (64.5, 65.5),
        "typical_capacity_ah": (1.0, 3.6),
        "continuous_a": (2.0, 35.0),
    },
    "21700": {
        "mass_g": (62.0, 74.0),
        "diameter_mm": (20.9, 21.8),
        "height_mm": (69.5, 71.0),
        "typical_capacity_ah": (2.5, 6.0),
        "continuous_a": (4.0, 50.0),
    },
}
UNITS = {
    "_mohm": "mohm",
    "_mm": "mm",
    "_ah": "Ah",
    "_v": "V",
    "_a": "A",
    "_g": "g",
    "_s": "s",
    "_c": "C",
}


@dataclass(frozen=True)
class CellCheck:
    """What is wrong with a cell's figures.

    Attributes:
        refusals: what cannot be; the cell is not to be used.
        cautions: what can be but is unlikely; the cell can be used with the doubt said.
    """

    refusals: tuple[Problem, ...]
    cautions: tuple[Problem, ...]


def check_cell(cell: Cell, where: str = "") -> CellCheck:
    """Find every figure of a cell that cannot be, and every one that is unlikely.

    Args:
        cell: the cell, from a file or typed in.
        where: the file's name, put before each key.

    Returns:
        Refusals and cautions, each with the key, the value and what would be right.

    Source: IEC 62133-2 annex A (4.25 V upper charge limit, from memory); ranges of mass, size and
        energy: common practice, no source.

    Example:
        >>> from dataclasses import replace
        >>> from workbook.files.cell_file import find_cell
        >>> cell = replace(find_cell("Bittern 50E"), burst_a=8.0)
        >>> print(check_cell(cell, "my.toml").refusals[0])
        my.toml, burst_a: 8 A is below continuous_a, 10 A; a burst current is at least that.
    """
    refusals: list[Problem] = []
    cautions: list[Problem] = []

    def at(key: str) -> str:
        return f"{where}, {key}" if where else key

    def refuse(key: str, what: str) -> None:
        refusals.append(Problem(what, at(key)))

    def doubt(key: str, what: str) -> None:
        cautions.append(Problem(what, at(key)))

    if cell.cell_format not in CELL_FORMATS:
        refuse("cell_format", f"{cell.cell_format!r} is not known; {either(CELL_FORMATS)} is.")
    if cell.kind not in KINDS:
        refuse("kind", f"{cell.kind!r} is not known; {either(KINDS)} is.")
    pouch = cell.cell_format == "pouch"
    bad: set[str] = set()
    for key in _positive_keys():
        value = getattr(cell, key)
        unit = unit_of(key)
        lowest = 0.0 if pouch and key in ("diameter_mm", "height_mm") else None
        if not np.isfinite(value) or value < 0 or (value == 0 and lowest is None):
            bad.add(key)
            refuse(key, f"{value:g} {unit} cannot be; a number above 0 {unit} is needed.")
    if cell.price is not None and not (np.isfinite(cell.price) and cell.price >= 0):
        refuse("price", f"{cell.price:g} cannot be; 0 or more is needed.")

    def above(key: str, other: str, right: str, *, equal: bool, tell: Any = refuse) -> None:
        """Say so when `key` is not above (or equal to) `other`."""
        if bad & {key, other}:
            return
        value, limit, unit = getattr(cell, key), getattr(cell, other), unit_of(key)
        if value < limit or (value == limit and not equal):
            word = "below" if value < limit else "equal to"
            tell(key, f"{value:g} {unit} is {word} {other}, {limit:g} {unit}; {right}.")

    above("burst_a", "continuous_a", "a burst current is at least that", equal=True)
    above("max_charge_a", "standard_charge_a", "the highest is at least that", equal=True)
    above("typical_capacity_ah", "rated_capacity_ah", "the rated one is the minimum", equal=True)
    above("nominal_v", "cutoff_v", "the nominal voltage lies above the cutoff", equal=False)
    above("charge_v", "nominal_v", "a full cell lies above nominal", equal=False)
    above(
        "continuous_a",
        "max_charge_a",
        "cells are rarely charged faster than discharged, see the datasheet",
        equal=True,
        tell=doubt,
    )
    for low, high in (
        ("min_charge_temperature_c", "max_charge_temperature_c"),
        ("min_temperature_c", "max_temperature_c"),
    ):
        if not getattr(cell, low) < getattr(cell, high):
            refuse(
                high,
                f"{getattr(cell, high):g} C is not above {low}, {getattr(cell, low):g} C; "
                "a window needs its upper end higher.",
            )
    if cell.min_charge_temperature_c < 0:
        doubt(
            "min_charge_temperature_c",
            f"{cell.min_charge_temperature_c:g} C is below freezing; charging there plates "
            "lithium, and 0 C is usual.",
        )

    if "charge_v" not in bad and cell.charge_v > 4.25:
        tell = doubt if pouch else refuse
        tell(
            "charge_v",
            f"{cell.charge_v:g} V is above 4.25 V, the upper limit of IEC 62133-2; "
            "4.20 V is right for these cells.",
        )
    if not {"rated_capacity_ah", "typical_capacity_ah"} & bad:
        ratio = cell.typical_capacity_ah / cell.rated_capacity_ah
        if ratio > 1.1:
            doubt(
                "typical_capacity_ah",
                f"{cell.typical_capacity_ah:g} Ah is {100 * (ratio - 1):.0f} % above the rated "
                "one; 2 to 5 % is usual.",
            )
    if not {"resistance_mohm"} & bad:
        if not 1.0 <= cell.resistance_mohm <= 500.0:
            refuse(
                "resistance_mohm",
                f"{cell.resistance_mohm:g} mohm cannot be for one cell; 10 to 60 mohm is usual "
                "(a figure in ohm is 1000 times smaller).",
            )
        elif not bad & {"continuous_a", "nominal_v", "cutoff_v"}:
            sag = cell.continuous_a * cell.resistance_mohm / 1000.0
            if sag > cell.nominal_v - cell.cutoff_v:
                doubt(
                    "continuous_a",
                    f"{cell.continuous_a:g} A through {cell.resistance_mohm:g} mohm drops "
                    f"{sag:.2f} V, under the cutoff from the nominal voltage; check both figures.",
                )

    usual = USUAL.get(cell.cell_format, {})
    for key, (low_end, high_end) in usual.items():
        if key in bad:
            continue
        value, unit = getattr(cell, key), unit_of(key)
        size = f"{low_end:g} to {high_end:g} {unit}"
        if key in ("mass_g", "diameter_mm", "height_mm"):
            slack = 1.6 if key == "mass_g" else 1.06
            if not low_end / slack <= value <= high_end * slack:
                refuse(key, f"{value:g} {unit} is no {cell.cell_format}; {size} is usual.")
            elif not low_end <= value <= high_end:
                doubt(key, f"{value:g} {unit} is unusual for {cell.cell_format}; {size} is usual.")
        elif value > high_end:
            doubt(
                key,
                f"{value:g} {unit} is more than a true {cell.cell_format} gives "
                f"(about {high_end:g} {unit} at most); suspect a false label.",
            )
    if usual and not bad & {"mass_g", "nominal_v", "typical_capacity_ah"}:
        density = 1000.0 * cell.nominal_v * cell.typical_capacity_ah / cell.mass_g
        told = (
            f"{cell.typical_capacity_ah:g} Ah x {cell.nominal_v:g} V in {cell.mass_g:g} g is "
            f"{density:.0f} Wh/kg; 150 to 300 Wh/kg is usual for a cylindrical cell."
        )
        if not 60.0 <= density <= 400.0:
            refuse("typical_capacity_ah", told)
        elif not 150.0 <= density <= 300.0:
            doubt("typical_capacity_ah", told)

    _check_curves(cell, refuse, doubt, bad)
    return CellCheck(tuple(refusals), tuple(cautions))


def _check_curves(
    cell: Cell,
    refuse: Callable[[str, str], None],
    doubt: Callable[[str, str], None],
    bad: set[str],
) -> None:
    """Check the discharge family: each curve alone, the lowest against the cell, then in pairs."""
    sound: list[DischargeCurve] = []
    seen: dict[float, str] = {}
    for number, curve in enumerate(cell.curves, 1):
        key = f"curves {number} ({curve.current_a:g} A)"
        charge, volts = np.array(curve.capacity_ah), np.array(curve.voltage_v)
        told = len(charge)
        if not (np.isfinite(curve.current_a) and curve.current_a > 0):
            refuse(f"{key}, current_a", f"{curve.current_a:g} A cannot be; above 0 A is needed.")
            continue
        if curve.current_a in seen:
            refuse(key, f"{curve.current_a:g} A is also the current of {seen[curve.current_a]}.")
            continue
        seen[curve.current_a] = f"curve {number}"
        if len(charge) != len(volts):
            refuse(
                key,
                f"{told} capacities but {len(volts)} voltages; one voltage a point is needed.",
            )
            continue
        if told < 3:
            refuse(key, f"{told} points; at least 3, better 12 or more, are needed.")
            continue
        if not (np.isfinite(charge).all() and np.isfinite(volts).all()):
            point = int(np.argmin(np.isfinite(charge) & np.isfinite(volts))) + 1
            refuse(key, f"point {point} is not a number; read it again off the page.")
            continue
        if charge[0] < 0:
            refuse(f"{key}, capacity_ah", f"starts at {charge[0]:g} Ah; 0 or more is needed.")
            continue
        steps = np.diff(charge)
        if (steps <= 0).any():
            k = int(np.argmax(steps <= 0))
            refuse(
                f"{key}, capacity_ah",
                f"point {k + 2} is {charge[k + 1]:g} Ah after {charge[k]:g} Ah; delivered charge "
                "must rise.",
            )
            continue
        rises = np.diff(volts)
        if (rises > 0).any():
            k = int(np.argmax(rises > 0))
            refuse(
                f"{key}, voltage_v",
                f"point {k + 2} is {volts[k + 1]:g} V after {volts[k]:g} V; a discharge curve "
                "never rises.",
            )
            continue
        if volts[-1] < 1.0 or volts[0] > 5.0:
            refuse(
                f"{key}, voltage_v",
                f"runs from {volts[0]:g} V to {volts[-1]:g} V; one cell runs from about 4.2 V to "
                "2.5 V.",
            )
            continue
        if "charge_v" not in bad and volts[0] > cell.charge_v + 0.02:
            refuse(
                f"{key}, voltage_v",
                f"starts at {volts[0]:g} V, above charge_v, {cell.charge_v:g} V.",
            )
            continue
        if curve.current_a > cell.burst_a:
            doubt(key, f"{curve.current_a:g} A is above burst_a, {cell.burst_a:g} A.")
        sound.append(curve)
    sound.sort(key=lambda c: c.current_a)
    if sound and not bad & {"typical_capacity_ah", "cutoff_v"}:
        first = sound[0]
        key = f"curve at {first.current_a:g} A"
        end, typical = first.capacity_ah[-1], cell.typical_capacity_ah
        told_end = f"ends at {end:g} Ah; near typical_capacity_ah, {typical:g} Ah, is expected"
        if not 0.5 <= end / typical <= 1.3:
            refuse(key, f"{told_end} (mAh and Ah differ by 1000).")
        elif abs(end / typical - 1.0) > 0.08:
            doubt(key, f"{told_end}.")
        if first.capacity_ah[0] > 0.05 * typical:
            doubt(key, f"starts at {first.capacity_ah[0]:g} Ah; a curve is read from 0 Ah on.")
        if abs(first.voltage_v[-1] - cell.cutoff_v) > 0.3:
            doubt(
                key,
                f"ends at {first.voltage_v[-1]:g} V; near cutoff_v, {cell.cutoff_v:g} V, "
                "is expected.",
            )
        if "nominal_v" not in bad:
            mean = float(np.trapezoid(first.voltage_v, first.capacity_ah)) / (
                end - first.capacity_ah[0]
            )
            if abs(mean / cell.nominal_v - 1.0) > 0.06:
                doubt(
                    "nominal_v",
                    f"{cell.nominal_v:g} V, but the {key} has a mean of {mean:.2f} V; the two "
                    "should lie within 6 %.",
                )
    for low, high in itertools.pairwise(sound):
        start = max(low.capacity_ah[0], high.capacity_ah[0])
        stop = min(low.capacity_ah[-1], high.capacity_ah[-1])
        if stop <= start:
            continue
        charge = np.linspace(start, stop, 101)
        gap = np.interp(charge, low.capacity_ah, low.voltage_v) - np.interp(
            charge, high.capacity_ah, high.voltage_v
        )
        key = f"curve at {high.current_a:g} A"
        if gap.mean() <= 0:
            refuse(
                key,
                f"lies above the curve at {low.current_a:g} A; more current must give less "
                "voltage (are the labels swapped?).",
            )
        elif gap.min() < -0.015:
            k = int(gap.argmin())
            doubt(
                key,
                f"crosses the curve at {low.current_a:g} A near {charge[k]:.2f} Ah; the cell "
                "warmed itself, or a point was misread.",
            )
    slope = curve_resistance_mohm(sound)
    if slope is not None and not {"resistance_mohm"} & bad:
        ratio = cell.resistance_mohm / slope
        if not 0.7 <= ratio <= 1.4:
            doubt(
                "resistance_mohm",
                f"{cell.resistance_mohm:g} mohm, but the curves give about {slope:.0f} mohm; "
                "an alternating-current (1 kHz) figure reads low, and the curves are used.",
            )


def curve_resistance_mohm(curves: Iterable[DischargeCurve]) -> float | None:
    """Mid-discharge resistance of a curve family: the mean slope of voltage on current.

    Args:
        curves: the family, any order.

    Returns:
        Slope in mohm between 30 and 70 % of the shortest curve's charge, or None with fewer than
        two curves.

    Source: least squares at equal delivered charge; the range is common practice, no source.

    Example:
        >>> slow = DischargeCurve(1.0, (0.0, 1.0, 2.0), (4.18, 3.68, 3.18))
        >>> fast = DischargeCurve(11.0, (0.0, 1.0, 2.0), (3.98, 3.48, 2.98))
        >>> curve_resistance_mohm((slow, fast))
        20.0
    """
    family = list(curves)
    if len(family) < 2:
        return None
    shortest = min(c.capacity_ah[-1] for c in family)
    charge = np.linspace(0.3, 0.7, 21) * shortest
    volts = np.array([np.interp(charge, c.capacity_ah, c.voltage_v) for c in family])
    current = np.array([c.current_a for c in family])
    return float(-1000.0 * np.polyfit(current, volts, 1)[0].mean())


def _positive_keys() -> list[str]:
    signed = {"price"}
    return [
        f.name
        for f in fields(Cell)
        if unit_of(f.name) and not f.name.endswith("temperature_c") and f.name not in signed
    ]


def unit_of(key: str) -> str:
    """The unit that a key's suffix names, as printed; empty for a ratio or a text."""
    return next((unit for end, unit in UNITS.items() if key.endswith(end)), "")


def either(words: Iterable[str]) -> str:
    """Words in quotes, as a choice: 'this', 'that' or 'the other'."""
    listed = [repr(w) for w in words]
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} or {listed[-1]}"
