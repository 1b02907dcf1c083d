"""Alarm, return, land and cut voltages from the pack's own sag, and the settings that carry them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from workbook.battery.discharge import PowerRun, constant_power, voltage_under_power
from workbook.battery.pack import Pack
from workbook.errors import InputError, Problem, refuse
from workbook.notices import notice
from workbook.numbers import (
    JUST_ABOVE_0,
    FloatArray,
    Number,
    Ranges,
    plain,
    range_problems,
    rounded,
)
from workbook.quantities import INPUTS, RESULTS

AUTO_COUNT_V = 4.3
"""What a device that counts cells by itself takes for a full cell. Source: common practice."""
RETURN_SHARE = ALARM_SHARE = 0.10
"""Of the capacity: least kept for the way home, and between the alarm and that. Source: common practice."""

LEAST_SET_V = 2.5
"""Lowest loaded voltage per cell that can be asked for. Common practice, no source."""

WATTS = (JUST_ABOVE_0, np.inf, "above 0 W")
"""Range of a power in flight."""

SMALL_PCT = 1.0
"""Of the charge: a setting that costs less is as good; the steps of a device are no finer. Common practice, no source."""
EFFECTS = {"failsafe_v": "the craft lands", "warn_v": "the warning comes"}
"""What happens at each voltage that is set."""

CELLS_SET = "cells set"
"""What the number of cells in a device's settings is called."""

RULES = {
    "alarm": "about 3.3 to 3.5 V per cell loaded, with a third of the charge left",
    "return": "about 3.1 to 3.4 V per cell loaded, with a quarter of the charge left",
    "land": "3.0 to 3.3 V per cell loaded, 15 to 20 % of the charge left; 3.3 to 3.5 V after rest",
    "cut": "never below 2.8 V per cell loaded, and never below the datasheet's cutoff",
}
"""The rule of thumb beside each threshold. Source: common practice, no source."""


@dataclass(frozen=True)
class Threshold:
    """One voltage at which something happens, per design.

    Attributes:
        name: "alarm", "return", "land" or "cut".
        depth_of_discharge: depth of discharge at which it is met.
        loaded_v, rest_v: per cell, under the flight's power, and at rest, as worked out from the loaded one.
        pack_loaded_v, pack_rest_v: times S.
        used_ah: charge taken from the pack by then, the figure for a trigger on charge.
        flown_min: minutes of steady flight from full by then.
        rule: the rule of thumb beside it.
    """

    name: str
    depth_of_discharge: FloatArray
    loaded_v: FloatArray
    rest_v: FloatArray
    pack_loaded_v: FloatArray
    pack_rest_v: FloatArray
    used_ah: FloatArray
    flown_min: FloatArray
    rule: str

    def text(self) -> str:
        """One line for a settings sheet; for a single design. Rounded so that it acts early, never late."""
        cell_v, pack_v = RESULTS["threshold_cell_v"], RESULTS["threshold_pack_v"]
        used = RESULTS["threshold_used_mah"].text(1000.0 * self.used_ah)
        return (
            f"{self.name}: {cell_v.text(self.loaded_v)} per cell loaded "
            f"({pack_v.text(self.pack_loaded_v)} pack), {cell_v.text(self.rest_v)} at rest "
            f"({pack_v.text(self.pack_rest_v)} pack), {used} used. "
            f"Rule of thumb: {self.rule}."
        )


@dataclass(frozen=True, eq=False)
class Thresholds:
    """The four voltages of a pack in flight, highest first, and cautions about them.

    Attributes:
        alarm, return_home, land, cut: the thresholds.
        sag_v: per cell, at rest less loaded, at landing.
        climb_loaded_v: per cell at the alarm's depth under the climb's power; NaN without a climb
            or where the pack cannot give it.
        notices: cautions and hard stops, in words; empty for arrays of designs.
        flown: the flight of a cell from full down to a loaded voltage.
    """

    alarm: Threshold
    return_home: Threshold
    land: Threshold
    cut: Threshold
    sag_v: FloatArray
    climb_loaded_v: FloatArray
    notices: tuple[Problem, ...]
    flown: Callable[..., PowerRun] = field(repr=False, compare=False)

    def text(self) -> str:
        """The lines of a settings sheet; for a single design."""
        lines = [t.text() for t in (self.alarm, self.return_home, self.land, self.cut)]
        return "\n".join([*lines, *(f"Caution: {notice}" for notice in self.notices)])


def landing_ranges(power_w: Number, landing_v: Number, land_depth_of_discharge: Number) -> Ranges:
    """What can be asked of a flight at constant power, and of its landing."""
    least_v, most_v = INPUTS["landing_v"].least, INPUTS["landing_v"].most
    depths = (JUST_ABOVE_0, 1.0, "above 0 up to 1")
    return {
        "power_w": (power_w, *WATTS),
        "landing_v": (landing_v, least_v, most_v, f"{least_v:g} to {most_v:g} V"),
        "land_depth_of_discharge": (land_depth_of_discharge, *depths),
    }


def thresholds(
    pack: Pack,
    power_w: Number,
    *,
    landing_v: Number = 3.1,
    land_depth_of_discharge: Number = 0.85,
    climb_w: Number | None = None,
    home_share: Number = RETURN_SHARE,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
) -> Thresholds:
    """The voltages at which to warn, return, land and stop, for this pack under this load.

    Landing is where the loaded voltage reaches `landing_v` or the charge used reaches
    `land_depth_of_discharge`, whichever is first. Return lies earlier by what the way home takes, at
    least `RETURN_SHARE` of the capacity; the alarm lies `ALARM_SHARE` earlier still. Cut is the hard floor:
    2.8 V per cell loaded or the datasheet's cutoff, whichever is higher; a multirotor must be on the
    ground before it.

    Args:
        pack: S and P may be arrays.
        power_w: of the whole pack in steady flight, above 0.
        landing_v: loaded, per cell.
        land_depth_of_discharge: highest at landing, above 0 up to 1.
        climb_w: of the whole pack in a climb, to see whether it trips the alarm.
        home_share: of the capacity, what the way home takes with its headwind, 0 to 1.
        resistance_factor, capacity_factor: cold and age; 1 is fresh at 25 C.

    Returns:
        Voltages loaded and at rest, per cell and for the pack.

    Raises:
        InputError: a figure that cannot be.

    Source: U(z) and R(z) of the cell; V = (U + sqrt(U^2 - 4 P R)) / 2.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> levels = thresholds(Pack(find_cell("Bittern"), 4, 2), 200.0)
        >>> float(levels.land.pack_loaded_v) > 4 * 3.09
        True
    """
    ranges: Ranges = {
        **landing_ranges(power_w, landing_v, land_depth_of_discharge),
        "home_share": (home_share, 0.0, 1.0, "0 to 1"),
        "climb_w": (climb_w, *WATTS),
    }
    refuse(range_problems(ranges))
    model, extra = pack.cell.model, pack.joint_mohm_per_cell
    cell_w = np.asarray(power_w, dtype=float) / pack.cells
    capacity_ah = np.asarray(pack.parallel * model.capacity_ah * np.asarray(capacity_factor))

    flight = partial(
        constant_power,
        model,
        cell_w,
        extra_mohm=extra,
        resistance_factor=resistance_factor,
        capacity_factor=capacity_factor,
    )

    def end_of(voltage: Number, depth: Number) -> FloatArray:
        return np.asarray(flight(voltage, depth).end_depth_of_discharge)

    def loaded_v(depth: FloatArray, power: Number) -> FloatArray:
        r_mohm = model.resistance_at(depth) * resistance_factor + extra
        return voltage_under_power(model.open_circuit_at(depth), r_mohm, power)

    floor_v = pack.cell.floor_v
    landing = end_of(landing_v, land_depth_of_discharge)
    returning = np.maximum(landing - np.maximum(home_share, RETURN_SHARE), 0.0)
    alarm = np.maximum(returning - ALARM_SHARE, 0.0)
    climb_v = np.full(np.shape(alarm), np.nan)
    if climb_w is not None:
        climb_v = loaded_v(alarm, np.asarray(climb_w, dtype=float) / pack.cells)
    cut = np.maximum(end_of(floor_v, 1.0), landing)
    depth = np.stack(np.broadcast_arrays(alarm, returning, landing, cut))
    rest, loaded = model.open_circuit_at(depth), loaded_v(depth, cell_w)
    flown_min = flight(LEAST_SET_V, depth).time_s / 60.0
    figures = (depth, loaded, rest, pack.series * loaded, pack.series * rest, capacity_ah * depth)
    warn, home, land, stop = (
        Threshold(*level) for level in zip(RULES, *figures, flown_min, RULES.values(), strict=True)
    )
    sag_v = land.rest_v - land.loaded_v
    found: Thresholds = plain(Thresholds(warn, home, land, stop, sag_v, climb_v, (), flight))
    if np.ndim(found.alarm.loaded_v) or np.ndim(climb_v):
        return found
    return replace(found, notices=tuple(_notices(found, floor_v, climb_w is not None)))


def _notices(found: Thresholds, floor_v: float, climbs: bool) -> Iterator[Problem]:
    """What a single design's thresholds call for, in words."""
    alarm, home, land = found.alarm, found.return_home, found.land
    if not land.depth_of_discharge > 0:
        yield Problem(notice("thresholds", "cannot_fly"), "land")
        return
    land_v, home_v = (rounded(float(level.loaded_v), 2, "up") for level in (land, home))
    if land.loaded_v < floor_v:
        low_v = rounded(float(land.loaded_v), 2, "down")
        low = notice("thresholds", "lands_low", land_v=low_v, floor_v=floor_v)
        yield Problem(low, "land")
    if alarm.depth_of_discharge == 0:
        yield Problem(notice("thresholds", "no_time"))
    if not climbs:
        return
    v = {"lowest_v": rounded(float(found.climb_loaded_v), 2, "down"), "floor_v": floor_v}
    if np.isnan(found.climb_loaded_v):
        yield Problem(notice("thresholds", "no_climb"), "alarm")
    elif found.climb_loaded_v < floor_v:
        yield Problem(notice("thresholds", "climb_under_floor", **v), "alarm")
    elif found.climb_loaded_v < land.loaded_v:
        yield Problem(notice("thresholds", "climb_under_landing", **v, land_v=land_v), "land")
    elif found.climb_loaded_v < home.loaded_v:
        yield Problem(notice("thresholds", "climb_trips_return", **v, home_v=home_v), "return")


def misread_below_v(series: Number) -> FloatArray:
    """Voltage per cell under which a device that counts cells by itself finds one too few.

    It takes S as the least whole number with pack voltage / S not above `AUTO_COUNT_V`, so it
    finds S - 1 below AUTO_COUNT_V x (S - 1) / S.

    Args:
        series: cells in series, 1 or more.

    Source: arithmetic; 4.3 V is common practice, no source.

    Example:
        >>> misread_below_v(np.array([4, 6, 8, 12])).round(2)
        array([3.22, 3.58, 3.76, 3.94])
    """
    s = np.asarray(series, dtype=float)
    return np.asarray(AUTO_COUNT_V * (s - 1.0) / s)[()]


@dataclass(frozen=True, eq=False)
class Settings:
    """What is set in a flight controller, radio or speed controller; None is not set.

    Attributes:
        cell_count: cells in series set by hand, None when the device counts by itself.
        warn_v, failsafe_v: of the pack, or of each cell where `per_cell`; loaded unless `resting`; 0 or None is off.
        resting: True when the device compares the voltage at rest, worked out from the loaded one.
        capacity_ah: capacity set, None when not set.
        per_cell: True when the device takes voltages of a cell, and multiplies them by the cells that it knows of.
    """

    cell_count: int | None = None
    warn_v: float | None = None
    failsafe_v: float | None = None
    resting: bool = False
    capacity_ah: float | None = None
    per_cell: bool = False

    def pack_v(self, value_v: float, series: int) -> float:
        """The voltage of a pack of `series` at which a set one acts."""
        return value_v * (self.cell_count or series) if self.per_cell else value_v


USUAL_SETTINGS = Settings(None, 3.5, 3.0, per_cell=True)
"""What many set for lithium-polymer packs, counted by the device. Common practice, no source."""


def check_settings(pack: Pack, levels: Thresholds, settings: Settings) -> tuple[Problem, ...]:
    """Compare what is set with what this pack needs; one sentence for each that is wrong.

    Args:
        pack: one pack, S and P plain whole numbers.
        levels: its thresholds, of a single design.
        settings: what is in the device.

    Returns:
        Hard stops and cautions, each with the name of its setting; empty when nothing is wrong.

    Raises:
        InputError: no setting is right, since the pack cannot give the power.

    Source: 2.8 V floor and fixed cell count: common practice, no source.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> pack = Pack(find_cell("Bittern"), 6, 2)
        >>> found = check_settings(pack, thresholds(pack, 300.0), Settings(6, 20.0, 10.5))
        >>> print(found[0].what[:66])
        10.5 V is 1.75 V per cell for 6 in series, under the hard floor of
    """
    home, land = levels.return_home, levels.land
    if not land.depth_of_discharge > 0:
        raise InputError(notice("settings", "cannot_fly"))
    return (
        *_wrong_count(int(pack.series), settings.cell_count),
        *_wrong_voltage(pack, levels, settings, "failsafe_v", land),
        *_wrong_voltage(pack, levels, settings, "warn_v", home),
        *_wrong_order(settings),
        *_wrong_capacity(pack, settings.capacity_ah),
    )


def _wrong_count(series: int, count: int | None) -> Iterator[Problem]:
    if count is not None and count != series:
        yield Problem(notice("settings", "other_count", count=count, series=series), CELLS_SET)
    elif count is None and series == 1:
        yield Problem(notice("settings", "counts_by_itself", series=series), CELLS_SET)
    elif count is None:
        below_v = rounded(float(misread_below_v(series)), 2, "up")
        text = notice("settings", "miscounts", fewer=series - 1, series=series, below_v=below_v)
        yield Problem(text, CELLS_SET)


def _wrong_voltage(
    pack: Pack, levels: Thresholds, settings: Settings, key: str, wanted: Threshold
) -> Iterator[Problem]:
    series, floor_v, where = int(pack.series), pack.cell.floor_v, INPUTS[key].label
    state = "at rest" if settings.resting else "loaded"
    wanted_v = float(wanted.pack_rest_v if settings.resting else wanted.pack_loaded_v)
    wanted_pct = 100.0 * (1.0 - float(wanted.depth_of_discharge))
    given = {
        "to_set": f"{_setting_text(settings, wanted_v, series)} ({state})",
        "wanted_pct": wanted_pct,
    }
    value: float | None = getattr(settings, key)
    if not value:
        yield Problem(notice("settings", "off", **given), where)
        return
    pack_v = settings.pack_v(value, series)
    given["stated"] = _stated_text(settings, value, series)
    if pack_v / series < floor_v:
        cell_v = rounded(pack_v / series, 2, "down")
        text = notice(
            "settings", "under_floor", **given, cell_v=cell_v, series=series, floor_v=floor_v
        )
        if settings.per_cell and pack_v == value * series:
            text = notice("settings", "cell_under_floor", **given, floor_v=floor_v)
        yield Problem(text, where)
    elif (left_pct := _left_pct(pack, levels, settings, pack_v)) < wanted_pct - SMALL_PCT:
        left_pct = rounded(left_pct, 0, "down")
        text = notice("settings", "too_low", **given, acts=EFFECTS[key], left_pct=left_pct)
        yield Problem(text, where)
    elif pack_v > wanted_v + 0.15 * series:
        yield Problem(notice("settings", "too_high", **given), where)


def _left_pct(pack: Pack, levels: Thresholds, settings: Settings, pack_v: float) -> float:
    """Charge left in the flight, in %, once the voltage that a device reads is down to one of the pack."""
    model, cell_v = pack.cell.model, pack_v / float(pack.series)
    if settings.resting:
        falling_v = -model.open_circuit_v
        depth = float(np.interp(-cell_v, falling_v, model.depth_of_discharge))
    else:
        depth = float(levels.flown(cell_v).end_depth_of_discharge)
    return 100.0 * (1.0 - depth)


def _setting_text(settings: Settings, pack_v: float, series: int) -> str:
    """A voltage of the pack as it is set in the device, with its unit."""
    if settings.per_cell:
        return f"{RESULTS['threshold_cell_v'].text(pack_v / series)} per cell"
    return RESULTS["threshold_pack_v"].text(pack_v)


def _stated_text(settings: Settings, value: float, series: int) -> str:
    """A voltage as it is set, and by what the device multiplies it where that is not the pack's S."""
    if not settings.per_cell:
        return f"{value:g} V"
    count = settings.cell_count or series
    times = "" if count == series else f" times {count}"
    return f"{value:g} V per cell{times}"


def _wrong_order(settings: Settings) -> Iterator[Problem]:
    warn_v, failsafe_v = settings.warn_v, settings.failsafe_v
    if warn_v and failsafe_v and warn_v <= failsafe_v:
        text = notice("settings", "wrong_order", warn_v=warn_v, failsafe_v=failsafe_v)
        yield Problem(text, INPUTS["warn_v"].label)


def _wrong_capacity(pack: Pack, capacity_ah: float | None) -> Iterator[Problem]:
    share = 1.0 if capacity_ah is None else capacity_ah / float(pack.capacity_ah)
    if not 0.9 <= share <= 1.1:
        figures = {"set_mah": 1000 * (capacity_ah or 0.0), "rated_mah": 1000 * pack.capacity_ah}
        text = notice("settings", "too_little_charge", **figures)
        if share > 1.0:
            text = notice("settings", "too_much_charge", **figures)
        yield Problem(text, INPUTS["set_capacity_ah"].label)
