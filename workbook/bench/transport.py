"""Carrying the pack: its watt-hours against the limits for passengers and for parcels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workbook.battery.pack import Pack
from workbook.notices import notice
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

    Source: IATA Dangerous Goods Regulations, table 2.3.A (see `Transport.edition`).

    Example:
        >>> passenger_class(np.array([100.0, 100.01, 160.0, 160.01])).tolist()
        [0, 1, 1, 2]
    """
    # 4 x 2.5 x 10 must not miss the limit by the last bit of a float
    energy = np.round(np.asarray(energy_wh, float), 6)
    return np.asarray(np.searchsorted([CABIN_WH, APPROVAL_WH], energy, side="left"), np.intp)


@dataclass(frozen=True, eq=False)
class Transport:
    """What the rules say of one pack.

    Attributes:
        energy_wh: S x P x cell capacity x cell nominal voltage, the figure the rules use.
        untested: why a home-built pack may be refused whatever its size.
        by_size: what its watt-hours would mean, were it of a tested type, for passengers and as cargo.
        edition: of the rules that the limits are from.
    """

    energy_wh: float
    untested: str
    by_size: str
    edition: str


def transport(pack: Pack) -> Transport:
    """Watt-hours of the pack and what they mean for carrying it.

    Args:
        pack: one S and one P.

    Source: IATA Dangerous Goods Regulations, table 2.3.A (passengers); 49 CFR 173.185(c) (cargo).

    Example:
        >>> import workbook as wb
        >>> carried = transport(wb.Pack(wb.find_cell("Bittern"), 4, 2))
        >>> print(carried.by_size[:46])
        a tested battery of 145.2 Wh is cabin baggage
    """
    energy_wh, cell = float(pack.energy_wh), pack.cell
    verdict = CLASS_WORDS[int(passenger_class(energy_wh))]
    texts = [notice("carriage", "by_size", energy_wh=rounded(energy_wh, 1, "up"), verdict=verdict)]
    (low_v, low_wh), (high_v, high_wh) = ((v, energy_wh * v / cell.nominal_v) for v in NOMINAL_V)
    if passenger_class(low_wh) != passenger_class(high_wh):
        nominal = {"low_v": low_v, "low_wh": low_wh, "high_v": high_v, "high_wh": high_wh}
        texts.append(notice("carriage", "nominal_flips", **nominal))
    texts.append(notice("carriage", "spare"))
    cell_wh = cell.nominal_v * cell.rated_capacity_ah
    small = cell_wh <= SMALL_CELL_WH + 1e-6 and energy_wh <= SMALL_BATTERY_WH + 1e-6
    cargo = notice(
        "carriage",
        "cargo",
        cell_wh=rounded(cell_wh, 1, "up"),
        pack_wh=rounded(energy_wh, 1, "up"),
        side="within" if small else "over",
        most_cell_wh=SMALL_CELL_WH,
        most_pack_wh=SMALL_BATTERY_WH,
    )
    texts.append(cargo)
    return Transport(
        energy_wh, notice("carriage", "untested"), " ".join(texts), notice("carriage", "edition")
    )
