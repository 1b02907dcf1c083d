"""Main connector by current class, and the spark when it is plugged in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.errors import InputError

SPARK_ARREST_CELLS = 6
"""Above this many cells in series a spark-arresting connector is worth having.
Common practice, no source."""


@dataclass(frozen=True)
class ConnectorClass:
    """A class of two-pole connector, named by the current that it carries.

    Attributes:
        class_a: current that the class is sold for; its maker's sheet stands above.
        thickest_awg: thickest silicone lead that its solder cups usually take.
        contact_mohm: resistance of both mated poles together.
        mass_g: of the half on the pack.
    """

    class_a: float
    thickest_awg: int
    contact_mohm: float
    mass_g: float


CLASSES = (
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
        loss_w: heat in the mated pair at the steady current.
        why: the reason in words.
    """

    chosen: ConnectorClass | None
    loss_w: float
    why: str


def choose_connector(
    current_a: float, burst_a: float, series: int, awg: int | None = None
) -> ConnectorChoice:
    """Choose the smallest class that carries the burst and takes the lead.

    Args:
        current_a: steady current; the class must be at least 1.25 times it.
        burst_a: highest current; the class must be at least as large.
        series: cells in series (for the spark).
        awg: lead chosen; a class whose cups are too small for it is passed over.

    Raises:
        InputError: a current that is not above zero, or a burst below the steady current.

    Source: common practice, no source.

    Example:
        >>> float(choose_connector(22.0, 40.0, 4, awg=12).chosen.class_a)
        60.0
    """
    if not (current_a > 0 and burst_a >= current_a):
        raise InputError(
            f"steady current is {current_a:g} A and burst {burst_a:g} A; a steady current above 0 "
            "and a burst at least as large are needed."
        )
    need_a = max(burst_a, 1.25 * current_a)
    carrying = [c for c in CLASSES if c.class_a >= need_a]
    taking = [c for c in carrying if awg is None or c.thickest_awg <= awg]
    if not carrying:
        why = (
            f"No listed class carries {need_a:.0f} A. Do not pair two connectors and hope that "
            "they share: raise the voltage, lower the current, or take a bolted joint with its maker's "
            "rating."
        )
        return ConnectorChoice(None, np.nan, why)
    if not taking:
        why = f"No listed class has cups for {awg} AWG. Two thinner leads per pole may fit."
        return ConnectorChoice(None, np.nan, why)
    chosen = taking[0]
    why = (
        f"{chosen.class_a:g} A class: the larger of the burst, {burst_a:g} A, and 1.25 x the "
        f"steady {current_a:g} A is {need_a:.0f} A"
    )
    if awg is not None and carrying[0] is not chosen:
        why += f"; the {carrying[0].class_a:g} A class would carry it but not take {awg} AWG"
    why += "."
    if series > SPARK_ARREST_CELLS:
        why += (
            f" {series} cells in series are more than {SPARK_ARREST_CELLS}: use a spark-arresting "
            "connector or precharge through a resistor."
        )
    loss_w = chosen.contact_mohm * current_a**2 / 1000.0
    return ConnectorChoice(chosen, loss_w, why)
