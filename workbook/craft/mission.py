"""A mission: phases one after the other, each with time, power and mass; and the legs of a survey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.craft.flight_power import FlightPower
from workbook.errors import InputError, refuse
from workbook.numbers import JUST_ABOVE_0, FloatArray, Number, range_problems

KINDS = ("rest", "launch", "flight")
"""Kinds of phase; hover is flight at no airspeed and no climb."""


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
        >>> from workbook.craft.craft_types import FixedWing
        >>> from workbook.craft.flight_power import WingPower
        >>> from workbook.craft.wing import Polar
        >>> polar = Polar(0.4, 2.0, 0.03, 0.8, 1.2)
        >>> heron = FixedWing(
        ...     name="heron",
        ...     motors=1,
        ...     mass_without_pack_g=1600.0,
        ...     payload_g=250.0,
        ...     avionics_w=8.0,
        ...     polar=polar,
        ... )
        >>> phases = [
        ...     Phase("launch", "launch", 5.0),
        ...     Phase("climb", height_change_m=60.0, climb_m_s=2.0, airspeed_m_s=12.0),
        ...     Phase("cruise", distance_m=4000.0, airspeed_m_s=12.0, headwind_m_s=4.0),
        ... ]
        >>> profile = mission_profile(WingPower(heron, take_off_w=508.0), 2500.0, phases)
        >>> profile.duration_s, profile.power_w.round()
        (array([ 5., 30., 500.]), array([508., 158., 53.]))
    """
    if not phases:
        raise InputError("the mission has no phases; one or more is needed.")
    mass = np.asarray(mass_g, dtype=float)
    rows, cautions = [], []
    for number, phase in enumerate(phases, start=1):
        where = f"phase {number} ({phase.label})"
        mass = mass + np.asarray(phase.mass_change_g)
        if (mass <= 0).any():
            raise InputError("the mass dropped is more than the craft has.", where)
        moves = (phase.airspeed_m_s, phase.climb_m_s)
        rows.append((_duration_s(phase, where), mass, _gusts(phase, where), *moves))
        caution = flight.caution(phase.climb_m_s)
        cautions += [f"{where}: {caution}."] if caution else []
    shape = np.broadcast_shapes(*(np.shape(figure) for row in rows for figure in row))
    of_all = np.zeros(shape)
    columns = np.array([[of_all + figure for figure in row] for row in rows])
    duration_s, masses_g, gusts, *moves_m_s = np.moveaxis(columns, 1, 0)
    power_w = gusts * _power_w(flight, phases, masses_g, *moves_m_s)
    labels = tuple(phase.label for phase in phases)
    return Profile(labels, duration_s, power_w, masses_g, tuple(cautions))


def _gusts(phase: Phase, where: str) -> FloatArray:
    """Power over that of calm air."""
    if phase.kind not in KINDS:
        raise InputError(f'kind is "{phase.kind}"; rest, launch or flight is needed.', where)
    gusts = np.asarray(phase.gust_factor, dtype=float)
    if (gusts < 1).any():
        raise InputError(f"gust_factor is {gusts.min():g}; 1 or more is needed.", where)
    return gusts


def _power_w(
    flight: FlightPower,
    phases: Sequence[Phase],
    mass_g: FloatArray,
    airspeed_m_s: FloatArray,
    climb_m_s: FloatArray,
) -> FloatArray:
    """Power of every phase in calm air, those of one kind asked at once."""
    kinds, power_w = np.array([phase.kind for phase in phases]), np.empty_like(mass_g)
    for kind in set(kinds.tolist()):
        those = kinds == kind
        if kind == "rest":
            power_w[those] = flight.rest_w(mass_g[those])
        elif kind == "launch":
            power_w[those] = flight.launch_w(mass_g[those])
        else:
            moves_m_s = airspeed_m_s[those], climb_m_s[those]
            power_w[those] = flight.flight_w(mass_g[those], *moves_m_s)
    for number, (phase, row_w) in enumerate(zip(phases, power_w, strict=True), start=1):
        if np.isnan(row_w).any():
            refusal = flight.refusal(phase.climb_m_s)
            raise InputError(f"the craft {refusal}.", f"phase {number} ({phase.label})")
    return power_w


def _duration_s(phase: Phase, where: str) -> FloatArray:
    """How long a phase lasts, from the one of its lengths that is given."""
    lengths = (phase.duration_s, phase.distance_m, phase.height_change_m)
    if sum(length is not None for length in lengths) != 1:
        raise InputError("one of duration_s, distance_m and height_change_m is needed.", where)
    airspeed, wind = np.asarray(phase.airspeed_m_s, dtype=float), np.asarray(phase.headwind_m_s)
    if phase.distance_m is not None and (airspeed - wind <= 0).any():
        raise InputError(
            f"airspeed of {airspeed.min():g} m/s against a wind of {wind.max():g} m/s makes no "
            "headway; more airspeed or less wind is needed.",
            where,
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        if phase.duration_s is not None:
            duration = np.asarray(phase.duration_s, dtype=float)
        elif phase.distance_m is not None:
            duration = np.asarray(phase.distance_m) / (airspeed - wind)
        else:
            duration = np.asarray(phase.height_change_m, dtype=float) / np.asarray(phase.climb_m_s)
    if not (np.isfinite(duration) & (duration >= 0)).all():
        raise InputError(
            "the phase has no sensible length; time, distance and rate of climb must agree and "
            "not be below 0.",
            where,
        )
    return np.asarray(duration)


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
    above_0 = (JUST_ABOVE_0, np.inf, "above 0 m")
    sides = {
        "length_m": (length_m, *above_0),
        "width_m": (width_m, *above_0),
        "spacing_m": (spacing_m, *above_0),
        "airspeed_m_s": (airspeed_m_s, JUST_ABOVE_0, np.inf, "above 0 m/s"),
    }
    refuse(range_problems(sides))
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
