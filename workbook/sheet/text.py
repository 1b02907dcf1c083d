"""The answer as plain text: a table that a person can read in a terminal."""

from __future__ import annotations

import math

from workbook.sizing.size import Answer

FIGURES = (
    ("all_up_mass_g", "all-up mass", "g", 0),
    ("pack_mass_g", "pack mass", "g", 0),
    ("pack_nominal_v", "pack voltage, nominal", "V", 1),
    ("pack_capacity_ah", "pack capacity, rated", "Ah", 2),
    ("pack_energy_wh", "pack energy, nominal", "Wh", 1),
    ("pack_continuous_a", "pack current, continuous", "A", 1),
    ("pack_burst_a", "pack current, burst", "A", 1),
    ("hover_thrust_per_motor_gf", "hover thrust per motor", "gf", 0),
    ("hover_efficiency_gf_w", "hover thrust per watt", "gf/W", 2),
    ("hover_power_w", "hover power", "W", 1),
    ("hover_current_a", "hover current, mean", "A", 2),
    ("hover_current_end_a", "hover current at the end", "A", 2),
    ("hover_c_rate", "hover C-rate, mean", "1/h", 2),
    ("endurance_min", "endurance", "min", 1),
    ("landing_cell_v", "cell voltage at the end, loaded", "V", 2),
    ("landing_rest_cell_v", "cell voltage at the end, at rest", "V", 2),
    ("lowest_hover_cell_v", "lowest cell voltage with thrust reserve", "V", 2),
    ("thrust_ceiling_gf", "thrust ceiling, continuous current", "gf", 0),
    ("burst_thrust_ceiling_gf", "thrust ceiling, burst current", "gf", 0),
    ("throttle_cap_pct", "throttle cap, continuous current", "%", 0),
    ("burst_throttle_cap_pct", "throttle cap, burst current", "%", 0),
    ("thrust_to_weight_full", "thrust over weight, full pack", "", 2),
    ("thrust_to_weight_end", "thrust over weight, end of flight", "", 2),
)
"""The figures shown to a person: key, words, unit, decimals. One place for all views."""


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
    """The verdict in one or two sentences."""
    if answer.stops:
        return "UNSAFE: do not build or fly this design as it stands. " + " ".join(answer.stops)
    if answer.broken:
        return "NOT YET: " + " ".join(limit.broken_text for limit in answer.broken)
    close = [limit.name for limit in answer.limits if limit.verdict == "close"]
    if close:
        return f"HOLDS, but close: less than 10 % is left of {', '.join(close)}."
    return "HOLDS: every limit is kept with at least 10 % left."


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
    for key, words, unit, decimals in FIGURES:
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
