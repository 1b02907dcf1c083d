"""A multirotor on its pack as a mission flies it: power by momentum theory, the wake of its rotors, all they give."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from workbook.craft import rotor
from workbook.craft.air import density_kg_m3
from workbook.craft.climb import Stream, StreamPoint, at_airspeed, stream_of
from workbook.craft.flight_power import FlightPower, MultirotorPower
from workbook.errors import InputError
from workbook.numbers import STANDARD_GRAVITY_M_S2, FloatArray, Number
from workbook.sizing.hover_point import HoverPoint
from workbook.sizing.mission import AtMost, MissionModel
from workbook.sizing.performance import climb_rates


@dataclass(frozen=True, eq=False)
class MultirotorMission(MissionModel[HoverPoint]):
    """A multirotor on its pack, for a mission."""

    @cached_property
    def power(self) -> FlightPower:
        """By thrust table and momentum theory, allowances put in."""
        load, craft, flight = self.point.load, self.point.load.craft, self.point.load.flight
        flown = replace(craft, flight_factor=load.flight_power_factor, avionics_w=load.avionics_w)
        density = density_kg_m3(flight.field_height_m, flight.air_temperature_c)
        return MultirotorPower(flown, density, float(self.full_power_w(0.0)))

    def _in_stream(self, stream: Stream, airspeed_m_s: Number) -> StreamPoint:
        """One motor at the throttle cap in a stream, at each state of the pack."""
        load = self.point.load
        throttle_gf = self.states.full_throttle.thrust_gf / load.thrust_kept
        ratio = load.density_ratio
        return at_airspeed(load.drive, stream, airspeed_m_s, throttle_gf, density_ratio=ratio)

    @property
    def speed_caution(self) -> str:
        """Momentum theory knows no limit of blades or tilt."""
        return (
            f"Forward flight by momentum theory with a drag area of {self.point.load.craft.drag_area_m2:g} m²: "
            "the drag of the blades is left out, so fast flight costs more than shown and the best "
            "speeds are too high; keep to speeds that you have flown."
        )

    def airspeed_m_s(self, kind: str) -> float:
        """Up and down on the spot; any flight ahead states its airspeed."""
        if kind in ("climb", "descent"):
            return 0.0
        raise InputError(f"airspeed_m_s is missing; a multirotor needs it for {kind}.")

    def needs(
        self, mass_g: FloatArray, airspeed_m_s: FloatArray, climb_m_s: FloatArray
    ) -> dict[str, FloatArray]:
        """Thrust for weight and drag, climb, and sink against the wake of its own rotors.

        Source: the vortex ring from about half the induced speed of hover on, Leishman, Principles of
            Helicopter Aerodynamics, chapter 2; as left behind above twice that speed ahead, see
            `workbook.craft.flight_power`.
        """
        load, craft = self.point.load, self.point.load.craft
        diameter = craft.table.propeller_diameter_m
        up, down = np.maximum(climb_m_s, 0.0), np.maximum(-climb_m_s, 0.0)
        if diameter is None:
            return dict(climb_m_s=up, sink_m_s=down)
        weight = mass_g / 1000 * STANDARD_GRAVITY_M_S2
        area = rotor.disc_area_m2(diameter, craft.rotors)
        density = density_kg_m3(load.flight.field_height_m, load.flight.air_temperature_c)
        ahead = rotor.forward(weight, area, airspeed_m_s, craft.drag_area_m2, density)
        induced = rotor.hover(weight, area, density).induced_m_s
        swept = airspeed_m_s > 2.0 * induced
        return dict(
            thrust_gf=ahead.thrust_n / rotor.NEWTONS_PER_GRAM_FORCE,
            stream_m_s=airspeed_m_s * np.sin(np.radians(ahead.tilt_deg)) + up,
            climb_m_s=up,
            sink_m_s=down,
            wake_m_s=np.where(swept, np.inf, rotor.VORTEX_RING_FROM * induced),
        )

    def at_most(
        self,
        depth_of_discharge: FloatArray,
        airspeed_m_s: FloatArray,
        climb_m_s: FloatArray,
        stream_m_s: FloatArray,
    ) -> AtMost:
        """Full power at rest, in a straight climb that of propellers unloaded by it; all rotors' thrust in a stream
        and the fastest climb straight up, within the burst current."""
        load, states = self.point.load, self.states
        rate_m_s = climb_rates(states, self.point).burst_m_s
        unloads = (climb_m_s > 0) & (airspeed_m_s <= 0)
        full_w = self.full_power_w(depth_of_discharge)
        stream = stream_of(load.craft.table.propeller)
        if stream is None:
            unknown = np.full_like(depth_of_discharge, np.nan)
            climbs = self.between(depth_of_discharge, rate_m_s)
            return AtMost(np.where(unloads, np.nan, full_w), unknown, *climbs)
        one = self._in_stream(stream, np.where(unloads, climb_m_s, stream_m_s))
        within_gf = np.minimum(one.thrust_gf * load.thrust_kept, states.available_thrust_gf)
        most = self.between(depth_of_discharge, within_gf * load.motors, rate_m_s)
        if unloads.any():
            unloaded_w = np.asarray(one.power_w * load.motors + load.avionics_w)
            full_w = np.where(unloads, self.between(depth_of_discharge, unloaded_w)[0], full_w)
        return AtMost(full_w, *most)
