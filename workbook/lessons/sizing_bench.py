"""The sizing bench: the whole chain on one page, for whoever knows it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np

from workbook.craft.craft_types import FixedWing, Multirotor
from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError, Problem
from workbook.files.design_file import DesignFile
from workbook.lessons.bench_files import BenchFiles
from workbook.lessons.learner import cell_choice
from workbook.numbers import plain
from workbook.sheet.text import doubt_lines, result_text, unchecked_lines
from workbook.sizing.constant_power_flight import FlightTrace, flight_trace
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.limits import Subject
from workbook.sizing.operating_point import OperatingPoint
from workbook.sizing.remedy import remedy
from workbook.sizing.size import SizingResult, judged, size
from workbook.sizing.spiral import Spiral, spiral
from workbook.sizing.wing_curve import wing_curve
from workbook.units import SYSTEMS, units_in_use, use_units, with_unit
from workbook.widgets.charts import Level, Line, LineChart, Point, Vertical, small_chart
from workbook.widgets.controls import ChoiceControl, controls
from workbook.widgets.frame import LiveView, set_stale
from workbook.widgets.live import Live
from workbook.widgets.parts import Reply, wrapped
from workbook.widgets.verdict import Figure, KeyFigures, LimitsTable, Notices, Verdict
from workbook.working import Step


@dataclass(frozen=True)
class BenchCraft:
    """One craft type on the bench.

    Attributes:
        chart: title and axes of its own chart.
        control: key of its own control in the design.
        show: puts an answer on its own chart.
        start: where a control does not start as the design states it.
        voltages: its own levels on the voltage chart.
    """

    chart: tuple[str, str, str]
    control: str
    show: Callable[[LineChart, SizingResult], None]
    start: Callable[[SizingResult], dict[str, float]] = lambda answer: {}
    voltages: Callable[[SizingResult], list[Level]] = lambda answer: []


def _cap(answer: SizingResult, key: str) -> str:
    """A throttle cap as it is set."""
    return result_text(key, answer.figure(key))


def _cruise_speed(answer: SizingResult) -> dict[str, float]:
    return {"cruise_m_s": round(plain(answer.point.cruise_m_s), 1)}


def _show_thrust(chart: LineChart, answer: SizingResult) -> None:
    table, point = answer.design.craft.table, answer.point

    def point_of(name: str, thrust_gf: Any, role: str) -> Point:
        amps = np.interp(thrust_gf, table.thrust_gf, table.current_a, np.nan, np.nan)
        return Point(name, plain(amps), plain(thrust_gf), role)

    end = point.end  # not all of it made plain: that takes longer than to draw it
    hover = f"Hover {result_text('hover_thrust_per_motor_gf', point.thrust_per_motor_gf)} per motor"
    chart.update(
        [Line("table", table.current_a, table.thrust_gf)],
        points=[
            point_of("hover", point.thrust_per_motor_gf, "pack"),
            point_of("continuous", end.continuous.thrust_gf, "caution"),
            point_of("burst", end.burst.thrust_gf, "limit"),
        ],
        x_range=(0.0, table.current_a.max()),
        y_range=(0.0, table.top_thrust_gf),
        finding=f"{hover}; at the end the pack allows {result_text('continuous_thrust_per_motor_gf', end.continuous.thrust_gf)} at its continuous and "
        f"{result_text('burst_thrust_per_motor_gf', end.burst.thrust_gf)} at its burst current. Throttle cap: "
        f"{_cap(answer, 'throttle_cap_pct')} continuous, "
        f"{_cap(answer, 'burst_throttle_cap_pct')} burst."
        if np.isfinite(end.continuous.thrust_gf)
        else f"{hover}; what the pack allows cannot be computed from this table.",
    )


def _show_speeds(chart: LineChart, answer: SizingResult) -> None:
    point, speeds = answer.point, plain(answer.point.speeds)
    farthest, cruise_m_s = speeds.range_m_s, plain(point.cruise_m_s)
    fastest = max(2.0 * farthest, 1.2 * cruise_m_s)
    curve = wing_curve(answer.design, plain(point.all_up_mass_g), to_m_s=fastest)
    chart.update(
        [Line("level flight", curve.airspeed_m_s, curve.power_w)],
        verticals=[Vertical("stall", speeds.stall_m_s, "limit")],
        points=[
            Point("cruise", cruise_m_s, plain(point.power_w)),
            Point("best range", farthest, curve.best.range_w, "alternative"),
        ],
        x_range=(0.0, curve.airspeed_m_s[-1]),
        y_range=(0.0, 1.05 * np.nanmax(curve.power_w)),
        finding=f"Cruise at {with_unit(cruise_m_s, 'm/s', 1)} takes "
        f"{result_text('cruise_power_w', point.power_w)}; stall {result_text('stall_m_s', speeds.stall_m_s)}, longest at "
        f"{with_unit(speeds.endurance_m_s, 'm/s', 1)}, farthest at {with_unit(speeds.range_m_s, 'm/s', 1)}.",
    )


def _thrust_reserve(answer: SizingResult) -> list[Level]:
    return [Level("thrust reserve", plain(answer.point.lowest_hover_cell_v), "caution")]


BENCH_CRAFT: dict[type, BenchCraft] = {
    Multirotor: BenchCraft(
        ("Thrust against current, thrust table", "current of one motor, A", "thrust, gf"),
        "throttle_cap_pct",
        _show_thrust,
        voltages=_thrust_reserve,
    ),
    FixedWing: BenchCraft(
        ("Power against airspeed", "airspeed, m/s", "power, W"),
        "cruise_m_s",
        _show_speeds,
        start=_cruise_speed,
    ),
}
"""By the craft of the design."""

DIVIDED = {"one pack": "", "two packs in parallel": "parallel", "two packs in series": "series"}
"""All cells together are one pack, or two joined so."""


def _with_packs(values: Mapping[str, Any]) -> dict[str, Any]:
    """What the controls say, the choice of packs as figures of a design."""
    figures = dict(values)
    joined = figures.pop("divided")
    return figures | ({"packs": 2, "joined": joined} if joined else {"packs": 1})


DEMO_DESIGN = Path("designs", "survey_six.toml")
MOST_PARALLEL = 10


@dataclass(frozen=True)
class BenchResult:
    """What the bench shows: the controls' values, the weight spiral of the design and its operating point; its answer
    and its flight when they are asked for."""

    values: dict[str, Any]
    curve: Spiral
    subject: Subject
    notices: tuple[Problem, ...]

    @cached_property
    def answer(self) -> SizingResult:
        """What is found for the design."""
        return judged(self.subject, self.notices)

    @cached_property
    def trace(self) -> FlightTrace:
        """Its flight in time."""
        return flight_trace(self.subject.design, self.subject.point)


class SizingBench(LiveView):
    """Inputs, four live figures, the verdict in words, limits, working; load and save.

    Args:
        path: the design to start with.

    Attributes:
        files: load and save; `files.file` is the design file in use.

    Raises:
        InputError: the design cannot be used.
    """

    narrowest_px, preferred_px = 388, 600  # one chart, and two side by side
    background: Live

    def __init__(self, path: Path | str = DEMO_DESIGN) -> None:
        super().__init__("bench")
        self.files = BenchFiles(Path(path), self._settings, self._open, self._table_changed)
        try:
            self._open()
        except InputError as fault:
            demo = here_or_shipped(DEMO_DESIGN)
            self.files = BenchFiles(demo, self._settings, self._open, self._table_changed)
            self._open()
            reply = Reply()
            reply.refuse(f"{path} cannot be shown, so the demo is: {fault.lines[0]}")
            self.children = [reply, *self.children]

    @property
    def file(self) -> DesignFile:
        """The design file in use."""
        return self.files.file

    def _open(self) -> None:
        """Build controls and charts for the design in use."""
        if hasattr(self, "background"):
            self.background.retire()  # what it still searches is for the design before
        self.arrange()
        self.background = Live(
            self.inputs,
            self._find_remedy,
            self._show_remedy,
            slow=True,
            rest_s=1.0,  # who moves a control twice in a second reads no way out between
            mark_stale=lambda stale: set_stale(self.remedy, stale),
        )
        self.children = [*self.children, self.files]

    def _show_in(self, units: str) -> None:
        """Show the same figures in other units: controls and charts are built anew, values stay."""
        use_units(units)
        values = self.live.values()
        self._open()
        with self.live.held(), self.background.held():
            for name, value in values.items():
                self.inputs[name].value = value

    def _table_changed(self) -> None:
        self.live.run_now()
        self.background.run_now()

    def _settings(self) -> dict[str, Any]:
        figures = _with_packs(self.live.values())
        if figures["packs"] == 1 and "packs" not in self.file.part.pack.model_fields_set:
            figures["packs"] = None  # one pack is what a file means that says nothing
        return {**figures, "cell": self.inputs["cell"].value.name}

    # controls and charts -------------------------------------------------------------------------

    def build(self) -> W.Widget:
        """Controls as the design states them; verdict, figures, charts and limits."""
        design = self.file.design
        answer = size(design, notices=self.file.notices)
        self.craft = BENCH_CRAFT[type(design.craft)]
        self.inputs = {
            "cell": cell_choice(design),
            **controls(
                "series",
                "parallel",
                "mass_without_pack_g",
                "payload_g",
                "avionics_w",
                self.craft.control,
                "reserve_pct",
                "landing_v",
                design=design,
                **self.craft.start(answer),
            ),
            "divided": ChoiceControl(
                "flown as", DIVIDED, design.joining.joined if design.joining.several else ""
            ),
        }
        self.units_choice = ChoiceControl("shown in", SYSTEMS, units_in_use())
        self.units_choice.observe(lambda change: self._show_in(change["new"]), names="value")
        self._build_charts()
        self.verdict, self.remedy, self.figures = Verdict(), Notices(), KeyFigures()
        self.limits_table, self.notices = LimitsTable(), Notices()
        every = {"every figure": "", **{step.label: step.key for step in answer.working}}
        self.working_choice = ChoiceControl("working of", every, "", label_px=90, width_px=620)
        self.working_choice.observe(lambda _: self._choose_working(), names="value")
        body = self.side_by_side(
            [
                self.verdict,
                self.remedy,
                *self.inputs.values(),
                self.figures,
                self.units_choice,
                self.big,
            ],
            [wrapped(*self.charts)],
        )
        return W.VBox([body, self.limits_table, self.notices, self.working_choice])

    def _build_charts(self) -> None:
        steady = craft_type_of(self.file.design).steady
        self.spiral_chart = small_chart("Weight spiral", "cells in parallel, P", "flight time, min")
        self.current_chart = small_chart(
            f"Current of one cell in {steady}", "time, min", "current, A"
        )
        self.craft_chart = small_chart(*self.craft.chart)
        self.voltage_chart = small_chart(
            f"Voltage of one cell in {steady}", "time, min", "voltage, V"
        )
        self.charts = (self.spiral_chart, self.current_chart, self.craft_chart, self.voltage_chart)

    # computing and rendering ---------------------------------------------------------------------

    def compute(self, **values: Any) -> BenchResult:
        """Work out the design with what is set as far as its first figure needs it."""
        design = self.file.design.changed(**_with_packs(values))
        curve = spiral(design, max(MOST_PARALLEL, int(design.pack.parallel)))
        subject = Subject(design, curve.point)
        _ = subject.mission_plan  # a mission that cannot be flown is refused before anything moves
        return BenchResult(values, curve, subject, self.file.notices_of(design))

    def render(self, result: BenchResult) -> None:
        """The first chart; then the verdict, figures, the other three charts, limits and notes."""
        self.show_stale(not np.isfinite(result.subject.point.endurance_min))
        self._show_spiral(result.subject.point, result.curve)
        answer = result.answer
        if not answer.broken and not answer.stops:
            self.remedy.update([])  # `background` does so too, a moment later
        self.verdict.show(answer)
        self._show_figures(answer)
        self._show_flight(answer, result.trace)
        self.craft.show(self.craft_chart, answer)
        self.limits_table.show(answer.limits)
        self.notices.update(
            [*unchecked_lines(answer), *doubt_lines(answer), *map(str, answer.notes)]
        )

    def _find_remedy(self, **values: Any) -> str:
        """What would do where the design does not hold; beside the page, for it takes a moment."""
        shown: BenchResult | None = self.result
        if shown is not None and shown.values == values:
            return remedy(shown.answer, self.file.cells)
        return remedy(size(self.file.design.changed(**_with_packs(values))), self.file.cells)

    def _show_remedy(self, text: str) -> None:
        self.remedy.update([text] if text else [], title="A way out")

    def working(self, result: BenchResult) -> Iterable[Step]:
        """The steps of the figure chosen, or of all."""
        key = self.working_choice.value
        return [step for step in result.answer.working if key in ("", step.key)]

    def _choose_working(self) -> None:
        if self.result is not None:
            self.working_panel.update(lambda: self.working(self.result))

    def _show_figures(self, answer: SizingResult) -> None:
        today = answer.today
        self.figures.update(
            [
                Figure.of(key, answer.figure(key), today and today.figure(key))
                for key in answer.craft_type.large_keys
            ]
        )

    def _show_spiral(self, point: OperatingPoint[Any, Any], curve: Spiral) -> None:
        parallel, minutes = int(curve.design.pack.parallel), float(point.endurance_min)
        best = curve.best_parallel
        where = (
            "the table does not reach such masses."
            if np.isnan(best)
            else f"of P up to {curve.parallel[-1]:.0f} the longest flight is at P = {best:.0f}."
        )
        self.spiral_chart.update(
            [Line("", curve.parallel, curve.endurance_min)],
            points=[Point(f"P = {parallel}", parallel, minutes)],
            x_range=(1.0, float(curve.parallel[-1])),
            finding=f"With P = {parallel}: {_flight_time(minutes)}, {result_text('all_up_mass_g', point.all_up_mass_g)}; {where}",
        )

    def _show_flight(self, answer: SizingResult, trace: FlightTrace) -> None:
        flight, cell = answer.design.flight, answer.design.pack.cell
        allowed = cell.continuous_a * flight.continuous_share_pct / 100
        minutes = _number(answer.figure("endurance_min"))
        ends = Vertical(f"lands: {answer.figure('ends_by')}", minutes, "faint")
        landing = [ends] if np.isfinite(minutes) else []
        run, highest_a = answer.point.run, np.nanmax([0.0, answer.point.end.steady_a])
        self.current_chart.update(
            [Line(answer.craft_type.steady, trace.time_min, trace.cell_a)],
            levels=[
                Level("continuous", cell.continuous_a, "caution"),
                Level("allowed", allowed, "alternative"),
                Level("burst", cell.burst_a, "limit"),
            ],
            verticals=landing,
            y_range=(0.0, 1.1 * max(cell.burst_a, highest_a)),
            finding=f"{result_text('peak_cell_a', run.start_a)} at take-off, {result_text('peak_cell_a', run.end_a)} at landing; "
            f"{with_unit(allowed, 'A', 1, 'down')} are allowed."
            if np.isfinite(minutes)
            else f"The current cannot be computed; {with_unit(allowed, 'A', 1, 'down')} are allowed.",
        )
        self.voltage_chart.update(
            [
                Line("loaded", trace.time_min, trace.cell_v),
                Line("at rest", trace.time_min, trace.rest_v, "faint"),
            ],
            levels=[Level("landing", flight.landing_v, "limit"), *self.craft.voltages(answer)],
            verticals=landing,
            y_range=(min(2.4, flight.landing_v), 4.3),
            finding=f"Lands at {result_text('landing_cell_v', answer.figure('landing_cell_v'))} loaded, which is "
            f"{result_text('landing_rest_cell_v', answer.figure('landing_rest_cell_v'))} at rest."
            if np.isfinite(minutes)
            else "The voltage at landing cannot be computed.",
        )


def _flight_time(minutes: float) -> str:
    return (
        result_text("endurance_min", minutes)
        if np.isfinite(minutes)
        else "flight time cannot be computed"
    )


def _number(value: float | str | None) -> float:
    return np.nan if value is None else float(value)
