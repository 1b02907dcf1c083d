"""Lesson 2: cells stepped into series and parallel."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as W
from typing_extensions import override

from workbook.battery.cell import Cell
from workbook.battery.pack import Wiring
from workbook.lessons.carry import cells
from workbook.lessons.lesson_view import LessonView
from workbook.sizing.design import Design
from workbook.sizing.working import pack_steps
from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.widgets.wiring_picture import WiringPicture
from workbook.working import Step

MOST_SERIES, MOST_PARALLEL = 14, 10


def cell_choice(design: Design) -> ChoiceControl:
    """The workbook's cells, the learner's own and the design's, the design's chosen."""
    own = design.pack.cell
    known = {c.name: c for c in cells().values()} | {own.name: own}
    names = {f"{c.name} ({c.cell_format}, {c.rated_capacity_ah:g} Ah)": c for c in known.values()}
    return ChoiceControl("cell", names, own)


@dataclass(frozen=True)
class SeriesParallelResult:
    """What the figure shows: the design with that pack, what is drawn from it, voltages and currents."""

    design: Design
    current_a: float
    wiring: Wiring


class SeriesParallel(LessonView):
    """Step S and P; the drawing, the table of what multiplies what, and the figures follow."""

    slug = "series_parallel"

    @override
    def build(self) -> W.Widget:
        pack = self.design.pack
        self.inputs = {
            "cell": cell_choice(self.design),
            "series": NumberControl(
                "series, S", "", min(pack.series, MOST_SERIES), 1, MOST_SERIES, 1, whole=True
            ),
            "parallel": NumberControl(
                "parallel, P",
                "",
                min(pack.parallel, MOST_PARALLEL),
                1,
                MOST_PARALLEL,
                1,
                whole=True,
            ),
            "current_a": NumberControl("pack current", "A", 20, 0, 100, 1, most=500),
        }
        self.picture, self.table, self.figures = WiringPicture(), Table(), KeyFigures()
        return self.side_by_side([*self.inputs.values(), self.figures], [self.picture, self.table])

    @override
    def compute(
        self, cell: Cell, series: float, parallel: float, current_a: float
    ) -> SeriesParallelResult:
        design = self.design.changed(cell=cell, series=int(series), parallel=int(parallel))
        return SeriesParallelResult(design, current_a, design.pack.wiring(current_a))

    @override
    def render(self, result: SeriesParallelResult) -> None:
        pack, found, cell = result.design.pack, result.wiring, result.design.pack.cell
        self.picture.update(
            [float(v) for v in found.joint_v],
            int(pack.parallel),
            result.current_a,
            found.cell_a,
            over=found.cell_a > cell.continuous_a,
        )
        s, p = f"x {pack.series} (S)", f"x {pack.parallel} (P)"
        self.table.update(
            ["", "one cell", "", "pack"],
            [
                ["voltage, nominal", f"{cell.nominal_v:g} V", s, f"{float(pack.nominal_v):.1f} V"],
                ["voltage, full", f"{cell.charge_v:g} V", s, f"{float(pack.full_v):.1f} V"],
                ["capacity, rated", f"{cell.rated_capacity_ah:g} Ah", p, f"{float(pack.capacity_ah):.2f} Ah"],
                ["current, continuous", f"{cell.continuous_a:g} A", p, f"{float(pack.continuous_a):g} A"],
                ["current drawn", f"{found.cell_a:.2f} A", p, f"{result.current_a:g} A"],
                ["C-rate drawn", f"{found.cell_c_rate:.2f} 1/h", "the same", f"{found.cell_c_rate:.2f} 1/h"],
            ],
            "What adds up, and how",
        )  # fmt: skip
        self.figures.update(
            [
                Figure("pack voltage", f"{float(pack.nominal_v):.1f}", "V"),
                Figure("capacity", f"{float(pack.capacity_ah):.2f}", "Ah"),
                Figure("energy", f"{float(pack.energy_wh):.0f}", "Wh"),
                Figure("cells", f"{int(pack.cells)}"),
                Figure("mass", f"{float(pack.mass_g):.0f}", "g"),
                Figure("current of a cell", f"{found.cell_a:.2f}", "A"),
            ]
        )

    @override
    def working(self, result: SeriesParallelResult) -> Iterable[Step]:
        return [*pack_steps(result.design), *result.wiring.steps()]

    @override
    def keeps(self, result: SeriesParallelResult) -> Mapping[str, Any]:
        pack = result.design.pack
        return {
            "cell": pack.cell.name,
            "series": int(pack.series),
            "parallel": int(pack.parallel),
        }
