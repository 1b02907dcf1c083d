"""Least squares within bounds, against a closed form; where a falling function is zero, against Brent's method."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from workbook.fitting import falling_root, least_squares
from workbook.numbers import FloatArray

T = np.linspace(0.0, 2.0, 25)
LOW, HIGH = [0.2, 0.1, 0.0], [3.0, 2.0, 0.5]


def fading(seed: int, *, offset: float) -> FloatArray:
    """A fading current with noise of 1 %, drawn."""
    noise = 0.01 * np.random.default_rng(seed).normal(size=T.size)
    return np.asarray(1.3 * np.exp(-T / 0.7) + offset + noise)


@pytest.mark.parametrize("offset", [0.2, -0.3, 0.9], ids=["inside", "at the lower", "at the upper"])
@pytest.mark.parametrize("seed", range(5))
def test_no_step_within_the_bounds_leaves_less(seed: int, offset: float) -> None:
    measured = fading(seed, offset=offset)

    def misses(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] * np.exp(-T / x[1]) + x[2] - measured)

    found = least_squares(misses, [1.0, 1.0, 0.1], LOW, HIGH)
    assert (found >= LOW).all()
    assert (found <= HIGH).all()
    least = np.sum(misses(found) ** 2)
    for step in np.vstack([np.eye(3), -np.eye(3)]) * 1e-3:
        beside = np.clip(found + step, LOW, HIGH)
        assert np.sum(misses(beside) ** 2) >= least * (1.0 - 1e-9)


def test_straight_line_as_the_normal_equations_have_it() -> None:
    measured = fading(1, offset=0.1)
    slope, level = np.polyfit(T, measured, 1)  # the closed form
    found = least_squares(lambda x: x[0] + x[1] * T - measured, [1, -1], [-5, -5], [5, 5])
    assert found == pytest.approx([level, slope], rel=1e-10)


def test_an_unknown_that_changes_nothing_is_left_alone() -> None:
    found = least_squares(lambda x: x[:1] - 0.5 + 0.0 * x[1], [0.1, 0.3], [0, 0], [1, 1])
    assert found == pytest.approx([0.5, 0.3])


def falling(x: FloatArray) -> FloatArray:
    return np.asarray(np.array([2.0, 5.0, 60.0]) - x**3 - x)


def test_a_falling_function_is_settled_as_brent_settles_it() -> None:
    low, high = np.zeros(3), np.full(3, 5.0)
    found = falling_root(
        falling, np.ones(3), lambda x, _: -3 * x**2 - 1, low, high, np.asarray(1e-12)
    )
    expected = [brentq(lambda x, k=k: k - x**3 - x, 0.0, 5.0) for k in (2.0, 5.0, 60.0)]
    assert found == pytest.approx(expected, rel=1e-11)


def test_a_slope_that_misleads_is_made_good_by_halving() -> None:
    low, high = np.zeros(3), np.full(3, 5.0)
    found = falling_root(
        falling, np.ones(3), lambda x, _: np.full(3, -1e-9), low, high, np.asarray(1e-12)
    )
    assert falling(found) == pytest.approx([0.0] * 3, abs=1e-10)


def test_what_is_not_within_bounds_is_no_figure() -> None:
    low, high = np.zeros(3), np.full(3, 2.0)
    found = falling_root(
        falling, np.ones(3), lambda x, _: -3 * x**2 - 1, low, high, np.asarray(1e-12)
    )
    assert np.isnan(found).tolist() == [False, False, True]
