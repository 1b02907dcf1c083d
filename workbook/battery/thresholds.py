"""Alarm, return, land and cut voltages from the pack's own sag, and the settings that carry them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.discharge import constant_power, voltage_under_power
from workbook.battery.pack import Pack
from workbook.errors import InputError, Problem
from workbook.numbers import FloatArray, Number

HARD_FLOOR_V = 2.8
"""Loaded voltage per cell under which no failsafe may lie. Source: common practice, no source."""
MOST_PER_CELL_V = 4.3
"""What a device that counts cells by itself takes for a full cell. Source: common practice."""

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
        loaded_v, rest_v: per cell, under the flight's power and at rest (sag-compensated).
        pack_loaded_v, pack_rest_v: times S.
        used_ah: charge taken from the pack by then, the figure for a trigger on charge.
        rule: the rule of thumb beside it.
    """

    name: str
    depth_of_discharge: FloatArray
    loaded_v: FloatArray
    rest_v: FloatArray
    pack_loaded_v: FloatArray
    pack_rest_v: FloatArray
    used_ah: FloatArray
    rule: str

    def text(self) -> str:
        """One line for a settings sheet; for a single design."""
        return (
            f"{self.name}: {float(self.loaded_v):.2f} V per cell loaded "
            f"({float(self.pack_loaded_v):.1f} V pack), {float(self.rest_v):.2f} V at rest "
            f"({float(self.pack_rest_v):.1f} V pack), {1000 * float(self.used_ah):.0f} mAh used. "
            f"Rule of thumb: {self.rule}."
        )


@dataclass(frozen=True)
class Thresholds:
    """The four voltages of a pack in flight, highest first, and what is to be said about them.

    Attributes:
        alarm, return_home, land, cut: the thresholds.
        sag_v: per cell, at rest less loaded, at landing.
        climb_loaded_v: per cell at the alarm's depth under the climb's power; NaN without a climb
            or where the pack cannot give it.
        notices: cautions and hard stops, in words; empty for arrays of designs.
    """

    alarm: Threshold
    return_home: Threshold
    land: Threshold
    cut: Threshold
    sag_v: FloatArray
    climb_loaded_v: FloatArray
    notices: tuple[Problem, ...]

    def text(self) -> str:
        """The lines of a settings sheet; for a single design."""
        lines = [t.text() for t in (self.alarm, self.return_home, self.land, self.cut)]
        return "\n".join([*lines, *(f"Caution: {notice}" for notice in self.notices)])


def thresholds(
    pack: Pack,
    power_w: Number,
    *,
    landing_v: Number = 3.1,
    land_depth_of_discharge: Number = 0.85,
    return_share: Number = 0.10,
    alarm_share: Number = 0.10,
    climb_w: Number | None = None,
    resistance_factor: Number = 1.0,
    capacity_factor: Number = 1.0,
) -> Thresholds:
    """The voltages at which to warn, return, land and stop, for this pack under this load.

    Landing is where the loaded voltage reaches `landing_v` or the charge used reaches
    `land_depth_of_discharge`, whichever is first. Return lies `return_share` of the capacity earlier, for the way
    home; the alarm lies `alarm_share` earlier still. Cut is the hard floor: 2.8 V per cell loaded or
    the datasheet's cutoff, whichever is higher; a multirotor must be on the ground before it.

    Args:
        pack: S and P may be arrays.
        power_w: of the whole pack in steady flight, above 0.
        landing_v: loaded, per cell.
        land_depth_of_discharge: highest depth of discharge at landing, above 0 up to 1.
        return_share, alarm_share: of the capacity, 0 or more.
        climb_w: of the whole pack in a climb, to see whether it trips the alarm.
        resistance_factor, capacity_factor: cold and age; 1 is fresh at 25 C.

    Returns:
        Voltages loaded and at rest, per cell and for the pack.

    Raises:
        InputError: a figure that cannot be.

    Source: U(z) and R(z) of the cell; V = (U + sqrt(U^2 - 4 P R)) / 2.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> set_at = thresholds(Pack(find_cell("Bittern 50E"), 4, 2), 200.0)
        >>> float(set_at.land.pack_loaded_v) > 4 * 3.09
        True
    """
    problems = [
        Problem(f"{np.min(value):g} cannot be; {right} is needed.", key)
        for key, value, ok, right in (
            ("power_w", power_w, np.asarray(power_w) > 0, "above 0 W"),
            (
                "landing_v",
                landing_v,
                (np.asarray(landing_v) >= 2.5) & (np.asarray(landing_v) < 4.0),
                "2.5 to 4.0 V per cell",
            ),
            (
                "land_depth_of_discharge",
                land_depth_of_discharge,
                (np.asarray(land_depth_of_discharge) > 0)
                & (np.asarray(land_depth_of_discharge) <= 1),
                "above 0 up to 1",
            ),
            ("return_share", return_share, np.asarray(return_share) >= 0, "0 or more"),
            ("alarm_share", alarm_share, np.asarray(alarm_share) >= 0, "0 or more"),
            (
                "climb_w",
                1.0 if climb_w is None else climb_w,
                np.asarray(1.0 if climb_w is None else climb_w) > 0,
                "above 0 W",
            ),
        )
        if not np.all(ok)
    ]
    if problems:
        raise InputError(problems)
    model, series = pack.cell.model, np.asarray(pack.series, dtype=float)
    cells = np.asarray(pack.cells, dtype=float)
    extra = np.asarray(pack.joint_mohm_per_cell, dtype=float)
    cell_w = np.asarray(power_w, dtype=float) / cells
    capacity = np.asarray(pack.parallel) * model.capacity_ah * np.asarray(capacity_factor)

    def run_to(voltage: Number, depth: Number) -> FloatArray:
        return np.asarray(
            constant_power(
                model,
                cell_w,
                voltage,
                depth,
                extra_mohm=extra,
                resistance_factor=resistance_factor,
            ).end_depth_of_discharge
        )

    def volts(depth: FloatArray, power: Number) -> tuple[FloatArray, FloatArray]:
        u = np.interp(depth, model.depth_of_discharge, model.open_circuit_v)
        r = (
            np.interp(depth, model.depth_of_discharge, model.resistance_mohm) * resistance_factor
            + extra
        )
        return u, voltage_under_power(u, r, power)

    def at(name: str, depth: FloatArray) -> Threshold:
        rest, loaded = volts(depth, cell_w)
        return Threshold(
            name,
            np.asarray(depth)[()],
            loaded[()],
            np.asarray(rest)[()],
            (series * loaded)[()],
            (series * rest)[()],
            (capacity * depth)[()],
            RULES[name],
        )

    floor = max(HARD_FLOOR_V, pack.cell.cutoff_v)
    z_land = run_to(landing_v, land_depth_of_discharge)
    z_return = np.maximum(z_land - return_share, 0.0)
    z_alarm = np.maximum(z_return - alarm_share, 0.0)
    z_cut = run_to(floor, 1.0)
    alarm, home = at("alarm", z_alarm), at("return", z_return)
    land, cut = at("land", z_land), at("cut", np.maximum(z_cut, z_land))
    climb_v = np.full(np.shape(z_alarm), np.nan)
    if climb_w is not None:
        climb_v = volts(z_alarm, np.asarray(climb_w, dtype=float) / cells)[1]
    single = np.ndim(alarm.loaded_v) == 0 and np.ndim(climb_v) == 0
    notices: list[Problem] = []
    if single:
        notices = _notices(alarm, home, land, floor, float(climb_v), climb_w)
    return Thresholds(
        alarm, home, land, cut, (land.rest_v - land.loaded_v)[()], climb_v[()], tuple(notices)
    )


def _notices(
    alarm: Threshold,
    home: Threshold,
    land: Threshold,
    floor: float,
    climb_v: float,
    climb_w: Number | None,
) -> list[Problem]:
    """What a single design's thresholds call for, in words."""
    notices: list[Problem] = []
    if not land.depth_of_discharge > 0:
        notices.append(
            Problem(
                "even a full pack lies under the landing voltage at this power; it must not fly. "
                "More cells in parallel, or less power, is needed.",
                "land",
            )
        )
        return notices
    if land.loaded_v < HARD_FLOOR_V:
        notices.append(
            Problem(
                f"the cells sag to {float(land.loaded_v):.2f} V at landing, under "
                f"{HARD_FLOOR_V:g} V. It is unsafe: voltage falls away within seconds there.",
                "land",
            )
        )
    if alarm.depth_of_discharge == 0:
        notices.append(
            Problem("nothing is left between take-off and the alarm; the reserves are too large.")
        )
    if climb_w is not None:
        if np.isnan(climb_v):
            notices.append(
                Problem(
                    "at the alarm the pack cannot give the climb's power at any voltage. Do not "
                    "climb after it.",
                    "alarm",
                )
            )
        elif climb_v < floor:
            notices.append(
                Problem(
                    f"a climb at the alarm pulls the cells to {climb_v:.2f} V, under the hard "
                    f"floor of {floor:g} V. It is unsafe: do not climb after the alarm.",
                    "alarm",
                )
            )
        elif climb_v < land.loaded_v:
            notices.append(
                Problem(
                    f"a climb at the alarm pulls the cells to {climb_v:.2f} V, under the landing "
                    f"threshold of {float(land.loaded_v):.2f} V, while charge is left. Use the "
                    "resting (sag-compensated) voltage, or a delay of about 10 s.",
                    "land",
                )
            )
        elif climb_v < home.loaded_v:
            notices.append(
                Problem(
                    f"a climb at the alarm pulls the cells to {climb_v:.2f} V and trips the return "
                    f"threshold of {float(home.loaded_v):.2f} V. Use the resting voltage, or a "
                    "delay of about 10 s.",
                    "return",
                )
            )
    return notices


def misread_below_v(series: Number, most_per_cell_v: float = MOST_PER_CELL_V) -> FloatArray:
    """Voltage per cell under which a device that counts cells by itself finds one too few.

    It takes S as the least whole number with pack voltage / S not above `most_per_cell_v`, so it
    finds S - 1 below most_per_cell_v x (S - 1) / S.

    Args:
        series: cells in series, 1 or more.
        most_per_cell_v: its idea of a full cell.

    Source: arithmetic; 4.3 V is common practice, no source.

    Example:
        >>> misread_below_v(np.array([4, 6, 8, 12])).round(2)
        array([3.22, 3.58, 3.76, 3.94])
    """
    s = np.asarray(series, dtype=float)
    return np.asarray(most_per_cell_v * (s - 1.0) / s)[()]


def cells_counted(pack_v: Number, most_per_cell_v: float = MOST_PER_CELL_V) -> FloatArray:
    """Cells in series that such a device counts at this pack voltage.

    Example:
        >>> int(cells_counted(13.6)), int(cells_counted(12.8))
        (4, 3)
    """
    ratio = np.asarray(pack_v, dtype=float) / most_per_cell_v
    return np.asarray(np.maximum(np.ceil(ratio - 1e-9), 1.0))[()]


@dataclass(frozen=True)
class Settings:
    """What is set in a flight controller, radio or speed controller; None is not set.

    Attributes:
        cell_count: cells in series set by hand, None when the device counts by itself.
        warn_v, failsafe_v: pack voltages, loaded unless `resting`; 0 or None is off.
        resting: True when the device compares the resting (sag-compensated) voltage.
        capacity_ah: capacity set, None when not set.
    """

    cell_count: int | None = None
    warn_v: float | None = None
    failsafe_v: float | None = None
    resting: bool = False
    capacity_ah: float | None = None


def check_settings(pack: Pack, set_at: Thresholds, settings: Settings) -> tuple[Problem, ...]:
    """Compare what is set with what this pack needs; one sentence for each that is wrong.

    Args:
        pack: one pack, S and P plain whole numbers.
        set_at: its thresholds, of a single design.
        settings: what is in the device.

    Returns:
        Hard stops and cautions; empty when nothing is wrong.

    Source: 2.8 V floor and fixed cell count: common practice, no source.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> pack = Pack(find_cell("Bittern 50E"), 6, 2)
        >>> found = check_settings(pack, thresholds(pack, 300.0), Settings(6, 20.0, 10.5))
        >>> print(found[0].what[:66])
        10.5 V is 1.75 V per cell for 6 in series, under the hard floor of
    """
    series = int(pack.series)
    floor = max(HARD_FLOOR_V, pack.cell.cutoff_v)
    found: list[Problem] = []
    if settings.cell_count is None:
        found.append(
            Problem(
                f"the device counts cells by itself and finds {series - 1} instead of {series} "
                f"below {float(misread_below_v(series)):.2f} V per cell; set {series} by hand."
                if series > 1
                else "the device counts cells by itself; set 1 by hand.",
                "cell_count",
            )
        )
    elif settings.cell_count != series:
        found.append(
            Problem(
                f"{settings.cell_count} is set but the pack has {series} in series; every "
                "threshold per cell is wrong. Do not fly.",
                "cell_count",
            )
        )
    home, land = set_at.return_home, set_at.land
    wanted_warn = float(home.pack_rest_v if settings.resting else home.pack_loaded_v)
    wanted_fail = float(land.pack_rest_v if settings.resting else land.pack_loaded_v)
    kind = "at rest" if settings.resting else "loaded"
    for key, value, wanted in (
        ("failsafe_v", settings.failsafe_v, wanted_fail),
        ("warn_v", settings.warn_v, wanted_warn),
    ):
        if not value:
            found.append(
                Problem(
                    f"it is off: nothing happens when the pack is empty. Set {wanted:.1f} V "
                    f"({kind}). Do not fly without it.",
                    key,
                )
            )
        elif value / series < floor:
            found.append(
                Problem(
                    f"{value:g} V is {value / series:.2f} V per cell for {series} in series, under "
                    f"the hard floor of {floor:g} V. It is unsafe: the craft falls before it acts. "
                    f"Set {wanted:.1f} V ({kind}).",
                    key,
                )
            )
        elif value < wanted - 0.05 * series:
            found.append(
                Problem(
                    f"{value:g} V is below {wanted:.1f} V ({kind}), which this pack needs to keep "
                    "its reserve.",
                    key,
                )
            )
        elif value > wanted + 0.15 * series:
            found.append(
                Problem(
                    f"{value:g} V is well above {wanted:.1f} V ({kind}); it acts while charge is "
                    "left (a lithium-polymer habit).",
                    key,
                )
            )
    if settings.warn_v and settings.failsafe_v and settings.warn_v <= settings.failsafe_v:
        found.append(
            Problem(
                f"{settings.warn_v:g} V is not above failsafe_v, {settings.failsafe_v:g} V; the "
                "warning comes too late.",
                "warn_v",
            )
        )
    rated_ah = float(pack.capacity_ah)
    if settings.capacity_ah is not None and abs(settings.capacity_ah / rated_ah - 1.0) > 0.1:
        found.append(
            Problem(
                f"{1000 * settings.capacity_ah:.0f} mAh is set but the pack is rated "
                f"{1000 * rated_ah:.0f} mAh; the percentage shown is wrong.",
                "capacity_ah",
            )
        )
    return tuple(found)
