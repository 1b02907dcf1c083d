"""Lesson 9: the stick along the thrust table at the sagged pack, the two ceilings, and the cap."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.lessons.lesson_view import LessonView
from workbook.quantities import RESULTS
from workbook.sheet.text import result_text
from workbook.sizing.hover_point import HoverState
from workbook.sizing.throttle_response import (
    ThrottleResponse,
    throttle_response,
    throttle_steps,
)
from workbook.units import with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl, controls
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

ROLES = {"full": "pack", "half": "alternative", "end": "today"}
NAMES = {"full": "full", "half": "halfway", "end": "almost empty"}


class ThrustCeiling(LessonView):
    """Thrust and cell current along the throttle, at a full, a half and an almost empty pack."""

    kept_inputs = ("throttle_cap_pct", "continuous_share_pct", "thrust_reserve")

    @override
    def build(self) -> W.Widget:
        table, flight = self.design.craft.table, self.design.flight
        low = float(np.ceil(table.throttle_pct[0])) if table.has_throttle else 0.0
        self.inputs = {
            "stick_pct": NumberControl.of("stick_pct", max(50.0, low), low=low),
            "throttle_cap_pct": NumberControl.of(
                "throttle_cap_pct", flight.throttle_cap_pct, low=low
            ),
            **controls("continuous_share_pct", "thrust_reserve", design=self.design),
        }
        self.key, self.notices, self.states = KeyFigures(), Notices(), Table()
        self.thrust = LineChart(
            "What the stick lifts as the pack sags", "throttle, %", "thrust of one motor, gf"
        )
        self.current = LineChart(
            "What it asks of each cell", "throttle, %", "current of one cell, A"
        )
        return self.side_by_side(
            [*self.inputs.values(), self.key, self.notices],
            [self.thrust, self.current],
            self.states,
        )

    @override
    def compute(self, stick_pct: float, **figures: float) -> ThrottleResponse:
        return throttle_response(self.design.changed(**figures), stick_pct, self.result)

    @override
    def render(self, result: ThrottleResponse) -> None:
        flight, throttle_pct = result.design.flight, result.throttle_pct
        cap, hover_gf = flight.throttle_cap_pct, result.point.thrust_per_motor_gf
        curve_pct = result.curves.throttle_pct
        shown = {name: (getattr(result.curves, name), getattr(result.here, name)) for name in NAMES}
        same: dict[str, Any] = {
            "verticals": [Vertical(f"cap {cap:g} %", cap, "limit")] if cap < 100 else [],
            "x_range": (curve_pct[0], 100.0),
        }
        self.thrust.update(
            [Line(NAMES[n], curve_pct, c.thrust_gf, ROLES[n]) for n, (c, _) in shown.items()],
            levels=[
                Level("hover", hover_gf, "faint"),
                Level(
                    f"{flight.thrust_reserve:g} x hover",
                    hover_gf * flight.thrust_reserve,
                    "caution",
                ),
            ],
            points=[
                Point("", throttle_pct, h.thrust_gf[0], ROLES[n]) for n, (_, h) in shown.items()
            ],
            finding=self._thrust_text(result),
            **same,
        )
        self.current.update(
            [Line(NAMES[n], curve_pct, c.cell_a, ROLES[n]) for n, (c, _) in shown.items()],
            levels=[
                Level("burst", result.design.pack.cell.burst_a, "limit"),
                Level("continuous, allowed", result.allowed_a, "caution"),
            ],
            points=[Point("", throttle_pct, h.cell_a[0], ROLES[n]) for n, (_, h) in shown.items()],
            finding=self._current_text(result),
            **same,
        )
        self._show_figures(result)
        self._show_states(result)

    @staticmethod
    def _thrust_text(result: ThrottleResponse) -> str:
        full, end = (s.thrust_gf[0] for s in (result.here.full, result.here.end))
        where = f"At {result.throttle_pct:.0f} % throttle"
        if result.held_by_cap:
            where = f"The cap holds the throttle at {result.throttle_pct:.0f} %:"
        if np.isnan(full):
            return f"{where} the thrust table says nothing."
        return (
            f"{where} a motor gives {with_unit(full, 'gf', 0)} on the full pack and {with_unit(end, 'gf', 0)} on the almost empty one, "
            f"{100 * end / full:.0f} % of it; hover asks {with_unit(result.point.thrust_per_motor_gf, 'gf', 0)}."
        )

    @staticmethod
    def _current_text(result: ThrottleResponse) -> str:
        def cap(value: float, what: str) -> str:
            if np.isnan(value):
                return f"{what} cannot be computed from this table"
            return (
                f"{what} {RESULTS['throttle_cap_pct'].text(value)}"
                if value < 100
                else f"{what} no cap at all"
            )

        return (
            "The throttle where a curve meets a limit is your cap. For the whole flight: "
            f"{cap(result.continuous_cap_pct, 'within the allowed continuous current')}, "
            f"{cap(result.burst_cap_pct, 'within the burst current')}."
        )

    def _show_figures(self, result: ThrottleResponse) -> None:
        point, volts = result.point, result.lowest_hover_cell_v
        reach = (
            ("out of reach", "")
            if np.isnan(volts)
            else (result_text("lowest_hover_cell_v", volts, bare=True), "V")
        )
        self.key.show(
            Figure.of(
                "thrust_to_weight_full",
                point.full.thrust_to_weight,
                label="thrust to weight, full",
            ),
            Figure.of("thrust_to_weight_end", point.end.thrust_to_weight, label="almost empty"),
            Figure.of(
                "peak_cell_a",
                point.full.full_throttle.cell_a,
                label="cell current at the cap, full pack",
            ),
            Figure("lowest cell voltage in hover", *reach),
        )
        self.notices.update(result.cautions(), "Caution")

    def _show_states(self, result: ThrottleResponse) -> None:
        states = (result.point.full, result.point.half, result.point.end)
        rows: dict[str, Callable[[HoverState], str]] = {
            "cell at rest": lambda s: with_unit(s.open_circuit_v, "V", 2),
            "cell in hover": lambda s: with_unit(s.steady_v, "V", 2),
            "ceiling, allowed continuous current": lambda s: _ceiling(s.continuous),
            "ceiling, burst current": lambda s: _ceiling(s.burst),
            "thrust at the cap": lambda s: result_text(
                "full_throttle_thrust_per_motor_gf", s.full_throttle.thrust_gf
            ),
            "cell current at the cap": lambda s: _cell(s.full_throttle),
            "thrust to weight": lambda s: result_text("thrust_to_weight", s.thrust_to_weight),
        }
        self.states.update(
            ["one motor, one cell", *NAMES.values()],
            [[name, *(message(state) for state in states)] for name, message in rows.items()],
            "Two ceilings, the throttle that gives each, and what the cap leaves",
        )

    @override
    def working(self, result: ThrottleResponse) -> tuple[Step, ...]:
        return throttle_steps(result)


def _cell(limit: Any) -> str:
    return f"{result_text('peak_cell_a', limit.cell_a)}, {with_unit(limit.cell_v, 'V', 2)}"


def _ceiling(limit: Any) -> str:
    return (
        f"{result_text('thrust_ceiling_per_motor_gf', limit.thrust_gf)} at "
        f"{result_text('throttle_cap_pct', limit.throttle_pct)}"
    )
