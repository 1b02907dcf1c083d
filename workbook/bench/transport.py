"""Carrying the pack: its watt-hours against the limits for passengers and for parcels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workbook.errors import InputError
from workbook.numbers import Number, rounded

CABIN_WH = 100.0
"""Up to and including this, a passenger may carry a battery in the cabin without asking."""
APPROVAL_WH = 160.0
"""Up to and including this, with the operator's approval and at most two spares."""
SMALL_CELL_WH = 20.0
SMALL_BATTERY_WH = 100.0
"""Small-battery exception for cargo, a cell and a battery. Source: 49 CFR 173.185(c)(1)(i)."""
NOMINAL_V = (3.6, 3.7)
"""Nominal voltages that datasheets of such cells print."""

EDITION = (
    "IATA Dangerous Goods Regulations, table 2.3.A, as of the 67th edition (2026); limits read in "
    "public summaries of it. Check the current rules and your operator: they change every year, and "
    "operators may be stricter."
)
UN_38_3 = (
    "This pack is built at home and not tested. A battery that is carried or sent must be of a type tested to "
    "the UN Manual of Tests and Criteria, section 38.3; no home-built pack has such a test report, even if its "
    "cells have one. An airline or a parcel service may refuse it whatever its size: say so, ask, and have the "
    "answer in writing. This sheet cannot pass it."
)
SPARES = (
    "A pack out of the craft is a spare: cabin only, never in checked baggage, terminals and balance "
    "plug covered one by one, at about 30 % charge."
)

CABIN, APPROVAL, FORBIDDEN = 0, 1, 2
CLASS_WORDS = (
    "cabin baggage, no approval",
    "cabin baggage with the operator's approval, two spares at most",
    "not carried in passenger baggage",
)


def passenger_class(energy_wh: Number) -> NDArray[np.intp]:
    """0, 1 or 2 for up to 100 Wh, up to 160 Wh, above; both limits are inclusive.

    Args:
        energy_wh: nominal voltage x rated capacity of one whole pack.

    Source: IATA Dangerous Goods Regulations, table 2.3.A (see `EDITION`).

    Example:
        >>> passenger_class(np.array([100.0, 100.01, 160.0, 160.01])).tolist()
        [0, 1, 1, 2]
    """
    # 4 x 2.5 x 10 must not miss the limit by the last bit of a float
    energy = np.round(np.asarray(energy_wh, float), 6)
    return np.asarray(np.searchsorted([CABIN_WH, APPROVAL_WH], energy, side="left"), np.intp)


@dataclass(frozen=True)
class Transport:
    """What the rules say of one pack.

    Attributes:
        energy_wh: by the cell's own nominal voltage.
        passenger_class: 0 cabin, 1 with approval, 2 not carried.
        verdict: the class in words.
        nominal_note: in words, empty when they do not.
        cargo_note: cell and battery against the small-battery exception.
        cautions: what goes with any class.
        edition: what the limits were taken from.
    """

    energy_wh: float
    passenger_class: int
    verdict: str
    nominal_note: str
    cargo_note: str
    cautions: tuple[str, ...]
    edition: str

    @property
    def energy_words(self) -> str:
        """What its watt-hours would mean, were it of a tested type."""
        energy_wh = rounded(self.energy_wh, 1, "up")
        return f"a tested battery of {energy_wh:.1f} Wh is {self.verdict}."


def transport(
    series: int, parallel: int, cell_capacity_ah: float, cell_nominal_v: float = 3.6
) -> Transport:
    """Watt-hours of the pack and what they mean for carrying it.

    Args:
        series: S.
        parallel: P.
        cell_capacity_ah: rated capacity of one cell.
        cell_nominal_v: the cell's nominal voltage, 1 to 5 V.

    Raises:
        InputError: a figure that is not above zero, or a nominal voltage out of range.

    Source: IATA Dangerous Goods Regulations, table 2.3.A; 49 CFR 173.185.

    Example:
        >>> carried = transport(4, 2, 3.45)
        >>> round(carried.energy_wh, 2), carried.verdict
        (99.36, 'cabin baggage, no approval')
        >>> print(carried.nominal_note)
        At 3.6 V per cell it is 99.4 Wh, at 3.7 V 102.1 Wh: the class differs. Print on the label ...
    """
    if not (
        series >= 1 and parallel >= 1 and cell_capacity_ah > 0.0 and 1.0 <= cell_nominal_v <= 5.0
    ):
        raise InputError(
            f"series {series:g}, parallel {parallel:g}, cell {cell_capacity_ah:g} Ah and "
            f"{cell_nominal_v:g} V: S and P from 1, a capacity above 0 and 1 to 5 V are needed."
        )
    pack_ah = parallel * cell_capacity_ah
    energy_wh = series * cell_nominal_v * pack_ah
    low_v, high_v = NOMINAL_V
    low_wh, high_wh = series * low_v * pack_ah, series * high_v * pack_ah
    chosen = int(passenger_class(energy_wh))
    flips = int(passenger_class(low_wh)) != int(passenger_class(high_wh))
    note = ""
    if flips:
        note = (
            f"At {low_v:g} V per cell it is {low_wh:.1f} Wh, at {high_v:g} V {high_wh:.1f} Wh: the "
            "class differs. Print on the label the figure that the cell's datasheet gives, and "
            "expect the operator to read the label."
        )
    cell_wh = cell_nominal_v * cell_capacity_ah
    small = cell_wh <= SMALL_CELL_WH + 1e-6 and energy_wh <= SMALL_BATTERY_WH + 1e-6
    cargo = (
        f"As cargo: {rounded(cell_wh, 1, 'up'):.1f} Wh per cell and {rounded(energy_wh, 1, 'up'):.1f} Wh per pack are "
        f"{'within' if small else 'over'} the small-battery limits of {SMALL_CELL_WH:g} and "
        f"{SMALL_BATTERY_WH:g} Wh (49 CFR 173.185); by air at no more than 30 % charge. An untested "
        "pack is not sent as a parcel."
    )
    return Transport(
        energy_wh=energy_wh,
        passenger_class=chosen,
        verdict=CLASS_WORDS[chosen],
        nominal_note=note,
        cargo_note=cargo,
        cautions=(UN_38_3, SPARES),
        edition=EDITION,
    )
