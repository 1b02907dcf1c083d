"""A sizing result as plain text: tables that a person can read in a terminal."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from workbook.numbers import Number
from workbook.quantities import RESULTS, results
from workbook.sizing.limits import Limit, unchecked_texts
from workbook.sizing.origins import assumed_names
from workbook.sizing.pair import packs_name
from workbook.sizing.size import SizingResult
from workbook.units import axis_text, number_in, shown_unit, with_unit

if TYPE_CHECKING:
    from workbook.sizing.compare import TableRow
    from workbook.sizing.mission import MissionRun, PhaseRun

NOT_A_CERTIFICATE = (
    "A computed plan, not a certificate: the cell maker's datasheet, local rules and qualified "
    "help come first."
)

DO_NOT = "do not build or fly this design as it stands."

WORDS = {
    "holds": "HOLDS",
    "close": "HOLDS, BUT CLOSE",
    "broken": "DOES NOT HOLD",
    "unsafe": "UNSAFE",
    "not yet": "NOT YET",
    "not checked": "NOT CHECKED",
    "doubtful": "DOUBTFUL",
    "holds as far as checked": "HOLDS AS FAR AS CHECKED",
}
"""The word of each verdict, on a limit or on a whole design."""

LOOKS = {
    "unsafe": "broken",
    "not yet": "broken",
    "not checked": "unchecked",
    "doubtful": "unchecked",
    "holds as far as checked": "close",
}
"""How a verdict looks where it is not by its own name."""

SIGNS = {"holds": "✓", "close": "△", "broken": "✕", "unchecked": "?", "": ""}
"""Sign of each verdict: the word is always beside it or in the cell's title."""


def sign_of(verdict: str) -> str:
    """The sign of a verdict on a design or a limit.

    Example:
        >>> sign_of("unsafe"), sign_of("holds")
        ('✕', '✓')
    """
    return SIGNS[LOOKS.get(verdict, verdict)]


MORE = "Every figure, limit and note: --all; how each was worked out: --working."

NOTES_FIRST = ("assumed", "cold", "mission", "two packs")
"""Topics of the notes that are shown with a short answer too."""


def result_text(key: str, value: Number | str | None, *, bare: bool = False) -> str:
    """A result by its key in the table of quantities, rounded to its safe side; a dash where there is none.

    Args:
        key: of `workbook.quantities.RESULTS`, which says what is better of it, more or less.
        value: a single figure.
        bare: whether its unit is left out.

    Example:
        >>> result_text("endurance_min", 12.39), result_text("cruise_power_w", 60.01, bare=True)
        ('12.3 min', '60.1')
    """
    if value is None or isinstance(value, str):
        return value or "-"
    return RESULTS[key].number(value) if bare else RESULTS[key].text(value)


def verdict_text(result: SizingResult) -> str:
    """The verdict in one or two sentences, its word first."""
    if result.stops:
        return f"UNSAFE: {DO_NOT} " + " ".join(result.stops)
    if result.broken:
        return "NOT YET: " + " ".join(limit.broken_text for limit in result.broken)
    if result.unsure:
        return f"NOT YET: {result.unsure}"
    if result.verdict == "not checked":
        texts = unchecked_texts(limit for limit in result.not_checked if limit.concern != "part")
        return "NOT CHECKED: " + " ".join(text.removeprefix("not checked: ") for text in texts)
    if result.verdict == "doubtful":
        return "DOUBTFUL: " + "\n".join(doubt.line for doubt in result.open_doubts)
    assumed = assumed_names(result.design)
    guessed = (
        f" Assumed, not measured: {', '.join(assumed)}. Even if all are off the wrong way, no limit breaks."
        if assumed
        else ""
    )
    return _holding_text(result) + guessed


def _holding_text(result: SizingResult) -> str:
    """The verdict of a design that holds."""
    close = [limit.name for limit in result.limits if limit.verdict == "close"]
    close_text = f"less than 10 % margin on {'; '.join(close)}" if close else ""
    if result.not_checked:
        names = "; ".join(limit.name for limit in result.not_checked)
        kept = close_text or "every limit that could be checked is kept with at least 10 % left"
        return f"HOLDS as far as checked: {kept}. Not checked: {names}."
    if close_text:
        return f"HOLDS, but close: {close_text}."
    return "HOLDS: every limit is kept with at least 10 % left."


def verdict_sentence(result: SizingResult) -> str:
    """The verdict where its word is already beside it."""
    text = _VERDICT_WORD.sub("", verdict_text(result))
    return text[:1].upper() + text[1:]


_VERDICT_WORD = re.compile(
    r"^(UNSAFE|NOT YET|NOT CHECKED|DOUBTFUL|HOLDS|HOLDS as far as checked|HOLDS, but close): "
)


def unchecked_lines(result: SizingResult) -> list[str]:
    """What could not be checked, one line a reason: every limit that has it."""
    return list(unchecked_texts(result.not_checked))


def doubt_lines(result: SizingResult) -> list[str]:
    """Every doubt, open or answered, one line each."""
    return [doubt.line for doubt in result.doubts]


def state_lines(result: SizingResult) -> list[str]:
    """What the pack lets the craft do, full, half way and at the end of the flight."""
    states = result.state_figures()
    lines = [f"{'through the discharge':<42}" + "".join(f"{name:>14}" for name in states)]
    for quantity in results(result.craft_type.state_keys):
        texts = (result_text(quantity.key, figures[quantity.key]) for figures in states.values())
        lines.append(f"{quantity.label:<42}" + "".join(f"{text:>14}" for text in texts))
    lines.append(f"Burst current is for {result.design.pack.cell.burst_s:g} s at most.")
    return lines


PHASE_COLUMNS: tuple[tuple[str, str, int, int, Callable[[PhaseRun], float]], ...] = (
    ("from", "", 7, 1, lambda p: p.start_min),
    ("to", "min", 7, 1, lambda p: p.end_min),
    ("power", "W", 8, 0, lambda p: p.power_w),
    ("cell", "A", 7, 2, lambda p: p.cell_a),
    ("cell", "V", 7, 2, lambda p: p.lowest_v),
    ("used", "%", 6, 0, lambda p: 100.0 * p.end_depth_of_discharge),
    ("cell", "°C", 6, 0, lambda p: p.cell_c),
)
"""Heading, unit, width, decimals and figure of each column of a mission."""


def mission_lines(mission: MissionRun) -> list[str]:
    """The mission as a table, one line a phase."""
    if mission.completes:
        verdict = f"completed with {mission.charge_left_pct:.0f} % of the charge left"
    else:
        verdict = (
            f"NOT completed: {mission.ends_by} in {mission.ends_in}, minute {mission.ends_min:.1f}"
        )
    head = "".join(
        f"{heading:>{width}} {shown_unit(unit).name}".rstrip()
        for heading, unit, width, _, _ in PHASE_COLUMNS
    )
    lines = [
        f"Mission of {mission.total_min:.1f} min, {mission.energy_wh:.1f} Wh: {verdict}.",
        f"{'phase':<26}{head}",
    ]
    for phase in mission.phases:
        cells = (
            f"{number_in(value(phase), unit, decimals):>{width}} {shown_unit(unit).name}".rstrip()
            for _, unit, width, decimals, value in PHASE_COLUMNS
        )
        lines.append(f"{phase.label:<26}{''.join(cells)}")
        if phase.survey is not None:
            field = phase.survey
            lines.append(
                f"  {field.legs} legs, {with_unit(field.distance_m / 1000, 'km', 1)}, {field.area_m2 / 10_000:.1f} ha"
            )
        if not math.isnan(phase.best_range_m_s):
            lines.append(
                f"  at {with_unit(phase.airspeed_m_s, 'm/s', 1)}; longest at {with_unit(phase.best_endurance_m_s, 'm/s', 1)}, "
                f"furthest at {with_unit(phase.best_range_m_s, 'm/s', 1)}"
            )
    return lines


def figure_lines(result: SizingResult, *, whole: bool = True) -> list[str]:
    """The figures of the flight, all or the large ones, beside those of the reference pack where there is one."""
    columns = {"this pack": (16, result.figures())}
    if result.today is not None:
        columns["pack of today"] = (18, result.today.figures())
    lines = [f"{'':<42}" + "".join(f"{name:>{width}}" for name, (width, _) in columns.items())]
    craft_type = result.craft_type
    large = (*craft_type.large_keys, *craft_type.short_keys)
    for quantity in results(key for key in craft_type.keys if whole or key in large):
        cells = (
            f"{result_text(quantity.key, figures[quantity.key]):>{width}}"
            for width, figures in columns.values()
        )
        lines.append(f"{quantity.label:<42}{''.join(cells)}")
    lines.append(f"{'the flight ends by':<42}{result.figures()['ends_by']:>16}")
    return lines


def limit_lines(limits: Sequence[Limit]) -> list[str]:
    """The limits as a table, one line each."""
    lines = [f"{'limit':<58}{'demand':>10}{'limit':>10}  {'':<4}{'margin':>8}  verdict"]
    for limit in limits:
        demand, most = limit.shown
        lines.append(
            f"{limit.name:<58}{demand:>10}{most:>10}  {limit.shown_unit:<4}{limit.margin_shown:>8}  {limit.verdict}"
        )
    return lines


def result_report(
    result: SizingResult, *, whole: bool = True, with_working: bool = False, remedy: str = ""
) -> str:
    """A result as text.

    Args:
        result: of a single design.
        whole: every figure, limit and note; else those that a builder reads first.
        with_working: whether its working is shown as well.
        remedy: what would do where it does not hold (`workbook.sizing.remedy`).
    """
    pack, thresholds = result.design.pack, result.thresholds()
    title = (
        f"{result.design.name}: {packs_name(result.design)} of {pack.cell.name} "
        f"({pack.cell.cell_format})"
    )
    head = [f"Flight time: {result.flights_text}"] if result.flights_text else []
    head += [f"A way out: {remedy}"] if remedy else []
    tight = [limit for limit in result.limits if limit.verdict != "holds"]
    shown, more = (result.limits, []) if whole else (tight, [MORE])
    first = (note for note in result.notes if note.topic in NOTES_FIRST)
    notes = result.all_notes if whole else tuple(first)
    blocks = [
        [title, "=" * len(title), verdict_text(result), *head],
        figure_lines(result, whole=whole),
        limit_lines(shown) if shown else [],
        unchecked_lines(result),
        doubt_lines(result),
        state_lines(result) if whole else [],
        mission_lines(result.mission) if result.mission else [],
        ["Voltages to set, from this pack's own sag", thresholds.text()] if thresholds else [],
        ["Notes", *(f"- {note}" for note in notes)] if notes else [],
        ["Working", *(f"- {step.text()}" for step in result.working)] if with_working else [],
        [*more, NOT_A_CERTIFICATE],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def tables_text(rows: Sequence[TableRow]) -> str:
    """One design with each thrust table, one line a table."""
    lines = [
        "The design with each thrust table of its file, all else equal (* is in use)",
        f"{'motor, propeller, voltage':<46}{axis_text('gf/W'):>7}{axis_text('gf/A'):>8}{'hover W':>9}{'min':>7}"
        f"{'throttle %':>12}{'T/W end':>9}  verdict",
    ]
    for row in rows:
        table, found = row.table, row.figures
        name = ", ".join(filter(None, (table.motor, table.propeller, f"{found['table_v']:.1f} V")))
        throttle = "-".join(
            number_in(found[f"hover_throttle_{at}_pct"], "", 0) for at in ("full", "end")
        )
        lines.append(
            f"{'* ' if row.in_use else '  '}{name:<44}"
            f"{number_in(found['hover_efficiency_gf_w'], 'gf/W', 1):>7}"
            f"{number_in(found['hover_efficiency_gf_a'], 'gf/A', 0):>8}"
            f"{number_in(found['hover_power_w'], '', 0):>9}{number_in(found['endurance_min'], '', 1):>7}"
            f"{throttle:>12}{number_in(found['thrust_to_weight_end'], '', 2):>9}  "
            f"{': '.join(filter(None, (WORDS[row.result.verdict], '; '.join(row.broken))))}"
        )
    lines.append(
        f"{axis_text('gf/A')} is at the pack's own mean voltage: ampere figures printed for another voltage mislead."
    )
    return "\n".join(lines)
