"""Lesson 11: the current's way out: strips, tabs, leads, connector."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import ipywidgets as W
import numpy as np

from workbook.bench.current_path import CurrentPath, current_path, path_steps
from workbook.bench.strip import AIR_C, MATERIALS, MOST_C, Strip
from workbook.bench.wire import GAUGES_AWG, WireRow, temperature_c
from workbook.lessons.lesson_view import LessonView
from workbook.sheet.plan import plan_build
from workbook.sizing.size import size
from workbook.widgets.charts import Level, Line, LineChart, Point
from workbook.widgets.controls import ChoiceControl, NumberControl, controls
from workbook.widgets.strip_picture import StripPicture
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

HOTTEST_SHOWN_C = 160.0
"""Top of the chart; a hotter lead is marked there and told in words."""
NAMES = {"series": "series step", "parallel": "parallel link", "tab": "tab and end strips"}
ROLES = ("alternative", "pack", "caution")
"""Of the next thicker lead, the lead chosen and the next thinner."""


class WireAndStrips(LessonView):
    """Slide current and sections; see every piece of strip, the lead and the heat."""

    def build(self) -> W.Widget:
        """Controls at the currents that the design's parts are made for."""
        self.pack = self.design.pack
        plan = plan_build(size(self.design))
        self.inputs = {
            "current_a": NumberControl.of("steady_current_a", round(plan.current_a)),
            "burst_a": NumberControl.of("burst_current_a", round(plan.burst_a)),
            **controls(lead_mm=150),
            "awg": ChoiceControl("AWG", GAUGES_AWG, 12),
            "material": ChoiceControl("strip", list(MATERIALS), "nickel 200"),
            "width_mm": NumberControl.of("strip_width_mm", 8),
            "thickness_mm": NumberControl.of("strip_thickness_mm", 0.15),
            **controls(series_layers=1, end_layers=1),
            "tabs": ChoiceControl("tabs", {"one at each end": "one", "one on each cell": "each"}),
            **controls(weak_cell_pct=0),
        }
        self.picture = StripPicture()
        self.chart = LineChart(
            f"Lead: temperature after minutes at a current, air at {AIR_C:.0f} °C",
            "steady current, A",
            "copper, °C",
        )
        self.figures, self.strips, self.gauges = KeyFigures(), Table(), Table()
        return self.side_by_side(
            [*self.inputs.values(), self.figures],
            [self.picture, self.strips, self.chart, self.gauges],
        )

    def compute(
        self, material: str, width_mm: float, thickness_mm: float, **values: Any
    ) -> CurrentPath:
        """Follow the current."""
        return current_path(self.pack, strip=Strip(material, width_mm, thickness_mm), **values)

    def render(self, result: CurrentPath) -> None:
        """Draw the net, the strips' table, the lead's chart and every gauge."""
        series, tab = result.reading("series"), result.reading("tab")
        layout, strips, connector = result.layout, result.strips, result.connector
        assert layout is not None, "one pack is laid out"
        assert strips is not None, "and joined"
        assert connector is not None, "and its leads end somewhere"
        assert tab is not None, "every pack has tabs"
        said = f"{tab.current_a:.1f} A through each tab"
        if series is not None:
            said = (
                f"A series step shares {result.current_a:g} A over {series.paths} pieces, "
                f"{series.current_a:.1f} A in the most loaded one. The end strips carry up to "
                f"{tab.current_a:.1f} A."
            )
        link = result.reading("parallel")
        if link is not None:
            said += f" A parallel link inside carries at most {link.current_a:.1f} A."
        self.picture.update(layout, strips.network, said)
        self.strips.update(
            ("strip", "A", "layers", "may carry, A", "hottest, °C", "drop, mV", ""),
            [
                (
                    NAMES[r.kind],
                    f"{r.current_a:.1f}",
                    f"{r.layers}",
                    f"{r.allowed_a:.1f}",
                    f"{r.hottest_c:.0f}",
                    f"{r.drop_mv:.1f}",
                    "✓ holds" if r.holds else "✕ too thin",
                )
                for r in result.readings
            ],
            "Most loaded piece of each kind",
            words=(6,),
        )
        lead = self._show_leads(result)
        plug = connector.chosen
        self.figures.show(
            Figure("lost on the way", f"{result.drop_v:.2f}", "V"),
            Figure("heat on the way", f"{result.loss_w:.1f}", "W"),
            Figure("all joints", f"{result.joint_mohm:.1f}", "mohm"),
            Figure("connector", f"{plug.class_a:g} A" if plug else "none listed"),
            Figure("lead melts at", f"{lead.melting.steady_a:.0f}", "A"),
        )

    def _show_leads(self, result: CurrentPath) -> WireRow:
        rows, lead = result.wire.rows, result.wire.chosen
        assert lead is not None, "a gauge was chosen"
        at = rows.index(lead)
        near = {
            k: role
            for k, role in zip((at - 1, at, at + 1), ROLES, strict=True)
            if 0 <= k < len(rows)
        }
        across = np.linspace(0.0, max(60.0, 1.5 * result.current_a), 120)
        awg = np.array([rows[k].awg for k in near])[:, None]
        heat = temperature_c(awg, across, AIR_C, loaded_wires=2)
        seen = np.where(heat <= HOTTEST_SHOWN_C, heat, np.nan)
        verdict = "keeps every limit" if lead.fits else lead.why
        self.chart.update(
            [
                Line(f"{rows[k].awg} AWG", across, line, role)
                for (k, role), line in zip(near.items(), seen, strict=True)
            ],
            levels=[Level(f"limit {MOST_C:.0f} °C", MOST_C)],
            points=[Point("yours", result.current_a, min(lead.temperature_c, HOTTEST_SHOWN_C))],
            x_range=(0.0, across[-1]),
            y_range=(20.0, HOTTEST_SHOWN_C),
            finding=f"{lead.awg} AWG, {result.wire.length_mm:g} mm each way: {lead.drop_mv:.0f} mV and {lead.loss_w:.1f} W "
            f"lost at {result.current_a:g} A, {_degrees(lead.temperature_c)}; {_degrees(lead.burst_temperature_c)} after a "
            f"burst of 10 s. {lead.awg} AWG {verdict}.",
        )
        self.gauges.update(
            ("AWG", "mm²", "drop, mV", "heat, W", "steady", "after burst", ""),
            [
                (
                    f"{r.awg}",
                    f"{r.area_mm2:.2f}",
                    f"{r.drop_mv:.0f}",
                    f"{r.loss_w:.1f}",
                    _degrees(r.temperature_c),
                    _degrees(r.burst_temperature_c),
                    "✓ holds" if r.fits else f"✕ {r.why.split(';')[0]}",
                )
                for r in rows
            ],
            "Every gauge, both leads",
            bold=at,
            words=(6,),
        )
        return lead

    def working(self, result: CurrentPath) -> Iterable[Step]:
        """Steps of the whole way."""
        return path_steps(result)

    def keeps(self, result: CurrentPath) -> Mapping[str, Any]:
        """The joints go on into the design."""
        return {"joint_mohm": round(result.joint_mohm, 1), "lead_mm": result.wire.length_mm}


def _degrees(value: float) -> str:
    return f"{value:.0f} °C" if value <= 200.0 else "above 200 °C"
