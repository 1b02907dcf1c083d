"""A cylindrical cell as its datasheet states it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbook.battery.model import CellModel


@dataclass(frozen=True)
class DischargeCurve:
    """Points read off one curve of the datasheet's discharge family.

    Attributes:
        current_a: the constant current of the curve, per cell.
        capacity_ah: charge delivered at each point, rising from 0 or near it.
        voltage_v: voltage under that current at each point.
    """

    current_a: float
    capacity_ah: tuple[float, ...]
    voltage_v: tuple[float, ...]


@dataclass(frozen=True)
class Cell:
    """What the datasheet gives for one cell. Limits are for one cell; the maker's sheet stands above.

    Attributes:
        name: invented name, or the builder's own.
        cell_format: "18650", "21700", or "pouch" for the pack flown today.
        kind: "energy" or "power" in the trade's use, or "lithium-polymer".
        rated_capacity_ah: the maker's minimum at 0.2 It to the cutoff (IEC 61960-3).
        typical_capacity_ah: what a fresh cell typically gives.
        charge_v: full-charge voltage; cutoff_v: the datasheet's end-of-discharge voltage.
        burst_s: how long the burst current may last.
        resistance_mohm: the stated direct-current resistance (used when the curves cannot give it).
        curves: the discharge family, lowest current first; may be empty.
        max_temperature_c: highest cell surface temperature in discharge.
    """

    name: str
    cell_format: str
    kind: str
    mass_g: float
    diameter_mm: float
    height_mm: float
    rated_capacity_ah: float
    typical_capacity_ah: float
    nominal_v: float
    charge_v: float
    cutoff_v: float
    continuous_a: float
    burst_a: float
    burst_s: float
    standard_charge_a: float
    max_charge_a: float
    resistance_mohm: float
    curves: tuple[DischargeCurve, ...] = ()
    min_charge_temperature_c: float = 0.0
    max_charge_temperature_c: float = 45.0
    min_temperature_c: float = -20.0
    max_temperature_c: float = 60.0
    price: float | None = None
    note: str = ""

    @cached_property
    def model(self) -> CellModel:
        """The cell's open-circuit voltage and resistance over depth, identified from its curves."""
        from workbook.battery.model import identify

        return identify(self)
