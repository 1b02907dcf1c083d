"""Questions as learners draw them: plausible, unambiguous, of some variety, and their replies true."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.exercises.claims import found_false
from workbook.exercises.exercise import NumberExercise
from workbook.lessons.course import COURSE

NUMBERS = {e.id: e for lesson in COURSE for e in lesson.exercises if isinstance(e, NumberExercise)}
FEW, MANY = range(50), range(500)
COUNTS = {"strip-tab-layers", "choosing-count-the-front", "choosing-within-100-wh"}
"""Of these the answer is a small whole number; there are at least four."""

# What these craft and cells do, common practice, no source: a hover takes 0.5 to 2.5 C; a cell that flies stands
# between 2.7 and 4.0 V under load, at rest between 3.2 and 4.2 V; a craft weighs 8 kg at most; a motor of these
# tables hovers on 10 to 300 W.
HOVER_C: dict[str, Callable[[Any], float]] = {
    "c-rate-to-amperes": lambda d: d.c_rate,
    "c-rate-of-a-draw": lambda d: d.amps / (d.parallel * d.rated),
    "c-rate-minutes": lambda d: d.c_rate,
    "wiring-current-share": lambda d: d.current / (d.parallel * d.capacity_ah),
    "minutes-by-energy": lambda d: d.start / (d.charge / 0.8),
    "datasheet-energy": lambda d: d.amps / d.rated,
}
LOADED_V: dict[str, Callable[[Any], float]] = {
    "amps-at-own-volts": lambda d: d.volts / round(d.volts / 3.4),
    "amps-of-the-craft": lambda d: d.volts / 6,
    "voltage-under-load": lambda d: d.answer,
    "datasheet-loaded-voltage": lambda d: d.answer,
    "cell-current-at-landing": lambda d: d.loaded,
    "minutes-by-energy": lambda d: d.mean,
    "watts-at-the-ceiling": lambda d: d.loaded,
    "thrust-at-sagged-voltage": lambda d: d.sagged / d.series,
    "power-from-a-slip": lambda d: d.loaded / 6,
}
REST_V: dict[str, Callable[[Any], float]] = {
    "datasheet-loaded-voltage": lambda d: d.rest_v,
    "voltage-under-load": lambda d: d.u,
    "power-from-a-slip": lambda d: d.rest / 6,
}
MOTOR_W: dict[str, Callable[[Any], float]] = {
    "craft-watts-of-one-motor": lambda d: d.answer,
    "craft-hover-power": lambda d: d.motor_w,
    "amps-of-the-craft": lambda d: d.motor_w,
}
RANGES = ((HOVER_C, 0.5, 2.5), (LOADED_V, 2.7, 4.0), (REST_V, 3.2, 4.2), (MOTOR_W, 10, 300))


def check_draws(exercise: NumberExercise, seeds: range) -> None:
    draws = [exercise.drawn(seed) for seed in seeds]
    assert all(d.clear for d in draws), (
        "plausible, and no slip at the right answer or at another slip"
    )
    for d in draws:
        assert d.expected != 0
        assert found_false(d) == [], d.text
        for figure, least, most in ((f.get(exercise.id), a, b) for f, a, b in RANGES):
            assert figure is None or least <= figure(d.given) <= most, d.text
    answers = {round(d.expected, 6) for d in draws}
    assert len({d.text for d in draws}) >= 10
    assert len(answers) >= (3 if exercise.id in COUNTS else 5)


@pytest.mark.parametrize("exercise", NUMBERS.values(), ids=NUMBERS)
def test_fifty_draws_of_every_exercise_are_sound(exercise: NumberExercise) -> None:
    check_draws(exercise, FEW)


@pytest.mark.long
@pytest.mark.parametrize("exercise", NUMBERS.values(), ids=NUMBERS)
def test_five_hundred_draws_of_every_exercise_are_sound(exercise: NumberExercise) -> None:
    check_draws(exercise, MANY)


def test_what_is_looked_at_is_there() -> None:
    named = {name for figures, _, _ in RANGES for name in figures} | COUNTS
    assert named <= set(NUMBERS)


@pytest.mark.parametrize(
    ("name", "slip", "words"),
    [
        # the answer of one row alone scaled, 370 gf from 339 gf at 26.5 W: 26.5 x 370 / 339 = 28.9 W
        ("craft-watts-of-one-motor", lambda d: d.low_w * d.thrust / d.low_gf, "row below"),
        ("craft-hover-power", lambda d: d.motor_w * d.rotors, "both left out"),
        ("wiring-capacity", lambda d: d.series * d.parallel * d.capacity_ah, "All cells"),
        ("wiring-energy", lambda d: d.series * d.parallel * d.capacity_ah, "volts are left out"),
        ("watts-between-rows", lambda d: d.p1 * d.thrust / d.t1, "lower row"),
    ],
)
def test_slips_that_learners_make_are_named(name: str, slip: Any, words: str) -> None:
    for seed in FEW:
        found = NUMBERS[name].check(seed, slip(NUMBERS[name].drawn(seed).given))
        assert found.state == "slip"
        assert words in found.message


def test_a_wrong_answer_without_a_known_slip_gets_the_next_step_to_try() -> None:
    exercise = NUMBERS["craft-hover-power"]
    wrong = [exercise.check(1, 12345.0, tries).message for tries in (0, 1, 5)]
    assert wrong[0] == f"12345 W is too high. Next step: {exercise.hints[0]}"
    assert wrong[1] == wrong[2] == f"12345 W is too high. Next step: {exercise.hints[1]}"
