"""Which choices are not beaten in everything by another one."""

from __future__ import annotations

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray


def pareto(costs: FloatArray) -> np.ndarray:
    """Where no other row is at least as good in every cost and better in one.

    Args:
        costs: shape (n, k), less is better (turn the sign of what should be high). Rows with NaN are
            never on the front. Equal rows are on it together.

    Returns:
        True on the Pareto front, shape (n,).

    Raises:
        InputError: `costs` is no table.

    Source: definition of the Pareto front; rows in rising order, so that only an earlier one beats a
        later one; for two costs one scan (Kung, Luccio and Preparata, Journal of the ACM 22, 1975, from memory).

    Example:
        >>> pareto(np.array([[1.0, 5.0], [2.0, 3.0], [2.0, 4.0], [3.0, 3.0]]))
        array([ True,  True, False, False])
    """
    costs = np.asarray(costs, dtype=float)
    if costs.ndim != 2 or not costs.shape[1]:
        raise InputError("costs must be a table: one row a choice, one column a cost.")
    on = np.zeros(len(costs), dtype=bool)
    left = np.lexsort(costs.T[::-1])
    left = left[~np.isnan(costs[left]).any(axis=1)]
    if costs.shape[1] <= 2 and len(left):
        last = costs[left, -1]
        new = np.concatenate([[True], last[1:] < np.minimum.accumulate(last)[:-1]])
        kept = costs[left[new]][np.cumsum(new) - 1]  # the last one on the front, for each row
        on[left[(costs[left] == kept).all(axis=1)]] = True
        return on
    while len(left):
        best = costs[left[0]]
        on[left[(costs[left] == best).all(axis=1)]] = True
        left = left[(costs[left] < best).any(axis=1)]
    return on
