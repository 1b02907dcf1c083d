"""Lesson 3: a cell's curve family, slid to one's own current, and the resistance between two curves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.battery.cell import Cell, CurveReading, OwnCurve
from workbook.battery.model import DischargeCurve
from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError
from workbook.files.cell_check import KINDS
from workbook.files.cell_file import SIZES_MM, OwnCell, own_cell, write_own_cell
from workbook.files.reading import read_text
from workbook.files.writing import SeenFiles
from workbook.lessons.learner import OWN_CELLS, cell_choice
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import plain
from workbook.sheet.text import result_text
from workbook.sizing.craft_types import operate
from workbook.units import with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import ChoiceControl, FileControl, NumberControl, controls
from workbook.widgets.live import Live
from workbook.widgets.parts import REPLACE, Reply, button, heading, text_box, tick, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

MOST_CURVES = 5
"""Of a datasheet's family that are drawn."""


@dataclass(frozen=True)
class DatasheetResult:
    """What the figure shows: the cell, its curve at the current, the family read at one charge."""

    cell: Cell
    curve: OwnCurve
    reading: CurveReading


class Datasheet(LessonView):
    """Slide the current along the family; move the reading along the charge."""

    kept_inputs = ("cell", "landing_v")

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
            "The datasheet's family, and your current in it",
            "charge taken, Ah",
            "voltage, V",
            height_px=320,
            most_lines=MOST_CURVES + 1,
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
        """A user-defined cell from points of its datasheet, to be shown in its own notebook cell."""
        fitter = CellFitter()
        self.detached_parts = (*self.detached_parts, fitter)
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
        curves = sorted(cell.room_curves, key=lambda c: float(c.current_a))[:MOST_CURVES]
        self.family.show_dots(np.full(len(reading.voltage_v), reading.charge_ah), reading.voltage_v)
        self.family.update(
            [
                Line("", curve.charge_ah, curve.voltage_v),
                *map(_family_line, curves, range(len(curves))),
            ],
            levels=[Level(f"landing, {curve.landing_v:g} V", curve.landing_v)],
            verticals=[Vertical(f"read at {reading.charge_ah:g} Ah", reading.charge_ah, "faint")],
            points=[Point(f"at {curve.current_a:g} A", charge, curve.voltage_v[-1])],
            x_range=(0.0, 1.05 * cell.datasheet_model.capacity_ah),
            y_range=(2.4, 4.3),
            finding="Grey: the datasheet's curves. Dots: the cut at your reading, drawn again below. At "
            f"{curve.current_a:g} A down to {curve.landing_v:g} V the cell gives {result_text('charge_ah', charge)} and "
            f"{result_text('energy_wh', energy)}.",
        )
        self.figures.show(
            Figure.of("charge_ah", charge, label="charge"),
            Figure.in_unit("of the rated charge", 100.0 * curve.of_rated, "%", 0, "down"),
            Figure.of("energy_wh", energy, label="energy"),
            Figure.of(
                "of_label_energy_pct", 100.0 * curve.of_label_energy, label="of the label's energy"
            ),
            Figure.in_unit("resistance", reading.resistance_mohm, "mΩ", 1, "up"),
            Figure.in_unit("mean voltage", curve.mean_v, "V", 2, "down"),
        )
        self._render_slope(result)
        cautions = [cell.datasheet_model.trust(curve.current_a), cell.datasheet_model.caution]
        if curve.current_a > cell.continuous_a:
            cautions.append(
                f"{curve.current_a:g} A is above the cell's continuous current, {cell.continuous_a:g} A."
            )
        self.notices.update([s for s in dict.fromkeys(cautions) if s], "How far to trust it")

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
            f"{with_unit(1000.0 * (reading.voltage_v[0] - reading.voltage_v[-1]), 'mV', 0, 'up')}: "
            f"{with_unit(reading.resistance_mohm, 'mΩ', 1, 'up')} from these two curves, "
            f"{with_unit(r_mohm, 'mΩ', 1, 'up')} from all. The datasheet "
            f"states {result.cell.resistance_mohm:g} mΩ.",
        )

    @override
    def working(self, result: DatasheetResult) -> Iterable[Step]:
        return result.cell.reading_steps(result.reading, result.curve)


def _family_line(curve: DischargeCurve, number: int) -> Line:
    """A curve of the datasheet, evenly drawn, with its current on it; each name further along than the one before."""
    charge = np.linspace(curve.capacity_ah[0], curve.capacity_ah[-1], 60)
    volts = np.interp(charge, curve.capacity_ah, curve.voltage_v)
    return Line(f"{curve.current_a:g} A", charge, volts, "faint", 0.56 + 0.09 * number)


LARGEST_POINTS_BYTES = 1_000_000
PRACTICE_POINTS = Path("tables", "own_cell_points.csv")
LINE_ROLES = ("pack", "alternative", "caution", "today")


class CellFitter(Panel):
    """Points and figures at the left, an invented cell's to start with; the fit and its trust at the right."""

    def __init__(self) -> None:
        self._build_controls()
        across = "charge taken, Ah"
        self.chart = LineChart("Points and fit", across, "voltage, V", height_px=290)
        self.residuals = LineChart("Error of the fit", across, "error, mV", height_px=190)
        self.table, self.notices = Table(), Notices()
        self.live = Live(self.inputs, own_cell, self._render)
        left = W.VBox(
            [
                self.file,
                heading("Points: A; Ah; V, and °C where several"),
                self.points,
                *(c for name, c in self.inputs.items() if name != "points"),
            ],
            layout=W.Layout(width="400px", max_width="100%", flex="0 0 auto"),
        )
        right = W.VBox(
            [self.chart, self.residuals, self.table, self.notices],
            layout=W.Layout(width="770px", max_width="100%", flex="0 0 auto"),
        )
        save = wrapped(self.save_button, self.overwrite)
        body = wrapped(left, right, align_items="flex-start")
        super().__init__(self.live.status, body, save, self.reply, name="fitter")

    def _build_controls(self) -> None:
        self._practice = read_text(here_or_shipped(PRACTICE_POINTS), LARGEST_POINTS_BYTES)
        self._warned = False
        self.points = W.Textarea(
            self._practice,
            continuous_update=False,
            tooltip="points: current in A, charge taken in Ah, voltage in V, one a line; with curves at several "
            "temperatures a fourth column °C",
            layout=W.Layout(width="376px", height="190px"),
        )
        self.file = FileControl(
            "Your points: a CSV file, or typed", ".csv,.txt", LARGEST_POINTS_BYTES / 1e6
        )
        self.file.upload.layout.width = "170px"
        self.file.path_box.layout.width = "202px"
        self.file.path_box.style.description_width = "76px"
        self.file.observe(self._take_file, names="value")
        name = text_box("My cell", "name", width_px=376, label_px=130)
        self.inputs: dict[str, Any] = {
            "points": self.points,
            "name": name,
            "cell_format": ChoiceControl("format", list(SIZES_MM), "21700"),
            "kind": ChoiceControl("kind", [k for k in KINDS if k != "lithium-polymer"], "power"),
            "mass_g": NumberControl.of("cell_mass_g", 70.0),
            **controls(
                rated_capacity_ah=4.4,
                continuous_a=20.0,
                burst_a=30.0,
                standard_charge_a=2.2,
                max_charge_a=4.4,
                resistance_mohm=20.0,
                cutoff_v=2.5,
            ),
        }
        self._initial_values = {
            n: c.value for n, c in self.inputs.items() if n not in ("points", "name")
        }
        for control in self.inputs.values():
            if isinstance(control, NumberControl | ChoiceControl):
                control.size(130, 282, 80)
        tip = "write a cell file into the folder cells"
        self.save_button = button("save as a cell of my own", self.save, tip, 220)
        self.overwrite, self.reply, self.seen = tick(REPLACE), Reply(), SeenFiles()

    def _take_file(self, change: Any) -> None:
        """Put the text of a chosen file in place of the points."""
        try:
            self.points.value = change["new"].content.decode("utf-8-sig")
        except UnicodeDecodeError:
            self.file.reply.refuse(f"{change['new'].name} is not UTF-8 text; save it as that.")

    def _render(self, made: OwnCell) -> None:
        curves = made.report.curves
        shown = [*curves[:3], *curves[3:][-1:]]
        charge = np.concatenate([c.capacity_ah for c in curves])
        self.chart.show_dots(charge, np.concatenate([c.voltage_v for c in curves]))
        last = max(c.capacity_ah[-1] for c in curves)
        self.chart.update(
            [
                Line(c.name, c.capacity_ah, c.model_v, role, 0.3 + 0.16 * number)
                for number, (c, role) in enumerate(zip(shown, LINE_ROLES, strict=False))
            ],
            x_range=(0.0, last),
            y_range=(made.cell.cutoff_v - 0.1, made.cell.charge_v + 0.1),
            finding=made.trust,
        )
        self.residuals.show_dots(charge, np.concatenate([c.residual_mv for c in curves]))
        worst = max(10.0, *(c.worst_mv for c in curves))
        self.residuals.update(
            levels=[Level("no error", 0.0, "faint")],
            x_range=(0.0, last),
            y_range=(-1.1 * worst, 1.1 * worst),
            finding="A dot above 0 was read higher than the fit. Where dots at one charge lie off the line together, look at "
            "them again: one was read wrongly.",
        )
        self.table.update(
            ["curve", "points", "off, rms", "off, worst"],
            [
                (
                    c.name,
                    f"{len(c.capacity_ah)}",
                    *(f"{mv:.0f} mV" for mv in (c.rms_mv, c.worst_mv)),
                )
                for c in curves
            ],
            "How far the fit is off",
        )
        self.notices.update(made.cautions, "Look again")

    def _unchanged_labels(self) -> str:
        """Labels of the figures that are still the practice cell's beside other points; empty where none is."""
        if self.points.value == self._practice:
            return ""
        unchanged = [
            self.inputs[n]
            for n, value in self._initial_values.items()
            if self.inputs[n].value == value
        ]
        return ", ".join(
            c.label if isinstance(c, NumberControl) else c.description for c in unchanged
        )

    def save(self) -> None:
        """Save the cell into the learner's own folder, or say why not."""
        made = self.live.current()
        chosen = self.file.value
        with self.reply.trying():
            if made is None:
                raise InputError("There is no cell to save: see above what cannot be computed.")
            unchanged = self._unchanged_labels()
            if unchanged and not self._warned:
                self._warned = True
                raise InputError(
                    f"Not saved yet: {unchanged} still stand as in the invented practice cell. Set each as your "
                    "datasheet has it; where it is the same, press save once more."
                )
            path = write_own_cell(
                made.cell,
                OWN_CELLS,
                overwrite=self.overwrite.value,
                inputs=[chosen.path] if chosen and chosen.path else [],
                seen=self.seen,
            )
            message = f"✓ Saved as {path}. Every lesson that is opened from now on offers it."
            self.reply.done(message)
