"""Pack arithmetic: S cells in series, P in parallel, what each carries, and at which C-rate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.cell import Cell
from workbook.numbers import FloatArray, Number
from workbook.working import Step, step


@dataclass(frozen=True)
class Pack:
    """S x P cells of one kind, with what holds and joins them. S and P may be arrays.

    Attributes:
        cell: the cell, at its datasheet.
        series: cells in series, S.
        parallel: cells in parallel, P.
        overhead_pct: wrap, strips, spacers as a share of the cells' mass.
        extra_mass_g: leads, connector, balance lead, strap.
        joint_mohm: strips, joints, leads and connector, for the whole pack.
    """

    cell: Cell
    series: Number
    parallel: Number
    overhead_pct: Number = 0.0
    extra_mass_g: Number = 0.0
    joint_mohm: Number = 0.0

    @property
    def cells(self) -> Number:
        """Number of cells, S x P."""
        return self.series * self.parallel

    @property
    def mass_g(self) -> Number:
        """Cells, overhead and the rest."""
        cells_g = self.cells * self.cell.mass_g
        return cells_g * (1.0 + np.asarray(self.overhead_pct) / 100.0)[()] + self.extra_mass_g

    @property
    def capacity_ah(self) -> Number:
        """Rated capacity, P x the cell's (the maker's minimum, IEC 61960-3)."""
        return self.parallel * self.cell.rated_capacity_ah

    @property
    def nominal_v(self) -> Number:
        """S x the cell's nominal voltage."""
        return self.series * self.cell.nominal_v

    @property
    def full_v(self) -> Number:
        """S x the cell's charge voltage."""
        return self.series * self.cell.charge_v

    @property
    def energy_wh(self) -> Number:
        """Nominal voltage x rated capacity, the figure that transport rules use."""
        return self.nominal_v * self.capacity_ah

    @property
    def continuous_a(self) -> Number:
        """P x the cell's continuous discharge current."""
        return self.parallel * self.cell.continuous_a

    @property
    def burst_a(self) -> Number:
        """P x the cell's burst discharge current."""
        return self.parallel * self.cell.burst_a

    @property
    def joint_mohm_per_cell(self) -> Number:
        """The pack's joints as seen by one cell: joints x P / S."""
        return self.joint_mohm * self.parallel / self.series

    def wiring(self, current_a: float) -> Wiring:
        """Voltages and currents in a single pack of plain whole S and P.

        Args:
            current_a: drawn from the pack, 0 or more.

        Source: Kirchhoff's two laws, cells alike.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> found = Pack(find_cell("Bittern"), 3, 2).wiring(12.0)
            >>> found.joint_v.round(1), found.cell_a
            (array([ 0. ,  3.6,  7.2, 10.8]), 6.0)
        """
        return Wiring(self, current_a)

    def rate(self, c_rate: Number, continuous_share_pct: Number = 100.0) -> DischargeRate:
        """A C-rate as amperes, beside the limits of the cell.

        Args:
            c_rate: discharge current over rated capacity, 0 or more.
            continuous_share_pct: share of the continuous current that may be used.

        Source: IEC 61960-3 (It); limits from the cell's datasheet.

        Example:
            >>> from workbook.files.cell_file import find_cell
            >>> rate = Pack(find_cell("Bittern"), 4, 3).rate(2.0)
            >>> round(rate.cell_a, 2), round(rate.pack_a, 2), float(rate.minutes)
            (10.08, 30.24, 30.0)
        """
        return DischargeRate(self, c_rate, continuous_share_pct)


@dataclass(frozen=True, eq=False)
class Wiring:
    """A single pack carrying a current, shared evenly.

    Attributes:
        pack: of plain whole S and P.
        current_a: drawn from it; the same through each parallel group.
    """

    pack: Pack
    current_a: float

    @property
    def joint_v(self) -> FloatArray:
        """Nominal voltage from the minus end to each joint, 0 first, shape (S + 1,)."""
        return self.pack.cell.nominal_v * np.arange(int(self.pack.series) + 1, dtype=float)

    @property
    def cell_a(self) -> float:
        """Current of one cell."""
        return float(self.current_a / self.pack.parallel)

    @property
    def cell_c_rate(self) -> float:
        """The same over the cell's rated capacity, 1/h."""
        return self.cell_a / self.pack.cell.rated_capacity_ah

    def steps(self) -> tuple[Step, ...]:
        """The working of the current of one cell."""
        return (
            step("cell_a", self.cell_a, load=self),
            step("cell_c_rate", self.cell_c_rate, load=self),
        )


@dataclass(frozen=True, eq=False)
class DischargeRate:
    """A C-rate in amperes, and the cell's limits as C-rates. Figures of one shape.

    Attributes:
        pack: the pack.
        c_rate: asked for, 1/h of the rated capacity.
        continuous_share_pct: share of the continuous current that may be used.
    """

    pack: Pack
    c_rate: Number
    continuous_share_pct: Number

    @property
    def cell_a(self) -> Number:
        """Current of one cell."""
        return self.c_rate * self.pack.cell.rated_capacity_ah

    @property
    def pack_a(self) -> Number:
        """Current of the pack."""
        return self.c_rate * self.pack.capacity_ah

    @property
    def minutes(self) -> Number:
        """Until the rated capacity is gone, nothing held back."""
        with np.errstate(divide="ignore"):
            return np.divide(60.0, self.c_rate)[()]

    @property
    def allowed_a(self) -> Number:
        """The share of one cell's continuous current that may be used."""
        return self.pack.cell.continuous_a * self.continuous_share_pct / 100.0

    @property
    def allowed_c(self) -> Number:
        """The same as a C-rate."""
        return self.allowed_a / self.pack.cell.rated_capacity_ah

    @property
    def continuous_c(self) -> float:
        """The cell's continuous current as a C-rate."""
        return self.pack.cell.continuous_a / self.pack.cell.rated_capacity_ah

    @property
    def burst_c(self) -> float:
        """The cell's burst current as a C-rate."""
        return self.pack.cell.burst_a / self.pack.cell.rated_capacity_ah

    @property
    def standard_charge_c(self) -> float:
        """The cell's standard charge current as a C-rate."""
        return self.pack.cell.standard_charge_a / self.pack.cell.rated_capacity_ah

    @property
    def max_charge_c(self) -> float:
        """The cell's highest charge current as a C-rate."""
        return self.pack.cell.max_charge_a / self.pack.cell.rated_capacity_ah

    @property
    def meaning(self) -> str:
        """What a single discharge at that rate means for the cell."""
        if self.c_rate > self.burst_c:
            words = "above the burst current: unsafe at any length, the cell can vent and burn."
        elif self.c_rate > self.continuous_c:
            words = "above the continuous current: for the seconds of a burst only."
        elif self.cell_a > self.allowed_a:
            words = "within the continuous current, but above the share of it that is allowed."
        else:
            words = "within the allowed continuous current."
        return f"{self.cell_a:.1f} A per cell is {words}"

    def steps(self) -> tuple[Step, ...]:
        """The working of a single discharge."""
        cell, c, p = self.pack.cell, self.c_rate, self.pack.parallel
        rated, share = f"{cell.rated_capacity_ah:g} Ah", self.continuous_share_pct
        return (
            step("c_rate_cell_a", self.cell_a, c=c, rated=rated),
            step("pack_a", self.pack_a, c=c, p=p, rated=rated),
            step("emptied_min", self.minutes, c=c),
            step("continuous_c_rate", self.continuous_c, cell=cell, rated=rated),
            step("allowed_a", self.allowed_a, cell=cell, share=share),
        )
