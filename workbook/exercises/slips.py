"""Slips that are made again and again, as the wrong numbers that they lead to.

Each maker takes the right value and returns the values of the slip with a sentence on what went wrong.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from workbook.numbers import STANDARD_GRAVITY_M_S2

POUND_KG = 0.45359237
"""Source: international yard and pound agreement, 1959 (exact)."""

CELL_VOLTAGES_V = {
    "the voltage at the cutoff": 2.5,
    "3.6 V nominal": 3.6,
    "3.7 V nominal": 3.7,
    "4.2 V when full": 4.2,
}
"""Voltages that are taken one for the other. Common practice, no source."""


@dataclass(frozen=True)
class Slip:
    """A wrong value that has a name."""

    value: float
    message: str


def thousand(expected: float, unit: str, small_unit: str) -> tuple[Slip, ...]:
    """A prefix left out or put in: Ah and mAh, g and kg, ohm and mohm.

    Args:
        expected: the right value, in `unit`.
        unit: asked for.
        small_unit: a thousandth of it.

    Example:
        >>> [s.value for s in thousand(5.0, "Ah", "mAh")]
        [5000.0, 0.005]
    """
    return (
        Slip(expected * 1000, f"Off by 1000: that is the figure in {small_unit}, {unit} is asked."),
        Slip(expected / 1000, f"Off by 1000: {small_unit} was taken for {unit} on the way."),
    )


def sixty(expected: float) -> tuple[Slip, ...]:
    """Hours taken for minutes, or minutes for seconds.

    Example:
        >>> [s.value for s in sixty(30.0)]
        [0.5, 1800.0]
    """
    return (
        Slip(expected / 60, "Off by 60: that is in hours, or minutes where seconds are asked."),
        Slip(expected * 60, "Off by 60: an hour has 60 minutes, a minute 60 seconds; check which."),
    )


def series_for_parallel(expected: float, series: float, parallel: float) -> tuple[Slip, ...]:
    """Series and parallel swapped, for a figure that grows with one of them.

    Args:
        expected: the right value.
        series: number in series.
        parallel: number in parallel.

    Example:
        >>> [s.value for s in series_for_parallel(10.0, 4, 2)]
        [20.0, 5.0]
    """
    return (
        Slip(
            expected * series / parallel,
            "Series was taken for parallel: series adds voltage, parallel adds capacity and current.",
        ),
        Slip(
            expected * parallel / series,
            "Parallel was taken for series: series adds voltage, parallel adds capacity and current.",
        ),
    )


def per_cell(expected: float, factor: float, what: str = "cells in parallel") -> tuple[Slip, ...]:
    """One cell's figure given for the pack's, or the factor put in twice.

    Args:
        expected: the right value for the pack.
        factor: how many times the cell's figure the pack's is.
        what: what the factor counts.

    Example:
        >>> [s.value for s in per_cell(40.0, 4)]
        [10.0, 160.0]
    """
    return (
        Slip(expected / factor, f"That is one cell's figure; there are {factor:g} {what}."),
        Slip(expected * factor, f"The {factor:g} {what} were counted twice."),
    )


def per_pack(expected: float, factor: float, what: str = "cells in parallel") -> tuple[Slip, ...]:
    """The pack's figure given where one cell's is asked.

    Example:
        >>> [s.value for s in per_pack(10.0, 4)]
        [40.0]
    """
    return (
        Slip(
            expected * factor,
            f"That is the whole pack's figure; it is shared by {factor:g} {what}.",
        ),
    )


def per_motor(expected: float, motors: int) -> tuple[Slip, ...]:
    """One motor taken for the whole craft, or the other way about.

    Example:
        >>> [round(s.value, 1) for s in per_motor(600.0, 6)]
        [100.0, 3600.0]
    """
    return (
        Slip(expected / motors, f"That is for one motor; the craft has {motors}."),
        Slip(expected * motors, f"That is for all {motors} motors; one motor is asked for."),
    )


def other_cell_voltage(
    expected: float, used_v: float, power: float = 1.0, voltages_v: dict[str, float] | None = None
) -> tuple[Slip, ...]:
    """Another of a cell's voltages put in: nominal for full, full for loaded, and so on.

    Args:
        expected: the right value.
        used_v: the cell voltage that leads to it.
        power: how the value depends on the voltage: 1 in proportion, -1 inversely.
        voltages_v: name to voltage; the usual four where not given.

    Example:
        >>> [round(s.value, 2) for s in other_cell_voltage(14.4, 3.6)]
        [10.0, 14.8, 16.8]
    """
    named = CELL_VOLTAGES_V if voltages_v is None else voltages_v
    return tuple(
        Slip(
            expected * (volts / used_v) ** power,
            f"That comes out with {name} a cell ({volts:g} V); here it is {used_v:g} V.",
        )
        for name, volts in named.items()
        if abs(volts - used_v) > 1e-9
    )


def nominal_for_sagged(
    expected: float, sagged_v: float, nominal_v: float, power: float = -1.0
) -> tuple[Slip, ...]:
    """The nominal voltage put in where the voltage under load counts.

    Args:
        expected: the right value, from the loaded voltage.
        sagged_v: voltage under load.
        nominal_v: nominal voltage.
        power: how the value depends on the voltage; a current at constant power goes as -1.

    Example:
        >>> round(nominal_for_sagged(12.0, 3.0, 3.6)[0].value, 6)
        10.0
    """
    return (
        Slip(
            expected * (nominal_v / sagged_v) ** power,
            f"That is at the nominal voltage ({nominal_v:g} V); under load it has sagged to "
            f"{sagged_v:g} V.",
        ),
    )


def burst_for_continuous(expected: float, continuous_a: float, burst_a: float) -> tuple[Slip, ...]:
    """The burst current put in where the continuous one counts, for a figure in proportion to it.

    Example:
        >>> burst_for_continuous(40.0, 10.0, 15.0)[0].value
        60.0
    """
    return (
        Slip(
            expected * burst_a / continuous_a,
            f"That uses the burst current ({burst_a:g} A), which a cell gives for seconds only; "
            f"the continuous current is {continuous_a:g} A.",
        ),
    )


def continuous_for_burst(expected: float, continuous_a: float, burst_a: float) -> tuple[Slip, ...]:
    """The continuous current put in where the burst one is asked.

    Example:
        >>> continuous_for_burst(60.0, 10.0, 15.0)[0].value
        40.0
    """
    return (
        Slip(
            expected * continuous_a / burst_a,
            f"That uses the continuous current ({continuous_a:g} A); the burst is asked, {burst_a:g} A.",
        ),
    )


def newton_for_gram_force(expected_gf: float) -> tuple[Slip, ...]:
    """Newton given, or a factor of standard gravity put in, where gram-force is asked.

    Source: ISO 80000-3; one kilogram-force is 9.80665 N.

    Example:
        >>> [round(s.value, 3) for s in newton_for_gram_force(1000.0)]
        [9.807, 9806.65, 101.972]
    """
    message = "thrust is in gram-force here; 1000 gf = 9.80665 N."
    return (
        Slip(expected_gf / 1000 * STANDARD_GRAVITY_M_S2, f"That is in newton; {message}"),
        Slip(expected_gf * STANDARD_GRAVITY_M_S2, f"Multiplied by 9.81 without need; {message}"),
        Slip(expected_gf / STANDARD_GRAVITY_M_S2, f"Divided by 9.81 without need; {message}"),
    )


def pound_for_kilogram(expected: float) -> tuple[Slip, ...]:
    """Pounds given for kilograms, or the other way about.

    Example:
        >>> [round(s.value, 3) for s in pound_for_kilogram(2.0)]
        [4.409, 0.907]
    """
    return (
        Slip(expected / POUND_KG, "That is in pounds; 1 lb = 0.4536 kg."),
        Slip(expected * POUND_KG, "Pounds were taken for kilograms; 1 lb = 0.4536 kg."),
    )


def reserve_left_out(expected: float, usable_share: float) -> tuple[Slip, ...]:
    """The reserve left out, or taken off twice, for a figure in proportion to the usable charge.

    Args:
        expected: the right value.
        usable_share: share of the charge that may be used, such as 0.8.

    Example:
        >>> [round(s.value, 6) for s in reserve_left_out(16.0, 0.8)]
        [20.0, 12.8]
    """
    return (
        Slip(expected / usable_share, "That flies the pack empty: the reserve is left out."),
        Slip(expected * usable_share, "The reserve is taken off twice."),
    )


def apart(expected: float, slips: Iterable[Slip], tolerance: float) -> tuple[Slip, ...]:
    """The slips that can be told from the right value and from those before them.

    Example:
        >>> len(apart(10.0, [Slip(10.05, "near"), Slip(20.0, "far"), Slip(20.1, "same")], 0.02))
        1
    """
    kept: list[Slip] = []
    for slip in slips:
        others = [expected, *(k.value for k in kept)]
        if all(abs(slip.value - v) > 2 * tolerance * (abs(v) or 1.0) for v in others):
            kept.append(slip)
    return tuple(kept)
