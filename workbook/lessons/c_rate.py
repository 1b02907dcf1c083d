"""Lesson 4: C-rate against the cell's limits, and a charge from start to full."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook import svg
from workbook.battery.cell import Cell
from workbook.battery.charge import ChargePlan, Charger
from workbook.battery.pack import DischargeRate
from workbook.lessons.learner import cell_choice
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import Number, plain
from workbook.sheet.text import result_text
from workbook.sizing.craft_types import operate
from workbook.units import with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl, controls
from workbook.widgets.picture import Picture
from workbook.widgets.style import FAINT, INK, PACK
from workbook.widgets.ticks import ticks_for
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step


@dataclass(frozen=True)
class CRateResult:
    """What the figure shows: the discharge asked for, the charge planned and its setting."""

    rate: DischargeRate
    charge: ChargePlan
    charge_c: float
    temperature_c: float


class CRate(LessonView):
    """Two rulers for one cell and its pack, and the course of a charge."""

    kept_inputs = ("cell", "parallel")

    @override
    def build(self) -> W.Widget:
        rules = self.club
        hover_c = plain(operate(self.design).c_rate)
        asked_c = round(hover_c, 2) if np.isfinite(hover_c) else 1.0
        self.inputs = {
            "cell": cell_choice(self.design),
            **controls("parallel", design=self.design),
            "discharge_c": NumberControl.of("discharge_c_rate", asked_c),
            "charge_c": NumberControl.of("charge_c_rate", rules.charge_c_rate),
            **controls(left_pct=rules.reserve_pct),
            "cell_v": NumberControl.of("charge_v", 4.2),
            "charger_a": NumberControl.of("charger_max_a", 20),
            "charger_w": NumberControl.of("charger_max_w", 400),
            "temperature_c": NumberControl.of("cell_temperature_c", 20),
        }
        self.rulers = RulerPicture("A cell and its pack: the same C, other amperes", 2)
        half: dict[str, Any] = {
            "width_px": 376,
            "height_px": 205,
            "label_room_px": 78,
            "big_px": (560, 330),
        }
        self.current = LineChart("Current into the pack", "time, min", "current, A", **half)
        self.voltage = LineChart("Voltage of a cell", "time, min", "voltage, V", **half)
        beside = W.Layout(grid_template_columns="repeat(auto-fit, minmax(376px, 1fr))")
        self.figures, self.notices = KeyFigures(), Notices()
        return self.side_by_side(
            [*self.inputs.values(), self.figures],
            [self.rulers, W.GridBox([self.current, self.voltage], layout=beside), self.notices],
        )

    @override
    def compute(
        self,
        cell: Cell,
        parallel: int,
        discharge_c: float,
        charge_c: float,
        charger_a: float,
        charger_w: float,
        **charge_asked: float,
    ) -> CRateResult:
        pack = self.design.changed(cell=cell, parallel=parallel).pack
        charger = Charger(charger_a, charger_w, max(6, int(pack.series)))
        charge = charger.plan(pack, current_a=plain(charge_c * pack.capacity_ah), **charge_asked)
        rate = pack.rate(discharge_c, self.club.continuous_share_pct)
        return CRateResult(rate, charge, charge_c, charge_asked["temperature_c"])

    @override
    def render(self, result: CRateResult) -> None:
        rate, plan = plain(result.rate), result.charge
        pack, cell = rate.pack, rate.pack.cell
        self.rulers.update(
            [
                Ruler(
                    "discharge",
                    rate.c_rate,
                    {
                        "club's": rate.allowed_c,
                        "continuous": rate.continuous_c,
                        "burst": rate.burst_c,
                    },
                    max(10.0, 1.1 * rate.burst_c),
                ),
                Ruler(
                    "charge",
                    result.charge_c,
                    {"standard": rate.standard_charge_c, "highest": rate.max_charge_c},
                    2.0,
                ),
            ],
            cell.rated_capacity_ah,
            pack.parallel,
            f"Discharge at {rate.c_rate:g} C: {rate.pack_a:.1f} A of the pack. {rate.meaning}",
        )
        self.figures.show(
            Figure("discharge, pack", f"{rate.pack_a:.1f}", "A"),
            Figure("a cell", f"{rate.cell_a:.2f}", "A"),
            Figure.of("charge_current_a", plan.current_a, label="charge, pack"),
            Figure.of("charge_min", plan.minutes_80, label="to 80 %"),
            Figure(
                "to full",
                f"{plan.least_minutes_full:.0f} to {result_text('charge_min', plan.minutes_full, bare=True)}",
                "min",
            ),
        )
        self._render_charge(result)
        self.notices.update([n.what for n in plan.notices], "Cautions of this charge")

    def _render_charge(self, result: CRateResult) -> None:
        course, plan = result.charge.course(), result.charge
        marks = [] if np.isnan(plan.minutes_80) else [Vertical("80 %", plan.minutes_80, "faint")]
        end, cell = course.time_min[-1], plan.pack.cell
        self.current.update(
            [Line("", course.time_min, course.pack_a)],
            levels=[Level(f"end, {plan.end_a:.2g} A", plan.end_a, "alternative")],
            verticals=marks,
            points=[Point("full", end, course.pack_a[-1])],
            x_range=(0.0, 1.02 * end),
            y_range=(0.0, 1.15 * plan.current_a),
            finding=f"{result_text('charge_current_a', plan.current_a)} ({plan.bound_by}; the charger gives {plan.charger.max_a:g} A and "
            f"{plan.charger.max_w:g} W at most), then fading; full after {plan.least_minutes_full:.0f} to "
            f"{result_text('charge_min', plan.minutes_full)}, drawn at the longest.",
        )
        self.voltage.update(
            [Line("", course.time_min, course.cell_v)],
            levels=[Level(f"{plan.cell_v:.2f} V", plan.cell_v, "limit")],
            verticals=marks,
            x_range=(0.0, 1.02 * end),
            y_range=(2.8, 4.4),
            finding=f"It climbs to {plan.cell_v:.2f} V per cell, {plan.pack_v:.1f} V for the pack, and is "
            f"held there. Cells are at {with_unit(result.temperature_c, '°C')}; {with_unit(cell.min_charge_temperature_c, '°C')} to {with_unit(cell.max_charge_temperature_c, '°C')} is allowed.",
        )

    @override
    def working(self, result: CRateResult) -> Iterable[Step]:
        return [*result.rate.steps(), *result.charge.steps()]

    @override
    def kept_figures(self, result: CRateResult) -> Mapping[str, Any]:
        share = {"continuous_share_pct": self.club.continuous_share_pct}
        return {**super().kept_figures(result), **share}


WIDTH, RULER_PX, LEFT, RIGHT_MARGIN = 760, 140, 106.0, 20.0
ZONES = ("#dfe3fa", "#f6e3bf", "#eed0c6")
"""Background colours of the zones, from allowed to not allowed."""


@dataclass(frozen=True)
class Ruler:
    """One ruler.

    Attributes:
        name: discharge or charge.
        c_rate: the position of the dial.
        limits: three at most, by name, rising; the bar changes its background at each, and is dark above the last.
        top_c: right end of the ruler.
    """

    name: str
    c_rate: Number
    limits: Mapping[str, Number]
    top_c: float


class RulerPicture(Picture):
    """Rulers one below the other.

    Example:
        >>> picture = RulerPicture("Rates", 1)
        >>> picture.update([Ruler("discharge", 2.0, {"continuous": 3.0}, 5.0)], 4.0, 2, "2 C.")
        >>> picture.finding_text
        '2 C.'
    """

    narrow_px = 500

    def __init__(self, title: str, rulers: int) -> None:
        super().__init__(title, WIDTH, RULER_PX * rulers)

    def update(
        self, rulers: Sequence[Ruler], capacity_ah: Number, parallel: Number, finding: str
    ) -> None:
        """Show other rates.

        Args:
            rulers: as many as the picture was made for.
            capacity_ah: rated, of one cell.
            parallel: cells in parallel.
            finding: in words.
        """
        self.redraw = partial(self.update, rulers, capacity_ah, parallel, finding)
        shapes, right = "", self.width_px - RIGHT_MARGIN
        for number, ruler in enumerate(rulers):
            shapes += _ruler_svg(ruler, number * RULER_PX, right, float(capacity_ah), int(parallel))
        self.draw(shapes, finding)


def _ruler_svg(ruler: Ruler, top: float, right: float, capacity_ah: float, parallel: int) -> str:
    per_c = (right - LEFT) / ruler.top_c
    bar, high = top + 46.0, 26.0

    def x_of(c_rate: Number) -> float:
        return LEFT + min(max(float(c_rate), 0.0), ruler.top_c) * per_c

    shapes = svg.text(4, bar + 18, ruler.name, bold=True)
    edges = [0.0, *ruler.limits.values(), ruler.top_c]
    grounds = [*ZONES[: len(ruler.limits)], "#5c6068"]
    for low, high_c, ground in zip(edges, edges[1:], grounds, strict=False):
        shapes += svg.box(x_of(low), bar, x_of(high_c) - x_of(low), high, ground, "none", 0, 0)
    shapes += svg.box(LEFT, bar, right - LEFT, high, "none", FAINT.colour, 1.2, 2)
    dark_px = right - x_of(edges[-2])
    if dark_px > 120:
        shapes += svg.text(
            right - dark_px / 2,
            bar + 18,
            "not for this cell",
            anchor="middle",
            colour="#fff",
            bold=True,
        )
    right_of_last = -1e9
    for name, c_rate in ruler.limits.items():
        edge_x = x_of(c_rate)
        shapes += svg.line(edge_x, bar - 18, edge_x, bar + high, INK, 2)
        wide = 7.6 * len(name)
        middle = min(max(edge_x, right_of_last + wide / 2 + 8), right + RIGHT_MARGIN - wide / 2 - 2)
        shapes += svg.text(middle, bar - 22, name, anchor="middle", size=14)
        right_of_last = middle + wide / 2
    shapes += _scales_svg(ruler.top_c, bar + high, right, capacity_ah, parallel)
    edge_x = x_of(ruler.c_rate)
    shapes += svg.line(edge_x, bar - 4, edge_x, bar + high + 4, PACK.colour, 5)
    tip = [(edge_x, bar + 2), (edge_x - 9, bar - 14), (edge_x + 9, bar - 14)]
    return shapes + svg.polygon(tip, fill=PACK.colour)


def _scales_svg(top_c: float, top: float, right: float, capacity_ah: float, parallel: int) -> str:
    """The same ruler read as a C-rate, as a cell's and as a pack's amperes, one row each."""
    shapes, per_c = "", (right - LEFT) / top_c
    rows = (("C", 1.0), ("cell, A", capacity_ah), (f"{parallel}P pack, A", capacity_ah * parallel))
    for row, (name, factor) in enumerate(rows):
        shapes += _scale_svg(name, factor, top_c, top + 18 + row * 19, per_c, ticked=row > 0)
    return shapes


@lru_cache(maxsize=64)  # most of them stay while one figure moves
def _scale_svg(
    name: str, factor: float, top_c: float, y: float, per_c: float, *, ticked: bool
) -> str:
    """One row of a scale: so many amperes, or 1, for each C."""
    shapes = svg.text(LEFT - 16, y, name, anchor="end", size=14, colour="#545c69")
    axis = ticks_for([], (0.0, top_c * factor), 6)
    for value in axis.values.tolist():
        x = LEFT + value / factor * per_c
        shapes += svg.text(x, y, f"{value:{axis.number_format}}", anchor="middle", size=14)
        shapes += svg.line(x, y - 17, x, y - 13, FAINT.colour, 1.2) if ticked else ""
    return shapes
