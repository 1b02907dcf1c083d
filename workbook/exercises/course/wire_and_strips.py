"""Exercises: leads, strips, tabs and what they lose."""

from __future__ import annotations

from typing import Any

from workbook.bench.strip import Strip, layers_steps, piece_steps, series_piece_step
from workbook.bench.wire import WireRow, choose_wire, lead_steps
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import per_pack, thousand
from workbook.working import Step


def _row(d: Any) -> WireRow:
    return choose_wire(d.current, d.current, d.length).row(d.awg)


def _piece(d: Any, metal: str) -> tuple[Step, ...]:
    return piece_steps(Strip(metal, d.width, d.thickness), d.length, 1, 8.0, 20.0)


EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "wire-lead-drop",
        "A pack has two main leads of {awg:.0f} AWG, each {length:.0f} mm long. Warm, that lead "
        "has {per_metre:.2f} mΩ per metre. How many millivolts are lost at {current:.0f} A on "
        "the way out and back?",
        "mV",
        0.02,
        draw={
            "awg": [10, 12, 14],
            "length": [120.0, 150.0, 180.0, 250.0],
            "current": [16.0, 18.0, 20.0, 22.0, 25.0],
            "row": _row,
            "per_metre": lambda d: d.row.resistance_mohm / (2 * d.length / 1000),
        },
        steps=lambda d: lead_steps(d.row, d.current, d.length)[1:3],
        slips=lambda d: {
            "That is one lead; the current goes out and comes back.": d.answer / 2,
            "Out and back was counted twice.": d.answer * 2,
            **thousand(d.answer, "mV", "µV"),
            "That is the heat in milliwatts: current twice.": d.row.loss_w * 1000,
        },
        plausible=lambda d: d.row.fits,
        hints=(
            "Find the length of copper that the current runs through.",
            "Two leads in metres x mΩ per metre, then x amperes.",
        ),
    ),
    NumberExercise(
        "strip-series-piece",
        "In a brick of {series}S{parallel}P every step between two groups has {parallel} pieces of "
        "strip side by side. The pack gives {current:g} A. How many amperes does one of these "
        "pieces carry?",
        "A",
        0.02,
        draw={
            "series parallel": [(4, 3), (6, 3), (6, 4), (4, 5), (8, 2), (6, 2)],
            "each": [5, 6, 6.5, 7, 7.5, 8, 8.5, 9],
            "current": lambda d: float(d.parallel * d.each),
            "miscounted": lambda d: d.parallel - 1 if d.parallel > 2 else 3,
        },
        steps=lambda d: [series_piece_step(d.current, d.parallel)],
        slips=lambda d: {
            **per_pack(d.answer, d.parallel, "pieces side by side"),
            "Divided by S: the same current runs through all groups.": d.current / d.series,
            "Divided by all cells: groups in series share no current.": d.answer / d.series,
            "Count the pieces again: one for each cell of a group.": d.current / d.miscounted,
        },
        hints=(
            "What runs through one cell? And through the strip on it?",
            "The step carries the whole pack current, shared by its pieces.",
        ),
    ),
    NumberExercise(
        "strip-tab-layers",
        "A pack of {parallel} cells in parallel gives {current:.0f} A through one tab at each "
        "end. The strip is {thickness:g} x {width:g} mm nickel, of which one layer may carry "
        "{may:g} A. How many layers does the tab need?",
        "layers",
        0.01,
        draw={
            "parallel": [3, 4, 5],
            "width": [7.0, 8.0, 10.0],
            "thickness": [0.15, 0.2],
            "each": [7, 8, 9, 10],
            "current": lambda d: float(d.parallel * d.each),
            "strip": lambda d: Strip(width_mm=d.width, thickness_mm=d.thickness),
            "worked": lambda d: layers_steps(d.strip, d.current),
            "piece": lambda d: layers_steps(d.strip, d.each),
            "may": lambda d: d.worked[1].result,
        },
        steps=lambda d: d.worked,
        slips=lambda d: {
            "That is enough for a series piece; the tab carries it all.": d.piece[-1].result,
            "That many may carry less than the tab must; round up.": d.answer - 1,
            "Strip comes in whole layers; round up.": d.current / d.may,
            "That is the current; how many layers carry it?": d.current,
        },
        plausible=lambda d: d.answer <= 6,
        hints=(
            "How much of the pack current goes through a single tab?",
            "Pack current over what one layer may carry, rounded up.",
        ),
    ),
    NumberExercise(
        "strip-piece-resistance",
        "Nickel strip as sold has a resistivity of 0.096 mΩ mm at 20 °C. What resistance has "
        "one piece of {thickness:g} x {width:g} mm, {length:g} mm long between its welds?",
        "mΩ",
        0.02,
        draw={
            "width": [6.0, 8.0, 10.0],
            "thickness": [0.1, 0.15, 0.2],
            "length": [18.5, 21.0, 22.0, 25.0],
        },
        steps=lambda d: _piece(d, "nickel 200")[0:3:2],
        slips=lambda d: {
            **thousand(d.answer, "mΩ", "µΩ"),
            "That is plated steel; nickel has 0.096 mΩ mm.": _piece(d, "plated steel")[2].result,
            "The thickness is left out: section is width x thickness.": d.answer * d.thickness,
            "The width is left out: section is width x thickness.": d.answer * d.width,
            "Upside down: length on top, section below.": 1 / d.answer,
        },
        hints=("First the section in square millimetres.", "resistivity x length / section"),
    ),
    *choices_of("wire_and_strips"),
    SettingExercise(
        "wire-make-it-hold",
        "Leave the steady current at 20 A or more and the burst at 45 A or more. Change strip "
        "and lead until every row of strip says that it holds, and your gauge does too.",
        {
            "The steady current is below 20 A or the burst below 45 A.": (
                lambda r: r.current_a >= 20 and r.burst_a >= 45
            ),
            "A strip is still too thin or too hot.": (
                lambda r: all(reading.holds for reading in r.readings)
            ),
            "The lead does not keep its limits yet.": lambda r: r.wire.chosen.fits,
        },
        solution={
            "current_a": 20.0,
            "burst_a": 45.0,
            "thickness_mm": 0.2,
            "series_layers": 2,
            "end_layers": 4,
            "awg": 10,
        },
        why="The ends need most: they carry everything, the series steps share.",
        hints=(
            "Which row asks for most? Add layers there first.",
            "Thicker strip of 0.2 mm, 2 layers in series, 4 at the ends, and 10 AWG.",
        ),
    ),
    SettingExercise(
        "strip-weak-cell",
        "Keep the steady current at 30 A or less and give one cell more resistance, until a "
        "parallel link inside the pack carries 1 A. Read off how uneven the cell had to be.",
        {
            "Stay at 30 A or less.": lambda r: r.current_a <= 30,
            "No parallel link inside carries 1 A yet.": (
                lambda r: r.reading("parallel") is not None and r.reading("parallel").current_a >= 1
            ),
        },
        solution={"current_a": 24.0, "weak_cell_pct": 100.0},
        why="Parallel links carry what cells do not share evenly: one thin layer will do.",
        hints=(
            "The last slider gives one cell of the middle group more resistance.",
            "Try half as much again, and more.",
        ),
    ),
)
