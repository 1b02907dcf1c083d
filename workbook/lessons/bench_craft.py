"""What the sizing bench shows of each craft type: words, a control and the one chart that differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.numbers import plain
from workbook.quantities import RESULTS
from workbook.sheet.text import figure_text, result_text
from workbook.sizing.size import SizingResult
from workbook.sizing.wing_curve import wing_curve
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical


@dataclass(frozen=True)
class BenchCraft:
    """One craft type on the bench.

    Attributes:
        chart: title and axes of its own chart.
        control: key of its own control in the design.
        start: where a control does not start as the design states it.
        show: puts an answer on its own chart.
        voltages: its own levels on the voltage chart.
    """

    chart: tuple[str, str, str]
    control: str
    start: Callable[[SizingResult], dict[str, float]]
    show: Callable[[LineChart, SizingResult], None]
    voltages: Callable[[SizingResult], list[Level]]


def _cap(figures: Mapping[str, float | str | None], key: str) -> str:
    """A throttle cap as it is set."""
    return result_text(RESULTS[key], figures[key])


def _as_stated(answer: SizingResult) -> dict[str, float]:
    return {}


def _at_cruise_speed(answer: SizingResult) -> dict[str, float]:
    return {"cruise_m_s": round(plain(answer.point.cruise_m_s), 1)}


def _show_thrust(chart: LineChart, answer: SizingResult) -> None:
    table, point = answer.design.craft.table, plain(answer.point)

    def at(name: str, thrust_gf: Any, role: str) -> Point:
        amps = np.interp(thrust_gf, table.thrust_gf, table.current_a, np.nan, np.nan)
        return Point(name, plain(amps), thrust_gf, role)

    end, figures = point.end, answer.figures()
    chart.update(
        [Line("table", table.current_a, table.thrust_gf)],
        points=[
            at("hover", point.thrust_per_motor_gf, "pack"),
            at("continuous", end.continuous.thrust_gf, "caution"),
            at("burst", end.burst.thrust_gf, "limit"),
        ],
        x_range=(0.0, table.current_a.max()),
        y_range=(0.0, table.top_thrust_gf),
        finding=f"Hover {figure_text(point.thrust_per_motor_gf, 'gf', 0)} a motor; at the end the "
        f"pack allows {figure_text(end.continuous.thrust_gf, 'gf', 0)} at its continuous and "
        f"{figure_text(end.burst.thrust_gf, 'gf', 0)} at its burst current. Throttle cap: "
        f"{_cap(figures, 'throttle_cap_pct')} continuous, "
        f"{_cap(figures, 'burst_throttle_cap_pct')} burst.",
    )


def _show_speeds(chart: LineChart, answer: SizingResult) -> None:
    point = plain(answer.point)
    speeds = point.speeds
    farthest = speeds.range_m_s
    fastest = max(2.0 * farthest, 1.2 * point.cruise_m_s)
    curve = wing_curve(answer.design, point.all_up_mass_g, to_m_s=fastest)
    chart.update(
        [Line("level flight", curve.airspeed_m_s, curve.power_w)],
        verticals=[Vertical("stall", speeds.stall_m_s, "limit")],
        points=[
            Point("cruise", point.cruise_m_s, point.power_w),
            Point("best range", farthest, curve.best.range_w, "alternative"),
        ],
        x_range=(0.0, curve.airspeed_m_s[-1]),
        y_range=(0.0, 1.05 * np.nanmax(curve.power_w)),
        finding=f"Cruise at {point.cruise_m_s:.1f} m/s takes "
        f"{figure_text(point.power_w, 'W', 0)}; stall {speeds.stall_m_s:.1f}, longest at "
        f"{speeds.endurance_m_s:.1f}, farthest at {speeds.range_m_s:.1f} m/s.",
    )


def _thrust_reserve(answer: SizingResult) -> list[Level]:
    return [Level("thrust reserve", plain(answer.point.lowest_hover_cell_v), "caution")]


BENCH_CRAFT: dict[type, BenchCraft] = {
    Multirotor: BenchCraft(
        ("Thrust against current, thrust table", "current of one motor, A", "thrust, gf"),
        "throttle_cap_pct",
        _as_stated,
        _show_thrust,
        _thrust_reserve,
    ),
    FixedWing: BenchCraft(
        ("Power against airspeed", "airspeed, m/s", "power, W"),
        "cruise_m_s",
        _at_cruise_speed,
        _show_speeds,
        lambda answer: [],
    ),
}
"""By the craft of the design."""
