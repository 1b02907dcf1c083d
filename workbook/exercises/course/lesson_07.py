"""Exercises of lesson 7: sag under constant power, landing voltage, flight time."""

from __future__ import annotations

import random
from functools import lru_cache

from workbook.battery.cell import Cell
from workbook.battery.discharge import most_power_w, naive_minutes, voltage_under_power
from workbook.battery.pack import Pack
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
    nominal_for_sagged,
    reserve_left_out,
    sixty,
)
from workbook.files.cell_file import find_cell
from workbook.files.club_file import club_rules
from workbook.sizing.constant_power_flight import constant_power_flight
from workbook.sizing.working import CIRCUIT
from workbook.working import Step

LESSON = "landing_voltage"


@lru_cache(maxsize=1)
def _cell() -> Cell:
    return find_cell("Bittern 50E")


def _loaded_voltage(draw: random.Random) -> Drawn:
    u, r_mohm, watts = (
        draw.choice([3.35, 3.45, 3.55]),
        draw.choice([40, 50, 60]),
        draw.choice([20, 24, 28]),
    )
    expected = float(voltage_under_power(u, r_mohm, watts))
    slips = apart(
        expected,
        [
            Slip(u, "That is the voltage at rest; under load the cell sags."),
            Slip(u - expected, "That is the other root, or the sag: the cell works at the higher voltage."),
            Slip(u - watts * r_mohm / 1000, "Watts were taken for amperes: the sag is current x resistance."),
            Slip(2 * expected, "The sum was not halved."),
        ],
        0.005,
    )  # fmt: skip
    amperes = watts / expected
    steps = (
        Step("loaded_v", "cell voltage under load", "(U + sqrt(U^2 - 4 P R)) / 2",
             f"({u:g} V + sqrt({u:g}^2 - 4 x {watts} W x {r_mohm / 1000:g} ohm)) / 2", expected, "V", CIRCUIT),
    )  # fmt: skip
    assert abs(u - amperes * r_mohm / 1000 - expected) < 1e-9
    return Drawn({"u": u, "r": r_mohm, "watts": watts}, expected, slips, steps)


def _current_at_the_end(draw: random.Random) -> Drawn:
    series, parallel = draw.choice([(4, 2), (6, 2), (6, 3), (4, 3)])
    watts = draw.choice([15, 18, 22, 25]) * series * parallel
    loaded = draw.choice([3.05, 3.10, 3.15, 3.20])
    expected = watts / series / parallel / loaded
    slips = apart(
        expected,
        [
            Slip(expected * parallel, f"That is the whole pack's; {parallel} cells share it."),
            Slip(expected * series, "The watts are shared by all cells, in series as well."),
            *nominal_for_sagged(expected, loaded, 3.6),
            *nominal_for_sagged(expected, loaded, 4.2),
        ],
        0.01,
    )
    step = Step(
        "end_a", "current of one cell", "power / (S x P x cell voltage under load)",
        f"{watts} W / ({series} x {parallel} x {loaded:g} V)", expected, "A", CIRCUIT,
    )  # fmt: skip
    numbers = {"series": series, "parallel": parallel, "watts": watts, "loaded": loaded}
    return Drawn(numbers, expected, slips, (step,))


def _flight_time(draw: random.Random) -> Drawn:
    rules = club_rules().rules
    series, parallel = draw.choice([(4, 2), (6, 2), (6, 3)])
    watts = float(draw.choice([16, 18, 20, 22]) * series * parallel)
    pack = Pack(_cell(), series, parallel)
    flight = constant_power_flight(pack, watts, rules.landing_v, rules.reserve_pct)
    run = flight.run
    charge_ah = round(float(run.charge_ah) * parallel, 2)
    mean_v = round(float(run.energy_wh) / float(run.charge_ah), 3)
    expected = 60.0 * charge_ah * mean_v * series / watts
    start_a = flight.start_a
    slips = apart(
        expected,
        [
            Slip(
                float(naive_minutes(charge_ah, start_a)),
                "That is charge over the current of take-off; the current rises all the way.",
            ),
            Slip(expected / series, f"The cells in series were left out: the pack has {series} times that voltage."),
            Slip(expected / parallel, "The charge is that of the whole pack already."),
            Slip(expected * 4.2 / mean_v, "That flies the whole way at 4.2 V a cell, which is full and at rest."),
            *sixty(expected),
            *reserve_left_out(expected, 1 - rules.reserve_pct / 100),
        ],
        0.015,
    )  # fmt: skip
    steps = (
        Step("energy_wh", "energy delivered", "charge x S x mean cell voltage under load",
             f"{charge_ah} Ah x {series} x {mean_v} V", charge_ah * series * mean_v, "Wh", CIRCUIT),
        Step("flight_min", "flight time", "60 x energy / power", f"60 x {charge_ah * series * mean_v:.4g} Wh / {watts:g} W",
             expected, "min", "endurance = energy / power"),
    )  # fmt: skip
    numbers = {
        "series": series, "parallel": parallel, "watts": watts, "charge": charge_ah, "mean": mean_v,
        "start": start_a,
    }  # fmt: skip
    return Drawn(numbers, expected, slips, steps)


def _most_power(draw: random.Random) -> Drawn:
    u, r_mohm = draw.choice([3.2, 3.3, 3.4, 3.5]), draw.choice([60, 80, 100, 120])
    expected = float(most_power_w(u, r_mohm))
    slips = (
        Slip(4 * expected, "U^2 / R is what a short circuit would burn; the 4 is missing."),
        Slip(2 * expected, "Half of it heats the cell: U^2 / (2 R) is the whole, inside and out."),
        Slip(u**2 / (4 * r_mohm), "The resistance is in milliohm: divide it by 1000 first."),
        Slip(expected / u, "U has to be squared."),
    )
    step = Step("most_w", "the most power of one cell", "U^2 / (4 R)", f"{u:g}^2 / (4 x {r_mohm / 1000:g} ohm)",
                expected, "W", "maximum power transfer theorem")  # fmt: skip
    return Drawn({"u": u, "r": r_mohm}, expected, apart(expected, slips, 0.02), (step,))


EXERCISES = (
    NumberExercise(
        "voltage-under-load",
        LESSON,
        "Almost empty, a cold cell rests at {u:.2f} V and has {r} mohm. It must give {watts} W. What is its voltage "
        "under load?",
        _loaded_voltage,
        "V",
        0.005,
        (
            "The current is not known yet: power = V x I, and V = U - I R.",
            "V = (U + sqrt(U^2 - 4 P R)) / 2, with R in ohm.",
        ),
    ),
    NumberExercise(
        "cell-current-at-landing",
        LESSON,
        "A {series}S{parallel}P pack gives {watts} W to a hover. At landing each cell stands at {loaded:.2f} V under "
        "load. What current does one cell carry then?",
        _current_at_the_end,
        "A",
        0.01,
        (
            "Each cell gives its share of the watts.",
            "The cell's watts over the voltage that it has just then, not over its nominal voltage.",
        ),
    ),
    NumberExercise(
        "minutes-by-energy",
        LESSON,
        "A {series}S{parallel}P pack takes off at {start:.1f} A and gives {watts:.0f} W throughout. Down to landing, with "
        "the reserve left in it, {charge:.2f} Ah are taken, at a mean of {mean:.2f} V a cell under load. How long is the "
        "flight?",
        _flight_time,
        "min",
        0.015,
        (
            "The watts stay as they are; the amperes do not.",
            "Energy first: charge times S times the mean voltage. Then 60 times energy over power.",
        ),
    ),
    NumberExercise(
        "where-it-collapses",
        LESSON,
        "A cold, old cell rests at {u:.1f} V and has {r} mohm. Above which power does its voltage collapse?",
        _most_power,
        "W",
        0.01,
        ("Where does the square root of U^2 - 4 P R end?", "P = U^2 / (4 R), with R in ohm."),
    ),
    ChoiceExercise(
        "rebound",
        LESSON,
        "You land at 3.10 V a cell under load. Ten minutes later the cells read 3.38 V. What does it mean?",
        (
            Option(
                "charge came back: there is another short flight in it",
                "Nothing came back. The sag is gone with the current, and returns with it.",
            ),
            Option(
                "the current is gone, and the sag with it",
                "Voltage at rest says how much is left; voltage under load says whether you may go on flying.",
                right=True,
            ),
            Option(
                "it landed too early: 3.38 V is far above 3.1 V",
                "3.1 V was under load. At rest that is this very 3.38 V; compare like with like.",
            ),
        ),
    ),
    ChoiceExercise(
        "which-threshold",
        LESSON,
        "Your flight controller reports the sag-compensated (resting) voltage. Your pack lands at 3.10 V loaded, which "
        "is 3.35 V at rest. What do you enter for it to land?",
        (
            Option(
                "3.10 V",
                "It would wait until the cells rest at 3.10 V: loaded they would be near 2.8 V by then.",
            ),
            Option("3.35 V", "Compare like with like: a resting voltage with a resting one.", right=True),
            Option(
                "3.50 V, as for lithium-polymer",
                "About a third of the charge is still aboard there.",
            ),
        ),
        ("Look at the table below the figure: each threshold stands there twice.",),
    ),
    SettingExercise(
        "cold-morning",
        LESSON,
        "Make it colder until the landing voltage ends the flight, not the reserve, with the power as it is in your "
        "hover and the landing voltage of your design.",
        (
            Condition(lambda r: bool(r.run.landed), "The reserve still comes first."),
            Condition(lambda r: bool(r.run.time_s > 0), "It does not even take off."),
            Condition(lambda r: r.factor > 1.0, "The resistance is that of a fresh cell at 25 °C."),
        ),
        "The charge is still in the cells, but it cannot be had at that power: minutes go, and the reserve with them.",
        ("Drag the resistance to the right.", "At freezing it is about twice that at 25 °C."),
    ),
    SettingExercise(
        "half-the-estimate",
        LESSON,
        "Find a load and a cold that make the flight shorter than half of what Ah over A promises.",
        (
            Condition(lambda r: bool(r.run.time_s > 0), "It does not even take off."),
            Condition(
                lambda r: bool(r.flight_min < 0.5 * r.naive_min),
                "The flight is still more than half of the estimate.",
            ),
        ),
        "Look where the curve meets the landing line, and how near the collapse is behind it.",
        (
            "More power and more resistance both push the loaded curve down.",
            "Twice the power at a resistance of 2 is a good try.",
        ),
    ),
)  # fmt: skip

SOLUTIONS: dict[str, dict[str, object]] = {
    "cold-morning": {"resistance_factor": 3.0},
    "half-the-estimate": {"resistance_factor": 4.0, "power_w": 500.0},
}
