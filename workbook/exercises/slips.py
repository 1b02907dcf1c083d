"""Common slips: the message about each, and the wrong number that it leads to.

Each function takes the right value and returns messages with the values of the slip.
"""

from __future__ import annotations

from collections.abc import Mapping

from workbook.numbers import STANDARD_GRAVITY_M_S2


def is_near(value: float, target: float, tolerance: float) -> bool:
    """Whether a value is within a share of a target; a target of 0 takes the tolerance as it is.

    Example:
        >>> is_near(101, 100, 0.02), is_near(103, 100, 0.02)
        (True, False)
    """
    return abs(value - target) <= tolerance * (abs(target) or 1.0) * (1 + 1e-12)


def distinct_slips(
    expected: float, slips: Mapping[str, float], tolerance: float
) -> dict[str, float]:
    """The slips that differ from the right value and from those before them.

    Example:
        >>> distinct_slips(10.0, {"near": 10.05, "far": 20.0, "the same": 20.1}, 0.02)
        {'far': 20.0}
    """
    kept: dict[str, float] = {}
    for message, value in slips.items():
        others = [expected, *kept.values()]
        if all(abs(value - v) > 2 * tolerance * (abs(v) or 1.0) for v in others):
            kept[message] = float(value)
    return kept


def thousand(expected: float, unit: str, small_unit: str) -> dict[str, float]:
    """A prefix left out or put in: Ah and mAh, g and kg, ohm and mohm.

    Args:
        expected: the right value, in `unit`.
        unit: asked for.
        small_unit: a thousandth of it.

    Example:
        >>> list(thousand(5.0, "Ah", "mAh").values())
        [5000.0, 0.005]
    """
    return {
        f"Off by 1000: that is the figure in {small_unit}, {unit} is asked for.": expected * 1000,
        f"Off by 1000: {small_unit} was taken for {unit} on the way.": expected / 1000,
    }


def sixty(expected: float) -> dict[str, float]:
    """Hours taken for minutes, or minutes for hours.

    Example:
        >>> list(sixty(30.0).values())
        [0.5, 1800.0]
    """
    return {
        "60 times too small: hours and minutes were mixed up on the way.": expected / 60,
        "60 times too large: hours and minutes were mixed up on the way.": expected * 60,
    }


def per_cell(expected: float, parallel: float) -> dict[str, float]:
    """One cell's figure given for the pack's, or the cells in parallel counted twice.

    Example:
        >>> list(per_cell(40.0, 4).values())
        [10.0, 160.0]
    """
    return {
        f"That is one cell's figure; there are {parallel:g} cells in parallel.": expected
        / parallel,
        f"The {parallel:g} cells in parallel were counted twice.": expected * parallel,
    }


def per_pack(expected: float, parallel: float, what: str = "cells in parallel") -> dict[str, float]:
    """The pack's figure given where one cell's is asked for.

    Example:
        >>> per_pack(10.0, 4)
        {"That is the whole pack's figure; 4 cells in parallel share it.": 40.0}
    """
    return {f"That is the whole pack's figure; {parallel:g} {what} share it.": expected * parallel}


def other_voltage(
    expected: float, used_v: float, others: Mapping[str, float], power: float = 1.0
) -> dict[str, float]:
    """Another of a cell's voltages put in: nominal for full, full for loaded, and so on.

    Args:
        expected: the right value.
        used_v: the cell voltage that leads to it.
        others: what the voltages are that are put in, to them.
        power: how the value depends on the voltage: 1 in proportion, -1 inversely.

    Example:
        >>> list(other_voltage(14.4, 3.6, {"a full cell's voltage": 4.2}))
        ["That uses a full cell's voltage, 4.2 V; here a cell has 3.6 V."]
        >>> round(*other_voltage(12.0, 3.0, {"the nominal voltage": 3.6}, -1).values(), 6)
        10.0
    """
    return {
        f"That uses {name}, {v:g} V; here a cell has {used_v:g} V.": expected
        * (v / used_v) ** power
        for name, v in others.items()
    }


def burst_for_continuous(expected: float, continuous_a: float, burst_a: float) -> dict[str, float]:
    """The burst current put in where the continuous one counts, for a figure in proportion to it.

    Example:
        >>> list(burst_for_continuous(40.0, 10.0, 15.0).values())
        [60.0]
    """
    message = (
        f"That uses the burst current ({burst_a:g} A), which a cell gives for seconds only; "
        f"the continuous current is {continuous_a:g} A."
    )
    return {message: expected * burst_a / continuous_a}


def newton_for_gram_force(expected_gf: float) -> dict[str, float]:
    """Newton given, or a factor of standard gravity put in, where gram-force is asked for.

    Source: ISO 80000-3; one kilogram-force is 9.80665 N.

    Example:
        >>> [round(value, 3) for value in newton_for_gram_force(1000.0).values()]
        [9.807, 9806.65, 101.972]
    """
    rule, g = "thrust is in gram-force here; 1000 gf = 9.80665 N.", STANDARD_GRAVITY_M_S2
    return {
        f"That is in newton; {rule}": expected_gf / 1000 * g,
        f"Multiplied by 9.81 without need; {rule}": expected_gf * g,
        f"Divided by 9.81 without need; {rule}": expected_gf / g,
    }


def reserve_left_out(expected: float, usable_share: float) -> dict[str, float]:
    """The reserve left out, or taken off twice, for a figure in proportion to the usable charge.

    Args:
        expected: the right value.
        usable_share: share of the charge that may be used, such as 0.8.

    Example:
        >>> [round(value, 6) for value in reserve_left_out(16.0, 0.8).values()]
        [20.0, 12.8]
    """
    return {
        "That flies the pack empty: the reserve is left out.": expected / usable_share,
        "The reserve is taken off twice.": expected * usable_share,
    }
