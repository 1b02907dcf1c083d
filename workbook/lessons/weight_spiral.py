"""Lesson 6: every added string is lifted too, so endurance rises, flattens and falls."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.battery.cell import Cell
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import FloatArray
from workbook.sheet.text import result_text
from workbook.sizing.limits import stops
from workbook.sizing.spiral import Spiral, spiral
from workbook.units import with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import controls
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

MOST_PARALLEL = 24


class WeightSpiral(LessonView):
    """Minutes against cells in parallel, the paper curve beside, and what the last string gained."""

    kept_inputs = ("parallel",)

    @override
    def build(self) -> W.Widget:
        """The curve that turns over, and below it its slope."""
        self.inputs = controls(
            "parallel",
            "cell_mass_g",
            "mass_without_pack_g",
            "avionics_w",
            design=self.design,
            cell_mass_g=self.design.pack.cell.mass_g,
        )
        self.key, self.notices = KeyFigures(), Notices()
        across = "cells in parallel, P"
        self.minutes = LineChart("Minutes against cells in parallel", across, "endurance, min")
        self.gains = LineChart("What the last string gained", across, "min", height_px=180)
        return self.side_by_side(
            [*self.inputs.values(), self.key, self.notices], [self.minutes, self.gains]
        )

    @override
    def compute(self, parallel: int, cell_mass_g: float, **figures: float) -> Spiral:
        """The operating point of the design as it is set, and both curves."""
        cell = _with_mass(self.design.pack.cell, cell_mass_g)
        design = self.design.changed(parallel=parallel, cell=cell, **figures)
        curve = spiral(design, max(MOST_PARALLEL, parallel))
        all_up_mass_g = float(curve.all_up_mass_g[int(parallel) - 1])
        design.craft.table.rows_around(all_up_mass_g / design.craft.rotors)
        return curve

    @override
    def render(self, result: Spiral) -> None:
        """The curves, the figures, and where the flight is longest."""
        parallel, best = result.design.pack.parallel, result.best_parallel
        minutes, gained = result.here_min, result.gained_here_min
        points = [Point(f"P = {parallel}", parallel, minutes)]
        if best != parallel:
            points.append(Point("longest", best, result.longest_min, "alternative"))
        x_range = (0.0, result.parallel[-1])
        double = Vertical("pack = 2 x rest", result.ideal_parallel, "faint")
        self.minutes.update(
            [
                Line("this craft", result.parallel, result.endurance_min),
                Line("on paper, mass^1.5", result.parallel, result.ideal_min, "alternative"),
            ],
            points=points,
            verticals=[double] if result.ideal_parallel < x_range[1] else [],
            x_range=x_range,
            y_range=_range_from_zero(result.endurance_min, result.ideal_min),
            finding=self._finding(result),
        )
        point = result.point
        self.key.show(
            Figure.of("endurance_min", minutes),
            Figure("last string gained", _signed(gained), "min"),
            Figure.in_unit("all-up mass", point.all_up_mass_g, "g", 0),
            Figure("pack over the rest", with_unit(result.pack_over_rest, "", 2)),
            Figure.of(
                "thrust_to_weight_end", point.end.thrust_to_weight, label="thrust to weight, end"
            ),
        )
        self.notices.update(stops(result.design, point), "Do not fly it")
        self.gains.update(
            [Line("gained", result.parallel[1:], result.gained_min[1:])],
            levels=[Level("nothing gained", 0.0, "faint")],
            points=[Point(_signed(gained, "min"), parallel, gained)] if parallel > 1 else [],
            x_range=x_range,
        )

    @staticmethod
    def _finding(result: Spiral) -> str:
        parallel, best = result.design.pack.parallel, result.best_parallel
        gained = result.gained_here_min
        change = f"{'gains' if gained >= 0 else 'costs'} {with_unit(abs(gained), 'min', 1)}"
        edge = best == result.parallel[-1]
        reach = (
            "beyond this chart"
            if edge
            else f"P = {best:.0f} ({result_text('endurance_min', result.longest_min)})"
        )
        return (
            f"String {parallel} {change} and adds {with_unit(result.string_g, 'g', 0)}. The flight is longest at {reach}; on paper where the pack "
            f"weighs twice the rest, at P = {result.ideal_parallel:.1f}."
        )

    @override
    def working(self, result: Spiral) -> tuple[Step, ...]:
        """Mass, minutes, gain, and the closed form."""
        return result.working()


@lru_cache(maxsize=8)
def _with_mass(cell: Cell, mass_g: float) -> Cell:
    """The cell with another mass; the same one for the same mass, whose model is then known."""
    return replace(cell, mass_g=mass_g)


def _signed(value: float, unit: str = "") -> str:
    return f"{value:+.1f} {unit}".rstrip().replace("-", "−") if np.isfinite(value) else "-"


def _range_from_zero(*curves: FloatArray) -> tuple[float, float]:
    """From nothing to the next full ten minutes."""
    return 0.0, 10.0 * float(np.ceil(np.nanmax(np.concatenate(curves)) / 10.0))
