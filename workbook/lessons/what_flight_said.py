"""Lesson 14: the plan is laid over the flight's own trace and moved until it meets it; the pack's book beside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import ipywidgets as W
import numpy as np
import traitlets
from typing_extensions import override

from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError
from workbook.flightlog.comparison import FlightComparison, compare_flight
from workbook.flightlog.log import FlightLog
from workbook.flightlog.overlay import Overlay, lay_over
from workbook.flightlog.phases import Phases, find_phases
from workbook.flightlog.planned import Band
from workbook.flightlog.reading import parse_log, read_log
from workbook.lessons.after_flight import AfterFlight, planned_design
from workbook.lessons.learner import demo_design
from workbook.lessons.lesson_view import LessonView
from workbook.lessons.pack_book import PackBook
from workbook.lessons.sensor_form import SensorForm
from workbook.parse import parse_number
from workbook.sheet.text import result_text
from workbook.sizing.craft_types import operate
from workbook.sizing.design import Design
from workbook.widgets.charts import Level, Line, LineChart
from workbook.widgets.controls import ChoiceControl, ChosenFile, DemoOrOwnLog, NumberControl
from workbook.widgets.parts import Reply, button, text_box, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, Notices
from workbook.working import Step

FOLDER = Path("logs")
MILD, COLD, BUILT = "six_warm.csv", "six_cold.csv", "six_built.csv"
TAKEN_OFF_C = {MILD: (24.0, 21.0), COLD: (4.0, 2.0), BUILT: (21.0, 18.0)}
"""Of the demo flights at take-off: cells and air."""
BUILT_DESIGN = "survey_six_built.toml"
FLIGHTS = {
    "first pack, mild day": MILD,
    "first pack, cold morning": COLD,
    "built pack, mild day": BUILT,
}
BUDGET_WORDS = "Between the dashed lines the margin budget has nine flights in ten."
LARGEST_MB = 60.0
"""Of a log sent through the page; a larger one is named by its path."""


@dataclass(frozen=True)
class WhatFlightSaidResult:
    """What the live figure shows.

    Attributes:
        flight: file name of the demo; empty for the user's own log.
        log: as read; phases: as found or moved.
        overlay: the plan over the flight.
        compared: the flight held against the plan as it is stated.
    """

    flight: str
    log: FlightLog
    phases: Phases
    overlay: Overlay
    compared: FlightComparison

    @property
    def cold(self) -> bool:
        """Whether it is the cold morning."""
        return self.flight == COLD


class MovedPhases(Panel):
    """The phases of a flight in a table; any boundary between two can be moved.

    Attributes:
        value: the phases as moved; None as found.
    """

    value = traitlets.Instance(Phases, allow_none=True)

    def __init__(self) -> None:
        self.shown: Phases | None = None
        self.table, self.reply = Table(), Reply()
        self.boundary = ChoiceControl("boundary", {"none yet": 0}, label_px=70, width_px=330)
        self.to_s = text_box("", "to, s", width_px=170)
        self.button = button("move it", self.move, "move the boundary between two phases", 100)
        row = wrapped(self.boundary, self.to_s, self.button)
        super().__init__(self.table, row, self.reply, name="phases")

    def show(self, phases: Phases) -> None:
        """Show phases."""
        self.shown = phases
        self.table.update(
            ("", "phase", "from, s", "to, s", "lasts, s"),
            [
                (f"{n}", p.kind, f"{p.start_s:.1f}", f"{p.end_s:.1f}", f"{p.duration_s:.0f}")
                for n, p in enumerate(phases.parts, 1)
            ],
            "The phases found in the log",
            words=(1,),
        )
        parts = phases.parts
        names = {
            f"{n + 1}: {parts[n].kind} to {parts[n + 1].kind}": n for n in range(len(parts) - 1)
        }
        self.boundary.offer(names)

    def move(self) -> None:
        """Move the boundary, or say why not."""
        if self.shown is None:
            return
        with self.reply.trying():
            to_s = parse_number(self.to_s.value, "s", 0.0, 1e6)
            self.value = self.shown.moved(int(self.boundary.value), to_s)


class WhatFlightSaid(LessonView):
    """Move hover power and resistance until the plan meets what was logged.

    Attributes:
        after: the comparison, the correction and the report, for a cell of its own.
        sensors: the check of the log's sensors; book: the pack's book, likewise.
    """

    slow = True

    @override
    def build(self) -> W.Widget:
        """Flight, power and resistance beside the two charts; phases below."""
        first = demo_design(self.craft_type, "")
        built = demo_design(self.craft_type, "", name=BUILT_DESIGN)
        self.designs = {MILD: first, COLD: first, BUILT: built, "": self.opened}
        self.plans = {flight: planned_design(held) for flight, held in self.designs.items()}
        self._flight, watts = MILD, _planned_w(self.plans[MILD])
        self._compared: tuple[Any, FlightComparison] | None = None
        self._compared_shown: FlightComparison | None = None
        self.flight = DemoOrOwnLog("flight", FLIGHTS, ".csv,.tsv,.txt,.log", LARGEST_MB)
        for control in (self.flight, self.flight.own):
            control.observe(lambda _: self._flight_changed(), names="value")
        self.moved = MovedPhases()
        side_controls: dict[str, Any] = {
            "flight": self.flight,
            "power_w": NumberControl.of("power_w", watts, high=float(np.round(3 * watts, -1))),
            "resistance_factor": NumberControl.of("resistance_factor", 1.0),
            "pack_temperature_c": NumberControl.of("pack_temperature_c", TAKEN_OFF_C[MILD][0]),
            "air_temperature_c": NumberControl.of("air_temperature_c", TAKEN_OFF_C[MILD][1]),
        }
        self.inputs = {**side_controls, "own": self.flight.own, "moved": self.moved}
        self.key, self.notices = KeyFigures(), Notices()
        across = "time since take-off, min"
        self.volts = LineChart(
            "Voltage: the plan and its budget over the flight",
            across,
            "pack voltage, V",
            height_px=290,
            label_room_px=112,
        )
        self.watts = LineChart(
            "Power: the plan over the flight",
            across,
            "pack power, W",
            height_px=200,
            label_room_px=112,
        )
        self.after, self.book = AfterFlight(self.craft_type, self.opened), PackBook()
        self.sensors = SensorForm()
        self.detached_parts = (self.after, self.sensors, self.book)
        return self.side_by_side(
            [*side_controls.values(), self.key],
            [self.volts, self.watts],
            self.flight.own,
            self.notices,
            self.moved,
        )

    def _flight_changed(self) -> None:
        """Another flight: its phases are found anew; a demo's temperatures are its own, and another pack's power."""
        self.moved.value = None
        before, self._flight = self._flight, str(self.flight.value)
        known = TAKEN_OFF_C.get(self._flight)
        if known is None:
            return
        self.inputs["pack_temperature_c"].value, self.inputs["air_temperature_c"].value = known
        if self.designs[before] is not self.designs[self._flight]:
            self.inputs["power_w"].value = _planned_w(self.plans[self._flight])

    @override
    def compute(
        self,
        flight: str,
        power_w: float,
        resistance_factor: float,
        pack_temperature_c: float,
        air_temperature_c: float,
        own: ChosenFile | None,
        moved: Phases | None,
    ) -> WhatFlightSaidResult:
        """Read the log, find its phases, hold the flight against the plan, and lay the plan as moved over it."""
        log = _own_log(own) if not flight else _demo_log(flight)
        phases = moved or find_phases(log)
        key = (log, phases, pack_temperature_c, air_temperature_c)
        if self._compared is None or self._compared[0] != key:
            found = compare_flight(
                self.plans[flight],
                log,
                phases=phases,
                pack_temperature_c=pack_temperature_c,
                air_temperature_c=air_temperature_c,
            )
            self._compared = key, found
        found = self._compared[1]
        overlay = lay_over(
            found.design, _zeroed_log(found, log), phases, power_w, resistance_factor
        )
        return WhatFlightSaidResult(flight, log, phases, overlay, found)

    @override
    def render(self, result: WhatFlightSaidResult) -> None:
        """Both charts, how far the plan is off, what was found in the log."""
        laid, band = result.overlay, result.compared.band
        early, late = laid.off_mv
        self.key.show(
            Figure("power: plan", f"{laid.power_w:.0f}", "W"),
            Figure.of("flown_power_w", laid.steady_w, label="flown, steady"),
            _voltage_error("voltage off plan, early", early),
            _voltage_error("off plan, late", late),
        )
        minutes, end = laid.time_min, float(laid.time_min[-1])
        self.volts.update(
            [
                Line("flown", minutes, laid.flown_v, "faint"),
                Line("best of 20", band.time_min, band.high_v, "today"),
                Line("worst of 20", band.time_min, band.low_v, "today"),
                Line("plan, moved", minutes, laid.plan_v),
            ],
            x_range=(0.0, end),
            y_range=_voltage_range(laid, band),
            finding=f"{laid.text()} {BUDGET_WORDS}",
        )
        flown_w = laid.flown_v * laid.flown_a
        self.watts.update(
            [Line("flown", minutes, flown_w, "faint")],
            levels=[
                Level("plan, moved", laid.power_w, "pack"),
                Level("flown, steady", laid.steady_w, "caution"),
            ],
            x_range=(0.0, end),
            y_range=(0.0, 1.15 * float(np.nanmax(flown_w))),
            finding=f"Climbs and gusts stand above the steady {result_text('flown_power_w', laid.steady_w)}, descents below.",
        )
        self.moved.show(result.phases)
        if (
            result.compared is not self._compared_shown
        ):  # a slip shown there stays while the sliders move
            self._compared_shown = result.compared
            mine = not result.flight or (result.flight != BUILT and not self.opened.own)
            self.after.show(result.compared, self.designs[result.flight], is_own=mine)
        self.sensors.show(_zeroed_log(result.compared, result.log))
        self.notices.update(result.log.sentences, "Found in the log, and left out")

    @override
    def working(self, result: WhatFlightSaidResult) -> Iterable[Step]:
        """Power and resistance from the log's own figures."""
        return result.overlay.working()


def _planned_w(plan: Design) -> float:
    """Power of steady flight by the plan, in whole watts."""
    return float(np.round(operate(plan).power_w))


def _voltage_error(label: str, off_mv: float) -> Figure:
    """How far the plan's voltage is off; none where the plan's pack gives no power any more."""
    known = np.isfinite(off_mv)
    return Figure(label, f"{off_mv:+.0f}", "mV per cell") if known else Figure(label, "none")


def _voltage_range(laid: Overlay, band: Band) -> tuple[float, float]:
    """Ends of the axis of voltage: room for the band, the trace and their names."""
    seen = np.concatenate([laid.flown_v, laid.plan_v, band.low_v, band.high_v])
    seen = seen[np.isfinite(seen)]
    return float(np.floor(seen.min() - 1.0)), float(np.ceil(seen.max()))


def _zeroed_log(found: FlightComparison, log: FlightLog) -> FlightLog:
    """The log with the zero of its current taken out."""
    return found.flown if isinstance(found.flown, FlightLog) else log


@lru_cache(maxsize=4)
def _demo_log(name: str) -> FlightLog:
    return read_log(here_or_shipped(FOLDER / name))


@lru_cache(maxsize=2)
def _own_log(own: ChosenFile | None) -> FlightLog:
    if own is None:
        raise InputError("no log is chosen yet: choose a file, or one of the demo flights.")
    return parse_log(own.content, own.name)
