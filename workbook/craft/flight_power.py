"""What a craft draws from its pack in any steady flight, and the airspeeds at which that is least.

A `FlightPower` says what a craft draws at a mass, an airspeed and a rate of climb; a multirotor and
a fixed wing both answer it, so one mission flies both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from workbook.craft import rotor, wing
from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.climb import rest_speed_m_s, stream_of
from workbook.craft.craft_types import Craft, FixedWing, Multirotor
from workbook.craft.voltage import drive_for
from workbook.errors import InputError
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number

VORTEX_CAUTION = (
    "sinks into its own wake (vortex ring): thrust can vanish without warning; descend slower than "
    "half the induced speed, or come down with forward speed"
)


@dataclass(frozen=True, eq=False)
class _Power:
    """Power on the ground and at take-off; the rest is the kind of craft's.

    Attributes:
        craft: which.
        density: of the air, kg/m3.
        take_off_w: full power, electronics included; NaN where nothing is launched.
    """

    craft: Craft
    density: Number = STANDARD_DENSITY_KG_M3
    take_off_w: Number = np.nan

    def rest_w(self, mass_g: Number) -> FloatArray:
        """The electronics alone."""
        return np.asarray(self.craft.avionics_w + 0.0 * np.asarray(mass_g))

    def launch_w(self, mass_g: Number) -> FloatArray:
        """At take-off or launch, full power."""
        return np.asarray(self.take_off_w + 0.0 * np.asarray(mass_g))


@dataclass(frozen=True, eq=False)
class MultirotorPower(_Power):
    """Power of a multirotor in any steady flight, scaled so that hover is the thrust table's.

    Where momentum theory asks for more than hover, all of the table's power grows by that share;
    where it asks for less, only the ideal part is saved and the losses stay. Both err on the side
    of more power. A straight climb costs what the slowest propeller of that size takes in its own stream, if
    that is more (`workbook.craft.climb`). Figures of merit over 1 are refused.

    Attributes:
        craft: the multirotor.
        density: of the air, kg/m3.
        take_off_w: full power, electronics included.

    Source: Leishman, Principles of Helicopter Aerodynamics, chapter 2; Glauert (1926).
    """

    craft: Multirotor

    def hover_w(self, mass_g: Number) -> FloatArray:
        """In hover, electronics included; NaN outside the thrust table."""
        return np.asarray(self.craft.hover(mass_g, self._density_ratio).power_w)

    def flight_w(
        self, mass_g: Number, airspeed_m_s: Number = 0.0, climb_m_s: Number = 0.0
    ) -> FloatArray:
        """In hover, forward flight, climb or descent; NaN in the vortex ring.

        With both airspeed and climb the two changes over hover are added, and the vortex ring is
        taken as left behind once the airspeed is over twice the induced speed of hover. Hover needs
        the thrust table alone; all else the propeller's diameter too, and a climb its pitch.

        Raises:
            InputError: the propeller's name does not state its diameter, or its pitch in a climb.
        """
        if not (np.any(airspeed_m_s) or np.any(climb_m_s)):
            return self.hover_w(mass_g)
        weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
        area = rotor.disc_area_m2(self._diameter_m, self.craft.rotors)
        still = rotor.hover(weight, area, self.density)
        ahead = rotor.forward(weight, area, airspeed_m_s, self.craft.drag_area_m2, self.density)
        up = rotor.climb(weight, area, climb_m_s, self.density).power_ratio
        climb, speed = np.asarray(climb_m_s, dtype=float), np.asarray(airspeed_m_s, dtype=float)
        if (climb > 0).any():
            up = np.where(climb > 0, np.maximum(up, self._in_stream(mass_g, climb)), up)
        # with forward speed the wake is left behind and climbing costs weight x rate
        swept = 1 + climb / still.induced_m_s
        up = np.where(speed > 2 * still.induced_m_s, swept, np.maximum(up, 0.0))
        ratio = np.maximum(ahead.disc.power_ratio + up - 1, 0.0)
        motors = self.craft.hover(mass_g, self._density_ratio).motors_w
        saved = np.minimum(still.ideal_power_w, motors) * (1 - ratio)
        return np.asarray(
            np.where(ratio >= 1, motors * ratio, motors - saved) + self.craft.avionics_w
        )

    def _in_stream(self, mass_g: Number, climb_m_s: FloatArray) -> FloatArray:
        """Power of a straight climb over that of hover, as the propeller's stream has it."""
        table, ratio = self.craft.table, self._density_ratio
        stream = stream_of(table.propeller)
        if stream is None:
            raise InputError(
                "climb needs the propeller's diameter and pitch; name the propeller as diameter x "
                "pitch in inches (15x5).",
                table.source,
            )
        bench_gf = np.asarray(mass_g) / self.craft.rotors * self.craft.flight_factor ** (2.0 / 3.0)
        still = rest_speed_m_s(bench_gf, stream.diameter_m, ratio)
        share = stream.thrust_share_in_climb(np.maximum(climb_m_s, 0.0) / still)
        bench_gf, share = np.broadcast_arrays(bench_gf, share)
        rest_gf = np.stack([bench_gf / share, bench_gf])
        power_share = np.stack([stream.power_share(share), np.ones_like(share)])
        up_w, hover_w = drive_for(table).in_stream(rest_gf, power_share, ratio).power_w
        return np.asarray(up_w / hover_w)

    def refusal(self, climb_m_s: Number) -> str:
        """Why a flight with that rate of climb has no power, the end of "the craft ...": out of the thrust table's
        range, or sinking into its own wake."""
        sinks = (np.asarray(climb_m_s) < 0).any()
        return VORTEX_CAUTION if sinks else "asks for a thrust outside the thrust table"

    def caution(self, climb_m_s: Number) -> str:
        """What can hurt at that rate of climb, empty for nothing: any descent."""
        sinks = (np.asarray(climb_m_s) < 0).any()
        return f"descend gently; a multirotor {VORTEX_CAUTION}" if sinks else ""

    @property
    def _density_ratio(self) -> FloatArray:
        return np.asarray(self.density) / STANDARD_DENSITY_KG_M3

    @property
    def _diameter_m(self) -> float:
        table = self.craft.table
        diameter = table.propeller_diameter_m
        if diameter is None:
            raise InputError(
                "climb and forward flight need the propeller's diameter; name the propeller as "
                "diameter x pitch in inches (15x5).",
                table.source,
            )
        rotor.checked_figure_of_merit(table, diameter)
        return diameter


@dataclass(frozen=True, eq=False)
class WingPower(_Power):
    """Power of a fixed wing in any steady flight: (drag x speed + weight x climb) / efficiency.

    A descent that asks for less than nothing costs the electronics only.

    Attributes:
        craft: the fixed wing.
        density: of the air, kg/m3.
        take_off_w: full power, electronics included.
    """

    craft: FixedWing

    def flight_w(
        self, mass_g: Number, airspeed_m_s: Number = 0.0, climb_m_s: Number = 0.0
    ) -> FloatArray:
        """In level flight, climb or descent; NaN below the stall."""
        level = wing.level_flight(self.craft.polar, mass_g, airspeed_m_s, self.density)
        weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
        thrust_power = np.maximum(level.drag_power_w + weight * np.asarray(climb_m_s), 0.0)
        return np.asarray(thrust_power / self.craft.drive_efficiency + self.craft.avionics_w)

    def refusal(self, climb_m_s: Number) -> str:
        """Too slow for the wing."""
        return "is below the stall speed"

    def caution(self, climb_m_s: Number) -> str:
        """None."""
        return ""


FlightPower: TypeAlias = MultirotorPower | WingPower
"""What a craft draws from its pack, electronics included, in watts; NaN where it cannot fly so."""


@dataclass(frozen=True, eq=False)
class BestSpeeds:
    """The airspeeds of least power and of least energy per distance over ground.

    Attributes:
        endurance_m_s, endurance_w: longest time in the air.
        range_m_s, range_w: furthest over ground with the wind given.
        energy_wh_km: energy for one kilometre over ground at the range speed.
    """

    endurance_m_s: float
    endurance_w: float
    range_m_s: float
    range_w: float
    energy_wh_km: float


def best_speeds(
    flight: FlightPower, mass_g: float, headwind_m_s: float = 0.0, fastest_m_s: float = 30.0
) -> BestSpeeds:
    """Best-endurance and best-range airspeeds, electronics included, with the wind.

    Into the wind fly faster; with a tailwind slower. Found on a grid of 1 cm/s up to `fastest_m_s`, and for a
    craft that is faster up to eight times that.

    Raises:
        InputError: no speed up to eight times `fastest_m_s` makes headway and can be flown.

    Example:
        >>> from workbook.craft.craft_types import FixedWing
        >>> heron = FixedWing(
        ...     name="heron",
        ...     motors=1,
        ...     mass_without_pack_g=1600.0,
        ...     payload_g=250.0,
        ...     avionics_w=8.0,
        ...     polar=wing.Polar(0.4, 2.0, 0.03, 0.8, 1.2),
        ... )
        >>> calm, windy = (best_speeds(WingPower(heron), 2500.0, wind) for wind in (0.0, 6.0))
        >>> calm.endurance_m_s, calm.range_m_s, windy.range_m_s
        (9.14, 11.27, 14.05)
    """
    for to_m_s in (fastest_m_s, 2 * fastest_m_s, 4 * fastest_m_s, 8 * fastest_m_s):
        speeds = np.arange(0, round(to_m_s * 100) + 1) / 100
        power = flight.flight_w(mass_g, speeds)
        ground = speeds - headwind_m_s
        usable = np.isfinite(power) & (ground > 0)
        per_metre = np.where(usable, power / np.where(usable, ground, 1.0), np.inf)
        furthest = int(np.argmin(per_metre))
        if usable.any() and furthest < len(speeds) - 1:
            break
    if not usable.any():
        raise InputError(
            f"no airspeed up to {to_m_s:g} m/s can be flown against {headwind_m_s:g} m/s of wind."
        )
    least = int(np.nanargmin(power))
    return BestSpeeds(
        float(speeds[least]),
        float(power[least]),
        float(speeds[furthest]),
        float(power[furthest]),
        float(per_metre[furthest] / 3.6),
    )
