"""Exercises: speeds, power and currents of a wing."""

from __future__ import annotations

from workbook.craft.air import STANDARD_DENSITY_KG_M3
from workbook.craft.wing import Polar, wing_speeds
from workbook.exercises.choices import choices_of
from workbook.exercises.exercise import Exercise, NumberExercise, SettingExercise
from workbook.exercises.slips import sixty
from workbook.numbers import STANDARD_GRAVITY_M_S2
from workbook.sizing.wing_curve import by_mass

EXERCISES: tuple[Exercise, ...] = (
    NumberExercise(
        "wing-cruise-power",
        "A wing of {mass:g} kg flies level at {speed:g} m/s with a lift over drag of {glide:g}. "
        "Propeller and motor together are {efficiency:g} efficient, the avionics draw "
        "{avionics:g} W. How many watts does the pack give?",
        "W",
        0.005,
        draw={
            "mass": [tenth / 10 for tenth in range(16, 26)],
            "speed": [11.0, 12.0, 13.0, 14.0, 15.0],
            "glide": [9.0, 10.0, 11.0, 12.0],
            "efficiency": [0.42, 0.45, 0.48],
            "avionics": [6.0, 8.0, 10.0],
            "g": lambda d: STANDARD_GRAVITY_M_S2,
            "drag_w": lambda d: d.mass * d.g * d.speed / d.glide,
            "motor_w": lambda d: d.drag_w / d.efficiency,
        },
        answer=lambda d: d.motor_w + d.avionics,
        slips=lambda d: {
            "The efficiency of propeller and motor is left out.": d.drag_w + d.avionics,
            "Multiplied by the efficiency: divide.": d.drag_w * d.efficiency + d.avionics,
            "The avionics are left out.": d.motor_w,
            "The avionics do not go through the propeller.": (d.drag_w + d.avionics) / d.efficiency,
            "Mass is not weight: 9.81 is missing.": d.motor_w / d.g + d.avionics,
            "The propeller pushes against drag, weight over L/D.": d.motor_w * d.glide + d.avionics,
        },
        hints=(
            "How large is the drag, in newtons? Drag times speed is what the propeller must do.",
            "m g V / (L/D), over the efficiency; the avionics come on top.",
        ),
    ),
    NumberExercise(
        "wing-heavier-power",
        "At the speed of its least power a wing needs {watts:g} W of motor power. A larger pack "
        "makes the whole craft {more} % heavier. How many watts of motor power does it need now,"
        " at its new best speed?",
        "W",
        0.005,
        draw={
            "more": [15, 20, 25, 30, 40],
            "watts": range(35, 65, 5),
            "factor": lambda d: 1 + d.more / 100,
            "faster stronger": lambda d: by_mass(d.factor),
        },
        answer=lambda d: d.watts * d.stronger,
        slips=lambda d: {
            "In proportion to mass is drag alone; it also flies faster.": d.watts * d.factor,
            "Mass squared is too much: power goes as mass^1.5.": d.watts * d.factor**2,
            "That is how the speed grows, not the power.": d.watts * d.faster,
            "Mass cubed is too much: power goes as mass^1.5.": d.watts * d.factor**3,
        },
        hints=(
            "It flies at the same lift coefficient, so faster: with the square root of the mass.",
            "Drag grows with the mass, speed with its square root; power is drag times speed.",
        ),
    ),
    NumberExercise(
        "wing-slowest-cruise",
        "A wing of {area:g} m² carries {mass:g} kg; its largest lift coefficient is {lift:g}, "
        "and the air has 1.225 kg/m³. With a margin of 1.2 on the stall speed, how slow may it "
        "cruise, in m/s?",
        "m/s",
        0.005,
        draw={
            "mass": [tenth / 10 for tenth in range(14, 26)],
            "area": [0.32, 0.36, 0.41, 0.46],
            "lift": [1.05, 1.1, 1.15, 1.2],
            "polar": lambda d: Polar(d.area, 1.9, 0.034, 0.8, d.lift),
            "stall": lambda d: wing_speeds(d.polar, 1000 * d.mass).stall_m_s,
            "density": lambda d: STANDARD_DENSITY_KG_M3,
        },
        answer=lambda d: 1.2 * d.stall,
        slips=lambda d: {
            "That is the stall itself; there is no margin for a gust or a turn.": d.stall,
            "Mass is not weight: 9.81 is missing.": d.answer / STANDARD_GRAVITY_M_S2**0.5,
            "The 2 is missing: lift is half of density x speed squared.": d.answer / 2**0.5,
            "The margin of 1.2 is on the speed, so it stands outside the root.": 1.2**0.5 * d.stall,
            "The root is missing.": d.answer * d.stall,
        },
        hints=(
            "At the stall 0.5 x density x V^2 x area x C_L just carries the weight.",
            "Solve for V, then multiply by 1.2.",
        ),
    ),
    NumberExercise(
        "wing-kilometre-into-wind",
        "At {speed:g} m/s through the air the pack gives {watts} W. How many watt-hours does a "
        "kilometre over ground take against a headwind of {wind:g} m/s?",
        "Wh/km",
        0.005,
        draw={
            "watts": range(42, 70),
            "speed": [12.0, 13.0, 14.0, 15.0],
            "wind": [3.0, 4.0, 5.0, 6.0],
            "ground": lambda d: d.speed - d.wind,
        },
        answer=lambda d: d.watts / (3.6 * d.ground),
        slips=lambda d: {
            "That is in still air; into the wind it takes longer.": d.watts / (3.6 * d.speed),
            "That is with the wind from behind.": d.watts / (3.6 * (d.speed + d.wind)),
            "m/s was taken for km/h: 1 m/s = 3.6 km/h.": d.watts / d.ground,
            "3.6 stands on the wrong side: the speed in km/h is larger.": d.watts * 3.6 / d.ground,
            **sixty(d.answer),
        },
        hints=(
            "How fast does the ground pass by?",
            "Watts over kilometres an hour are watt-hours for a kilometre; 1 m/s = 3.6 km/h.",
        ),
    ),
    *choices_of("wing_asks"),
    SettingExercise(
        "wing-best-into-wind",
        "Set a headwind of 7 m/s or more. Then set the cruise speed to within 0.3 m/s of the one"
        " that takes the craft furthest over ground.",
        {
            "The headwind is below 7 m/s.": lambda r: r.headwind_m_s >= 7,
            "Another cruise speed needs less for a kilometre.": (
                lambda r: abs(r.point.cruise_m_s - r.windy.best.range_m_s) <= 0.3
            ),
        },
        solution={"headwind_m_s": 7.0, "cruise_m_s": 13.9},
        why="Into the wind the best speed is higher, and a kilometre still costs more.",
        hints=(
            "Watch where the point of the cruise stands on the curve of energy for a kilometre.",
            "The lowest place of the curve with the headwind is where to be.",
        ),
    ),
)
