"""Exercises of lesson 9: thrust ceilings, the throttle cap, and the thrust that is left."""

from __future__ import annotations

import random

from workbook.craft.voltage import THRUST_VOLTAGE_EXPONENT
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import (
    Slip,
    apart,
    burst_for_continuous,
    nominal_for_sagged,
    per_cell,
    per_motor,
)
from workbook.working import Step

LESSON = "thrust_ceiling"


def _motor_watts(draw: random.Random) -> Drawn:
    series, parallel, rotors = draw.choice([(6, 3, 6), (4, 2, 4), (6, 2, 4), (6, 4, 8)])
    amperes, burst = draw.choice([(10.0, 15.0), (12.0, 20.0), (14.0, 21.0)])
    loaded, avionics = draw.choice([3.05, 3.1, 3.15, 3.2]), float(draw.choice([10, 12, 14, 16]))
    pack_w = series * parallel * amperes * loaded
    expected = (pack_w - avionics) / rotors
    slips = apart(
        expected,
        [
            Slip(pack_w / rotors, "The avionics are left out; the pack feeds them too."),
            Slip(pack_w - avionics, f"That is for all {rotors} motors; one is asked."),
            *per_cell(expected, float(parallel)),
            *burst_for_continuous(expected, amperes, burst),
            *nominal_for_sagged(expected, loaded, 3.6, 1.0),
            *nominal_for_sagged(expected, loaded, 4.2, 1.0),
        ],
        0.01,
    )
    steps = (
        Step("pack_w", "power of the pack at its continuous current", "S x P x cell current x cell voltage under it",
             f"{series} x {parallel} x {amperes:g} A x {loaded:g} V", pack_w, "W", "power = voltage x current"),
        Step("motor_w", "power left for one motor", "(power of the pack - avionics) / motors",
             f"({pack_w:.4g} W - {avionics:g} W) / {rotors}", expected, "W", "arithmetic"),
    )  # fmt: skip
    numbers = {
        "series": series, "parallel": parallel, "rotors": rotors, "amperes": amperes, "burst": burst,
        "loaded": loaded, "avionics": avionics,
    }  # fmt: skip
    return Drawn(numbers, expected, slips, steps)


def _thrust_left(draw: random.Random) -> Drawn:
    rotors, mass = draw.choice([(4, 2000), (6, 3900), (6, 4200), (8, 5600)])
    ratio = draw.choice([1.35, 1.5, 1.6, 1.75])
    ceiling = 10.0 * round(ratio * mass / rotors / 10.0)
    burst = 10.0 * round(1.3 * ceiling / 10.0)
    expected = rotors * ceiling / mass
    slips = apart(
        expected,
        [
            Slip(ceiling / mass, f"That is one motor's; there are {rotors}."),
            Slip(rotors * burst / mass, "The cap comes before the burst ceiling: the least of the two counts."),
            Slip(1 / expected, "The wrong way about: thrust over weight."),
            Slip(expected - 1, "That is what is left above hover; the ratio itself is asked."),
        ],
        0.01,
    )  # fmt: skip
    step = Step(
        "thrust_to_weight", "thrust over weight", "motors x least thrust of a motor / all-up mass",
        f"{rotors} x {ceiling:.0f} gf / {mass} g", expected, "", "1 g weighs 1 gf",
    )  # fmt: skip
    numbers = {"rotors": rotors, "mass": mass, "ceiling": ceiling, "burst": burst}
    return Drawn(numbers, expected, slips, (step,))


def _sagged_thrust(draw: random.Random) -> Drawn:
    series = draw.choice([4, 6])
    full_gf = 10.0 * draw.randrange(120, 260, 10)
    table_v = round(3.7 * series, 1)
    cell_v = draw.choice([2.9, 3.0, 3.1])
    sagged_v = round(cell_v * series, 1)
    ratio = sagged_v / table_v
    expected = full_gf * ratio**THRUST_VOLTAGE_EXPONENT
    slips = apart(
        expected,
        [
            Slip(full_gf, "That is the table's thrust at the table's voltage; the pack has sagged."),
            Slip(full_gf * ratio, "Thrust falls faster than voltage: about as voltage^1.8."),
            Slip(full_gf * ratio**2.7, "Power goes as voltage^2.7; thrust as voltage^1.8."),
            Slip(full_gf / ratio**THRUST_VOLTAGE_EXPONENT, "The wrong way about: less voltage, less thrust."),
        ],
        0.03,
    )  # fmt: skip
    step = Step(
        "thrust_gf", "full-throttle thrust at the sagged voltage", "table's thrust x (voltage / table's voltage)^1.8",
        f"{full_gf:.0f} gf x ({sagged_v:g} V / {table_v:g} V)^1.8", expected, "gf",
        "exponent of 1.6 to 2: common practice, no source; 1.8 held against measured propellers",
    )  # fmt: skip
    return Drawn(
        {"thrust": full_gf, "table": table_v, "sagged": sagged_v}, expected, slips, (step,)
    )


def _ceiling_per_craft(draw: random.Random) -> Drawn:
    rotors, hover = draw.choice([(4, 480), (6, 640), (6, 700), (8, 610)])
    reserve = draw.choice([1.4, 1.5, 1.6])
    expected = hover * reserve
    slips = apart(
        expected,
        [
            *per_motor(expected, rotors)[1:],
            Slip(hover * (1 + reserve), "The reserve is the ratio itself, not what comes on top of hover."),
            Slip(hover / reserve, "More thrust than hover is asked, not less."),
            Slip(hover * reserve**THRUST_VOLTAGE_EXPONENT, "The ratio is of thrust, no exponent goes with it."),
            Slip(float(hover), "That only holds the craft up: nothing is left to climb or to stop a descent."),
        ],
        0.01,
    )  # fmt: skip
    step = Step("thrust_gf", "thrust that one motor must still give", "hover thrust x thrust over weight asked",
                f"{hover} gf x {reserve:g}", expected, "gf", "hover: thrust equals weight")  # fmt: skip
    return Drawn({"rotors": rotors, "hover": hover, "reserve": reserve}, expected, slips, (step,))


EXERCISES = (
    NumberExercise(
        "watts-at-the-ceiling",
        LESSON,
        "A {series}S{parallel}P pack of cells with {amperes:g} A continuous ({burst:g} A burst) stands at {loaded:.2f} V "
        "a cell when each gives its continuous current, almost empty. Avionics take {avionics:g} W. How many watts may "
        "each of the {rotors} motors draw?",
        _motor_watts,
        "W",
        0.01,
        (
            "What does the whole pack give, in watts, at its continuous current?",
            "S x P x current x voltage under it; take off the avionics, then share among the motors.",
        ),
    ),
    NumberExercise(
        "thrust-that-must-be-left",
        LESSON,
        "Each of {rotors} motors gives {hover} gf in hover. A thrust over weight of {reserve:g} is asked at the end of "
        "the flight. What must one motor still be able to give?",
        _ceiling_per_craft,
        "gf",
        0.01,
        ("In hover thrust over weight is 1.", "Hover thrust times the ratio."),
    ),
    NumberExercise(
        "thrust-at-sagged-voltage",
        LESSON,
        "A table gives {thrust:.0f} gf at full throttle and {table:.1f} V. Almost empty the pack sags to {sagged:.1f} V "
        "under full throttle. With thrust as voltage^1.8, what is left?",
        _sagged_thrust,
        "gf",
        0.02,
        (
            "The motor turns slower at less voltage, and thrust falls faster than speed.",
            "Divide the voltages, raise the ratio to the power of 1.8, multiply by the table's thrust.",
        ),
    ),
    NumberExercise(
        "thrust-over-weight-left",
        LESSON,
        "A craft of {mass} g has {rotors} motors. Almost empty, the throttle cap lets each give {ceiling:.0f} gf; the "
        "burst current would allow {burst:.0f} gf. What is its thrust over weight?",
        _thrust_left,
        "",
        0.01,
        (
            "Which of the two thrusts can be had?",
            "The least of them, times the motors, over the all-up mass.",
        ),
    ),
    ChoiceExercise(
        "throttle-and-thrust",
        LESSON,
        "A craft with a full-throttle thrust over weight of 2 hovers. Where is its throttle?",
        (
            Option("at 50 %", "Hover takes 50 % of the thrust; thrust is not in proportion to throttle."),
            Option(
                "at about 60 to 70 %",
                "Thrust goes with a power of throttle: half of it needs more than half of the stick.",
                right=True,
            ),
            Option("at 100 %, almost empty", "Then nothing would be left to stop a descent."),
        ),
        ("Look where the hover line crosses the curve, and read the throttle below it.",),
    ),
    ChoiceExercise(
        "what-a-cap-costs",
        LESSON,
        "The cap is set so that even a full pack keeps within the continuous current. What does it cost?",
        (
            Option(
                "nothing: hover needs less than that",
                "In hover nothing. But a gust, a climb or a descent that must be stopped needs more than hover.",
            ),
            Option(
                "thrust, most of all almost empty, when the same throttle gives least",
                "The cap is one number for the whole flight: what protects the full pack holds the empty one back.",
                right=True,
            ),
            Option("minutes, since the motors run slower", "Hover takes the same watts, cap or no cap."),
        ),
    ),
    SettingExercise(
        "cap-for-the-burst",
        LESSON,
        "Set the throttle cap as high as it can be while no cell of the full pack goes over its burst current.",
        (
            Condition(
                lambda r: bool(r.point.full.full_throttle.cell_a <= r.design.pack.cell.burst_a),
                "A cell of the full pack goes over its burst current.",
            ),
            Condition(
                lambda r: abs(r.design.flight.throttle_cap_pct - min(r.burst_cap_pct, 100.0)) <= 1.0,
                "The cap could still be higher.",
            ),
        ),
        "A burst is for seconds: the datasheet says how many. Look at what thrust over weight is left almost empty.",
        (
            "Watch the lower chart: the curve of the full pack and the line of the burst current.",
            "The finding below that chart names the throttle.",
        ),
    ),
    SettingExercise(
        "hover-almost-empty",
        LESSON,
        "Put the stick where the craft just hovers on the almost empty pack.",
        (
            Condition(lambda r: not r.held_by_cap, "The cap holds the throttle below the stick."),
            Condition(
                lambda r: abs(float(r.here.end.thrust_gf[0]) / float(r.point.thrust_per_motor_gf) - 1) < 0.025,
                "On the almost empty pack it climbs or sinks there.",
            ),
        ),
        "Read the other curves at the same stick: on the full pack it would shoot up.",
        (
            "Two curves matter: hover, which is level, and the lowest of the three.",
            "The sentence below the chart gives the thrust on the almost empty pack.",
        ),
    ),
)  # fmt: skip

SOLUTIONS: dict[str, dict[str, object]] = {
    "cap-for-the-burst": {"throttle_cap_pct": 71.0},
    "hover-almost-empty": {"stick_pct": 54.0},
}
