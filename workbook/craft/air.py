"""The air that the craft flies in: density at a height and a temperature."""

from __future__ import annotations

import numpy as np

from workbook.errors import refuse
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number, range_problems

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_PA = 101_325.0
LAPSE_RATE_K_M = 0.0065
AIR_GAS_CONSTANT_J_KG_K = 287.05287
EARTH_RADIUS_M = 6_356_766.0
"""Source of these five: ISO 2533:1975, standard atmosphere (lowest layer, up to 11 km)."""

STANDARD_DENSITY_KG_M3 = SEA_LEVEL_PRESSURE_PA / (AIR_GAS_CONSTANT_J_KG_K * SEA_LEVEL_TEMPERATURE_K)
LOWEST_HEIGHT_M, HIGHEST_HEIGHT_M = -500.0, 11_000.0
ABSOLUTE_ZERO_C = -273.15


def standard_temperature_c(height_m: Number) -> FloatArray:
    """Temperature of the standard atmosphere.

    Args:
        height_m: height above sea level (geometric, as a map gives it), -500 to 11 000 m.

    Raises:
        InputError: a height outside that range.

    Source: ISO 2533.

    Example:
        >>> float(standard_temperature_c(1000.0))
        8.501
    """
    return SEA_LEVEL_TEMPERATURE_K + ABSOLUTE_ZERO_C - LAPSE_RATE_K_M * _geopotential_m(height_m)


def density_kg_m3(height_m: Number, temperature_c: Number | None = None) -> FloatArray:
    """Density of still, dry air at a height; on a day that is not standard, give the temperature.

    The pressure is the standard one of the height; weather moves it by some 3 %.

    Args:
        height_m: height above sea level (geometric, as a map gives it), -500 to 11 000 m.
        temperature_c: air temperature where it flies; without it the standard one of the height.

    Raises:
        InputError: a height outside that range, or a temperature outside -90 to 70 °C.

    Source: ISO 2533; ideal gas law.

    Example:
        >>> float(density_kg_m3(0.0)), float(density_kg_m3(2000.0)), float(density_kg_m3(0.0, 35.0))
        (1.2250, 1.00655, 1.14549)
    """
    standard_k = standard_temperature_c(height_m) - ABSOLUTE_ZERO_C
    exponent = STANDARD_GRAVITY_M_S2 / (LAPSE_RATE_K_M * AIR_GAS_CONSTANT_J_KG_K)
    pressure_pa = SEA_LEVEL_PRESSURE_PA * (standard_k / SEA_LEVEL_TEMPERATURE_K) ** exponent
    if temperature_c is None:
        air_k = standard_k
    else:
        refuse(range_problems({"temperature_c": (temperature_c, -90.0, 70.0, "-90 to 70 °C")}))
        air_k = np.asarray(temperature_c, dtype=float) - ABSOLUTE_ZERO_C
    return np.asarray(pressure_pa / (AIR_GAS_CONSTANT_J_KG_K * air_k))


def density_ratio(height_m: Number, temperature_c: Number | None = None) -> FloatArray:
    """Density over that of the standard atmosphere at sea level; arguments of `density_kg_m3`.

    Example:
        >>> float(density_ratio(2000.0))
        0.8217
    """
    return np.asarray(density_kg_m3(height_m, temperature_c) / STANDARD_DENSITY_KG_M3)


def _geopotential_m(height_m: Number) -> FloatArray:
    ends = (LOWEST_HEIGHT_M, HIGHEST_HEIGHT_M)
    right = f"{ends[0]:g} to {ends[1]:g} m above sea level"
    refuse(range_problems({"height_m": (height_m, *ends, right)}))
    height = np.asarray(height_m, dtype=float)
    return np.asarray(EARTH_RADIUS_M * height / (EARTH_RADIUS_M + height))
