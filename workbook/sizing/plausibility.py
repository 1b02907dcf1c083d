"""What the inputs of a design come to beside each other, so that a slip of unit shows.

Each figure here has a range in which sound designs lie; the ranges stand in `workbook/data/doubts.toml`.
NaN where a figure does not apply.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from workbook.battery.cell import Cell
from workbook.battery.pack import Pack
from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.craft_types import FixedWing
from workbook.craft.rotor import NEWTONS_PER_GRAM_FORCE, figure_of_merit
from workbook.craft.thrust_table import METRES_PER_INCH, ThrustTable
from workbook.numbers import FloatArray
from workbook.sizing.design import Design, MissionPhase

NAN = float("nan")

LIGHTEST_DISC_G_CM2 = 1.2
"""Least full-throttle thrust over swept area of any propeller that a builder would fit, 12 kg/m2: large slow ones
of 24 to 30 in have 17 to 20. Common practice, no source."""

CUBE_DRAG = 1.05
"""Drag coefficient of a cube, a face ahead. Source: Hoerner, Fluid-Dynamic Drag, 1965, chapter 3, from memory."""


def _share_pct(part: float, whole: float) -> float:
    return 100.0 * part / whole if whole > 0 else NAN


def _over(rated: float | None, most: float) -> float:
    return NAN if rated is None or not most > 0 else rated / most


@dataclass(frozen=True)
class CellInputs:
    """A cell's figures beside each other.

    Attributes:
        cell: the cell.
    """

    cell: Cell

    @property
    def wh_per_kg(self) -> float:
        """Nominal voltage times rated capacity, over mass."""
        cell = self.cell
        return 1000.0 * cell.nominal_v * cell.rated_capacity_ah / cell.mass_g

    @property
    def wh_per_l(self) -> float:
        """The same over the volume of a round cell; NaN without its size.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> round(CellInputs(find_cell("Bittern")).wh_per_l)
            732
        """
        cell = self.cell
        litres = np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm / 1e6
        return cell.nominal_v * cell.rated_capacity_ah / litres if litres > 0 else NAN

    @property
    def continuous_c(self) -> float:
        """Continuous current over rated capacity."""
        return self.cell.continuous_a / self.cell.rated_capacity_ah

    @property
    def round_continuous_c(self) -> float:
        """The same of a round cell; NaN of a pouch."""
        return NAN if self.cell.cell_format == "pouch" else self.continuous_c

    @property
    def continuous_a_per_g(self) -> float:
        """Continuous current over mass."""
        return self.cell.continuous_a / self.cell.mass_g

    @property
    def burst_over_continuous(self) -> float:
        """Burst over continuous current."""
        return self.cell.burst_a / self.cell.continuous_a

    @property
    def max_charge_c(self) -> float:
        """Highest charge current over rated capacity."""
        return self.cell.max_charge_a / self.cell.rated_capacity_ah

    @property
    def standard_charge_c(self) -> float:
        """Standard charge current over rated capacity."""
        return self.cell.standard_charge_a / self.cell.rated_capacity_ah

    @property
    def middle_mohm(self) -> float:
        """Resistance half way, as plans use it."""
        return float(self.cell.model.resistance_at(0.5))

    @property
    def mohm_ah(self) -> float:
        """That resistance times rated capacity: alike for cells of one make, of any size."""
        return self.middle_mohm * self.cell.rated_capacity_ah

    @property
    def round_mohm_ah(self) -> float:
        """The same of a round cell; NaN of a pouch."""
        return NAN if self.cell.cell_format == "pouch" else self.mohm_ah

    @property
    def stops_early_v(self) -> float:
        """How far above the cutoff the curve ends that stops first; NaN without curves."""
        ends = [curve.voltage_v[-1] for curve in self.cell.curves]
        return max(ends) - self.cell.cutoff_v if ends else NAN

    @property
    def stated_mohm_ah(self) -> float:
        """The stated resistance times rated capacity."""
        return self.cell.resistance_mohm * self.cell.rated_capacity_ah


@dataclass(frozen=True)
class TableInputs:
    """A thrust table's figures beside each other.

    Attributes:
        table: the table.
    """

    table: ThrustTable

    @property
    def largest_m(self) -> float:
        """Diameter that the propeller's name tells, else the largest that anyone would fit for this thrust."""
        named = self.table.propeller_diameter_m
        if named is not None:
            return named
        area_cm2 = self.table.top_thrust_gf / LIGHTEST_DISC_G_CM2
        return float(np.sqrt(4.0 * area_cm2 / np.pi)) / 100.0

    @property
    def propeller_in(self) -> float:
        """That diameter in inches."""
        return self.largest_m / METRES_PER_INCH

    @cached_property
    def _merit(self) -> FloatArray:
        return figure_of_merit(self.table.thrust_gf, self.table.power_w, self.largest_m)

    @property
    def best_merit(self) -> float:
        """Ideal power of that propeller over the power of the row that is best.

        Example:
            >>> from workbook.files.thrust_table_file import read_thrust_tables
            >>> text = "Propeller,Thrust (g),Power (W),Voltage (V)\\n10x4.5,300,25,15\\n10x4.5,600,75,15"
            >>> round(TableInputs(read_thrust_tables(text).tables[0]).best_merit, 2)
            0.57
        """
        return float(np.nanmax(self._merit))

    @property
    def best_gf_w(self) -> float:
        """Thrust per watt of that row."""
        row = int(np.nanargmax(self._merit))
        return float(self.table.thrust_gf[row] / self.table.power_w[row])

    @property
    def thrust_coefficient(self) -> float:
        """C_T of the table's last row by the propeller that its name tells; NaN without either or without speed.

        Example:
            >>> from workbook.files.thrust_table_file import read_thrust_tables
            >>> text = "Propeller,Thrust (g),Power (W),Voltage (V),RPM\\n10x4.5,300,25,15,4600\\n10x4.5,600,75,15,6500"
            >>> round(TableInputs(read_thrust_tables(text).tables[0]).thrust_coefficient, 3)
            0.098
        """
        table = self.table
        if table.propeller_diameter_m is None:
            return NAN
        speed, thrust = table.speed_rpm[-1] / 60.0, table.top_thrust_gf * NEWTONS_PER_GRAM_FORCE
        return float(thrust / (STANDARD_DENSITY_KG_M3 * speed**2 * table.propeller_diameter_m**4))

    @property
    def power_gap_pct(self) -> float:
        """Largest gap between watts and volts times amperes in the upper half of the table, percent of watts.

        The lower half is left out: there the printed rounding is a large share.
        """
        table = self.table
        upper = table.thrust_gf >= 0.5 * table.top_thrust_gf
        gap = np.abs(table.power_w - table.voltage_v * table.current_a)[upper]
        return float(np.nanmax(100.0 * gap / table.power_w[upper]))


@dataclass(frozen=True)
class Inputs:
    """A design's figures beside each other, and beside what was computed from them.

    Attributes:
        design: a single design.
        point: its operating point.
    """

    design: Design[Any]
    point: Any

    @property
    def cell(self) -> CellInputs:
        """Of the cell of the pack."""
        return CellInputs(self.design.pack.cell)

    @property
    def beyond_curves(self) -> float:
        """Current of a cell at the end of steady flight over the highest that its curves cover; NaN without."""
        return float(self.point.end.steady_a) / self.design.pack.cell.model.highest_a

    @property
    def reference(self) -> CellInputs | None:
        """Of the reference pack; None without one."""
        today = self.design.today
        return None if today is None else CellInputs(today.pack.cell)

    @cached_property
    def table(self) -> TableInputs | None:
        """Of the thrust table; None without one."""
        table = self.design.craft.table
        return None if table is None else TableInputs(table)

    @property
    def wing(self) -> FixedWing | None:
        """The craft where it is a fixed wing."""
        craft = self.design.craft
        return craft if isinstance(craft, FixedWing) else None

    @property
    def rotors(self) -> float:
        """Motors of any craft."""
        craft = self.design.craft
        return float(craft.motors if isinstance(craft, FixedWing) else craft.rotors)

    @property
    def full_thrust_gf(self) -> float:
        """Thrust of the table's last row, times motors; NaN without a table."""
        table = self.design.craft.table
        return NAN if table is None else table.top_thrust_gf * self.rotors

    @property
    def craft_of_thrust_pct(self) -> float:
        """Mass of a multirotor without its pack over that thrust."""
        mass_g = float(self.design.craft.mass_without_pack_g)
        return NAN if self.wing else _share_pct(mass_g, self.full_thrust_gf)

    @property
    def craft_of_pack_pct(self) -> float:
        """Mass of the craft without its pack over the pack's."""
        return _share_pct(
            float(self.design.craft.mass_without_pack_g), float(self.design.pack.mass_g)
        )

    @property
    def payload_of_craft_pct(self) -> float:
        """Payload over the craft's mass; NaN without one."""
        craft = self.design.craft
        if craft.payload_g == 0:
            return NAN
        return _share_pct(float(craft.payload_g), float(craft.mass_without_pack_g))

    @property
    def _body_m2(self) -> float:
        """Face of the cube whose mass is the all-up mass at 1000 kg/m3; NaN of a wing."""
        body_m3 = float(self.point.all_up_mass_g) / 1e6
        return NAN if self.wing else float(np.cbrt(body_m3) ** 2)

    @property
    def drag_of_mass(self) -> float:
        """Drag area over all-up mass in kg to the power of 2/3, as bodies of one shape and density have it."""
        stated_m2 = float(getattr(self.design.craft, "drag_area_m2", NAN))
        return stated_m2 / (100.0 * self._body_m2)

    @property
    def usual_drag_m2(self) -> float:
        """Drag area of a cube of 600 kg/m3, the middle of what small multirotors have; common practice, no source."""
        return CUBE_DRAG * self._body_m2 / float(np.cbrt(0.6**2))

    @property
    def take_off_limit_share(self) -> float:
        """Highest take-off mass over all-up mass."""
        most_g = self.design.craft.max_all_up_mass_g
        return NAN if most_g is None else most_g / float(self.point.all_up_mass_g)

    @property
    def thrust_to_weight(self) -> float:
        """Thrust of the table's last row, times motors, over all-up mass."""
        return self.full_thrust_gf / float(self.point.all_up_mass_g)

    @property
    def controller_of_table(self) -> float:
        """One controller's current over the highest of the thrust table; NaN without either."""
        return self._over_table(self.design.craft.controller_max_a, "current_a")

    @property
    def motor_a_of_table(self) -> float:
        """One motor's rated current over the same."""
        return self._over_table(self.design.craft.motor_max_a, "current_a")

    @property
    def motor_w_of_table(self) -> float:
        """One motor's rated power over the highest of the thrust table."""
        return self._over_table(self.design.craft.motor_max_w, "power_w")

    def _over_table(self, rated: float | None, column: str) -> float:
        table = self.design.craft.table
        if rated is None or table is None:
            return NAN
        return rated / float(np.max(getattr(table, column)))

    @property
    def controller_of_pack_v(self) -> float:
        """The controllers' highest voltage over that of the full pack."""
        return _over(self.design.craft.controller_max_v, float(self.design.pack.full_v))

    @property
    def power_module_of_pack_v(self) -> float:
        """The power module's highest voltage over that of the full pack."""
        return _over(self.design.craft.power_module_max_v, float(self.design.pack.full_v))

    @property
    def regulator_of_pack_v(self) -> float:
        """The regulator's highest voltage over the same."""
        return _over(self.design.craft.regulator_max_v, float(self.design.pack.full_v))

    @property
    def payload_of_pack_v(self) -> float:
        """The payload's highest voltage over the same."""
        return _over(self.design.craft.payload_max_v, float(self.design.pack.full_v))

    @property
    def connector_of_pack(self) -> float:
        """The connector's current over all that its pack can give for seconds."""
        return _over(self.design.craft.connector_max_a, float(self.design.one_pack.burst_a))

    @property
    def power_module_of_pack(self) -> float:
        """The power module's current over the same."""
        return _over(self.design.craft.power_module_max_a, float(self.design.pack.burst_a))

    @property
    def avionics_of_power_pct(self) -> float:
        """What the electronics draw over the power of steady flight."""
        return _share_pct(float(self.point.avionics_w), float(self.point.power_w))

    @property
    def extra_of_cells_pct(self) -> float:
        """Leads and connector over the mass of the cells; NaN where none is stated."""
        pack = self.design.pack
        cells_g = float(pack.cells) * pack.cell.mass_g
        return NAN if pack.extra_mass_g == 0 else _share_pct(float(pack.extra_mass_g), cells_g)

    @property
    def beside_cells_pct(self) -> float:
        """All of the pack that is not cells, over the mass of the cells."""
        cells_g = float(self.design.pack.cells) * self.design.pack.cell.mass_g
        return _share_pct(float(self.design.pack.mass_g) - cells_g, cells_g)

    @property
    def overhead_pct(self) -> float:
        """Overhead of the pack; NaN where none is stated."""
        return float(self.design.pack.overhead_pct) or NAN

    @property
    def joints_of_cells_pct(self) -> float:
        """Joints over the resistance of the cells of the pack."""
        pack = self.design.pack
        return _share_pct(float(pack.joint_mohm_per_cell), self.cell.middle_mohm)

    @property
    def apart_resistance_pct(self) -> float:
        """How far two packs' resistances are apart; NaN where they are said to be alike."""
        return float(self.design.joining.apart_resistance_pct) or NAN

    @property
    def apart_capacity_pct(self) -> float:
        """How far two packs' charges are apart; NaN where they are said to be alike."""
        return float(self.design.joining.apart_capacity_pct) or NAN

    @property
    def wanted_of_endurance_pct(self) -> float:
        """Flight time asked for over that of the plan; NaN where none is asked."""
        wanted = self.design.flight.wanted_min
        return NAN if wanted is None else _share_pct(float(wanted), float(self.point.endurance_min))

    @property
    def mission_s(self) -> float:
        """Time in the air of the phases whose time or way and speed are stated."""
        return sum(_airborne_s(phase) for phase in self.design.mission)

    @property
    def mission_of_endurance_pct(self) -> float:
        """That time over the flight time of the plan; NaN without a mission, or where it cannot be told."""
        if not self.design.mission:
            return NAN
        return _share_pct(self.mission_s, 60.0 * float(self.point.endurance_min))

    @property
    def wanted_of_range_pct(self) -> float:
        """Distance asked for over the range of the plan; NaN where none is asked."""
        wanted = self.design.flight.wanted_km
        if wanted is None or self.wing is None:
            return NAN
        return _share_pct(float(wanted), float(self.point.range_km))

    @property
    def reserve_pct(self) -> float:
        """Charge that stays in the pack."""
        return float(self.design.flight.reserve_pct)

    @property
    def wing_loading_g_dm2(self) -> float:
        """All-up mass over wing area; NaN of a multirotor."""
        if self.wing is None:
            return NAN
        return float(self.point.all_up_mass_g / self.wing.polar.wing_area_m2) / 100.0

    @property
    def airframe_g_dm2(self) -> float:
        """Mass without the pack over wing area; NaN of a multirotor."""
        if self.wing is None:
            return NAN
        return float(self.wing.mass_without_pack_g / self.wing.polar.wing_area_m2) / 100.0

    @property
    def cycles(self) -> float:
        """Cycles done; NaN of a new pack."""
        return float(self.design.flight.pack_cycles) or NAN


def _airborne_s(phase: MissionPhase) -> float:
    """How long a phase is in the air; NaN where its airspeed is the craft's own."""
    if phase.kind == "rest":
        return 0.0
    if phase.duration_s is not None:
        return phase.duration_s
    if phase.height_m is not None and phase.rate_m_s:
        return phase.height_m / phase.rate_m_s
    if phase.distance_m is not None and phase.airspeed_m_s:
        return phase.distance_m / phase.airspeed_m_s
    return NAN


@dataclass(frozen=True)
class PhaseInputs:
    """The figures of one phase of a mission.

    Attributes:
        phase: the phase.
        craft_g: the craft's mass without its pack.
    """

    phase: MissionPhase
    craft_g: float

    @property
    def powered_s(self) -> float | None:
        """How long a phase lasts that is flown for a time."""
        return None if self.phase.kind in ("rest", "launch") else self.phase.duration_s

    @property
    def rest_s(self) -> float | None:
        """How long the craft stands by."""
        return self.phase.duration_s if self.phase.kind == "rest" else None

    @property
    def launch_s(self) -> float | None:
        """How long a launch takes."""
        return self.phase.duration_s if self.phase.kind == "launch" else None

    @property
    def wind_behind_m_s(self) -> float:
        """Wind from behind; NaN where there is none."""
        return max(-self.phase.headwind_m_s, 0.0) or NAN

    @property
    def wind_behind_of_airspeed(self) -> float:
        """The same over the airspeed; NaN where that is the craft's own."""
        return self.wind_behind_m_s / (self.phase.airspeed_m_s or NAN)

    @property
    def spacing_of_width(self) -> float:
        """Spacing of the legs over the width of the field; NaN of any other phase."""
        return _over(self.phase.spacing_m, self.phase.width_m or NAN)

    @property
    def drop_of_craft_pct(self) -> float:
        """Payload dropped over the craft's mass; NaN where none is."""
        return NAN if self.phase.drop_g == 0 else _share_pct(self.phase.drop_g, self.craft_g)


@dataclass(frozen=True)
class BenchInputs:
    """What is at the bench beside the pack that it is for.

    Attributes:
        bench: the `[bench]` section of a design file.
        pack: the pack.
    """

    bench: Any
    pack: Pack

    def _of_cell(self, side_mm: float | None) -> float:
        return _over(side_mm, self.pack.cell.diameter_mm)

    def _of_pack(self, side_mm: float | None) -> float:
        cell = self.pack.cell
        cells_mm3 = float(self.pack.cells) * np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm
        return _over(side_mm, float(np.cbrt(cells_mm3)))

    @property
    def length_of_cell(self) -> float:
        """Length of the bay over the cell's diameter; NaN of a pouch, or without a bay."""
        return self._of_cell(self.bench.bay_length_mm)

    @property
    def width_of_cell(self) -> float:
        """Its width over the same."""
        return self._of_cell(self.bench.bay_width_mm)

    @property
    def height_of_cell(self) -> float:
        """Its height over the same."""
        return self._of_cell(self.bench.bay_height_mm)

    @property
    def length_of_pack(self) -> float:
        """Length of the bay over the side of a cube of all cells."""
        return self._of_pack(self.bench.bay_length_mm)

    @property
    def width_of_pack(self) -> float:
        """Its width over the same."""
        return self._of_pack(self.bench.bay_width_mm)

    @property
    def height_of_pack(self) -> float:
        """Its height over the same."""
        return self._of_pack(self.bench.bay_height_mm)

    @property
    def gap_mm(self) -> float:
        """Gap between cans; NaN where they touch."""
        return float(self.bench.holder_gap_mm) or NAN

    @property
    def padding_mm(self) -> float:
        """Foam around the pack; NaN without."""
        return float(self.bench.padding_mm) or NAN

    @property
    def holder_of_cell_pct(self) -> float:
        """A holder's mass for each cell over the cell's; NaN without holders."""
        return _share_pct(float(self.bench.holder_g), self.pack.cell.mass_g) or NAN

    @property
    def charger_of_pack(self) -> float:
        """The charger's highest current over that of the pack."""
        return _over(
            self.bench.charger_max_a, float(self.pack.parallel) * self.pack.cell.max_charge_a
        )

    @property
    def charger_of_standard(self) -> float:
        """The charger's highest current over the standard charge current of the pack."""
        standard_a = float(self.pack.parallel) * self.pack.cell.standard_charge_a
        return _over(self.bench.charger_max_a, standard_a)
