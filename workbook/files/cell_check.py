"""Whether a cell's figures can be, and whether they are likely."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.derating import REFERENCE_C
from workbook.battery.model import ROOM_C, DischargeCurve
from workbook.data.tables import data_rows
from workbook.errors import Problem
from workbook.quantities import unit_of

CELL_FORMATS = ("18650", "21700", "pouch")
KINDS = ("energy", "power", "lithium-polymer")

USUAL_RANGES = data_rows("usual_cells.csv")
"""Usual ranges of cylindrical cells: mass, diameter, height, highest believable capacity and continuous current.
Common practice, no source; sizes follow the name of the format (IEC 61960-3)."""
MOST_CURRENT_A = 1000.0
"""Of one cell: twenty times what the strongest of these sizes is rated for. Common practice, no source."""
MOST_CHARGE_V = 4.25
"""Source: IEC 62133-2 annex A, upper charge limit (from memory)."""
ORDERED_KEYS = (
    ("burst_a", "continuous_a", "a burst current is at least that"),
    ("max_charge_a", "standard_charge_a", "the highest is at least that"),
    ("typical_capacity_ah", "rated_capacity_ah", "the rated one is the minimum"),
    ("nominal_v", "cutoff_v", "the nominal voltage lies above the cutoff"),
    ("charge_v", "nominal_v", "a full cell lies above nominal"),
)
"""A figure, another that it is not below, and why. Voltages are not equal either."""
CURVES_C = (-50.0, 80.0)
"""Temperatures at which discharge curves are taken. Common practice, no source."""
TEMPERATURE_WINDOWS = (
    ("min_charge_temperature_c", "max_charge_temperature_c"),
    ("min_temperature_c", "max_temperature_c"),
)


@dataclass(frozen=True, eq=False)
class CellCheck:
    """What is wrong with a cell's figures.

    Attributes:
        refusals: what is not possible; the cell is not to be used.
        cautions: what can be but is unlikely; the cell can be used, with the doubt shown.
    """

    refusals: tuple[Problem, ...]
    cautions: tuple[Problem, ...]


class _Findings:
    """Refusals and cautions as they are found, and which keys are no figures at all."""

    def __init__(self, cell: Cell, where: str) -> None:
        self.cell, self.where = cell, where
        self.refusals: list[Problem] = []
        self.cautions: list[Problem] = []
        self.bad: set[str] = set()

    def refuse(self, key: str, what: str) -> None:
        self.refusals.append(Problem(what, f"{self.where}, {key}" if self.where else key))

    def doubt(self, key: str, what: str) -> None:
        self.cautions.append(Problem(what, f"{self.where}, {key}" if self.where else key))

    def sound(self, *keys: str) -> bool:
        """Whether keys hold figures that can be held against each other."""
        return not self.bad & set(keys)

    def text(self, key: str) -> str:
        """A figure with its unit."""
        return f"{getattr(self.cell, key):g} {unit_of(key)}"


@lru_cache(maxsize=64)
def check_cell(cell: Cell, where: str = "") -> CellCheck:
    """Find every figure of a cell that is not possible, and every one that is unlikely.

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
        >>> cell = replace(find_cell("Bittern"), burst_a=8.0)
        >>> print(check_cell(cell, "my.toml").refusals[0])
        my.toml, burst_a: 8 A is below continuous_a, 8.5 A; a burst current is at least that.
    """
    found = _Findings(cell, where)
    for key, known in (("cell_format", CELL_FORMATS), ("kind", KINDS)):
        if getattr(cell, key) not in known:
            found.refuse(key, f"{getattr(cell, key)!r} is not known; {either(known)} is.")
    _check_single(found)
    _check_pairs(found)
    _check_usual(found)
    _check_curves(found)
    return CellCheck(tuple(found.refusals), tuple(found.cautions))


def _check_single(found: _Findings) -> None:
    """Each figure alone."""
    cell, pouch = found.cell, found.cell.cell_format == "pouch"
    for key in (f.name for f in fields(Cell)):
        value, unit = getattr(cell, key), unit_of(key)
        if not unit or key.endswith("temperature_c"):
            continue
        may_be_0 = pouch and key in ("diameter_mm", "height_mm")
        if not np.isfinite(value) or value < 0 or (value == 0 and not may_be_0):
            found.bad.add(key)
            found.refuse(
                key, f"{value:g} {unit} is not possible; a number above 0 {unit} is needed."
            )
    if cell.price is not None and not (np.isfinite(cell.price) and cell.price >= 0):
        found.refuse("price", f"{cell.price:g} is not possible; 0 or more is needed.")
    if found.sound("charge_v") and cell.charge_v > MOST_CHARGE_V:
        add = found.doubt if pouch else found.refuse
        message = f"is above {MOST_CHARGE_V:g} V, the upper limit of IEC 62133-2; 4.20 V is right for these cells."
        add("charge_v", f"{cell.charge_v:g} V {message}")
    if found.sound("resistance_mohm") and not 1.0 <= cell.resistance_mohm <= 500.0:
        message = "is not possible for one cell; 10 to 60 mΩ is usual (a figure in ohm is 1000 times smaller)."
        found.refuse("resistance_mohm", f"{found.text('resistance_mohm')} {message}")
    if cell.min_charge_temperature_c < 0:
        message = "is below freezing; charging there plates lithium, and 0 °C is usual."
        found.doubt("min_charge_temperature_c", f"{cell.min_charge_temperature_c:g} °C {message}")


def _check_pairs(found: _Findings) -> None:
    """Figures against each other."""
    cell = found.cell
    for key, other, right in ORDERED_KEYS:
        value, limit = getattr(cell, key), getattr(cell, other)
        equal = value == limit
        if found.sound(key, other) and (value < limit or (equal and key.endswith("_v"))):
            word = "equal to" if equal else "below"
            found.refuse(key, f"{found.text(key)} is {word} {other}, {found.text(other)}; {right}.")
    for low, high in TEMPERATURE_WINDOWS:
        if not getattr(cell, low) < getattr(cell, high):
            message = f"is not above {low}, {found.text(low)}; a window needs its upper end higher."
            found.refuse(high, f"{found.text(high)} {message}")
    if found.sound("continuous_a", "max_charge_a") and cell.continuous_a < cell.max_charge_a:
        message = f"is below max_charge_a, {found.text('max_charge_a')}; cells are rarely charged faster than discharged, see the datasheet."
        found.doubt("continuous_a", f"{found.text('continuous_a')} {message}")
    if found.sound("rated_capacity_ah", "typical_capacity_ah"):
        over = cell.typical_capacity_ah / cell.rated_capacity_ah - 1
        if over > 0.1:
            message = f"is {100 * over:.0f} % above the rated one; 2 to 5 % is usual."
            found.doubt("typical_capacity_ah", f"{found.text('typical_capacity_ah')} {message}")
    sag = cell.continuous_a * cell.resistance_mohm / 1000.0
    if (
        found.sound("resistance_mohm", "continuous_a", "nominal_v", "cutoff_v")
        and cell.nominal_v - cell.cutoff_v < sag
        and cell.resistance_mohm <= 500.0
    ):
        message = (
            f"{found.text('continuous_a')} through {found.text('resistance_mohm')} drops {sag:.2f} V, "
            "under the cutoff from the nominal voltage; check both figures."
        )
        found.doubt("continuous_a", message)


def _check_usual(found: _Findings) -> None:
    """Figures against what is usual for the cell's format."""
    cell = found.cell
    usual = [row for row in USUAL_RANGES if row["cell_format"] == cell.cell_format]
    for row in usual:
        key, low, high = row["key"], float(row["low"]), float(row["high"])
        value, unit = getattr(cell, key), unit_of(key)
        size = f"{low:g} to {high:g} {unit} is usual."
        slack = {"mass_g": 1.6, "diameter_mm": 1.06, "height_mm": 1.06}.get(key)
        if not found.sound(key):
            continue
        if slack is None and value > high:
            message = f"is more than a true {cell.cell_format} gives (about {high:g} {unit} at most); suspect a false label."
            found.doubt(key, f"{value:g} {unit} {message}")
        elif slack is not None and not low / slack <= value <= high * slack:
            found.refuse(key, f"{value:g} {unit} is no {cell.cell_format}; {size}")
        elif slack is not None and not low <= value <= high:
            found.doubt(key, f"{value:g} {unit} is unusual for {cell.cell_format}; {size}")
    if usual and found.sound("mass_g", "nominal_v", "typical_capacity_ah"):
        density = 1000.0 * cell.nominal_v * cell.typical_capacity_ah / cell.mass_g
        message = (
            f"{cell.typical_capacity_ah:g} Ah x {cell.nominal_v:g} V in {cell.mass_g:g} g is "
            f"{density:.0f} Wh/kg; 150 to 300 Wh/kg is usual for a cylindrical cell."
        )
        if not 60.0 <= density <= 400.0:
            found.refuse("typical_capacity_ah", message)
        elif not 150.0 <= density <= 300.0:
            found.doubt("typical_capacity_ah", message)


def _check_curves(found: _Findings) -> None:
    """The discharge family: each curve alone, the lowest against the cell, then in pairs."""
    cell, sound = found.cell, _sound_curves(found)
    room = [c for c in sound if c.at_room_temperature]
    if cell.curves and not any(c.at_room_temperature for c in cell.curves):
        low_c, high_c = ROOM_C
        message = (
            f"no curve at room temperature; at least one at {low_c:g} to {high_c:g} °C is needed."
        )
        found.refuse("curves", message)
    if room and found.sound("typical_capacity_ah", "cutoff_v"):
        _check_slowest(found, room[0])
    for _, family in itertools.groupby(sound, _temperature_of):
        for low, high in itertools.pairwise(family):
            _check_order(found, low, high)
    for curve in sound:
        slower = [c for c in room if c.current_a <= curve.current_a]
        if curve.temperature_c < ROOM_C[0] and slower:
            _check_order(found, slower[-1], curve)
    slope = curve_resistance_mohm(room)
    if slope is None or not found.sound("resistance_mohm"):
        return
    if not 0.7 * slope <= cell.resistance_mohm <= 1.4 * slope:
        message = (
            f"{found.text('resistance_mohm')}, but the curves give about {slope:.0f} mΩ; "
            "an alternating-current (1 kHz) figure reads low, and the curves are used."
        )
        found.doubt("resistance_mohm", message)


def _sound_curves(found: _Findings) -> list[DischargeCurve]:
    """The curves that can be used, by temperature and then by current; the others are refused."""
    cell = found.cell
    sound: list[DischargeCurve] = []
    seen: dict[tuple[float, float], int] = {}
    for number, curve in enumerate(cell.curves, 1):
        key, same = (f"curves {number} ({curve.name})", (_temperature_of(curve), curve.current_a))
        if same in seen:
            message = f"{curve.name} is also the current of curve {seen[same]}."
            found.refuse(key, message)
            continue
        seen[same] = number
        fault = _curve_fault(curve, cell.charge_v if found.sound("charge_v") else np.inf)
        if fault is not None:
            found.refuse(f"{key}, {fault[0]}".removesuffix(", "), fault[1])
            continue
        if curve.current_a > cell.burst_a:
            found.doubt(key, f"{curve.current_a:g} A is above burst_a, {cell.burst_a:g} A.")
        if (np.diff(curve.voltage_v) > 0).any():
            message = "rises on its way: the cell warmed itself, or a point was misread."
            found.doubt(f"{key}, voltage_v", message)
        sound.append(curve)
    return sorted(sound, key=lambda c: (_temperature_of(c), c.current_a))


def _temperature_of(curve: DischargeCurve) -> float:
    """The curve's temperature; one for all that count as room temperature."""
    return REFERENCE_C if curve.at_room_temperature else curve.temperature_c


def _curve_fault(curve: DischargeCurve, charge_v: float) -> tuple[str, str] | None:
    """The first thing that cannot be about one curve, and its key."""
    charge, volts = np.array(curve.capacity_ah), np.array(curve.voltage_v)
    if not 0 < curve.current_a <= MOST_CURRENT_A:
        message = (
            f"{curve.current_a:g} A is not possible; above 0 A, to {MOST_CURRENT_A:g} A, is needed."
        )
        return "current_a", message
    if len(charge) != len(volts):
        message = (
            f"{len(charge)} capacities but {len(volts)} voltages; one voltage a point is needed."
        )
        return "", message
    if len(charge) < 3:
        return "", f"{len(charge)} points; at least 3, better 12 or more, are needed."
    low_c, high_c = CURVES_C
    if not low_c <= curve.temperature_c <= high_c:
        message = f"{curve.temperature_c:g} °C is no temperature of a discharge curve; {low_c:g} to {high_c:g} °C is."
        return "temperature_c", message
    finite = np.isfinite(charge) & np.isfinite(volts)
    if not finite.all():
        return "", f"point {np.argmin(finite) + 1} is not a number; read it again off the page."
    if charge[0] < 0:
        return "capacity_ah", f"starts at {charge[0]:g} Ah; 0 or more is needed."
    for key, values, wrong, right in (
        ("capacity_ah", charge, np.diff(charge) <= 0, "delivered charge must rise"),
        ("voltage_v", volts, np.diff(volts) > 0, "a discharge curve never rises"),
    ):
        if key == "voltage_v" and not curve.at_room_temperature:
            continue  # a cold cell warms itself and its voltage may come back
        if wrong.any():
            k, unit = int(np.argmax(wrong)), unit_of(key)
            return (
                key,
                f"point {k + 2} is {values[k + 1]:g} {unit} after {values[k]:g} {unit}; {right}.",
            )
    if volts[-1] < 1.0 or volts[0] > 5.0:
        message = (
            f"runs from {volts[0]:g} V to {volts[-1]:g} V; one cell runs from about 4.2 V to 2.5 V."
        )
        return "voltage_v", message
    if volts[0] > charge_v + 0.02:
        return "voltage_v", f"starts at {volts[0]:g} V, above charge_v, {charge_v:g} V."
    return None


def _check_slowest(found: _Findings, curve: DischargeCurve) -> None:
    """The curve of the lowest current against the cell's own figures."""
    cell, key = found.cell, f"curve at {curve.current_a:g} A"
    start, end, typical = curve.capacity_ah[0], curve.capacity_ah[-1], cell.typical_capacity_ah
    message = f"ends at {end:g} Ah; near typical_capacity_ah, {typical:g} Ah, is expected"
    if not 0.5 <= end / typical <= 1.3:
        found.refuse(key, f"{message} (mAh and Ah differ by 1000).")
    elif abs(end / typical - 1.0) > 0.08:
        found.doubt(key, f"{message}.")
    if start > 0.05 * typical:
        found.doubt(key, f"starts at {start:g} Ah; a curve is read from 0 Ah on.")
    if abs(curve.voltage_v[-1] - cell.cutoff_v) > 0.3:
        message = f"near cutoff_v, {cell.cutoff_v:g} V, is expected."
        found.doubt(key, f"ends at {curve.voltage_v[-1]:g} V; {message}")
    mean = float(np.trapezoid(curve.voltage_v, curve.capacity_ah)) / (end - start)
    if found.sound("nominal_v") and abs(mean / cell.nominal_v - 1.0) > 0.06:
        message = f"but the {key} has a mean of {mean:.2f} V; the two should lie within 6 %."
        found.doubt("nominal_v", f"{cell.nominal_v:g} V, {message}")


def _check_order(found: _Findings, low: DischargeCurve, high: DischargeCurve) -> None:
    """More current gives less voltage."""
    start = max(low.capacity_ah[0], high.capacity_ah[0])
    stop = min(low.capacity_ah[-1], high.capacity_ah[-1])
    if stop <= start:
        return
    charge = np.linspace(start, stop, 101)
    upper, lower = (np.interp(charge, c.capacity_ah, c.voltage_v) for c in (low, high))
    gap = upper - lower
    key, other = f"curve at {high.name}", f"the curve at {low.name}"
    if gap.mean() <= 0:
        message = "more current must give less voltage (are the labels swapped?)."
        if low.temperature_c != high.temperature_c:
            message = "a colder cell must give less voltage (are the temperatures swapped?)."
        found.refuse(key, f"lies above {other}; {message}")
    elif gap.min() < -0.015:
        message = "the cell warmed itself, or a point was misread."
        found.doubt(key, f"crosses {other} near {charge[gap.argmin()]:.2f} Ah; {message}")


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


def either(words: Iterable[str]) -> str:
    """Words in quotes, as a choice: 'this', 'that' or 'the other'."""
    listed = [repr(w) for w in words]
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} or {listed[-1]}"
