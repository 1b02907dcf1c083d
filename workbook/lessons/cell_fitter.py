"""A cell of one's own: points typed or read from a file, the fit beside them, saved as a cell file."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np

from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError
from workbook.files.cell_check import KINDS
from workbook.files.cell_file import SIZES_MM, OwnCell, own_cell, save_own_cell
from workbook.files.reading import read_text
from workbook.files.writing import SeenFiles
from workbook.lessons.learner import OWN_CELLS
from workbook.widgets.charts import Level, Line, LineChart
from workbook.widgets.controls import ChoiceControl, FileControl, NumberControl, Refusal, controls
from workbook.widgets.live import Live
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Notices

LARGEST_POINTS_BYTES = 1_000_000
PRACTICE_POINTS = Path("tables", "own_cell_points.csv")
LINE_ROLES = ("pack", "alternative", "caution", "today")


class CellFitter(Panel):
    """Points and figures at the left, an invented cell's to start with; the fit and its trust at the right."""

    def __init__(self) -> None:
        self._build_controls()
        across = "charge taken, Ah"
        self.chart = LineChart("Points and fit", across, "voltage, V", height_px=290)
        self.residuals = LineChart("Error of the fit", across, "point less fit, mV", height_px=190)
        self.table, self.notices = Table(), Notices()
        self.live = Live(self.inputs, own_cell, self._render)
        left = W.VBox(
            [
                self.file,
                W.HTML('<div class="wb-title">Points: A; Ah; V, and °C where several</div>'),
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
        super().__init__(self.live.status, body, save, self.said, self.done, name="fitter")

    def _build_controls(self) -> None:
        self.points = W.Textarea(
            read_text(here_or_shipped(PRACTICE_POINTS), LARGEST_POINTS_BYTES),
            continuous_update=False,
            tooltip="points: current in A, charge taken in Ah, voltage in V, one a line; with curves at several "
            "temperatures a fourth column °C",
            layout=W.Layout(width="376px", height="190px"),
        )
        self.file = FileControl(
            "Your points: a CSV file, or typed", ".csv,.txt", LARGEST_POINTS_BYTES / 1e6
        )
        self.file.upload.layout.width = "150px"
        self.file.path_box.layout.width = "222px"
        self.file.path_box.style.description_width = "76px"
        self.file.observe(self._take_file, names="value")
        name = W.Text("My cell", description="name", continuous_update=False)
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
        name.style.description_width, name.layout.width = "130px", "376px"
        for control in self.inputs.values():
            if isinstance(control, NumberControl | ChoiceControl):
                control.size(130, 282, 80)
        self.save_button = W.Button(
            description="save as a cell of my own",
            tooltip="write a cell file into the folder cells",
            layout=W.Layout(width="220px"),
        )
        self.save_button.on_click(lambda _: self.save())
        self.overwrite = W.Checkbox(
            False, description="replace a file that is already there", indent=False
        )
        self.said, self.done, self.seen = Refusal(), W.HTML(), SeenFiles()

    def _take_file(self, change: Any) -> None:
        """Put the text of a chosen file in place of the points."""
        try:
            self.points.value = change["new"].content.decode("utf-8-sig")
        except UnicodeDecodeError:
            self.file.refusal.say(f"{change['new'].name} is not UTF-8 text; save it as that.")

    def _render(self, made: OwnCell) -> None:
        curves = made.report.curves
        shown = [*curves[:3], *curves[3:][-1:]]
        charge = np.concatenate([c.capacity_ah for c in curves])
        self.chart.show_dots(charge, np.concatenate([c.voltage_v for c in curves]))
        last = max(c.capacity_ah[-1] for c in curves)
        self.chart.update(
            [
                Line(c.name, c.capacity_ah, c.model_v, role)
                for c, role in zip(shown, LINE_ROLES, strict=False)
            ],
            x_range=(0.0, last),
            y_range=(made.cell.cutoff_v - 0.1, made.cell.charge_v + 0.1),
            finding=made.trust,
        )
        self.residuals.show_dots(charge, np.concatenate([c.residual_mv for c in curves]))
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

    def save(self) -> None:
        """Save the cell into the learner's own folder, or say why not."""
        self.done.value = ""
        made = self.live.current()
        if made is None:
            self.said.say("There is no cell to save: see above what cannot be computed.")
            return
        try:
            path = save_own_cell(
                made,
                OWN_CELLS,
                overwrite=self.overwrite.value,
                inputs=[self.file.value.path] if self.file.value and self.file.value.path else [],
                seen=self.seen,
            )
        except InputError as fault:
            self.said.say(" ".join(fault.lines))
            return
        self.said.say("")
        self.done.value = (
            f'<div class="wb-finding" role="status">✓ Saved as {escape(str(path))}. Every lesson that is '
            "opened from now on offers it.</div>"
        )
