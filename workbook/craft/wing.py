"""A fixed wing by its drag polar: level flight, climb, stall and the two best speeds.

C_D = C_D0 + C_L^2 / (pi e AR). The polar comes from geometry, from a measured glide or from a
measured cruise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.errors import InputError
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number
from workbook.units import with_unit

STALL_MARGIN = 1.2
"""Least cruise speed over stall speed, for gusts and turns. Common practice, no source."""


@dataclass(frozen=True)
class Polar:
    """Lift and drag of a wing with its airframe. Any figure may be an array of one shape.

    Attributes:
        wing_area_m2, span_m: of the wing.
        zero_lift_drag: C_D0 of the whole craft; 0.025 to 0.05 for a clean model, common practice,
            no source.
        oswald_efficiency: e, 0.7 to 0.9 is common practice, no source.
        largest_lift: C_L at the stall; 1.0 to 1.4 without flaps, common practice, no source.

    Example:
        >>> Polar(0.4, 2.0, 0.03, 0.8, 1.2).aspect_ratio
        10.0
    """

    wing_area_m2: Number
    span_m: Number
    zero_lift_drag: Number
    oswald_efficiency: Number
    largest_lift: Number

    @property
    def aspect_ratio(self) -> Number:
        """Span squared over area."""
        return self.span_m**2 / self.wing_area_m2

    @property
    def induced_factor(self) -> Number:
        """K in C_D = C_D0 + K C_L^2: 1 / (pi e AR)."""
        return 1 / (np.pi * self.oswald_efficiency * self.aspect_ratio)

    @property
    def best_glide(self) -> FloatArray:
        """Highest lift over drag: 1 / (2 sqrt(K C_D0))."""
        return np.asarray(1 / (2 * np.sqrt(self.induced_factor * self.zero_lift_drag)))


@dataclass(frozen=True, eq=False)
class LevelFlight:
    """Steady flight at an airspeed: figures or arrays of one shape, NaN below the stall."""

    lift_coefficient: FloatArray
    drag_n: FloatArray
    lift_over_drag: FloatArray
    drag_power_w: FloatArray


@dataclass(frozen=True, eq=False)
class WingSpeeds:
    """The speeds that matter, in m/s through the air, none below the stall.

    Attributes:
        stall_m_s: lowest speed that carries the weight.
        endurance_m_s: least power, longest time aloft.
        range_m_s: least drag, furthest in still air.
    """

    stall_m_s: FloatArray
    endurance_m_s: FloatArray
    range_m_s: FloatArray


def level_flight(
    polar: Polar, mass_g: Number, airspeed_m_s: Number, density: Number = STANDARD_DENSITY_KG_M3
) -> LevelFlight:
    """Lift coefficient, drag and drag power in level flight; NaN below the stall.

    Args:
        mass_g: all-up mass, above 0.
        airspeed_m_s: through the air, above 0.
        density: of the air, kg/m3.

    Source: Anderson, Introduction to Flight, chapter 6 (from memory); Traub (2011).

    Example:
        >>> flight = level_flight(Polar(0.4, 2.0, 0.03, 0.8, 1.2), 2500.0, np.array([7.0, 12.0]))
        >>> flight.drag_n, flight.lift_over_drag
        (array([       nan, 1.7363]), array([        nan, 14.120]))
    """
    speed = np.asarray(airspeed_m_s, dtype=float)
    weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
    pressure_area = 0.5 * np.asarray(density) * speed**2 * polar.wing_area_m2
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        lift = weight / pressure_area
        lift = np.where(lift <= np.asarray(polar.largest_lift) * (1 + 1e-12), lift, np.nan)
        drag = pressure_area * (polar.zero_lift_drag + polar.induced_factor * lift**2)
        return LevelFlight(
            lift, np.asarray(drag), np.asarray(weight / drag), np.asarray(drag * speed)
        )


def wing_speeds(
    polar: Polar,
    mass_g: Number,
    density: Number = STANDARD_DENSITY_KG_M3,
    electronics_w: Number = 0.0,
) -> WingSpeeds:
    """Stall, best-endurance and best-range speeds in still air.

    Without electronics the range speed is where C_L = sqrt(C_D0 / K); the endurance speed is
    3^(-1/4) of that, or the stall speed where it is higher (it often is: the wing cannot fly so
    slowly). Electronics draw the same at any speed, so the speed of least power is that of the wing
    alone, while the speed of least energy per distance rises: with D = a V^2 + b / V^2 it is the
    root of 2 a V^4 - A V - 2 b = 0, A the electronics.

    Args:
        mass_g: all-up, above 0.
        density: of the air, kg/m3.
        electronics_w: what the electronics draw, times the drive's efficiency.

    Source: Anderson, Introduction to Flight, chapter 6 (from memory); the root by Newton's method.

    Example:
        >>> speeds = wing_speeds(Polar(0.4, 2.0, 0.03, 0.8, 1.2), 2500.0)
        >>> float(speeds.stall_m_s), float(speeds.endurance_m_s), float(speeds.range_m_s)
        (9.132, 9.132, 10.735)
    """
    weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
    per_lift = 2 * weight / polar.wing_area_m2 / np.asarray(density)
    stall = np.asarray(np.sqrt(per_lift / polar.largest_lift))
    best = np.sqrt(per_lift / np.sqrt(polar.zero_lift_drag / polar.induced_factor))
    area = 0.5 * np.asarray(density) * polar.wing_area_m2
    a, b = area * polar.zero_lift_drag, polar.induced_factor * weight**2 / area
    electronics = np.asarray(electronics_w, dtype=float)
    speed = best + np.cbrt(electronics / (2 * a))  # above the root: from here it falls
    for _ in range(60):
        step = (2 * a * speed**4 - electronics * speed - 2 * b) / (8 * a * speed**3 - electronics)
        speed = speed - step
        if np.all(~(np.abs(step) > 1e-13 * speed)):
            break
    return WingSpeeds(stall, np.maximum(best * 3**-0.25, stall), np.maximum(speed, stall))


def polar_from_glide(
    wing_area_m2: Number,
    span_m: Number,
    largest_lift: Number,
    mass_g: Number,
    best_glide: Number,
    glide_speed_m_s: Number,
) -> Polar:
    """The polar of a craft whose best glide and its speed were measured at sea level, propeller folded.

    At the best glide half the drag is induced, so C_D0 = C_L / (2 L/D) and K = C_D0 / C_L^2.

    Raises:
        InputError: the figures ask for an Oswald efficiency over 1: glide or speed cannot be right.

    Example:
        >>> polar = polar_from_glide(0.4, 2.0, 1.2, 2500.0, 14.47, 10.734)
        >>> float(polar.zero_lift_drag), float(polar.oswald_efficiency)
        (0.03, 0.8)
    """
    weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
    speed = np.asarray(glide_speed_m_s, dtype=float)
    lift = weight / (0.5 * STANDARD_DENSITY_KG_M3 * speed**2 * wing_area_m2)
    zero_lift = lift / (2 * np.asarray(best_glide))
    oswald = lift**2 / (zero_lift * np.pi * np.asarray(span_m) ** 2 / wing_area_m2)
    return _checked(
        Polar(wing_area_m2, span_m, zero_lift, oswald, largest_lift),
        f"best glide of {np.max(best_glide):g} at {with_unit(np.max(speed), 'm/s')}",
    )


def polar_from_cruise(
    wing_area_m2: Number,
    span_m: Number,
    largest_lift: Number,
    mass_g: Number,
    cruise_speed_m_s: Number,
    motor_power_w: Number,
    drive_efficiency: Number,
    oswald_efficiency: Number = 0.8,
    density: Number = STANDARD_DENSITY_KG_M3,
) -> Polar:
    """The polar of a craft whose level cruise was measured: watts of the motor at an airspeed.

    Args:
        motor_power_w: electrical power in level cruise without the avionics.
        drive_efficiency: propeller times motor times controller, 0 to 1; 0.45 to 0.6 is common
            practice, no source.
        oswald_efficiency: assumed; one measurement does not give it.

    Raises:
        InputError: less power than the induced drag alone takes.

    Example:
        >>> polar = polar_from_cruise(0.4, 2.0, 1.2, 2500.0, 12.0, 42.12, 0.5)
        >>> float(polar.zero_lift_drag)
        0.03
    """
    weight = np.asarray(mass_g, dtype=float) / 1000 * STANDARD_GRAVITY_M_S2
    speed = np.asarray(cruise_speed_m_s, dtype=float)
    pressure_area = 0.5 * np.asarray(density) * speed**2 * wing_area_m2
    lift = weight / pressure_area
    drag = np.asarray(motor_power_w) * drive_efficiency / speed / pressure_area
    induced = lift**2 / (np.pi * oswald_efficiency * np.asarray(span_m) ** 2 / wing_area_m2)
    return _checked(
        Polar(wing_area_m2, span_m, np.asarray(drag - induced), oswald_efficiency, largest_lift),
        f"cruise at {with_unit(np.max(speed), 'm/s')} on {np.max(motor_power_w):g} W",
    )


def _checked(polar: Polar, what: str) -> Polar:
    if not np.all(
        (np.asarray(polar.zero_lift_drag) > 0) & (np.asarray(polar.oswald_efficiency) <= 1)
    ):
        raise InputError(
            f"{what} with this wing and mass is better than an ideal wing could do (drag at zero "
            f"lift {np.min(polar.zero_lift_drag):.3f}, Oswald efficiency "
            f"{np.max(polar.oswald_efficiency):.2f}); check speed, power, mass and wing area."
        )
    return polar
