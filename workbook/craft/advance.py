"""A propeller in a stream along its axis: what is left of its thrust and power as the air comes faster.

A propeller of fixed pitch gives less thrust the faster it flies, and none near its pitch speed. Speeds
are counted in v0, the induced speed of its thrust at rest at the same speed of rotation:
v0 = sqrt(T0 / (2 rho A)). Thrust falls in a straight line with the air's speed through the disc (blade
element with linear lift), and that air is moved by the law of momentum; so one number says it all,
the speed at which thrust ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft.thrust_table import (
    blades_from_name,
    diameter_from_name_m,
    pitch_from_name_m,
)
from workbook.numbers import FloatArray, Number

END_OF_THRUST = 3.25
"""Speed at which thrust ends, in v0, over sqrt(pitch / diameter). Chosen low, against 150 two-blade
propellers of 7 to 19 in and of 0.2 to 0.8 of pitch over diameter measured in a stream: at a share of thrust of
0.25 to 0.8 nine of ten fly faster than told, the slow-fly 10x4.7 by 8 %, the median by 13 to 28 %; one in
twenty flies 3 % slower, the worst 15 %. Source: UIUC Propeller Database, volumes 1 to 3 (Brandt, Deters,
Ananda, Dantsker, Selig); Brandt and Selig, AIAA 2011-1255."""

INDUCED_FACTOR = 1.2
REST_FIGURE_OF_MERIT = 0.58
"""Power of the induced flow over the ideal, and figure of merit at rest: what is left is profile drag,
which stays. The same propellers, within 1.5 to 6 times the power of hover: nine of ten climb faster than
told, one in twenty 1 % slower, the worst 21 %."""

LEAST_PITCH_RATIO, MOST_PITCH_RATIO = 0.15, 1.0
"""Pitch over diameter that the above was held against; a higher one counts as the highest."""


@dataclass(frozen=True)
class Stream:
    """A propeller as the stream sees it.

    Attributes:
        diameter_m: tip to tip.
        end_of_thrust: speed at which thrust ends, in v0; above 1.
    """

    diameter_m: float
    end_of_thrust: float

    def speed(self, thrust_share: Number) -> FloatArray:
        """Speed of flight in v0 at which a share of the thrust at rest is left.

        Args:
            thrust_share: thrust over that at rest at the same speed of rotation, 0 to 1.

        Source: blade element with linear lift, and momentum theory: lambda = V + v falls from the
            end of thrust as (1 - share) grows, v lambda = share (in v0).

        Example:
            >>> stream_of("10x4.7").speed(np.array([1.0, 0.5, 0.25, 0.0]))
            array([0.   , 1.305, 1.791, 2.228])
        """
        share = np.asarray(thrust_share, dtype=float)
        through = self._through(share)
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
            >>> float(stream_of("10x4.7").thrust_share_in_climb(1.305 / 0.5**0.5))
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
            >>> stream_of("10x4.7").power_share(np.array([1.0, 0.5, 0.25]))
            array([1.   , 0.790, 0.5863])
        """
        share = np.clip(np.asarray(thrust_share, dtype=float), 0.0, 1.0)
        through = self._through(share)
        useful = share * (through + (INDUCED_FACTOR - 1.0) * share / through)
        profile = 1.0 - INDUCED_FACTOR * REST_FIGURE_OF_MERIT
        return np.asarray(profile + REST_FIGURE_OF_MERIT * useful)

    def _through(self, share: FloatArray) -> FloatArray:
        return np.asarray(self.end_of_thrust - share * (self.end_of_thrust - 1.0))


def stream_of(propeller: str) -> Stream | None:
    """A propeller in a stream, by the size in its name; None where it does not tell diameter and pitch.

    More blades than two give more thrust at rest and no more speed; two where the name is silent.

    Example:
        >>> stream_of("10x4.7").end_of_thrust, stream_of("three-blade 10x4.7").end_of_thrust
        (2.228, 1.819)
        >>> stream_of("round") is None
        True
    """
    diameter, pitch = diameter_from_name_m(propeller), pitch_from_name_m(propeller)
    if diameter is None or pitch is None or pitch / diameter < LEAST_PITCH_RATIO:
        return None
    ratio = min(pitch / diameter, MOST_PITCH_RATIO)
    end = END_OF_THRUST * np.sqrt(ratio * 2.0 / blades_from_name(propeller))
    return Stream(diameter, float(max(end, 1.01)))


def pitch_speed_m_s(propeller: str, speed_rpm: Number) -> FloatArray:
    """Pitch times speed of rotation: about the airspeed above which little thrust is left.

    Args:
        propeller: its name, as 11x5.5 (inches).
        speed_rpm: of the propeller.

    Returns:
        NaN where the name does not tell the pitch.

    Source: geometry.

    Example:
        >>> float(pitch_speed_m_s("11x5.5", 9000.0))
        20.955
    """
    pitch = pitch_from_name_m(propeller)
    metres = np.nan if pitch is None else pitch
    return np.asarray(metres * np.asarray(speed_rpm, dtype=float) / 60.0)
