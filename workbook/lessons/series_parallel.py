"""Lesson 2: cells stepped into series and parallel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook import svg
from workbook.battery.cell import Cell
from workbook.battery.pack import Pack, Wiring
from workbook.battery.two_packs import Joining, PairFlight, fly_pair
from workbook.lessons.learner import cell_choice
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import Number, in_digits, plain
from workbook.sheet.text import result_text
from workbook.sizing.design import Design
from workbook.sizing.figures import pack_steps
from workbook.widgets.charts import Line, LineChart
from workbook.widgets.controls import NumberControl, controls
from workbook.widgets.live import Live
from workbook.widgets.parts import heading, wrapped
from workbook.widgets.picture import Picture
from workbook.widgets.style import ALTERNATIVE, INK, LIMIT, PACK, Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step


@dataclass(frozen=True)
class SeriesParallelResult:
    """What the figure shows: the design with that pack, and its voltages and currents."""

    design: Design
    wiring: Wiring


class SeriesParallel(LessonView):
    """Step S and P; the drawing, the table of what multiplies what, and the figures follow.

    Attributes:
        pair: two such packs side by side, for a cell of its own.
    """

    kept_inputs = ("cell", "series", "parallel")

    @override
    def build(self) -> W.Widget:
        self.inputs = {
            "cell": cell_choice(self.design),
            **controls("series", "parallel", design=self.design),
            "current_a": NumberControl.of("pack_current_a", 20),
        }
        self.picture, self.table, self.figures = WiringPicture(), Table(), KeyFigures()
        self.pair = PairOfPacks(self.design.one_pack)
        self.detached_parts = (self.pair,)
        return self.side_by_side([*self.inputs.values(), self.figures], [self.picture, self.table])

    @override
    def compute(
        self, cell: Cell, series: int, parallel: int, current_a: float
    ) -> SeriesParallelResult:
        design = self.design.changed(cell=cell, series=series, parallel=parallel)
        return SeriesParallelResult(design, design.pack.wiring(current_a))

    @override
    def render(self, result: SeriesParallelResult) -> None:
        pack, found = plain(result.design.pack), result.wiring
        cell = pack.cell
        self.picture.update(
            found.joint_v.tolist(),
            pack.parallel,
            found.current_a,
            found.cell_a,
            over=found.cell_a > cell.continuous_a,
        )
        s, p = f"x {pack.series} (S)", f"x {pack.parallel} (P)"
        drawn = result_text("cell_c_rate", found.cell_c_rate)
        capacity, cell_a = (
            result_text("pack_capacity_ah", pack.capacity_ah),
            result_text("cell_a", found.cell_a),
        )
        self.table.update(
            ["", "one cell", "", "pack"],
            [
                [
                    "voltage, nominal",
                    f"{cell.nominal_v:g} V",
                    s,
                    result_text("pack_nominal_v", pack.nominal_v),
                ],
                [
                    "voltage, full",
                    f"{cell.charge_v:g} V",
                    s,
                    result_text("pack_full_v", pack.full_v),
                ],
                ["capacity, rated", f"{cell.rated_capacity_ah:g} Ah", p, capacity],
                ["current, continuous", f"{cell.continuous_a:g} A", p, f"{pack.continuous_a:g} A"],
                ["current drawn", cell_a, p, f"{found.current_a:g} A"],
                ["C-rate drawn", drawn, "the same", drawn],
            ],
            "What adds up, and how",
        )
        self.figures.show(
            Figure.of("pack_nominal_v", pack.nominal_v, label="pack voltage"),
            Figure.of("pack_capacity_ah", pack.capacity_ah, label="capacity"),
            Figure.of("pack_energy_wh", pack.energy_wh, label="energy"),
            Figure("cells", f"{pack.cells}"),
            Figure.of("pack_mass_g", pack.mass_g, label="mass"),
            Figure.of("cell_a", found.cell_a, label="current of a cell"),
        )

    @override
    def working(self, result: SeriesParallelResult) -> Iterable[Step]:
        return [*pack_steps(result.design), *result.wiring.steps()]


END_PCT = 80.0
"""Of the charge, taken in the flight that is drawn."""


class PairOfPacks(Panel):
    """Two packs like the design's side by side that are not alike: what each carries through a flight.

    Args:
        pack: one of them.
    """

    def __init__(self, pack: Pack) -> None:
        self.pack = pack
        watts = round(0.4 * float(2.0 * pack.nominal_v * pack.continuous_a), -1)
        self.inputs = {
            **controls(apart_resistance_pct=30, apart_capacity_pct=5, apart_cell_v=0.03),
            "power_w": NumberControl.of("power_w", watts),
        }
        for control in self.inputs.values():
            control.size(140, 276, 72)
        self.figures = KeyFigures()
        title = "Current of one cell in each of the two packs"
        self.chart = LineChart(title, "time, min", "current, A", width_px=600)
        self.live = Live(self.inputs, self.compute, self.render)
        left = W.VBox([*self.inputs.values(), self.live.status, self.figures])
        row = wrapped(left, self.chart, grid_gap="0 40px")
        super().__init__(heading("Two packs side by side"), row, name="pair")

    def compute(self, power_w: float, **apart: float) -> PairFlight:
        """Both through a flight at that power, down to 80 % of their charge."""
        joining = Joining(2, "parallel", **apart)
        return fly_pair(joining, joining.whole_of(self.pack), power_w, END_PCT / 100.0)

    def render(self, flight: PairFlight) -> None:
        """The two currents, and the most that one of them carries."""
        hours, cell_a = flight.worst_way
        minutes, mean = 60.0 * hours, cell_a.mean(axis=1)
        even, last = float(mean[0]), float(mean[-1])
        amps = partial(result_text, "peak_cell_a")
        if not np.isfinite(last):
            finding = "Two such packs cannot give this power."
        else:
            finding = (
                f"An even share is {amps(even)} at take-off; one pack begins with {amps(cell_a[0].max())} and the "
                f"other with {amps(cell_a[0].min())}. Whichever leads empties faster and hands the current over: at "
                f"the end they carry {amps(cell_a[-1, 0])} and {amps(cell_a[-1, 1])}."
            )
        finite = cell_a[np.isfinite(cell_a)]
        low, high = (finite.min(), finite.max()) if finite.size else (0.0, 1.0)
        room = max(0.25 * (high - low), 0.1)
        self.chart.update(
            [
                Line("less resistance", minutes, cell_a[:, 0]),
                Line("more resistance", minutes, cell_a[:, 1], "alternative"),
            ],
            y_range=(low - room, high + room),
            finding=finding,
        )
        self.figures.show(
            Figure.in_unit("most above its half", flight.highest_share.max(), "times", 2, "up"),
            Figure.in_unit("emptier one at the end", 100.0 * flight.deepest.max(), "%", 0, "up"),
        )


WIDTH, HEIGHT = 760, 296
SIDE, TOP, BOTTOM = 46.0, 36.0, 236.0
MIDDLE = (TOP + BOTTOM) / 2


class WiringPicture(Picture):
    """Cells with bus bars and links; voltage at each joint, current in each cell.

    Example:
        >>> picture = WiringPicture()
        >>> picture.update([0.0, 3.6, 7.2], 2, 12.0, 6.0, over=False)
        >>> picture.finding_text
        '2S2P: 4 cells, 7.2 V. 12 A go through every group; each cell of a group carries 6.00 A.'
    """

    narrow_px = 500

    def __init__(self) -> None:
        super().__init__("The pack, cell by cell", WIDTH, HEIGHT)

    def update(
        self,
        joint_v: Sequence[float],
        parallel: Number,
        pack_a: Number,
        cell_a: Number,
        *,
        over: bool,
    ) -> None:
        """Show another pack.

        Args:
            joint_v: voltage at each joint, 0 first.
            parallel: cells in each group.
            pack_a: current through the pack.
            cell_a: current of each cell.
            over: whether that is more than the cell may carry; the finding then warns of it.
        """
        self.redraw = partial(self.update, joint_v, parallel, pack_a, cell_a, over=over)
        series, parallel = len(joint_v) - 1, int(parallel)
        wide = self.width_px
        pitch = (wide - 2 * SIDE) / series
        title = f"{series} in series, {parallel} in parallel: {pack_a:g} A through every group"
        shapes = svg.line(8, MIDDLE, SIDE, MIDDLE, INK, 5)
        shapes += svg.line(wide - SIDE, MIDDLE, wide - 8, MIDDLE, INK, 5)
        shapes += svg.text(12, MIDDLE - 12, "–", size=20, bold=True)
        shapes += svg.text(wide - 12, MIDDLE - 12, "+", anchor="end", size=20, bold=True)
        group = _group(pitch, parallel, f"{in_digits(float(cell_a), 3, 'up')} A", over=over)
        for k in range(series):
            shapes += svg.group(group, transform=f"translate({svg.number(SIDE + k * pitch)})")
        every = 1 if pitch >= 46 else 2
        for k, volts in enumerate(joint_v):
            if k % every and k != series:
                continue
            x = SIDE + k * pitch
            shapes += svg.line(x, MIDDLE + 4, x, HEIGHT - 44, PACK.colour, 1.2, "2 3")
            shapes += svg.text(x, HEIGHT - 28, f"{volts:.1f}", anchor="middle", colour=PACK.colour)
        shapes += svg.text(
            wide / 2,
            HEIGHT - 6,
            "V at each joint, from the minus end",
            anchor="middle",
            colour=PACK.colour,
        )
        shapes += svg.text(wide / 2, 22, title, anchor="middle", bold=True)
        finding = (
            f"{series}S{parallel}P: {series * parallel} cells, {joint_v[-1]:.1f} V. {pack_a:g} A go through every "
            f"group; each cell of a group carries {result_text('cell_a', cell_a)}."
        )
        if over:
            finding += " That is more than its continuous current."
        self.draw(shapes, finding)


def _group(pitch: float, parallel: int, amps: str, *, over: bool) -> str:
    """One group of cells between its bus bars, with the links to its neighbours; from 0 across."""
    colour = (LIMIT if over else PACK).colour
    wide, row = min(96.0, pitch - 16.0), min(38.0, (BOTTOM - TOP) / parallel)
    high = min(28.0, row - 4.0)
    left, right = (pitch - wide) / 2, (pitch + wide) / 2
    rows = [MIDDLE + row * (n + 0.5 - parallel / 2) for n in range(parallel)]
    shapes = svg.line(0, MIDDLE, left - 4, MIDDLE, INK, 5)
    shapes += svg.line(right + 4, MIDDLE, pitch, MIDDLE, INK, 5)
    for bar in (left - 4, right + 4):
        ends = rows[0] - high / 3, rows[-1] + high / 3
        shapes += svg.line(bar, ends[0], bar, ends[1], ALTERNATIVE.colour, 4)
    for y in rows:
        shapes += svg.line(left - 4, y, right + 4, y, ALTERNATIVE.colour, 3)
        shapes += svg.box(left, y - high / 2, wide - 5, high, "#eceefc", colour, 2, 4)
        shapes += svg.box(right - 5, y - high / 5, 5, high / 2.5, colour, colour, 1, 1)
        if wide >= 58 and high >= 15:
            size = min(14.0, high - 2)
            shapes += svg.text(left + (wide - 5) / 2, y + 5, amps, anchor="middle", size=size)
    return shapes
