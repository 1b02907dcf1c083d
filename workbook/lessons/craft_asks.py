"""Lesson 1: masses to thrust per motor to watts in hover."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import ipywidgets as W
from typing_extensions import override

from workbook.craft.craft_types import HoverPower, Multirotor
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import plain
from workbook.sheet.text import figure_text
from workbook.widgets.balance_picture import BalancePicture
from workbook.widgets.charts import Line, LineChart, Point
from workbook.widgets.controls import ChoiceControl, controls
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

ROTORS = (3, 4, 6, 8)


@dataclass(frozen=True)
class CraftAsksResult:
    """What the figure shows: the craft and pack mass as set, what hover asks, the two table rows."""

    craft: Multirotor
    pack_mass_g: float
    ask: HoverPower
    rows: tuple[int, int]


class CraftAsks(LessonView):
    """Drag masses and rotors; see the balance, the two table rows and the watts."""

    carries = ("mass_without_pack_g", "payload_g", "avionics_w", "flight_factor", "rotors")

    @override
    def build(self) -> W.Widget:
        craft = self.design.craft
        rotors = sorted({*ROTORS, craft.rotors})
        self.inputs = {
            **controls(
                *("mass_without_pack_g", "payload_g", "pack_mass_g", "avionics_w", "flight_factor"),
                design=self.design,
                pack_mass_g=round(self.design.pack.mass_g),
            ),
            "rotors": ChoiceControl("rotors", rotors, craft.rotors),
        }
        self.picture = BalancePicture()
        self.chart = LineChart(
            "One motor: watts at a thrust, from the thrust table",
            "thrust of one motor, gf",
            "power, W",
        )
        self.figures, self.rows_table = KeyFigures(), Table()
        return self.side_by_side(
            [*self.inputs.values(), self.figures, self.rows_table], [self.picture, self.chart]
        )

    @override
    def compute(self, pack_mass_g: float, **values: Any) -> CraftAsksResult:
        craft = replace(self.design.craft, **values)
        ask = craft.hover(craft.all_up_mass_g(pack_mass_g))
        return CraftAsksResult(craft, pack_mass_g, ask, ask.rows())

    @override
    def render(self, result: CraftAsksResult) -> None:
        craft, ask, table = plain(result.craft), plain(result.ask), result.craft.table
        thrust_gf, motor_w = ask.thrust_per_motor_gf, ask.power_per_motor_w
        self.picture.update(
            craft.rotors,
            thrust_gf,
            table.top_thrust_gf,
            [
                ("craft", craft.mass_without_pack_g),
                ("payload", craft.payload_g),
                ("pack", result.pack_mass_g),
            ],
        )
        names = ("row below", "row above")
        around = {
            n: (table.thrust_gf[k], table.power_w[k])
            for n, k in zip(names, result.rows, strict=True)
        }
        self.chart.update(
            [Line("thrust table", table.thrust_gf, table.power_w, "alternative")],
            points=[
                Point("hover", thrust_gf, motor_w),
                *(Point(name, *row, "faint") for name, row in around.items()),
            ],
            x_range=(0.0, table.top_thrust_gf),
            finding=f"{thrust_gf:.0f} gf takes {motor_w:.1f} W of one motor, so {ask.efficiency_gf_w:.1f} gf "
            f"for each watt. All {craft.rotors} in flight, with the avionics: {ask.power_w:.0f} W.",
        )
        low, high = (
            (name, figure_text(table.throttle_pct[k], "%", 0), f"{gf:.0f}", f"{watts:.1f}")
            for k, (name, (gf, watts)) in zip(result.rows, around.items(), strict=True)
        )
        self.rows_table.update(
            ["", "throttle", "gf", "W"],
            [low, ("hover", "between", f"{thrust_gf:.0f}", f"{motor_w:.1f}"), high],
            "The two rows around hover",
            bold=1,
        )
        self.figures.show(
            Figure("all-up mass", f"{ask.all_up_mass_g:.0f}", "g"),
            Figure("thrust per motor", f"{thrust_gf:.0f}", "gf"),
            Figure("hover power", f"{ask.power_w:.0f}", "W"),
            Figure("thrust to weight", f"{ask.thrust_to_weight:.2f}"),
        )

    @override
    def working(self, result: CraftAsksResult) -> Iterable[Step]:
        return result.ask.steps()
