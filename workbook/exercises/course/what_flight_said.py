"""Exercises: a slip or a log read, brought to like conditions, and held against the plan."""

from __future__ import annotations

from workbook.battery.derating import resistance_at_temperature
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import sixty, thousand
from workbook.working import step

SERIES, FULL_V = 6, 4.2
"""Of the pack in these exercises."""

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "power-from-a-slip",
        "No log, only the charger's slip: {minutes} minutes in the air, {back} mAh put back, of which {share} % had "
        "been taken in flight (balancing and the charger's count take the rest). Halfway through, the pack read {loaded:.1f} V under load and "
        "{rest:.1f} V at rest. What mean power did the flight take?",
        "W",
        0.005,
        draw={
            "watts": [390, 430, 470, 510],
            "minutes": [16, 18, 20, 22],
            "loaded": [21.3, 21.6, 21.9],
            "share": [96, 97, 98],
            "rest": lambda d: round(d.loaded + 0.08 * d.watts / d.loaded, 1),
            "back": lambda d: round(10 * d.watts * d.minutes / 60 / d.loaded / d.share * 1e3) * 10,
            "taken": lambda d: d.back / 1000 * d.share / 100,
        },
        steps=lambda d: [step("power-from-a-slip-charge_used_ah", d.taken, **vars(d))],
        answer=lambda d: 60 * d.taken * d.loaded / d.minutes,
        slips=lambda d: {
            "mAh over minutes is a current in odd units, not watts: the volts are missing.": d.back
            / d.minutes,
            "The charger puts back more than was taken; only a share of it flew.": 100
            * d.answer
            / d.share,
            "The voltage at rest was taken; in flight the pack gave the loaded one.": d.answer
            * d.rest
            / d.loaded,
            f"A full pack's {SERIES * FULL_V:g} V were taken; in flight it is lower all the way.": (
                d.answer * SERIES * FULL_V / d.loaded
            ),
            **sixty(d.answer),
        },
        hints=(
            "Charge times voltage is energy; energy over time is power.",
            "First the charge that was taken, then times the loaded voltage, then over the hours.",
        ),
    ),
    NumberExercise(
        "resistance-from-a-punch",
        "The log shows a hover at {i1} A and {v1:.2f} V; three seconds later a short climb at {i2} A and {v2:.2f} V. "
        "What is the resistance of the pack, as these seconds show it?",
        "mΩ",
        0.01,
        draw={
            "mohm": [48, 56, 64, 72],
            "i1": [17, 19, 21],
            "i2": [37, 41, 46],
            "v1": [21.9, 22.2, 22.6],
            "v2": lambda d: round(d.v1 - d.mohm / 1000 * (d.i2 - d.i1), 2),
        },
        answer=lambda d: 1000 * (d.v1 - d.v2) / (d.i2 - d.i1),
        slips=lambda d: {
            "Voltage over current is the load the craft puts on the pack; the pack's own resistance is in the change.": (
                1000 * d.v2 / d.i2
            ),
            "The fall belongs to the amperes that were added, not to all of them.": 1000
            * (d.v1 - d.v2)
            / d.i2,
            "That counts from a full pack at rest: a part of that fall is charge, not resistance.": (
                1000 * (SERIES * FULL_V - d.v2) / d.i2
            ),
            f"That is the share of one of {SERIES} groups; the pack is asked for.": d.answer
            / SERIES,
            **thousand(d.answer, "mΩ", "µΩ"),
        },
        hints=(
            "In three seconds hardly any charge is gone: what falls is the resistance.",
            "Change of voltage over change of current, times 1000 for mΩ.",
        ),
    ),
    NumberExercise(
        "factor-from-the-hover",
        "In the air a steady hover takes {hover} W from the pack, {avionics} W of it for the electronics. For the same "
        "mass the thrust table adds up to {table} W. Which flight factor goes into the next plan?",
        "",
        0.005,
        draw={
            "table": [340, 370, 400, 430],
            "avionics": [12, 16, 20],
            "factor": [1.12, 1.16, 1.2, 1.24],
            "hover": lambda d: round(d.table * d.factor + d.avionics),
        },
        answer=lambda d: (d.hover - d.avionics) / d.table,
        slips=lambda d: {
            "The electronics were left in: they do not lift the craft.": d.hover / d.table,
            "The electronics were added: they are in the pack's watts already.": (
                (d.hover + d.avionics) / d.table
            ),
            "Upside down: the factor is flight over table.": 1 / d.answer,
            "That is the excess; the factor is the whole, above 1.": d.answer - 1,
        },
        hints=(
            "What the motors took in flight, over what they took on the test bench.",
            "Take the electronics off the pack's watts first.",
        ),
    ),
    NumberExercise(
        "cold-against-warm",
        "A flight with cells at {celsius} °C shows {cold} mΩ of cell resistance in the pack. The plan, for 25 °C, says "
        "{plan} mΩ. By the usual law that cold makes it {law:.2f} times as large. What would the same cells show at 25 °C?",
        "mΩ",
        0.01,
        draw={
            "celsius": [0, 4, 8, 12],
            "law": lambda d: round(float(resistance_at_temperature(d.celsius)), 2),
            "plan": [36, 40, 44],
            "worn": [1.08, 1.15, 1.22],
            "cold": lambda d: round(d.plan * d.worn * d.law),
        },
        answer=lambda d: d.cold / d.law,
        slips=lambda d: {
            "A cold flight was held against a warm plan: bring both to one temperature first.": d.cold,
            "Multiplied: warmth makes it less, not more.": d.cold * d.law,
            "That is the plan's own figure; the flight has another.": d.plan,
            "That is the ratio to the plan, still cold.": d.cold / d.plan,
        },
        hints=(
            "Compare like with like: what would the same cells show at 25 °C?",
            "Divide by what the cold has multiplied.",
        ),
    ),
    NumberExercise(
        "scale-of-the-sensor",
        "The autopilot counted {counted} mAh for a flight. The charger put back {back} mAh, {share} % of which had been "
        "taken. By which number must the current sensor's scale be multiplied?",
        "",
        0.005,
        draw={
            "counted": [8240, 8870, 9410],
            "scale": [0.9, 0.93, 1.08, 1.12],
            "share": [95, 96, 97],
            "back": lambda d: round(10 * d.counted * d.scale / d.share) * 10,
        },
        answer=lambda d: d.back * d.share / 100 / d.counted,
        slips=lambda d: {
            "The charger's loss was forgotten: not all that it counts was taken.": d.back
            / d.counted,
            "Upside down: the sensor would be twice as wrong.": 1 / d.answer,
            "That is what to add to 1; the factor is the whole.": d.answer - 1,
        },
        hints=(
            "Which of the two counts do you believe, and what of it was really taken?",
            "What was taken over what was counted.",
        ),
    ),
    *choices_of("what_flight_said"),
    SettingExercise(
        "meet-the-mild-day",
        "The first pack on the mild day: move power and resistance until the plan meets the flight.",
        {
            "This is another flight; choose the first pack's mild day.": lambda r: (
                r.flight == "six_warm.csv"
            ),
            "The power is not that of the flight yet.": lambda r: r.overlay.near_in_power,
            "The plan's voltage is not on the trace yet, early or late.": lambda r: r.overlay.meets,
        },
        solution={"power_w": 450.0, "resistance_factor": 1.35},
        why="Power first: it sets how fast charge is used. Then the resistance: it sets how far below the voltage at "
        "rest the trace lies.",
        hints=(
            "The power of steady flight stands in the working.",
            "Then raise the resistance until the sentence under the chart has no complaint.",
        ),
    ),
    SettingExercise(
        "meet-the-cold-morning",
        "Choose the cold morning, and let the plan meet it. How much of that resistance is the cold?",
        {
            "This is another flight; choose the cold morning.": lambda r: r.cold,
            "The power is not that of the flight yet.": lambda r: r.overlay.near_in_power,
            "The plan's voltage is not on the trace yet, early or late.": lambda r: r.overlay.meets,
        },
        solution={"flight": "six_cold.csv", "power_w": 450.0, "resistance_factor": 2.1},
        why="At 4 °C the usual law alone makes a fresh cell 1.8 times its resistance: only what is left over that "
        "belongs in a warm plan.",
        hints=(
            "The list of flights is above the sliders.",
            "About the power of the mild day, and far more resistance.",
        ),
    ),
)
