"""Lesson 5: how much thrust each watt and each ampere buys, and where it buys most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.craft.thrust_table import ThrustEfficiency, ThrustTable
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import Side, plain
from workbook.sheet.text import result_text
from workbook.sizing.craft_types import operate
from workbook.units import axis_text, number_in, with_unit
from workbook.widgets.charts import Line, LineChart, Point, Vertical
from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

COLUMNS: dict[str, tuple[str, int, Side]] = {
    "thrust_gf": ("thrust, gf", 0, "nearest"),
    "voltage_v": ("voltage, V", 1, "nearest"),
    "power_w": ("power, W", 1, "up"),
    "current_a": ("current, A", 2, "up"),
    "gf_per_w": ("gf/W", 2, "down"),
    "gf_per_a": ("gf/A", 0, "down"),
}
"""Figures of a row, each with its heading, decimals, and the side to which it is rounded where it is worked out; the
table's own rows stay as they are read."""


@dataclass(frozen=True)
class ThrustPerAmpResult:
    """What the live figure shows.

    Attributes:
        table, beside: the table in use and the one beside it, None for none.
        asked, hover: what the thrust asked for and the design's hover cost at the pack's voltage.
        at_table: the asked thrust at the table's own voltage.
        voltage_v: of the pack, loaded; rows: the two of the table around the thrust.
    """

    table: ThrustTable
    beside: ThrustTable | None
    pack_efficiency: ThrustEfficiency
    hover_efficiency: ThrustEfficiency
    table_efficiency: ThrustEfficiency
    voltage_v: float
    rows: tuple[int, int]


class ThrustPerAmp(LessonView):
    """Thrust per watt and per ampere along the thrust table; the hover is marked."""

    @override
    def build(self) -> W.Widget:
        """Two charts above each other, over the same thrust."""
        part = self.opened.file.part.craft
        self.file = self.opened.file.tables()
        own = self.file.choose(part.propeller, part.table_voltage_v, part.motor)
        other = next((t for t in self.file.tables if t is not own), None)
        names = {_name(t): t for t in self.file.tables}
        point = operate(self.design)
        self.hover_gf, volts = plain(point.thrust_per_motor_gf), self.design.pack.nominal_v
        # loaded at the end of the flight the pack differs most from the table's supply
        end_v = round(plain(point.run.end_v) * self.design.pack.series, 1)
        lowest_gf = min(t.thrust_gf[0] for t in self.file.tables)
        self.inputs = {
            "table": ChoiceControl("in use", names, own),
            "beside": ChoiceControl("beside it", {"nothing": None, **names}, other),
            "thrust_gf": NumberControl.of(
                "thrust_gf",
                round(self.hover_gf, 1),
                low=lowest_gf,
                high=max(t.top_thrust_gf for t in self.file.tables),
            ),
            "voltage_v": NumberControl.of(
                "voltage_v",
                end_v if np.isfinite(end_v) else round(volts, 1),
                low=round(0.5 * volts, 1),
                high=round(2 * volts, 1),
            ),
        }
        self.key, self.rows = KeyFigures(), Table()
        self.watts = LineChart("What a watt lifts", "thrust of one motor, gf", "gf/W")
        self.amperes = LineChart("What an ampere lifts", "thrust of one motor, gf", "gf/A")
        return self.side_by_side(
            [*self.inputs.values(), self.key], [self.watts, self.amperes], self.rows
        )

    @override
    def compute(
        self, table: ThrustTable, beside: ThrustTable | None, thrust_gf: float, voltage_v: float
    ) -> ThrustPerAmpResult:
        """Ask the table at the thrust, at the hover and at each of its rows."""
        return ThrustPerAmpResult(
            table,
            beside,
            table.efficiency(thrust_gf, voltage_v),
            table.efficiency(self.hover_gf, voltage_v),
            table.efficiency(thrust_gf, table.supply_v),
            voltage_v,
            table.rows_around(thrust_gf),
        )

    @override
    def render(self, result: ThrustPerAmpResult) -> None:
        """Both charts, the key figures, and the rows around the thrust."""
        on_pack, table, beside = result.pack_efficiency, result.table, result.beside
        curve = table.efficiency(table.thrust_gf, result.voltage_v)
        volts, own = f"{on_pack.voltage_v:.4g} V", f"{result.table_efficiency.voltage_v:.4g} V"
        here = "" if abs(on_pack.thrust_gf - self.hover_gf) < 0.06 else "asked"
        hover = [Vertical("hover", self.hover_gf, "faint")]
        per_watt = [Line(table.propeller or "table", table.thrust_gf, curve.gf_per_w)]
        per_ampere = [Line(f"at {volts}", table.thrust_gf, curve.gf_per_a)]
        if volts != own:
            own_efficiency = table.efficiency(table.thrust_gf, table.voltage_v)
            per_ampere.append(
                Line(f"at {own}, table", table.thrust_gf, own_efficiency.gf_per_a, "faint")
            )
        if beside is not None:
            other = beside.efficiency(beside.thrust_gf, result.voltage_v)
            name = beside.propeller
            if name == table.propeller:
                name = f"{name}, {beside.supply_v:.4g} V"
            per_watt.append(Line(name, other.thrust_gf, other.gf_per_w, "alternative"))
            per_ampere.append(Line(name, other.thrust_gf, other.gf_per_a, "alternative"))
        low, high = (
            Point(f"row {_row(table, i)}", table.thrust_gf[i], curve.gf_per_w[i], "faint")
            for i in result.rows
        )
        best = table.best_row()
        where = "the lowest row" if best.at_first_row else f"row {_row(table, best.index)}"
        self.watts.update(
            per_watt,
            points=[low, high, Point(here, on_pack.thrust_gf, on_pack.gf_per_w)],
            verticals=hover,
            finding=f"Best is {result_text('efficiency_gf_w', best.gf_per_w)} at {where}, {with_unit(best.thrust_gf, 'gf', 0)}; your hover of "
            f"{with_unit(self.hover_gf, 'gf', 0)} gets {result_text('efficiency_gf_w', result.hover_efficiency.gf_per_w)}.",
        )
        self.key.show(
            Figure.in_unit("a watt lifts", on_pack.gf_per_w, "gf", 2, "down"),
            Figure.in_unit("an ampere lifts", on_pack.gf_per_a, "gf", 0, "down"),
            Figure.of("current_per_motor_a", on_pack.current_a, label="one motor draws"),
            Figure.of("power_per_motor_w", on_pack.power_w, label="which is"),
        )
        self.amperes.update(
            per_ampere,
            points=[Point(here, on_pack.thrust_gf, on_pack.gf_per_a)],
            verticals=hover,
            finding=f"{with_unit(on_pack.thrust_gf, 'gf', 0)} cost {result_text('power_per_motor_w', on_pack.power_w)} at any voltage: "
            f"{result_text('current_per_motor_a', on_pack.current_a)} at {volts}, "
            f"{result_text('current_per_motor_a', result.table_efficiency.current_a)} at the table's {own}.",
        )
        self._show_rows(result)

    def _show_rows(self, result: ThrustPerAmpResult) -> None:
        table, on_pack, beside = result.table, result.pack_efficiency, result.beside
        own_efficiency = table.efficiency(table.thrust_gf, table.voltage_v)
        low, high = (
            (
                f"row {_row(table, i)} of the table",
                True,
                table.thrust_gf[i],
                table.voltage_v[i],
                table.power_w[i],
                table.current_a[i],
                own_efficiency.gf_per_w[i],
                own_efficiency.gf_per_a[i],
            )
            for i in result.rows
        )
        shown = [
            low,
            ("between them, at the table's voltage", False, *_figures(result.table_efficiency)),
            high,
            ("the same thrust on your pack", False, *_figures(on_pack)),
        ]
        if beside is not None:
            cost = beside.efficiency(on_pack.thrust_gf, result.voltage_v)
            shown.append((f"on your pack with {_name(beside)}", False, *_figures(cost)))
        self.rows.update(
            ("", *(axis_text(heading) for heading, *_ in COLUMNS.values())),
            [
                (
                    name,
                    *(
                        number_in(
                            figure,
                            heading.rpartition(", ")[2],
                            digits,
                            "nearest" if as_read else side,
                        )
                        for figure, (heading, digits, side) in zip(
                            figures, COLUMNS.values(), strict=True
                        )
                    ),
                )
                for name, as_read, *figures in shown
            ],
            "Where the figure comes from",
            bold=3,
        )

    @override
    def working(self, result: ThrustPerAmpResult) -> tuple[Step, ...]:
        """Power between the rows, then watts to amperes."""
        return result.pack_efficiency.steps()

    @override
    def kept_figures(self, result: ThrustPerAmpResult) -> Mapping[str, Any]:
        """The propeller and table chosen."""
        table = result.table
        return {
            "propeller": table.propeller or None,
            "table_voltage_v": table.supply_v if len(self.file.tables) > 1 else None,
        }


def _figures(cost: ThrustEfficiency) -> tuple[Any, ...]:
    return tuple(getattr(cost, key) for key in COLUMNS)


def _name(table: ThrustTable) -> str:
    return f"{table.propeller}, {table.supply_v:.4g} V".strip(", ")


def _row(table: ThrustTable, index: int) -> str:
    return str(table.row[index]) if table.row else str(index + 1)
