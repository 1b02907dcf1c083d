"""A flight against its plan, side by side: what was planned, what was measured, and whether the budget had room for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from workbook.battery.cell import OVERCHARGE_V, Cell
from workbook.battery.discharge import constant_power
from workbook.battery.pack import Pack
from workbook.data.tables import data_rows
from workbook.errors import InputError, Problem, refuse
from workbook.flightlog.log import FlightLog
from workbook.flightlog.measures import (
    UNKNOWN,
    FlightMeasures,
    Measured,
    measure_log,
    measure_slip,
)
from workbook.flightlog.phases import Phases, find_phases
from workbook.flightlog.planned import Band, PlannedFlight, as_flown, planned_flight
from workbook.flightlog.slip import ChargerSlip
from workbook.notices import notice
from workbook.numbers import in_digits, plain, rounded
from workbook.quantities import unit_of
from workbook.sizing.calibration import COVERAGE, Readings, TestFlight, calibrate
from workbook.sizing.conditions import flown_state
from workbook.sizing.craft_types import craft_type_of
from workbook.sizing.design import Design

COMPARED_FIGURES = {row["key"]: row for row in data_rows("compared.csv")}
"""Each line of a comparison, in order: in words, which way is better, and whether the plan's figure is a ceiling."""
CEILINGS = tuple(key for key, row in COMPARED_FIGURES.items() if row["ceiling"])
"""The plan's figure is the most that can be; a flight that stays below it is within the plan."""
FAR_V, MOST_TAKEN = 0.5, 1.5
"""Of a cell's voltage beyond its datasheet's ends, and of its rated charge: beyond these it is another pack. Common
practice, no source."""
WARMER_K = 8.0
"""A pack further from the temperature of the plan is another flight. Common practice, no source."""


@dataclass(frozen=True)
class ComparedLine:
    """One figure of a comparison.

    Attributes:
        key: its name.
        label, unit: in words.
        planned: by the plan, for the time flown.
        planned_low, planned_high: between them the margin budget has nine flights in ten.
        measured: in flight.
        uncertainty: half of the interval that holds the truth 95 times in 100.
        within: whether plan and budget had room for it; None where that is open.
        worse: where it lies outside, whether on the side that costs time or margin.
        judgement: in words.
        unsafe: why, where it lies beyond what the cell withstands, whatever was planned; empty else.
    """

    key: str
    label: str
    unit: str
    planned: float
    planned_low: float
    planned_high: float
    measured: float
    uncertainty: float
    within: bool | None
    worse: bool
    judgement: str
    unsafe: str = ""


@dataclass(frozen=True, eq=False)
class FlightComparison:
    """A flight against its plan.

    Attributes:
        design: the plan, with the mass and the temperatures of the flight.
        flown: the log, with the zero of its current taken out, or the slip.
        phases: of the log.
        measures: of the flight.
        lines: figure by figure.
        band: the plan's voltage over time, and what the budget left room for.
        doubts: what is implausible about it, a sentence each.
        notes: further remarks.
        readings: how far off they may be.
        motors_w: what the motors would take of its steady power by the figures, without a flight factor.
        airspeed_m_s: of a fixed wing in steady flight.
    """

    design: Design[Any]
    flown: FlightLog | ChargerSlip
    phases: Phases | None
    measures: FlightMeasures
    lines: tuple[ComparedLine, ...]
    band: Band
    doubts: tuple[str, ...]
    notes: tuple[str, ...]
    readings: Readings
    motors_w: float
    airspeed_m_s: float | None

    @property
    def steady_w(self) -> float:
        """Power of the pack in steady flight."""
        return self.measures.steady_power_w.value

    def line(self, key: str) -> ComparedLine:
        """The line of a figure by its key."""
        return next(line for line in self.lines if line.key == key)

    @property
    def worse_lines(self) -> tuple[ComparedLine, ...]:
        """What lies outside of what plan and budget left room for, on the side that costs."""
        return tuple(line for line in self.lines if line.within is False and line.worse)

    @property
    def holds(self) -> bool:
        """Whether nothing is worse than plan and budget left room for, nor implausible."""
        return not self.worse_lines and not self.doubts

    def as_dict(self) -> dict[str, Any]:
        """Plain values, the unit as suffix; None where a figure is not known."""
        figures = ("planned", "planned_low", "planned_high", "measured", "uncertainty")
        return {
            "design": self.design.name,
            "flown": "slip" if isinstance(self.flown, ChargerSlip) else self.flown.name,
            "minutes": self.measures.minutes.value,
            "holds": self.holds,
            "lines": [
                {
                    "key": line.key,
                    "name": line.label,
                    **plain({name: getattr(line, name) for name in figures}),
                    "unit": line.unit,
                    "within": line.within,
                    "unsafe": bool(line.unsafe),
                    "judgement": line.judgement,
                }
                for line in self.lines
            ],
            "phases": []
            if self.phases is None
            else [
                {"kind": p.kind, "start_s": p.start_s, "end_s": p.end_s} for p in self.phases.parts
            ],
            "doubts": list(self.doubts),
            "notes": list(self.notes),
        }

    def report(self) -> str:
        """What was flown, then the comparison."""
        if isinstance(self.flown, ChargerSlip):
            head = f"{self.flown.minutes:g} min, {self.flown.charge_ah:g} Ah put back"
        else:
            head = "\n".join([self.flown.name, *(f"- {note}" for note in self.flown.notes)])
        parts = [] if self.phases is None else [self.phases.text(), ""]
        return "\n".join([f"{self.design.name}: {head}", "", *parts, self.text()])

    def text(self) -> str:
        """The comparison as a table, its words and its notes."""
        rows = [f"{'':<46}{'plan':>9}{'budget: 9 in 10':>20}{'measured':>18}"]
        for line in self.lines:
            span = f"{in_digits(line.planned_low)} to {in_digits(line.planned_high)}"
            found = f"{in_digits(line.measured)} ± {in_digits(line.uncertainty, 2)}"
            named = f"{line.label}{', ' + line.unit if line.unit else ''}"
            rows.append(f"{named:<46}{in_digits(line.planned):>9}{span:>20}{found:>18}")
        words = [
            f"- {line.label}: {line.judgement}" for line in self.lines if line.within is not True
        ]
        remarks = (f"- {text}" for text in (*self.doubts, *self.notes))
        return "\n".join([*rows, "", *words, *remarks])


def compare_flight(
    design: Design[Any],
    flown: FlightLog | ChargerSlip,
    *,
    phases: Phases | None = None,
    readings: Readings | None = None,
    mass_g: float | None = None,
    pack_temperature_c: float | None = None,
    air_temperature_c: float | None = None,
) -> FlightComparison:
    """Hold a flight against its plan.

    The plan is that of a steady flight as long as the flight was, from the charge that the pack had.

    Args:
        design: the plan; a single design.
        flown: its log, or the charger's slip.
        phases: where they were moved by hand; found in the log else.
        readings: how far off they may be; what is usual where left out.
        mass_g: all-up mass as flown, where it was not the plan's.
        pack_temperature_c, air_temperature_c: at take-off, where they were not the plan's.

    Raises:
        InputError: no flight in the log; figures that is not possible; a craft that cannot fly so by its figures.

    Source: `workbook.flightlog.measures`, `workbook.flightlog.pack_fit`, `workbook.flightlog.planned`.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> found = compare_flight(six, ChargerSlip(21.0, 7.2, after_v=22.6))
        >>> line = found.line("steady_power_w")
        >>> line.planned_low < line.measured < line.planned_high, line.within
        (True, True)
    """
    readings = readings or Readings()
    if np.ndim(design.pack.series) or np.ndim(design.pack.parallel):
        raise InputError("a flight is compared with a single design.")
    design = as_flown(design, mass_g, pack_temperature_c, air_temperature_c)
    if isinstance(flown, ChargerSlip):
        if phases is not None:
            raise InputError("phases belong to a log; a slip has none.")
        _refuse_other_volts(flown, design.pack)
        depths = flown.depths(design)
        measures, start = measure_slip(flown, design, readings), depths[0] if depths else 0.0
    else:
        phases = phases or find_phases(flown)
        _refuse_other_pack(flown, phases, design)
        measures = measure_log(flown, phases, design, readings)
        start = measures.fit.start_depth if measures.fit else 0.0
        flown = measures.log or flown
    planned = planned_flight(design, measures.minutes.value, max(start, 0.0))
    speed = _test_airspeed(design, measures)
    steady_w, mass_g = measures.steady_power_w.value, design.craft.all_up_mass_g(design.pack.mass_g)
    known = calibrate(
        design, [TestFlight(float(mass_g), power_w=steady_w, airspeed_m_s=speed)], readings
    )
    motors_w = float(known.bench_w[0])
    return FlightComparison(
        design=design,
        flown=flown,
        phases=phases,
        measures=measures,
        lines=_lines(design, planned, measures, motors_w, readings),
        band=planned.band,
        doubts=known.doubts,
        notes=_notes(design, flown, measures, start),
        readings=readings,
        motors_w=motors_w,
        airspeed_m_s=speed,
    )


def _refuse_other_pack(log: FlightLog, phases: Phases, design: Design[Any]) -> None:
    """Refuse the log of a pack that cannot be the design's: by its volts a cell, or by the charge that it gave.

    Raises:
        InputError: it is another pack's, or a column is in another unit.
    """
    pack = design.pack
    air = log.between(*phases.flight)
    known = np.isfinite(air.voltage_v) & np.isfinite(air.current_a)
    if not known.any():
        return
    problems = []
    pack_v = float(np.median(air.voltage_v[known]))
    if problem := _other_volts(pack_v, pack):
        problems.append(
            f"the pack stood at {pack_v:.1f} V in flight, {problem}; is it the log of another pack, or the voltage in "
            "another unit?"
        )
    taken_ah = float(np.trapezoid(air.current_a[known], air.time_s[known])) / 3600.0
    if taken_ah > MOST_TAKEN * float(pack.capacity_ah):
        problems.append(
            f"{taken_ah:.1f} Ah were taken from a pack of {float(pack.capacity_ah):.1f} Ah; is it the log of another "
            "pack, or the current in another unit?"
        )
    if problems:
        raise InputError([Problem(problem, log.name) for problem in problems])


def _refuse_other_volts(slip: ChargerSlip, pack: Pack) -> None:
    """Refuse voltages of a slip that cannot be those of the design's pack at rest.

    Raises:
        InputError: one or both are another pack's, or one cell's.
    """
    problems = [
        Problem(
            f"{volts:g} V cannot be this pack's, {per_cell}; the voltage of the whole pack is needed.",
            key,
        )
        for key, volts in (("before_v", slip.before_v), ("after_v", slip.after_v))
        if volts is not None and (per_cell := _other_volts(volts, pack))
    ]
    refuse(problems)


def _other_volts(pack_v: float, pack: Pack) -> str:
    """A pack's voltage per cell in words, where no cell of the pack can have it; empty else."""
    cell_v = pack_v / float(pack.series)
    if pack.cell.cutoff_v - FAR_V <= cell_v <= pack.cell.charge_v + FAR_V:
        return ""
    return f"which is {cell_v:.2f} V per cell with {pack.series:g} cells in series"


def _test_airspeed(design: Design[Any], measures: FlightMeasures) -> float | None:
    """Airspeed of steady flight, as logged or else as planned; None of a craft that needs none."""
    craft_type = craft_type_of(design)
    if not craft_type.test_airspeed:
        return None
    if np.isfinite(measures.speed_m_s):
        return measures.speed_m_s
    return float(np.asarray(craft_type.operate(design).cruise_m_s))


def _lines(
    design: Design[Any],
    planned: PlannedFlight,
    measures: FlightMeasures,
    bench_w: float,
    readings: Readings,
) -> tuple[ComparedLine, ...]:
    """Every figure that was measured."""
    parallel = float(design.pack.parallel)
    avionics_w = float(design.craft.avionics_w)
    motors_w = measures.steady_power_w.value - avionics_w
    own_off = (
        np.hypot(measures.steady_power_w.uncertainty, avionics_w * readings.avionics_pct / 100.0)
        / motors_w
    )
    factor, cell = motors_w / bench_w, design.pack.cell
    lowest, full = measures.lowest_cell_v, measures.full_cell_v
    found = {
        "energy_wh": measures.energy_wh,
        "charge_ah": measures.charge_ah,
        "mean_power_w": measures.mean_power_w,
        "steady_power_w": measures.steady_power_w,
        "flight_factor": Measured(
            factor, factor * float(np.hypot(own_off, 1.5 * readings.mass_pct / 100.0))
        ),
        "peak_power_w": measures.peak_power_w,
        "peak_cell_a": Measured(
            measures.peak_a.value / parallel, measures.peak_a.uncertainty / parallel
        ),
        "pack_resistance_mohm": _pack_mohm(design, measures, readings),
        # no figure of a plan: shown where they are unsafe
        "full_cell_v": full if full.value > cell.charge_v + OVERCHARGE_V else UNKNOWN,
        "lowest_cell_v": lowest if lowest.value < cell.floor_v else UNKNOWN,
        "landing_cell_v": measures.landing_cell_v,
        "landing_rest_cell_v": measures.rest_cell_v,
        "reserve_min": _reserve_min(design, measures, readings),
        "temperature_c": Measured(measures.temperature_c, 3.0),
        "avionics_w": measures.rest_power_w,
    }
    return tuple(
        _line(key, planned, measure, design)
        for key, measure in found.items()
        if np.isfinite(measure.value)
    )


def _line(key: str, planned: PlannedFlight, measure: Measured, design: Design[Any]) -> ComparedLine:
    low, high = planned.ends(key)
    least, most = np.fmin(low, planned.plan(key)), np.fmax(high, planned.plan(key))
    value, off = measure.value, measure.uncertainty
    within: bool | None
    worse = bool(value < least if COMPARED_FIGURES[key]["better"] == "high" else value > most)
    if not np.isfinite(low):
        within, words = None, "the plan has no figure for it."
    elif key in CEILINGS and value <= most:
        within, words = True, "no more than the plan has at its most."
    elif least <= value <= most:
        within, words = True, "within what plan and margin budget left room for."
    else:
        side = "more" if value > most else "less"
        within, words = False, f"{side} than plan and margin budget left room for."
        if abs(value - (most if value > most else least)) <= off:
            within, words = None, f"{words[:-1]}, by less than it may be off."
    if within is False and not worse:
        words = f"better than the plan: {words}"
    cell = design.pack.cell
    if key == "peak_cell_a" and value <= cell.continuous_a:
        words = f"{words} {notice('flight', 'within_continuous', cell_a=value, cell=cell)}"
    elif key == "peak_cell_a" and value <= cell.burst_a:
        words = f"{words} {notice('flight', 'over_continuous', cell_a=value, cell=cell)}"
    if key == "temperature_c":
        words += " A sensor on the wrap reads less than the inside of the hottest cell."
    unsafe = _unsafe(key, value, cell)
    if unsafe:
        within, worse, words = False, True, f"{words} {unsafe}"
    return ComparedLine(
        key=key,
        label=COMPARED_FIGURES[key]["label"],
        unit=unit_of(key),
        planned=planned.plan(key),
        planned_low=low,
        planned_high=high,
        measured=value,
        uncertainty=off,
        within=within,
        worse=worse,
        judgement=words,
        unsafe=unsafe,
    )


def _unsafe(key: str, value: float, cell: Cell) -> str:
    """What is unsafe about a figure of a flight, whatever was planned; empty where nothing is."""
    if key == "peak_cell_a" and value > cell.burst_a:
        return notice("flight", "over_burst", cell_a=value, cell=cell)
    if key in ("lowest_cell_v", "landing_cell_v", "landing_rest_cell_v") and value < cell.floor_v:
        return notice("flight", "under_floor", cell_v=rounded(value, 2, "down"), cell=cell)
    if key == "full_cell_v" and value > cell.charge_v + OVERCHARGE_V:
        return notice("flight", "overcharged", cell_v=rounded(value, 2, "up"), cell=cell)
    if key == "temperature_c" and value > cell.max_temperature_c:
        return notice("flight", "too_hot", hot_c=rounded(value, 0, "up"), cell=cell)
    return ""


def _pack_mohm(design: Design[Any], measures: FlightMeasures, readings: Readings) -> Measured:
    """Resistance of the pack with its joints, mean over the charge that the flight took."""
    fit, pack = measures.fit, design.pack
    if fit is None:
        return UNKNOWN
    depth = np.linspace(fit.start_depth, min(fit.end_depth, 1.0), 101)
    state = flown_state(design, measures.steady_power_w.value)
    own = float(np.mean(pack.cell.model.resistance_at(depth)) * state.resistance_factor)
    to_pack = float(pack.series) / float(pack.parallel)
    value = (own * fit.resistance_factor + float(pack.joint_mohm_per_cell)) * to_pack
    alone = COVERAGE * float(np.sqrt(fit.covariance[0, 0])) * own * to_pack
    gain = value * float(np.hypot(readings.current_pct, readings.voltage_pct)) / 100.0
    return Measured(value, float(np.hypot(alone, gain)))


def _reserve_min(design: Design[Any], measures: FlightMeasures, readings: Readings) -> Measured:
    """Minutes of steady flight from full to the plan's end, with the power, resistance and charge of the flight."""
    pack, flight = design.pack, design.flight
    power, fit = measures.steady_power_w, measures.fit
    state = flown_state(design, power.value)
    f, c = (fit.resistance_factor, fit.capacity_factor) if fit else (1.0, 1.0)
    offs = COVERAGE * np.sqrt(np.diag(fit.covariance)) if fit else np.array([0.2, 0.04])
    if fit is None and measures.capacity is not None:
        c, offs[1] = measures.capacity[0], COVERAGE * measures.capacity[1]
    offs[0] = np.hypot(offs[0], f * readings.current_pct / 100.0)

    def minutes(power_w: float, resistance: float, charge: float) -> float:
        run = constant_power(
            pack.cell.model,
            power_w / pack.cells,
            flight.landing_v,
            1.0 - np.asarray(flight.reserve_pct) / 100.0,
            extra_mohm=pack.joint_mohm_per_cell,
            resistance_factor=state.resistance_factor * max(resistance, 0.05),
            capacity_factor=state.capacity_factor * charge,
        )
        return float(run.time_s) / 60.0

    value = minutes(power.value, f, c)
    parts = (
        minutes(power.value + power.uncertainty, f, c) - value,
        minutes(power.value, f + offs[0], c) - value,
        minutes(power.value, f, c + offs[1]) - value,
    )
    return Measured(value, float(np.sqrt(np.sum(np.square(parts)))))


def _notes(
    design: Design[Any], flown: FlightLog | ChargerSlip, measures: FlightMeasures, start: float
) -> tuple[str, ...]:
    notes = []
    if start > 0.03:
        notes.append(notice("flight", "not_full", gone_pct=100.0 * start))
    fit, plan_c = measures.fit, float(design.flight.pack_temperature_c)
    if isinstance(flown, ChargerSlip):
        notes.append(notice("flight", "from_slip"))
    elif fit is None:
        notes.append(notice("flight", "few_rows"))
    elif not fit.rested:
        notes.append(notice("flight", "not_rested"))
    begin_c = np.nan
    if isinstance(flown, FlightLog) and flown.temperature_c is not None:
        known = flown.temperature_c[np.isfinite(flown.temperature_c)]
        begin_c = float(known[0]) if known.size else np.nan
    if abs(begin_c - plan_c) > WARMER_K:
        notes.append(notice("flight", "other_temperature", begin_c=begin_c, plan_c=plan_c))
    if isinstance(flown, FlightLog):
        notes += [finding.text for finding in flown.findings]
    return tuple(notes)
