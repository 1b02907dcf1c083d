"""The craft as the builder has it on the bench, without its pack: what any has, and the two types."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.craft.thrust_table import ThrustTable
from workbook.craft.wing import Polar
from workbook.numbers import FloatArray, Number
from workbook.working import Step, step


@dataclass(frozen=True, kw_only=True)
class Craft:
    """What any craft has. Any figure may be an array of one shape.

    Attributes:
        name: the craft's name.
        mass_without_pack_g: everything that flies but the pack and the payload.
        payload_g: what it carries.
        avionics_w: what the electronics draw at rest, propellers off.
        max_all_up_mass_g: highest take-off mass, where there is one.
        controller_max_v: highest pack voltage of the speed controllers, where known.
        controller_max_a: highest continuous current of one speed controller, where known.
        motor_max_a, motor_max_w: highest current and electrical power of one motor, where known.
        connector_max_a: highest current of the pack's connector, where known.
        power_module_max_a, power_module_max_v: highest current and voltage of the power module or current
            sensor, where known.
        power_module_off_pct: how far its reading of current may be off, where known.
        regulator_min_v, regulator_max_v: input voltage of the regulator that feeds the electronics, where known.
        payload_min_v, payload_max_v: input voltage of a payload fed from the pack, where there is one.
    """

    name: str
    mass_without_pack_g: Number
    payload_g: Number
    avionics_w: Number
    max_all_up_mass_g: float | None = None
    controller_max_v: float | None = None
    controller_max_a: float | None = None
    motor_max_a: float | None = None
    motor_max_w: float | None = None
    connector_max_a: float | None = None
    power_module_max_a: float | None = None
    power_module_max_v: float | None = None
    power_module_off_pct: float | None = None
    regulator_min_v: float | None = None
    regulator_max_v: float | None = None
    payload_min_v: float | None = None
    payload_max_v: float | None = None

    def all_up_mass_g(self, pack_mass_g: Number) -> Number:
        """Mass of everything that flies, with a pack of some mass.

        Example:
            >>> craft = Craft(name="c", mass_without_pack_g=1200.0, payload_g=200.0, avionics_w=8.0)
            >>> craft.all_up_mass_g(600.0)
            2000.0
        """
        return self.mass_without_pack_g + self.payload_g + pack_mass_g


@dataclass(frozen=True, kw_only=True)
class Multirotor(Craft):
    """A craft held up by its rotors.

    Attributes:
        rotors: number of rotors, one motor each.
        table: the motor maker's thrust table for the propeller fitted.
        flight_factor: watts in flight over watts on the test bench at equal thrust
            (arms under the propellers, control work, dirty air); 1.05 to 1.25 is common
            practice, no source.
        drag_area_m2: drag coefficient times frontal area of the body, for forward flight; 0.01 to
            0.06 is common practice, no source.
    """

    rotors: Number
    table: ThrustTable
    flight_factor: Number = 1.0
    drag_area_m2: Number = 0.03

    def hover(self, all_up_mass_g: Number, density_ratio: Number = 1.0) -> HoverPower:
        """What the craft draws in hover, from its thrust table.

        Args:
            all_up_mass_g: pack and payload included, above 0.
            density_ratio: of the air, over that of the thrust table.

        Source: in hover thrust equals weight; power from the maker's table.

        Example:
            >>> row = np.array([400.0, 500.0, 1000.0])
            >>> blank = row * np.nan
            >>> table = ThrustTable("m", "p", row, row / 200, row * 0 + 20, row / 10, blank, blank)
            >>> craft = Multirotor(
            ...     name="four",
            ...     rotors=4,
            ...     mass_without_pack_g=1200.0,
            ...     payload_g=200.0,
            ...     table=table,
            ...     avionics_w=10.0,
            ...     flight_factor=1.1,
            ... )
            >>> asked = craft.hover(craft.all_up_mass_g(600.0))
            >>> print(
            ...     asked.thrust_per_motor_gf,
            ...     asked.power_per_motor_w.round(3),
            ...     asked.power_w.round(3),
            ... )
            500.0 50.0 230.0
        """
        mass_g = np.asarray(all_up_mass_g, dtype=float)
        thrust_gf = np.asarray(mass_g / self.rotors)
        motor_w = self.table.power_at_thrust(thrust_gf, density_ratio)
        return HoverPower(self, mass_g, thrust_gf, motor_w)


@dataclass(frozen=True, eq=False)
class HoverPower:
    """What hover asks for. Figures of one shape; NaN outside the thrust table.

    Attributes:
        craft: the craft.
        all_up_mass_g: craft, payload and pack.
        thrust_per_motor_gf: of each motor.
        power_per_motor_w: of one motor, on the test bench.
    """

    craft: Multirotor
    all_up_mass_g: FloatArray
    thrust_per_motor_gf: FloatArray
    power_per_motor_w: FloatArray

    @property
    def motors_w(self) -> FloatArray:
        """All motors in flight, flight factor included."""
        return np.asarray(self.power_per_motor_w * self.craft.rotors * self.craft.flight_factor)[()]

    @property
    def power_w(self) -> FloatArray:
        """What the pack must give: motors and electronics."""
        return np.asarray(self.motors_w + self.craft.avionics_w)[()]

    @property
    def efficiency_gf_w(self) -> FloatArray:
        """Thrust over power of one motor."""
        return np.asarray(self.thrust_per_motor_gf / self.power_per_motor_w)[()]

    @property
    def thrust_to_weight(self) -> FloatArray:
        """The table's last row times motors, over all-up mass."""
        most_gf = self.craft.table.top_thrust_gf * self.craft.rotors
        return np.asarray(most_gf / self.all_up_mass_g)[()]

    def rows(self) -> tuple[int, int]:
        """Indices of the thrust table's two rows around a single hover.

        Raises:
            InputError: the thrust is outside the table.
        """
        return self.craft.table.rows_around(float(self.thrust_per_motor_gf))

    def steps(self) -> tuple[Step, ...]:
        """The working of a single hover.

        Raises:
            InputError: the thrust is outside the table.
        """
        craft, table, thrust = self.craft, self.craft.table, self.thrust_per_motor_gf
        rule, rows = table.power_words(float(thrust))
        pack_g = self.all_up_mass_g - craft.all_up_mass_g(0.0)
        motor_w, n, factor = self.power_per_motor_w, craft.rotors, craft.flight_factor
        return (
            step("hover_all_up_mass_g", self.all_up_mass_g, craft=craft, pack_g=pack_g),
            step("thrust_per_motor_gf", thrust, point=self, n=n),
            step("hover_power_of_motor_w", motor_w, rule=rule, rows=rows),
            step("hover_efficiency_gf_w", self.efficiency_gf_w, thrust=thrust, motor_w=motor_w),
            step(
                "hover_power_of_motors_w",
                self.power_w,
                motor_w=motor_w,
                n=n,
                factor=factor,
                craft=craft,
            ),
        )


@dataclass(frozen=True, kw_only=True)
class FixedWing(Craft):
    """A craft held up by its wing.

    Attributes:
        motors: number of motors.
        polar: lift and drag: `Polar(...)`, `polar_from_glide(...)` or `polar_from_cruise(...)`.
        propeller_efficiency: in cruise, 0 to 1; 0.55 to 0.65 for small propellers (UIUC Propeller
            Database, best values of 10 and 11 in sizes).
        motor_efficiency: motor and controller, 0 to 1; 0.7 to 0.85 is common practice, no source.
        launch_w_per_kg: electrical power over mass at launch; 150 to 250 is common practice, no
            source. A static full-throttle row of the table is a better figure where it is known.
        table: the motor maker's static thrust table, where there is one. Its current at rest is not
            that of cruise: the propeller unloads in the air.
    """

    motors: Number
    polar: Polar
    propeller_efficiency: Number = 0.6
    motor_efficiency: Number = 0.78
    launch_w_per_kg: Number = 200.0
    table: ThrustTable | None = None

    @property
    def drive_efficiency(self) -> Number:
        """Propeller times motor."""
        return self.propeller_efficiency * self.motor_efficiency
