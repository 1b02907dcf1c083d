"""Choices that none beats, against the definition."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.errors import InputError
from workbook.sizing.pareto import pareto


def brute_force(costs: np.ndarray) -> np.ndarray:
    at_least = (costs[:, None, :] <= costs[None, :, :]).all(axis=2)
    better = (costs[:, None, :] < costs[None, :, :]).any(axis=2)
    return ~(at_least & better).any(axis=0)


@pytest.mark.parametrize("objectives", [1, 2, 3, 5])
@pytest.mark.parametrize("rounded", [False, True])
def test_the_front_is_that_of_the_definition(objectives: int, rounded: bool) -> None:
    """Against the definition itself, every pair compared; rounded figures make many equal."""
    rng = np.random.default_rng(objectives)
    costs = rng.normal(size=(400, objectives))
    if rounded:
        costs = np.round(costs * 2.0)
    np.testing.assert_array_equal(pareto(costs), brute_force(costs))


def test_the_front_leaves_out_what_cannot_be_told() -> None:
    costs = np.array([[1.0, 1.0], [np.nan, 0.0], [0.0, 2.0]])
    assert pareto(costs).tolist() == [True, False, True]
    assert pareto(np.empty((0, 2))).tolist() == []
    with pytest.raises(InputError):
        pareto(np.array([1.0, 2.0]))
