"""How long matching takes and how near the bound it comes, beside an exact solver.

The peer is scipy.optimize.milp on the same cells, stopped after as long as the longest search.

Run: python -m tests.benchmarks --only matching
"""

from __future__ import annotations

from time import perf_counter
from typing import Any

import numpy as np

from workbook.bench import matching

CASES = ((16, 4, 4), (60, 6, 9), (200, 14, 14), (1000, 20, 48))
"""Cells bought, series, parallel."""


def run() -> list[dict[str, Any]]:
    """A row for each size."""
    rows = []
    for cells, series, parallel in CASES:
        rng = np.random.default_rng(7)
        capacity = np.round(rng.normal(3.0, 0.04, cells), 3)
        resistance = np.round(rng.normal(25.0, 2.0, cells), 1)
        start = perf_counter()
        got = matching.match(capacity, series, parallel, resistance)
        ours_s = perf_counter() - start
        start = perf_counter()
        bound_ah = matching.weakest_bound_ah(capacity, series, parallel)
        solved = matching._solve_exactly(capacity, series, parallel)
        peer_s = perf_counter() - start
        if solved is None:
            peer = "ran out of time"
        else:
            weakest = matching._Deal(capacity, solved, series).sums.min()
            peer = f"{100 * (1 - weakest / bound_ah):.4f} % below the bound"
        rows.append(
            {
                "name": f"{cells} cells into {series} groups of {parallel}",
                "ours_s": ours_s,
                "peer": "scipy.optimize.milp",
                "peer_s": peer_s,
                "ratio": peer_s / ours_s,
                "note": f"ours {100 * (1 - got.weakest_ah / bound_ah):.4f} % below the bound; peer {peer}",
            }
        )
    return rows
