"""What cold and age take from a cell: factors on its resistance and its usable charge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workbook.numbers import FloatArray, Number

REFERENCE_C = 25.0
"""Temperature at which a datasheet's curves are taken, as a rule."""

ACTIVATION_KJ_MOL = 20.0
"""Makes the resistance 2.1 times as high at 0 C. Common practice, no source: "about double at freezing";
cells differ widely, and a builder's own reading of sag in the cold stands above it."""

GAS_CONSTANT_J_MOL_K = 8.314462618
"""Source: CODATA 2018."""

CAPACITY_AT_C = (0.0, 10.0, 25.0, 45.0)
CAPACITY_FACTOR = (0.896, 0.944, 1.0, 1.027)
"""Usable charge against 25 C at 1 It to 2.5 V, of one measured 5 Ah 21700 energy cell.

Source: open rate tests at 0, 10, 25 and 45 C distributed with two open modelling toolboxes (BSD and
MIT licences): 4.285, 4.516, 4.783 and 4.912 Ah. At 0.1 It and 0 C the same cell gave 0.896 too."""

COLDEST_C = -20.0
"""Usual lower end of the discharge window; the line is carried on from 0 C to here, no source."""

COLD_CAUTION = (
    "Flight in the cold is only roughly predicted: against full simulations of two cells at 0 C the plan "
    "promised from 22 % less to 26 % more time than there was. Fly short first, and watch the voltage "
    "under load."
)
"""Stands beside a plan below about 15 C."""


def resistance_at_temperature(temperature_c: Number) -> FloatArray:
    """Factor on the resistance at a cell temperature, 1 at 25 C: exp(E/R (1/T - 1/T_25)).

    Args:
        temperature_c: of the cell's inside, C, above -273.15.

    Source: Arrhenius form; activation energy: common practice, no source.

    Example:
        >>> resistance_at_temperature([25.0, 10.0, 0.0, -10.0]).round(2)
        array([1.  , 1.53, 2.09, 2.92])
    """
    kelvin = np.asarray(temperature_c, dtype=float) + 273.15
    exponent = 1000.0 * ACTIVATION_KJ_MOL / GAS_CONSTANT_J_MOL_K
    return np.asarray(np.exp(exponent * (1.0 / kelvin - 1.0 / (REFERENCE_C + 273.15))))


def capacity_at_temperature(temperature_c: Number) -> FloatArray:
    """Factor on the charge that a cell gives at a temperature, 1 at 25 C.

    Between the measured rows it runs straight; below 0 C the line is carried on to -20 C, and from
    there, as above 45 C, it stays.

    Args:
        temperature_c: of the cell's inside, C.

    Source: as `CAPACITY_FACTOR`; below 0 C common practice, no source.

    Example:
        >>> capacity_at_temperature([-10.0, 0.0, 10.0, 25.0]).round(3)
        array([0.848, 0.896, 0.944, 1.   ])
    """
    slope = (CAPACITY_FACTOR[1] - CAPACITY_FACTOR[0]) / (CAPACITY_AT_C[1] - CAPACITY_AT_C[0])
    coldest = CAPACITY_FACTOR[0] + slope * (COLDEST_C - CAPACITY_AT_C[0])
    return np.asarray(
        np.interp(temperature_c, (COLDEST_C, *CAPACITY_AT_C), (coldest, *CAPACITY_FACTOR))
    )


CAPACITY_LOSS_PCT_PER_100_CYCLES = 5.0
RESISTANCE_GROWTH_PCT_PER_100_CYCLES = 12.0
CAPACITY_LOSS_PCT_FIRST_YEAR = 3.0
RESISTANCE_GROWTH_PCT_FIRST_YEAR = 5.0
"""By cycles, and by standing at room temperature and part charge; later years take less, as the
square root of time. One's own log is better than any of these figures.

Source: common practice, no source (80 % after 200 to 500 gentle cycles; resistance grows first).
IEC 61960-3 asks a cell for no more than 60 % after 400 cycles (from memory), a floor. The square root
of time is the usual law of growth of the film on the negative electrode."""

RETIRE_CAPACITY = 0.8
RETIRE_RESISTANCE = 1.5
"""Factors at which a flight pack retires. Source: common practice, no source."""


@dataclass(frozen=True)
class Age:
    """What is left of a cell; both go straight into a discharge.

    Attributes:
        capacity_factor: capacity over fresh, 0 to 1.
        resistance_factor: resistance over fresh, 1 or more.
    """

    capacity_factor: FloatArray
    resistance_factor: FloatArray

    @property
    def retired(self) -> NDArray[np.bool_]:
        """True where either has passed the limit at which a flight pack retires."""
        worn = self.capacity_factor < RETIRE_CAPACITY
        return np.asarray(worn | (self.resistance_factor > RETIRE_RESISTANCE))[()]


def age(cycles: Number, years: Number = 0.0) -> Age:
    """Capacity and resistance after so many cycles and years.

    Args:
        cycles: full cycles; two flights of half a charge are about one.
        years: since the cell was made, 0 or more.

    Returns:
        Factors for `constant_power` and its like.

    Source: as the figures above.

    Example:
        >>> aged = age(100, 1.0)
        >>> float(aged.capacity_factor), float(aged.resistance_factor)
        (0.92, 1.17)
    """
    per_cycle = np.asarray(cycles, dtype=float) / 100.0
    standing = np.sqrt(np.asarray(years, dtype=float))
    loss_pct = (
        CAPACITY_LOSS_PCT_PER_100_CYCLES * per_cycle + CAPACITY_LOSS_PCT_FIRST_YEAR * standing
    )
    growth_pct = (
        RESISTANCE_GROWTH_PCT_PER_100_CYCLES * per_cycle
        + RESISTANCE_GROWTH_PCT_FIRST_YEAR * standing
    )
    capacity = np.maximum(1.0 - loss_pct / 100.0, 0.0)
    return Age(capacity[()], (1.0 + growth_pct / 100.0)[()])


def cycles_to_retire(years: Number = 0.0) -> FloatArray:
    """Full cycles after which a cell retires, by capacity or by resistance, whichever is first.

    Args:
        years: of standing by then, 0 or more.

    Returns:
        Cycles, 0 where standing alone retires it.

    Source: as the figures above.

    Example:
        >>> float(cycles_to_retire())
        400.0
    """
    standing = np.sqrt(np.asarray(years, dtype=float))
    loss_left = 100.0 * (1.0 - RETIRE_CAPACITY) - CAPACITY_LOSS_PCT_FIRST_YEAR * standing
    growth_left = 100.0 * (RETIRE_RESISTANCE - 1.0) - RESISTANCE_GROWTH_PCT_FIRST_YEAR * standing
    hundreds = np.minimum(
        loss_left / CAPACITY_LOSS_PCT_PER_100_CYCLES,
        growth_left / RESISTANCE_GROWTH_PCT_PER_100_CYCLES,
    )
    return np.asarray(100.0 * np.maximum(hundreds, 0.0))[()]
