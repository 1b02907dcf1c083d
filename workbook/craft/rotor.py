"""Rotors by momentum theory: hover, climb, descent and forward flight, scaled to the thrust table.

The ideal disc gives the shape (how power changes with climb or forward speed); the thrust table
gives the size (what the real motor and propeller draw in hover). The loss over the ideal disc that
the table shows in hover is taken to stay in every other flight.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.thrust_table import METRES_PER_INCH, ThrustTable
from workbook.errors import InputError, Problem
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number

NEWTONS_PER_GRAM_FORCE = STANDARD_GRAVITY_M_S2 / 1000

VORTEX_RING_FROM, VORTEX_RING_TO = 0.5, 2.0
"""Descent over hover induced speed between which momentum theory fails and the craft shakes.
Source: Leishman, Principles of Helicopter Aerodynamics, chapter 2; bounds from memory."""


@dataclass(frozen=True, eq=False)
class Disc:
    """The air's side of one state of flight: figures or arrays of one shape.

    Attributes:
        induced_m_s: speed given to the air through the disc.
        ideal_power_w: thrust times speed of the air through the disc; NaN where the theory fails.
        power_ratio: ideal power over the ideal power of hover at the craft's weight.
    """

    induced_m_s: FloatArray
    ideal_power_w: FloatArray
    power_ratio: FloatArray


@dataclass(frozen=True, eq=False)
class ForwardFlight:
    """Level flight of a multirotor at an airspeed.

    Attributes:
        tilt_deg: how far the craft leans into the wind to overcome its drag.
        thrust_n: thrust of all rotors together, more than the weight.
        disc: induced speed and power.
    """

    tilt_deg: FloatArray
    thrust_n: FloatArray
    disc: Disc


def disc_area_m2(diameter_m: Number, rotors: Number = 1.0) -> FloatArray:
    """Area swept by all rotors (rotors that do not overlap).

    Example:
        >>> float(disc_area_m2(10 * METRES_PER_INCH, 4))
        0.20268
    """
    return np.asarray(np.asarray(rotors) * np.pi / 4 * np.asarray(diameter_m, dtype=float) ** 2)


def hover(thrust_n: Number, area_m2: Number, density: Number = STANDARD_DENSITY_KG_M3) -> Disc:
    """The ideal disc in hover: v = sqrt(T / (2 rho A)), P = T v.

    Args:
        thrust_n: thrust of all rotors, above 0 N.
        area_m2: area swept by all rotors.
        density: of the air, kg/m3.

    Source: Leishman, Principles of Helicopter Aerodynamics, chapter 2.

    Example:
        >>> float(hover(1.5 * 9.80665, 0.202683).ideal_power_w)
        80.06
    """
    thrust = np.asarray(thrust_n, dtype=float)
    induced = np.sqrt(thrust / (2 * np.asarray(density) * np.asarray(area_m2)))
    power = thrust * induced
    return Disc(induced, power, np.ones_like(power))


def climb(
    thrust_n: Number, area_m2: Number, climb_m_s: Number, density: Number = STANDARD_DENSITY_KG_M3
) -> Disc:
    """The ideal disc rising or sinking straight up or down.

    Rising: P / P_hover = x + sqrt(x^2 + 1) with x = V / (2 v_hover). The same holds for sinking
    slower than half the induced speed of hover. From there to twice that speed the rotor meets its
    own wake (vortex ring): the theory fails, thrust is lost without warning, and the result is NaN.
    Faster still the rotor is a windmill, P / P_hover = x - sqrt(x^2 - 1): negative power (nothing is
    regained in a model: read it as 0).

    Args:
        thrust_n: thrust of all rotors, above 0 N.
        area_m2: area swept by all rotors.
        climb_m_s: rate of climb; below 0 is a descent.
        density: of the air, kg/m3.

    Source: Leishman, Principles of Helicopter Aerodynamics, chapter 2.

    Example:
        >>> rates = np.array([0.0, 3.0, -2.0, -6.0])
        >>> climb(1.5 * 9.80665, 0.202683, rates).ideal_power_w
        array([ 80.06, 105.11, 66.69, nan])
    """
    still = hover(thrust_n, area_m2, density)
    x = np.asarray(climb_m_s, dtype=float) / (2 * still.induced_m_s)
    sink = -2 * x
    rising = x + np.sqrt(x**2 + 1)
    with np.errstate(invalid="ignore"):
        windmill = x - np.sqrt(np.where(sink >= VORTEX_RING_TO, x**2 - 1, np.nan))
    ratio = np.where(sink < VORTEX_RING_FROM, rising, windmill)
    induced = still.induced_m_s * np.abs(ratio - 2 * x)
    return Disc(induced, still.ideal_power_w * ratio, ratio)


def forward(
    weight_n: Number,
    area_m2: Number,
    airspeed_m_s: Number,
    drag_area_m2: Number = 0.0,
    density: Number = STANDARD_DENSITY_KG_M3,
) -> ForwardFlight:
    """Level flight: the craft tilts until thrust carries weight and body drag together.

    tan(tilt) = D / W with D = rho V^2 f / 2; T = sqrt(W^2 + D^2); the induced speed solves
    v = v_T^2 / sqrt((V cos tilt)^2 + (V sin tilt + v)^2) and P = T (V sin tilt + v). Blade drag
    growing with speed is not in it, so a fast cruise is rather under- than overestimated.

    Args:
        weight_n: of the craft, above 0 N.
        area_m2: area swept by all rotors.
        airspeed_m_s: through the air, 0 or more.
        drag_area_m2: drag coefficient times frontal area of the body; 0.01 to 0.06 for a small
            multirotor is common practice, no source.
        density: of the air, kg/m3.

    Source: Glauert, ARC R&M 1111 (1926); Leishman, chapter 2.

    Example:
        >>> flight = forward(1.5 * 9.80665, 0.202683, np.array([0.0, 10.0]), 0.0326531)
        >>> flight.tilt_deg, flight.disc.ideal_power_w
        (array([0. , 7.743]), array([80.06, 61.34]))
    """
    speed = np.asarray(airspeed_m_s, dtype=float)
    if (speed < 0).any():
        raise InputError(f"airspeed is {speed[speed < 0].flat[0]:g} m/s; 0 or more is needed.")
    weight = np.asarray(weight_n, dtype=float)
    drag = 0.5 * np.asarray(density) * speed**2 * np.asarray(drag_area_m2)
    tilt = np.arctan2(drag, weight)
    thrust = np.hypot(weight, drag)
    along, through = speed * np.cos(tilt), speed * np.sin(tilt)
    induced = _glauert_induced(
        np.asarray(hover(thrust, area_m2, density).induced_m_s), along, through
    )
    power = thrust * (through + induced)
    ratio = power / hover(weight, area_m2, density).ideal_power_w
    return ForwardFlight(np.degrees(tilt), thrust, Disc(induced, power, np.asarray(ratio)))


def _glauert_induced(hover_m_s: FloatArray, along: FloatArray, through: FloatArray) -> FloatArray:
    """Root of v^2 ((along)^2 + (through + v)^2) = v_hover^4: rising in v, so Newton from above."""
    mu, lam = along / hover_m_s, through / hover_m_s
    v = np.ones(np.broadcast(mu, lam).shape)
    for _ in range(60):
        f = v**2 * (mu**2 + (lam + v) ** 2) - 1
        slope = 2 * v * (mu**2 + (lam + v) ** 2) + 2 * v**2 * (lam + v)
        step = f / slope
        v = v - step
        if np.all(np.abs(step) <= 1e-14 * v):
            break
    return np.asarray(v * hover_m_s)


def figure_of_merit(thrust_gf: Number, power_w: Number, diameter_m: Number) -> FloatArray:
    """Ideal hover power over the power really drawn, for one rotor in standard air.

    With shaft power it is the propeller's own figure of merit (0.5 to 0.7 for small propellers);
    with electrical power motor and controller losses are in it too. Over 1 cannot be: an error in
    the data.

    Source: Leishman, chapter 2; range from 139 propellers of the UIUC Propeller Database.

    Example:
        >>> float(figure_of_merit(473.3, 40.88, 0.254))
        0.694
    """
    thrust_n = np.asarray(thrust_gf, dtype=float) * NEWTONS_PER_GRAM_FORCE
    return np.asarray(hover(thrust_n, disc_area_m2(diameter_m)).ideal_power_w / power_w)


def checked_figure_of_merit(table: ThrustTable, diameter_m: float) -> FloatArray:
    """Figure of merit of each row of a thrust table, from electrical power.

    Raises:
        InputError: a row gives more thrust than its power could by the laws of momentum.
    """
    merit = figure_of_merit(table.thrust_gf, table.power_w, diameter_m)
    wrong = np.flatnonzero(merit > 1)
    if len(wrong):
        raise InputError(
            Problem(
                f"{table.thrust_gf[k]:g} gf from {table.power_w[k]:g} W is more than an ideal "
                f"propeller of {diameter_m / METRES_PER_INCH:.3g} in could give (figure of merit "
                f"{merit[k]:.2f}); 1 at most, and 0.3 to 0.65 is usual: check units, thrust and "
                "propeller.",
                table.place(int(k)),
            )
            for k in wrong
        )
    return merit


@dataclass(frozen=True, eq=False)
class MotorOut:
    """Hover with one motor stopped, to land at once.

    Attributes:
        possible: whether the motors left over can carry the craft level.
        highest_thrust_gf: what the busiest motor must give.
        share: thrust of each rotor over the craft's weight, in order round the frame, the failed
            one first.
        power_ratio: power of all rotors over that of hover with all motors, power as thrust^1.5.
    """

    possible: FloatArray
    highest_thrust_gf: FloatArray
    share: FloatArray
    power_ratio: float


@cache
def _thrust_shares(rotors: int) -> FloatArray:
    """Of the weight, what each rotor carries after the first has stopped."""
    place = np.arange(1, rotors)
    angle = 2 * np.pi * place / rotors
    balance = np.array([np.ones_like(angle), np.cos(angle), np.sin(angle), (-1.0) ** place])
    wanted = np.array([1.0, 0.0, 0.0, 0.0])
    # from six rotors up no share of the least squares falls below 0, but for rounding
    return np.append(0.0, np.linalg.pinv(balance) @ wanted).round(12) + 0.0


def motor_out(rotors: int, weight_gf: Number, full_thrust_gf: Number) -> MotorOut:
    """Hover after one motor of a regular frame stops; the others hold it level and on its heading.

    The rotors that are left share the load with the least squares of thrust,
    neighbours turning in opposite senses. With six rotors only one share is left: the opposite
    rotor is throttled to a stop and each of the other four carries a quarter. Nothing is then in
    hand to turn the craft one way, so it may spin in a gust: land at once. With fewer than six
    the craft cannot stay level.

    Args:
        rotors: 6 or more, even, evenly spaced on a circle.
        weight_gf: all-up weight.
        full_thrust_gf: thrust of one motor at full throttle at the voltage in question.

    Raises:
        InputError: fewer than six rotors, or an odd number.

    Source: balance of forces and moments, least squares (pseudo-inverse).

    Example:
        >>> out = motor_out(6, 3000.0, 900.0)
        >>> out.share, float(out.highest_thrust_gf), bool(out.possible)
        (array([0. , 0.25, 0.25, 0. , 0.25, 0.25]), 750.0, True)
        >>> out.power_ratio
        1.2247
    """
    if rotors < 6 or rotors % 2:
        raise InputError(
            f"rotors is {rotors}; hover with one motor out needs an even number of 6 or more. "
            "With fewer the craft cannot stay level: it comes down."
        )
    share = _thrust_shares(rotors)
    highest = np.asarray(weight_gf, dtype=float) * share.max()
    power_ratio = float((share**1.5).sum() * np.sqrt(rotors))
    return MotorOut(np.asarray(highest <= full_thrust_gf), highest, share, power_ratio)
