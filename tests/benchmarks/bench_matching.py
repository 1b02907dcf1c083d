"""How long matching takes and how near the bound it comes, beside an exact solver given as long.

Run: python tests/benchmarks/bench_matching.py
"""

from __future__ import annotations

from time import perf_counter

import numpy as np

from workbook.bench import matching


def main() -> None:
    """Print a row for each size: the search, and scipy.optimize.milp stopped at ten times as long."""
    print("cells  S x P     search s  below bound %  solver s  below bound %  solver/search")
    for cells, series, parallel in ((16, 4, 4), (60, 6, 9), (200, 14, 14), (1000, 20, 48)):
        rng = np.random.default_rng(7)
        capacity = np.round(rng.normal(3.0, 0.04, cells), 3)
        resistance = np.round(rng.normal(25.0, 2.0, cells), 1)
        start = perf_counter()
        got = matching.match(capacity, series, parallel, resistance)
        search_s = perf_counter() - start
        start = perf_counter()
        solved = matching._solve_exactly(capacity, series, parallel, max(10 * search_s, 2.0))
        solver_s = perf_counter() - start
        if solved is None:
            short = "ran out of time"
        else:
            weakest = matching._Deal(capacity, solved, series).sums.min()
            short = f"{100 * (1 - weakest / got.bound_ah):13.4f}"
        print(
            f"{cells:5d}  {series:2d} x {parallel:<3d}  {search_s:9.3f}  {got.below_bound_pct:13.4f}"
            f"  {solver_s:8.2f}  {short:>13}  {solver_s / search_s:13.1f}"
        )


if __name__ == "__main__":
    main()
