"""When copper melts, what a fuse must stand, and why a flight pack carries no cut-off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.bench.wire import area_mm2, diameter_mm
from workbook.errors import InputError
from workbook.numbers import Number

CIRCULAR_MILS_PER_MM2 = 1.0 / (np.pi / 4.0 * 0.0254**2)
"""A circular mil is the area of a circle one thousandth of an inch across."""
COPPER_MELTS_C = 1083.0
"""Melting point used in Onderdonk's equation."""

CUT_OFF_BOARD_POLICY = (
    "No protection board in the flight path: a board that opens in flight stops the motors, and "
    "the craft falls. The pack is guarded instead by a balance charger, by alarms and failsafe "
    "voltages, and by limits chosen at an almost empty pack. A board that only measures or balances is "
    "welcome. On the bench, always fuse the test and charge leads. (Common practice, no source.)"
)
"""The stated choice about in-line cut-off boards, and its reason."""


def onderdonk_a(area_mm2: Number, time_s: Number, air_c: Number = 25.0) -> Number:
    """Current that melts a copper conductor in a short time, no heat lost on the way.

    The denominator is 234 + T_air (copper's resistance would reach zero near -234 C). A worked
    example that circulates subtracts the air temperature instead and reads 5 % too high.

    Args:
        area_mm2: copper section.
        time_s: time to melt; up to about 10 s, beyond which lost heat matters.
        air_c: starting temperature.

    Source: Onderdonk's equation as given by Brooks and Adam, In Search for Preece and Onderdonk
        (2015): I = A sqrt(log10((1083 - T_a)/(234 + T_a) + 1)/(33 t)), A in circular mils.

    Example:
        >>> float(onderdonk_a(3.3088, 1.0))
        955.3
    """
    circular_mils = np.asarray(area_mm2, float)[()] * CIRCULAR_MILS_PER_MM2
    span = np.log10((COPPER_MELTS_C - air_c) / (234.0 + air_c) + 1.0)
    return circular_mils * np.sqrt(span / (33.0 * time_s))


def onderdonk_s(area_mm2: Number, current_a: Number, air_c: Number = 25.0) -> Number:
    """Time that a current takes to melt a copper conductor: `onderdonk_a` solved for time.

    Source: as `onderdonk_a`; trust it up to about 10 s.

    Example:
        >>> float(onderdonk_s(3.3088, 955.3))
        1.0
    """
    return (onderdonk_a(area_mm2, 1.0, air_c) / np.asarray(current_a, float)[()]) ** 2


def preece_a(diameter_mm: Number) -> Number:
    """Steady current that melts a bare round copper wire in free air.

    Args:
        diameter_mm: of the solid wire.

    Source: Preece, I = 10244 d^1.5 with d in inch (copper constant as quoted by Brooks and Adam).

    Example:
        >>> float(preece_a(2.0525))
        235.3
    """
    return 10244.0 * (np.asarray(diameter_mm, float)[()] / 25.4) ** 1.5


def fusing_link_mm(current_a: Number) -> Number:
    """Diameter of copper wire that melts at a steady current: `preece_a` turned round.

    An estimate, for seeing how thin such a wire is. A bare link is not a fuse for a pack: it has no
    rated breaking voltage, and an arc can go on in the gap.

    Source: Preece.

    Example:
        >>> float(fusing_link_mm(30.0))
        0.52
    """
    return 25.4 * (np.asarray(current_a, float)[()] / 10244.0) ** (2.0 / 3.0)


@dataclass(frozen=True)
class FuseType:
    """A family of fuse sold by rating.

    Attributes:
        name: what it is.
        dc_v: rated direct voltage.
        ratings_a: ratings on sale, ascending.
    """

    name: str
    dc_v: float
    ratings_a: tuple[float, ...]


FUSE_TYPES = (
    FuseType("blade, 32 V", 32.0, (5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100)),
    FuseType("blade, 58 V", 58.0, (5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100)),
    FuseType("bolt-down strip, 58 V", 58.0, (30, 40, 50, 60, 70, 80, 100, 125, 150, 175, 200)),
)
"""Blade: 32 V or 58 V, up to 100 A, breaking 1000 A (ISO 8820-3:2015, scope). Bolt-down strip and
the ratings in between: common practice, no source."""

BLADE_BREAKS_A = 1000.0
"""Breaking capacity of a blade fuse. Source: ISO 8820-3:2015, scope."""


@dataclass(frozen=True)
class FuseChoice:
    """A fuse for the bench test, the charge lead, or (if the builder decides so) the pack.

    Attributes:
        chosen_a: rating; None when nothing fits.
        fuse: the family; None when nothing fits.
        low_a: smallest rating allowed.
        high_a: largest rating allowed.
        why: the reason in words.
        source: where the rules come from.
    """

    chosen_a: float | None
    fuse: FuseType | None
    low_a: float
    high_a: float
    why: str
    source: str = "1.25 to 2 x the steady current: common practice, no source; ISO 8820-3 ratings"


def choose_fuse(
    current_a: float,
    burst_a: float,
    full_v: float,
    awg: int,
    short_circuit_a: float | None = None,
) -> FuseChoice:
    """Choose a fuse rating and family.

    The rating is at least 1.25 times the steady current and no less than the burst / 1.1 (a fuse
    carries 1.1 times its rating for a long time); at most 2 times the steady current, unless the
    burst asks for more, and always under half the current that melts the lead in free air.

    Args:
        current_a: highest steady current.
        burst_a: highest current of seconds.
        full_v: pack voltage when full; the fuse's direct-current voltage must reach it.
        awg: lead that the fuse guards.
        short_circuit_a: full voltage over pack and lead resistance; more than a blade fuse's
            breaking capacity is said.

    Raises:
        InputError: a current or voltage not above zero, or a burst below the steady current.

    Source: common practice, no source; Preece for the lead; ISO 8820-3 for voltage and breaking.

    Example:
        >>> float(choose_fuse(22.0, 40.0, 16.8, awg=12).chosen_a)
        40.0
        >>> choose_fuse(22.0, 40.0, 33.6, awg=12).fuse.name
        'blade, 58 V'
    """
    if not (current_a > 0 and burst_a >= current_a and full_v > 0):
        raise InputError(
            f"steady current {current_a:g} A, burst {burst_a:g} A, full voltage {full_v:g} V: all "
            "above 0 and a burst at least as large as the steady current are needed."
        )
    low_a = max(1.25 * current_a, burst_a / 1.1)
    melts_a = float(preece_a(diameter_mm(awg)))
    high_a = min(max(2.0 * current_a, 1.25 * low_a), melts_a / 2.0)
    for fuse in FUSE_TYPES:
        if fuse.dc_v < full_v:
            continue
        ratings = [r for r in fuse.ratings_a if low_a <= r <= high_a]
        if not ratings:
            continue
        why = (
            f"{ratings[0]:g} A, {fuse.name}: between {low_a:.0f} A (1.25 x steady, and the burst) "
            f"and {high_a:.0f} A; {fuse.dc_v:g} V is at least the full pack's {full_v:g} V. Prove it "
            "against the burst on the ground before it flies, if it flies at all."
        )
        if burst_a > 2.0 * current_a:
            why += " The burst is over 2 x steady: this fuse guards against a short, little else."
        if short_circuit_a is not None and short_circuit_a > BLADE_BREAKS_A:
            why += (
                f" A dead short could push {short_circuit_a:.0f} A, more than the "
                f"{BLADE_BREAKS_A:g} A that a blade fuse is tested to break: take one with a "
                "stated higher breaking capacity."
            )
        return FuseChoice(float(ratings[0]), fuse, low_a, high_a, why)
    if all(fuse.dc_v < full_v for fuse in FUSE_TYPES):
        why = f"No listed fuse breaks {full_v:g} V direct current; a fuse rated for it is needed."
    elif high_a < low_a:
        why = (
            f"The lead is too thin: half its melting current is {melts_a / 2:.0f} A and the fuse "
            f"must be at least {low_a:.0f} A. Take a thicker lead first."
        )
    else:
        why = f"No listed rating lies between {low_a:.0f} and {high_a:.0f} A."
    return FuseChoice(None, None, low_a, high_a, why)


@dataclass(frozen=True)
class MeltingPoint:
    """How much current a gauge stands before it melts.

    Attributes:
        one_second_a: melts in 1 s (Onderdonk).
        ten_seconds_a: melts in 10 s (Onderdonk, the end of its range).
        steady_a: melts in the end, bare in free air (Preece).
    """

    one_second_a: Number
    ten_seconds_a: Number
    steady_a: Number


def melting_point(awg: Number, air_c: Number = 25.0) -> MeltingPoint:
    """Melting currents of a gauge, for seeing how far a lead is from them.

    Source: Onderdonk and Preece, as above.

    Example:
        >>> float(melting_point(12).ten_seconds_a)
        302.1
    """
    section = area_mm2(awg)
    return MeltingPoint(
        onderdonk_a(section, 1.0, air_c),
        onderdonk_a(section, 10.0, air_c),
        preece_a(diameter_mm(awg)),
    )
