"""Exercises of lesson 11: leads, strips, tabs and what they lose."""

from __future__ import annotations

from random import Random
from typing import Any

from workbook.bench.current_path import layers_steps, lead_steps, piece_steps, series_piece_step
from workbook.bench.strip import Strip
from workbook.bench.wire import choose_wire
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart, per_pack, thousand

LESSON = "wire_and_strips"


def _drop(draw: Random) -> Drawn:
    awg = draw.choice([10, 12, 14])
    length_mm = draw.choice([120.0, 150.0, 180.0, 250.0])
    current_a = float(draw.choice([16, 18, 20, 22, 25]))
    row = next(r for r in choose_wire(current_a, current_a, length_mm).rows if r.awg == awg)
    steps = lead_steps(row, current_a, length_mm)
    expected = steps[2].result
    slips = (
        Slip(expected / 2.0, "That is one lead; the current goes out and comes back."),
        Slip(expected * 2.0, "Out and back was counted twice."),
        *thousand(expected, "mV", "µV"),
        Slip(row.loss_w * 1000.0, "That is the heat in milliwatts: current twice."),
    )
    return Drawn(
        {
            "awg": awg, "length": length_mm, "current": current_a,
            "per_metre": row.resistance_mohm / (2.0 * length_mm / 1000.0),
        },
        expected,
        apart(expected, slips, DROP.tolerance),
        steps[1:3],
    )  # fmt: skip


DROP = NumberExercise(
    "wire-lead-drop",
    LESSON,
    "A pack has two main leads of {awg:.0f} AWG, each {length:.0f} mm long. Warm, that lead has {per_metre:.2f} mohm a "
    "metre. How many millivolts are lost at {current:.0f} A on the way out and back?",
    _drop,
    "mV",
    0.02,
    (
        "Find the length of copper that the current runs through.",
        "Two leads in metres x milliohm a metre, then x ampere.",
    ),
)


def _piece(draw: Random) -> Drawn:
    series, parallel = draw.choice([(4, 3), (6, 3), (6, 4), (4, 5), (8, 2), (6, 2)])
    current_a = float(parallel * draw.choice([7, 8, 9]))
    step = series_piece_step(current_a, parallel)
    slips = (
        *per_pack(step.result, parallel, "pieces side by side"),
        Slip(current_a / series, "Divided by the groups in series: the same current runs through all."),
        Slip(
            current_a / (series * parallel),
            "Divided by all cells: groups in series share no current, they pass it on.",
        ),
        Slip(
            current_a / (parallel - 1) if parallel > 2 else 2.0 * current_a,
            "Count the pieces once more: one for each cell of a group.",
        ),
    )  # fmt: skip
    return Drawn(
        {"series": series, "parallel": parallel, "current": current_a},
        step.result,
        apart(step.result, slips, PIECE.tolerance),
        (step,),
    )


PIECE = NumberExercise(
    "strip-series-piece",
    LESSON,
    "In a {series}S{parallel}P brick every step between two groups has {parallel} pieces of strip side by side. The "
    "pack gives {current:.0f} A. How many ampere does one of these pieces carry?",
    _piece,
    "A",
    0.02,
    (
        "What runs through one cell? And through the strip on it?",
        "The step carries the whole pack current, shared by its pieces.",
    ),
)


def _layers(draw: Random) -> Drawn:
    parallel = draw.choice([3, 4, 5])
    strip = Strip(width_mm=draw.choice([7.0, 8.0, 10.0]), thickness_mm=draw.choice([0.15, 0.2]))
    current_a = float(parallel * draw.choice([7, 8, 9, 10]))
    steps = layers_steps(strip, current_a)
    expected, may_a = steps[-1].result, steps[1].result
    slips = (
        Slip(
            layers_steps(strip, current_a / parallel)[-1].result,
            "That is enough for a series piece; the tab carries the whole pack current.",
        ),
        Slip(expected - 1.0, "That many may carry less than the tab must; round up."),
        Slip(
            current_a / may_a,
            "Strip comes in whole layers; round up.",
        ),
        Slip(current_a, "That is the current; how many layers carry it?"),
    )
    return Drawn(
        {
            "parallel": parallel, "current": current_a, "width": strip.width_mm,
            "thickness": strip.thickness_mm, "may": may_a,
        },
        expected,
        apart(expected, slips, LAYERS.tolerance),
        steps,
    )  # fmt: skip


LAYERS = NumberExercise(
    "strip-tab-layers",
    LESSON,
    "A pack of {parallel} cells in parallel gives {current:.0f} A through one tab at each end. The strip is "
    "{thickness:g} x {width:g} mm nickel, of which one layer may carry {may:g} A. How many layers does the tab need?",
    _layers,
    "layers",
    0.01,
    (
        "How much of the pack current goes through a single tab?",
        "Pack current over what one layer may carry, rounded up.",
    ),
)


def _resistance(draw: Random) -> Drawn:
    strip = Strip(
        width_mm=draw.choice([6.0, 8.0, 10.0]), thickness_mm=draw.choice([0.1, 0.15, 0.2])
    )
    length_mm = draw.choice([18.5, 21.0, 22.0, 25.0])
    steps = piece_steps(strip, length_mm, 1, 8.0, 20.0)[:3]
    expected, steel = (
        piece_steps(Strip(m, strip.width_mm, strip.thickness_mm), length_mm, 1, 8.0, 20.0)[2].result
        for m in ("nickel 200", "plated steel")
    )
    slips = (
        *thousand(expected, "mohm", "µohm"),
        Slip(steel, "That is plated steel; nickel as sold has 0.096 mohm mm."),
        Slip(expected * strip.thickness_mm, "The thickness is left out: section is width x thickness."),
        Slip(expected * strip.width_mm, "The width is left out: section is width x thickness."),
        Slip(1.0 / expected, "Upside down: length on top, section below."),
    )  # fmt: skip
    return Drawn(
        {"length": length_mm, "width": strip.width_mm, "thickness": strip.thickness_mm},
        expected,
        apart(expected, slips, RESISTANCE.tolerance),
        (steps[0], steps[2]),
    )


RESISTANCE = NumberExercise(
    "strip-piece-resistance",
    LESSON,
    "Nickel strip as sold has a resistivity of 0.096 mohm mm at 20 °C. What resistance has one piece of "
    "{thickness:g} x {width:g} mm, {length:g} mm long between its welds?",
    _resistance,
    "mohm",
    0.02,
    (
        "First the section in square millimetres.",
        "resistivity x length / section",
    ),
)

TWICE = ChoiceExercise(
    "strip-twice-the-current",
    LESSON,
    "You fly a heavier camera and the current goes from 12 A to 24 A. What becomes of the heat in strips and leads?",
    (
        Option("it stays, the strip is the same", "The strip is, but heat goes with the current squared."),
        Option(
            "it doubles",
            "The lost voltage doubles, and so does the current that loses it: heat is their product.",
        ),
        Option(
            "it is four times as much",
            "Heat is current squared times resistance. Warm metal resists more, so it is even a little worse.",
            right=True,
        ),
    ),
    ("Which power of the current stands in the formula for heat?",),
)  # fmt: skip

METAL = ChoiceExercise(
    "strip-nickel-or-steel",
    LESSON,
    "A cheap reel is sold as nickel strip. Which test tells nickel from plated steel?",
    (
        Option(
            "a magnet: if it sticks, it is steel",
            "Nickel is drawn to a magnet too. Steel is drawn more strongly, which is hard to judge.",
        ),
        Option(
            "scratch it through and leave it in salt water overnight",
            "Steel rusts at the scratch, nickel does not. Measuring millivolts at a known current tells as well.",
            right=True,
        ),
        Option(
            "look at it: nickel is shinier",
            "The steel is plated with nickel: the surface is the same.",
        ),
        Option(
            "spot weld it: steel does not weld",
            "Steel welds well, even more easily than nickel, since it resists more.",
        ),
    ),
    ("The surface is nickel in both. What happens where it is scratched through?",),
)

SHORT = ChoiceExercise(
    "wire-solder-order",
    LESSON,
    "You solder the connector on a finished pack. Both bare lead ends lie on the bench. What comes first?",
    (
        Option(
            "strip both ends, so that the iron is heated only once",
            "Two bare ends of a charged pack that touch weld together and can burn you and the house.",
        ),
        Option(
            "discharge the pack to 0 V, so that nothing can happen",
            "That ruins the cells: lithium-ion must not be taken below its cutoff voltage.",
        ),
        Option(
            "cover one end wholly, solder the other, insulate it, then change over",
            "At no time are both poles bare. A pack cannot be switched off.",
            right=True,
        ),
    ),
    ("How could the two poles ever meet?",),
)


def _keeps_currents(result: Any) -> bool:
    return bool(result.current_a >= 20.0 and result.burst_a >= 45.0)


def _strips_hold(result: Any) -> bool:
    return all(reading.holds for reading in result.readings)


HOLD = SettingExercise(
    "wire-make-it-hold",
    LESSON,
    "Leave the steady current at 20 A or more and the burst at 45 A or more. Change strip and lead until every row of "
    "strip says that it holds, and your gauge does too.",
    (
        Condition(_keeps_currents, "The steady current is below 20 A or the burst below 45 A."),
        Condition(_strips_hold, "A strip is still too thin or too hot."),
        Condition(lambda r: r.lead.fits, "The lead does not keep its limits yet."),
    ),
    "The ends need most: they carry everything, the series steps share.",
    (
        "Which row asks for most? Add layers there first.",
        "Thicker strip of 0.2 mm, 2 layers in series, 4 at the ends, and 10 AWG.",
    ),
)

WEAK = SettingExercise(
    "strip-weak-cell",
    LESSON,
    "Keep the steady current at 30 A or less and give one cell more resistance, until a parallel link inside the pack "
    "carries 1 A. Read off how uneven the cell had to be.",
    (
        Condition(lambda r: bool(r.current_a <= 30.0), "Stay at 30 A or less."),
        Condition(
            lambda r: r.reading("parallel") is not None and r.reading("parallel").current_a >= 1.0,
            "No parallel link inside carries 1 A yet.",
        ),
    ),
    "Parallel links carry only what the cells do not share evenly. That is why one thin layer will do.",
    (
        "The last slider gives one cell of the middle group more resistance.",
        "Try half as much again, and more.",
    ),
)

EXERCISES: tuple[Exercise, ...] = (DROP, PIECE, LAYERS, RESISTANCE, TWICE, METAL, SHORT, HOLD, WEAK)
SOLUTIONS: dict[str, dict[str, object]] = {
    "wire-make-it-hold": {
        "current_a": 20.0, "burst_a": 45.0, "thickness_mm": 0.2, "series_layers": 2, "end_layers": 4,
        "awg": 10,
    },
    "strip-weak-cell": {"current_a": 24.0, "weak_cell_pct": 100.0},
}  # fmt: skip
