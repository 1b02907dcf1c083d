"""The report of one flight: one page to print, plan beside flight, and what goes into the next plan."""

from __future__ import annotations

import datetime
import math
from pathlib import Path
from typing import Any, Unpack

import numpy as np
from markupsafe import Markup

from workbook import svg
from workbook.files.writing import Saving
from workbook.flightlog.book import Event, add_event, new_event
from workbook.flightlog.comparison import FlightComparison
from workbook.flightlog.correction import Correction
from workbook.flightlog.log import FlightLog, reduced
from workbook.numbers import FloatArray, in_digits
from workbook.sheet.build import MARGIN_MM, bottom_line, page_template, paper_named
from workbook.sheet.printing import write_page

TEMPLATE = Path(__file__).with_name("flight_report.html.j2")
WIDE_MM, HIGH_MM = 186.0, 62.0
ROOM_MM = {"left": 14.0, "right": 34.0, "top": 3.0, "bottom": 12.0}
LETTERS_MM = 3.3
"""Of the drawing: letters of 9 pt."""
POINTS = 600
TICKS = 6


def flight_report_html(
    found: FlightComparison,
    correction: Correction | None = None,
    paper: str = "a4",
    date: str | None = None,
) -> str:
    """The report of a flight.

    Args:
        found: the flight held against its plan.
        correction: of the plan by this flight, and by others with it.
        paper: "a4" or "letter".
        date: as it is to be printed; today where left out.

    Returns:
        One HTML page that needs nothing else: no script, no network, no file beside it.

    Raises:
        InputError: another paper.

    Example:
        >>> from workbook.data.notebooks import notebooks_source
        >>> from workbook.files.design_file import read_design
        >>> from workbook.flightlog.comparison import compare_flight
        >>> from workbook.flightlog.slip import ChargerSlip
        >>> six = read_design(notebooks_source() / "designs" / "survey_six.toml").design
        >>> page = flight_report_html(
        ...     compare_flight(six, ChargerSlip(21.0, 7.2)), date="2026-05-01"
        ... )
        >>> 'data-key="steady_power_w"' in page, "http" in page
        (True, False)
    """
    sheet = paper_named(paper)
    date = date or datetime.date.today().isoformat()
    verdict = verdict_lines(found)
    return page_template(TEMPLATE).render(
        found=found,
        paper=sheet,
        margin_mm=f"{MARGIN_MM:g}",
        bottom_line=bottom_line(f"flight of {found.design.name}", date),
        flown_words=f"{_flown_words(found)} Reported {date}.",
        verdict=verdict,
        unsafe=any(line.unsafe for line in found.lines),
        drawing=Markup(flight_drawing(found)),  # made of figures, no user's text in it
        digits=in_digits,
        correction=correction,
    )


def write_flight_report(
    found: FlightComparison,
    path: Path | str,
    *,
    correction: Correction | None = None,
    paper: str = "a4",
    **saving: Unpack[Saving],
) -> None:
    """Write the report of a flight; see `flight_report_html`.

    Args:
        found, correction, paper: as there.
        path: the file, .html or .pdf.
        saving: how it may be written; see `workbook.files.writing.Saving`.

    Raises:
        InputError: as there, or a file that is there already.
    """
    page = flight_report_html(found, correction, paper)
    write_page(Path(path), page, **saving)


BOOK_FIGURES = {
    "charge_ah": "charge_ah",
    "resistance_mohm": "pack_resistance_mohm",
    "temperature_c": "temperature_c",
}
"""Figures of a flight in a pack's book, and the line of the comparison that has each."""


def note_flight(book: Path, found: FlightComparison) -> Event:
    """Write a flight into the book of its pack.

    Args:
        book: its path; a book that is not there is begun.
        found: the flight held against its plan.

    Raises:
        InputError: the file is no book, or cannot be written.
    """
    measured = {line.key: line.measured for line in found.lines}
    figures = {"time_min": round(found.measures.minutes.value, 1)} | {
        key: round(measured[line], 2) for key, line in BOOK_FIGURES.items() if line in measured
    }
    low_v = found.measures.lowest_cell_v.value * float(found.design.pack.series)
    if np.isfinite(low_v):
        figures["loaded_v"] = round(low_v, 2)
    flown = found.flown
    words = f"by its log {flown.name}" if isinstance(flown, FlightLog) else "by the charger's slip"
    event = new_event("flown", figures=figures, words=words)
    add_event(book, event)
    return event


def verdict_lines(found: FlightComparison) -> list[str]:
    """The verdict of the flight on the plan, the unsafe first, then what is implausible, a sentence each."""
    unsafe = [line for line in found.lines if line.unsafe]
    outside = [line for line in found.lines if line.within is False]
    if unsafe:
        return [
            "UNSAFE: do not fly it like that again.",
            *(f"{line.label[0].upper()}{line.label[1:]}: {line.unsafe}" for line in unsafe),
            *found.doubts,
        ]
    if found.doubts:
        return ["DOUBTFUL: find the reason before the plan is corrected by it.", *found.doubts]
    if outside:
        return [
            "Outside the plan: " + "; ".join(line.label for line in outside) + ".",
            "Correct the plan before the next flight; keep this one's landing voltage.",
        ]
    return ["Within what plan and margin budget left room for, as far as measured."]


def _flown_words(found: FlightComparison) -> str:
    minutes = f"{found.measures.minutes.value:.1f} min in the air"
    if isinstance(found.flown, FlightLog):
        return f"{minutes}, by the log {found.flown.name}."
    return f"{minutes}, {found.flown.charge_ah:g} Ah put back by the charger; no log."


def flight_drawing(found: FlightComparison) -> str:
    """The plan's band and the flight's own trace on it, as SVG.

    Args:
        found: the flight held against its plan.
    """
    band = found.band
    known = np.isfinite(band.low_v) & np.isfinite(band.high_v)
    time_min, volts = _flown(found)
    across = (0.0, float(max(band.time_min[-1], time_min.max(initial=0.0))))
    seen = [*band.plan_v[np.isfinite(band.plan_v)], *volts, *band.low_v[known], *band.high_v[known]]
    low, high = math.floor(min(seen)), math.ceil(max(seen))
    wide = WIDE_MM - ROOM_MM["left"] - ROOM_MM["right"]
    tall = HIGH_MM - ROOM_MM["top"] - ROOM_MM["bottom"]

    def place(x: FloatArray, y: FloatArray) -> list[tuple[float, float]]:
        right = ROOM_MM["left"] + wide * (x - across[0]) / (across[1] - across[0])
        down = ROOM_MM["top"] + tall * (high - y) / (high - low)
        return list(zip(right.tolist(), down.tolist(), strict=True))

    band_min = band.time_min[known]
    edge = place(band_min, band.high_v[known]) + place(band_min, band.low_v[known])[::-1]
    flies = np.isfinite(band.plan_v)
    plan, flown = place(band.time_min[flies], band.plan_v[flies]), place(time_min, volts)
    words = [(plan, "plan"), (flown, "flown")] if flown else [(plan, "plan")]
    shapes = [
        svg.polygon(edge, fill="#d9d9d9") if edge else "",
        *_grid(place, across, (low, high)),
        svg.polyline(plan, width=0.5, dash="2 1.2"),
        svg.polyline(flown, width=0.35) if flown else "",
        *_names(words, edge),
    ]
    name = "Pack voltage over time: the plan, what its budget left room for, and the flight"
    return svg.document(*shapes, width=WIDE_MM, height=HIGH_MM, name=name, unit="mm")


def _flown(found: FlightComparison) -> tuple[FloatArray, FloatArray]:
    """The flight's own trace since take-off, reduced; empty for a slip."""
    if not isinstance(found.flown, FlightLog) or found.phases is None:
        return np.empty(0), np.empty(0)
    start_s, end_s = found.phases.flight
    air = found.flown.between(start_s, end_s)
    rows = reduced(air.time_s, air.voltage_v, points=POINTS)
    rows = rows[np.isfinite(air.voltage_v[rows])]
    return (air.time_s[rows] - start_s) / 60.0, air.voltage_v[rows]


def _grid(place: Any, across: tuple[float, float], up: tuple[float, float]) -> list[str]:
    """Axes with their figures."""
    step_v = max(1.0, math.ceil((up[1] - up[0]) / TICKS))
    step_min = max(1.0, math.ceil((across[1] - across[0]) / TICKS))
    shapes = []
    for volts in np.arange(up[0], up[1] + 0.01, step_v):
        (x, y), (x2, _) = place(np.array(across), np.array([volts, volts]))
        shapes.append(svg.line(x, y, x2, y, "#9a9a9a", 0.15))
        shapes.append(svg.text(x - 1.0, y + 1.1, f"{volts:g}", size=LETTERS_MM, anchor="end"))
    for minutes in np.arange(across[0], across[1] + 0.01, step_min):
        ((x, y),) = place(np.array([minutes]), np.array([up[0]]))
        shapes.append(svg.text(x, y + 4.2, f"{minutes:g}", size=LETTERS_MM, anchor="middle"))
    middle = ROOM_MM["left"] + 0.5 * (WIDE_MM - ROOM_MM["left"] - ROOM_MM["right"])
    under = "minutes since take-off; pack voltage under load, V"
    shapes.append(svg.text(middle, HIGH_MM - 2.0, under, size=LETTERS_MM, anchor="middle"))
    return shapes


def _names(
    traces: list[tuple[list[tuple[float, float]], str]], edge: list[tuple[float, float]]
) -> list[str]:
    """Names at the ends of the traces, one above another, and of the band."""
    ends = sorted((points[-1][1], name) for points, name in traces if points)
    shapes, last = [], -math.inf
    right = WIDE_MM - ROOM_MM["right"] + 1.5
    if edge:
        ends = sorted([*ends, (edge[len(edge) // 2][1], "budget: 9 in 10")])
    for y, name in ends:
        last = max(y + 1.1, last + 1.15 * LETTERS_MM)
        shapes.append(svg.text(right, last, name, size=LETTERS_MM))
    return shapes
