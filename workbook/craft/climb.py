"""How fast a drive's propeller carries a thrust up, and what thrust it gives at an airspeed.

Both ask the same: at which speed of rotation does the motor come to its throttle or to its share of the
pack's power, the stream unloading the propeller meanwhile.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft import rotor
from workbook.craft.advance import Stream
from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.rotor import NEWTONS_PER_GRAM_FORCE
from workbook.craft.voltage import Drive
from workbook.numbers import FloatArray, Number

SHARES = np.geomspace(1.0, 0.02, 60)
"""Shares of the thrust at rest that are tried for a climb."""

SPINS = np.geomspace(0.03, 2.0, 60)
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

    Source: `workbook.craft.advance`; Drela (2007) for the motor where it is known.

    Example:
        >>> from workbook.craft.advance import stream_of
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
        >>> drive, stream = TableDrive(table), stream_of("10x4.5")
        >>> climb_rate_m_s(drive, stream, 500.0, 1000.0, np.array([50.0, 200.0])).round(2)
        array([ 5.35, 12.09])
    """
    thrust, throttle, power, ratio = (
        np.asarray(one, dtype=float)[..., None]
        for one in np.broadcast_arrays(thrust_gf, throttle_gf, power_w, density_ratio)
    )
    load = drive.in_stream(thrust / SHARES, stream.power_share(SHARES), ratio)
    share = _last_within(load.throttle_gf / throttle, load.power_w / power, SHARES)
    speed = stream.speed(share) / np.sqrt(share)
    return np.asarray(rest_speed_m_s(thrust_gf, stream.diameter_m, density_ratio) * speed)


@dataclass(frozen=True)
class StreamPoint:
    """One motor at an airspeed: figures of one shape.

    Attributes:
        thrust_gf: below 0 where its propeller brakes.
        power_w: electrical power.
    """

    thrust_gf: FloatArray
    power_w: FloatArray


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

    rest = throttle * SPINS
    load = drive.in_stream(rest, stream.power_share(share_of(rest, airspeed, ratio)), ratio)
    spin = _last_within(load.throttle_gf / throttle, load.power_w / power, SPINS)
    rest_gf = np.asarray(np.asarray(throttle_gf, dtype=float) * spin)
    share = share_of(rest_gf, airspeed_m_s, density_ratio)
    taken = drive.in_stream(rest_gf, stream.power_share(share), density_ratio).power_w
    return StreamPoint(np.asarray(rest_gf * share), taken)


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
