"""Propellers in their own stream: how thrust falls with airspeed, and how fast a drive carries a thrust up.

Both ask the same: at which speed of rotation does the motor come to its throttle or to its share of the
pack's power, the stream unloading the propeller meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from workbook.craft import rotor
from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.rotor import NEWTONS_PER_GRAM_FORCE
from workbook.craft.thrust_table import blades_from_name, diameter_from_name_m, pitch_from_name_m
from workbook.craft.voltage import Drive
from workbook.numbers import FloatArray, Number


@dataclass(frozen=True, eq=False)
class Propellers:
    """How propellers of one pitch and diameter behave in a stream: the usual one, or the slowest.

    Attributes:
        end_of_thrust: speed at which thrust ends, in v0, over sqrt(pitch / diameter).
        induced_factor: power of the induced flow over the ideal.
        rest_figure_of_merit: figure of merit at rest: what the induced flow leaves of the power is profile
            drag, which stays in a stream.
        most_pitch_ratio: pitch over diameter; a higher one counts as this.
    """

    end_of_thrust: float
    induced_factor: float
    rest_figure_of_merit: float
    most_pitch_ratio: float


USUAL = Propellers(3.25, 1.2, 0.58, 1.0)
"""What is expected, chosen low. Of 191 two-blade propellers of 7 to 19 in measured in a stream 163 fly faster
than so computed at equal speed of rotation, at any share of thrust from 0.25 to 0.8; the slowest is 27 % slower.
Climbing within 1.5 to 6 times the power of hover 148 are faster, and the slowest is 23 % slower. A name says no
more: two makers' 10x4.7 of one thrust at rest differ by 14 % in flight, and neither thrust nor power at rest
distinguishes them. Source: UIUC Propeller Database, volumes 1 to 3 (Brandt, Deters, Ananda, Dantsker, Selig),
the slowest runs of each in `tests/published/propellers_in_a_stream.csv`; Brandt and Selig, AIAA 2011-1255."""

SLOWEST = Propellers(2.6, 1.1, 0.45, 0.7)
"""What each of those 191 propellers does at least, so that a limit or a phase of a mission may count on it:
the slowest is 1.5 % faster at equal speed of rotation, 0.4 % at equal power. Source: as `USUAL`."""

LEAST_PITCH_RATIO = 0.25
"""Below this no stream is computed: the flattest propeller measured has a pitch of 0.27 of its diameter."""


@dataclass(frozen=True, eq=False)
class Stream:
    """A propeller as the stream sees it.

    Attributes:
        diameter_m: tip to tip.
        end_of_thrust: speed at which thrust ends, in v0; above 1.
        kind: the usual propeller of its size, or the slowest.
    """

    diameter_m: float
    end_of_thrust: float
    kind: Propellers = SLOWEST

    def speed(self, thrust_share: Number) -> FloatArray:
        """Speed of flight in v0 at which a share of the thrust at rest is left.

        Args:
            thrust_share: thrust over that at rest at the same speed of rotation, 0 to 1.

        Source: blade element with linear lift, and momentum theory: lambda = V + v falls from the
            end of thrust as (1 - share) grows, v lambda = share (in v0).

        Example:
            >>> stream_of("10x4.7", USUAL).speed(np.array([1.0, 0.5, 0.25, 0.0]))
            array([0.   , 1.305, 1.791, 2.228])
        """
        share = np.asarray(thrust_share, dtype=float)
        through = self._throughflow(share)
        return np.asarray(through - share / through)

    def thrust_share(self, speed: Number) -> FloatArray:
        """Share of the thrust at rest that is left at a speed in v0: the inverse of `speed`.

        Below 0 the propeller brakes.
        """
        slope = self.end_of_thrust - 1.0
        middle = 1.0 - np.asarray(speed, dtype=float) * slope
        through = (np.sqrt(middle**2 + 4.0 * slope * self.end_of_thrust) - middle) / (2.0 * slope)
        return np.asarray((self.end_of_thrust - through) / slope)

    def thrust_share_in_climb(self, speed: Number) -> FloatArray:
        """Share of the thrust at rest that is left in a climb, by the climb's speed.

        Args:
            speed: of the climb over the induced speed of hover at the same thrust, 0 or more.

        Example:
            >>> float(stream_of("10x4.7", USUAL).thrust_share_in_climb(1.305 / 0.5**0.5))
            0.5
        """
        shares = np.geomspace(1e-3, 1.0, 600)
        climbs = self.speed(shares) / np.sqrt(shares)  # falls as the share grows
        found = np.interp(speed, climbs[::-1], np.log(shares)[::-1], left=0.0, right=np.nan)
        return np.asarray(np.exp(found))

    def power_share(self, thrust_share: Number) -> FloatArray:
        """Shaft power over that at rest at the same speed of rotation.

        Source: energy: thrust x (speed + induced factor x induced speed) + profile drag.

        Example:
            >>> stream_of("10x4.7", USUAL).power_share(np.array([1.0, 0.5, 0.25]))
            array([1.   , 0.790, 0.5863])
        """
        share = np.clip(np.asarray(thrust_share, dtype=float), 0.0, 1.0)
        through = self._throughflow(share)
        induced, merit = self.kind.induced_factor, self.kind.rest_figure_of_merit
        useful = share * (through + (induced - 1.0) * share / through)
        return np.asarray(1.0 - induced * merit + merit * useful)

    def _throughflow(self, share: FloatArray) -> FloatArray:
        return np.asarray(self.end_of_thrust - share * (self.end_of_thrust - 1.0))


def stream_of(propeller: str, kind: Propellers = SLOWEST) -> Stream | None:
    """A propeller in a stream, by the size in its name; None where that lacks diameter or pitch.

    More blades than two give more thrust at rest and no more speed; two where the name is silent.

    Args:
        propeller: its name, as 11x5.5 (inches).
        kind: the slowest of its size, on which limits count, or the usual one, which is expected.

    Example:
        >>> stream_of("10x4.7").end_of_thrust, stream_of("10x4.7", USUAL).end_of_thrust
        (1.782, 2.228)
        >>> stream_of("three-blade 10x4.7").end_of_thrust
        1.455
        >>> stream_of("round") is None
        True
    """
    diameter, pitch = diameter_from_name_m(propeller), pitch_from_name_m(propeller)
    if diameter is None or pitch is None or pitch / diameter < LEAST_PITCH_RATIO:
        return None
    ratio = min(pitch / diameter, kind.most_pitch_ratio)
    end = kind.end_of_thrust * np.sqrt(ratio * 2.0 / blades_from_name(propeller))
    return Stream(diameter, float(max(end, 1.01)), kind)


THRUST_SHARES = np.geomspace(1.0, 0.02, 60)
"""Shares of the thrust at rest that are tried for a climb."""

SPIN_RATIOS = np.geomspace(0.03, 2.0, 60)
"""Thrusts at rest, over that at the throttle, that are tried for a thrust at an airspeed."""


def rest_speed_m_s(thrust_gf: Number, diameter_m: float, density_ratio: Number) -> FloatArray:
    """Induced speed of a thrust at rest."""
    thrust = np.asarray(thrust_gf, dtype=float) * NEWTONS_PER_GRAM_FORCE
    density = np.asarray(density_ratio, dtype=float) * STANDARD_DENSITY_KG_M3
    return rotor.hover(thrust, rotor.disc_area_m2(diameter_m), density).induced_m_s


def climb_rate_m_s(
    drive: Drive,
    stream: Stream,
    thrust_gf: Number,
    throttle_gf: Number,
    power_w: Number,
    density_ratio: Number = 1.0,
) -> FloatArray:
    """Fastest straight climb of one motor that carries a thrust; NaN where it cannot even hover.

    The body's own drag is left out.

    Args:
        drive: one motor with its propeller.
        stream: that propeller in a stream.
        thrust_gf: to be carried.
        throttle_gf: thrust that the throttle gives at rest, at the pack's voltage.
        power_w: electrical power that one motor may take.
        density_ratio: of the air over standard.

    Source: `workbook.craft.climb`; Drela (2007) for the motor where it is known.

    Example:
        >>> from workbook.craft.climb import USUAL, stream_of
        >>> from workbook.craft.thrust_table import ThrustTable
        >>> from workbook.craft.voltage import TableDrive
        >>> row = np.array([200.0, 500.0, 1000.0])
        >>> table = ThrustTable(
        ...     "m",
        ...     "10x4.5",
        ...     row,
        ...     row / 200,
        ...     row * 0 + 15,
        ...     0.07 * row * (row / 500) ** 0.5,
        ...     row / 10,
        ...     row * np.nan,
        ... )
        >>> drive, stream = TableDrive(table), stream_of("10x4.5", USUAL)
        >>> climb_rate_m_s(drive, stream, 500.0, 1000.0, np.array([50.0, 200.0])).round(2)
        array([ 5.35, 12.09])
    """
    thrust, throttle, power, ratio = (
        np.asarray(one, dtype=float)[..., None]
        for one in np.broadcast_arrays(thrust_gf, throttle_gf, power_w, density_ratio)
    )
    load = drive.in_stream(thrust / THRUST_SHARES, stream.power_share(THRUST_SHARES), ratio)
    share = _last_within(load.throttle_gf / throttle, load.power_w / power, THRUST_SHARES)
    speed = stream.speed(share) / np.sqrt(share)
    return np.asarray(rest_speed_m_s(thrust_gf, stream.diameter_m, density_ratio) * speed)


@dataclass(frozen=True, eq=False)
class StreamPoint:
    """One motor at an airspeed: figures of one shape.

    Attributes:
        thrust_gf: below 0 where its propeller brakes.
        taken_w: gives the electrical power.
    """

    thrust_gf: FloatArray
    taken_w: Callable[[], FloatArray]

    @cached_property
    def power_w(self) -> FloatArray:
        """Electrical power."""
        return self.taken_w()

    def row(self, number: int) -> StreamPoint:
        """The same of one state of the pack, where figures are of shape (states, 1)."""
        return StreamPoint(
            np.asarray(self.thrust_gf[number, 0]), lambda: np.asarray(self.power_w[number, 0])
        )


def at_airspeed(
    drive: Drive,
    stream: Stream,
    airspeed_m_s: Number,
    throttle_gf: Number,
    power_w: Number = np.inf,
    density_ratio: Number = 1.0,
) -> StreamPoint:
    """The most that one motor gives at an airspeed; NaN without power.

    Args:
        drive, stream, throttle_gf, power_w, density_ratio: as in `climb_rate_m_s`.
        airspeed_m_s: along the propeller's axis.

    Source: as `climb_rate_m_s`.
    """
    airspeed, throttle, power, ratio = (
        np.asarray(one, dtype=float)[..., None]
        for one in np.broadcast_arrays(airspeed_m_s, throttle_gf, power_w, density_ratio)
    )

    def share_of(rest_gf: FloatArray, speed: Number, air: Number) -> FloatArray:
        return stream.thrust_share(speed / rest_speed_m_s(rest_gf, stream.diameter_m, air))

    rest = throttle * SPIN_RATIOS
    load = drive.in_stream(rest, stream.power_share(share_of(rest, airspeed, ratio)), ratio)
    spin = _last_within(load.throttle_gf / throttle, load.power_w / power, SPIN_RATIOS)
    rest_gf = np.asarray(np.asarray(throttle_gf, dtype=float) * spin)
    share = share_of(rest_gf, airspeed_m_s, density_ratio)
    return StreamPoint(
        np.asarray(rest_gf * share),
        lambda: drive.in_stream(rest_gf, stream.power_share(share), density_ratio).power_w,
    )


def _last_within(throttle_use: FloatArray, power_use: FloatArray, tried: FloatArray) -> FloatArray:
    """Of what was tried, along the last axis, the last with neither use above 1; NaN where none is.

    Straight in logarithms between two tried; the last tried where all are within.
    """
    use = np.log(np.maximum(np.maximum(throttle_use, power_use), 1e-12))
    over = ~(use <= 1e-12)  # NaN counts as over
    first = np.where(over.any(axis=-1), over.argmax(axis=-1), len(tried))
    high = np.clip(first, 1, len(tried) - 1)
    low_use, high_use = (
        np.take_along_axis(use, k[..., None], axis=-1)[..., 0] for k in (high - 1, high)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.clip(-low_use / (high_use - low_use), 0.0, 1.0)
    part = np.where(np.isnan(high_use), 0.0, part)
    log_tried = np.log(tried)
    found = np.exp(log_tried[high - 1] + part * (log_tried[high] - log_tried[high - 1]))
    found = np.where(first == len(tried), tried[-1], found)
    return np.asarray(np.where(first == 0, np.nan, found))
