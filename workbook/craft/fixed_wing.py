"""A fixed wing as the builder has it on the bench, without its pack."""

from __future__ import annotations

from dataclasses import dataclass

from workbook.craft.thrust_table import ThrustTable
from workbook.craft.wing import Polar
from workbook.numbers import Number


@dataclass(frozen=True)
class FixedWing:
    """A craft held up by its wing. Any figure may be an array of one shape.

    Attributes:
        name: the craft's name.
        motors: number of motors.
        mass_without_pack_g: everything that flies but the pack and the payload.
        payload_g: what it carries.
        avionics_w: what the electronics draw at rest, propellers off.
        polar: lift and drag: `Polar(...)`, `polar_from_glide(...)` or `polar_from_cruise(...)`.
        propeller_efficiency: in cruise, 0 to 1; 0.55 to 0.65 for small propellers (UIUC Propeller
            Database, best values of 10 and 11 in sizes).
        motor_efficiency: motor and controller, 0 to 1; 0.7 to 0.85 is common practice, no source.
        launch_w_per_kg: electrical power over mass at launch; 150 to 250 is common practice, no
            source. A static full-throttle row of the table is a better figure where it is known.
        table: the motor maker's static thrust table, where there is one. Its current at rest is not
            that of cruise: the propeller unloads in the air.
        max_all_up_mass_g: highest take-off mass, where there is one.
        controller_max_v, controller_max_a: limits of one speed controller, where known.

    Example:
        >>> heron = FixedWing("heron", 1, 1600.0, 250.0, 8.0, Polar(0.4, 2.0, 0.03, 0.8, 1.2))
        >>> heron.drive_efficiency
        0.468
    """

    name: str
    motors: Number
    mass_without_pack_g: Number
    payload_g: Number
    avionics_w: Number
    polar: Polar
    propeller_efficiency: Number = 0.6
    motor_efficiency: Number = 0.78
    launch_w_per_kg: Number = 200.0
    table: ThrustTable | None = None
    max_all_up_mass_g: float | None = None
    controller_max_v: float | None = None
    controller_max_a: float | None = None

    @property
    def drive_efficiency(self) -> Number:
        """Propeller times motor."""
        return self.propeller_efficiency * self.motor_efficiency
