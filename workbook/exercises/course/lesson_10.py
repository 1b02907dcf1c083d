"""Exercises of lesson 10: speeds, power and currents of a wing."""

from __future__ import annotations

from random import Random
from typing import Any

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.wing import Polar, wing_speeds
from workbook.exercises.exercise import (
    ChoiceExercise,
    Condition,
    Drawn,
    Exercise,
    NumberExercise,
    Option,
    SettingExercise,
)
from workbook.exercises.slips import Slip, apart, sixty
from workbook.numbers import STANDARD_GRAVITY_M_S2
from workbook.sizing.wing_view import by_mass
from workbook.working import Step

LESSON = "wing_asks"


def _cruise(draw: Random) -> Drawn:
    mass, speed = draw.randrange(16, 26) / 10, draw.choice([11.0, 12.0, 13.0, 14.0, 15.0])
    glide, efficiency, avionics = (
        draw.choice([9.0, 10.0, 11.0, 12.0]),
        draw.choice([0.42, 0.45, 0.48]),
        draw.choice([6.0, 8.0, 10.0]),
    )
    drag_w = mass * STANDARD_GRAVITY_M_S2 * speed / glide
    expected = drag_w / efficiency + avionics
    slips = (
        Slip(drag_w + avionics, "The efficiency of propeller and motor is left out."),
        Slip(drag_w * efficiency + avionics, "Multiplied by the efficiency: the pack gives more than what arrives, "
             "not less."),
        Slip(drag_w / efficiency, "The avionics are left out."),
        Slip((drag_w + avionics) / efficiency, "The avionics do not go through the propeller."),
        Slip(mass * speed / glide / efficiency + avionics, "Mass is not weight: 9.81 is missing."),
        Slip(mass * STANDARD_GRAVITY_M_S2 * speed / efficiency + avionics, "A wing does not lift its weight with the "
             "propeller; it pushes against drag, weight over L/D."),
    )  # fmt: skip
    step = Step(
        "cruise_w", "power in cruise", "m g V / (L/D) / efficiency + avionics",
        f"{mass:g} kg x 9.81 m/s2 x {speed:g} m/s / {glide:g} / {efficiency:g} + {avionics:g} W",
        expected, "W", "drag = weight / (L/D); power = drag x speed",
    )  # fmt: skip
    return Drawn(
        {"mass": mass, "speed": speed, "glide": glide, "efficiency": efficiency, "avionics": avionics},
        expected,
        apart(expected, slips, CRUISE.tolerance),
        (step,),
    )  # fmt: skip


CRUISE = NumberExercise(
    "wing-cruise-power",
    LESSON,
    "A wing of {mass:g} kg flies level at {speed:g} m/s with a lift over drag of {glide:g}. Propeller and motor together are "
    "{efficiency:g} efficient, the avionics draw {avionics:g} W. How many watts does the pack give?",
    _cruise,
    "W",
    0.005,
    (
        "How large is the drag, in newton? Drag times speed is what the propeller must do.",
        "m g V / (L/D), over the efficiency; the avionics come on top.",
    ),
)


def _heavier(draw: Random) -> Drawn:
    more, watts = draw.choice([15, 20, 25, 30, 40]), 5.0 * draw.randrange(7, 13)
    factor = 1 + more / 100
    expected = watts * float(by_mass(factor).power_factor)
    slips = (
        Slip(watts * factor, "In proportion to the mass would be drag alone; it also flies faster."),
        Slip(watts * factor**2, "That is with the square; power goes with the mass to the power of 1.5."),
        Slip(watts * float(by_mass(factor).speed_factor), "That is how the speed grows, not the power."),
        Slip(watts * factor**3, "That is with the cube; power goes with the mass to the power of 1.5."),
    )  # fmt: skip
    step = Step(
        "heavier_w", "least drag power, heavier", "power x (mass ratio)^1.5",
        f"{watts:g} W x {factor:g}^1.5", expected, "W", "the same lift coefficient: V^2 goes with the mass",
    )  # fmt: skip
    return Drawn(
        {"more": more, "watts": watts}, expected, apart(expected, slips, HEAVIER.tolerance), (step,)
    )


HEAVIER = NumberExercise(
    "wing-heavier-power",
    LESSON,
    "At the speed of its least power a wing needs {watts:g} W of motor power. A larger pack makes the whole craft {more} % heavier. "
    "How many watts of motor power does it need now, at its new best speed?",
    _heavier,
    "W",
    0.005,
    (
        "It flies at the same lift coefficient, so faster: with the root of the mass.",
        "Drag grows with the mass, speed with its root; power is drag times speed.",
    ),
)


def _stall(draw: Random) -> Drawn:
    mass, area, lift = (
        draw.randrange(14, 26) / 10,
        draw.choice([0.32, 0.36, 0.41, 0.46]),
        draw.choice([1.05, 1.1, 1.15, 1.2]),
    )
    polar = Polar(area, 1.9, 0.034, 0.8, lift)
    stall = float(wing_speeds(polar, 1000 * mass).stall_m_s)
    expected = 1.2 * stall
    slips = (
        Slip(stall, "That is the stall itself; there is no margin for a gust or a turn."),
        Slip(1.2 * stall / STANDARD_GRAVITY_M_S2**0.5, "Mass is not weight: 9.81 is missing."),
        Slip(1.2 * stall / 2**0.5, "The 2 is missing: lift is half the density times the square of the speed."),
        Slip(1.2**0.5 * stall, "The margin of 1.2 is on the speed, so it stands outside the root."),
        Slip(1.2 * stall**2, "The root is missing."),
    )  # fmt: skip
    step = Step(
        "slowest_m_s", "slowest cruise", "1.2 x sqrt(2 m g / (density x area x C_L))",
        f"1.2 x sqrt(2 x {mass:g} kg x 9.81 / ({STANDARD_DENSITY_KG_M3:g} x {area:g} m2 x {lift:g}))",
        expected, "m/s", "lift equals weight; the margin is common practice, no source",
    )  # fmt: skip
    return Drawn(
        {"mass": mass, "area": area, "lift": lift},
        expected,
        apart(expected, slips, STALL.tolerance),
        (step,),
    )


STALL = NumberExercise(
    "wing-slowest-cruise",
    LESSON,
    "A wing of {area:g} m2 carries {mass:g} kg; its largest lift coefficient is {lift:g}, and the air has 1.225 kg/m3. With a "
    "margin of 1.2 on the stall speed, how slow may it cruise, in m/s?",
    _stall,
    "m/s",
    0.005,
    (
        "At the stall the whole lift, 0.5 x density x V^2 x area x C_L, just carries the weight.",
        "Solve for V, then multiply by 1.2.",
    ),
)


def _wind(draw: Random) -> Drawn:
    watts, speed, wind = (
        draw.randrange(42, 70),
        draw.choice([12.0, 13.0, 14.0, 15.0]),
        draw.choice([3.0, 4.0, 5.0, 6.0]),
    )
    expected = watts / (3.6 * (speed - wind))
    slips = (
        Slip(watts / (3.6 * speed), "That is in still air; the ground passes by more slowly into the wind."),
        Slip(watts / (3.6 * (speed + wind)), "That is with the wind from behind."),
        Slip(watts / (speed - wind), "m/s was taken for km/h: 1 m/s = 3.6 km/h."),
        Slip(watts * 3.6 / (speed - wind), "3.6 stands on the wrong side: the speed in km/h is larger."),
        *sixty(expected),
    )  # fmt: skip
    step = Step(
        "wh_km", "energy for a kilometre", "power / (3.6 x (airspeed - headwind))",
        f"{watts} W / (3.6 x ({speed:g} - {wind:g}) m/s)", expected, "Wh/km", "arithmetic",
    )  # fmt: skip
    return Drawn(
        {"watts": watts, "speed": speed, "wind": wind},
        expected,
        apart(expected, slips, WIND.tolerance),
        (step,),
    )


WIND = NumberExercise(
    "wing-kilometre-into-wind",
    LESSON,
    "At {speed:g} m/s through the air the pack gives {watts} W. How many watt-hours does a kilometre over ground take against a "
    "headwind of {wind:g} m/s?",
    _wind,
    "Wh/km",
    0.005,
    (
        "How fast does the ground pass by?",
        "Watts over kilometres an hour are watt-hours for a kilometre; 1 m/s = 3.6 km/h.",
    ),
)

BENCH = ChoiceExercise(
    "wing-bench-for-cruise",
    LESSON,
    "The thrust table's full-throttle row says 24 A. What is that figure good for?",
    (
        Option(
            "to check cells, wire and controller for the launch",
            "At rest the propeller takes the most; the launch and the first climb are close to it.",
            right=True,
        ),
        Option(
            "to work out the flight time",
            "Cruise draws a fraction of it: you would build a pack several times too large.",
        ),
        Option(
            "for nothing, since a wing flies and does not stand",
            "For some seconds it nearly stands: in your hand at launch, with the motor at full power.",
        ),
        Option(
            "to set the cruise throttle",
            "Throttle for cruise follows from airspeed and drag; measure it in flight.",
        ),
    ),
    ("When does a propeller stand in air that does not move?",),
)

SPEED = ChoiceExercise(
    "wing-which-speed",
    LESSON,
    "You are downwind, the pack is nearly empty, and you want to reach the field against the wind. How fast do you fly?",
    (
        Option(
            "faster than the best-range speed of still air",
            "The tangent from the wind's speed touches further right: time in the wind is lost ground.",
            right=True,
        ),
        Option(
            "at the speed of least power",
            "That keeps you longest in the air, and the wind takes you back all the while.",
        ),
        Option(
            "at the best-range speed of still air",
            "Good in still air; into wind a little faster brings you further.",
        ),
        Option(
            "as slowly as it flies, to save the pack",
            "Near the stall it takes more power, and against the wind hardly any ground is made.",
        ),
    ),
    ("Where on the axis does the tangent begin with a headwind?",),
)


def _cruise_of(result: Any) -> float:
    return float(result.answer.point.cruise_m_s)


BEST = SettingExercise(
    "wing-best-into-wind",
    LESSON,
    "Set a headwind of 7 m/s or more. Then set the cruise speed to within 0.3 m/s of the one that brings the craft furthest over "
    "ground.",
    (
        Condition(lambda r: r.headwind_m_s >= 7.0, "The headwind is below 7 m/s."),
        Condition(
            lambda r: abs(_cruise_of(r) - r.windy.best.range_m_s) <= 0.3,
            "Another cruise speed needs less for a kilometre.",
        ),
    ),
    "Into the wind the best speed lies well above that of still air, and a kilometre costs more all the same.",
    (
        "Watch where the point of the cruise stands on the curve of energy for a kilometre.",
        "The lowest place of the curve with the headwind is where to be.",
    ),
)

EXERCISES: tuple[Exercise, ...] = (CRUISE, HEAVIER, STALL, WIND, BENCH, SPEED, BEST)
SOLUTIONS: dict[str, dict[str, Any]] = {
    "wing-best-into-wind": {"headwind_m_s": 7.0, "cruise_m_s": 13.9}
}
