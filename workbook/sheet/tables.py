"""Designs, flights, situations and candidates side by side, as plain text tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

from workbook.quantities import RESULTS, results
from workbook.sheet.text import NOT_A_CERTIFICATE, result_text, verdict_text
from workbook.sizing.budget import Budget
from workbook.sizing.candidates import Sweep
from workbook.sizing.compare import Comparison
from workbook.sizing.pair import packs_name
from workbook.sizing.situations import Situation
from workbook.sizing.size import SizingResult

NAME, COLUMN, MOST_ROWS = 42, 16, 20


def _row(name: str, cells: Sequence[str], width: int = COLUMN) -> str:
    return f"{name:<{NAME}}" + "".join(f"{cell:>{width}}" for cell in cells)


def short_report(result: SizingResult, remedy: str = "") -> str:
    """Verdict, six figures and what is broken.

    Args:
        result: of a single design.
        remedy: what would do where it does not hold.
    """
    figures = result.figures()
    lines = [f"{result.design.name}: {verdict_text(result)}"]
    if result.design.joining.several:
        lines.append(f"  packs: {packs_name(result.design)}")
    for quantity in results(result.craft_type.short_keys):
        lines.append(f"  {quantity.label}: {result_text(quantity.key, figures[quantity.key])}")
    more = [f"A way out: {remedy}"] if remedy else []
    more += [str(note) for note in result.notes if note.topic == "assumed"]
    return "\n".join([*lines, *more, NOT_A_CERTIFICATE])


def designs_text(answers: Sequence[SizingResult], change: Comparison | None = None) -> str:
    """Designs side by side: figures, tightest margin, verdict.

    Args:
        answers: of designs of one type of craft.
        change: of the first two, to be shown input by input; None for none.
    """
    width = max(COLUMN, *(len(_pack(answer)) + 2 for answer in answers))
    lines = [f"{number}: {answer.design.name}" for number, answer in enumerate(answers, 1)]
    lines += ["", _row("", [str(number) for number in range(1, len(answers) + 1)], width)]
    lines.append(_row("pack", [_pack(answer) for answer in answers], width))
    figures = [answer.figures() for answer in answers]
    for quantity in results(answers[0].craft_type.keys):
        cells = [result_text(quantity.key, one[quantity.key]) for one in figures]
        lines.append(_row(quantity.label, cells, width))
    lines.append(_row("verdict", [answer.verdict for answer in answers], width))
    for number, answer in enumerate(answers, 1):
        lines += ["", f"{number}: {verdict_text(answer)}"]
    if change is not None and change.changes:
        lines += ["", "What differs", *(f"- {one.text}" for one in change.changes)]
    return "\n".join([*lines, "", NOT_A_CERTIFICATE])


def _pack(answer: SizingResult) -> str:
    return f"{packs_name(answer.design)} {answer.design.pack.cell.name}"


READINGS = {
    "plan": "plan",
    "expected": "expected",
    "all at worst": "worst",
    "1 in 20 below": "p05",
    "half below": "p50",
    "1 in 20 above": "p95",
}
"""Columns of a budget's readings: heading to attribute."""


def budget_text(found: Budget) -> str:
    """The margin budget: what each line takes, the readings, and how many flights meet the wanted time."""
    lines = [
        f"{found.design.name}: margin budget of {len(found.lines)} lines, {found.draws} simulated flights",
        "",
        f"{'line':<{NAME}}{'expected':>12}{'left, min':>12}{'may be':>16}{'left, min':>12}",
    ]
    minutes = RESULTS["endurance_min"]
    for cost in found.costs:
        line = cost.line
        worst = f"{line.low:g} to {line.high:g} {line.unit}"
        lines.append(
            f"{line.name:<{NAME}}{f'{line.expected:g} {line.unit}':>12}"
            f"{minutes.number(cost.left_expected_min):>12}{worst:>16}"
            f"{minutes.number(cost.left_worst_min):>12}"
        )
    lines += ["", _row("", list(READINGS))]
    for reading in found.readings:
        values = (getattr(reading, name) for name in READINGS.values())
        cells = [result_text(reading.quantity.key, value) for value in values]
        lines.append(_row(reading.quantity.label, cells))
    if not math.isnan(found.met_pct):
        wanted_min = found.design.flight.wanted_min
        lines += [
            "",
            f"{result_text('met_pct', found.met_pct, bare=True)} flights in a hundred last the {wanted_min:g} min asked for.",
        ]
    return "\n".join([*lines, "", NOT_A_CERTIFICATE])


HEADINGS = {
    "endurance_min": "endurance",
    "thrust_to_weight_end": "thrust to weight",
    "climb_end_m_s": "climb left",
    "end_cell_temperature_c": "hottest cell",
    "range_km": "range",
}
"""Short for the columns of a table."""


def situations_text(found: Sequence[Situation]) -> str:
    """One design in other situations, one line each, and why those that do not hold do not."""
    first = found[0].result
    quantities = results(["endurance_min", first.craft_type.reserve_key, "end_cell_temperature_c"])
    ranged = not math.isnan(found[0].range_km)
    quantities += results(["range_km"]) if ranged else ()
    lines = [first.design.name, "", _row("", [HEADINGS[q.key] for q in quantities], 20)]
    for one in found:
        figures = one.as_dict()
        cells = [result_text(q.key, figures[q.key]) for q in quantities]
        lines.append(_row(one.name, cells, 20) + f"  {one.result.verdict}")
    broken = [f"- {one.name}: {one.why}" for one in found if one.why]
    return "\n".join(
        [
            *lines,
            *(["", "Why it does not hold there", *broken] if broken else []),
            "",
            NOT_A_CERTIFICATE,
        ]
    )


def sweep_text(found: Sweep) -> str:
    """The front of a sweep, and why the other candidates fell out.

    Args:
        found: the sweep, of which so many rows and reasons as `MOST_ROWS` are shown.
    """
    front = found.pareto()
    lines = [
        f"{found.design.name}: {found.worked} packs tried, {len(found.survivors())} hold",
        found.lightest_text,
        "",
        f"{'no other is lighter and flies longer':<{NAME}}{'pack':>10}{'time':>12}{'margin':>9}  tightest",
    ]
    for one in list(front)[:MOST_ROWS]:
        lines.append(
            f"{one.name:<{NAME}}{RESULTS['pack_mass_g'].text(one.pack_mass_g):>10}"
            f"{RESULTS['endurance_min'].text(one.endurance_min):>12}"
            f"{math.floor(one.margin_pct):>7} %  {one.binds}"
        )
    lines += ["", "why the others are rejected, the most frequent reason first"]
    for reason in [one for one in found.rejections if one.binds][:MOST_ROWS]:
        lines.append(f"{reason.binds:>8}  {reason.name}")
    return "\n".join([*lines, "", NOT_A_CERTIFICATE])
