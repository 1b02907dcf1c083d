"""The page of cells that arrive: how many to test, how to read their resistance, and what they turn out to be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.bench.arrival import (
    Arrival,
    Finding,
    MeasuredForPlan,
    TwoLoads,
    judge_arrival,
    two_loads,
)
from workbook.bench.matching import Matching
from workbook.bench.sampling import CONFIDENCE, SamplingPlan, sampling_plan
from workbook.errors import InputError
from workbook.files.cell_log import CellLog, parse_cell_log
from workbook.files.design_file import measured, moved_design, read_design, write_design
from workbook.files.writing import SeenFiles
from workbook.lessons.build_sheet import DEMOS, LOGS, chosen_log
from workbook.lessons.learner import (
    FILES,
    cells,
    design_path,
    learners_design,
    own_path,
)
from workbook.lessons.page_writer import PageWriter
from workbook.quantities import unit_of
from workbook.sheet.arrival import plan_lines, write_arrival_form
from workbook.sizing.design import Origin
from workbook.units import number_in
from workbook.widgets.charts import Level, Line, LineChart, Point, small_chart
from workbook.widgets.controls import (
    ChoiceControl,
    ChosenFile,
    DemoOrOwnLog,
    RowsGrid,
    controls,
)
from workbook.widgets.frame import LiveView
from workbook.widgets.parts import REPLACE, Reply, button, heading, text_box, tick, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices, Verdict
from workbook.working import Step

TYPED = "typed below"
TYPED_COLUMNS = (
    "cell",
    "mass, g",
    "arrival, V",
    "rest day 0, V",
    "rest day 7, V",
    "resistance, mΩ",
    "capacity, mAh",
)


class ArrivingCells:
    """The parts of the page.

    Attributes:
        sample: how many of a delivery to test, and the form to print.
        loads: the resistance of one cell by direct current.
        lot: what was measured, beside the datasheet.
    """

    def __init__(self) -> None:
        self.lot = TestedLot()
        self.sample = Sample(self.lot)
        self.loads = Loads(self.lot)


class Sample(LiveView):
    """How many of a delivery to test, so that a bad one is found out; and the form to print.

    Args:
        lot: whose cell the form is for.
    """

    def __init__(self, lot: TestedLot) -> None:
        super().__init__("sample")
        self.lot = lot
        self.arrange()

    @override
    def build(self) -> W.Widget:
        self.inputs = controls(batch=24, bad_pct=20.0, tested=10)
        self.figures = KeyFigures()
        self.chart = LineChart(
            "Chance that the sample shows a bad cell", "cells tested", "chance, %", height_px=270
        )
        self.form = PageWriter(
            "arriving_cells.html",
            "write the form",
            "write a form to print and fill by hand",
            self.write_form,
        )
        return self.side_by_side([*self.inputs.values(), self.figures, self.form], [self.chart])

    @override
    def compute(self, batch: int, bad_pct: float, tested: int) -> SamplingPlan:
        return sampling_plan(batch, bad_pct / 100.0, tested)

    @override
    def render(self, result: SamplingPlan) -> None:
        self.figures.show(
            Figure("bad cells in it", f"{result.bad} of {result.batch}"),
            Figure.in_unit("found", 100.0 * result.chance, "times out of 100", 0, "down"),
            Figure("to test", f"{result.needed}"),
        )
        self.chart.update(
            [Line("one or more found", result.counts, 100.0 * result.chances)],
            levels=[Level("95 in 100", 100.0 * CONFIDENCE, "caution")],
            points=[
                Point("yours", result.tested, 100.0 * result.chance),
                Point(
                    "enough", result.needed, 100.0 * result.chances[result.needed], "alternative"
                ),
            ],
            x_range=(0.0, float(result.batch)),
            y_range=(0.0, 100.0),
            finding=result.text,
        )

    @override
    def working(self, result: SamplingPlan) -> Iterable[Step]:
        return result.working()

    def write_form(self, path: Path, **options: Any) -> str:
        """Write the form for as many cells as are delivered; `options` as `write_arrival_form` takes it."""
        batch = self.live.values()["batch"]
        inputs = learners_design(self.lot.craft.value).file.inputs
        write_arrival_form(self.lot.cell.value, batch, path, inputs=inputs, **options)
        return ""


class Loads(LiveView):
    """The resistance of one cell by direct current, from its voltage at two loads.

    Args:
        lot: whose cell it is.
    """

    def __init__(self, lot: TestedLot) -> None:
        super().__init__("loads")
        self.lot = lot
        self.arrange()

    @override
    def build(self) -> W.Widget:
        self.inputs = {
            **controls(light_a=0.9, light_v=3.652, heavy_a=9.0, heavy_v=3.448, ac_mohm=15.2),
            "cell": self.lot.cell,
        }
        self.figures = KeyFigures()
        self.chart = LineChart("Voltage under two loads", "current, A", "voltage, V", height_px=270)
        numbers = [control for name, control in self.inputs.items() if name != "cell"]
        return self.side_by_side([*numbers, self.figures], [self.chart])

    @override
    def compute(self, cell: Any, ac_mohm: float, **loads: float) -> TwoLoads:
        return two_loads(
            loads["light_a"],
            loads["light_v"],
            loads["heavy_a"],
            loads["heavy_v"],
            cell,
            ac_mohm or None,
        )

    @override
    def render(self, result: TwoLoads) -> None:
        self.figures.show(
            Figure.in_unit("resistance", result.resistance_mohm, "mΩ", 1, "up"),
            Figure.in_unit("either way", result.uncertainty_mohm, "mΩ", 1, "up"),
            Figure("the datasheet's", f"{result.stated_mohm:.1f}", "mΩ"),
        )
        ends = np.array([0.0, 1.1 * result.high_a])
        lines = [Line("by two loads", ends, result.volts_at(ends))]
        if result.ac_mohm is not None:
            lines.append(
                Line(
                    "as a 1 kHz meter reads it",
                    ends,
                    result.volts_at(ends, result.ac_mohm),
                    "caution",
                )
            )
        self.chart.update(
            lines,
            points=[
                Point("lighter", result.low_a, result.low_v),
                Point("heavier", result.high_a, result.high_v),
            ],
            x_range=(0.0, float(ends[1])),
            finding=result.text,
        )

    @override
    def working(self, result: TwoLoads) -> Iterable[Step]:
        return result.working()


@dataclass(frozen=True)
class LotResult:
    """What is shown: the log as read, the judgement, the groups, and what a plan may count on."""

    log: CellLog
    arrived: Arrival
    matching: Matching | None
    plan: MeasuredForPlan
    where: str


class TestedLot(LiveView):
    """The cells as measured: each beside the others, all of them beside the datasheet; on to the plan."""

    __test__ = False  # no test of pytest's
    narrowest_px = 388

    def __init__(self) -> None:
        super().__init__("lot")
        self.seen = SeenFiles()
        opened = learners_design().file
        self.craft = ChoiceControl("for my", list(FILES))
        self.cell = ChoiceControl("cell ordered", cells(), cells().get(opened.part.pack.cell))
        self.arrange()
        self.children = [*self.children, self._save_panel()]

    @override
    def build(self) -> W.Widget:
        self.choice = DemoOrOwnLog("measured", DEMOS, *LOGS, {TYPED: TYPED})
        self.rows = RowsGrid(TYPED_COLUMNS, rows=4, label="Or type the rows of your form")
        self.rows.layout.overflow = "auto"
        self.rows.observe(self._rows_typed, names="value")
        self.inputs = {
            "name": self.choice,
            "own": self.choice.own,
            "rows": self.rows,
            "cell": self.cell,
            "craft": self.craft,
            **controls(batch=24),
        }
        self.verdict, self.signs, self.noticed = Verdict(), Notices(), Notices()
        self.charts = [_lot_chart(key) for key in CHARTED]
        self.figures, self.bad, self.groups = KeyFigures(), Table(), Table()
        left = [self.choice, self.cell, self.inputs["batch"], self.craft]
        left += [self.verdict, self.figures, self.signs]
        body = self.side_by_side([*left, self.big], [wrapped(*self.charts)])
        tables = wrapped(self.bad, self.groups, grid_gap="0 40px")
        return W.VBox([body, tables, self.noticed, self.choice.own, self.rows])

    def _rows_typed(self, change: Any) -> None:
        if change["new"]:
            self.choice.value = TYPED

    @override
    def compute(
        self,
        name: str,
        own: ChosenFile | None,
        rows: tuple[tuple[str, ...], ...],
        cell: Any,
        craft: str,
        batch: int,
    ) -> LotResult | None:
        where = name or (own.name if own else "")
        log = chosen_log("" if name == TYPED else name, own)
        if name == TYPED:
            lines = ("\t".join(row) for row in (TYPED_COLUMNS, *rows))
            log = parse_cell_log("\n".join(lines), TYPED) if rows else None
        if log is None:
            return None
        arrived = judge_arrival(log.cells, cell, max(batch, len(log.cells.name)))
        pack = learners_design(craft).file.design.pack
        matching = arrived.deal(int(pack.series), int(pack.parallel))
        return LotResult(log, arrived, matching, arrived.for_plan(matching), where)

    @override
    def render(self, result: LotResult | None) -> None:
        if result is None:
            self.verdict.update(
                "not checked", "No cells yet: choose a log, or type the rows of your form below."
            )
            return
        arrived = result.arrived
        word = "holds" if arrived.holds else "not checked" if arrived.as_ordered else "not yet"
        self.verdict.update("unsafe" if arrived.signs else word, arrived.verdict)
        self.figures.show(
            Figure("tested", f"{len(arrived.cells.name)} of {arrived.batch}"),
            Figure("not to be built in", f"{len(arrived.bad)}"),
            Figure("bad among the rest, at most", f"{arrived.most_bad_left}"),
        )
        self.signs.update(arrived.signs, "Warning signs in the delivery")
        for chart, finding in zip(self.charts, _in_order(arrived.findings), strict=True):
            _show_lot(chart, finding)
        self.bad.layout.display = "" if arrived.bad else "none"
        self.bad.update(
            ["cell", "why it is not built in"],
            [[arrived.cells.name[i], " ".join(arrived.reasons(i))] for i in arrived.bad],
            "Not to be built in",
            words=(1,),
        )
        self._show_groups(result)
        self.noticed.update([*result.log.notes, *arrived.inspection.not_measured], "Noticed")

    def _show_groups(self, result: LotResult) -> None:
        """How the good cells are dealt, where there are enough of them."""
        dealt = result.matching
        pack = learners_design(self.craft.value).file.part.pack
        if dealt is None:
            title = f"Too few good cells with a capacity for {pack.series}S{pack.parallel}P"
            self.groups.update(["group, from minus", "cells", "Ah"], [], title, words=(1,))
            return
        names = result.arrived.cells.names_of(dealt.groups)
        self.groups.update(
            ["group, from minus", "cells", "Ah"],
            [
                [f"{k}", ", ".join(row), number_in(ah, "Ah", 3, "down")]
                for k, (row, ah) in enumerate(zip(names, dealt.group_ah, strict=True), 1)
            ],
            f"The good cells dealt into {pack.series} groups of {pack.parallel}",
            words=(1,),
        )

    @override
    def working(self, result: LotResult | None) -> Iterable[Step]:
        return () if result is None else result.arrived.working()

    # on to the plan ------------------------------------------------------------------------------

    def _save_panel(self) -> Panel:
        """The part that puts what was measured into a design."""
        self.path_box = text_box("", "design", width_px=330)
        self.craft.observe(lambda _: self._suggest_path(), names="value")
        self.overwrite, self.reply = tick(REPLACE), Reply()
        tip = "put measured charge and resistance into the design"
        self.use_button = button("count on these cells", self.use, tip, 180)
        self._suggest_path()
        row = wrapped(self.path_box, self.use_button, self.overwrite)
        return Panel(heading("On to the plan"), row, self.reply)

    def _suggest_path(self) -> None:
        self.path_box.value = own_path(self.craft.value).as_posix()

    def use(self) -> None:
        """Put what was measured into the design, or say why not."""
        shown = self.live.current()
        target = design_path(self.path_box.value, self.craft.value)
        with self.reply.trying():
            if shown is None:
                raise InputError("there is nothing measured to count on; see above.")
            self.reply.done(self._write_design(shown, target))

    def _write_design(self, shown: LotResult, target: Path) -> str:
        """Write the design with what was measured; what was done, in a sentence.

        Raises:
            InputError: the cells are not fit to be counted on, or the file cannot be written.
        """
        if shown.arrived.signs:
            raise InputError("a plan does not count on cells that are not what they should be.")
        if not shown.plan.figures:
            raise InputError("neither charge nor resistance was measured on two good cells.")
        mine = learners_design(self.craft.value)
        file = read_design(target) if target.exists() else mine.file
        self.seen.note(target)
        if file.part.pack.cell != shown.arrived.cell.name:
            message = f"the design has {file.part.pack.cell}, and these are {shown.arrived.cell.name}; choose the same."
            raise InputError(message)
        note = f"{shown.plan.cells} cells, {shown.where}"
        origins = [
            Origin(key, "measured", sure, note) for key, sure in shown.plan.uncertainty_pct.items()
        ]
        part = measured(file.part, shown.plan.figures, *origins, section="pack")
        if file is mine.file and not mine.own:
            part = part.model_copy(update={"name": f"{part.name}, mine"})
        part = moved_design(part, file.path.parent, target.parent, anywhere=file.anywhere)
        write_design(
            part,
            target,
            file.document,
            overwrite=self.overwrite.value or file.path == target,
            inputs=file.inputs[1:],
            seen=self.seen,
        )
        return f"✓ Saved as {target}. It counts on {'; '.join(plan_lines(shown.plan))}."


CHARTED = {
    "mass_g": "mass",
    "arrival_v": "voltage on arrival",
    "resistance_mohm": "resistance",
    "capacity_ah": "capacity",
}
"""Figures with a chart of their own, in the order of the test."""


def _in_order(findings: Iterable[Finding]) -> list[Finding]:
    by_key = {finding.window.key: finding for finding in findings}
    return [by_key[key] for key in CHARTED]


def _lot_chart(key: str) -> LineChart:
    label = f"{CHARTED[key]}, {unit_of(key)}"
    return small_chart(CHARTED[key], "cell, in the order of the log", label)


def _show_lot(chart: LineChart, finding: Finding) -> None:
    """The cells as dots between the datasheet's two lines."""
    window = finding.window
    count = len(finding.values)
    low, high = finding.axis_ends
    known = np.isfinite(finding.values)
    places = np.arange(1.0, count + 1.0)
    chart.show_dots(places[known], finding.values[known], size=50)
    mean = [] if finding.sample is None else [Level("mean", finding.sample.mean, "alternative")]
    chart.update(
        levels=[Level("least", window.low), Level("most", window.high), *mean],
        x_range=(0.0, count + 1.0),
        y_range=(low, high),
        finding=finding.text,
    )
