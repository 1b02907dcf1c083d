"""Exercises: thrust ceilings, the throttle cap, and the thrust that is left."""

from __future__ import annotations

from workbook.craft.voltage import THRUST_VOLTAGE_EXPONENT
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.working import step

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "watts-at-the-ceiling",
        "A pack of {series}S{parallel}P has cells of {amperes:g} A continuous ({burst:g} A burst) "
        "and stands at {loaded:.2f} V per cell when each gives its continuous current, almost empty. "
        "Avionics take {avionics:g} W. How many watts may each of the {rotors} motors draw?",
        "W",
        0.004,
        draw={
            "series parallel rotors": [(6, 3, 6), (4, 2, 4), (6, 2, 4), (6, 3, 4), (6, 4, 8)],
            "amperes burst": [(10.0, 15.0), (12.0, 20.0), (14.0, 21.0)],
            "loaded": [3.05, 3.1, 3.15, 3.2],
            "avionics": [12, 14, 16, 20],
            "volts_a": lambda d: d.series * d.amperes * d.loaded,
            "pack_w": lambda d: d.series * d.parallel * d.amperes * d.loaded,
        },
        steps=lambda d: [step("watts-at-the-ceiling-pack_w", d.pack_w, **vars(d))],
        answer=lambda d: (d.pack_w - d.avionics) / d.rotors,
        slips=lambda d: {
            "The avionics are left out; the pack feeds them too.": d.pack_w / d.rotors,
            f"That is for all {d.rotors} motors; one is asked for.": d.pack_w - d.avionics,
            "That counts the cells in series only; those in parallel give their watts, too.": (
                (d.volts_a - d.avionics) / d.rotors
            ),
            f"That uses the burst current ({d.burst:g} A), which a cell gives for seconds only.": (
                (d.pack_w * d.burst / d.amperes - d.avionics) / d.rotors
            ),
            f"That uses the nominal voltage, 3.6 V; here a cell has {d.loaded:g} V.": (
                (d.pack_w * 3.6 / d.loaded - d.avionics) / d.rotors
            ),
            f"That uses a full cell's voltage, 4.2 V; here a cell has {d.loaded:g} V.": (
                (d.pack_w * 4.2 / d.loaded - d.avionics) / d.rotors
            ),
        },
        hints=(
            "What does the whole pack give, in watts, at its continuous current?",
            "S x P x current x voltage under it, less the avionics, over the motors.",
        ),
    ),
    NumberExercise(
        "thrust-that-must-be-left",
        "Each of {rotors} motors gives {hover} gf in hover. A thrust to weight of {reserve:g} "
        "is asked for at the end of the flight. What must one motor still be able to give?",
        "gf",
        0.01,
        draw={"rotors": [4, 6, 8], "hover": range(460, 740, 20), "reserve": [1.3, 1.4, 1.5, 1.6]},
        answer=lambda d: d.hover * d.reserve,
        slips=lambda d: {
            f"That is for all {d.rotors} motors; one motor is asked for.": d.answer * d.rotors,
            "The reserve is the ratio itself, nothing on top of it.": d.hover * (1 + d.reserve),
            "More thrust than hover is asked for, not less.": d.hover / d.reserve,
            "The ratio is of thrust: no exponent.": d.hover * d.reserve**THRUST_VOLTAGE_EXPONENT,
            "That only holds the craft up: nothing is left to climb or to stop a descent.": d.hover,
        },
        hints=("In hover thrust to weight is 1.", "Hover thrust times the ratio."),
    ),
    NumberExercise(
        "thrust-at-sagged-voltage",
        "A table gives {thrust:.0f} gf at full throttle and {table:.1f} V. Almost empty the pack"
        " sags to {sagged:.1f} V under full throttle. With thrust as voltage^1.8, what is left?",
        "gf",
        0.02,
        draw={
            "series": [4, 6],
            "thrust": range(1200, 2600, 100),
            "table": lambda d: round(3.7 * d.series, 1),
            "cell_v": [2.9, 3.0, 3.1],
            "sagged": lambda d: round(d.cell_v * d.series, 1),
            "ratio": lambda d: d.sagged / d.table,
        },
        answer=lambda d: d.thrust * d.ratio**THRUST_VOLTAGE_EXPONENT,
        slips=lambda d: {
            "That is the table's thrust at the table's voltage; the pack has sagged.": d.thrust,
            "Thrust falls faster than voltage: about as voltage^1.8.": d.thrust * d.ratio,
            "Power goes as voltage^2.7; thrust as voltage^1.8.": d.thrust * d.ratio**2.7,
            "The wrong way about: less voltage, less thrust.": d.thrust**2 / d.answer,
        },
        hints=(
            "The motor turns slower at less voltage, and thrust falls faster than speed.",
            "(voltage / table's voltage)^1.8 times the table's thrust.",
        ),
    ),
    NumberExercise(
        "thrust-over-weight-left",
        "A craft of {mass} g has {rotors} motors. Almost empty, the throttle cap lets each give "
        "{ceiling:.0f} gf; the burst current would allow {burst:.0f} gf. What is its thrust to"
        " weight?",
        "",
        0.01,
        draw={
            "rotors": [4, 6, 8],
            "mass": lambda d: d.rotors * d.random.randrange(480, 720, 20),
            "ratio": [1.35, 1.4, 1.45, 1.5, 1.55, 1.6, 1.65, 1.75],
            "ceiling": lambda d: 10 * round(d.ratio * d.mass / d.rotors / 10),
            "burst": lambda d: 10 * round(1.3 * d.ceiling / 10),
        },
        answer=lambda d: d.rotors * d.ceiling / d.mass,
        slips=lambda d: {
            f"That is one motor's; there are {d.rotors}.": d.ceiling / d.mass,
            "The cap comes first: the least of the two counts.": d.rotors * d.burst / d.mass,
            "The wrong way about: thrust over weight.": 1 / d.answer,
            "That is what is left above hover; the ratio itself is asked for.": d.answer - 1,
        },
        hints=(
            "Which of the two thrusts can be had?",
            "The least of them, times the motors, over the all-up mass.",
        ),
    ),
    *choices_of("thrust_ceiling"),
    SettingExercise(
        "cap-for-the-burst",
        "Set the throttle cap as high as the burst current of the full pack allows.",
        {
            "A cell of the full pack goes over its burst current.": (
                lambda r: r.point.full.full_throttle.cell_a <= r.design.pack.cell.burst_a
            ),
            "The cap could still be higher.": (
                lambda r: abs(r.design.flight.throttle_cap_pct - min(r.burst_cap_pct, 100)) <= 1
            ),
        },
        solution={"throttle_cap_pct": 78.0},
        why="A burst is for seconds. Look at the thrust to weight left almost empty.",
        hints=(
            "Watch the lower chart: the curve of the full pack and the line of the burst current.",
            "The finding below that chart names the throttle.",
        ),
    ),
    SettingExercise(
        "hover-almost-empty",
        "Set the throttle at which the craft just hovers on the almost empty pack.",
        {
            "The cap holds the throttle lower than that.": lambda r: not r.held_by_cap,
            "On the almost empty pack it climbs or sinks there.": (
                lambda r: abs(r.here.end.thrust_gf[0] / r.point.thrust_per_motor_gf - 1) < 0.025
            ),
        },
        solution={"stick_pct": 57.0},
        why="Read the other curves at the same throttle: on the full pack it would shoot up.",
        hints=(
            "Two curves matter: hover, which is level, and the lowest of the three.",
            "The sentence below the chart gives the thrust on the almost empty pack.",
        ),
    ),
)
