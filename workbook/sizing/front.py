"""Which choices are not beaten in everything by another one."""

from __future__ import annotations

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray


def front(costs: FloatArray) -> np.ndarray:
    """Where no other row is at least as good in every cost and better in one.

    Args:
        costs: shape (n, k), less is better (turn the sign of what should be high). Rows with NaN are
            never on the front. Equal rows are on it together.

    Returns:
        True on the front, shape (n,).

    Source: definition of the Pareto front; for two costs a sorted scan, n log n (Kung, Luccio and
        Preparata, Journal of the ACM 22, 1975, from memory).

    Example:
        >>> front(np.array([[1.0, 5.0], [2.0, 3.0], [2.0, 4.0], [3.0, 3.0]]))
        array([ True,  True, False, False])
    """
    costs = np.asarray(costs, dtype=float)
    if costs.ndim != 2 or not costs.shape[1]:
        raise InputError("costs must be a table: one row a choice, one column a cost.")
    on = np.zeros(len(costs), dtype=bool)
    known = np.flatnonzero(~np.isnan(costs).any(axis=1))
    if costs.shape[1] == 2:
        known = known[_not_plainly_beaten(costs[known])]
    if not len(known):
        return on
    rows, back = np.unique(costs[known], axis=0, return_inverse=True)
    kept = _of_two(rows) if rows.shape[1] <= 2 else _of_many(rows)
    on[known] = kept[back.reshape(-1)]
    return on


def _not_plainly_beaten(costs: FloatArray) -> np.ndarray:
    """Rows that no row before them, by the first cost, undercuts in the second: a few of many."""
    order = np.argsort(costs[:, 0], kind="stable")
    second = costs[order, 1]
    return np.asarray(order[second <= np.minimum.accumulate(second)])


def _of_two(rows: FloatArray) -> np.ndarray:
    """Rows sorted by the first cost and then the second, all different."""
    last = rows[:, -1]
    if rows.shape[1] == 1:
        return np.asarray(last == last[0])
    before = np.concatenate([[np.inf], np.minimum.accumulate(last)[:-1]])
    return np.asarray(last < before)


def _of_many(rows: FloatArray) -> np.ndarray:
    """Rows in rising order, so that only an earlier row can beat a later one."""
    left = np.arange(len(rows))
    kept = np.zeros(len(rows), dtype=bool)
    while len(left):
        first, left = left[0], left[1:]
        kept[first] = True
        left = left[(rows[left] < rows[first]).any(axis=1)]
    return kept
