"""A fixed wing on its pack as a mission flies it: power by the drag polar, stall, turns, all the pull there is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from workbook.craft.air import density_kg_m3
from workbook.craft.flight_power import FlightPower, WingPower
from workbook.craft.rotor import NEWTONS_PER_GRAM_FORCE
from workbook.craft.wing import level_flight, wing_speeds
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray
from workbook.sizing.mission import AtMost, MissionModel
from workbook.sizing.wing_point import WingPoint


@dataclass(frozen=True, eq=False)
class WingMission(MissionModel[WingPoint]):
    """A fixed wing on its pack, for a mission."""

    @cached_property
    def power(self) -> FlightPower:
        """By the drag polar, allowances put in."""
        load = self.point.load
        flown = replace(
            load.craft,
            motor_efficiency=load.craft.motor_efficiency / load.allowances.power_factor,
            avionics_w=load.avionics_w,
        )
        density = density_kg_m3(load.flight.field_height_m, load.flight.air_temperature_c)
        return WingPower(flown, density, float(self.full_power_w(0.0)))

    def airspeed_m_s(self, kind: str) -> float:
        """Slow in loiter and climb, with the stall margin kept; else the plan's cruise."""
        slow = kind in ("climb", "loiter")
        return float(self.point.climb_speed_m_s if slow else self.point.cruise_m_s)

    def needs(
        self, mass_g: FloatArray, airspeed_m_s: FloatArray, climb_m_s: FloatArray
    ) -> dict[str, FloatArray]:
        """Stall speed, power of a turn, and pull for drag and climb."""
        load = replace(self.point.load, all_up_mass_g=mass_g)
        polar, taken = load.craft.polar, load.allowances.power_factor
        level = level_flight(polar, mass_g, airspeed_m_s, load.density)
        up_n = mass_g / 1000 * STANDARD_GRAVITY_M_S2 * np.maximum(climb_m_s, 0.0) / airspeed_m_s
        return dict(
            stall_m_s=wing_speeds(polar, mass_g, load.density).stall_m_s,
            turn_w=load.turn_w(airspeed_m_s),
            thrust_gf=(level.drag_n * taken + up_n) / NEWTONS_PER_GRAM_FORCE,
            stream_m_s=airspeed_m_s,
            dive_m_s=np.maximum(-climb_m_s, 0.0),
        )

    def at_most(
        self,
        depth_of_discharge: FloatArray,
        airspeed_m_s: FloatArray,
        climb_m_s: FloatArray,
        stream_m_s: FloatArray,
    ) -> AtMost:
        """By the static table and the propeller's size, unloaded at that airspeed, the pack sagging as it does
        under full power at rest."""
        ahead = self.states.in_flight(stream_m_s)
        power_w, pull_gf = self.between(depth_of_discharge, ahead.power_w, ahead.thrust_gf)
        return AtMost(power_w, pull_gf, np.full_like(depth_of_discharge, np.nan))
