"""A wing over its airspeeds: power, energy for a kilometre over ground, best speeds with wind and mass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft.air import density_kg_m3
from workbook.craft.craft_types import FixedWing
from workbook.craft.flight_power import BestSpeeds, WingPower, best_speeds
from workbook.craft.wing import wing_speeds
from workbook.numbers import FloatArray, Number
from workbook.sizing.design import Design
from workbook.working import Step, step

FASTEST_M_S = 45.0
"""No further is looked for the best speed into a wind."""

LEAST_HEADWAY_M_S = 1.0
"""Below this over ground a kilometre costs without end."""


@dataclass(frozen=True, eq=False)
class WingCurve:
    """A wing over its airspeeds, from the stall on. Arrays of one shape.

    Attributes:
        airspeed_m_s: rising, from the stall.
        power_w: what the pack gives, electronics included.
        energy_wh_km: for a kilometre over ground; NaN where there is no headway to speak of.
        best: best-endurance and, with the headwind, best-range airspeed.
        headwind_m_s: below 0 from behind.
        mass_g: all-up.
        stall_m_s: lowest airspeed.
    """

    airspeed_m_s: FloatArray
    power_w: FloatArray
    energy_wh_km: FloatArray
    best: BestSpeeds
    headwind_m_s: float
    mass_g: float
    stall_m_s: float

    def tangent_w(self, airspeed_m_s: Number) -> FloatArray:
        """The line from the wind's speed on the axis that touches the curve at the best range."""
        slope = self.best.range_w / (self.best.range_m_s - self.headwind_m_s)
        return np.asarray(slope * (np.asarray(airspeed_m_s, dtype=float) - self.headwind_m_s))


def wing_curve(
    design: Design[FixedWing],
    mass_g: float,
    headwind_m_s: float = 0.0,
    to_m_s: float = 25.0,
    points: int = 161,
) -> WingCurve:
    """Power and energy per distance of a wing, and its best speeds with the wind.

    Args:
        design: a single design; air and craft count.
        mass_g: all-up, above 0.
        headwind_m_s: wind from ahead.
        to_m_s: end of the curve; twice the stall where that is faster.
        points: 2 or more.

    Raises:
        InputError: no speed makes headway.

    Source: drag polar (Anderson, Introduction to Flight, chapter 6, from memory); best range into a
        wind where the tangent from the wind's speed touches the power curve.
    """
    craft, flight = design.craft, design.flight
    density = float(density_kg_m3(flight.field_height_m, flight.air_temperature_c))
    flown = WingPower(craft, density)
    stall = float(wing_speeds(craft.polar, mass_g, density).stall_m_s)
    speed = np.linspace(stall * (1 + 1e-9), max(to_m_s, 2.0 * stall), points)
    power = flown.flight_w(mass_g, speed)
    ground = speed - headwind_m_s
    energy = np.where(
        ground >= LEAST_HEADWAY_M_S, power / np.maximum(ground, LEAST_HEADWAY_M_S) / 3.6, np.nan
    )
    best = best_speeds(flown, mass_g, headwind_m_s, FASTEST_M_S)
    return WingCurve(speed, power, energy, best, headwind_m_s, mass_g, stall)


def by_mass(mass_factor: float) -> tuple[float, float]:
    """Factors on speed and on drag power of so much more mass, at the same lift coefficient.

    Source: lift = weight at the same lift coefficient, so V^2 goes with the mass; drag goes with the
        mass, and drag power with drag times speed.

    Example:
        >>> by_mass(1.21)
        (1.1, 1.331)
    """
    return mass_factor**0.5, mass_factor**1.5


def wing_steps(calm: WingCurve, windy: WingCurve) -> tuple[Step, ...]:
    """How the best speeds come about, in still air and with the wind."""
    best, wind = windy.best, windy.headwind_m_s
    return (
        step("best_endurance_m_s", best.endurance_m_s, best=best, windy=windy),
        step("best_range_m_s", calm.best.range_m_s, calm=calm),
        step("best_range_windy_m_s", best.range_m_s, best=best, wind=wind),
        step("energy_windy_wh_km", best.energy_wh_km, best=best, wind=wind),
    )
