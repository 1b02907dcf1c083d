"""Fuse for the bench test and the charge lead: rating, voltage and family."""

from __future__ import annotations

from dataclasses import dataclass

from workbook.bench.wire import melting_point
from workbook.errors import InputError
from workbook.numbers import rounded


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
    melts_a = float(melting_point(awg).steady_a)
    high_a = min(max(2.0 * current_a, 1.25 * low_a), melts_a / 2.0)
    least, most = rounded(low_a, 0, "up"), rounded(high_a, 0, "down")
    for fuse in FUSE_TYPES:
        if fuse.dc_v < full_v:
            continue
        ratings = [r for r in fuse.ratings_a if low_a <= r <= high_a]
        if not ratings:
            continue
        why = (
            f"{ratings[0]:g} A, {fuse.name}: between {least:g} A (1.25 x steady, and the burst) "
            f"and {most:g} A; {fuse.dc_v:g} V is at least the full pack's {full_v:g} V. Prove it "
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
            f"The lead is too thin: half its melting current is {rounded(melts_a / 2, 0, 'down'):g} A and the fuse "
            f"must be at least {least:g} A. Take a thicker lead first."
        )
    else:
        why = f"No listed rating lies between {least:g} and {most:g} A."
    return FuseChoice(None, None, low_a, high_a, why)
