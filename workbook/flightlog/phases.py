"""The flight in a log: on the ground, take-off, hover or cruise, climb, descent, landing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from workbook.errors import InputError
from workbook.flightlog.faults import clock, runs, stretches
from workbook.flightlog.log import FlightLog
from workbook.numbers import FloatArray

Kind: TypeAlias = Literal["ground", "take-off", "hover", "cruise", "climb", "descent", "landing"]

GRID_S = 0.5
"""Phases are looked for on a grid of this, or of the log's own step where that is longer."""
SMOOTH_S = 3.0
AIRBORNE_SHARE = 0.4
"""Of the usual power in the air: above it the craft flies. Common practice, no source."""
SHORTEST_FLIGHT_S = 15.0
PUNCH_S = 5.0
"""Power that is held for so long is power of the flight."""
LONGEST_LULL_S = 15.0
"""A fast descent may take so long at little power."""
TAKE_OFF_S, LANDING_S = 6.0, 6.0
"""First and last part of the time in the air, whose power is not that of steady flight. Common practice, no source."""
CLIMB_M_S, CLIMB_POWER = 0.6, 1.2
"""Rate of height beyond which it climbs or descends; without a height, share of the usual power. Common practice,
no source."""
CRUISE_M_S = 3.0
SHORTEST_PHASE_S = 4.0


@dataclass(frozen=True)
class FlightPhase:
    """One part of a log.

    Attributes:
        kind: what the craft does.
        start_s, end_s: on the log's clock.
    """

    kind: Kind
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """How long it takes."""
        return self.end_s - self.start_s

    @property
    def text(self) -> str:
        """In words."""
        return f"{self.kind} from {clock(self.start_s)} to {clock(self.end_s)}"


@dataclass(frozen=True)
class Phases:
    """A log from end to end in phases; each begins where the one before ends.

    Attributes:
        parts: in order.
    """

    parts: tuple[FlightPhase, ...]

    @property
    def flight(self) -> tuple[float, float]:
        """Beginning and end of the time in the air."""
        air = [part for part in self.parts if part.kind != "ground"]
        return air[0].start_s, air[-1].end_s

    def of(self, *kinds: str) -> Iterator[FlightPhase]:
        """The phases of one kind or several."""
        return (part for part in self.parts if part.kind in kinds)

    def rows(self, time_s: FloatArray, *kinds: str) -> NDArray[np.bool_]:
        """Which rows of a log lie in phases of these kinds."""
        inside = np.zeros(len(time_s), dtype=bool)
        for part in self.of(*kinds):
            inside |= (time_s >= part.start_s) & (time_s < part.end_s)
        return inside

    def moved(self, boundary: int, to_s: float) -> Phases:
        """The phases with one boundary moved by hand.

        Args:
            boundary: its number, 0 the first.
            to_s: where to, between the boundaries beside it.

        Raises:
            InputError: there is no such boundary, or no room there.

        Example:
            >>> two = Phases((FlightPhase("ground", 0.0, 10.0), FlightPhase("hover", 10.0, 90.0)))
            >>> two.moved(0, 12.5).parts[1].start_s
            12.5
        """
        if not 0 <= boundary < len(self.parts) - 1:
            raise InputError(f"boundary {boundary} is not there; 0 to {len(self.parts) - 2} are.")
        before, after = self.parts[boundary], self.parts[boundary + 1]
        if not before.start_s < to_s < after.end_s:
            raise InputError(
                f"{to_s:g} s lies outside; between {before.start_s:g} and {after.end_s:g} s there is room."
            )
        pair = (
            FlightPhase(before.kind, before.start_s, to_s),
            FlightPhase(after.kind, to_s, after.end_s),
        )
        return Phases((*self.parts[:boundary], *pair, *self.parts[boundary + 2 :]))

    def text(self) -> str:
        """A line a phase."""
        return "\n".join(part.text for part in self.parts)


def find_phases(log: FlightLog) -> Phases:
    """Find the flight in a log.

    The longest time at flying power is the flight; within it the height, where logged, distinguishes climb and
    descent, the power where not; the speed, where logged, distinguishes cruise from hover.

    Args:
        log: as read.

    Raises:
        InputError: no flight of `SHORTEST_FLIGHT_S` or more is in it.

    Source: thresholds on smoothed power, height and speed; common practice, no source.

    Example:
        >>> time = np.arange(0.0, 200.0, 0.5)
        >>> amps = np.where((time > 20) & (time < 180), 20.0, 0.5)
        >>> found = find_phases(FlightLog("x", time, 24.0 - 0.05 * amps, amps))
        >>> [part.kind for part in found.parts]
        ['ground', 'take-off', 'hover', 'landing', 'ground']
    """
    time_s, power = _on_grid(log)
    step_s = float(time_s[1] - time_s[0])
    smooth = _smoothed(power, SMOOTH_S / step_s)
    first, last, usual = _in_the_air(smooth, step_s, log.name)
    kinds = np.full(len(time_s), "ground", dtype="<U8")
    kinds[first:last] = _kinds(log, time_s, smooth, usual, step_s)[first:last]
    _merge_short(kinds, first, last, max(1, round(SHORTEST_PHASE_S / step_s)))
    take_off = min(round(TAKE_OFF_S / step_s), (last - first) // 4)
    landing = min(round(LANDING_S / step_s), (last - first) // 4)
    kinds[first : first + take_off] = "take-off"
    kinds[last - landing : last] = "landing"
    found = stretches(kinds)
    edges_s = [*(float(time_s[start]) for start, _ in found), float(log.time_s[-1])]
    edges_s[0] = float(log.time_s[0])
    parts = (
        FlightPhase(str(kinds[start]), *ends_s)  # type: ignore[arg-type]
        for (start, _), ends_s in zip(found, pairwise(edges_s), strict=True)
        if ends_s[1] > ends_s[0]
    )
    return Phases(tuple(parts))


def _on_grid(log: FlightLog) -> tuple[FloatArray, FloatArray]:
    """Power at even times: the mean of the rows in each step, read across where there are none."""
    step_s = max(GRID_S, log.step_s, log.duration_s / 100_000)
    known = np.isfinite(log.power_w)
    known_s, power = log.time_s[known], log.power_w[known]
    count = max(3, int(log.duration_s / step_s) + 1)
    time_s = log.time_s[0] + step_s * np.arange(count)
    place = np.minimum((known_s - log.time_s[0]) // step_s, count - 1).astype(int)
    rows = np.bincount(place, minlength=count)
    total = np.bincount(place, weights=power, minlength=count)
    filled = rows > 0
    return time_s, np.interp(time_s, time_s[filled], total[filled] / rows[filled])


def _smoothed(values: FloatArray, rows: float) -> FloatArray:
    """A running mean over about so many rows, an odd number; the ends lean on themselves."""
    half = max(0, round(rows / 2.0 - 0.5))
    count = 2 * half + 1
    return np.convolve(np.pad(values, half, mode="edge"), np.full(count, 1.0 / count), "valid")


def _in_the_air(smooth: FloatArray, step_s: float, name: str) -> tuple[int, int, float]:
    """First place in the air, the place after the last, and the usual power there."""
    longest = min(len(smooth), max(1, round(PUNCH_S / step_s)))
    high = float(np.partition(smooth, -longest)[-longest])
    usual = float(np.median(smooth[smooth > 0.3 * high])) if high > 0 else 0.0
    flying = smooth > AIRBORNE_SHARE * usual
    low = float(np.percentile(smooth, 2))
    if usual <= 0 or (low > 0.8 * usual and smooth.min() > AIRBORNE_SHARE * usual):
        in_the_air = [(0, len(smooth))] if usual > 0 else []  # logged in the air only
    else:
        in_the_air = runs(flying)
    joined: list[tuple[int, int]] = []
    for start, end in in_the_air:
        if joined and (start - joined[-1][1]) * step_s <= LONGEST_LULL_S:
            joined[-1] = joined[-1][0], end
        else:
            joined.append((start, end))
    first, last = max(joined, key=lambda pair: pair[1] - pair[0], default=(0, 0))
    if (last - first) * step_s < SHORTEST_FLIGHT_S:
        message = (
            f"no flight of {SHORTEST_FLIGHT_S:g} s or more is in it: the power never stays up. Is the current that of "
            "the whole pack?"
        )
        raise InputError(message, name)
    return first, last, usual


def _kinds(
    log: FlightLog, time_s: FloatArray, smooth: FloatArray, usual: float, step_s: float
) -> NDArray[np.str_]:
    """What the craft does in the air at each place of the grid."""
    steady = np.full(len(time_s), "hover", dtype="<U8")
    speed = _series_on(log, log.speed_m_s, time_s)
    if speed is not None:
        steady[_smoothed(speed, SMOOTH_S / step_s) > CRUISE_M_S] = "cruise"
    height = _series_on(log, log.height_m, time_s)
    if height is not None:
        rate = np.gradient(_smoothed(height, SMOOTH_S / step_s), step_s)
        rate = _smoothed(rate, SMOOTH_S / step_s)
        steady[rate > CLIMB_M_S] = "climb"
        steady[rate < -CLIMB_M_S] = "descent"
        return steady
    steady[smooth > CLIMB_POWER * usual] = "climb"
    steady[smooth < usual / CLIMB_POWER] = "descent"
    return steady


def _series_on(log: FlightLog, values: FloatArray | None, time_s: FloatArray) -> FloatArray | None:
    known = np.zeros(0, dtype=bool) if values is None else np.isfinite(values)
    if values is None or np.count_nonzero(known) < 3:
        return None
    return np.interp(time_s, log.time_s[known], values[known])


def _merge_short(kinds: NDArray[np.str_], first: int, last: int, least: int) -> None:
    """Phases in the air that are too short join the one before."""
    air = kinds[first:last]
    for start, end in stretches(air):
        if start > 0 and end - start < least:
            air[start:end] = air[start - 1]
