"""Lesson 7: the voltage sags, the current rises, and the flight ends where the sag meets a line."""

from __future__ import annotations

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.battery.derating import resistance_at_temperature
from workbook.lessons.lesson_view import LessonView
from workbook.lessons.settings_form import SettingsForm
from workbook.numbers import plain
from workbook.quantities import RESULTS
from workbook.sheet.text import result_text
from workbook.sizing.constant_power_flight import ConstantPowerFlight, constant_power_flight
from workbook.sizing.craft_types import operate
from workbook.units import with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl, controls
from workbook.widgets.parts import finding_html
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

FRESH_C = 25.0
"""At which a datasheet's resistance holds."""
DRAWN_UP_TO = 1.6
"""A limit further above the current at landing than this factor is given in words, not drawn."""


class LandingVoltage(LessonView):
    """Voltage at rest and under load against charge, the landing line, and the current beside.

    Attributes:
        device: what a builder's devices are set to, held against these thresholds.
    """

    kept_inputs = ("landing_v", "reserve_pct")

    @override
    def build(self) -> W.Widget:
        """The curve that meets a line, the current below it, and the thresholds."""
        watts = np.round(operate(self.design).power_w, 1)
        outside = np.isnan(watts)
        if outside:
            watts = np.round(self.design.pack.energy_wh, 1)
        self.inputs = {
            "power_w": NumberControl.of("power_w", plain(watts), high=np.round(5 * watts, -1)),
            **controls("landing_v", "reserve_pct", design=self.design),
            **controls(cell_temperature_c=FRESH_C, resistance_factor=1.0),
        }
        begins = (
            f"The thrust table does not reach your hover, so the power begins at {watts:.0f} W, which would empty the pack in an hour. "
            if outside
            else ""
        )
        says = "Resistance of a fresh cell is x 1, of an old one x 1.5 (common practice, no source); cold comes on top of it."
        self.resistance_note = W.HTML(finding_html(begins + says, announced=False))
        self.key, self.notices = KeyFigures(), Notices()
        across = "charge taken from the pack, Ah"
        self.volts = LineChart("The sag meets a line", across, "cell voltage, V")
        self.amperes = LineChart("Watts stay, amperes rise", across, "pack current, A")
        self.settings = Table()
        self.device = SettingsForm(self.design.pack)
        self.detached_parts = (self.device,)
        return self.side_by_side(
            [*self.inputs.values(), self.resistance_note, self.key, self.notices],
            [self.volts, self.amperes],
            self.settings,
        )

    @override
    def compute(
        self, cell_temperature_c: float, resistance_factor: float, **values: float
    ) -> ConstantPowerFlight:
        """The flight of this pack under this load."""
        factor = resistance_factor * plain(resistance_at_temperature(cell_temperature_c))
        return constant_power_flight(self.design.pack, resistance_factor=factor, **values)

    @override
    def render(self, result: ConstantPowerFlight) -> None:
        """Both charts, the key figures and the thresholds."""
        run, curve, cell = result.run, result.curve, result.pack.cell
        parallel = plain(result.pack.parallel)
        charge_ah, end_ah = curve.charge_ah * parallel, run.charge_ah * parallel
        lines = [
            Line("at rest", charge_ah, curve.rest_v, "faint"),
            Line("loaded", charge_ah, curve.loaded_v),
        ]
        if result.factor != 1.0:
            fresh = result.fresh
            name = f"loaded, fresh at {with_unit(25.0, '°C')}"
            lines.insert(1, Line(name, fresh.charge_ah * parallel, fresh.loaded_v, "today"))
        upright = [Vertical("reserve", result.reserve_from_ah, "caution")]
        if result.collapses:
            upright.append(Vertical("collapse", result.collapse_ah, "limit"))
        x_range = (0.0, charge_ah[-1])
        self.volts.update(
            lines,
            levels=[Level("landing, loaded", result.landing_v, "limit")],
            verticals=upright,
            points=[Point("ends here", end_ah, run.end_v)],
            x_range=x_range,
            y_range=(min(2.4, result.landing_v - 0.1), 4.4),
            finding=result.text(),
        )
        self.key.show(
            Figure.of("flight_min", result.flight_min, label="flight"),
            Figure.in_unit("rough estimate, Ah / A", result.naive_min, "min", 1),
            Figure.in_unit("cell at the end, loaded", run.end_v, "V", 2),
            Figure.in_unit("at rest", run.end_open_circuit_v, "V", 2),
        )
        allowed_a, end_a = cell.continuous_a * parallel, np.fmax(result.end_a, result.start_a)
        levels = [Level("as at take-off", result.start_a, "faint")]
        if not allowed_a > DRAWN_UP_TO * end_a:
            levels.append(Level("continuous limit", allowed_a, "limit"))
        seen_a = [*(float(level.y) for level in levels), float(end_a)]
        self.amperes.update(
            [Line("current", charge_ah, curve.current_a * parallel)],
            levels=levels,
            points=[Point(result_text("peak_cell_a", result.end_a), end_ah, result.end_a)],
            x_range=x_range,
            y_range=(0.9 * np.nanmin(seen_a), 1.15 * np.nanmax(seen_a)),
            finding=self._current_text(result),
        )
        self._show_thresholds(result)

    @staticmethod
    def _current_text(result: ConstantPowerFlight) -> str:
        if not np.isfinite(result.end_a):
            return f"No current gives {result.power_w:.0f} W: the voltage collapses at once."
        return (
            f"{result_text('peak_cell_a', result.start_a)} at take-off, {result_text('peak_cell_a', result.end_a)} at the end, for the same "
            f"{result.power_w:.0f} W. Ah over A takes {result_text('peak_cell_a', result.start_a)} throughout: "
            f"{result_text('endurance_min', result.naive_min)}, where there are {result_text('endurance_min', result.flight_min, bare=True)}. "
            f"{with_unit(result.pack.cell.continuous_a * result.pack.parallel, 'A', 1, 'down')} are allowed."
        )

    def _show_thresholds(self, result: ConstantPowerFlight) -> None:
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
                    RESULTS["threshold_cell_v"].number(t.loaded_v),
                    RESULTS["threshold_pack_v"].number(t.pack_loaded_v),
                    RESULTS["threshold_cell_v"].number(t.rest_v),
                    RESULTS["threshold_used_mah"].number(1000.0 * t.used_ah),
                    t.rule,
                )
                for t in (found.alarm, found.return_home, found.land, found.cut)
            ],
            "Where to set alarm and failsafe: this pack's own sag beside the rule of thumb",
            words=(5,),
        )
        self.notices.update(result.cautions(), "Caution")
        self.device.show(result.pack, found)

    @override
    def working(self, result: ConstantPowerFlight) -> tuple[Step, ...]:
        """From watts to the voltage at the end, and the minutes both ways."""
        return result.working()
