"""Lesson 12: how the cells are arranged in the bay, which are built in, and the sheet for the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook.battery.pack import Pack
from workbook.bench.balance import balance_lead, before_plugging_in, check_readings
from workbook.bench.bench_settings import Bay
from workbook.bench.clearance import barrier_lines
from workbook.bench.layout import Fittings, Layout, layout_steps, layouts
from workbook.bench.matching import weakest_steps
from workbook.bench.plan import CellGroups
from workbook.bench.scaled_drawing import draw_full_size, draw_to_width
from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError
from workbook.files.cell_log import CellLog, parse_cell_log, read_cell_log
from workbook.files.delimited import decode
from workbook.lessons.learner import learners_design
from workbook.lessons.lesson_view import LessonView
from workbook.lessons.page_writer import PageWriter
from workbook.parse import parse_number
from workbook.sheet.build import write_sheet
from workbook.sheet.plan import deal_cells
from workbook.sizing.design import Design
from workbook.sizing.size import size
from workbook.units import axis_text, cached_by_units, number_in, with_unit
from workbook.widgets.controls import (
    ChoiceControl,
    ChosenFile,
    DemoOrOwnLog,
    NumberControl,
    controls,
)
from workbook.widgets.live import Live
from workbook.widgets.parts import Reply, finding_html, heading, text_box, tick, wrapped
from workbook.widgets.picture import Picture
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices, Verdict, WorkingPanel
from workbook.working import Step

DEMO_BAY = Bay(190.0, 85.0, 80.0)
"""Where a design says nothing of its bay: the demo craft's, invented."""
PACKINGS = {"any": ("square", "staggered"), "square": ("square",), "staggered": ("staggered",)}
MOST_LISTED = 3
"""Arrangements listed of each kind, those that fit and those that do not."""


@dataclass(frozen=True)
class BuildSheetResult:
    """What the figure shows: the bay, what may be tried, every arrangement found and the one drawn."""

    bay: Bay
    packings: tuple[str, ...]
    layers: int
    found: tuple[Layout, ...]
    shown: Layout

    @property
    def fitting(self) -> tuple[Layout, ...]:
        """The arrangements that go into the bay."""
        return tuple(layout for layout in self.found if layout.fits)


_cached_layouts = cached_by_units(layouts)
_cached_drawing = cached_by_units(draw_full_size)
_cached_narrow_drawing = cached_by_units(draw_to_width)
NARROW_MM = 100.0
"""Width of the drawing on a phone: its lettering, 3.2 mm, is then 12 pixels high."""


class BuildSheet(LessonView):
    """Size the bay, choose how cells are packed, and see which arrangements fit.

    Attributes:
        batch: measured cells dealt into groups, for a cell of its own.
        plug: the balance lead and its check.
        sheet: the button that writes the build sheet.
        printed_parts: what a worksheet prints besides the figure.
    """

    slow = True
    kept_inputs = ("bay_length_mm", "bay_width_mm", "bay_height_mm", "packing", "layers")

    def build(self) -> W.Widget:
        """Controls at the bay of the design; drawing; table of arrangements."""
        settings = self.opened.file.settings
        bay = settings.bay or DEMO_BAY
        packing = "any" if len(settings.packings) > 1 else settings.packings[0]
        self.inputs = {
            **controls(
                bay_length_mm=bay.length_mm, bay_width_mm=bay.width_mm, bay_height_mm=bay.height_mm
            ),
            "packing": ChoiceControl("packing", list(PACKINGS), packing),
            **controls(layers=settings.max_layers),
            "gap_mm": NumberControl.of("holder_gap_mm", settings.spacing_mm),
            "number": NumberControl.of("number", 1, most=2 * MOST_LISTED),
        }
        self.picture = Picture("The arrangement, both faces", 660, 400)
        self.picture.narrow_px, self.picture.redraw = 500, self._draw
        self.figures, self.table, self.barrier = KeyFigures(), Table(), Notices()
        self.mass_note = W.HTML()
        self.batch = CellBatch(self.design)
        self.plug = BalancePlug(self.design.one_pack)
        self.deal = tick("deal the cells of the log above", True)
        tip = "write a page to print, for the design that is kept"
        self.sheet = PageWriter(
            "build_sheet.html", "write the build sheet", tip, self.write_sheet, self.deal
        )
        self.printed_parts = (self.batch, self.plug)
        self.detached_parts = (*self.printed_parts, self.sheet)
        return self.side_by_side(
            [*self.inputs.values(), self.figures, self.mass_note, self.barrier],
            [self.picture, self.table],
        )

    def compute(
        self,
        bay_length_mm: float,
        bay_width_mm: float,
        bay_height_mm: float,
        packing: str,
        layers: int,
        gap_mm: float,
        number: int,
    ) -> BuildSheetResult:
        """Find the arrangements and draw one."""
        bay = Bay(bay_length_mm, bay_width_mm, bay_height_mm)
        fittings = Fittings(spacing_mm=gap_mm, tabs="each")
        pack, packings = self.design.one_pack, PACKINGS[packing]
        arrangements = _cached_layouts(
            pack, bay, fittings, packings=packings, max_layers=layers, most=MOST_LISTED
        )
        shown = arrangements[min(number, len(arrangements)) - 1]
        _cached_drawing(shown)  # here, beside the page
        return BuildSheetResult(bay, packings, layers, arrangements, shown)

    def _draw(self) -> None:
        """The arrangement that is shown; larger where the picture is narrow."""
        result: BuildSheetResult | None = self.result
        if result is None:
            return
        shown, narrow = result.shown, self.picture.width_px == self.picture.narrow_px
        drawing = _cached_narrow_drawing(shown, NARROW_MM) if narrow else _cached_drawing(shown)
        sign = "It fits." if shown.fits else "It does not fit."
        finding = (
            f"Number {result.found.index(shown) + 1}: {shown.arrangement}. {sign} {shown.lying.why}"
        )
        self.picture.show(drawing.svg, finding)

    def render(self, result: BuildSheetResult) -> None:
        """Draw, list the arrangements, and say why others do not fit."""
        shown, found = result.shown, result.found
        index = found.index(shown)
        self._draw()
        self.barrier.update(barrier_lines(shown), title="Caution")
        self.table.update(
            ["", "arrangement", axis_text("L x W x H, mm"), "fits?"],
            [
                [
                    f"{k}",
                    layout.arrangement,
                    " x ".join(number_in(side, "mm", 0, "up") for side in layout.lying.sides_mm),
                    "✓ fits" if layout.fits else f"✕ {layout.lying.why.rpartition(': ')[2]}",
                ]
                for k, layout in enumerate(found, 1)
            ],
            f"{len(result.fitting)} of {len(found)} arrangements listed fit this bay, at most "
            f"{result.layers} {'layer' if result.layers == 1 else 'layers'} end to end",
            bold=index,
            words=(1, 3),
        )
        self.figures.show(
            Figure("fit the bay", f"{len(result.fitting)} of {len(found)}"),
            Figure.of("pack_mass_g", self.design.one_pack.mass_g),
            Figure.in_unit("of it drawn here", shown.mass_g, "g", 0, "up"),
        )
        self.mass_note.value = finding_html(self._mass_note_text(shown), announced=False)

    def _mass_note_text(self, shown: Layout) -> str:
        """Why the plan's mass is not that of what is drawn."""
        pack = self.design.one_pack
        return (
            f"The plan counts {float(pack.overhead_pct):g} % over the cells, and "
            f"{with_unit(float(pack.extra_mass_g), 'g')} of leads and connector. Cells, strips, rings, sheets and sleeve "
            f"as drawn are {number_in(shown.overhead_pct, '%', 1, 'up')} % over the cells; solder, glue, leads and "
            "connector come on top. The plan's figure counts until the finished pack is weighed."
        )

    def working(self, result: BuildSheetResult) -> Iterable[Step]:
        """Outer size, room left and mass."""
        return layout_steps(result.shown, result.bay)

    def write_sheet(self, path: Path, **options: Any) -> str:
        """Write the sheet of the kept design and return its verdict; `options` as `workbook.sheet.build.write_sheet` takes it."""
        cells = self.batch.path if self.deal.value else None
        sheet = write_sheet(learners_design(self.craft_type).file, path, cells=cells, **options)
        broken = "NOT YET: the sheet says which limits are broken."
        return "Every limit holds." if sheet.holds else broken

    def kept_figures(self, result: BuildSheetResult) -> Mapping[str, Any]:
        """The bay and how it is filled go on into the bench part of the design."""
        return {**super().kept_figures(result), "holder_gap_mm": result.shown.fittings.spacing_mm}


FOLDER = Path("cell_logs")
LOGS = (".csv,.tsv,.txt", 5.0)
"""Endings of a cell log, and its largest size in MB."""
DEMOS = {"good batch (demo)": "good_batch.csv", "doubtful batch (demo)": "doubtful_batch.csv"}


def chosen_log(name: str, own: ChosenFile | None) -> CellLog | None:
    """The demo log of this file name, else the user's own; None where none is chosen yet.

    Raises:
        InputError: it cannot be used.
    """
    if name:
        return read_cell_log(here_or_shipped(FOLDER / name))
    return None if own is None else parse_cell_log(decode(own.content, own.name)[0], own.name)


@dataclass(frozen=True)
class BatchResult:
    """What is shown: the log as read and the groups."""

    log: CellLog
    groups: CellGroups


class CellBatch(Panel):
    """A log of measured cells, its doubts, its groups and the gain in minutes.

    Args:
        design: whose pack is built.
    """

    def __init__(self, design: Design[Any]) -> None:
        self.design = design
        self.choice = DemoOrOwnLog("cell log", DEMOS, *LOGS)
        self.choice.size(80, 220, 80)
        self.figures, self.groups, self.left_out = KeyFigures(), Table(), Table()
        self.ways, self.notes = Table(), Notices()
        self.working_panel = WorkingPanel()
        self.live = Live(
            {"name": self.choice, "own": self.choice.own}, self.compute, self.render, slow=True
        )
        beside = W.VBox([self.ways, self.left_out])
        tables = wrapped(W.VBox([self.groups]), beside, grid_gap="0 40px")
        super().__init__(
            heading("Measured cells"),
            self.choice,
            self.choice.own,
            self.live.status,
            self.figures,
            tables,
            self.notes,
            self.working_panel,
            name="batch",
            max_width="1170px",
        )

    @property
    def path(self) -> Path | None:
        """The log in use as a file; None where there is none."""
        if self.choice.value:
            return here_or_shipped(FOLDER / str(self.choice.value))
        own = self.choice.own.value
        return own.path if own else None

    def compute(self, name: str, own: ChosenFile | None) -> BatchResult | None:
        """Read the log and deal the good cells; None where no log is chosen yet."""
        log = chosen_log(name, own)
        if log is None:
            return None
        return BatchResult(log, deal_cells(size(self.design), log.cells))

    def render(self, result: BatchResult | None) -> None:
        """Fill the tables, or ask for a file."""
        if result is None:
            self.notes.update(["choose a file below."], "No log yet")
            return
        groups, cells = result.groups, result.log.cells
        matching = groups.matching
        self.figures.show(
            Figure("cells in the log", f"{len(cells.name)}"),
            Figure.in_unit("weakest group", matching.weakest_ah, "Ah", 3, "down"),
            Figure.in_unit("groups apart", 1000.0 * matching.spread_ah, "mAh", 0, "up"),
            Figure.in_unit(
                "gain over sorting by charge", groups.ways[1].gain_min, "min", 2, "down"
            ),
            Figure.in_unit("gain over unsorted", groups.ways[2].gain_min, "min", 2, "down"),
        )
        self.groups.update(
            ["group, from minus", "cells", "Ah"],
            [
                [f"{k}", ", ".join(names), number_in(ah, "Ah", 3, "down")]
                for k, (names, ah) in enumerate(
                    zip(groups.names, matching.group_ah, strict=True), 1
                )
            ],
            "Deal the cells like this",
            words=(1,),
        )
        self.ways.update(
            ["how they are dealt", "weakest group, Ah", "minutes gained by matching"],
            [
                [
                    way.way,
                    number_in(way.weakest_ah, "Ah", 3, "down"),
                    number_in(way.gain_min, "min", 2, "down"),
                ]
                for way in groups.ways
            ],
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
        capacities = cells.capacity_ah[matching.groups].tolist()
        self.working_panel.update(lambda: weakest_steps(capacities))


class BalancePlug(Panel):
    """Pins from minus to plus with their voltages, and boxes for what the meter shows.

    Args:
        pack: one S.

    Example:
        >>> import workbook as wb
        >>> plug = BalancePlug(wb.Pack(wb.find_cell("Bittern"), 4, 2))
        >>> plug.typed.value = "3,6 7,2 10,8 14,4"
        >>> "HOLDS" in plug.verdict.html.value
        True
    """

    def __init__(self, pack: Pack) -> None:
        self.series = int(pack.series)
        self.lead = balance_lead(self.series, pack.cell.charge_v)
        self.table, self.verdict, self.reply = Table(), Verdict(), Reply()
        self.table.update(
            ["pin", "joined to", "full, V", "stored, V", "as arrived, V", "step as arrived, V"],
            [
                [
                    f"B{p.pin}",
                    p.junction,
                    f"{p.full_v:.2f}",
                    f"{p.storage_v:.2f}",
                    f"{p.arrival_v:.2f}",
                    "–" if p.pin == 0 else f"{self.lead[1].arrival_v:.2f}",
                ]
                for p in self.lead
            ],
            "Balance lead: read every pin against B0 before you plug it in",
            words=(1,),
        )
        self.typed = text_box(
            "",
            f"B1 to B{self.series}, V",
            tip="readings of each pin against B0, in volt, spaces between",
            hint="what your meter shows, spaces between",
            width_px=560,
            label_px=110,
        )
        self.typed.observe(lambda _: self.check(), names="value")
        caution = W.HTML(finding_html(before_plugging_in(self.series), announced=False))
        super().__init__(self.table, caution, self.typed, self.reply, self.verdict, name="plug")

    def check(self) -> None:
        """Judge what is typed; say what is missing where it cannot be judged."""
        self.verdict.html.value = ""
        self.reply.clear()
        texts = self.typed.value.replace(";", " ").split()
        if not texts:
            return
        try:
            found = check_readings([parse_number(t, "V") for t in texts], self.series)
        except InputError as fault:
            self.reply.refuse(" ".join(["Not checked:", *map(str, fault.problems)]))
            return
        if found.safe:
            steps = ", ".join(f"{v:.2f}" for v in found.step_v)
            self.verdict.update("holds", f"Every step is one cell: {steps} V.")
        else:
            self.verdict.update("broken", "Do not plug it in. " + " ".join(found.findings))
