"""What cycles and years take from a cell: a stated allowance, for the builder to change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.numbers import FloatArray, Number


@dataclass(frozen=True)
class AgeingAllowance:
    """How fast a cell ages; one's own log is better than any of these figures.

    Attributes:
        capacity_loss_pct_per_100_cycles: of the fresh capacity, 0 or more.
        resistance_growth_pct_per_100_cycles: of the fresh resistance, 0 or more.
        capacity_loss_pct_first_year: by standing, at room temperature and part charge; later years
            take less, as the square root of time.
        resistance_growth_pct_first_year: likewise.
        retire_capacity: capacity factor at which a flight pack retires.
        retire_resistance: resistance factor at which it does.

    Source: common practice, no source (80 % after 200 to 500 gentle cycles; resistance grows first).
        IEC 61960-3 asks a cell for no more than 60 % after 400 cycles (from memory), a floor. The
        square root of time is the usual law of growth of the film on the negative electrode.
    """

    capacity_loss_pct_per_100_cycles: float = 5.0
    resistance_growth_pct_per_100_cycles: float = 12.0
    capacity_loss_pct_first_year: float = 3.0
    resistance_growth_pct_first_year: float = 5.0
    retire_capacity: float = 0.8
    retire_resistance: float = 1.5


@dataclass(frozen=True)
class Age:
    """What is left of a cell; both go straight into a discharge.

    Attributes:
        capacity_factor: capacity over fresh, 0 to 1.
        resistance_factor: resistance over fresh, 1 or more.
        retired: True where either has passed the allowance's limit.
    """

    capacity_factor: FloatArray
    resistance_factor: FloatArray
    retired: FloatArray


DEFAULT_ALLOWANCE = AgeingAllowance()


def age(cycles: Number, years: Number = 0.0, allowance: AgeingAllowance = DEFAULT_ALLOWANCE) -> Age:
    """Capacity and resistance after so many cycles and years.

    Args:
        cycles: full cycles; two flights of half a charge are about one.
        years: since the cell was made, 0 or more.
        allowance: how fast it ages.

    Returns:
        Factors for `constant_power` and its like.

    Source: the allowance's.

    Example:
        >>> aged = age(100, 1.0)
        >>> float(aged.capacity_factor), float(aged.resistance_factor)
        (0.92, 1.17)
    """
    per_cycle = np.asarray(cycles, dtype=float) / 100.0
    standing = np.sqrt(np.asarray(years, dtype=float))
    loss_pct = (
        allowance.capacity_loss_pct_per_100_cycles * per_cycle
        + allowance.capacity_loss_pct_first_year * standing
    )
    growth_pct = (
        allowance.resistance_growth_pct_per_100_cycles * per_cycle
        + allowance.resistance_growth_pct_first_year * standing
    )
    capacity = np.maximum(1.0 - loss_pct / 100.0, 0.0)
    resistance = 1.0 + growth_pct / 100.0
    retired = (capacity < allowance.retire_capacity) | (resistance > allowance.retire_resistance)
    return Age(capacity[()], resistance[()], retired[()])


def cycles_to_retire(
    years: Number = 0.0, allowance: AgeingAllowance = DEFAULT_ALLOWANCE
) -> FloatArray:
    """Full cycles after which the cell retires, by capacity or by resistance, whichever is first.

    Args:
        years: of standing by then.
        allowance: how fast it ages.

    Returns:
        Cycles, 0 where standing alone retires it, infinite where cycles cost nothing.

    Example:
        >>> float(cycles_to_retire())
        400.0
    """
    standing = np.sqrt(np.asarray(years, dtype=float))
    capacity_left = 100.0 * (1.0 - allowance.retire_capacity)
    capacity_left = capacity_left - allowance.capacity_loss_pct_first_year * standing
    growth_left = 100.0 * (allowance.retire_resistance - 1.0)
    growth_left = growth_left - allowance.resistance_growth_pct_first_year * standing

    def hundreds(left: FloatArray, rate_pct: float) -> FloatArray:
        return np.asarray(left / rate_pct if rate_pct > 0 else np.where(left >= 0, np.inf, 0.0))

    first = np.minimum(
        hundreds(capacity_left, allowance.capacity_loss_pct_per_100_cycles),
        hundreds(growth_left, allowance.resistance_growth_pct_per_100_cycles),
    )
    return np.asarray(100.0 * np.maximum(first, 0.0))[()]
