"""Lesson 3: a cell's curve family, slid to one's own current, and the resistance between two curves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.battery.cell import Cell, CurveReading, OwnCurve
from workbook.lessons.cell_fitter import CellFitter
from workbook.lessons.learner import cell_choice
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import plain
from workbook.sizing.craft_types import operate
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl, controls
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step


@dataclass(frozen=True)
class DatasheetResult:
    """What the figure shows: the cell, its curve at the current, the family read at one charge."""

    cell: Cell
    curve: OwnCurve
    reading: CurveReading


class Datasheet(LessonView):
    """Slide the current along the family; move the reading along the charge."""

    carries = ("cell", "landing_v")

    @override
    def build(self) -> W.Widget:
        take_off_a = plain(operate(self.design).run.start_a)
        amps = round(take_off_a, 1) if np.isfinite(take_off_a) else 5.0
        self.inputs = {
            "cell": cell_choice(self.design),
            "current_a": NumberControl.of("cell_current_a", amps),
            **controls(landing_v=self.club.landing_v, charge_ah=2.0),
        }
        self.family = LineChart(
            "The datasheet's family, and your current in it", "charge taken, Ah", "voltage, V"
        )
        self.slope = LineChart(
            "All curves at one charge: the slope is the resistance", "current, A", "voltage, V"
        )
        self.figures, self.notices = KeyFigures(), Notices()
        return self.side_by_side(
            [*self.inputs.values(), self.figures, self.notices], [self.family, self.slope]
        )

    @cached_property
    def fitter(self) -> CellFitter:
        """A cell of one's own from points of its datasheet, to be shown in a cell of its own."""
        fitter = CellFitter()
        self.beside = (*self.beside, fitter)
        return fitter

    @override
    def compute(
        self, cell: Cell, current_a: float, landing_v: float, charge_ah: float
    ) -> DatasheetResult:
        return DatasheetResult(cell, cell.curve_at(current_a, landing_v), cell.read_at(charge_ah))

    @override
    def render(self, result: DatasheetResult) -> None:
        cell, curve, reading = result.cell, result.curve, result.reading
        charge, energy = curve.run.charge_ah, curve.run.energy_wh
        self.family.show_dots(
            np.concatenate([c.capacity_ah for c in cell.room_curves]),
            np.concatenate([c.voltage_v for c in cell.room_curves]),
        )
        amps = ", ".join(f"{c.current_a:g}" for c in cell.room_curves)
        self.family.update(
            [Line("", curve.charge_ah, curve.voltage_v)],
            levels=[Level(f"landing, {curve.landing_v:g} V", curve.landing_v)],
            verticals=[Vertical(f"read at {reading.charge_ah:g} Ah", reading.charge_ah, "faint")],
            points=[Point(f"at {curve.current_a:g} A", charge, curve.voltage_v[-1])],
            x_range=(0.0, 1.05 * cell.datasheet_model.capacity_ah),
            y_range=(2.4, 4.3),
            finding=f"Dots: the datasheet's points at {amps} A, the highest curve at the lowest current. At "
            f"{curve.current_a:g} A down to {curve.landing_v:g} V the cell gives {charge:.2f} Ah and {energy:.1f} Wh.",
        )
        self._render_slope(result)
        self.figures.show(
            Figure("charge", f"{charge:.2f}", "Ah"),
            Figure("of the rated charge", f"{100 * curve.of_rated:.0f}", "%"),
            Figure("energy", f"{energy:.1f}", "Wh"),
            Figure("of the label's energy", f"{100 * curve.of_label_energy:.0f}", "%"),
            Figure("resistance", f"{reading.resistance_mohm:.1f}", "mohm"),
            Figure("mean voltage", f"{curve.mean_v:.2f}", "V"),
        )
        said = [cell.datasheet_model.trust(curve.current_a), cell.datasheet_model.caution]
        if curve.current_a > cell.continuous_a:
            said.append(
                f"{curve.current_a:g} A is above the cell's continuous current, {cell.continuous_a:g} A."
            )
        self.notices.update([s for s in dict.fromkeys(said) if s], "How far to trust it")

    def _render_slope(self, result: DatasheetResult) -> None:
        curve, reading = result.curve, result.reading
        rest_v, r_mohm = result.cell.model_at(reading.charge_ah)
        lowest, highest = reading.current_a[0], reading.current_a[-1]
        top = 1.08 * max(highest, curve.current_a)
        ends = np.array([0.0, top])
        step = next(s for s in result.cell.reading_steps(reading, curve) if s.key == "own_v")
        self.slope.show_dots(reading.current_a, reading.voltage_v, size=60)
        self.slope.update(
            [Line("all curves", ends, rest_v - ends * r_mohm / 1000.0, "alternative")],
            points=[
                Point(f"at {curve.current_a:g} A", curve.current_a, step.result),
                Point("at rest", 0.0, rest_v, "today"),
            ],
            x_range=(0.0, top),
            finding=f"At {reading.charge_ah:g} Ah, {highest:g} A instead of {lowest:g} A cost "
            f"{1000 * (reading.voltage_v[0] - reading.voltage_v[-1]):.0f} mV: "
            f"{reading.resistance_mohm:.1f} mohm from these two curves, {r_mohm:.1f} mohm from all. The datasheet "
            f"states {result.cell.resistance_mohm:g} mohm.",
        )

    @override
    def working(self, result: DatasheetResult) -> Iterable[Step]:
        return result.cell.reading_steps(result.reading, result.curve)
