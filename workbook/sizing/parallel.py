"""Many designs, a few thousand at a time, on more than one core, or on more than one machine."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from operator import call
from typing import Any, TypeVar

Part = TypeVar("Part")

CHUNK = 16384
"""Designs worked at a time: their figures fit the processor's cache."""

Progress = Callable[[int, int], bool | None]
"""Called with how many are done and how many there are; it stops the work by returning False."""


def cores() -> int:
    """Cores that this process may use, at most 8."""
    return min(8, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2)


def slices(count: int, chunk: int = CHUNK, every: int | None = None) -> list[slice]:
    """The whole of `count` rows as slices of at most `chunk`.

    Args:
        count: rows, 1 or more.
        chunk: rows in a slice, at most.
        every: rows of a group; no slice reaches over the end of one. One group, without it.

    Example:
        >>> slices(5, 2)
        [slice(0, 2, None), slice(2, 4, None), slice(4, 5, None)]
        >>> slices(6, 2, every=3)
        [slice(0, 2, None), slice(2, 3, None), slice(3, 5, None), slice(5, 6, None)]
    """
    group = count if every is None else every
    return [
        slice(k, min(k + chunk, first + group))
        for first in range(0, count, group)
        for k in range(first, first + group, chunk)
    ]


def parallel_map(
    work: Callable[[slice], Part],
    rows: Sequence[slice],
    *,
    threads: int | None = None,
    progress: Progress | None = None,
    client: Any = None,
) -> Iterator[Part]:
    """Work on slices of rows side by side; NumPy lets threads run.

    Args:
        work: makes a part from a slice; it must not change anything shared.
        rows: slices without a gap, from 0 (`slices`).
        threads: 1 or more; the cores there are, without it. The result does not depend on it.
        progress: see `Progress`; called in the caller's thread.
        client: a `dask.distributed.Client`, whose workers then do it in place of threads; `work` and the
            parts must be such as can be sent.

    Yields:
        The parts in order, none of them kept here; fewer than there are slices where `progress` stopped the work.

    Example:
        >>> list(parallel_map(lambda rows: rows.stop - rows.start, slices(5, 2)))
        [2, 2, 1]
    """
    from concurrent.futures import Executor, ThreadPoolExecutor

    workers: Executor
    if client is None:
        workers, sent = ThreadPoolExecutor(max(1, threads or cores())), work
    else:  # each worker is sent the work once, and a slice at a time
        workers = client.get_executor(pure=False)
        sent = client.scatter(work, broadcast=True, hash=False)
    with workers as pool:
        futures = deque(pool.submit(call, sent, part_rows) for part_rows in rows)
        try:
            for part_rows in rows:
                part = futures.popleft().result()
                done = part_rows.stop
                stopped = progress is not None and progress(done, rows[-1].stop) is False
                yield part
                if stopped:
                    return
        finally:
            for future in futures:
                future.cancel()
