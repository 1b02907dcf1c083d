"""A mission: phases one after the other, each with its time, power and mass.

A `FlightPower` says what a craft draws at a mass, an airspeed and a rate of climb; a multirotor and
a fixed wing both answer it, so one mission flies both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from workbook.craft import rotor, wing
from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.fixed_wing import FixedWing
from workbook.craft.motor import diameter_from_name_m
from workbook.craft.multirotor import Multirotor
from workbook.craft.thrust_table import power_at_thrust
from workbook.craft.voltage import POWER_DENSITY_EXPONENT, drive_for
from workbook.errors import InputError, Problem
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number

VORTEX_CAUTION = (
    "sinks into its own wake (vortex ring): thrust can vanish without warning; descend slower than "
    "half the induced speed, or come down with forward speed"
)


class FlightPower(Protocol):
    """What a craft draws from its pack, electronics included, in watts."""

    def rest_w(self, mass_g: Number) -> FloatArray:
        """Standing by on the ground, propellers still."""

    def launch_w(self, mass_g: Number) -> FloatArray:
        """At take-off or launch, full power."""

    def flight_w(
        self, mass_g: Number, airspeed_m_s: Number = 0.0, climb_m_s: Number = 0.0
    ) -> FloatArray:
        """In steady flight; NaN where it cannot fly so."""


@dataclass(frozen=True)
class MultirotorPower:
    """Power of a multirotor in any steady flight, scaled so that hover is the thrust table's.

    Where momentum theory asks for more than hover, all of the table's power grows by that share;
    where it asks for less, only the ideal part is saved and the losses stay. Both err on the side
    of more power. Figures of merit over 1 are refused.

    Attributes:
        craft: the multirotor.
        drag_area_m2: drag coefficient times frontal area of the body; 0.01 to 0.06 is common
            practice, no source.
        density: of the air, kg/m3.
        diameter_m: of the propellers; read from the propeller's name (15x5) if not given.
        supply_v: pack voltage for full power; the table's own if not given.

    Source: Leishman, Principles of Helicopter Aerodynamics, chapter 2; Glauert (1926).
    """

    craft: Multirotor
    drag_area_m2: Number = 0.03
    density: Number = STANDARD_DENSITY_KG_M3
    diameter_m: float | None = None
    supply_v: Number | None = None

    def rest_w(self, mass_g: Number) -> FloatArray:
        """The electronics alone."""
        return np.asarray(self.craft.avionics_w + 0.0 * np.asarray(mass_g))

    def launch_w(self, mass_g: Number) -> FloatArray:
        """All motors at full throttle."""
        table = self.craft.table
        supply = table.voltage_v[-1] if self.supply_v is None else self.supply_v
        full = drive_for(table).full_throttle(supply, self._density_ratio)
        return np.asarray(full.power_w * self.craft.rotors + self.rest_w(mass_g))

    def hover_w(self, mass_g: Number) -> FloatArray:
        """In hover, electronics included; NaN outside the thrust table."""
        return np.asarray(self._motors_w(mass_g) + self.craft.avionics_w)

    def flight_w(
        self, mass_g: Number, airspeed_m_s: Number = 0.0, climb_m_s: Number = 0.0
    ) -> FloatArray:
        """In hover, forward flight, climb or descent; NaN in the vortex ring.

        With both airspeed and climb the two changes over hover are added, and the vortex ring is
        taken as left behind once the airspeed is over twice the induced speed of hover.
        """
        weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
        area = rotor.disc_area_m2(self._diameter_m, self.craft.rotors)
        still = rotor.hover(weight, area, self.density)
        ahead = rotor.forward(weight, area, airspeed_m_s, self.drag_area_m2, self.density)
        up = rotor.climb(weight, area, climb_m_s, self.density).power_ratio
        climb, speed = np.asarray(climb_m_s, dtype=float), np.asarray(airspeed_m_s, dtype=float)
        # with forward speed the wake is left behind and climbing costs weight x rate
        swept = 1 + climb / still.induced_m_s
        up = np.where(speed > 2 * still.induced_m_s, swept, np.maximum(up, 0.0))
        ratio = np.maximum(ahead.disc.power_ratio + up - 1, 0.0)
        motors = self._motors_w(mass_g)
        saved = np.minimum(still.ideal_power_w, motors) * (1 - ratio)
        return np.asarray(
            np.where(ratio >= 1, motors * ratio, motors - saved) + self.craft.avionics_w
        )

    def figure_of_merit(self, mass_g: Number) -> FloatArray:
        """Ideal hover power over the table's electrical power at this mass."""
        thrust = np.asarray(mass_g, dtype=float) / self.craft.rotors
        power = drive_for(self.craft.table).power_at_thrust(thrust, self._density_ratio)
        return rotor.figure_of_merit(thrust, power, self._diameter_m, self.density)

    @property
    def _density_ratio(self) -> FloatArray:
        return np.asarray(self.density) / STANDARD_DENSITY_KG_M3

    @property
    def _diameter_m(self) -> float:
        table = self.craft.table
        diameter = (
            self.diameter_m
            if self.diameter_m is not None
            else diameter_from_name_m(table.propeller)
        )
        if diameter is None:
            raise InputError(
                Problem(
                    "climb and forward flight need the propeller's diameter; name the propeller as "
                    "diameter x pitch in inches (15x5).",
                    table.source,
                )
            )
        rotor.checked_figure_of_merit(table, diameter)
        return diameter

    def _motors_w(self, mass_g: Number) -> FloatArray:
        thrust = np.asarray(mass_g, dtype=float) / self.craft.rotors
        one = power_at_thrust(self.craft.table, thrust)
        one = one * self._density_ratio**POWER_DENSITY_EXPONENT
        return np.asarray(one * self.craft.rotors * self.craft.flight_factor)


@dataclass(frozen=True)
class WingPower:
    """Power of a fixed wing in any steady flight: (drag x speed + weight x climb) / efficiency.

    A descent that asks for less than nothing costs the electronics only.

    Attributes:
        craft: the fixed wing.
        density: of the air, kg/m3.
    """

    craft: FixedWing
    density: Number = STANDARD_DENSITY_KG_M3

    def rest_w(self, mass_g: Number) -> FloatArray:
        """The electronics alone."""
        return np.asarray(self.craft.avionics_w + 0.0 * np.asarray(mass_g))

    def launch_w(self, mass_g: Number) -> FloatArray:
        """Launch power by mass."""
        return np.asarray(
            np.asarray(mass_g) / 1000 * self.craft.launch_w_per_kg + self.craft.avionics_w
        )

    def flight_w(
        self, mass_g: Number, airspeed_m_s: Number = 0.0, climb_m_s: Number = 0.0
    ) -> FloatArray:
        """In level flight, climb or descent; NaN below the stall."""
        level = wing.level_flight(self.craft.polar, mass_g, airspeed_m_s, self.density)
        weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
        thrust_power = np.maximum(level.drag_power_w + weight * np.asarray(climb_m_s), 0.0)
        return np.asarray(thrust_power / self.craft.drive_efficiency + self.craft.avionics_w)


@dataclass(frozen=True)
class Phase:
    """One phase of a mission. Give a duration or a distance over ground, not both.

    Attributes:
        label: what it is called in tables and charts.
        kind: "rest", "launch" or "flight" (hover is flight at no airspeed and no climb).
        duration_s: how long.
        distance_m: how far over ground, for a flight with airspeed.
        airspeed_m_s: through the air.
        headwind_m_s: wind from ahead; below 0 from behind.
        climb_m_s: rate of climb; below 0 is a descent.
        height_change_m: instead of a duration: climb or descend by so much.
        mass_change_g: payload dropped (below 0) or taken up before the phase begins.
        gust_factor: power over that of calm air (a payload that swings, gusts); 1 and more.
    """

    label: str
    kind: str = "flight"
    duration_s: Number | None = None
    distance_m: Number | None = None
    airspeed_m_s: Number = 0.0
    headwind_m_s: Number = 0.0
    climb_m_s: Number = 0.0
    height_change_m: Number | None = None
    mass_change_g: Number = 0.0
    gust_factor: Number = 1.0


def rest(duration_s: Number, label: str = "rest") -> Phase:
    """Standing by with propellers still."""
    return Phase(label, "rest", duration_s)


def launch(duration_s: Number, label: str = "launch") -> Phase:
    """Full power at take-off."""
    return Phase(label, "launch", duration_s)


def hover(
    duration_s: Number,
    label: str = "hover",
    wind_m_s: Number = 0.0,
    mass_change_g: Number = 0.0,
) -> Phase:
    """Hover on the spot, in still air or against a wind; with a payload dropped first."""
    return Phase(label, duration_s=duration_s, airspeed_m_s=wind_m_s, mass_change_g=mass_change_g)


def climb(
    height_m: Number, climb_m_s: Number, airspeed_m_s: Number = 0.0, label: str = "climb"
) -> Phase:
    """Climb by a height at a rate."""
    return Phase(label, height_change_m=height_m, climb_m_s=climb_m_s, airspeed_m_s=airspeed_m_s)


def descent(
    height_m: Number, sink_m_s: Number, airspeed_m_s: Number = 0.0, label: str = "descent"
) -> Phase:
    """Come down by a height at a rate of sink (both above 0)."""
    return Phase(
        label,
        height_change_m=-np.asarray(height_m, dtype=float),
        climb_m_s=-np.asarray(sink_m_s, dtype=float),
        airspeed_m_s=airspeed_m_s,
    )


def cruise(
    distance_m: Number, airspeed_m_s: Number, headwind_m_s: Number = 0.0, label: str = "cruise"
) -> Phase:
    """Level flight over a distance on the ground, against (or with) the wind."""
    return Phase(label, distance_m=distance_m, airspeed_m_s=airspeed_m_s, headwind_m_s=headwind_m_s)


def loiter(duration_s: Number, airspeed_m_s: Number, label: str = "loiter") -> Phase:
    """Level flight for a time."""
    return Phase(label, duration_s=duration_s, airspeed_m_s=airspeed_m_s)


@dataclass(frozen=True, eq=False)
class Profile:
    """A mission as the pack sees it, phase by phase.

    Attributes:
        label: of each phase.
        duration_s, power_w, mass_g: shape (phases,) or (phases, ...) for arrays of craft.
        cautions: sentences about phases that can hurt.
    """

    label: tuple[str, ...]
    duration_s: FloatArray
    power_w: FloatArray
    mass_g: FloatArray
    cautions: tuple[str, ...]

    @property
    def total_s(self) -> FloatArray:
        """How long it takes altogether."""
        return np.asarray(self.duration_s.sum(axis=0))

    @property
    def energy_wh(self) -> FloatArray:
        """What the pack must give altogether."""
        return np.asarray((self.duration_s * self.power_w).sum(axis=0) / 3600)


def mission_profile(flight: FlightPower, mass_g: Number, phases: Sequence[Phase]) -> Profile:
    """Duration, power and mass of each phase of a mission.

    Args:
        flight: `MultirotorPower` or `WingPower`.
        mass_g: all-up mass at the start, pack included; a figure or an array of designs.
        phases: in the order flown.

    Raises:
        InputError: a phase without a length, with two, against a wind that it cannot beat, or one
            that the craft cannot fly (below the stall, outside the thrust table, in its own wake).

    Example:
        >>> from workbook.craft.fixed_wing import FixedWing
        >>> polar = wing.Polar(0.4, 2.0, 0.03, 0.8, 1.2)
        >>> heron = FixedWing("heron", 1, 1600.0, 250.0, 8.0, polar)
        >>> profile = mission_profile(
        ...     WingPower(heron), 2500.0, [launch(5.0), climb(60.0, 2.0, 12.0), cruise(4000.0, 12.0, 4.0)]
        ... )  # fmt: skip
        >>> profile.duration_s, profile.power_w.round()
        (array([ 5., 30., 500.]), array([508., 158., 53.]))
    """
    if not phases:
        raise InputError("the mission has no phases; one or more is needed.")
    mass = np.asarray(mass_g, dtype=float)
    durations, powers, masses, cautions = [], [], [], []
    for number, phase in enumerate(phases, start=1):
        where = f"phase {number} ({phase.label})"
        mass = mass + np.asarray(phase.mass_change_g)
        if (mass <= 0).any():
            raise InputError(Problem("the mass dropped is more than the craft has.", where))
        if (np.asarray(phase.gust_factor) < 1).any():
            raise InputError(
                Problem(
                    f"gust_factor is {np.min(phase.gust_factor):g}; 1 or more is needed.", where
                )
            )
        durations.append(_duration_s(phase, where))
        if phase.kind == "rest":
            power = flight.rest_w(mass)
        elif phase.kind == "launch":
            power = flight.launch_w(mass)
        elif phase.kind == "flight":
            power = flight.flight_w(mass, phase.airspeed_m_s, phase.climb_m_s)
        else:
            raise InputError(
                Problem(f'kind is "{phase.kind}"; rest, launch or flight is needed.', where)
            )
        power = power * phase.gust_factor
        if np.isnan(power).any():
            sinking = (np.asarray(phase.climb_m_s) < 0).any()
            reason = (
                VORTEX_CAUTION
                if sinking and isinstance(flight, MultirotorPower)
                else "is below the stall speed"
                if isinstance(flight, WingPower)
                else "asks for a thrust outside the thrust table"
            )
            raise InputError(Problem(f"the craft {reason}.", where))
        if isinstance(flight, MultirotorPower) and (np.asarray(phase.climb_m_s) < 0).any():
            cautions.append(f"{where}: descend gently; a multirotor {VORTEX_CAUTION}.")
        powers.append(power)
        masses.append(mass)
    shape = np.broadcast_shapes(*(np.shape(x) for x in (*durations, *powers, *masses)))

    def stacked(parts: Sequence[FloatArray]) -> FloatArray:
        return np.stack([np.broadcast_to(part, shape) for part in parts])

    return Profile(
        tuple(phase.label for phase in phases),
        stacked(durations),
        stacked(powers),
        stacked(masses),
        tuple(cautions),
    )


def _duration_s(phase: Phase, where: str) -> FloatArray:
    lengths = (phase.duration_s, phase.distance_m, phase.height_change_m)
    if sum(length is not None for length in lengths) != 1:
        raise InputError(
            Problem("one of duration_s, distance_m and height_change_m is needed.", where)
        )
    if phase.duration_s is not None:
        duration = np.asarray(phase.duration_s, dtype=float)
    elif phase.distance_m is not None:
        ground = np.asarray(phase.airspeed_m_s, dtype=float) - np.asarray(phase.headwind_m_s)
        if (ground <= 0).any():
            raise InputError(
                Problem(
                    f"airspeed of {np.min(phase.airspeed_m_s):g} m/s against a wind of "
                    f"{np.max(phase.headwind_m_s):g} m/s makes no headway; more airspeed or less "
                    "wind is needed.",
                    where,
                )
            )
        duration = np.asarray(phase.distance_m) / ground
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            duration = np.asarray(phase.height_change_m, dtype=float) / np.asarray(phase.climb_m_s)
    if not (np.isfinite(duration) & (duration >= 0)).all():
        raise InputError(
            Problem(
                "the phase has no sensible length; time, distance and rate of climb must agree and "
                "not be below 0.",
                where,
            )
        )
    return np.asarray(duration)


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

    Into the wind fly faster; with a tailwind slower. Found on a grid of 1 cm/s up to `fastest_m_s`.

    Raises:
        InputError: no speed up to `fastest_m_s` makes headway and can be flown.

    Example:
        >>> from workbook.craft.fixed_wing import FixedWing
        >>> heron = FixedWing("heron", 1, 1600.0, 250.0, 8.0, wing.Polar(0.4, 2.0, 0.03, 0.8, 1.2))
        >>> calm, windy = (best_speeds(WingPower(heron), 2500.0, wind) for wind in (0.0, 6.0))
        >>> calm.endurance_m_s, calm.range_m_s, windy.range_m_s
        (9.14, 11.27, 14.05)
    """
    speeds = np.arange(0, round(fastest_m_s * 100) + 1) / 100
    power = flight.flight_w(mass_g, speeds)
    ground = speeds - headwind_m_s
    usable = np.isfinite(power) & (ground > 0)
    if not usable.any():
        raise InputError(
            f"no airspeed up to {fastest_m_s:g} m/s can be flown against {headwind_m_s:g} m/s of wind."
        )
    least = int(np.nanargmin(power))
    per_metre = np.where(usable, power / np.where(usable, ground, 1.0), np.inf)
    furthest = int(np.argmin(per_metre))
    return BestSpeeds(
        float(speeds[least]),
        float(power[least]),
        float(speeds[furthest]),
        float(power[furthest]),
        float(per_metre[furthest] / 3.6),
    )


@dataclass(frozen=True)
class Survey:
    """A field flown in parallel legs.

    Attributes:
        legs: number of legs.
        distance_m: legs and the steps between them.
        duration_s: at the ground speeds up and down wind, turns included.
        area_m2: covered.
    """

    legs: int
    distance_m: float
    duration_s: float
    area_m2: float


def survey(
    length_m: float,
    width_m: float,
    spacing_m: float,
    airspeed_m_s: float,
    wind_m_s: float = 0.0,
    turn_s: float = 0.0,
) -> Survey:
    """Legs, distance and time to cover a rectangle, wind along the legs, to and fro.

    Args:
        length_m, width_m: of the field; legs run along its length.
        spacing_m: between legs (camera footprint less overlap).
        airspeed_m_s: through the air, above the wind.
        wind_m_s: along the legs, 0 or more: into it on every other leg, the first one included.
        turn_s: extra time for each turn.

    Raises:
        InputError: a figure that is not above 0, or a wind that is not below the airspeed.

    Example:
        >>> survey(300.0, 190.0, 20.0, 8.0, wind_m_s=2.0, turn_s=3.0)
        Survey(legs=10, distance_m=3180.0, duration_s=450.2, area_m2=57000.0)
    """
    for name, value in (
        ("length_m", length_m), ("width_m", width_m), ("spacing_m", spacing_m),
        ("airspeed_m_s", airspeed_m_s),
    ):  # fmt: skip
        if not value > 0:
            raise InputError(f"{name} is {value:g}; above 0 is needed.")
    if not 0 <= wind_m_s < airspeed_m_s:
        raise InputError(
            f"wind_m_s is {wind_m_s:g}; 0 or more and below the airspeed of {airspeed_m_s:g} m/s "
            "is needed."
        )
    legs = max(int(np.ceil(width_m / spacing_m - 1e-9)), 1)
    into = (legs + 1) // 2
    across = np.sqrt(airspeed_m_s**2 - wind_m_s**2)
    duration = (
        into * length_m / (airspeed_m_s - wind_m_s)
        + (legs - into) * length_m / (airspeed_m_s + wind_m_s)
        + (legs - 1) * (spacing_m / across + turn_s)
    )
    distance = legs * length_m + (legs - 1) * spacing_m
    return Survey(legs, float(distance), float(duration), float(length_m * width_m))
