"""What is set in autopilot, radio and speed controllers, by purpose, and what each setting leaves.

Names differ between devices, so each setting says what it does. Every figure is rounded to the safe side.
The texts are in `data/checks.toml`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.battery.pack import Pack
from workbook.battery.thresholds import RETURN_SHARE, Threshold, Thresholds, misread_below_v
from workbook.bench.flight_load import FlightLoad, PartCurrents
from workbook.bench.procedure import CheckItem, checks
from workbook.errors import InputError
from workbook.notices import notice
from workbook.numbers import rounded

ARMING_V = 4.0
"""At rest, below which the craft should not arm. Common practice, no source."""
NO_CAP_PCT = 100.0
PURPOSES = {
    "know": "Know the pack",
    "warn": "Warn",
    "protect": "Protect the pack",
    "come_home": "Come home",
}
"""Of the settings, in words."""


@dataclass(frozen=True)
class Handling:
    """What is left over steady flight: thrust to weight of a multirotor, climb of a wing.

    Attributes:
        asked: the least that is to be left.
        mixed: whether there is a mixer between stick and motors, as in a multirotor.
        cap_pct: the plan's throttle cap; 100 for none.
        at_depth: what is left at a depth of discharge, at the cap.
        within: the least that is left over the flight within a limit of pack current, at the cap.
        words: such a figure in words.
    """

    asked: float
    mixed: bool
    cap_pct: float
    at_depth: Callable[[float], float]
    within: Callable[[float], float]
    words: Callable[[float], str]

    def outcome(self, figure: float) -> str:
        """What a setting leaves, in words, whether it is enough."""
        if not np.isfinite(figure):
            return "what it leaves is not known"
        short = "" if figure >= self.asked else f"; {self.words(self.asked)} is asked for"
        return f"leaves {self.words(figure)}{short}"

    def outcome_at(self, level: Threshold) -> str:
        """What is left at one of the levels."""
        return self.outcome(self.at_depth(float(level.depth_of_discharge)))


@dataclass(frozen=True)
class DeviceSettings:
    """What to set, to fill in and tick, by purpose.

    Attributes:
        know: for the devices to know the pack.
        warn: for the pilot to be warned.
        protect: for the pack to be kept within its limits.
        come_home: for the craft to come home and land.
        cautions: what is wrong or risky with these figures, in words; empty when nothing is.
    """

    know: tuple[CheckItem, ...]
    warn: tuple[CheckItem, ...]
    protect: tuple[CheckItem, ...]
    come_home: tuple[CheckItem, ...]
    cautions: tuple[str, ...]

    @property
    def sections(self) -> tuple[tuple[str, tuple[CheckItem, ...]], ...]:
        """Each purpose in words, with its settings."""
        return tuple((words, getattr(self, name)) for name, words in PURPOSES.items())


def device_settings(
    pack: Pack,
    levels: Thresholds,
    load: FlightLoad,
    made_for: PartCurrents,
    handling: Handling | None = None,
) -> DeviceSettings:
    """Settings with this pack's numbers, each with the thrust or climb and the time that it leaves.

    Args:
        pack: one S and one P.
        levels: its voltages.
        load: what the flight asks.
        made_for: what the parts carry.
        handling: what is left over steady flight; None where it is not known.

    Raises:
        InputError: voltages that do not rise from landing to alarm to full.

    Source: common practice, no source; arithmetic.

    Example:
        >>> from workbook.bench.flight_load import part_currents
        >>> import workbook as wb
        >>> from workbook.battery.thresholds import thresholds
        >>> pack = wb.Pack(wb.find_cell("Bittern"), 6, 2)
        >>> load = FlightLoad(200.0, 9.6, 24.0, 250.0, 80.0, 3.1, 20.0, 3.4, 7.7, 48.0)
        >>> made = device_settings(pack, thresholds(pack, 200.0), load, part_currents(pack, load))
        >>> [(item.expected, item.unit) for item in made.know[:2]]
        [(6.0, 'cells'), (10080.0, 'mAh')]
    """
    volts = _volts(pack, levels)
    figures = {
        **volts,
        **_charge_and_time(pack, levels, load),
        **_limits(pack, levels, made_for, handling),
    }
    figures["home_share"] = 100.0 * load.home_share
    figures["home_usual"] = load.home_share <= RETURN_SHARE
    for name, level in _set_levels(levels).items():
        figures[f"{name}_left"] = handling.outcome_at(level) if handling else ""
    return DeviceSettings(
        **{name: checks(f"settings_{name}", **figures) for name in PURPOSES},
        cautions=_cautions(levels, load, figures, handling),
    )


def _set_levels(levels: Thresholds) -> dict[str, Threshold]:
    """Those that are set in devices, by the name of their settings."""
    return {"alarm": levels.alarm, "return": levels.return_home, "land": levels.land}


def _volts(pack: Pack, levels: Thresholds) -> dict[str, Any]:
    """Pack voltages as they are set, to a tenth of a volt upwards; a single cell's to a hundredth."""
    series = int(pack.series)
    decimals = 2 if series == 1 else 1
    full_v = rounded(float(pack.full_v), 2, "down")
    volts: dict[str, float] = {}
    for name, level in _set_levels(levels).items():
        volts[f"{name}_v"] = rounded(float(level.pack_loaded_v), decimals, "up")
        volts[f"{name}_rest_v"] = rounded(float(level.pack_rest_v), decimals, "up")
        volts[f"{name}_cell_v"] = rounded(float(level.loaded_v), 2, "up")
    land_v, return_v, alarm_v = volts["land_v"], volts["return_v"], volts["alarm_v"]
    if not land_v < return_v <= alarm_v < full_v:
        raise InputError(
            f"land {land_v:g}, return {return_v:g}, alarm {alarm_v:g} and full {full_v:g} V of the "
            "pack are found; they must rise in this order. More cells in parallel, a lower landing "
            "voltage or less power is needed."
        )
    return {
        **volts,
        "series": series,
        "decimals": decimals,
        "full_v": full_v,
        "arming_v": ARMING_V,
        "misread_v": rounded(float(misread_below_v(series)), 2, "up"),
    }


def _charge_and_time(pack: Pack, levels: Thresholds, load: FlightLoad) -> dict[str, float]:
    """Charge that a counter compares, and minutes, both to the safe side."""
    capacity_ah = float(pack.capacity_ah)
    land_min, return_min = float(levels.land.flown_min), float(levels.return_home.flown_min)
    low_min = min(load.low_min, land_min) if np.isfinite(load.low_min) else land_min
    timer_min = rounded(return_min * low_min / land_min if land_min > 0 else 0.0, 0, "down")

    def left_mah(used_ah: float) -> float:
        return rounded(1000.0 * max(capacity_ah - used_ah, 0.0), -1, "up")

    return {
        "capacity_mah": 1000.0 * capacity_ah,
        "alarm_used_mah": rounded(1000.0 * float(levels.alarm.used_ah), -1, "down"),
        "return_left_mah": left_mah(float(levels.return_home.used_ah)),
        "land_left_mah": left_mah(float(levels.land.used_ah)),
        "timer_min": timer_min,
        "timer_left_min": rounded(low_min - timer_min, 1, "down"),
        "timer_by_low": bool(np.isfinite(load.low_min)),
        "alarm_min": rounded(land_min - float(levels.alarm.flown_min), 1, "down"),
        "return_min": rounded(land_min - return_min, 1, "down"),
        "land_min": rounded(float(levels.cut.flown_min) - land_min, 1, "down"),
    }


def _limits(
    pack: Pack, levels: Thresholds, made_for: PartCurrents, handling: Handling | None
) -> dict[str, Any]:
    """Throttle cap, current limit and voltage compensation, and what each leaves."""
    limit_a = rounded(min(made_for.cells_burst_a, made_for.burst_a), 1, "down")
    steady_a = rounded(made_for.cells_continuous_a, 1, "down")
    found: dict[str, Any] = {
        "mixed": handling is None or handling.mixed,
        "cap_pct": NO_CAP_PCT,
        "limit_a": limit_a,
        "limit_on": True,
        "steady_limit_a": steady_a,
        "limit_left": "",
        "steady_limit_left": "",
        "raised_pct": NO_CAP_PCT,
        "burst_s": pack.cell.burst_s,
    }
    if handling is None:
        return found
    cap_pct = rounded(min(handling.cap_pct, NO_CAP_PCT), 1, "down")
    left, steady_left = handling.within(limit_a), handling.within(steady_a)
    compensated = cap_pct * float(pack.full_v) / float(levels.land.pack_loaded_v)
    return {
        **found,
        "cap_pct": cap_pct,
        "raised_pct": min(rounded(compensated, 0, "up"), NO_CAP_PCT),
        "limit_on": bool(left >= handling.asked),
        "limit_left": handling.outcome(left),
        "steady_limit_left": handling.outcome(steady_left),
    }


def _cautions(
    levels: Thresholds, load: FlightLoad, figures: dict[str, Any], handling: Handling | None
) -> tuple[str, ...]:
    """What is risky with the settings."""
    cautions = []
    if float(levels.alarm.rest_v) > ARMING_V:
        cautions.append(notice("devices", "armed_below_alarm", arming_v=ARMING_V))
    if load.reserve_pct == 0.0:
        cautions.append(notice("devices", "no_reserve"))
    if handling is None:
        cautions.append(notice("devices", "left_unknown"))
    elif not figures["limit_on"]:
        cautions.append(notice("devices", "limit_off", **figures))
    return tuple(cautions)
