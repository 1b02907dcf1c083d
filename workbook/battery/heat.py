"""Heat that a cell stores and sheds: a lumped balance, m c dT/dt = I (U - V) - (T - T_air) / resistance.

The reversible (entropic) heat is left out; over a whole discharge it is small beside the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from typing import Literal, TypeAlias

import numpy as np

from workbook.battery.cell import Cell
from workbook.errors import InputError
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number

HEAT_CAPACITY_J_KG_K = 950.0
"""Specific heat of a cylindrical cell, the middle of published figures: 830 (nickel-cobalt-aluminium),
1040 (nickel-manganese-cobalt), 1130 (iron phosphate).

Source: figures of Bryden et al., J. Power Sources 395, 369 (2018), quoted by a review page; the range
of the literature there is 800 to 1100 J/kg/K."""

EMISSIVITY = 0.9
"""Of shrink wrap or a painted can. Common practice, no source."""

STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
"""Source: CODATA 2018."""

WRAPPED_W_M2_K = 3.0
"""From the middle cell of a wrapped pack to the air, over that cell's own surface: its neighbours are as
warm as it is. Common practice, no source; measure the pack after a flight."""

CORE_TO_SURFACE_K_W = 2.0
"""Inside of a cylindrical cell to its can. A cell of length L with heat spread evenly has
1 / (8 pi k L) on average: 2.0 K/W for 65 mm and a radial conductivity of 0.3 W/m/K.

Source: conduction in a cylinder with even heat; the conductivity from memory (0.2 to 1 W/m/K)."""

SMALL_TIME = 2e-3
"""In time constants: below it the first terms of a series give what a time does to a cell."""

AIR_C, STILL_ABOVE_AIR_K, STREAM_M_S = 25.0, 20.0, 5.0
"""Air, surface above it in calm air, and speed of a stream at which the films are taken."""

Air: TypeAlias = Literal["still", "forced", "wrapped"]


@dataclass(frozen=True, eq=False)
class HeatPath:
    """How one cell stores heat and sheds it.

    Attributes:
        stored_j_k: heat for one kelvin, J/K.
        core_k_w: inside to surface, K/W.
        surface_k_w: surface to air, K/W.
    """

    stored_j_k: Number
    core_k_w: Number
    surface_k_w: Number

    @property
    def loss_w_k(self) -> FloatArray:
        """Heat shed for each kelvin of the inside above the air, W/K."""
        return np.asarray(1.0 / (np.asarray(self.core_k_w, dtype=float) + self.surface_k_w))

    @property
    def time_constant_s(self) -> FloatArray:
        """Seconds in which a cell left to itself sheds 63 % of what it has above the air."""
        return np.asarray(self.stored_j_k * (np.asarray(self.core_k_w) + self.surface_k_w))

    def decay(self, part_s: Number) -> tuple[FloatArray, FloatArray]:
        """What a time does to a cell above the air.

        Args:
            part_s: the time, 0 or more.

        Returns:
            By how much of itself that warmth changes, -1 to 0, and what share is still there at the end of
            heat spread evenly over the time, 0 to 1.

        Source: first-order heat balance: exp(-x) - 1 and (1 - exp(-x)) / x, x the time in time constants.
        """
        after = -1.0 / self.time_constant_s * part_s
        lost = np.expm1(after)
        with np.errstate(divide="ignore", invalid="ignore"):
            return lost, np.where(after < 0, lost / after, 1.0)

    def above_air_k(
        self, time_s: FloatArray, heat_w: FloatArray, heat_j: FloatArray, start_k: float
    ) -> FloatArray:
        """How far the inside is above the air at some times, its heat a parabola from each to the next.

        Args:
            time_s: not falling; at the first the cell is at `start_k`.
            heat_w: made inside the cell at each.
            heat_j: made from each to the next.
            start_k: above the air.

        Source: first-order heat balance, exact for such heat.

        Example:
            >>> path = HeatPath(65.0, 2.0, 18.0)  # 3 W into 20 K/W: 60 K (1 - exp(-900 / 1300))
            >>> steady_w, at_s = np.array([3.0, 3.0]), np.array([0.0, 900.0])
            >>> path.above_air_k(at_s, steady_w, np.array([2700.0]), 0.0).round(2)
            array([ 0.  , 29.97])
        """
        part_s, first_w = np.diff(time_s), heat_w[:-1]
        lost, even = self.decay(part_s)
        x = part_s / self.time_constant_s
        small = x < SMALL_TIME
        with np.errstate(divide="ignore", invalid="ignore"):
            rising = np.where(small, 1 / 2 - x / 6 + x**2 / 24, (1 - even) / x)
            bowed = np.where(small, 1 / 6 - x / 12 + x**2 / 40, rising - (1 - 2 * rising) / x)
        straight_j = 0.5 * part_s * (first_w + heat_w[1:])
        kept_j = part_s * (first_w * even + np.diff(heat_w) * rising)
        gained = (kept_j + 6 * (heat_j - straight_j) * bowed) / self.stored_j_k
        steps = zip(lost.tolist(), gained.tolist(), strict=True)
        return np.array(
            list(accumulate(steps, lambda k, by: k + k * by[0] + by[1], initial=start_k))
        )


def surface_m2(cell: Cell) -> float:
    """Outer surface of a cylindrical cell, ends included.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> round(surface_m2(find_cell("Bittern")), 5)
        0.00538
    """
    if not (cell.diameter_mm > 0 and cell.height_mm > 0):
        raise InputError(
            f"{cell.name} has no diameter and height; both are needed for its surface."
        )
    d, h = cell.diameter_mm / 1000.0, cell.height_mm / 1000.0
    return float(np.pi * d * h + np.pi * d**2 / 2.0)


def heat_path(cell: Cell, air: Air = "wrapped") -> HeatPath:
    """How a cell sheds heat in one of three places.

    Args:
        cell: the cell; its mass and size count.
        air: "still" (a bare cell in calm air, by convection and radiation), "forced" (a bare cell across
            a stream of air), or "wrapped" (a middle cell of a wrapped pack).

    Source: Churchill and Chu (1975) for still air, Churchill and Bernstein (1977) for a stream, over the
        whole surface; grey radiation; a wrapped pack: common practice, no source.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> for air in ("still", "forced", "wrapped"):
        ...     print(air, heat_path(find_cell("Bittern"), air).loss_w_k.round(3))
        still 0.058
        forced 0.183
        wrapped 0.016
    """
    area = surface_m2(cell)
    if air == "still":
        film = still_air_w_m2_k(cell.diameter_mm, STILL_ABOVE_AIR_K, AIR_C)
    elif air == "forced":
        film = stream_w_m2_k(cell.diameter_mm, STREAM_M_S, AIR_C)
    else:
        film = np.asarray(WRAPPED_W_M2_K)
    stored_j_k = HEAT_CAPACITY_J_KG_K * cell.mass_g / 1000.0
    return HeatPath(stored_j_k, CORE_TO_SURFACE_K_W, np.asarray(1.0 / (film * area)))


@dataclass(frozen=True, eq=False)
class _AirState:
    conductivity_w_m_k: FloatArray
    viscosity_m2_s: FloatArray
    prandtl: float
    expansion_1_k: FloatArray


def _air(film_c: Number) -> _AirState:
    """Dry air at sea level.

    Source: Sutherland's formula for viscosity and conductivity (constants of the U.S. Standard Atmosphere
        1976), ideal gas for density; Prandtl number 0.706.
    """
    kelvin = np.asarray(film_c, dtype=float) + 273.15
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
    conductivity = 2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10.0 ** (-12.0 / kelvin))
    density = 101325.0 / (287.05287 * kelvin)
    return _AirState(conductivity, viscosity / density, 0.706, 1.0 / kelvin)


def still_air_w_m2_k(diameter_mm: Number, surface_above_air_k: Number, air_c: Number) -> FloatArray:
    """Heat transfer from a lying cylinder to calm air by convection and radiation, W/m2/K.

    Source: Churchill and Chu, Int. J. Heat Mass Transfer 18, 1049 (1975), horizontal cylinder; grey
        radiation to surroundings at air temperature.

    Example:
        >>> print(still_air_w_m2_k(18.3, 20.0, 25.0).round(1))
        12.5
    """
    above, d = np.asarray(surface_above_air_k, dtype=float), np.asarray(diameter_mm) / 1000.0
    air = _air(np.asarray(air_c) + above / 2.0)
    lift = STANDARD_GRAVITY_M_S2 * air.expansion_1_k * above
    rayleigh = lift * d**3 * air.prandtl / air.viscosity_m2_s**2
    spread = (1.0 + (0.559 / air.prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    nusselt = (0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / spread) ** 2
    low_k = np.asarray(air_c, dtype=float) + 273.15
    high_k = low_k + above
    radiation = EMISSIVITY * STEFAN_BOLTZMANN_W_M2_K4 * (high_k**2 + low_k**2) * (high_k + low_k)
    return np.asarray(nusselt * air.conductivity_w_m_k / d + radiation)


def stream_w_m2_k(diameter_mm: Number, air_speed_m_s: Number, air_c: Number) -> FloatArray:
    """Heat transfer from a cylinder across a stream of air, W/m2/K; radiation is left out.

    Source: Churchill and Bernstein, J. Heat Transfer 99, 300 (1977).

    Example:
        >>> print(stream_w_m2_k(18.3, 5.0, 35.0).round(0))
        57.0
    """
    d, speed = np.asarray(diameter_mm) / 1000.0, np.asarray(air_speed_m_s, dtype=float)
    air = _air(air_c)
    reynolds = speed * d / air.viscosity_m2_s
    spread = (1.0 + (0.4 / air.prandtl) ** (2.0 / 3.0)) ** 0.25
    turbulent = (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8
    nusselt = 0.3 + 0.62 * np.sqrt(reynolds) * air.prandtl ** (1.0 / 3.0) / spread * turbulent
    return np.asarray(nusselt * air.conductivity_w_m_k / d)
