"""Lesson 9: the stick along the thrust table at the sagged pack, the two ceilings, and the cap."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import ipywidgets as W
import numpy as np
from typing_extensions import override

from workbook.lessons.lesson_view import LessonView
from workbook.sheet.text import figure_text
from workbook.sizing.operating_point import State
from workbook.sizing.stick import StickFlight, stick_flight, stick_steps
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

ROLES = {"full": "pack", "half": "alternative", "end": "today"}
NAMES = {"full": "full", "half": "half way", "end": "almost empty"}


class ThrustCeiling(LessonView):
    """Thrust and cell current along the throttle, at a full, a half and an almost empty pack."""

    slug = "thrust_ceiling"

    @override
    def build(self) -> W.Widget:
        flight = self.design.flight
        table = self.design.craft.table
        low = float(np.ceil(table.throttle_pct[0])) if table.has_throttle else 0.0
        self.inputs = {
            "stick_pct": NumberControl("stick", "%", max(50.0, low), low, 100, 1),
            "throttle_cap_pct": NumberControl(
                "throttle cap", "%", float(flight.throttle_cap_pct), low, 100, 1, least=1
            ),
            "continuous_share_pct": NumberControl(
                "current share", "%", float(flight.continuous_share_pct), 20, 100, 1, least=0.1
            ),
            "thrust_reserve": NumberControl(
                "thrust reserve", "", float(flight.thrust_reserve), 1.0, 3.0, 0.05, most=5
            ),
        }  # fmt: skip
        self.key, self.notices, self.states = KeyFigures(), Notices(), Table()
        self.thrust = LineChart(
            "What the stick lifts, the pack sagging under it", "throttle, %", "gf a motor",
            width_px=750, height_px=205, label_room_px=165, big_px=(1150, 420),
        )  # fmt: skip
        self.current = LineChart(
            "What it asks of each cell", "throttle, %", "A a cell",
            width_px=750, height_px=205, label_room_px=165, big_px=(1150, 420),
        )  # fmt: skip
        return W.VBox(
            [
                self.side_by_side(
                    [*self.inputs.values(), self.key, self.notices], [self.thrust, self.current]
                ),
                self.states,
            ]
        )

    @override
    def compute(self, stick_pct: float, **figures: float) -> StickFlight:
        return stick_flight(self.design.changed(**figures), stick_pct)

    @override
    def render(self, result: StickFlight) -> None:
        design, point, curves = result.design, result.point, result.curves
        cap, at = float(design.flight.throttle_cap_pct), result.throttle_pct
        upright = [Vertical(f"cap {cap:.0f} %", cap, "limit")] if cap < 100 else []
        hover = float(point.thrust_per_motor_gf)
        throttle = curves.throttle_pct
        shown = {name: getattr(curves, name) for name in NAMES}
        here = {name: getattr(result.here, name) for name in NAMES}
        x_range = (float(throttle[0]), 100.0)
        self.thrust.update(
            [Line(NAMES[n], throttle, c.thrust_gf, ROLES[n]) for n, c in shown.items()],
            levels=[
                Level("hover", hover, "faint"),
                Level(
                    f"{float(design.flight.thrust_reserve):g} x hover",
                    hover * float(design.flight.thrust_reserve),
                    "caution",
                ),
            ],
            verticals=upright,
            points=[Point("", at, float(h.thrust_gf[0]), ROLES[n]) for n, h in here.items()],
            x_range=x_range,
            finding=self._thrust_text(result),
        )
        self.current.update(
            [Line(NAMES[n], throttle, c.cell_a, ROLES[n]) for n, c in shown.items()],
            levels=[
                Level("burst", design.pack.cell.burst_a, "limit"),
                Level("continuous, allowed", result.allowed_a, "caution"),
            ],
            verticals=upright,
            points=[Point("", at, float(h.cell_a[0]), ROLES[n]) for n, h in here.items()],
            x_range=x_range,
            finding=self._current_text(result),
        )
        self._show_figures(result)
        self._show_states(result)

    @staticmethod
    def _thrust_text(result: StickFlight) -> str:
        full, end = (float(s.thrust_gf[0]) for s in (result.here.full, result.here.end))
        where = f"At {result.throttle_pct:.0f} % throttle"
        if result.held_by_cap:
            where = f"The cap holds the throttle at {result.throttle_pct:.0f} %:"
        if np.isnan(full):
            return f"{where} the thrust table says nothing."
        return (
            f"{where} a motor gives {full:.0f} gf on the full pack and {end:.0f} gf on the almost empty one, "
            f"{100 * end / full:.0f} % of it; hover asks {float(result.point.thrust_per_motor_gf):.0f} gf."
        )

    @staticmethod
    def _current_text(result: StickFlight) -> str:
        def cap(value: float, what: str) -> str:
            if np.isnan(value):
                return f"{what} cannot be told from this table"
            return f"{what} {value:.0f} %" if value < 100 else f"{what} no cap at all"

        return (
            "Where a curve meets a level is a cap. For the whole flight: "
            f"{cap(result.continuous_cap_pct, 'within the allowed continuous current')}, "
            f"{cap(result.burst_cap_pct, 'within the burst current')}."
        )

    def _show_figures(self, result: StickFlight) -> None:
        point = result.point
        volts = result.lowest_hover_cell_v
        lowest = Figure("lowest cell voltage in hover", _text(volts, 2), "V")
        if np.isnan(volts):
            lowest = Figure("lowest cell voltage in hover", "out of reach")
        self.key.update(
            [
                Figure("thrust over weight, full", _text(point.full.thrust_to_weight, 2)),
                Figure("almost empty", _text(point.end.thrust_to_weight, 2)),
                Figure("a cell at the cap, full pack", _text(point.full.full_throttle.cell_a, 1), "A"),
                lowest,
            ]
        )  # fmt: skip
        self.notices.update(result.cautions(), "Caution")

    def _show_states(self, result: StickFlight) -> None:
        states = (result.point.full, result.point.half, result.point.end)
        rows: dict[str, Callable[[State], str]] = {
            "cell at rest": lambda s: f"{_text(s.open_circuit_v, 2)} V",
            "cell in hover": lambda s: f"{_text(s.steady_v, 2)} V",
            "ceiling, allowed continuous current": lambda s: _ceiling(s.continuous),
            "ceiling, burst current": lambda s: _ceiling(s.burst),
            "thrust at the cap": lambda s: f"{_text(s.full_throttle.thrust_gf, 0)} gf",
            "a cell at the cap": lambda s: (
                f"{_text(s.full_throttle.cell_a, 1)} A, {_text(s.full_throttle.cell_v, 2)} V"
            ),
            "thrust over weight": lambda s: _text(s.thrust_to_weight, 2),
        }
        self.states.update(
            ["one motor, one cell", *NAMES.values()],
            [[name, *(told(state) for state in states)] for name, told in rows.items()],
            "Two ceilings, the throttle that gives each, and what the cap leaves",
        )

    @override
    def working(self, result: StickFlight) -> tuple[Step, ...]:
        return stick_steps(result)

    @override
    def keeps(self, result: StickFlight) -> Mapping[str, Any]:
        flight = result.design.flight
        return {
            "throttle_cap_pct": float(flight.throttle_cap_pct),
            "continuous_share_pct": float(flight.continuous_share_pct),
            "thrust_reserve": float(flight.thrust_reserve),
        }


def _text(value: Any, decimals: int) -> str:
    return figure_text(float(value), "", decimals)


def _ceiling(ceiling: Any) -> str:
    return f"{_text(ceiling.thrust_gf, 0)} gf at {_text(ceiling.throttle_pct, 0)} %"
