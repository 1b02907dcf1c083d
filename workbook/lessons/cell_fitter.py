"""A cell of one's own: points typed or read from a file, the fit beside them, saved as a cell file."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np

from workbook.data.notebooks import notebooks_source
from workbook.errors import InputError
from workbook.files.cell_check import KINDS
from workbook.files.own_cell import SIZES_MM, OwnCell, own_cell, save_own_cell
from workbook.lessons.learner import OWN_CELLS
from workbook.widgets.charts import Level, Line
from workbook.widgets.controls import ChoiceControl, FileControl, NumberControl, Refusal
from workbook.widgets.dots import DotChart
from workbook.widgets.live import Live
from workbook.widgets.style import style_sheet
from workbook.widgets.table import Table
from workbook.widgets.verdict import Notices

PRACTICE_POINTS = Path("tables", "own_cell_points.csv")
LINE_ROLES = ("pack", "alternative", "caution", "today")


def cell_fitter() -> CellFitter:
    """The fitter with an invented cell's points in it, ready to be shown in a notebook."""
    return CellFitter()


class CellFitter(W.VBox):
    """Points and figures at the left; points with the fit, residuals and trust at the right."""

    def __init__(self) -> None:
        self._build_controls()
        size_px = {"width_px": 760, "label_room_px": 90}
        self.chart = DotChart(
            "Points and fit", "charge taken, Ah", "voltage, V", height_px=290, **size_px
        )
        self.residuals = DotChart(
            "What is left: points less fit", "charge taken, Ah", "mV", height_px=190, **size_px
        )
        self.table, self.notices = Table(), Notices()
        self.live = Live(self.inputs, own_cell, self._render)
        left = W.VBox(
            [
                self.file,
                W.HTML('<div class="wb-title">Points: A; Ah; V</div>'),
                self.points,
                *(c for name, c in self.inputs.items() if name != "points"),
            ],
            layout=W.Layout(width="400px", flex="0 0 auto"),
        )
        right = W.VBox(
            [self.chart, self.residuals, self.table, self.notices],
            layout=W.Layout(width="770px", flex="0 0 auto"),
        )
        save = W.HBox([self.save_button, self.overwrite])
        body = W.HBox(
            [left, right], layout=W.Layout(flex_flow="row wrap", align_items="flex-start")
        )
        super().__init__([style_sheet(), self.live.status, body, save, self.said, self.done])
        self.add_class("wb")
        self.add_class("wb-fitter")

    def _build_controls(self) -> None:
        practice = (
            PRACTICE_POINTS if PRACTICE_POINTS.exists() else notebooks_source() / PRACTICE_POINTS
        )
        self.points = W.Textarea(
            practice.read_text("utf-8"),
            continuous_update=False,
            tooltip="points: current in A, charge taken in Ah, voltage in V, one a line",
            layout=W.Layout(width="376px", height="190px"),
        )
        self.file = FileControl("Your points: a CSV file, or typed", ".csv,.txt", 1.0)
        self.file.upload.layout.width = "150px"
        self.file.path_box.layout.width = "222px"
        self.file.path_box.style.description_width = "76px"
        self.file.observe(self._take_file, names="value")
        name = W.Text("My cell", description="name", continuous_update=False)
        numbers: dict[str, tuple[str, str, float, float, float, float]] = {
            "mass_g": ("mass", "g", 70.0, 40, 80, 0.5),
            "rated_capacity_ah": ("rated capacity", "Ah", 4.4, 1, 6, 0.05),
            "continuous_a": ("continuous", "A", 20.0, 2, 45, 0.5),
            "burst_a": ("burst", "A", 30.0, 2, 60, 0.5),
            "standard_charge_a": ("standard charge", "A", 2.2, 0.2, 6, 0.1),
            "max_charge_a": ("highest charge", "A", 4.4, 0.2, 10, 0.1),
            "resistance_mohm": ("resistance", "mohm", 20.0, 5, 80, 0.5),
            "cutoff_v": ("cutoff voltage", "V", 2.5, 2.0, 3.0, 0.05),
        }
        self.inputs: dict[str, Any] = {
            "points": self.points,
            "name": name,
            "cell_format": ChoiceControl("format", list(SIZES_MM), "21700"),
            "kind": ChoiceControl("kind", [k for k in KINDS if k != "lithium-polymer"], "power"),
            **{key: NumberControl(*given, least=0.01, most=1000) for key, given in numbers.items()},
        }
        for control in self.inputs.values():
            if isinstance(control, NumberControl):
                control.slider.style.description_width = "130px"
                control.slider.layout.width = "282px"
                control.box.layout.width = "66px"
            elif control is not self.points:
                control.style.description_width = "130px"
                control.layout.width = "376px"
        self.save_button = W.Button(
            description="save as a cell of my own",
            tooltip="write a cell file into the folder cells",
            layout=W.Layout(width="220px"),
        )
        self.save_button.on_click(lambda _: self.save())
        self.overwrite = W.Checkbox(
            False, description="replace a file that is already there", indent=False
        )
        self.said, self.done = Refusal(), W.HTML()

    def _take_file(self, change: Any) -> None:
        """Put the text of a chosen file in place of the points."""
        try:
            self.points.value = change["new"].content.decode("utf-8-sig")
        except UnicodeDecodeError:
            self.file.refusal.say(f"{change['new'].name} is not UTF-8 text; save it as that.")

    def _render(self, made: OwnCell) -> None:
        curves = made.report.curves
        shown = [*curves[:3], *curves[3:][-1:]]
        self.chart.show_dots(
            np.concatenate([c.capacity_ah for c in curves]),
            np.concatenate([c.voltage_v for c in curves]),
        )
        last = max(float(c.capacity_ah[-1]) for c in curves)
        self.chart.update(
            [
                Line(f"{c.current_a:g} A", c.capacity_ah, c.model_v, role)
                for c, role in zip(shown, LINE_ROLES, strict=False)
            ],
            x_range=(0.0, last),
            y_range=(made.cell.cutoff_v - 0.1, made.cell.charge_v + 0.1),
            finding=made.trust,
        )
        self.residuals.show_dots(
            np.concatenate([c.capacity_ah for c in curves]),
            np.concatenate([c.residual_mv for c in curves]),
        )
        worst = max(10.0, *(c.worst_mv for c in curves))
        self.residuals.update(
            levels=[Level("no residual", 0.0, "faint")],
            x_range=(0.0, last),
            y_range=(-1.1 * worst, 1.1 * worst),
            finding="Where dots of one charge leave the line together, one of them was read wrongly: look again.",
        )
        self.table.update(
            ["curve", "points", "off, rms", "off, worst"],
            [
                [f"{c.current_a:g} A", f"{len(c.capacity_ah)}", f"{c.rms_mv:.0f} mV", f"{c.worst_mv:.0f} mV"]
                for c in curves
            ],
            "How far the fit is off",
        )  # fmt: skip
        self.notices.update(made.cautions, "Look again")

    def save(self) -> None:
        """Save the cell into the learner's own folder, or say why not."""
        self.done.value = ""
        made = self.live.current()
        if made is None:
            self.said.say("There is no cell to save: see above what cannot be computed.")
            return
        try:
            path = save_own_cell(made, OWN_CELLS, overwrite=self.overwrite.value)
        except InputError as fault:
            self.said.say(" ".join(str(problem) for problem in fault.problems))
            return
        self.said.say("")
        self.done.value = (
            f'<div class="wb-finding" role="status">✓ Saved as {escape(str(path))}. Every lesson that is '
            "opened from now on offers it.</div>"
        )
