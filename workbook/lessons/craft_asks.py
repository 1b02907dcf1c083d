"""Lesson 1: masses to thrust per motor to watts in hover."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import ipywidgets as W
from typing_extensions import override

from workbook import svg
from workbook.craft.craft_types import HoverPower, Multirotor
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import Number, plain
from workbook.sheet.text import result_text
from workbook.units import axis_text, number_in, with_unit
from workbook.widgets.charts import Line, LineChart, Point
from workbook.widgets.controls import ChoiceControl, controls
from workbook.widgets.picture import Picture
from workbook.widgets.style import ALTERNATIVE, CAUTION, FAINT, INK, PACK
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

ROTORS = (3, 4, 6, 8)


@dataclass(frozen=True)
class CraftAsksResult:
    """What the figure shows: the craft and pack mass as set, what hover asks, the two table rows."""

    craft: Multirotor
    pack_mass_g: float
    hover: HoverPower
    rows: tuple[int, int]


class CraftAsks(LessonView):
    """Drag masses and rotors; see the balance, the two table rows and the watts."""

    kept_inputs = ("mass_without_pack_g", "payload_g", "avionics_w", "flight_factor", "rotors")

    @override
    def build(self) -> W.Widget:
        craft = self.design.craft
        rotors = sorted({*ROTORS, craft.rotors})
        self.inputs = {
            **controls(
                "mass_without_pack_g",
                "payload_g",
                "pack_mass_g",
                "avionics_w",
                "flight_factor",
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
        hover = craft.hover(craft.all_up_mass_g(pack_mass_g))
        return CraftAsksResult(craft, pack_mass_g, hover, hover.rows())

    @override
    def render(self, result: CraftAsksResult) -> None:
        craft, hover, table = plain(result.craft), plain(result.hover), result.craft.table
        thrust_gf, motor_w = hover.thrust_per_motor_gf, hover.power_per_motor_w
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
        self.chart.show_dots(table.thrust_gf, table.power_w)
        self.chart.update(
            [Line("thrust table", table.thrust_gf, table.power_w, "alternative")],
            points=[
                Point("hover", thrust_gf, motor_w),
                *(Point(name, *row, "faint") for name, row in around.items()),
            ],
            x_range=(0.0, table.top_thrust_gf),
            finding=f"{with_unit(thrust_gf, 'gf', 0)} takes {motor_w:.1f} W of one motor, so {with_unit(hover.efficiency_gf_w, 'gf', 1)} "
            f"for each watt. All {craft.rotors} in flight, with the avionics: {result_text('hover_power_w', hover.power_w)}.",
        )
        low, high = (
            (
                name,
                with_unit(table.throttle_pct[k], "%", 0),
                number_in(gf, "gf", 0),
                f"{watts:.1f}",
            )
            for k, (name, (gf, watts)) in zip(result.rows, around.items(), strict=True)
        )
        self.rows_table.update(
            ["", "throttle", axis_text("gf"), "W"],
            [low, ("hover", "between", number_in(thrust_gf, "gf", 0), f"{motor_w:.1f}"), high],
            "The two rows around hover",
            bold=1,
        )
        self.figures.show(
            Figure.of("all_up_mass_g", hover.all_up_mass_g),
            Figure.in_unit("thrust per motor", thrust_gf, "gf", 0),
            Figure.of("hover_power_w", hover.power_w),
            Figure.of("thrust_to_weight", hover.thrust_to_weight, label="thrust to weight"),
        )

    @override
    def working(self, result: CraftAsksResult) -> Iterable[Step]:
        return result.hover.steps()


WIDTH, BEAM_Y = 750, 122
ARROW_PX, HANGING_PX = 92.0, 150.0
"""Room for the arrow of full throttle above the beam, and for what hangs below it."""
FILLS = (("#dfe3e8", FAINT), ("#f6e3bf", CAUTION), ("#dfe3fa", PACK))


class BalancePicture(Picture):
    """Arrows of thrust above a beam and blocks of mass below it, a gram as long as a gram-force.

    Example:
        >>> picture = BalancePicture()
        >>> picture.update(
        ...     4, 500.0, 1500.0, [("craft", 1200.0), ("payload", 200.0), ("pack", 600.0)]
        ... )
        >>> picture.finding_text
        'Up: 4 motors x 500 gf = 2000 gf. Down: 2000 g. In hover the two are equal.'
    """

    narrow_px = 500

    def __init__(self) -> None:
        super().__init__("Thrust up, weight down", WIDTH, round(BEAM_Y + HANGING_PX + 30))

    def update(
        self, motors: Number, thrust_gf: Number, top_gf: Number, parts: Sequence[tuple[str, Number]]
    ) -> None:
        """Show another balance.

        Args:
            motors: number of motors.
            thrust_gf: of one motor in hover.
            top_gf: of one motor at full throttle, by the table.
            parts: name and mass in gram of what hangs on the beam, three at most.
        """
        self.redraw = partial(self.update, motors, thrust_gf, top_gf, parts)
        motors, thrust_gf, top_gf = int(motors), float(thrust_gf), float(top_gf)
        masses = [(name, float(mass)) for name, mass in parts]
        total = sum(mass for _, mass in masses)
        per_g = min(ARROW_PX / top_gf, HANGING_PX / _round_mass(total))
        left, right = 60.0, self.width_px - 60.0
        middle = self.width_px / 2
        gap = (right - left) / max(motors - 1, 1)
        shapes = svg.line(left - 25, BEAM_Y, right + 25, BEAM_Y, INK, 5)
        for k in range(motors):
            x = left + k * gap
            high = top_gf * per_g
            shapes += svg.box(
                x - 9, BEAM_Y - 4 - high, 18, high, "none", FAINT.colour, 1.2, 3, "4 3"
            )
            tip = BEAM_Y - 4 - min(thrust_gf, top_gf) * per_g
            shapes += _arrow(x, BEAM_Y - 4, tip, ALTERNATIVE.colour, 6, 7)
        shapes += svg.text(
            middle,
            16,
            f"each motor {with_unit(thrust_gf, 'gf', 0)}, of {with_unit(top_gf, 'gf', 0)} at full throttle (dashed)",
            anchor="middle",
            colour=ALTERNATIVE.colour,
            bold=True,
        )
        y = BEAM_Y + 22.0
        label_y = y - 8.0
        shapes += svg.line(middle, BEAM_Y, middle, y, INK, 2)
        for (name, mass), (fill, edge) in zip(masses, FILLS, strict=False):
            height = mass * per_g
            label_y = max(y + height / 2 + 5, label_y + 19)
            shapes += svg.box(middle - 75, y, 150, height, fill, edge.colour)
            shapes += svg.text(middle + 88, label_y, f"{name} {with_unit(mass, 'g', 0)}")
            y += height
        x, top = middle - 100, BEAM_Y + 22
        shapes += _arrow(x, top, top + total * per_g, PACK.colour, 7, 9)
        for k in range(1, motors):
            cut = top + k * total * per_g / motors
            shapes += svg.line(x - 6, cut, x + 6, cut, "#ffffff", 2)
        shapes += svg.text(
            x - 18,
            top + total * per_g / 2 + 5,
            f"{with_unit(total, 'g', 0)} all-up",
            anchor="end",
            colour=PACK.colour,
            bold=True,
        )
        self.draw(
            shapes,
            f"Up: {motors} motors x {with_unit(thrust_gf, 'gf', 0)} = {with_unit(motors * thrust_gf, 'gf', 0)}. Down: {with_unit(total, 'g', 0)}. "
            "In hover the two are equal.",
        )


def _round_mass(total_g: float) -> float:
    """What fills the room: a round mass, so that the scale stays while a slider moves a little."""
    power = 10.0 ** math.floor(math.log10(max(total_g, 1.0)))
    return next(
        power * f for f in (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0) if total_g <= power * f
    )


def _arrow(
    x: float, tail_y: float, tip_y: float, colour: str = INK, width: float = 4.0, head: float = 7.0
) -> str:
    """An upright arrow; too short for its head, it is the head alone."""
    down = 1.0 if tip_y > tail_y else -1.0
    neck = tip_y - down * 1.6 * head
    shaft = svg.line(x, tail_y, x, neck, colour, width) if (neck - tail_y) * down > 0 else ""
    tip = [(x - head, neck), (x + head, neck), (x, tip_y)]
    return shaft + svg.polygon(tip, fill=colour)
