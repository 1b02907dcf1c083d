"""Measured cells: which are built in, how they are dealt, and what that is worth."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook.bench.matching import Dealt, weakest_steps
from workbook.bench.plan import CellGroups
from workbook.data.notebooks import here_or_shipped
from workbook.files.cell_log import CellLog, parse_cell_log, read_cell_log
from workbook.files.delimited import decode
from workbook.sheet.plan import plan_build
from workbook.sizing.design import Design
from workbook.sizing.size import size
from workbook.widgets.controls import ChoiceControl, ChosenFile, FileControl
from workbook.widgets.live import Live
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices, WorkingPanel

FOLDER = Path("cell_logs")
DEMOS = {"good batch (demo)": "good_batch.csv", "doubtful batch (demo)": "doubtful_batch.csv"}


@dataclass(frozen=True)
class BatchResult:
    """What is shown: the log as read, the groups, and the three ways of dealing."""

    log: CellLog
    groups: CellGroups
    ways: tuple[Dealt, ...]


class CellBatch(Panel):
    """A log of measured cells, its doubts, its groups and the gain in minutes.

    Args:
        design: whose pack is built.
    """

    def __init__(self, design: Design[Any]) -> None:
        self.design = design
        self.choice = ChoiceControl("cell log", {**DEMOS, "a file of my own": ""})
        self.own = FileControl("A log of your own", ".csv,.tsv,.txt", limit_mb=5.0)
        self.own.observe(self._own_chosen, names="value")
        self.figures, self.groups, self.left_out = KeyFigures(), Table(), Table()
        self.ways, self.notes = Table(), Notices()
        self.working_panel = WorkingPanel()
        self.live = Live(
            {"name": self.choice, "own": self.own}, self.compute, self.render, slow=True
        )
        tables = W.HBox(
            [W.VBox([self.groups]), W.VBox([self.ways, self.left_out])],
            layout=W.Layout(flex_flow="row wrap", grid_gap="0 40px"),
        )
        super().__init__(
            W.HTML('<div class="wb-title">Measured cells</div>'),
            *(self.choice, self.own, self.live.status, self.figures, tables, self.notes),
            self.working_panel,
            name="batch",
            max_width="1170px",
        )

    def _own_chosen(self, change: Any) -> None:
        if change["new"] is not None:
            self.choice.value = ""

    @property
    def path(self) -> Path | None:
        """The log in use as a file; None where there is none."""
        if self.choice.value:
            return here_or_shipped(FOLDER / str(self.choice.value))
        return self.own.value.path if self.own.value else None

    def compute(self, name: str, own: ChosenFile | None) -> BatchResult | None:
        """Read the log and deal the good cells; None where no log is chosen yet."""
        if name:
            log = read_cell_log(here_or_shipped(FOLDER / name))
        elif own is None:
            return None
        else:
            log = parse_cell_log(decode(own.content, own.name)[0], own.name)
        groups = plan_build(size(self.design), None, log.cells).groups
        assert groups is not None, "cells were given"
        return BatchResult(log, groups, groups.matching.ways)

    def render(self, result: BatchResult | None) -> None:
        """Fill the tables, or ask for a file."""
        if result is None:
            self.notes.update(["choose a file below."], "No log yet")
            return
        groups, cells = result.groups, result.log.cells
        matching = groups.matching
        self.figures.show(
            Figure("cells in the log", f"{len(cells.name)}"),
            Figure("weakest group", f"{matching.weakest_ah:.3f}", "Ah"),
            Figure("groups apart", f"{1000 * matching.spread_ah:.0f}", "mAh"),
            Figure("gain over sorted", f"{result.ways[1].gain_min:.2f}", "min"),
            Figure("gain over as they come", f"{result.ways[2].gain_min:.2f}", "min"),
        )
        self.groups.update(
            ["group, from minus", "cells", "Ah"],
            [
                [f"{k}", ", ".join(names), f"{ah:.3f}"]
                for k, (names, ah) in enumerate(zip(groups.names, groups.group_ah, strict=True), 1)
            ],
            "Deal the cells so",
            words=(1,),
        )
        self.ways.update(
            ["way of dealing", "weakest group, Ah", "matching flies longer by, min"],
            [[w.way, f"{w.weakest_ah:.3f}", f"{w.gain_min:.2f}"] for w in result.ways],
            "What matching is worth",
        )
        self.left_out.update(
            ["cell", "why it is not built in"],
            [
                *([name, why] for name, why in groups.left_out),
                *([name, "Good, and left over: a spare."] for name in groups.spare),
            ],
            "Left out",
            words=(1,),
        )
        self.notes.update([*result.log.notes, *groups.inspection.not_measured], "Noticed")
        self.working_panel.update(
            weakest_steps(
                [
                    cells.capacity_ah[[cells.name.index(n) for n in row]].tolist()
                    for row in groups.names
                ]
            )
        )
