"""The sizing bench: the whole chain on one page, for whoever knows it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np

from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError, Problem
from workbook.files.cell_file import catalogue
from workbook.files.design_file import (
    DesignFile,
    check_design,
    read_design,
    write_design,
)
from workbook.files.design_parts import DesignPart
from workbook.files.thrust_table_file import (
    ThrustTableFile,
    read_thrust_tables,
    thrust_table_from_rows,
)
from workbook.files.thrust_table_write import write_thrust_table
from workbook.lessons.bench_kinds import BENCH_KINDS
from workbook.sheet.text import figure_rows, figure_text, verdict_of, verdict_sentence
from workbook.sizing.curves import FlightTrace, Spiral, flight_trace, spiral
from workbook.sizing.size import Answer, size
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import ChoiceControl, FileControl, NumberControl, Refusal, RowsGrid
from workbook.widgets.live import Live
from workbook.widgets.style import set_big, style_sheet
from workbook.widgets.verdict import (
    Figure,
    KeyFigures,
    LimitsTable,
    Notices,
    Verdict,
    WorkingPanel,
    limit_row,
)

DEMO_DESIGN = Path("designs", "survey_six.toml")
MOST_PARALLEL = 10
WHOLE = ("series", "parallel")
LABEL_WIDTH, SLIDER_WIDTH, BOX_WIDTH = "152px", "290px", "72px"
TYPED_COLUMNS = ("throttle (%)", "thrust (g)", "current (A)", "voltage (V)", "power (W)")


def sizing_bench(design: Path | str = DEMO_DESIGN) -> SizingBench:
    """The bench with a design on it, ready to be shown in a notebook."""
    return SizingBench(design)


class SizingBench(W.VBox):
    """Inputs, four live figures, the verdict in words, limits, working; load and save.

    Args:
        path: the design to start with.

    Raises:
        InputError: the design cannot be used.
    """

    def __init__(self, path: Path | str = DEMO_DESIGN) -> None:
        super().__init__()
        self.add_class("wb")
        self._build_files(Path(path))
        self._put(read_design(path))

    def _put(self, file: DesignFile) -> None:
        """Take a design: its controls and charts are built anew, once."""
        self.file = file
        self.table_text: str | None = None
        self.table_notices: tuple[Problem, ...] = ()
        answer = size(file.design, notices=file.notices)
        self.kind = BENCH_KINDS[answer.as_dict()["craft"]]
        self._build_controls(answer)
        self._build_views(answer)
        slow = bool(file.design.mission)  # flown anew for every change
        self.live = Live(self._inputs, self._compute, self._render, slow=slow)
        self.left = W.VBox(
            [self.verdict, *self._inputs.values(), self.figures, self.big],
            layout=W.Layout(width="404px", flex="0 0 auto"),
        )
        self.children = [
            style_sheet(),
            self.live.status,
            W.HBox(
                [self.left, self.charts_box],
                layout=W.Layout(flex_flow="row wrap", align_items="flex-start"),
            ),
            self.limits_table,
            self.notices,
            self.working_choice,
            self.working_panel,
            self.files_box,
        ]

    # controls ---------------------------------------------------------------------------------

    def _build_controls(self, answer: Answer) -> None:
        part, design = self.file.part, self.file.design
        craft, pack, flight = part.craft, part.pack, part.flight
        cells = {**catalogue(), design.pack.cell.name: design.pack.cell}
        names = {
            f"{c.name} ({c.cell_format}, {c.kind}, {c.rated_capacity_ah:g} Ah, {c.continuous_a:g} A)": c
            for c in cells.values()
        }
        self.cell = ChoiceControl("cell", names, design.pack.cell)
        own, make = self.kind.control
        self._numbers = {
            "series": NumberControl("series, S", "", pack.series, 1, 14, 1, most=24, whole=True),
            "parallel": NumberControl(
                "parallel, P", "", pack.parallel, 1, 10, 1, most=40, whole=True
            ),
            "mass_without_pack_g": NumberControl(
                "craft without pack",
                "g",
                craft.mass_without_pack_g,
                200,
                6000,
                10,
                least=1,
                most=100_000,
            ),
            "payload_g": NumberControl("payload", "g", craft.payload_g, 0, 1500, 10, most=50_000),
            "avionics_w": NumberControl("avionics", "W", craft.avionics_w, 0, 60, 0.5, most=1000),
            own: make(self.file, answer),
            "reserve_pct": NumberControl("reserve", "%", flight.reserve_pct, 0, 50, 1, most=90),
            "landing_v": NumberControl(
                "landing, loaded", "V", flight.landing_v, 2.5, 3.8, 0.01, least=2, most=4.2
            ),
        }
        self._inputs: dict[str, Any] = {"cell": self.cell, **self._numbers}
        self.parallel = self._numbers["parallel"]
        for control in self._numbers.values():
            control.slider.style.description_width = LABEL_WIDTH
            control.slider.layout.width = SLIDER_WIDTH
            control.box.layout.width = BOX_WIDTH
        self.cell.style.description_width = "40px"
        self.cell.layout.width = "384px"

    def _build_views(self, answer: Answer) -> None:
        size_px = {"width_px": 388, "height_px": 225, "label_room_px": 96, "big_px": (580, 380)}
        steady = self.kind.steady
        self.spiral_chart = LineChart(
            "Weight spiral", "cells in parallel, P", "min, and 100 g", **size_px
        )
        self.current_chart = LineChart(
            f"Current of one cell in {steady}", "time, min", "current, A", **size_px
        )
        self.kind_chart = LineChart(*self.kind.chart, **size_px)
        self.voltage_chart = LineChart(
            f"Voltage of one cell in {steady}", "time, min", "voltage, V", **size_px
        )
        self.charts = (
            self.spiral_chart, self.current_chart, self.kind_chart, self.voltage_chart,
        )  # fmt: skip
        for chart in self.charts:
            chart.layout.width, chart.layout.flex = "388px", "0 0 auto"
        self.charts_box = W.HBox(
            list(self.charts),
            layout=W.Layout(flex_flow="row wrap", max_width="784px", flex="1 1 388px"),
        )
        self.verdict, self.figures = Verdict(), KeyFigures()
        self.limits_table, self.notices = LimitsTable(), Notices()
        self.working_panel = WorkingPanel()
        every = {"every figure": "", **{step.label: step.key for step in answer.working}}
        self.working_choice = ChoiceControl("working of", every, "")
        self.working_choice.layout.width = "620px"
        self.working_choice.style.description_width = "90px"
        self.working_choice.observe(lambda _: self._show_working(), names="value")
        self.big = W.ToggleButton(description="large text", tooltip="for a projector")
        self.big.observe(lambda change: self._set_big(change["new"]), names="value")

    # computing and rendering -------------------------------------------------------------------

    def _compute(self, **values: Any) -> tuple[Answer, FlightTrace, Spiral]:
        numbers = {name: int(v) if name in WHOLE else v for name, v in values.items()}
        design = self.file.design.changed(**numbers)
        answer = size(design, notices=self.file.notices)
        most = max(MOST_PARALLEL, int(design.pack.parallel))
        return answer, flight_trace(design, answer.point), spiral(design, most)

    def _render(self, result: tuple[Answer, FlightTrace, Spiral]) -> None:
        answer, trace, curve = result
        self._show_verdict(answer)
        self._show_spiral(answer, curve)
        self._show_flight(answer, trace)
        self.kind.show(self.kind_chart, answer)
        self.limits_table.update([limit_row(limit) for limit in answer.limits])
        self.notices.update(answer.notes)
        self.answer = answer
        self._show_working()

    def _show_verdict(self, answer: Answer) -> None:
        told, beside = answer.figures(), answer.today.figures() if answer.today else {}
        self.verdict.update(
            verdict_of(answer),
            verdict_sentence(answer),
            figure_text(float(answer.point.endurance_min), "min", 1),
        )
        self.figures.update(
            [
                Figure(
                    row.words,
                    figure_text(told[row.key], "", row.decimals),
                    row.unit,
                    figure_text(beside[row.key], "", row.decimals) if beside else "",
                )
                for row in figure_rows(answer)
                if row.key in self.kind.large
            ]
        )

    def _show_spiral(self, answer: Answer, curve: Spiral) -> None:
        pack, point = answer.design.pack, answer.point
        p, best = float(pack.parallel), curve.best_parallel
        where = (
            "the table does not reach such masses."
            if np.isnan(best)
            else f"of P up to {curve.parallel[-1]:.0f} the longest flight is at P = {best:.0f}."
        )
        self.spiral_chart.update(
            [
                Line("minutes", curve.parallel, curve.endurance_min),
                Line("mass, 100 g", curve.parallel, curve.all_up_mass_g / 100, "alternative"),
            ],
            points=[Point(f"P = {p:.0f}", p, float(point.endurance_min))],
            x_range=(1.0, float(curve.parallel[-1])),
            finding=f"With P = {p:.0f}: {figure_text(float(point.endurance_min), 'min', 1)}, "
            f"{float(point.all_up_mass_g):.0f} g; {where}",
        )

    def _show_flight(self, answer: Answer, trace: FlightTrace) -> None:
        design, point = answer.design, answer.point
        cell, flight = design.pack.cell, design.flight
        allowed = cell.continuous_a * float(flight.continuous_share_pct) / 100
        minutes = float(point.endurance_min)
        ends = Vertical(f"lands: {answer.figures()['ends_by']}", minutes, "faint")
        seen = [ends] if np.isfinite(minutes) else []
        self.current_chart.update(
            [Line(self.kind.steady, trace.time_min, trace.cell_a)],
            levels=[
                Level("continuous", cell.continuous_a, "caution"),
                Level("allowed", allowed, "alternative"),
                Level("burst", cell.burst_a, "limit"),
            ],
            verticals=seen,
            y_range=(0.0, 1.1 * max(cell.burst_a, float(np.nanmax([0.0, point.end.steady_a])))),
            finding=f"{figure_text(float(point.run.start_a), 'A', 1)} at take-off, "
            f"{figure_text(float(point.run.end_a), 'A', 1)} at landing; {allowed:.1f} A are allowed.",
        )
        self.voltage_chart.update(
            [
                Line("loaded", trace.time_min, trace.cell_v),
                Line("at rest", trace.time_min, trace.rest_v, "faint"),
            ],
            levels=[
                Level("landing", float(flight.landing_v), "limit"),
                *self.kind.voltages(answer),
            ],
            verticals=seen,
            y_range=(min(2.4, float(flight.landing_v)), 4.3),
            finding=f"Lands at {figure_text(float(point.run.end_v), 'V', 2)} loaded, which is "
            f"{figure_text(float(point.run.end_open_circuit_v), 'V', 2)} at rest.",
        )

    def _show_working(self) -> None:
        key = self.working_choice.value
        steps = [s for s in self.answer.working if key in ("", s.key)]
        self.working_panel.update(steps)

    def _set_big(self, big: bool) -> None:
        """Projector size: larger text and charts, and room for both; or laptop size."""
        for part in (
            self.verdict,
            self.figures,
            self.limits_table,
            self.working_panel,
            *self.charts,
        ):
            part.set_big(big)
        set_big(self.left, big)
        for control in self._numbers.values():
            control.slider.style.description_width = "260px" if big else LABEL_WIDTH
            control.slider.layout.width = "480px" if big else SLIDER_WIDTH
            control.box.layout.width = "120px" if big else BOX_WIDTH
        self.cell.layout.width = "640px" if big else "384px"
        self.left.layout.width = "680px" if big else "404px"
        self.charts_box.layout.max_width = None if big else "784px"
        self.charts_box.layout.flex = "1 1 100%" if big else "1 1 388px"
        for chart in self.charts:
            chart.layout.width = "580px" if big else "388px"

    # files --------------------------------------------------------------------------------------

    def _build_files(self, path: Path) -> None:
        self.design_path = W.Text(
            str(path),
            description="design",
            continuous_update=False,
            layout=W.Layout(width="420px"),
        )
        self.load_button = W.Button(description="load", tooltip="load the design from this path")
        self.save_button = W.Button(description="save", tooltip="save the design to this path")
        self.overwrite = W.Checkbox(
            False, description="replace a file that is already there", indent=False
        )
        self.load_button.on_click(lambda _: self.load(self.design_path.value))
        self.save_button.on_click(lambda _: self.save(self.design_path.value))
        self.said = Refusal()
        self.done = W.HTML()
        self.table_file = FileControl("A thrust table of your own", ".csv,.txt,.tsv", 5.0)
        self.table_file.observe(lambda change: self.take_table(change["new"]), names="value")
        self.rows = RowsGrid(
            TYPED_COLUMNS,
            label="or typed from a photograph: thrust and current, with voltage or power",
        )
        self.use_rows = W.Button(description="use these rows", layout=W.Layout(width="140px"))
        self.use_rows.on_click(lambda _: self.take_rows())
        self.table_choice = ChoiceControl("of the table", self._options(None))
        self.table_choice.observe(lambda change: self._use(change["new"]), names="value")
        self.table_choice.layout.display = "none"
        inside = W.VBox(
            [
                W.HTML('<div class="wb-title">Load and save</div>'),
                W.HBox([self.design_path, self.load_button, self.save_button, self.overwrite]),
                self.said,
                self.done,
                self.table_file,
                self.table_choice,
                self.rows,
                self.use_rows,
            ]
        )
        self.files_box = W.VBox([inside])

    def _say(self, fault: InputError | None, done: str = "") -> None:
        self.said.say(" ".join(str(p) for p in fault.problems) if fault else "")
        self.done.value = done

    def load(self, path: str) -> None:
        """Put a design from a file on the bench, or say why not and keep the one that is there."""
        try:
            file = read_design(path)
        except InputError as fault:
            self._say(fault)
            return
        self._put(file)
        self._say(None, f"Loaded {file.path.name}.")

    def save(self, path: str) -> None:
        """Save the design as it stands; a file that is there is replaced only when that is ticked."""
        target = Path(path.strip() or "designs/mine.toml")
        if not target.suffix:
            target = target.with_suffix(".toml")
        try:
            part = self._moved(self._part(), target.parent)
            if self.table_text is not None:
                table_path = target.parent / f"{target.stem}_thrust.csv"
                write_thrust_table(
                    self.file.design.craft.table, table_path, overwrite=self.overwrite.value
                )
                craft = part.craft.model_copy(
                    update={
                        "thrust_table": table_path.name,
                        "motor": None,
                        "propeller": None,
                        "table_voltage_v": None,
                    }
                )
                part = part.model_copy(update={"craft": craft})
            write_design(part, target, self.file.document, overwrite=self.overwrite.value)
        except InputError as fault:
            self._say(fault)
            return
        self._say(None, f"Saved as {target}.")

    def _moved(self, part: DesignPart, folder: Path) -> DesignPart:
        """The design with its paths told from the folder that it is saved in."""
        here = self.file.path.parent

        def told(path: str | None) -> str | None:
            return None if path is None else Path(os.path.relpath(here / path, folder)).as_posix()

        if here.resolve() == folder.resolve():
            return part
        craft = part.craft.model_copy(update={"thrust_table": told(part.craft.thrust_table)})
        pack = part.pack.model_copy(update={"cell_folder": told(part.pack.cell_folder)})
        return part.model_copy(update={"craft": craft, "pack": pack})

    def _part(self) -> DesignPart:
        data = self.file.part.model_dump(exclude_none=True, exclude_unset=True)
        for section in ("craft", "pack", "flight"):
            for name, control in self._numbers.items():
                if name in getattr(type(getattr(self.file.part, section)), "model_fields", {}):
                    whole = name in ("series", "parallel")
                    data[section][name] = int(control.value) if whole else control.value
        data["pack"]["cell"] = self.cell.value.name
        return check_design(data, "bench")

    @staticmethod
    def _options(file: ThrustTableFile | None) -> dict[str, ThrustTable | None]:
        if file is None:
            return {"as in the design": None}
        return {
            f"{t.motor} {t.propeller} at {float(np.nanmean(t.voltage_v)):.1f} V".strip(): t
            for t in file.tables
        }

    def take_table(self, chosen: Any) -> None:
        """Use an uploaded thrust table; where it holds several, the first until another is chosen."""
        try:
            file = read_thrust_tables(chosen.content, chosen.name)
        except InputError as fault:
            self._say(fault)
            return
        self._offer(file)

    def take_rows(self) -> None:
        """Use the rows typed in the grid."""
        rows = [dict(zip(TYPED_COLUMNS, row, strict=True)) for row in self.rows.value]
        try:
            table = thrust_table_from_rows(rows)
        except InputError as fault:
            self._say(fault)
            return
        self._offer(ThrustTableFile((table,), ()))

    def _offer(self, file: ThrustTableFile) -> None:
        self.table_notices = file.notices
        self.table_choice.options = list(self._options(file).items())
        self.table_choice.layout.display = "" if len(file.tables) > 1 else "none"
        self.table_choice.value = file.tables[0]
        self._use(file.tables[0])
        self._say(None, f"Tables read: {len(file.tables)}; the first is in use.")

    def _use(self, table: ThrustTable | None) -> None:
        if table is None or table is self.file.design.craft.table:
            return
        design = self.file.design.changed(table=table)
        self.table_text = "own"
        self.file = DesignFile(
            self.file.path, self.file.part, design, self.table_notices, self.file.document
        )
        self.live.run_now()
