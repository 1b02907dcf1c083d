"""The working of a fixed wing's answer, in the order in which a builder would do it by hand."""

from __future__ import annotations

import numpy as np

from workbook.craft.air import density_kg_m3
from workbook.craft.craft_types import FixedWing
from workbook.craft.wing import level_flight
from workbook.numbers import STANDARD_GRAVITY_M_S2
from workbook.sizing.design import Design
from workbook.sizing.wing_point import WingPoint
from workbook.sizing.working import CIRCUIT, DATASHEET, mass_step, pack_steps, run_steps
from workbook.working import Step

POLAR = "drag polar; Anderson, Introduction to Flight, chapter 6 (from memory)"


def working(design: Design[FixedWing], point: WingPoint) -> tuple[Step, ...]:
    """The working of a single design."""
    craft, pack, flight = design.craft, design.pack, design.flight
    polar = craft.polar
    weight = float(point.all_up_mass_g) / 1000 * STANDARD_GRAVITY_M_S2
    density = float(density_kg_m3(flight.field_height_m, flight.air_temperature_c))
    area, lift = float(polar.wing_area_m2), float(polar.largest_lift)
    steps = [
        *pack_steps(design),
        mass_step(design, point),
        Step(
            "stall_m_s", "stall speed", "sqrt(2 W / (air density x wing area x largest C_L))",
            f"sqrt(2 x {weight:.2f} N / ({density:.3f} kg/m3 x {area:g} m2 x {lift:g}))",
            float(point.speeds.stall_m_s), "m/s", "lift equals weight",
        ),
    ]  # fmt: skip
    if np.isnan(point.power_w):
        return tuple(steps)
    speed, power = float(point.cruise_m_s), float(point.power_w)
    level = level_flight(polar, float(point.all_up_mass_g), speed, density)
    drag, c_lift = float(level.drag_n), float(level.lift_coefficient)
    launch, end = point.full.full_power, point.end
    steps += [
        Step(
            "cruise_lift_over_drag", "lift over drag in cruise", "C_L / (C_D0 + C_L^2 / (pi e AR))",
            f"{c_lift:.3f} / ({float(polar.zero_lift_drag):.4f} + {c_lift:.3f}^2 / (pi x "
            f"{float(polar.oswald_efficiency):.2f} x {float(polar.aspect_ratio):.2f}))",
            float(point.lift_over_drag), "", POLAR,
        ),
        Step(
            "cruise_power_w", "cruise power", "W x V / (L/D) / (propeller x motor efficiency) + avionics",
            f"{weight:.2f} N x {speed:.2f} m/s / {weight / drag:.2f} / ({float(craft.propeller_efficiency):g} x "
            f"{float(craft.motor_efficiency):g}) + {float(craft.avionics_w):g} W",
            power, "W", "drag x speed over the efficiencies; these are measured or common practice, no source",
        ),
        *run_steps(design, point, "cruise"),
        Step(
            "range_km", "range in still air", "cruise speed x endurance", f"{speed:.2f} m/s x {float(point.endurance_min):.1f} min x 60 / 1000",
            float(point.range_km), "km", "arithmetic",
        ),
        Step(
            "cruise_energy_wh_km", "energy per distance", "cruise power / (3.6 x cruise speed)",
            f"{power:.1f} W / (3.6 x {speed:.2f} m/s)", float(point.energy_wh_km), "Wh/km", "arithmetic",
        ),
        Step(
            "launch_cell_current_a", "cell current at launch", "launch power / cells / cell voltage under it",
            f"{float(launch.power_w):.0f} W / {float(pack.cells):g} / {float(launch.cell_v):.3f} V", float(launch.cell_a), "A",
            CIRCUIT + ("; static thrust table" if craft.table is not None else "; watts by mass, common practice, no source"),
        ),
        Step(
            "climb_continuous_m_s", "rate of climb at continuous current, end of flight",
            "(pack power - avionics - level flight) x efficiency / W",
            f"of {float(end.continuous.power_w):.0f} W at {float(end.continuous.cell_a):.1f} A per cell, flown at {float(point.climb_speed_m_s):.1f} m/s",
            float(end.continuous.climb_m_s), "m/s", f"spare power lifts the weight; current from {DATASHEET}",
        ),
    ]  # fmt: skip
    return tuple(steps)
