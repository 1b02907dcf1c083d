"""What a flight asks of its pack, and the currents that wire, strip and connector are made for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.pack import Pack
from workbook.battery.thresholds import RETURN_SHARE
from workbook.numbers import rounded

MARGIN_PCT = 25.0
"""What wire, strip and connector are made for beyond the plan's own currents: wind, a heavier craft,
a warm day, a thrust table that reads low. Common practice, no source."""


@dataclass(frozen=True)
class FlightLoad:
    """What the flight asks of one pack. NaN where it cannot be computed.

    Attributes:
        steady_w: in steady flight.
        mean_a: pack current, mean of the flight.
        highest_a: most that the craft can draw, at its throttle cap.
        climb_w: of the pack, in the hardest climb that its continuous current allows.
        continuous_share_pct: share of the cells' continuous current that may be used.
        landing_v: cell voltage under load asked for at landing; reserve_pct: charge kept.
        end_v: cell voltage under load at which the flight ends, by landing voltage or reserve.
        used_ah: charge taken by then; minutes: how long that takes.
        resistance_factor, capacity_factor: cold and age of the pack, as the flight counts them.
        steady_a: highest pack current that lasts longer than a burst; the mean where it is not stated.
        home_share: of the capacity, what the way home takes, in its wind.
        low_min: how long nineteen flights in twenty last at least, allowances counted.
    """

    steady_w: float
    mean_a: float
    highest_a: float
    climb_w: float
    continuous_share_pct: float
    landing_v: float
    reserve_pct: float
    end_v: float
    used_ah: float
    minutes: float
    resistance_factor: float = 1.0
    capacity_factor: float = 1.0
    steady_a: float = np.nan
    home_share: float = RETURN_SHARE
    low_min: float = np.nan


@dataclass(frozen=True)
class PartCurrents:
    """Pack currents that every part is made for, beside those that they come from. In amperes.

    Attributes:
        steady_a, highest_a: of the plan: what lasts, and the most for the cells' burst time; where the
            plan does not give them, what the cells may give.
        continuous_a, burst_a: what the parts are made for: the plan's with the margin, rounded up.
        cells_continuous_a: what the cells may give all the time, at the share that the flight allows.
        cells_burst_a: their burst current; burst_s: for how long.
        is_known: whether the plan gives both of its currents.
    """

    steady_a: float
    highest_a: float
    continuous_a: float
    burst_a: float
    cells_continuous_a: float
    cells_burst_a: float
    burst_s: float
    is_known: bool

    @property
    def text(self) -> str:
        """Both, in words."""
        made = (
            f"Made for {self.continuous_a:.1f} A continuous and {self.burst_a:.1f} A for "
            f"{self.burst_s:g} s"
        )
        cells = f"{self.cells_continuous_a:.1f} A and {self.cells_burst_a:.1f} A"
        if not self.is_known:
            return f"{made}: the plan gives no currents of its own, so the cells' ratings count, {cells}."
        return (
            f"{made}: the plan's highest are {self.steady_a:.1f} A and {self.highest_a:.1f} A; "
            f"{MARGIN_PCT:g} % is added, up to what the cells are rated for. The cells could give {cells}: "
            "a flight that draws more than these parts are made for wants thicker ones."
        )


def part_currents(pack: Pack, load: FlightLoad) -> PartCurrents:
    """The currents that wire, strip and connector of one pack are made for.

    Args:
        pack: one S and one P.
        load: what the flight asks of it.

    Source: the plan's currents and `MARGIN_PCT`; no part needs to carry more than the cells may give.

    Example:
        >>> import workbook as wb
        >>> load = FlightLoad(
        ...     200.0, 11.0, 24.0, 250.0, 80.0, 3.1, 20.0, 3.4, 7.7, 33.0, steady_a=12.0
        ... )
        >>> made = part_currents(wb.Pack(wb.find_cell("Bittern"), 4, 2), load)
        >>> made.continuous_a, made.burst_a
        (15.0, 25.0)
    """
    share = load.continuous_share_pct / 100.0
    rated_a, cells_burst_a = float(pack.continuous_a), float(pack.burst_a)
    cells_continuous_a = share * rated_a
    steady_a = load.steady_a if np.isfinite(load.steady_a) else load.mean_a
    is_known = bool(np.isfinite(steady_a) and np.isfinite(load.highest_a))
    if not np.isfinite(steady_a):
        steady_a = cells_continuous_a
    highest_a = load.highest_a if np.isfinite(load.highest_a) else cells_burst_a
    steady_a = rounded(steady_a, 1, "up")
    highest_a = max(rounded(highest_a, 1, "up"), steady_a)
    continuous_a = _made_for(steady_a, rated_a)
    return PartCurrents(
        steady_a=steady_a,
        highest_a=highest_a,
        continuous_a=continuous_a,
        burst_a=max(_made_for(highest_a, cells_burst_a), continuous_a),
        cells_continuous_a=cells_continuous_a,
        cells_burst_a=cells_burst_a,
        burst_s=pack.cell.burst_s,
        is_known=is_known,
    )


def _made_for(current_a: float, cells_a: float) -> float:
    """A current of the plan with the margin, no more than the cells are rated for; rounded up."""
    most = max(current_a, min(current_a * (1.0 + MARGIN_PCT / 100.0), cells_a))
    return rounded(most, 1, "up")
