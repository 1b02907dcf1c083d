"""Checks and procedures in plain words with this pack's numbers: weld, charge, prove, accept, store.

Each function returns records, not prose pages: a sheet prints them with boxes to tick. The figures
come from whoever calculated them (charge plan, predicted discharge); this module adds the order, the
limits and the cautions. The cell maker's datasheet stands above every limit here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workbook.battery.pack import Pack
from workbook.battery.thresholds import AUTO_COUNT_V, misread_below_v
from workbook.errors import InputError, Problem

PRACTICE = "common practice, no source"
FAILSAFE_FLOOR_V = 2.8
"""A failsafe below this, per cell and under load, guards nothing. Common practice, no source."""


@dataclass(frozen=True)
class CheckItem:
    """One line to do and tick.

    Attributes:
        text: what to do or look at, in one or two sentences.
        expected: the figure or word to find; None where it is done or not done.
        unit: of the figure.
        low: lowest figure that passes; None for no limit.
        high: highest figure that passes; None for no limit.
        caution: what can hurt here; empty where nothing special.
        source: where the rule or figure comes from.
    """

    text: str
    expected: float | str | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    caution: str = ""
    source: str = PRACTICE

    def passes(self, found: float) -> bool:
        """Whether a measured figure lies within the limits.

        Example:
            >>> CheckItem("pack voltage", 14.4, "V", low=14.0, high=14.8).passes(13.9)
            False
        """
        return (self.low is None or found >= self.low) and (self.high is None or found <= self.high)


def _need(**figures: float) -> None:
    """Refuse figures that are not above zero, all in one error."""
    wrong = [
        Problem(f"{name} is {value:g}; a figure above 0 is needed.", name)
        for name, value in figures.items()
        if not value > 0
    ]
    if wrong:
        raise InputError(wrong)


def weld_checks(cells: int, strip_name: str, spots_per_end: int = 4) -> tuple[CheckItem, ...]:
    """Checks of the spot welds.

    Args:
        cells: cells in the pack.
        strip_name: the strip that is welded.
        spots_per_end: spots on each cell end, 4 to 6 usual.

    Example:
        >>> weld_checks(8, "nickel 0.15 x 8 mm")[2].expected
        64
    """
    _need(cells=cells, spots_per_end=spots_per_end)
    return (
        CheckItem(
            f"Weld two scraps of {strip_name} and peel them apart before every session: the strip "
            "must tear and leave nuggets, not lift clean.",
            "torn, with nuggets",
        ),
        CheckItem(
            "Before welding an end, see its insulating ring in place and all other ends covered.",
            "ring seen",
            caution="The whole can and its shoulder are minus. Strip that touches the shoulder of the "
            "plus end shorts the cell at once. Rings and watch off, eyes covered, sand or a metal bin "
            "outside within reach.",
        ),
        CheckItem("Count the weld spots.", 2 * cells * spots_per_end, "spots"),
        CheckItem("Lift each strip end with a wooden pick: nothing may move.", "firm"),
        CheckItem(
            "Feel each end some seconds after its weld.",
            "barely warm",
            caution="A hole, a hiss or a smell: carry the cell outside and recycle it. Never solder "
            "onto a cell.",
        ),
        CheckItem("Strip ends and corners are round and lie flat.", "seen"),
    )


def insulation_checks(
    series: int, cell_v: float | Sequence[float], tolerance_v: float = 0.02
) -> tuple[CheckItem, ...]:
    """Checks of insulation and polarity, with the running voltage after each series step.

    Args:
        series: S.
        cell_v: voltage of the groups now, one figure or one per group from minus to plus.
        tolerance_v: for each group.

    Example:
        >>> [round(i.expected, 2) for i in insulation_checks(3, 3.6) if i.unit == "V"][:3]
        [3.6, 7.2, 10.8]
    """
    volts = np.asarray(cell_v, float).ravel()
    if volts.size not in (1, series) or not np.all(volts > 0):
        raise InputError(
            f"cell_v holds {volts.tolist()}; one voltage above 0, or {series} of them, is needed."
        )
    total = np.cumsum(np.broadcast_to(volts, (series,)))
    steps = [
        CheckItem(
            f"After series step {k}: minus of group 1 to plus of group {k}.",
            float(v),
            "V",
            low=float(v) - tolerance_v * k,
            high=float(v) + tolerance_v * k,
            caution="A figure that is one cell short, or zero, means a group is turned or missed: "
            "stop, do not add the next strip."
            if k == 1
            else "",
            source="voltages in series add; tolerance by common practice",
        )
        for k, v in enumerate(total, start=1)
    ]
    pack_v = float(total[-1])
    return (
        *steps,
        CheckItem(
            "Neighbouring cans of different groups have a barrier of fish paper or polyimide.",
            "seen",
            caution=f"Between two cans there can be up to {pack_v:.0f} V.",
        ),
        CheckItem(
            "No strip, tab or wire lies over a can's edge without insulation under it.", "seen"
        ),
        CheckItem(
            "From each strip to any bare outer metal of the pack or its tray: meter on ohm.",
            "no reading",
            caution="Set the meter back to volt before it touches the pack again. A meter left in "
            "ampere is a short.",
        ),
        CheckItem(
            "Main leads: solder one, insulate it wholly, then the other.",
            "done",
            caution="Both leads bare together will weld themselves and burn you.",
        ),
        CheckItem("Polarity at the main connector, by meter.", pack_v, "V", low=0.0),
    )


def first_charge(
    series: int,
    first_a: float,
    end_a: float,
    cell_v: float = 4.2,
    *,
    minutes: float | None = None,
    charger_label: str = "Li-ion, 4.20 V a cell, constant current then constant voltage",
    min_c: float = 0.0,
    max_c: float = 45.0,
) -> tuple[CheckItem, ...]:
    """The first charge, step by step.

    Args:
        series: S.
        first_a: charging current of the first charge, for the whole pack (0.2 to 0.3 It).
        end_a: current at which it ends.
        cell_v: charge voltage of one cell.
        minutes: predicted time, if known.
        charger_label: mode to choose on the charger, in words.
        min_c: lowest cell temperature for charging, from the datasheet.
        max_c: highest.

    Raises:
        InputError: a figure not above zero, or a charge voltage above 4.20 V.

    Example:
        >>> [item.expected for item in first_charge(4, 2.0, 0.25)][1:4]
        [16.8, 2.0, 0.25]
    """
    _need(series=series, first_a=first_a, end_a=end_a, cell_v=cell_v)
    if cell_v > 4.2 + 1e-9:
        raise InputError(
            f"cell_v is {cell_v:g} V; at most 4.20 V is charged into these cells. More can burn them."
        )
    done = "end of charge" if minutes is None else f"end of charge, about {minutes:.0f} min"
    return (
        CheckItem(
            "Charger mode, with balancing on.",
            charger_label,
            caution="Never a mode for 4.35 V cells. A polymer mode is right only if its cell voltage "
            "reads 4.20 V.",
        ),
        CheckItem("Full voltage that the charger shows for the pack.", series * cell_v, "V"),
        CheckItem("Current of the first charge.", first_a, "A", high=first_a),
        CheckItem("Current at which the charge ends.", end_a, "A"),
        CheckItem(
            "Cell temperature before it begins.",
            "within limits",
            "C",
            low=min_c,
            high=max_c,
            caution=f"Below {min_c:g} C charging plates lithium inside the cell: damage that is not "
            "seen and does not heal.",
            source="the cell's datasheet",
        ),
        CheckItem(
            "Place: outdoors or on stone, nothing that burns around it, smoke alarm, a person "
            "present all the time, charge lead fused.",
            "seen",
            caution="A cell that vents gives burning, poisonous gas. If it hisses or swells: leave, "
            "call the fire service. Never sleep or go out while it charges.",
        ),
        CheckItem(
            "Every 10 to 15 minutes: highest group voltage.",
            cell_v,
            "V",
            high=4.25,
            caution="Above 4.25 V in any group: stop, and find out why before going on.",
        ),
        CheckItem("Every 10 to 15 minutes: hottest cell by hand or probe.", None, "C", high=max_c),
        CheckItem(f"At the {done}: spread between groups.", 0.0, "mV", high=30.0),
        CheckItem(
            "One hour later, at rest: spread between groups, and again next day.",
            0.0,
            "mV",
            high=30.0,
        ),
    )


def proof_discharge(
    series: int,
    current_a: float,
    landing_cell_v: float,
    *,
    predicted_ah: float,
    predicted_minutes: float,
    max_temperature_c: float = 60.0,
) -> tuple[CheckItem, ...]:
    """The proof on the ground: full pack, flight current, down to the landing voltage.

    Args:
        series: S.
        current_a: the flight's mean current, for the whole pack.
        landing_cell_v: cell voltage under load at which it ends.
        predicted_ah: charge predicted to that voltage.
        predicted_minutes: time predicted.
        max_temperature_c: the cell's limit; the test is stopped 5 C below it.

    Example:
        >>> float(
        ...     proof_discharge(4, 20.0, 3.2, predicted_ah=8.1, predicted_minutes=24.3)[1].expected
        ... )
        12.8
    """
    _need(
        series=series,
        current_a=current_a,
        landing_cell_v=landing_cell_v,
        predicted_ah=predicted_ah,
        predicted_minutes=predicted_minutes,
    )
    return (
        CheckItem(
            "Load on the full pack: a bench load, or the craft tied down by someone who knows how.",
            current_a,
            "A",
            caution="Fuse the test lead. Propellers on a tied-down craft can maim: nobody in their "
            "plane, a person at the switch.",
        ),
        CheckItem("End the test when the pack under load reaches", series * landing_cell_v, "V"),
        CheckItem("or when any one group reaches", landing_cell_v, "V"),
        CheckItem(
            "or when the hottest cell reaches",
            max_temperature_c - 5.0,
            "C",
            caution="Stop also at a smell, a swelling, a hot weld or a lead too hot to hold.",
        ),
        CheckItem(
            "Charge delivered.",
            predicted_ah,
            "Ah",
            low=0.96 * predicted_ah,
            source="the prediction",
        ),
        CheckItem(
            "Time taken.",
            predicted_minutes,
            "min",
            low=0.9 * predicted_minutes,
            source="the prediction",
        ),
        CheckItem("Voltage of every group in the last minute: spread.", 0.0, "mV", high=80.0),
        CheckItem(
            "Right after the end, feel every weld and strip: one hotter than the rest is a bad joint.",
            "all alike",
        ),
        CheckItem(
            "After an hour's rest: voltage of every group, written down as the baseline.", None, "V"
        ),
        CheckItem(
            "Step the load (off, on) at half charge and note the drop: resistance, pack and groups.",
            None,
            "mohm",
        ),
    )


@dataclass(frozen=True)
class AcceptanceLimits:
    """How far a finished pack may be from its plan. Common practice, no source.

    Attributes:
        spread_full_mv: between groups, fully charged.
        spread_empty_mv: between groups, in the last minute under load.
        resistance_pct: above the predicted resistance.
        mass_pct: either side of the predicted mass.
        capacity_pct: below the predicted charge.
        temperature_c: hottest cell.
    """

    spread_full_mv: float = 30.0
    spread_empty_mv: float = 80.0
    resistance_pct: float = 20.0
    mass_pct: float = 3.0
    capacity_pct: float = 4.0
    temperature_c: float = 55.0


@dataclass(frozen=True)
class AcceptanceReport:
    """The verdict on a finished pack.

    Attributes:
        items: one line a limit, with what was expected.
        found: what was measured, in the same order; None where it was not.
        passed: the same order; None where not measured.
        accepted: True, False, or None while something is not measured and nothing failed.
        verdict: in words.
    """

    items: tuple[CheckItem, ...]
    found: tuple[float | None, ...]
    passed: tuple[bool | None, ...]
    accepted: bool | None
    verdict: str


def accept(
    *,
    predicted_mohm: float,
    predicted_mass_g: float,
    predicted_ah: float,
    full_group_v: Sequence[float] | None = None,
    empty_group_v: Sequence[float] | None = None,
    resistance_mohm: float | None = None,
    mass_g: float | None = None,
    capacity_ah: float | None = None,
    hottest_c: float | None = None,
    limits: AcceptanceLimits | None = None,
) -> AcceptanceReport:
    """Judge a finished pack against its plan.

    Args:
        predicted_mohm: resistance of the pack, cells and joints, direct current.
        predicted_mass_g: mass of the pack.
        predicted_ah: charge to the landing voltage at the test current.
        full_group_v: group voltages, full, at rest.
        empty_group_v: group voltages in the last minute of the test discharge.
        resistance_mohm: measured by a load step.
        mass_g: on the scale.
        capacity_ah: delivered in the test discharge.
        hottest_c: hottest cell in the test discharge.
        limits: other limits than the usual.

    Raises:
        InputError: a prediction that is not above zero.

    Source: limits by common practice, no source.

    Example:
        >>> report = accept(
        ...     predicted_mohm=60,
        ...     predicted_mass_g=620,
        ...     predicted_ah=8.1,
        ...     full_group_v=[4.19, 4.20, 4.15, 4.20],
        ...     mass_g=628,
        ... )
        >>> report.accepted
        False
        >>> print(report.verdict)
        Not accepted: spread between groups, full, is 50 mV; at most 30 mV passes. ...
    """
    _need(
        predicted_mohm=predicted_mohm,
        predicted_mass_g=predicted_mass_g,
        predicted_ah=predicted_ah,
    )
    limit = limits or AcceptanceLimits()

    def spread_mv(volts: Sequence[float] | None) -> float | None:
        return None if volts is None else 1000.0 * float(np.ptp(np.asarray(volts, float)))

    rows: tuple[tuple[CheckItem, float | None], ...] = (
        (
            CheckItem("spread between groups, full", 0.0, "mV", high=limit.spread_full_mv),
            spread_mv(full_group_v),
        ),
        (
            CheckItem("spread between groups, nearly empty", 0.0, "mV", high=limit.spread_empty_mv),
            spread_mv(empty_group_v),
        ),
        (
            CheckItem(
                "resistance of the pack",
                predicted_mohm,
                "mohm",
                high=predicted_mohm * (1.0 + limit.resistance_pct / 100.0),
            ),
            resistance_mohm,
        ),
        (
            CheckItem(
                "mass",
                predicted_mass_g,
                "g",
                low=predicted_mass_g * (1.0 - limit.mass_pct / 100.0),
                high=predicted_mass_g * (1.0 + limit.mass_pct / 100.0),
            ),
            mass_g,
        ),
        (
            CheckItem(
                "charge delivered",
                predicted_ah,
                "Ah",
                low=predicted_ah * (1.0 - limit.capacity_pct / 100.0),
            ),
            capacity_ah,
        ),
        (CheckItem("hottest cell", None, "C", high=limit.temperature_c), hottest_c),
    )
    items = tuple(item for item, _ in rows)
    found = tuple(value for _, value in rows)
    # a millivolt's last bit must not fail a pack
    passed = tuple(None if value is None else item.passes(round(value, 6)) for item, value in rows)
    faults = [
        f"{item.text}, is {value:.4g} {item.unit}; {_limit_words(item)} passes."
        if "," in item.text
        else f"{item.text} is {value:.4g} {item.unit}; {_limit_words(item)} passes."
        for item, value, ok in zip(items, found, passed, strict=True)
        if ok is False and value is not None
    ]
    missing = [item.text for item, value in rows if value is None]
    if faults:
        accepted: bool | None = False
        verdict = (
            "Not accepted: " + " Also: ".join(faults) + " Do not fly it; find the cause first."
        )
    elif missing:
        accepted = None
        verdict = "Nothing failed so far; still to measure: " + "; ".join(missing) + "."
    else:
        accepted = True
        verdict = "Accepted: every figure is within its limit. Keep this sheet as the baseline."
    return AcceptanceReport(items, found, passed, accepted, verdict)


def _limit_words(item: CheckItem) -> str:
    if item.low is not None and item.high is not None:
        return f"{item.low:.4g} to {item.high:.4g} {item.unit}"
    if item.high is not None:
        return f"at most {item.high:.4g} {item.unit}"
    return f"at least {item.low:.4g} {item.unit}"


def storage_steps(series: int, storage_cell_v: float = 3.7) -> tuple[CheckItem, ...]:
    """How to store the pack, and when to retire it.

    Args:
        series: S.
        storage_cell_v: cell voltage at rest for storing, 3.6 to 3.7 V (30 to 50 % charge) usual.

    Example:
        >>> float(storage_steps(6)[0].expected)
        22.2
    """
    _need(series=series, storage_cell_v=storage_cell_v)
    return (
        CheckItem(
            "Bring the pack to storage voltage within a day or two of flying.",
            round(series * storage_cell_v, 3),
            "V",
            low=series * 3.5,
            high=series * 3.85,
        ),
        CheckItem("Cover the main connector and the balance plug.", "covered"),
        CheckItem(
            "Keep it cool and dry, in a vented metal box, away from anything that burns.",
            "15 to 25",
            "C",
            caution="Never in a sealed box: gas must get out. Never full for days, never empty.",
        ),
        CheckItem("Once a month: pack voltage has not fallen by more than", series * 0.02, "V"),
        CheckItem(
            "After a crash or a drop: outdoors on bare ground, watched for an hour; a dented or wet "
            "pack does not fly again.",
            "looked at",
            caution="A dented cell can burn hours later.",
        ),
        CheckItem(
            "Retire it at 80 % of its first capacity, at 1.5 to 2 times its first resistance, or when "
            "the same group drifts again and again.",
            "compared",
        ),
        CheckItem("Dispose: discharged, plugs taped, at a battery collection point.", "done"),
    )


@dataclass(frozen=True)
class SettingsSheet:
    """What to set on autopilot, radio and speed controller, to fill in and tick.

    Attributes:
        autopilot: settings of the autopilot.
        radio: settings of the radio and its telemetry.
        speed_controller: settings of the speed controllers.
        cautions: what is wrong or risky with these figures, in words; empty when nothing is.
    """

    autopilot: tuple[CheckItem, ...]
    radio: tuple[CheckItem, ...]
    speed_controller: tuple[CheckItem, ...]
    cautions: tuple[str, ...]


def settings_sheet(
    series: int,
    capacity_ah: float,
    *,
    full_cell_v: float = 4.2,
    low_cell_v: float = 3.3,
    critical_cell_v: float = 3.1,
    arming_cell_v: float = 4.0,
    reserve_pct: float = 20.0,
    current_limit_a: float | None = None,
    lowest_loaded_cell_v: float | None = None,
    delay_s: float = 10.0,
) -> SettingsSheet:
    """Alarm, failsafe and limit settings with this pack's numbers.

    Names differ between autopilots; what each does is said, so that it can be found.

    Args:
        series: S.
        capacity_ah: rated capacity of the pack.
        full_cell_v: charge voltage of one cell.
        low_cell_v: under load: warn, or return.
        critical_cell_v: under load: land here.
        arming_cell_v: at rest, below which the craft should not arm.
        reserve_pct: charge left when the charge counter says land.
        current_limit_a: continuous current of the pack, if a limit is to be set.
        lowest_loaded_cell_v: lowest cell voltage predicted in a climb while charge is still above
            the reserve; tells whether the alarm would come too early.
        delay_s: how long a voltage must stay below before it acts.

    Raises:
        InputError: figures out of order or not above zero.

    Source: common practice, no source.

    Example:
        >>> sheet = settings_sheet(6, 10.0)
        >>> [(item.expected, item.unit) for item in sheet.autopilot[:4]]
        [(6, 'cells'), (10000.0, 'mAh'), (19.8, 'V'), (18.6, 'V')]
        >>> settings_sheet(6, 10.0, low_cell_v=3.0, critical_cell_v=2.6).cautions[0]
        'Stop: the critical voltage, 2.60 V a cell, is below 2.8 V: ...'
    """
    _need(series=series, capacity_ah=capacity_ah, critical_cell_v=critical_cell_v, delay_s=delay_s)
    wrong = []
    if not critical_cell_v < low_cell_v < full_cell_v:
        wrong.append(
            Problem(
                f"critical {critical_cell_v:g}, low {low_cell_v:g} and full {full_cell_v:g} V a cell "
                "are given; they must rise in this order."
            )
        )
    if not 0.0 <= reserve_pct < 100.0:
        wrong.append(Problem(f"reserve_pct is {reserve_pct:g}; 0 to below 100 is needed."))
    if wrong:
        raise InputError(wrong)

    cautions = []
    if critical_cell_v < FAILSAFE_FLOOR_V:
        cautions.append(
            f"Stop: the critical voltage, {critical_cell_v:.2f} V a cell, is below "
            f"{FAILSAFE_FLOOR_V:g} V: by then the voltage falls faster than the craft can land."
        )
    if lowest_loaded_cell_v is not None and lowest_loaded_cell_v < low_cell_v:
        cautions.append(
            f"A climb can pull the cells to {lowest_loaded_cell_v:.2f} V before the reserve is "
            f"reached; the low alarm at {low_cell_v:.2f} V would come early. The delay of "
            f"{delay_s:g} s helps only against shorter climbs."
        )
    if arming_cell_v < low_cell_v + 0.3:
        cautions.append(
            f"Arming is allowed at {arming_cell_v:.2f} V a cell at rest: a nearly empty pack would "
            "pass. About 4.0 V asks for a charged one."
        )
    reserve_mah = 10.0 * capacity_ah * reserve_pct
    if reserve_mah == 0.0:
        cautions.append("No reserve is set: the charge counter would call for landing when empty.")

    count = CheckItem(
        "Cell count: fixed by hand, never found by the device.",
        series,
        "cells",
        caution=f"Left to itself it may count {series - 1} below "
        f"{misread_below_v(series):.2f} V a cell, and every threshold is then wrong."
        if series > 1
        else "",
        source=f"division by {AUTO_COUNT_V:g} V: common practice, no source",
    )
    autopilot = [
        count,
        CheckItem("Pack capacity.", 1000.0 * capacity_ah, "mAh"),
        CheckItem(
            f"Low voltage, pack, after {delay_s:g} s: warn, or return.",
            round(series * low_cell_v, 3),
            "V",
            caution="Say whether it compares the voltage under load or one corrected for sag: they "
            "differ by 0.1 to 0.4 V a cell. This figure is under load. A default may be made for "
            "another cell count, or be off.",
        ),
        CheckItem(
            f"Critical voltage, pack, after {delay_s:g} s: land here.",
            round(series * critical_cell_v, 3),
            "V",
        ),
        CheckItem(
            f"Charge left at which it returns or lands ({reserve_pct:g} %), whichever comes first.",
            round(reserve_mah, 1),
            "mAh",
            caution="It counts from a full pack: a half-charged one is not seen by it.",
        ),
        CheckItem("Least voltage to arm, at rest.", round(series * arming_cell_v, 3), "V"),
        CheckItem("Throttle compensated for voltage: from", round(series * full_cell_v, 3), "V"),
        CheckItem("down to", round(series * critical_cell_v, 3), "V"),
        CheckItem(
            "Voltage shown against a meter at the connector; current against the charge put back.",
            "within 1 % and 3 %",
            caution="An uncalibrated voltage moves every threshold.",
        ),
    ]
    if current_limit_a is not None:
        autopilot.append(
            CheckItem(
                "Current limit by throttle cap, if the autopilot has one.",
                current_limit_a,
                "A",
                caution="A cap guards the pack and takes climb away: decide it on purpose, and try a "
                "full climb at height with it.",
            )
        )
    return SettingsSheet(
        autopilot=tuple(autopilot),
        radio=(
            CheckItem("Cell count on the radio or screen: fixed by hand.", series, "cells"),
            CheckItem("Voice or buzzer at, per cell.", low_cell_v, "V"),
            CheckItem("Second alarm at, per cell.", critical_cell_v, "V"),
            CheckItem("Timer, from the plan less the reserve: set it as well.", None, "min"),
        ),
        speed_controller=(
            CheckItem(
                "Low-voltage cut-off: off in a multirotor; lowest step, count fixed, if it has no off.",
                "off",
                caution="Defaults for polymer packs, 3.2 to 3.4 V a cell, stop motors in flight with "
                "much charge left.",
            ),
            CheckItem("Rated for the full pack.", round(series * full_cell_v, 3), "V"),
        ),
        cautions=tuple(cautions),
    )


def designation(
    diameter_mm: float, height_mm: float, series: int = 1, parallel: int = 1, letters: str = "INR"
) -> str:
    """Cell or battery designation: letters, size rounded up to whole mm, S before, P after.

    Args:
        diameter_mm: largest diameter on the cell's sheet.
        height_mm: largest height.
        series: S.
        parallel: P.
        letters: I (lithium ion), N, C or M (nickel, cobalt, manganese), R (round).

    Source: IEC 61960-3, from memory.

    Example:
        >>> designation(18.4, 65.2, 4, 2)
        '4INR19/66-2'
    """
    before = str(series) if series > 1 else ""
    after = f"-{parallel}" if parallel > 1 else ""
    size = f"{int(np.ceil(diameter_mm - 1e-9))}/{int(np.ceil(height_mm - 1e-9))}"
    return f"{before}{letters}{size}{after}"


@dataclass(frozen=True)
class PackLabel:
    """What is written on the pack.

    Attributes:
        pack_id: the builder's mark.
        series: S.
        parallel: P.
        designation: by IEC 61960-3.
        capacity_ah: rated.
        energy_wh: nominal voltage x rated capacity.
        nominal_v: of the pack.
        full_v: of the pack.
        landing_v: of the pack, under load.
        continuous_a: of the pack.
        burst_a: of the pack.
        burst_s: how long.
        charge_a: highest charging current, of the pack.
        built: date, as the builder writes it.
        builder: name or mark.
    """

    pack_id: str
    series: int
    parallel: int
    designation: str
    capacity_ah: float
    energy_wh: float
    nominal_v: float
    full_v: float
    landing_v: float
    continuous_a: float
    burst_a: float
    burst_s: float
    charge_a: float
    built: str = ""
    builder: str = ""

    def lines(self) -> tuple[str, ...]:
        """The label line by line.

        Example:
            >>> label = PackLabel(
            ...     "H-1", 4, 2, "4INR22/71-2", 10.0, 144.0, 14.4, 16.8, 12.8, 40.0, 60.0, 10.0, 5.0
            ... )
            >>> print(label.lines()[1])
            10 Ah   144 Wh   14.4 V nominal
        """
        return (
            f"{self.pack_id}   {self.series}S{self.parallel}P   lithium ion   {self.designation}",
            f"{self.capacity_ah:g} Ah   {self.energy_wh:.4g} Wh   {self.nominal_v:g} V nominal",
            f"full {self.full_v:.4g} V   land at {self.landing_v:.4g} V under load",
            f"continuous {self.continuous_a:g} A   burst {self.burst_a:g} A for {self.burst_s:g} s",
            f"charge {self.full_v:.4g} V, at most {self.charge_a:g} A, balanced, attended, above 0 C",
            f"built {self.built or '________'}   by {self.builder or '________'}",
            "Home-built, no UN 38.3 test. Do not short, crush, wet or heat. Dented: do not use.",
        )


def pack_label(
    pack: Pack,
    pack_id: str,
    landing_cell_v: float,
    *,
    built: str = "",
    builder: str = "",
    letters: str = "INR",
) -> PackLabel:
    """The label of a pack.

    Args:
        pack: one pack (S and P single figures).
        pack_id: the builder's mark.
        landing_cell_v: cell voltage under load at which to land.
        built: date.
        builder: name or mark.
        letters: see `designation`.

    Source: figures of the pack; designation by IEC 61960-3, from memory.
    """
    series, parallel = int(pack.series), int(pack.parallel)
    return PackLabel(
        pack_id=pack_id,
        series=series,
        parallel=parallel,
        designation=designation(
            pack.cell.diameter_mm, pack.cell.height_mm, series, parallel, letters
        ),
        capacity_ah=float(pack.capacity_ah),
        energy_wh=float(pack.energy_wh),
        nominal_v=float(pack.nominal_v),
        full_v=float(pack.full_v),
        landing_v=series * landing_cell_v,
        continuous_a=float(pack.continuous_a),
        burst_a=float(pack.burst_a),
        burst_s=pack.cell.burst_s,
        charge_a=parallel * pack.cell.max_charge_a,
        built=built,
        builder=builder,
    )
