"""Lesson 10: power against airspeed of a wing, what wind and mass do to it, and its currents."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import ipywidgets as W
import numpy as np

from workbook.battery.pack import Pack
from workbook.craft.craft_types import FixedWing
from workbook.lessons.lesson_view import LessonView
from workbook.numbers import plain
from workbook.sheet.text import result_text
from workbook.sizing.craft_types import craft_type_of, operate
from workbook.sizing.design import Design
from workbook.sizing.wing_curve import WingCurve, wing_curve, wing_steps
from workbook.sizing.wing_point import WingCurrents, WingLoad, WingPoint, wing_load
from workbook.units import axis_text, number_in, with_unit
from workbook.widgets.bars import Bar, BarChart
from workbook.widgets.charts import Line, LineChart, Point, Vertical
from workbook.widgets.controls import controls
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures
from workbook.working import Step

TOP_SPEED_M_S = 22.0
WORKING_KEYS = (
    "all_up_mass_g",
    "stall_m_s",
    "cruise_lift_over_drag",
    "cruise_power_w",
    "cruise_current_a",
    "cruise_energy_wh_km",
    "launch_cell_current_a",
)


@dataclass(frozen=True, eq=False)
class WingAsksResult:
    """What the live figure shows.

    Attributes:
        design, load: the design as set, and what its flight asks of the pack.
        windy: the wing over its airspeeds, against the wind.
        heavier: the same with more mass, in still air.
        more_pct: so much more.
    """

    design: Design[FixedWing]
    load: WingLoad
    windy: WingCurve
    heavier: WingCurve
    more_pct: float

    @cached_property
    def point(self) -> WingPoint:
        """The operating point."""
        point: WingPoint = operate(self.design)
        return point

    @cached_property
    def calm(self) -> WingCurve:
        """The wing over its airspeeds, in still air."""
        return wing_curve(self.design, self.windy.mass_g, 0.0, TOP_SPEED_M_S)

    @property
    def top_speed_m_s(self) -> float:
        """Where the longest curve ends."""
        return float(max(curve.airspeed_m_s[-1] for curve in (self.windy, self.heavier)))

    @property
    def headwind_m_s(self) -> float:
        """Wind from ahead."""
        return self.windy.headwind_m_s


class WingAsks(LessonView):
    """Move mass, speed and wind; see the power, the kilometre and the currents."""

    craft_type = "fixed wing"
    kept_inputs = ("mass_without_pack_g", "payload_g", "parallel", "cruise_m_s")

    def build(self) -> W.Widget:
        """Controls beside two charts over the same airspeeds; currents below."""
        cruise = self.design.flight.cruise_m_s
        if isinstance(cruise, str):
            flown = plain(operate(self.design).cruise_m_s)
            cruise = round(flown, 1) if math.isfinite(flown) else 12.0
        self.inputs = controls(
            "mass_without_pack_g",
            "payload_g",
            "parallel",
            "cruise_m_s",
            design=self.design,
            cruise_m_s=cruise,
            headwind_m_s=5.0,
            more_pct=20.0,
        )
        self.key, self.masses = KeyFigures(), Table()
        self.power = LineChart(
            "Power from the pack in level flight", "airspeed, m/s", "power, W", height_px=270
        )
        self.energy = LineChart(
            "Energy per kilometre over ground", "airspeed, m/s", "energy, Wh/km"
        )
        self.bars = BarChart(
            "Four currents people mix up", "current of the pack, A", width_px=760, name_room_px=290
        )
        return self.side_by_side(
            [*self.inputs.values(), self.key, self.masses], [self.power, self.energy, self.bars]
        )

    def compute(self, headwind_m_s: float, more_pct: float, **values: Any) -> WingAsksResult:
        """What the design's flight asks for, and the wing as it is and heavier."""
        design = self.design.changed(**values)
        load = wing_load(design)
        mass_g = plain(load.all_up_mass_g)
        return WingAsksResult(
            design,
            load,
            wing_curve(design, mass_g, headwind_m_s, TOP_SPEED_M_S),
            wing_curve(design, mass_g * (1 + more_pct / 100), 0.0, TOP_SPEED_M_S),
            more_pct,
        )

    def render(self, result: WingAsksResult) -> None:
        """Charts, figures and the two masses."""
        self._show_power(result)
        point, currents = result.point, result.point.currents()
        over_ground_km = point.over_ground_km(result.headwind_m_s)
        self.key.show(
            Figure.of("cruise_power_w", point.power_w),
            Figure.of("cruise_current_a", currents.cruise_a, label="cruise current"),
            Figure.of("endurance_min", point.endurance_min),
            Figure.in_unit("over ground", over_ground_km, "km", 0),
        )
        self._show_energy(result)
        self._show_currents(currents, result.design.pack)
        calm, heavier = result.calm, result.heavier
        both = [(curve.stall_m_s, curve.best) for curve in (calm, heavier)]
        self.masses.update(
            ("", with_unit(calm.mass_g, "g", 0), with_unit(heavier.mass_g, "g", 0)),
            [
                (axis_text("stall, m/s"), *(number_in(stall, "m/s", 1) for stall, _ in both)),
                ("least power, W", *(f"{best.endurance_w:.0f}" for _, best in both)),
                (
                    axis_text("at, m/s"),
                    *(number_in(best.endurance_m_s, "m/s", 1) for _, best in both),
                ),
                (
                    axis_text("best range, m/s"),
                    *(number_in(best.range_m_s, "m/s", 1) for _, best in both),
                ),
                (
                    axis_text("there, Wh/km"),
                    *(number_in(best.energy_wh_km, "Wh/km", 2) for _, best in both),
                ),
            ],
            "What mass does, in still air",
        )

    def _show_power(self, result: WingAsksResult) -> None:
        windy, heavier, load = result.windy, result.heavier, result.load
        best, wind = windy.best, result.headwind_m_s
        lines = [Line(with_unit(windy.mass_g, "g", 0), windy.airspeed_m_s, windy.power_w)]
        if result.more_pct:
            name = with_unit(heavier.mass_g, "g", 0)
            lines.append(Line(name, heavier.airspeed_m_s, heavier.power_w, "alternative"))
        touching = np.array([max(wind, 0.0), min(result.top_speed_m_s, best.range_m_s + 3.0)])
        lines.append(Line("tangent", touching, windy.tangent_w(touching), "faint"))
        cruise, cruise_w = load.cruise_m_s, load.power_w
        message = (
            f"Cruise at {with_unit(cruise, 'm/s', 1)} takes {cruise_w:.0f} W."
            if np.isfinite(cruise_w)
            else f"✕ Cruise at {with_unit(cruise, 'm/s', 1)} is below the stall of {with_unit(windy.stall_m_s, 'm/s', 1)}: it does not fly."
        )
        self.power.update(
            lines,
            verticals=[Vertical(f"stall {number_in(windy.stall_m_s, 'm/s', 1)}", windy.stall_m_s)],
            points=[
                Point("longest time", best.endurance_m_s, best.endurance_w, "alternative"),
                Point(_farthest_label(wind), best.range_m_s, best.range_w, "caution"),
                Point("cruise", cruise, cruise_w),
            ],
            x_range=(0.0, result.top_speed_m_s),
            y_range=(0.0, 1.7 * np.nanmax([best.range_w, heavier.best.range_w, cruise_w])),
            finding=f"{message} Longest aloft at {with_unit(best.endurance_m_s, 'm/s', 1)} with {best.endurance_w:.0f} W; "
            f"{_farthest_label(wind)} at {with_unit(best.range_m_s, 'm/s', 1)}, where the line from the wind's speed touches.",
        )

    def _show_energy(self, result: WingAsksResult) -> None:
        windy, calm, wind = result.windy, result.calm, result.headwind_m_s
        best, here = windy.best, result.point.ground_energy_wh_km(wind)
        lines = [Line("still air", calm.airspeed_m_s, calm.energy_wh_km, "faint")]
        points = [Point("best, still air", calm.best.range_m_s, calm.best.energy_wh_km, "faint")]
        if wind:
            name = (
                f"headwind {with_unit(wind, 'm/s')}"
                if wind > 0
                else f"tailwind {with_unit(-wind, 'm/s')}"
            )
            lines.append(Line(name, windy.airspeed_m_s, windy.energy_wh_km))
            points.append(Point("best", best.range_m_s, best.energy_wh_km, "caution"))
        points.append(Point("cruise", result.point.cruise_m_s, here))
        own = "makes no way" if math.isnan(here) else f"takes {with_unit(here, 'Wh/km', 2)}"
        self.energy.update(
            lines,
            points=points,
            x_range=(0.0, result.top_speed_m_s),
            y_range=(0.0, 2.0 * max(best.energy_wh_km, calm.best.energy_wh_km)),
            finding=f"Best speed {with_unit(calm.best.range_m_s, 'm/s', 1)} in still air, {with_unit(best.range_m_s, 'm/s', 1)} with this wind. "
            f"Your cruise {own} over ground; {with_unit(best.energy_wh_km, 'Wh/km', 2)} would be the least.",
        )

    def _show_currents(self, found: WingCurrents, pack: Pack) -> None:
        amperes = {
            "cruise, mean of the flight": (found.cruise_a, "pack"),
            "launch, full pack": (found.launch_a, "caution"),
            "the pack's burst limit": (plain(pack.parallel * pack.cell.burst_a), "limit"),
            f"bench, full throttle at {found.bench_full_v:.1f} V": (
                found.bench_full_a,
                "alternative",
            ),
            f"bench row of cruise thrust, {with_unit(found.cruise_thrust_gf, 'gf', 0)}": (
                found.bench_at_thrust_a,
                "alternative",
            ),
        }
        bars = [
            Bar(name, value, with_unit(value, "A", 1), role)
            for name, (value, role) in amperes.items()
        ]
        times, words = found.bench_full_a / found.cruise_a, ""
        if math.isfinite(times):
            words = (
                f" The bench row of full throttle, {found.bench_full_a:.1f} A, is {times:.1f} times the cruise "
                "current: it says something of the launch, nothing of the cruise."
            )
        if math.isfinite(found.bench_at_thrust_a):
            words += (
                " Nor does the row of equal thrust: in flight that thrust is pushed along at speed."
            )
        self.bars.update(
            bars,
            finding=f"Cruise draws {result_text('cruise_current_a', found.cruise_a)}, the launch {result_text('launch_current_a', found.launch_a)} "
            f"for seconds.{words}",
        )

    def working(self, result: WingAsksResult) -> Iterable[Step]:
        """Stall, drag, power and current of the plan, then the best speeds."""
        own = [
            step
            for step in craft_type_of(result.design).working(result.design, result.point)
            if step.key in WORKING_KEYS
        ]
        return [*own, *wing_steps(result.calm, result.windy)]


def _farthest_label(wind: float) -> str:
    if not wind:
        return "furthest in still air"
    return "furthest into wind" if wind > 0 else "furthest downwind"
