"""Lesson 10: power against airspeed of a wing, what wind and mass do to it, and its currents."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as W

from workbook.lessons.lesson_view import LessonView
from workbook.sheet.text import figure_text
from workbook.sizing.size import Answer, size
from workbook.sizing.wing_view import (
    WingCurrents,
    WingCurve,
    over_ground_km,
    wing_currents,
    wing_curve,
    wing_steps,
)
from workbook.widgets.charts import Bar, BarChart, Line, LineChart, Point, Vertical
from workbook.widgets.controls import NumberControl
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

TO_M_S = 22.0
WORKING = (
    "all_up_mass_g", "stall_m_s", "cruise_lift_over_drag", "cruise_power_w", "cruise_current_a",
    "cruise_energy_wh_km", "launch_cell_current_a",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Shown:
    """What the live figure shows.

    Attributes:
        answer: the design, sized.
        calm, windy: the wing over its airspeeds, in still air and against the wind.
        heavier: the same with more mass, in still air.
        more_pct: so much more.
        currents: cruise, launch and bench.
        over_ground_km: distance of the plan against the wind.
    """

    answer: Answer
    calm: WingCurve
    windy: WingCurve
    heavier: WingCurve
    more_pct: float
    currents: WingCurrents
    over_ground_km: float

    @property
    def headwind_m_s(self) -> float:
        """Wind from ahead."""
        return self.windy.headwind_m_s


class WingAsks(LessonView):
    """Move mass, speed and wind; see the power, the kilometre and the currents."""

    craft_type = "fixed wing"

    def build(self) -> W.Widget:
        """Controls beside two charts over the same airspeeds; currents below."""
        craft, pack, flight = self.design.craft, self.design.pack, self.design.flight
        cruise = flight.cruise_m_s
        if isinstance(cruise, str):
            figures = size(self.design).figures()
            cruise = round(float(figures["cruise_m_s"] or 12.0), 1)
        self.inputs = {
            "mass_without_pack_g": NumberControl(
                "craft, no pack", "g", craft.mass_without_pack_g, 300, 4000, 10, least=50, most=50_000
            ),
            "payload_g": NumberControl("payload", "g", craft.payload_g, 0, 1000, 10, most=20_000),
            "parallel": NumberControl(
                "parallel, P", "", float(pack.parallel), 1, 6, 1, most=20, whole=True
            ),
            "cruise_m_s": NumberControl("cruise speed", "m/s", float(cruise), 6, 22, 0.1, least=2, most=45),
            "headwind_m_s": NumberControl("headwind", "m/s", 5.0, -5, 10, 0.5, least=-15, most=20),
            "more_pct": NumberControl("heavier by", "%", 20.0, 0, 60, 1, most=200),
        }  # fmt: skip
        self.key = KeyFigures()
        size_px: dict[str, Any] = {"width_px": 760, "height_px": 270, "label_room_px": 150}
        self.power = LineChart(
            "Power from the pack in level flight", "airspeed, m/s", "power, W", **size_px
        )
        self.energy = LineChart(
            "Energy for a kilometre over ground", "airspeed, m/s", "Wh/km", **size_px
        )
        self.bars = BarChart(
            "Currents that are taken for each other", "current of the pack, A",
            width_px=760, name_room_px=290,
        )  # fmt: skip
        self.masses = Table()
        return self.side_by_side(
            [*self.inputs.values(), self.key, self.masses], [self.power, self.energy, self.bars]
        )

    def compute(self, headwind_m_s: float, more_pct: float, **values: Any) -> Shown:
        """Size the design; draw the wing as it is and heavier."""
        values["parallel"] = int(values["parallel"])
        design = self.design.changed(**values)
        answer = size(design)
        mass_g = float(answer.point.all_up_mass_g)
        return Shown(
            answer,
            wing_curve(design, mass_g, 0.0, TO_M_S),
            wing_curve(design, mass_g, headwind_m_s, TO_M_S),
            wing_curve(design, mass_g * (1 + more_pct / 100), 0.0, TO_M_S),
            more_pct,
            wing_currents(design, answer.point),
            over_ground_km(answer.point, headwind_m_s),
        )

    def render(self, result: Shown) -> None:
        """Charts, figures and the two masses."""
        point = result.answer.point
        self.key.update(
            [
                Figure("cruise power", _text(float(point.power_w), "", 0), "W"),
                Figure("cruise current", _text(result.currents.cruise_a, "", 1), "A"),
                Figure("endurance", _text(float(point.endurance_min), "", 0), "min"),
                Figure("over ground", _text(result.over_ground_km, "", 0), "km"),
            ]
        )
        self._show_power(result)
        self._show_energy(result)
        self._show_currents(result)
        calm, heavier = result.calm, result.heavier
        self.masses.update(
            ("", f"{calm.mass_g:.0f} g", f"{heavier.mass_g:.0f} g"),
            [
                ("stall, m/s", f"{calm.stall_m_s:.1f}", f"{heavier.stall_m_s:.1f}"),
                ("least power, W", f"{calm.best.endurance_w:.0f}", f"{heavier.best.endurance_w:.0f}"),
                ("at, m/s", f"{calm.best.endurance_m_s:.1f}", f"{heavier.best.endurance_m_s:.1f}"),
                ("best range, m/s", f"{calm.best.range_m_s:.1f}", f"{heavier.best.range_m_s:.1f}"),
                ("there, Wh/km", f"{calm.best.energy_wh_km:.2f}", f"{heavier.best.energy_wh_km:.2f}"),
            ],
            "What mass does, in still air",
        )  # fmt: skip

    def _show_power(self, result: Shown) -> None:
        windy, heavier, point = result.windy, result.heavier, result.answer.point
        wind = result.headwind_m_s
        lines = [Line(f"{windy.mass_g:.0f} g", windy.airspeed_m_s, windy.power_w)]
        if result.more_pct:
            lines.append(
                Line(f"{heavier.mass_g:.0f} g", heavier.airspeed_m_s, heavier.power_w, "alternative")
            )  # fmt: skip
        low = max(wind, 0.0)
        last = min(TO_M_S, windy.best.range_m_s + 3.0)
        lines.append(
            Line("tangent", [low, last], windy.tangent_w([low, last]).tolist(), "faint")
        )  # fmt: skip
        cruise, cruise_w = float(point.cruise_m_s), float(point.power_w)
        shown_w = (windy.best.range_w, heavier.best.range_w, cruise_w)
        high = 1.7 * max(watts for watts in shown_w if math.isfinite(watts))
        told = (
            f"Cruise at {cruise:.1f} m/s takes {cruise_w:.0f} W."
            if math.isfinite(cruise_w)
            else f"✕ Cruise at {cruise:.1f} m/s is below the stall of {windy.stall_m_s:.1f} m/s: it does not fly."
        )
        self.power.update(
            lines,
            verticals=[Vertical(f"stall {windy.stall_m_s:.1f}", windy.stall_m_s)],
            points=[
                Point("longest time", windy.best.endurance_m_s, windy.best.endurance_w, "alternative"),
                Point(_far(wind), windy.best.range_m_s, windy.best.range_w, "caution"),
                Point("cruise", cruise, cruise_w, "pack"),
            ],
            x_range=(0.0, TO_M_S),
            y_range=(0.0, high),
            finding=f"{told} Longest aloft at {windy.best.endurance_m_s:.1f} m/s with {windy.best.endurance_w:.0f} W; "
            f"{_far(wind)} at {windy.best.range_m_s:.1f} m/s, where the line from the wind's speed touches.",
        )  # fmt: skip

    def _show_energy(self, result: Shown) -> None:
        calm, windy, point = result.calm, result.windy, result.answer.point
        wind, cruise = result.headwind_m_s, float(point.cruise_m_s)
        lines = [Line("still air", calm.airspeed_m_s, calm.energy_wh_km, "faint")]
        if wind:
            name = f"headwind {wind:g} m/s" if wind > 0 else f"tailwind {-wind:g} m/s"
            lines.append(Line(name, windy.airspeed_m_s, windy.energy_wh_km))
        ground = cruise - wind
        here = float(point.power_w) / (3.6 * ground) if ground > 0 else math.nan
        best = windy.best.energy_wh_km
        own = (
            "Your cruise makes no way"
            if math.isnan(here)
            else f"Your cruise takes {here:.2f} Wh/km"
        )
        self.energy.update(
            lines,
            points=[
                Point("best, still air", calm.best.range_m_s, calm.best.energy_wh_km, "faint"),
                *([Point("best", windy.best.range_m_s, best, "caution")] if wind else []),
                Point("cruise", cruise, here, "pack"),
            ],
            x_range=(0.0, TO_M_S),
            y_range=(0.0, 2.0 * max(best, calm.best.energy_wh_km)),
            finding=f"Best speed {calm.best.range_m_s:.1f} m/s in still air, {windy.best.range_m_s:.1f} m/s with this wind. "
            f"{own} over ground; {best:.2f} Wh/km would be the least.",
        )  # fmt: skip

    def _show_currents(self, result: Shown) -> None:
        currents, design = result.currents, result.answer.design
        allowed = float(design.pack.parallel) * design.pack.cell.burst_a
        bars = [
            Bar("cruise, mean of the flight", currents.cruise_a, _text(currents.cruise_a, "A", 1)),
            Bar("launch, full pack", currents.launch_a, f"{currents.launch_a:.1f} A", "caution"),
            Bar("the pack's burst limit", allowed, f"{allowed:.1f} A", "limit"),
        ]
        said = ""
        if math.isfinite(currents.bench_full_a):
            bars.append(
                Bar(
                    f"bench, full throttle at {currents.bench_full_v:.1f} V", currents.bench_full_a,
                    f"{currents.bench_full_a:.1f} A", "alternative",
                )
            )  # fmt: skip
            times = currents.bench_full_a / currents.cruise_a
            said = (
                ""
                if math.isnan(times)
                else (
                    f" The bench row of full throttle, {currents.bench_full_a:.1f} A, is "
                    f"{times:.1f} times the cruise current: it tells of "
                    "the launch, not of the cruise."
                )
            )
        if math.isfinite(currents.bench_at_thrust_a):
            bars.append(
                Bar(
                    f"bench row of cruise thrust, {currents.cruise_thrust_gf:.0f} gf",
                    currents.bench_at_thrust_a, f"{currents.bench_at_thrust_a:.1f} A", "alternative",
                )
            )  # fmt: skip
            said += (
                " Nor does the row of equal thrust: in flight that thrust is pushed along at speed."
            )
        self.bars.update(
            bars,
            finding=f"Cruise draws {_text(currents.cruise_a, 'A', 1)}, the launch {currents.launch_a:.1f} A for seconds.{said}",
        )  # fmt: skip

    def working(self, result: Shown) -> Iterable[Step]:
        """Stall, drag, power and current of the plan, then the best speeds."""
        own = [step for step in result.answer.working if step.key in WORKING]
        return [*own, *wing_steps(result.calm, result.windy)]

    def keeps(self, result: Shown) -> Mapping[str, Any]:
        """Masses, P and cruise speed."""
        design = result.answer.design
        return {
            "mass_without_pack_g": float(design.craft.mass_without_pack_g),
            "payload_g": float(design.craft.payload_g),
            "parallel": int(design.pack.parallel),
            "cruise_m_s": float(design.flight.cruise_m_s),
        }


def _far(wind: float) -> str:
    if not wind:
        return "furthest in still air"
    return "furthest into wind" if wind > 0 else "furthest downwind"


def _text(value: float, unit: str, decimals: int) -> str:
    return figure_text(value, unit, decimals)
