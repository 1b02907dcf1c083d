"""Lesson 7: the voltage sags, the current rises, and the flight ends where the sag meets a line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.battery.derating import resistance_at_temperature
from workbook.battery.discharge import SagCurve
from workbook.lessons.lesson_view import LessonView
from workbook.sheet.text import figure_text
from workbook.sizing.operating_point import operate
from workbook.sizing.sagging_flight import SaggingFlight, sagging_flight, sagging_steps
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

COLD_C = (10.0, 0.0, -10.0)


class LandingVoltage(LessonView):
    """Voltage at rest and under load against charge, the landing line, and the current beside."""

    slug = "landing_voltage"

    @override
    def build(self) -> W.Widget:
        """The curve that meets a line, the current below it, and the thresholds."""
        flight = self.design.flight
        watts = round(float(operate(self.design).power_w), 1)
        outside = np.isnan(watts)
        if outside:
            watts = round(float(self.design.pack.energy_wh), 1)
        self.inputs = {
            "power_w": NumberControl(
                "power", "W", watts, 10, round(5 * watts, -1), 5, least=1, most=100_000
            ),
            "resistance_factor": NumberControl(
                "resistance x", "", 1.0, 0.8, 4.0, 0.05, least=0.1, most=20
            ),
            "landing_v": NumberControl(
                "landing, loaded", "V", float(flight.landing_v), 2.5, 3.8, 0.01, least=2, most=4.2
            ),
            "reserve_pct": NumberControl(
                "reserve", "%", float(flight.reserve_pct), 0, 50, 1, most=90
            ),
        }  # fmt: skip
        cold = ", ".join(
            f"x {float(factor):.1f} at {celsius:.0f} °C".replace("-", "−")
            for celsius, factor in zip(COLD_C, resistance_at_temperature(np.array(COLD_C)), strict=True)
        )  # fmt: skip
        begins = (
            f"The thrust table does not reach your hover, so the power begins at {watts:.0f} W, an hour's worth. "
            if outside
            else ""
        )
        self.cold = W.HTML(
            f'<div class="wb-finding">{begins}A fresh cell at 25 °C is x 1; {cold}; an old cell is x 1.5 '
            "(common practice, no source).</div>"
        )
        self.key, self.notices = KeyFigures(), Notices()
        self.volts = LineChart(
            "The sag meets a line", "charge taken from the pack, Ah", "cell voltage, V",
            width_px=750, height_px=235, label_room_px=165, big_px=(1150, 420),
        )  # fmt: skip
        self.amperes = LineChart(
            "Watts stay, amperes rise", "charge taken from the pack, Ah", "pack, A",
            width_px=750, height_px=175, label_room_px=165, big_px=(1150, 420),
        )  # fmt: skip
        self.settings = Table()
        return W.VBox(
            [
                self.side_by_side(
                    [*self.inputs.values(), self.cold, self.key, self.notices],
                    [self.volts, self.amperes],
                ),
                self.settings,
            ]
        )

    @override
    def compute(self, **values: float) -> SaggingFlight:
        """The flight of this pack under this load."""
        return sagging_flight(self.design.pack, **values)

    @override
    def render(self, result: SaggingFlight) -> None:
        """Both charts, the key figures and the thresholds."""
        run, curve, parallel = result.run, result.curve, float(result.pack.parallel)
        self.key.update(
            [
                _figure("flight", result.flight_min, "min", 1),
                _figure("by Ah over A", result.naive_min, "min", 1),
                _figure("cell at the end, loaded", float(run.end_v), "V", 2),
                _figure("at rest", float(run.end_open_circuit_v), "V", 2),
            ]
        )
        end = float(run.charge_ah) * parallel
        lines = [
            Line("at rest", _whole(curve, parallel), curve.rest_v, "faint"),
            Line("loaded", _whole(curve, parallel), curve.loaded_v),
        ]
        if result.factor != 1.0:
            fresh = result.fresh
            lines.insert(
                1, Line("loaded, fresh at 25 °C", _whole(fresh, parallel), fresh.loaded_v, "today")
            )
        upright = [Vertical("reserve", result.reserve_from_ah, "caution")]
        if result.collapses:
            upright.append(Vertical("collapse", result.collapse_ah, "limit"))
        floor = min(2.4, float(result.landing_v) - 0.1)
        self.volts.update(
            lines,
            levels=[Level("landing, loaded", float(result.landing_v), "limit")],
            verticals=upright,
            points=[Point("ends here", end, float(run.end_v))],
            x_range=(0.0, float(curve.charge_ah[-1]) * parallel),
            y_range=(floor, 4.4),
            finding=result.text(),
        )
        cell = result.pack.cell
        self.amperes.update(
            [Line("current", _whole(curve, parallel), curve.current_a * parallel)],
            levels=[
                Level("as at take-off", result.start_a, "faint"),
                Level("continuous limit", cell.continuous_a * parallel, "limit"),
            ],
            points=[Point(figure_text(result.end_a, "A", 1), end, result.end_a)],
            x_range=(0.0, float(curve.charge_ah[-1]) * parallel),
            y_range=(0.0, result.highest_shown_a),
            finding=self._current_text(result),
        )
        self._show_thresholds(result)

    @staticmethod
    def _current_text(result: SaggingFlight) -> str:
        if not np.isfinite(result.end_a):
            return f"No current gives {result.power_w:.0f} W: the voltage collapses at once."
        return (
            f"{result.start_a:.1f} A at take-off, {result.end_a:.1f} A at the end, for the same "
            f"{result.power_w:.0f} W. Ah over A takes {result.start_a:.1f} A throughout: "
            f"{result.naive_min:.1f} min, where there are {result.flight_min:.1f}."
        )

    def _show_thresholds(self, result: SaggingFlight) -> None:
        found = result.thresholds
        self.settings.update(
            (
                "",
                "cell loaded, V",
                "pack loaded, V",
                "cell at rest, V",
                "used, mAh",
                "rule of thumb",
            ),
            [
                (
                    t.name,
                    figure_text(float(t.loaded_v), "", 2),
                    figure_text(float(t.pack_loaded_v), "", 1),
                    figure_text(float(t.rest_v), "", 2),
                    figure_text(1000 * float(t.used_ah), "", 0),
                    t.rule,
                )
                for t in (found.alarm, found.return_home, found.land, found.cut)
            ],
            "Where to set alarm and failsafe: this pack's own sag beside the rule of thumb",
            words=(5,),
        )
        self.notices.update(result.cautions(), "Caution")

    @override
    def working(self, result: SaggingFlight) -> tuple[Step, ...]:
        """From watts to the voltage at the end, and the minutes both ways."""
        return sagging_steps(result)

    @override
    def keeps(self, result: SaggingFlight) -> Mapping[str, Any]:
        """Landing voltage and reserve."""
        return {"landing_v": float(result.landing_v), "reserve_pct": result.reserve_pct}


def _figure(label: str, value: float, unit: str, decimals: int) -> Figure:
    if np.isnan(value):
        return Figure(label, "none")
    return Figure(label, figure_text(value, "", decimals), unit)


def _whole(curve: SagCurve, parallel: float) -> Any:
    return curve.charge_ah * parallel
