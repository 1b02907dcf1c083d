"""The margin budget's draws and the sweep, end to end, beside a plain loop over `size`.

Run: python -m tests.benchmarks --only sweep
The loop is timed over a few hundred and extended in proportion; its note says so. Processor time is of
all threads together: on a machine that others use, it tells more than the clock.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from time import perf_counter, process_time
from typing import Any
from unittest.mock import patch

import numpy as np

from workbook.bench.bench_settings import Bay
from workbook.files.cell_file import catalogue
from workbook.files.design_file import read_design
from workbook.sizing.budget import budget, evaluate
from workbook.sizing.budget_lines import STANDARD_LINES, apply, draw_lines
from workbook.sizing.candidates import Sweep, pareto
from workbook.sizing.design import Constraints, Design
from workbook.sizing.size import size
from workbook.sizing.sweep import sweep

DESIGN = Path(__file__).parents[2] / "notebooks" / "designs" / "survey_six.toml"
DRAWS, LOOPED = 100_000, 300


def _best(call: Any, times: int = 3) -> tuple[float, float, Any]:
    """The shortest of a few runs by the clock, the shortest by processor time, the last result."""
    clock_s, processor_s, result = np.inf, np.inf, None
    for _ in range(times):
        start, worked = perf_counter(), process_time()
        result = call()
        clock_s = min(clock_s, perf_counter() - start)
        processor_s = min(processor_s, process_time() - worked)
    return clock_s, processor_s, result


def _draws(design: Design) -> list[dict[str, Any]]:
    values = draw_lines(STANDARD_LINES, DRAWS, 1)

    def one_by_one() -> None:
        for k in range(LOOPED):
            applied = apply(design, STANDARD_LINES, values[:, k])
            size(applied.design, applied.allowances)

    loop_s, _, _ = _best(one_by_one, 1)
    peer = {"peer": "loop over size()", "peer_s": loop_s * DRAWS / LOOPED}
    note = f"loop extended from {LOOPED}; size() also writes working and notes"
    whole_s, worked_s, _ = _best(lambda: budget(design, draws=DRAWS))
    rows = [
        {
            "name": f"margin budget of {DRAWS:,} draws",
            "ours_s": whole_s,
            **peer,
            "note": f"processor {worked_s:.2f} s; {note}",
        },
    ]
    for threads in (1, 2):
        ours_s, worked_s, _ = _best(
            lambda n=threads: evaluate(design, STANDARD_LINES, values, threads=n)
        )  # type: ignore[misc]
        rows.append(
            {
                "name": f"the draws alone, {threads} thread{'s' * (threads > 1)}",
                "ours_s": ours_s,
                **peer,
                "note": f"processor {worked_s:.2f} s; {note}",
            }
        )
    return rows


def _sweeps(design: Design) -> list[dict[str, Any]]:
    """12 cells x 12 S x 14 P x 25 payloads x 20 joints: 1 008 000 candidates."""
    cells = tuple(catalogue().values())
    asked = (cells, range(3, 15), range(1, 15))
    axes = {"payload_g": np.linspace(0.0, 800.0, 25), "joint_mohm": np.linspace(4.0, 20.0, 20)}
    constraints = Constraints(Bay(170.0, 100.0, 80.0), 200.0)

    def run(screen: bool, **workers: Any) -> Sweep:
        return sweep(design, *asked, axes=axes, constraints=constraints, screen=screen, **workers)

    for cell in cells:
        assert cell.model is not None  # made once a cell, before the clock
    rows = []
    peer: dict[str, Any] = {}
    for name, call in (
        ("all sized, 1 thread", partial(run, False, threads=1)),
        ("all sized, 2 threads", partial(run, False, threads=2)),
        ("sieved first, 1 thread", partial(run, True, threads=1)),
        ("sieved first, 2 threads", partial(run, True, threads=2)),
    ):
        ours_s, worked_s, found = _best(call, 2)
        if not peer:
            some = np.random.default_rng(1).choice(len(found), LOOPED, replace=False)

            def one_by_one(found: Sweep = found, some: np.ndarray = some) -> None:
                for row in some.tolist():
                    size(found.design_of(row))

            loop_s, _, _ = _best(one_by_one, 1)
            peer = {"peer": "loop over size()", "peer_s": loop_s * found.asked / LOOPED}
        share = 100 * float(np.mean(found["screened"]))
        aside = f", {share:.0f} % set aside" if share else ""
        rows.append(
            {
                "name": f"{found.asked:,} candidates, {name}",
                "ours_s": ours_s,
                **peer,
                "note": f"processor {worked_s:.2f} s; loop extended from {LOOPED}{aside}",
            }
        )
    with two_workers() as client:
        ours_s, worked_s, found = _best(partial(run, False, only_survivors=True, client=client))
    note = f"processor {worked_s:.2f} s here, beside the workers' own; {len(found):,} survive"
    name = f"{found.asked:,} candidates, all sized, 2 workers kept"
    return [*rows, {"name": name, "ours_s": ours_s, **peer, "note": note}]


@contextmanager
def two_workers() -> Iterator[Any]:
    """A cluster on this machine, as DEVELOPERS.md says that its workers should be started."""
    import dask
    from distributed import Client, LocalCluster

    dask.config.set({"distributed.nanny.pre-spawn-environ.MALLOC_MMAP_THRESHOLD_": 2**26})
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        yield client


def _few_drawn(design: Design) -> dict[str, Any]:
    """What it buys to draw a few of many flights first: 12 cells x 2 S x 4 P x 25 payloads x 20 joints."""
    axes = {"payload_g": np.linspace(0.0, 400.0, 25), "joint_mohm": np.linspace(4.0, 20.0, 20)}
    asked = (design, tuple(catalogue().values()), (5, 6), range(2, 6))
    ours_s, worked_s, found = _best(lambda: sweep(*asked, axes=axes, threads=1), 2)
    with patch("workbook.sizing.flight_times.FIRST", sys.maxsize):
        peer_s, peer_worked_s, every = _best(lambda: sweep(*asked, axes=axes, threads=1), 2)
    assert (found.survives == every.survives).all()
    return {
        "name": f"{found.asked:,} candidates, a few of many flights drawn first",
        "ours_s": ours_s,
        "peer": "all drawn that the middle leaves open",
        "peer_s": peer_s,
        "note": f"processor {worked_s:.2f} s to {peer_worked_s:.2f} s; {found.survives.sum():,} survive",
    }


def _front() -> list[dict[str, Any]]:
    costs = np.random.default_rng(1).normal(size=(1_000_000, 2))
    few = costs[:2000]

    def by_definition() -> np.ndarray:
        at_least = (few[:, None, :] <= few[None, :, :]).all(axis=2)
        better = (few[:, None, :] < few[None, :, :]).any(axis=2)
        return np.asarray(~(at_least & better).any(axis=0))

    pairs_s, _, _ = _best(by_definition, 1)
    ours_s, _, _ = _best(lambda: pareto(costs))
    return [
        {
            "name": "front of 1,000,000, two objectives",
            "ours_s": ours_s,
            "peer": "every pair",
            "peer_s": pairs_s * (len(costs) / len(few)) ** 2,
            "note": "pairs extended from 2000",
        }
    ]


def run() -> list[dict[str, Any]]:
    """The rows of this benchmark."""
    design = dataclasses.replace(read_design(DESIGN).design, mission=())
    return [
        *_draws(design),
        *_sweeps(design),
        _few_drawn(design),
        *_front(),
    ]
