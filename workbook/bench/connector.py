"""Main connector by current class, and the spark when it is plugged in."""

from __future__ import annotations

from dataclasses import dataclass

from workbook.notices import notice

SPARK_ARREST_CELLS = 6
"""Above this many cells in series a spark-arresting connector is worth having.
Common practice, no source."""


@dataclass(frozen=True)
class ConnectorClass:
    """A class of two-pole connector, named by the current that it carries.

    Attributes:
        class_a: current that the class is sold for; its maker's sheet takes precedence.
        thickest_awg: thickest silicone lead that its solder cups usually take.
        contact_mohm: resistance of both mated poles together.
        mass_g: of the half on the pack.
    """

    class_a: float
    thickest_awg: int
    contact_mohm: float
    mass_g: float


CONNECTOR_CLASSES = (
    ConnectorClass(30.0, 16, 1.6, 2.0),
    ConnectorClass(45.0, 14, 1.2, 3.5),
    ConnectorClass(60.0, 12, 0.9, 5.0),
    ConnectorClass(90.0, 10, 0.6, 11.0),
    ConnectorClass(120.0, 8, 0.4, 18.0),
)
"""Cup sizes, contact resistance and mass: common practice, no source; measure your own."""


@dataclass(frozen=True)
class ConnectorChoice:
    """The connector class for a pack.

    Attributes:
        chosen: the class; None when no listed class carries the current.
        why: the reason in words.
    """

    chosen: ConnectorClass | None
    why: str


def choose_connector(
    current_a: float, burst_a: float, series: int, awg: int | None = None
) -> ConnectorChoice:
    """Choose the smallest class that carries the burst and takes the lead.

    Args:
        current_a: steady current, above 0; the class must be at least 1.25 times it.
        burst_a: highest current, no less; the class must be at least as large.
        series: cells in series (for the spark).
        awg: lead chosen; a class whose cups are too small for it is passed over.

    Source: common practice, no source.

    Example:
        >>> float(choose_connector(22.0, 40.0, 4, awg=12).chosen.class_a)
        60.0
    """
    need_a = max(burst_a, 1.25 * current_a)
    carrying = [c for c in CONNECTOR_CLASSES if c.class_a >= need_a]
    taking = [c for c in carrying if awg is None or c.thickest_awg <= awg]
    if not carrying:
        return ConnectorChoice(None, notice("leads", "no_connector", need_a=need_a))
    if not taking:
        return ConnectorChoice(None, notice("leads", "no_cups", awg=awg))
    chosen = taking[0]
    figures = {"chosen": chosen, "burst_a": burst_a, "current_a": current_a, "need_a": need_a}
    why = notice("leads", "connector", **figures)
    if carrying[0] is not chosen:
        why = notice("leads", "connector_for_lead", **figures, smaller=carrying[0], awg=awg)
    if series > SPARK_ARREST_CELLS:
        why += " " + notice("leads", "spark", series=series, most=SPARK_ARREST_CELLS)
    return ConnectorChoice(chosen, why)
