"""Lesson 1: masses to thrust per motor to watts in hover."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import ipywidgets as W
from typing_extensions import override

from workbook.craft.hover import HoverAsk, hover_ask, hover_bracket, hover_steps
from workbook.craft.multirotor import Multirotor
from workbook.craft.thrust_table import Bracket
from workbook.lessons.lesson_view import LessonView
from workbook.widgets.balance_picture import BalancePicture
from workbook.widgets.charts import Line, LineChart, Point
from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

ROTORS = (3, 4, 6, 8)


@dataclass(frozen=True)
class CraftAsksResult:
    """What the figure shows: the craft and pack mass as set, what hover asks, the two table rows."""

    craft: Multirotor
    pack_mass_g: float
    ask: HoverAsk
    rows: Bracket


class CraftAsks(LessonView):
    """Drag masses and rotors; see the balance, the two table rows and the watts."""

    slug = "craft_asks"

    @override
    def build(self) -> W.Widget:
        craft, pack = self.design.craft, self.design.pack
        rotors = sorted({*ROTORS, int(craft.rotors)})
        self.inputs = {
            "mass_without_pack_g": NumberControl(
                "craft, no pack",
                "g",
                craft.mass_without_pack_g,
                200,
                6000,
                10,
                least=1,
                most=100_000,
            ),
            "payload_g": NumberControl("payload", "g", craft.payload_g, 0, 1500, 10, most=50_000),
            "pack_mass_g": NumberControl(
                "pack", "g", round(float(pack.mass_g)), 0, 4000, 10, most=100_000
            ),
            "avionics_w": NumberControl("avionics", "W", craft.avionics_w, 0, 60, 0.5, most=1000),
            "flight_factor": NumberControl(
                "flight factor", "", craft.flight_factor, 1.0, 1.4, 0.01, most=2
            ),
            "rotors": ChoiceControl("rotors", {str(n): n for n in rotors}, int(craft.rotors)),
        }
        self.picture = BalancePicture()
        self.chart = LineChart(
            "One motor: watts at a thrust, from the thrust table",
            "thrust of one motor, gf",
            "power, W",
            width_px=760,
            height_px=232,
            label_room_px=120,
        )
        self.figures, self.rows_table = KeyFigures(), Table()
        return self.side_by_side(
            [*self.inputs.values(), self.figures, self.rows_table], [self.picture, self.chart]
        )

    @override
    def compute(self, pack_mass_g: float, **values: Any) -> CraftAsksResult:
        craft = replace(self.design.craft, **values)
        ask = hover_ask(craft, pack_mass_g)
        return CraftAsksResult(craft, pack_mass_g, ask, hover_bracket(craft, ask))

    @override
    def render(self, result: CraftAsksResult) -> None:
        craft, ask, table = result.craft, result.ask, result.craft.table
        thrust_gf, motor_w = float(ask.thrust_per_motor_gf), float(ask.power_per_motor_w)
        self.picture.update(
            int(craft.rotors),
            thrust_gf,
            table.top_thrust_gf,
            [
                ("craft", float(craft.mass_without_pack_g)),
                ("payload", float(craft.payload_g)),
                ("pack", result.pack_mass_g),
            ],
        )
        around = [
            (name, float(table.thrust_gf[k]), float(table.power_w[k]), float(table.throttle_pct[k]))
            for name, k in (("row below", result.rows.low), ("row above", result.rows.high))
        ]
        self.chart.update(
            [Line("thrust table", table.thrust_gf, table.power_w, "alternative")],
            points=[
                Point("hover", thrust_gf, motor_w),
                *(Point(name, gf, watts, "faint") for name, gf, watts, _ in around),
            ],
            x_range=(0.0, table.top_thrust_gf),
            finding=f"{thrust_gf:.0f} gf takes {motor_w:.1f} W of one motor, so {float(ask.efficiency_gf_w):.1f} gf "
            f"for each watt. All {int(craft.rotors)} in flight, with the avionics: {float(ask.power_w):.0f} W.",
        )
        low, high = (
            [name, "–" if pct != pct else f"{pct:.0f} %", f"{gf:.0f}", f"{watts:.1f}"]
            for name, gf, watts, pct in around
        )
        self.rows_table.update(
            ["", "throttle", "gf", "W"],
            [low, ["hover", "between", f"{thrust_gf:.0f}", f"{motor_w:.1f}"], high],
            "The two rows around hover",
            bold=1,
        )
        self.figures.update(
            [
                Figure("all-up mass", f"{float(ask.all_up_mass_g):.0f}", "g"),
                Figure("thrust per motor", f"{thrust_gf:.0f}", "gf"),
                Figure("hover power", f"{float(ask.power_w):.0f}", "W"),
                Figure("thrust to weight", f"{float(ask.thrust_to_weight):.2f}"),
            ]
        )

    @override
    def working(self, result: CraftAsksResult) -> Iterable[Step]:
        return hover_steps(result.craft, result.pack_mass_g, result.ask)

    @override
    def keeps(self, result: CraftAsksResult) -> Mapping[str, Any]:
        craft = result.craft
        return {
            "mass_without_pack_g": float(craft.mass_without_pack_g),
            "payload_g": float(craft.payload_g),
            "avionics_w": float(craft.avionics_w),
            "flight_factor": float(craft.flight_factor),
            "rotors": int(craft.rotors),
        }
