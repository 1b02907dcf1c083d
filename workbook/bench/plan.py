"""Everything that the bench needs to know of one pack, gathered: from the layout to the label."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from workbook.battery.charge import ChargePlan, Charger
from workbook.battery.derating import cycles_to_retire
from workbook.battery.pack import Pack
from workbook.battery.thresholds import Thresholds, thresholds
from workbook.bench.balance import BALANCE_AWG, BalancePin, balance_lead
from workbook.bench.bench_settings import STRIPS, BenchSettings
from workbook.bench.bill import Bill, bill_of_materials
from workbook.bench.cell_inspection import InspectionReport, MeasuredCells, inspect_cells
from workbook.bench.clearance import contacts
from workbook.bench.connector import choose_connector
from workbook.bench.current_path import CurrentPath
from workbook.bench.device_settings import DeviceSettings, Handling, device_settings
from workbook.bench.flight_load import FlightLoad, PartCurrents, part_currents
from workbook.bench.fuse import FuseChoice, charge_lead_fuse, choose_fuse
from workbook.bench.layout import Fittings, Layout, MassLine, lay_out, layouts
from workbook.bench.matching import Dealt, Matching, deal_usable, three_ways
from workbook.bench.procedure import (
    MOST_CHARGE_V,
    CheckItem,
    PackLabel,
    WeldStep,
    checks,
    weld_order,
)
from workbook.bench.sampling import cells_to_test
from workbook.bench.strip import Strip
from workbook.bench.strip_plan import SPOTS, StripPlan, plan_strips
from workbook.bench.transport import Transport, transport
from workbook.bench.wire import choose_wire
from workbook.errors import InputError
from workbook.units import sides_text, with_unit

COPPER_CAUTION = (
    "Copper strip does not weld like nickel: slot it and weld through a nickel cap with a welder made "
    "for it, and peel test pieces first. Without such a welder choose another cell layout or more "
    "cells in parallel."
)
BALANCE_PLUG_G = 2.0
"""Common practice, no source: weigh your own."""
MOST_LAYOUTS = 4
"""Arrangements that are tried in turn until one has strips that carry the current."""
NO_LIMIT = 1e6
"""Ampere and watt of a charger that sets no limit, where none is stated."""
ARRIVAL_V = 3.5
"""Voltage at which new cells usually arrive. Common practice, no source."""


@dataclass(frozen=True)
class Together:
    """All packs that fly together, as autopilot, radio and speed controllers see them.

    Attributes:
        pack: all cells.
        load: what the flight asks of all.
        made_for: what all parts together carry, where the packs differ.
    """

    pack: Pack
    load: FlightLoad
    made_for: PartCurrents


@dataclass(frozen=True)
class CellGroups:
    """Measured cells dealt into the pack's groups.

    Attributes:
        names: marks of the cells, one row a group, from minus to plus.
        spare: marks of good cells that are left over.
        left_out: marks of cells that are not to be built in, with the reason.
        matching: the dealing.
        ways: what it gains over other ways.
        inspection: verdicts on all cells, and what was not measured.
    """

    names: list[list[str]]
    spare: list[str]
    left_out: tuple[tuple[str, str], ...]
    matching: Matching
    ways: tuple[Dealt, ...]
    inspection: InspectionReport


@dataclass(frozen=True)
class BuildPlan(CurrentPath):
    """How to make one pack. None where it cannot be planned; `faults` then says why.

    Attributes:
        fuse: of the main lead in the proof discharge; charge_fuse: of the charge lead, with its wire.
        pack: the pack as designed, one of them where several fly together; load: what the flight asks; settings: what is at the bench.
        made_for: pack currents that every part is made for, beside the plan's and the cells' own.
        balance: pins and voltages; charge: charger settings; thresholds: alarm to cut-off voltages.
        devices: settings of autopilot, radio and speed controllers.
        together: all packs that fly together, whose voltages `thresholds` and `devices` have; None with one.
        carried: transport class.
        masses: parts of the mass that were found.
        prepare, cells, welds, insulation, leads, first, proof, acceptance, storage: checks in the order of the
            work; weld_steps: the strips in the order in which they are welded.
        label: what is written on the pack; bill: what to buy.
        groups: measured cells dealt into groups, where a log was given.
        faults: why it cannot be built as planned, in words; empty for a sound plan.
        cautions: what else can hurt; assumed: what was taken as given.
    """

    fuse: FuseChoice | None
    charge_fuse: FuseChoice | None
    pack: Pack
    load: FlightLoad
    settings: BenchSettings
    made_for: PartCurrents
    balance: tuple[BalancePin, ...]
    charge: ChargePlan
    thresholds: Thresholds | None
    devices: DeviceSettings | None
    together: Together | None
    carried: Transport
    masses: tuple[MassLine, ...]
    prepare: tuple[CheckItem, ...]
    cells: tuple[CheckItem, ...]
    weld_steps: tuple[WeldStep, ...]
    welds: tuple[CheckItem, ...]
    insulation: tuple[CheckItem, ...]
    leads: tuple[CheckItem, ...]
    first: tuple[CheckItem, ...]
    proof: tuple[CheckItem, ...]
    acceptance: tuple[CheckItem, ...]
    storage: tuple[CheckItem, ...]
    label: PackLabel
    bill: Bill
    groups: CellGroups | None
    faults: tuple[str, ...]
    cautions: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def mass_g(self) -> float:
        """Sum of the parts: strap, tape and solder are not in it."""
        return sum(line.mass_g for line in self.masses)

    @property
    def resistance_mohm(self) -> float:
        """Of the whole pack at half charge, joints as found."""
        return 1000.0 * _pack_ohm(self.pack, self.joint_mohm)

    def plugging_in_a(self, resistor_ohm: float = 0.0) -> float:
        """First current into empty capacitors of the speed controllers, full pack, V / R whatever they hold.

        Args:
            resistor_ohm: of a precharge resistor, 0 for none.

        Source: charging a capacitor through a resistor (loop inductance left out, so the bare peak is an upper
            figure).
        """
        return float(self.pack.full_v) / (self.resistance_mohm / 1000.0 + resistor_ohm)


def group_cells(
    pack: Pack,
    cells: MeasuredCells,
    minutes: Callable[[float], float],
) -> CellGroups:
    """Deal measured cells into the groups of a pack.

    Args:
        pack: one S and one P.
        cells: as measured, capacities among the figures.
        minutes: minutes of flight from the charge of the weakest group, to show what matching gains.

    Raises:
        InputError: too few good cells with a measured capacity.

    Source: `workbook.bench.cell_inspection` and `workbook.bench.matching`.

    Example:
        >>> import workbook as wb
        >>> cells = MeasuredCells(tuple("abcde"), capacity_ah=[5.0, 4.98, 4.99, 5.01, 4.3])
        >>> groups = group_cells(wb.Pack(wb.find_cell("Bittern"), 2, 2), cells, lambda ah: 3 * ah)
        >>> sorted(groups.names), groups.left_out[0][0]
        ([['a', 'c'], ['b', 'd']], 'e')
    """
    report = inspect_cells(cells, rated_capacity_ah=pack.cell.rated_capacity_ah)
    use = [i for i in report.usable if np.isfinite(cells.capacity_ah[i])]
    series, parallel = int(pack.series), int(pack.parallel)
    dealt = deal_usable(cells, use, series, parallel)
    if dealt is None:
        raise InputError(
            f"{len(use)} of {len(cells.name)} cells are good and have a capacity; {series} groups "
            f"of {parallel} need {series * parallel}. Measure or buy more.",
            "cell log",
        )
    return CellGroups(
        names=cells.names_of(dealt.groups),
        spare=[cells.name[i] for i in dealt.left_out],
        left_out=tuple(
            (v.name, " ".join(v.reasons) or "Its capacity was not measured.")
            for i, v in enumerate(report.cells)
            if i not in use
        ),
        matching=dealt,
        ways=three_ways(cells.capacity_ah[use], dealt, minutes),
        inspection=report,
    )


def plan_bench(
    pack: Pack,
    load: FlightLoad,
    settings: BenchSettings | None = None,
    handling: Handling | None = None,
    together: Together | None = None,
) -> BuildPlan:
    """Plan the making of one pack.

    The parts are made for the plan's highest steady and burst current with a margin
    (`workbook.bench.flight_load.part_currents`).

    Args:
        pack: one S and one P.
        load: what the flight asks of it.
        settings: what is at the bench; the defaults where left out.
        handling: what is left over steady flight; None where it is not known.
        together: all packs that fly together, where this is one of several; voltages and settings are theirs.

    Returns:
        The plan. What cannot be planned is None, and `faults` says why.

    Raises:
        InputError: settings that cannot be used.

    Source: each part by the module that it comes from.

    Example:
        >>> from workbook.files.cell_file import find_cell
        >>> pack = Pack(find_cell("Sedge"), 4, 2, 10.0, 55.0, 6.0)
        >>> load = FlightLoad(60.0, 4.0, 27.7, 150.0, 80.0, 3.1, 20.0, 3.41, 7.7, 114.0)
        >>> plan = plan_bench(pack, load)
        >>> plan.faults, plan.wire.chosen.awg, round(plan.joint_mohm, 1)
        ((), 16, 11.0)
    """
    settings = settings or BenchSettings()
    cell, series = pack.cell, int(pack.series)
    made_for = part_currents(pack, load)
    faults: list[str] = []
    cautions: list[str] = []
    charge = _charge_plan(pack, settings, faults)
    made = _current_path(pack, made_for, settings, faults)
    fuse, charge_fuse = _fuses(made, pack, load, made_for, charge)
    strip = settings.strip or (made.strips.strip if made.strips else STRIPS[0])
    if strip.material == "copper":
        cautions.append(COPPER_CAUTION)
    masses = _masses(made, settings, series)
    cautions += [str(notice) for notice in charge.notices if notice.where != "series"]
    flown = together or Together(pack, load, made_for)
    levels, devices = _voltages(flown, handling, faults, cautions)
    strip_name = f"{strip.material} {sides_text((strip.thickness_mm, strip.width_mm), 'mm')}"
    proof, acceptance = _proof_checks(pack, load, made, sum(line.mass_g for line in masses))
    label = PackLabel(
        pack,
        settings.pack_id or "________",
        load.end_v if proof else load.landing_v,
        min(made_for.continuous_a, float(pack.continuous_a)),
        min(made_for.burst_a, float(pack.burst_a)),
        settings.charge_c_rate,
        settings.builder,
    )
    return BuildPlan(
        **vars(made),
        fuse=fuse,
        charge_fuse=charge_fuse,
        pack=pack,
        load=load,
        settings=settings,
        made_for=made_for,
        balance=balance_lead(series, cell.charge_v, charge.storage_v, ARRIVAL_V),
        charge=charge,
        thresholds=levels,
        devices=devices,
        together=together,
        carried=transport(pack),
        masses=masses,
        weld_steps=weld_order(made.layout, ARRIVAL_V) if made.layout else (),
        proof=proof,
        acceptance=acceptance,
        **_work_checks(pack, made, charge, strip_name, alone=together is None),
        label=label,
        bill=bill_of_materials(
            pack,
            made,
            settings,
            strip_name=strip_name,
            balance_mm=_balance_mm(made.layout, settings, series),
            fuses={"bench": fuse, "charge": charge_fuse},
        ),
        groups=None,
        faults=tuple(faults),
        cautions=tuple(dict.fromkeys(cautions)),
        assumed=_assumptions(settings, strip, pack),
    )


def _work_checks(
    pack: Pack, made: CurrentPath, charge: ChargePlan, strip_name: str, *, alone: bool
) -> dict[str, Any]:
    """Checks of the work itself, by the plan's names for them."""
    cell, series, parallel = pack.cell, int(pack.series), int(pack.parallel)
    figures = {
        "series": series,
        "parallel": parallel,
        "cells": series * parallel,
        "tested": cells_to_test(series * parallel),
        "arrival_v": ARRIVAL_V,
        "cutoff_v": cell.cutoff_v,
        "strip": strip_name,
        "spots": SPOTS,
        "welds": made.strips.welds if made.strips else 2 * series * parallel * SPOTS,
        "cans_v": _cans_v(made.layout),
        "pack_v": series * ARRIVAL_V,
        "cell_v": min(cell.charge_v, MOST_CHARGE_V),
        "first_a": charge.first_a,
        "end_a": charge.end_a,
        "min_c": cell.min_charge_temperature_c,
        "max_c": cell.max_charge_temperature_c,
        "storage_v": charge.storage_v,
        "cycles": float(cycles_to_retire()),
        "pack_mohm": 1000.0 * _pack_ohm(pack, made.joint_mohm),
        "alone": alone,
    }
    sections = ("prepare", "cells", "welds", "leads", "first", "storage")
    steps = range(1, series + 1)
    running = (checks("running_voltage", step=step, cell_v=ARRIVAL_V)[0] for step in steps)
    work: dict[str, Any] = {name: checks(name, **figures) for name in sections}
    return {**work, "insulation": (*running, *checks("insulation"))}


def _current_path(
    pack: Pack, made_for: PartCurrents, settings: BenchSettings, faults: list[str]
) -> CurrentPath:
    """Layout, strips, leads and connector, each made for its current."""
    # the connector adds to the steady current
    steady_a, burst_a = made_for.steady_a, made_for.burst_a
    layout, strips = _layout_and_strips(pack, made_for.continuous_a, settings, faults)
    wire = choose_wire(made_for.continuous_a, burst_a, settings.lead_mm, burst_s=pack.cell.burst_s)
    connector = None
    if wire.chosen is None:
        faults.append(wire.why)
    else:
        connector = choose_connector(steady_a, burst_a, int(pack.series), wire.chosen.awg)
        if connector.chosen is None:
            faults.append(connector.why)
    return CurrentPath(made_for.continuous_a, burst_a, layout, strips, wire, connector)


def _fuses(
    made: CurrentPath, pack: Pack, load: FlightLoad, made_for: PartCurrents, charge: ChargePlan
) -> tuple[FuseChoice | None, FuseChoice | None]:
    """Fuse of the main lead in the proof discharge, and of the charge lead; none without leads."""
    if made.wire.chosen is None:
        return None, None
    full_v = float(pack.full_v)
    short_a = full_v / _pack_ohm(pack, made.joint_mohm)
    test_a = load.mean_a if np.isfinite(load.mean_a) and load.mean_a > 0 else made_for.steady_a
    return (
        choose_fuse(test_a, full_v, made.wire.chosen.awg, short_a),
        charge_lead_fuse(charge.current_a, full_v, short_a),
    )


def _charge_plan(pack: Pack, settings: BenchSettings, faults: list[str]) -> ChargePlan:
    """Charger settings; a charger for fewer cells is a fault."""
    series = int(pack.series)
    charger = settings.charger or Charger(NO_LIMIT, NO_LIMIT, series)
    if series > charger.max_series:
        faults.append(
            f"The charger balances {charger.max_series} cells in series and the pack has {series}: "
            "another charger is needed."
        )
    return charger.plan(pack, most_c=settings.charge_c_rate)


def _proof_checks(
    pack: Pack, load: FlightLoad, made: CurrentPath, mass_g: float
) -> tuple[tuple[CheckItem, ...], tuple[CheckItem, ...]]:
    """Proof discharge and acceptance; nothing where the flight cannot be computed."""
    if not all(np.isfinite(v) and v > 0 for v in (load.mean_a, load.end_v, load.used_ah)):
        return (), ()
    figures = {
        "series": int(pack.series),
        "current_a": load.mean_a,
        "landing_v": load.end_v,
        "charge_ah": load.used_ah,
        "minutes": load.minutes,
        "max_c": pack.cell.max_temperature_c,
        "pack_mohm": 1000.0 * _pack_ohm(pack, made.joint_mohm),
        "mass_g": mass_g or float(pack.mass_g),
    }
    return checks("proof", **figures), checks("acceptance", **figures)


def _cans_v(layout: Layout | None) -> float:
    """Most between cans that stand side by side; 0 where none do or nothing could be laid out."""
    near = contacts(layout) if layout else ()
    return max((contact.volts for contact in near if contact.key == "cans"), default=0.0)


def _pack_ohm(pack: Pack, joint_mohm: float) -> float:
    """Resistance of the pack at half charge, joints included."""
    cells = float(pack.cell.model.resistance_at(0.5)) * int(pack.series) / int(pack.parallel)
    return (cells + joint_mohm) / 1000.0


def _layout_and_strips(
    pack: Pack, current_a: float, settings: BenchSettings, faults: list[str]
) -> tuple[Layout | None, StripPlan | None]:
    """The first layout whose strips carry the current, with the first strip that will do."""
    tried = [settings.strip] if settings.strip else list(STRIPS)
    tried = [s for s in tried if s.width_mm <= 0.6 * pack.cell.diameter_mm] or tried[:1]

    def fittings(strip: Strip) -> Fittings:
        return Fittings(
            spacing_mm=settings.spacing_mm,
            holder_g=settings.holder_g,
            strip_width_mm=strip.width_mm,
            strip_thickness_mm=strip.thickness_mm,
            padding_mm=settings.padding_mm,
            tabs="each",
        )

    try:
        limits: dict[str, Any] = {"packings": settings.packings, "max_layers": settings.max_layers}
        best = layouts(pack, settings.bay, fittings(tried[0]), **limits, most=MOST_LAYOUTS)
    except InputError as fault:
        faults += [f"No layout could be drawn: {problem}" for problem in fault.problems]
        return None, None
    mohm = float(pack.cell.model.resistance_at(0.5))
    found: tuple[Layout, StripPlan] | None = None
    alike = [k for k in best if k.fits == best[0].fits]
    for grid, strip in product([k.grid for k in alike], tried):
        layout = lay_out(pack, grid, settings.bay, fittings(strip))
        plan = plan_strips(layout, current_a, strip, cell_mohm=mohm)
        found = found or (layout, plan)
        if plan.ok:
            found = (layout, plan)
            break
    assert found is not None
    if not found[0].fits:
        faults.append(f"The pack does not fit its bay. {found[0].lying.why}")
    if not found[1].ok:
        faults.append(found[1].why)
    return found


def _masses(made: CurrentPath, settings: BenchSettings, series: int) -> tuple[MassLine, ...]:
    """Cells, fittings, strips as cut, leads and connector; nothing without a layout."""
    layout, wire, connector = made.layout, made.wire, made.connector
    if layout is None or made.strips is None:
        return ()
    lines = [
        replace(line, mass_g=made.strips.mass_g) if line.name == "strips" else line
        for line in layout.masses
    ]
    if wire.chosen is not None:
        lines.append(MassLine("main leads", wire.chosen.mass_g))
    if connector is not None and connector.chosen is not None:
        lines.append(MassLine("connector, one half", connector.chosen.mass_g))
    per_mm = wire.row(BALANCE_AWG).mass_g / (2.0 * settings.lead_mm)
    balance_g = BALANCE_PLUG_G + per_mm * _balance_mm(layout, settings, series)
    lines.append(MassLine("balance lead and plug", balance_g))
    return tuple(line for line in lines if line.mass_g > 0)


def _balance_mm(layout: Layout | None, settings: BenchSettings, series: int) -> float:
    """All balance wires: out of the pack, and on the mean half its longest side along it."""
    along = 0.5 * max(layout.box_mm) if layout else 0.0
    return (series + 1) * (settings.balance_lead_mm + along)


def _voltages(
    flown: Together, handling: Handling | None, faults: list[str], cautions: list[str]
) -> tuple[Thresholds | None, DeviceSettings | None]:
    """Thresholds and what is set in the devices."""
    pack, load = flown.pack, flown.load
    if not (np.isfinite(load.steady_w) and load.steady_w > 0):
        faults.append("No alarm can be set: the power of the flight cannot be computed.")
        return None, None
    climb_w = load.climb_w if np.isfinite(load.climb_w) and load.climb_w > 0 else None
    try:
        levels = thresholds(
            pack,
            load.steady_w,
            landing_v=load.landing_v,
            land_depth_of_discharge=1.0 - load.reserve_pct / 100.0,
            climb_w=climb_w,
            home_share=load.home_share,
            resistance_factor=load.resistance_factor,
            capacity_factor=load.capacity_factor,
        )
        if not np.isfinite(levels.land.loaded_v):
            faults.append("No alarm can be set: the pack cannot give the power of the flight.")
            return None, None
        cautions += [f"{notice.what[0].upper()}{notice.what[1:]}" for notice in levels.notices]
        devices = device_settings(pack, levels, load, flown.made_for, handling)
    except InputError as fault:
        faults += [f"No alarm can be set: {problem}" for problem in fault.problems]
        return None, None
    cautions += devices.cautions
    return levels, devices


def _assumptions(settings: BenchSettings, strip: Strip, pack: Pack) -> tuple[str, ...]:
    """What the builder did not state."""
    assumed = []
    if settings.bay is None:
        assumed.append("No bay was stated: whether the pack fits is not checked.")
    if settings.strip is None:
        assumed.append(
            f"Strip {sides_text((strip.thickness_mm, strip.width_mm), 'mm')} {strip.material}: the first "
            "listed one that carries the current."
        )
    if settings.charger is None:
        watts = float(pack.full_v) * int(pack.parallel) * pack.cell.standard_charge_a
        assumed.append(
            f"No charger was stated: one that balances {int(pack.series)} cells and gives "
            f"{int(pack.parallel) * pack.cell.standard_charge_a:.1f} A and {watts:.0f} W is taken; a "
            "smaller one takes longer."
        )
    assumed.append(
        f"Main leads of {with_unit(settings.lead_mm, 'mm')}; air in the craft {with_unit(35.0, '°C')}, cell ends {with_unit(50.0, '°C')}, strips and "
        f"leads {with_unit(80.0, '°C')} at most; 5 A/mm² in nickel; a weld 0.1 mΩ (common practice, no source)."
    )
    return tuple(assumed)
