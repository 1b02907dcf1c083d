"""What cold and age take from a cell: factors on its resistance and its usable charge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workbook.numbers import FloatArray, Number
from workbook.units import with_unit

REFERENCE_C = 25.0
"""Temperature at which a datasheet's curves are taken, as a rule."""

ACTIVATION_KJ_MOL = 20.0
"""Makes the resistance 2.1 times as high at 0 °C. Common practice, no source: "about double at freezing";
cells differ widely, and a builder's own reading of sag in the cold takes precedence."""

GAS_CONSTANT_J_MOL_K = 8.314462618
"""Source: CODATA 2018."""

CAPACITY_AT_C = (0.0, 10.0, 25.0, 45.0)
CAPACITY_FACTOR = (0.896, 0.944, 1.0, 1.027)
"""Usable charge against 25 °C at 1 It to 2.5 V, of one measured 5 Ah 21700 energy cell.

Source: open rate tests at 0, 10, 25 and 45 °C distributed with two open modelling toolboxes (BSD and
MIT licences): 4.285, 4.516, 4.783 and 4.912 Ah. At 0.1 It and 0 °C the same cell gave 0.896 too."""

COLDEST_C = -20.0
"""Usual lower end of the discharge window; the line is carried on from 0 °C to here, no source."""

USUAL_PER_K = (CAPACITY_FACTOR[1] - CAPACITY_FACTOR[0]) / (CAPACITY_AT_C[1] - CAPACITY_AT_C[0])
"""Share of the charge for each kelvin in the cold, of the cell above."""

COLD_CAUTION = (
    "Flight in the cold is only roughly predicted: against full simulations of two cells at 0 °C the plan "
    "promised from 22 % less to 26 % more time than there was. Fly short first, and watch the voltage "
    "under load."
)
"""Shown with a plan below about 15 °C."""


def resistance_at_temperature(temperature_c: Number) -> FloatArray:
    """Factor on the resistance at a cell temperature, 1 at 25 °C: exp(E/R (1/T - 1/T_25)).

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
    """Factor on the charge that a cell gives at a temperature, 1 at 25 °C.

    Between the measured rows it runs straight; below 0 °C the line is carried on to -20 °C, and from
    there, as above 45 °C, it stays.

    Args:
        temperature_c: of the cell's inside, C.

    Source: as `CAPACITY_FACTOR`; below 0 °C common practice, no source.

    Example:
        >>> capacity_at_temperature([-10.0, 0.0, 10.0, 25.0]).round(3)
        array([0.848, 0.896, 0.944, 1.   ])
    """
    coldest = CAPACITY_FACTOR[0] + USUAL_PER_K * (COLDEST_C - CAPACITY_AT_C[0])
    return np.asarray(
        np.interp(temperature_c, (COLDEST_C, *CAPACITY_AT_C), (coldest, *CAPACITY_FACTOR))
    )


LOOSE_COLD_MV = 80.0
"""Curves at a temperature that are missed by more do not go with one factor. Common practice, no source."""

LEAST_CHARGE = 0.05
"""A factor on charge is not carried below this."""

FAR_C = (-60.0, 90.0)
"""How far the resistance is carried on beyond the curves."""


@dataclass(frozen=True, eq=False)
class TemperatureFit:
    """What curves at several temperatures say of a cell: factors against 25 °C.

    Attributes:
        temperature_c: of the curves, 25 °C among them, rising, shape (K,).
        resistance_factor: at each, shape (K,).
        current_a: of the curves away from 25 °C, rising, shape (J,).
        capacity_factor: at each temperature and current, shape (K, J); it does not rise with current.
        highest_a: highest current of the curves at each temperature, shape (K,).
        miss_mv: how far these factors miss the curves at each, root mean square, shape (K,).
    """

    temperature_c: FloatArray
    resistance_factor: FloatArray
    current_a: FloatArray
    capacity_factor: FloatArray
    highest_a: FloatArray
    miss_mv: FloatArray

    def resistance_at(self, temperature_c: Number) -> FloatArray:
        """Factor on the resistance at a cell temperature, C.

        Beyond the coldest curves it rises as between the last two, or as `resistance_at_temperature`
        has it where that is more; beyond the warmest it falls no faster than that.

        Source: Arrhenius form between the temperatures of the curves.
        """
        known_c = np.array([FAR_C[0], *self.temperature_c, FAR_C[1]])
        rise = np.log([1.0, *self.resistance_factor, 1.0])
        over_t = 1.0 / (known_c + 273.15)
        slope = np.diff(rise[1:-1]) / np.diff(
            over_t[1:-1]
        )  # activation energy over the gas constant
        usual = 1000.0 * ACTIVATION_KJ_MOL / GAS_CONSTANT_J_MOL_K
        cold, warm = max(slope[0], usual), min(max(slope[-1], 0.0), usual)
        rise[0] = rise[1] + cold * (over_t[0] - over_t[1])
        rise[-1] = rise[-2] + warm * (over_t[-1] - over_t[-2])
        kelvin = np.asarray(temperature_c, dtype=float) + 273.15
        return np.asarray(np.exp(np.interp(-1.0 / kelvin, -over_t, rise)))

    def capacity_at(self, temperature_c: Number, current_a: Number | None = None) -> FloatArray:
        """Factor on the charge that a cell gives at a temperature, C, and a current of one cell, A.

        Straight between the curves; beyond the coldest it goes on as between the last two, and at least
        as steeply as `capacity_at_temperature`; beyond the warmest, and past the highest current, it stays.

        Args:
            temperature_c: of the cell's inside.
            current_a: late in the discharge, where a cold cell runs short; the least of the curves' when left out.

        Source: common practice, no source; checked against electrochemical models in tests/published.
        """
        amps = self.current_a[0] if current_a is None else current_a
        amps, cell_c = np.broadcast_arrays(amps, np.asarray(temperature_c, dtype=float))
        known_c = self.temperature_c
        share = np.stack([np.interp(amps, self.current_a, row) for row in self.capacity_factor])
        low = np.clip(np.searchsorted(known_c, cell_c, side="right") - 1, 0, known_c.size - 2)
        first, second = (np.take_along_axis(share, k[None], 0)[0] for k in (low, low + 1))
        slope = (second - first) / (known_c[low + 1] - known_c[low])
        steepest = np.maximum(slope, USUAL_PER_K)
        slope = np.where(cell_c < known_c[0], steepest, slope)
        by_c = np.minimum(cell_c, known_c[-1]) - known_c[low]
        return np.asarray(np.maximum(first + slope * by_c, LEAST_CHARGE))

    def doubt(self, temperature_c: float, current_a: float) -> str:
        """One sentence on using the curves at a temperature and a current; empty where they reach that far."""
        coldest_c = float(self.temperature_c[0])
        if temperature_c < coldest_c - 1.0:
            return (
                f"The cells are at {with_unit(temperature_c, '°C')} and the datasheet curves end at {with_unit(coldest_c, '°C')}; "
                "colder than that the flight is only roughly predicted. Fly short first."
            )
        nearest = int(np.argmin(np.abs(self.temperature_c - temperature_c)))
        near_c, most_a = self.temperature_c[nearest], self.highest_a[nearest]
        if current_a > 1.1 * most_a:
            return (
                f"Late in the flight a cell carries {current_a:.1f} A, and the datasheet curves at "
                f"{with_unit(near_c, '°C')} end at {most_a:g} A; a cold cell may run short sooner than the plan says."
            )
        if self.miss_mv[nearest] > LOOSE_COLD_MV:
            return (
                f"The curves at {with_unit(near_c, '°C')} lie {self.miss_mv[nearest]:.0f} mV from what the model can give; "
                "read them again, and fly short first in the cold."
            )
        return ""


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


@dataclass(frozen=True, eq=False)
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
