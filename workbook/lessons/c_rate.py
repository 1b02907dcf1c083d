"""Lesson 4: C-rate against the cell's limits, and a charge from start to full."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.battery.cell import Cell
from workbook.battery.charge import ChargePlan, Charger
from workbook.battery.pack import DischargeRate, Pack
from workbook.lessons.lesson_view import LessonView
from workbook.lessons.series_parallel import MOST_PARALLEL, cell_choice
from workbook.sizing.operating_point import operate
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl
from workbook.widgets.ruler_picture import Limit, Ruler, RulerPicture
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step


@dataclass(frozen=True)
class CRateResult:
    """What the figure shows: the pack, the discharge asked for, the charge planned and its setting."""

    pack: Pack
    ask: DischargeRate
    charge: ChargePlan
    charge_c: float
    charger: Charger
    temperature_c: float


class CRate(LessonView):
    """Two rulers for one cell and its pack, and the course of a charge."""

    slug = "c_rate"

    @override
    def build(self) -> W.Widget:
        pack, rules = self.design.pack, self.club
        hover_c = float(operate(self.design).c_rate)
        self.inputs = {
            "cell": cell_choice(self.design),
            "parallel": NumberControl(
                "parallel, P", "", min(pack.parallel, MOST_PARALLEL), 1, MOST_PARALLEL, 1, whole=True
            ),
            "discharge_c": NumberControl(
                "discharge", "C", round(hover_c, 2) if np.isfinite(hover_c) else 1.0,
                0.1, 10, 0.05, least=0.01, most=50,
            ),
            "charge_c": NumberControl("charge", "C", rules.charge_c_rate, 0.1, 2, 0.05, least=0.02, most=10),
            "left_pct": NumberControl("charge left", "%", rules.reserve_pct, 0, 80, 1, most=95),
            "cell_v": NumberControl("charge to", "V", 4.2, 3.9, 4.2, 0.01, most=4.3),
            "charger_a": NumberControl("charger", "A", 20, 1, 40, 0.5, least=0.1, most=100),
            "charger_w": NumberControl("charger", "W", 400, 20, 1000, 10, least=5, most=5000),
            "temperature_c": NumberControl("cells are at", "°C", 20, -15, 55, 1, least=-40, most=80),
        }  # fmt: skip
        self.rulers = RulerPicture("The same C for a cell and its pack; amperes are not", 2)
        size_px = {"width_px": 376, "height_px": 205, "label_room_px": 78}
        self.current = LineChart("Current into the pack", "time, min", "current, A", **size_px)
        self.voltage = LineChart("Voltage of a cell", "time, min", "voltage, V", **size_px)
        self.figures, self.notices = KeyFigures(), Notices()
        charts = W.HBox([self.current, self.voltage], layout=W.Layout(flex_flow="row wrap"))
        for chart in (self.current, self.voltage):
            chart.layout.flex, chart.layout.width = "0 0 auto", "380px"
        return self.side_by_side(
            [*self.inputs.values(), self.figures], [self.rulers, charts, self.notices]
        )

    @override
    def set_big(self, big: bool) -> None:
        super().set_big(big)
        for chart in (self.current, self.voltage):
            chart.layout.width = "560px" if big else "380px"

    @override
    def compute(
        self,
        cell: Cell,
        parallel: float,
        discharge_c: float,
        charge_c: float,
        left_pct: float,
        cell_v: float,
        charger_a: float,
        charger_w: float,
        temperature_c: float,
    ) -> CRateResult:
        pack = self.design.changed(cell=cell, parallel=int(parallel)).pack
        charger = Charger(charger_a, charger_w, max(6, int(pack.series)))
        return CRateResult(
            pack,
            pack.rate(discharge_c, self.club.continuous_share_pct),
            charger.plan(
                pack,
                current_a=charge_c * pack.capacity_ah,
                cell_v=cell_v,
                left_pct=left_pct,
                temperature_c=temperature_c,
            ),
            charge_c,
            charger,
            temperature_c,
        )

    @override
    def render(self, result: CRateResult) -> None:
        pack, ask, plan = result.pack, result.ask, result.charge
        cell = pack.cell
        self.rulers.update(
            [
                Ruler(
                    "discharge",
                    float(ask.c_rate),
                    [
                        Limit("club's", float(ask.allowed_c)),
                        Limit("continuous", ask.continuous_c),
                        Limit("burst", ask.burst_c),
                    ],
                    max(10.0, 1.1 * ask.burst_c),
                ),
                Ruler(
                    "charge",
                    result.charge_c,
                    [Limit("standard", ask.standard_charge_c), Limit("highest", ask.max_charge_c)],
                    2.0,
                ),
            ],
            cell.rated_capacity_ah,
            int(pack.parallel),
            f"Discharge at {float(ask.c_rate):g} C: {float(ask.pack_a):.1f} A of the pack. {ask.meaning}",
        )
        self._render_charge(result)
        to_80 = "–" if np.isnan(plan.minutes_80) else f"{plan.minutes_80:.0f}"
        self.figures.update(
            [
                Figure("discharge, pack", f"{float(ask.pack_a):.1f}", "A"),
                Figure("a cell", f"{float(ask.cell_a):.2f}", "A"),
                Figure("charge, pack", f"{plan.current_a:.1f}", "A"),
                Figure("to 80 %", to_80, "min"),
                Figure("to full", f"{plan.minutes_full:.0f}", "min"),
            ]
        )
        self.notices.update([n.what for n in plan.notices], "Cautions of this charge")

    def _render_charge(self, result: CRateResult) -> None:
        course, plan = result.charge.course(), result.charge
        marks = [] if np.isnan(plan.minutes_80) else [Vertical("80 %", plan.minutes_80, "faint")]
        end, cell = float(course.time_min[-1]), result.pack.cell
        self.current.update(
            [Line("", course.time_min, course.pack_a)],
            levels=[Level(f"end, {plan.end_a:.2g} A", plan.end_a, "alternative")],
            verticals=marks,
            points=[Point("full", end, float(course.pack_a[-1]))],
            x_range=(0.0, 1.02 * end),
            y_range=(0.0, 1.15 * plan.current_a),
            finding=f"{plan.current_a:.1f} A ({plan.bound_by}; the charger gives {result.charger.max_a:g} A and "
            f"{result.charger.max_w:g} W at most), then fading; full after {plan.minutes_full:.0f} min.",
        )
        self.voltage.update(
            [Line("", course.time_min, course.cell_v)],
            levels=[Level(f"{plan.cell_v:.2f} V", plan.cell_v, "limit")],
            verticals=marks,
            x_range=(0.0, 1.02 * end),
            y_range=(2.8, 4.4),
            finding=f"It climbs to {plan.cell_v:.2f} V a cell, {plan.pack_v:.1f} V for the pack, and is "
            f"held there. Cells are at {result.temperature_c:g} °C; {cell.min_charge_temperature_c:g} to {cell.max_charge_temperature_c:g} °C is allowed.",
        )

    @override
    def working(self, result: CRateResult) -> Iterable[Step]:
        steps = result.ask.steps()
        return [*steps, *result.charge.steps()]

    @override
    def keeps(self, result: CRateResult) -> Mapping[str, Any]:
        return {
            "cell": result.pack.cell.name,
            "parallel": int(result.pack.parallel),
            "continuous_share_pct": self.club.continuous_share_pct,
        }
