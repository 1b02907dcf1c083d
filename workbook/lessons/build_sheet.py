"""Lesson 12: how the cells stand in the bay, which are built in, and the sheet for the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import ipywidgets as W

from workbook.bench.clearance import barrier_words
from workbook.bench.layout import Bay, Fittings, Layout, layout_steps, layouts
from workbook.bench.scaled_drawing import draw_full_size
from workbook.files.design_file import bench_settings
from workbook.lessons.balance_plug import BalancePlug
from workbook.lessons.cell_batch import CellBatch
from workbook.lessons.lesson_view import LessonView
from workbook.lessons.sheet_writer import SheetWriter
from workbook.widgets.controls import ChoiceControl, NumberControl, controls
from workbook.widgets.picture import Picture
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

BAY = Bay(190.0, 85.0, 80.0)
"""Where a design says nothing of its bay: the demo craft's, invented."""
PACKINGS = {"any": ("square", "staggered"), "square": ("square",), "staggered": ("staggered",)}
MOST = 3
"""Arrangements listed of each kind, those that fit and those that do not."""


@dataclass(frozen=True)
class BuildSheetResult:
    """What the figure shows: the bay, every arrangement tried, the one drawn and its drawing."""

    bay: Bay
    packings: tuple[str, ...]
    layers: int
    gap_mm: float
    found: tuple[Layout, ...]
    shown: Layout
    drawing: str
    barrier: str

    @property
    def fitting(self) -> tuple[Layout, ...]:
        """The arrangements that go into the bay."""
        return tuple(layout for layout in self.found if layout.fits)


_found = lru_cache(maxsize=64)(layouts)
_drawn = lru_cache(maxsize=64)(draw_full_size)


class BuildSheet(LessonView):
    """Size the bay, choose how cells are packed, and see which arrangements fit.

    Attributes:
        batch: measured cells dealt into groups, for a cell of its own.
        plug: the balance lead and its check.
        sheet: the button that writes the build sheet.
        further: what else there is to print.
    """

    slow = True
    carries = ("bay_length_mm", "bay_width_mm", "bay_height_mm", "packing", "layers")

    def build(self) -> W.Widget:
        """Controls at the bay of the design; drawing; table of arrangements."""
        settings = bench_settings(self.opened.file.part.bench)
        bay = settings.bay or BAY
        packing = "any" if len(settings.packings) > 1 else settings.packings[0]
        self.inputs = {
            **controls(
                bay_length_mm=bay.length_mm,
                bay_width_mm=bay.width_mm,
                bay_height_mm=bay.height_mm,
            ),
            "packing": ChoiceControl("packing", list(PACKINGS), packing),
            **controls(layers=settings.max_layers),
            "gap_mm": NumberControl.of("holder_gap_mm", settings.spacing_mm),
            "number": NumberControl.of("number", 1, most=2 * MOST),
        }
        self.picture = Picture("The arrangement, both faces", 660, 400)
        self.figures, self.table, self.barrier = KeyFigures(), Table(), Notices()
        self.batch = CellBatch(self.design)
        self.plug = BalancePlug(self.design.pack)
        self.sheet = SheetWriter(self.craft_type, self.batch)
        self.further = (self.batch, self.plug)
        self.beside = (*self.further, self.sheet)
        return self.side_by_side(
            [*self.inputs.values(), self.figures, self.barrier], [self.table, self.picture]
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
        pack, packings = self.design.pack, PACKINGS[packing]
        found = _found(pack, bay, fittings, packings=packings, max_layers=layers, most=MOST)
        shown = found[min(number, len(found)) - 1]
        drawn = _drawn(shown).svg
        barrier = barrier_words(shown)
        return BuildSheetResult(bay, packings, layers, gap_mm, found, shown, drawn, barrier)

    def render(self, result: BuildSheetResult) -> None:
        """Draw, list the arrangements, and say why others do not fit."""
        shown, found = result.shown, result.found
        at = found.index(shown)
        sign = "It fits." if shown.fits else "It does not fit."
        self.picture.show(
            result.drawing, f"Number {at + 1}: {shown.arrangement}. {sign} {shown.why}"
        )
        self.barrier.update([result.barrier], title="Caution")
        self.table.update(
            ["", "arrangement", "L x W x H, mm", "fits?"],
            [
                [
                    f"{k}",
                    layout.arrangement,
                    f"{layout.length_mm:.0f} x {layout.width_mm:.0f} x {layout.height_mm:.0f}",
                    "✓ fits" if layout.fits else f"✕ {layout.why.rpartition(': ')[2]}",
                ]
                for k, layout in enumerate(found, 1)
            ],
            f"{len(result.fitting)} of {len(found)} arrangements listed fit this bay, at most "
            f"{result.layers} {'layer' if result.layers == 1 else 'layers'} end to end",
            bold=at,
            words=(1, 3),
        )
        self.figures.show(
            Figure("fit the bay", f"{len(result.fitting)} of {len(found)}"),
            Figure("mass as laid out", f"{shown.mass_g:.0f}", "g"),
            Figure("beyond the cells", f"{shown.overhead_pct:.1f}", "%"),
        )

    def working(self, result: BuildSheetResult) -> Iterable[Step]:
        """Outer size, room left and mass."""
        return layout_steps(result.shown, result.bay)

    def keeps(self, result: BuildSheetResult) -> Mapping[str, Any]:
        """The bay and how it is filled go on into the bench part of the design."""
        return {**super().keeps(result), "holder_gap_mm": result.gap_mm}
