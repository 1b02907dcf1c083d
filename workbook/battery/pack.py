"""Pack arithmetic: S cells in series, P in parallel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from workbook.battery.cell import Cell
from workbook.numbers import Number


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
