"""Lesson 2: cells stepped into series and parallel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import ipywidgets as W
from typing_extensions import override

from workbook.battery.cell import Cell
from workbook.battery.pack import Wiring
from workbook.lessons.learner import cell_choice
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import plain
from workbook.sizing.design import Design
from workbook.sizing.figures import pack_steps
from workbook.widgets.controls import NumberControl, controls
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.widgets.wiring_picture import WiringPicture
from workbook.working import Step


@dataclass(frozen=True)
class SeriesParallelResult:
    """What the figure shows: the design with that pack, what is drawn from it, voltages and currents."""

    design: Design
    current_a: float
    wiring: Wiring


class SeriesParallel(LessonView):
    """Step S and P; the drawing, the table of what multiplies what, and the figures follow."""

    carries = ("cell", "series", "parallel")

    @override
    def build(self) -> W.Widget:
        self.inputs = {
            "cell": cell_choice(self.design),
            **controls("series", "parallel", design=self.design),
            "current_a": NumberControl.of("pack_current_a", 20),
        }
        self.picture, self.table, self.figures = WiringPicture(), Table(), KeyFigures()
        return self.side_by_side([*self.inputs.values(), self.figures], [self.picture, self.table])

    @override
    def compute(
        self, cell: Cell, series: int, parallel: int, current_a: float
    ) -> SeriesParallelResult:
        design = self.design.changed(cell=cell, series=series, parallel=parallel)
        return SeriesParallelResult(design, current_a, design.pack.wiring(current_a))

    @override
    def render(self, result: SeriesParallelResult) -> None:
        pack, found = plain(result.design.pack), result.wiring
        cell = pack.cell
        self.picture.update(
            found.joint_v.tolist(),
            pack.parallel,
            result.current_a,
            found.cell_a,
            over=found.cell_a > cell.continuous_a,
        )
        s, p = f"x {pack.series} (S)", f"x {pack.parallel} (P)"
        drawn = f"{found.cell_c_rate:.2f} 1/h"
        self.table.update(
            ["", "one cell", "", "pack"],
            [
                ["voltage, nominal", f"{cell.nominal_v:g} V", s, f"{pack.nominal_v:.1f} V"],
                ["voltage, full", f"{cell.charge_v:g} V", s, f"{pack.full_v:.1f} V"],
                [
                    "capacity, rated",
                    f"{cell.rated_capacity_ah:g} Ah",
                    p,
                    f"{pack.capacity_ah:.2f} Ah",
                ],
                ["current, continuous", f"{cell.continuous_a:g} A", p, f"{pack.continuous_a:g} A"],
                ["current drawn", f"{found.cell_a:.2f} A", p, f"{result.current_a:g} A"],
                ["C-rate drawn", drawn, "the same", drawn],
            ],
            "What adds up, and how",
        )
        self.figures.show(
            Figure("pack voltage", f"{pack.nominal_v:.1f}", "V"),
            Figure("capacity", f"{pack.capacity_ah:.2f}", "Ah"),
            Figure("energy", f"{pack.energy_wh:.0f}", "Wh"),
            Figure("cells", f"{pack.cells}"),
            Figure("mass", f"{pack.mass_g:.0f}", "g"),
            Figure("current of a cell", f"{found.cell_a:.2f}", "A"),
        )

    @override
    def working(self, result: SeriesParallelResult) -> Iterable[Step]:
        return [*pack_steps(result.design), *result.wiring.steps()]
