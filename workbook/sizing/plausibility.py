"""What the inputs of a design come to beside each other, so that a slip of unit shows.

Which figure is looked at beside which, and the range in which sound designs lie, stands in
`workbook/data/doubts.toml`; here is what it takes more than a path to. NaN where a figure does not apply.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
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


@dataclass(frozen=True, eq=False)
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
    def round_capacity_ah(self) -> float:
        """Rated capacity of a round cell; NaN of a pouch."""
        return NAN if self.cell.cell_format == "pouch" else self.cell.rated_capacity_ah

    @property
    def middle_mohm(self) -> float:
        """Resistance half way, as plans use it."""
        return float(self.cell.model.resistance_at(0.5))

    @property
    def round_mohm_ah(self) -> float:
        """That resistance times rated capacity, alike for cells of one make, of any size; NaN of a pouch."""
        return self.middle_mohm * self.round_capacity_ah

    @property
    def stops_early_v(self) -> float:
        """How far above the cutoff the curve ends that stops first; NaN without curves."""
        ends = [curve.voltage_v[-1] for curve in self.cell.curves]
        return max(ends) - self.cell.cutoff_v if ends else NAN

    @property
    def stated_mohm_ah(self) -> float:
        """The stated resistance times rated capacity."""
        return self.cell.resistance_mohm * self.cell.rated_capacity_ah


@dataclass(frozen=True, eq=False)
class TableInputs:
    """A thrust table's figures beside each other; `table_inputs` keeps them, for a table stays while designs change.

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

    @cached_property
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

    @cached_property
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

    @cached_property
    def power_gap_pct(self) -> float:
        """Largest gap between watts and volts times amperes in the upper half of the table, percent of watts.

        The lower half is left out: there the printed rounding is a large share.
        """
        table = self.table
        upper = table.thrust_gf >= 0.5 * table.top_thrust_gf
        gap = np.abs(table.power_w - table.voltage_v * table.current_a)[upper]
        return float(np.nanmax(100.0 * gap / table.power_w[upper]))


@lru_cache(maxsize=64)
def table_inputs(table: ThrustTable) -> TableInputs:
    """A thrust table's figures; asked again for the same table, it answers from memory."""
    return TableInputs(table)


@dataclass(frozen=True, eq=False)
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
    def reference(self) -> CellInputs | None:
        """Of the reference pack; None without one."""
        today = self.design.today
        return None if today is None else CellInputs(today.pack.cell)

    @property
    def table(self) -> TableInputs | None:
        """Of the thrust table; None without one."""
        table = self.design.craft.table
        return None if table is None else table_inputs(table)

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
    def full_lift_gf(self) -> float:
        """That thrust where it is a multirotor's; NaN of a wing."""
        return NAN if self.wing else self.full_thrust_gf

    @property
    def wing_dm2(self) -> float:
        """Wing area; NaN of a multirotor."""
        return 100.0 * float(self.wing.polar.wing_area_m2) if self.wing else NAN

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
    def cells_g(self) -> float:
        """Mass of all cells."""
        return float(self.design.pack.cells) * self.design.pack.cell.mass_g

    @property
    def beside_cells_g(self) -> float:
        """Mass of all of the pack that is not cells."""
        return float(self.design.pack.mass_g) - self.cells_g

    @property
    def mission_s(self) -> float:
        """Time in the air of the phases whose time or way and speed are stated; NaN without a mission."""
        mission = self.design.mission
        return sum(map(_airborne_s, mission)) if mission else NAN


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


@dataclass(frozen=True, eq=False)
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


@dataclass(frozen=True, eq=False)
class BenchInputs:
    """What is at the bench beside the pack that it is for.

    Attributes:
        bench: the `[bench]` section of a design file.
        pack: the pack.
    """

    bench: Any
    pack: Pack

    @property
    def cube_mm(self) -> float:
        """Side of a cube that has the volume of all cells; 0 where their size is not known."""
        cell = self.pack.cell
        cells_mm3 = float(self.pack.cells) * np.pi / 4.0 * cell.diameter_mm**2 * cell.height_mm
        return float(np.cbrt(cells_mm3))

    @property
    def standard_charge_a(self) -> float:
        """Standard charge current of the pack."""
        return float(self.pack.parallel) * self.pack.cell.standard_charge_a

    @property
    def max_charge_a(self) -> float:
        """Highest charge current of the pack."""
        return float(self.pack.parallel) * self.pack.cell.max_charge_a
