"""Fuses of the bench: for the test discharge and for the charge lead, each by its current and wire."""

from __future__ import annotations

from dataclasses import dataclass

from workbook.bench.wire import GAUGES_AWG, allowed_a
from workbook.errors import refuse
from workbook.notices import notice
from workbook.numbers import FINITE, JUST_ABOVE_0, range_problems, rounded


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
    FuseType("blade, 32 V", 32.0, (2, 3, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100)),
    FuseType("blade, 58 V", 58.0, (2, 3, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100)),
    FuseType("bolt-down strip, 58 V", 58.0, (30, 40, 50, 60, 70, 80, 100, 125, 150, 175, 200)),
)
"""Blade: 32 V or 58 V, up to 100 A, breaking 1000 A (ISO 8820-3:2015, scope). Bolt-down strip and
the ratings in between: common practice, no source."""

BLADE_BREAKS_A = 1000.0
"""Breaking capacity of a blade fuse. Source: ISO 8820-3:2015, scope."""


LARGE_PARALLEL = 4
"""From this many cells in parallel on, the plan states what a shorted cell draws from its neighbours."""


@dataclass(frozen=True)
class FuseChoice:
    """A fuse for one lead.

    Attributes:
        awg: the lead that it guards.
        chosen_a: rating; None when nothing fits.
        fuse: the family; None when nothing fits.
        why: the reason in words.
    """

    awg: int
    chosen_a: float | None
    fuse: FuseType | None
    why: str


def choose_fuse(
    current_a: float, full_v: float, awg: int, short_circuit_a: float | None = None
) -> FuseChoice:
    """Choose a fuse for a lead that carries a steady current.

    The rating is at least 1.25 times the current, so that the fuse does not open in use, and at most
    what the lead may carry for good, so that the fuse opens before the lead is too hot: up to 1.35 times its
    rating a blade fuse may take minutes, and the lead, then near 130 C, stays far below what its silicone withstands.

    Args:
        current_a: steady current of the lead: of the test discharge, or of the charge plan.
        full_v: pack voltage when full; the fuse's direct-current voltage must reach it.
        awg: lead that the fuse guards.
        short_circuit_a: full voltage over pack and lead resistance; the reason says where it is more than a
            blade fuse breaks.

    Raises:
        InputError: a current or voltage not above zero, or a gauge in which no lead is sold.

    Source: common practice, no source; the lead's heat balance (`workbook.bench.wire`); ISO 8820-3
        for voltage and breaking.

    Example:
        >>> choose_fuse(11.0, 16.8, awg=14).chosen_a
        15.0
        >>> choose_fuse(11.0, 33.6, awg=14).fuse.name
        'blade, 58 V'
    """
    above_0 = (JUST_ABOVE_0, FINITE, "above 0")
    gauges = (min(GAUGES_AWG), max(GAUGES_AWG), f"{min(GAUGES_AWG)} to {max(GAUGES_AWG)}")
    refuse(
        range_problems(
            {
                "current_a": (current_a, *above_0),
                "full_v": (full_v, *above_0),
                "awg": (awg, *gauges),
                "short_circuit_a": (short_circuit_a, *above_0),
            }
        )
    )
    low_a, high_a = 1.25 * current_a, allowed_a(awg)
    figures = {
        "current_a": current_a,
        "awg": awg,
        "full_v": full_v,
        "least_a": rounded(low_a, 1, "up"),
        "most_a": rounded(high_a, 1, "down"),
    }
    for fuse in FUSE_TYPES:
        ratings = [r for r in fuse.ratings_a if low_a <= r <= high_a]
        if fuse.dc_v < full_v or not ratings:
            continue
        why = notice("leads", "fuse", fuse=fuse, rating_a=ratings[0], **figures)
        if short_circuit_a is not None and short_circuit_a > BLADE_BREAKS_A:
            short = notice("leads", "short", short_a=short_circuit_a, breaks_a=BLADE_BREAKS_A)
            why = f"{why} {short}"
        return FuseChoice(awg, float(ratings[0]), fuse, why)
    if all(fuse.dc_v < full_v for fuse in FUSE_TYPES):
        why = notice("leads", "no_voltage", **figures)
    elif high_a < low_a:
        why = notice("leads", "too_thin", **figures)
    else:
        why = notice("leads", "no_rating", **figures)
    return FuseChoice(awg, None, None, why)


def charge_lead_fuse(
    current_a: float, full_v: float, short_circuit_a: float | None = None
) -> FuseChoice:
    """The thinnest listed charge lead that a fuse for the charge current guards, and that fuse.

    Args:
        current_a: charge current of the plan.
        full_v: pack voltage when full.
        short_circuit_a: as `choose_fuse`: the pack feeds a short in its charge lead.

    Raises:
        InputError: a current or voltage not above zero.

    Source: as `choose_fuse`.

    Example:
        >>> fuse = charge_lead_fuse(3.0, 16.8)
        >>> fuse.chosen_a, fuse.awg
        (5.0, 22)
    """
    tried = [choose_fuse(current_a, full_v, awg, short_circuit_a) for awg in GAUGES_AWG]
    good = [choice for choice in tried if choice.chosen_a is not None]
    return good[-1] if good else tried[0]


def cell_fuse_words(parallel: int, cell_v: float, cell_mohm: float) -> str:
    """What a shorted cell draws from the cells beside it, and what fusible links would be for.

    Args:
        parallel: P.
        cell_v: full-charge voltage of one cell.
        cell_mohm: resistance of one cell.

    Returns:
        Words from `LARGE_PARALLEL` cells on; nothing below.

    Source: Ohm's law, P - 1 cells side by side into one; links: common practice, no source.

    Example:
        >>> cell_fuse_words(2, 4.2, 25.0)
        ''
        >>> print(cell_fuse_words(4, 4.2, 25.0))
        A cell that shorts inside is fed by the 3 beside it with up to 126 A, ...
    """
    if parallel < LARGE_PARALLEL:
        return ""
    rush_a = cell_v / (cell_mohm / 1000.0) * (parallel - 1) / parallel
    return notice("leads", "shorted_cell", others=parallel - 1, rush_a=rush_a)
