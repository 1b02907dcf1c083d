"""The answer as plain text: a table that a person can read in a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

from workbook.sizing import multirotor
from workbook.sizing.figures import Row
from workbook.sizing.kinds import kind_of
from workbook.sizing.mission import MissionRun
from workbook.sizing.size import Answer
from workbook.sizing.table_compare import TableRow

FIGURES = multirotor.ROWS
"""The figures of a multirotor that are shown to a person: key, words, unit, decimals."""


def figure_rows(answer: Answer) -> tuple[Row, ...]:
    """The figures of an answer that are shown to a person. One place for all views."""
    return kind_of(answer.design).ROWS


def figure_text(value: float | str | None, unit: str, decimals: int) -> str:
    """A figure with its unit; a dash where it cannot be told.

    Example:
        >>> figure_text(12.345, "min", 1), figure_text(None, "V", 2)
        ('12.3 min', '-')
    """
    if value is None or isinstance(value, str):
        return value or "-"
    if math.isnan(value):
        return "-"
    return f"{value:.{decimals}f} {unit}".rstrip()


def verdict_text(answer: Answer) -> str:
    """The verdict in one or two sentences, its word first."""
    if answer.stops:
        return "UNSAFE: do not build or fly this design as it stands. " + " ".join(answer.stops)
    if answer.broken:
        return "NOT YET: " + " ".join(limit.broken_text for limit in answer.broken)
    close = [limit.name for limit in answer.limits if limit.verdict == "close"]
    if close:
        return f"HOLDS, but close: less than 10 % is left of {', '.join(close)}."
    return "HOLDS: every limit is kept with at least 10 % left."


def verdict_of(answer: Answer) -> str:
    """`holds`, `close` or `broken`, for the whole answer."""
    if not answer.holds:
        return "broken"
    return "close" if any(limit.verdict == "close" for limit in answer.limits) else "holds"


def verdict_sentence(answer: Answer) -> str:
    """The verdict where its word already stands beside it; that a design is unsafe is always said."""
    told = verdict_text(answer)
    for word in ("NOT YET: ", "HOLDS, but close: ", "HOLDS: "):
        told = told.removeprefix(word)
    return told[0].upper() + told[1:]


def state_lines(answer: Answer) -> list[str]:
    """What the pack lets the craft do, full, half way and at the end of the flight."""
    states = answer.state_figures()
    lines = [f"{'through the discharge':<42}{'full':>14}{'half':>14}{'end':>14}"]
    for key, words, unit, decimals in kind_of(answer.design).STATE_ROWS:
        told = (figure_text(figures[key], unit, decimals) for figures in states.values())
        lines.append(f"{words:<42}" + "".join(f"{text:>14}" for text in told))
    lines.append(f"Burst current is for {answer.design.pack.cell.burst_s:g} s at most.")
    return lines


def mission_lines(mission: MissionRun) -> list[str]:
    """The mission as a table, one line a phase."""
    if mission.completes:
        verdict = f"completed with {mission.charge_left_pct:.0f} % of the charge left"
    else:
        verdict = (
            f"NOT completed: {mission.ends_by} in {mission.ends_in}, minute {mission.ends_min:.1f}"
        )
    lines = [
        f"Mission of {mission.total_min:.1f} min, {mission.energy_wh:.1f} Wh: {verdict}.",
        f"{'phase':<26}{'from':>7}{'to':>7} min{'power':>8} W{'cell':>7} A{'cell':>7} V{'used':>6} %{'cell':>6} C",
    ]
    for phase in mission.phases:
        told = [
            (phase.start_min, 7, 1, ""), (phase.end_min, 7, 1, " min"), (phase.power_w, 8, 0, " W"),
            (phase.cell_a, 7, 2, " A"), (phase.lowest_v, 7, 2, " V"),
            (100.0 * phase.end_depth_of_discharge, 6, 0, " %"), (phase.cell_c, 6, 0, " C"),
        ]  # fmt: skip
        cells = (
            f"{'-' if math.isnan(value) else f'{value:.{decimals}f}':>{width}}{unit}"
            for value, width, decimals, unit in told
        )
        lines.append(f"{phase.label:<26}{''.join(cells)}")
        if phase.survey is not None:
            field = phase.survey
            lines.append(
                f"  {field.legs} legs, {field.distance_m / 1000:.1f} km, {field.area_m2 / 10_000:.1f} ha"
            )
        if not math.isnan(phase.best_range_m_s):
            lines.append(
                f"  at {phase.airspeed_m_s:.1f} m/s; longest at {phase.best_endurance_m_s:.1f} m/s, "
                f"furthest at {phase.best_range_m_s:.1f} m/s"
            )
    return lines


def answer_text(answer: Answer, *, with_working: bool = False) -> str:
    """The whole answer as text, with its working where asked for."""
    design, pack = answer.design, answer.design.pack
    figures = answer.figures()
    today = answer.today.figures() if answer.today else None
    title = f"{design.name}: {int(pack.series)}S{int(pack.parallel)}P of {pack.cell.name} ({pack.cell.cell_format})"
    lines = [title, "=" * len(title), verdict_text(answer), ""]
    head = f"{'':<42}{'this pack':>16}"
    if answer.today is not None:
        head += f"{'pack of today':>18}"
    lines.append(head)
    for key, words, unit, decimals in figure_rows(answer):
        row = f"{words:<42}{figure_text(figures[key], unit, decimals):>16}"
        if today is not None:
            row += f"{figure_text(today[key], unit, decimals):>18}"
        lines.append(row)
    lines += [f"{'the flight ends by':<42}{figures['ends_by']:>16}", ""]
    lines.append(f"{'limit':<58}{'demand':>10}{'limit':>10}  {'':<4}{'margin':>8}  verdict")
    for limit in answer.limits:
        margin = float(limit.margin_pct)
        shown = "-" if math.isnan(margin) else f"{margin:.0f} %"
        lines.append(
            f"{limit.name:<58}{float(limit.demand):>10.4g}{float(limit.limit):>10.4g}  "
            f"{limit.unit:<4}{shown:>8}  {limit.verdict}"
        )
    lines += ["", *state_lines(answer)]
    if answer.mission is not None:
        lines += ["", *mission_lines(answer.mission)]
    alarms = answer.thresholds()
    if alarms is not None:
        lines += ["", "Voltages to set, from this pack's own sag", alarms.text()]
    if answer.notes:
        lines += ["", "Notes", *(f"- {note}" for note in answer.notes)]
    if with_working:
        lines += ["", "Working", *(f"- {step.text()}" for step in answer.working)]
    lines += [
        "",
        "A computed plan, not a certificate: the cell maker's datasheet, local rules and qualified "
        "help stand above it.",
    ]
    return "\n".join(lines)


def tables_text(rows: Sequence[TableRow]) -> str:
    """One design with each thrust table, one line a table."""
    lines = [
        "The design with each thrust table of its file, all else equal (* is in use)",
        f"{'motor, propeller, voltage':<46}{'gf/W':>7}{'gf/A':>8}{'hover W':>9}{'min':>7}"
        f"{'throttle %':>12}{'T/W end':>9}  limits",
    ]
    for row in rows:
        name = ", ".join(
            part for part in (row.motor, row.propeller, f"{row.table_v:.1f} V") if part
        )
        full, end = row.hover_throttle_full_pct, row.hover_throttle_end_pct
        throttle = f"{figure_text(full, '', 0)}-{figure_text(end, '', 0)}"
        lines.append(
            f"{'* ' if row.in_use else '  '}{name:<44}"
            f"{figure_text(row.hover_efficiency_gf_w, '', 1):>7}"
            f"{figure_text(row.hover_efficiency_gf_a, '', 0):>8}"
            f"{figure_text(row.hover_power_w, '', 0):>9}{figure_text(row.endurance_min, '', 1):>7}"
            f"{throttle:>12}{figure_text(row.thrust_to_weight_end, '', 2):>9}  "
            f"{'hold' if row.holds else 'broken: ' + '; '.join(row.broken)}"
        )
    lines.append(
        "gf/A is at the pack's own mean voltage: ampere figures printed for another voltage mislead."
    )
    return "\n".join(lines)
