"""Many designs, a few thousand at a time, on more than one core."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Generic, TypeVar

Item = TypeVar("Item")
Part = TypeVar("Part")

CHUNK = 16384
"""Designs worked at a time: their figures fit the processor's cache."""

Progress = Callable[[int, int], bool | None]
"""Called with how many are done and how many there are; it stops the work by returning False."""


@dataclass(frozen=True)
class Worked(Generic[Part]):
    """The parts that were worked, in the order asked.

    Attributes:
        parts: one result an item, from the first on.
        complete: False where `progress` stopped the work.
    """

    parts: tuple[Part, ...]
    complete: bool


def cores() -> int:
    """Cores that this process may use, at most 8."""
    return min(8, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2)


def slices(count: int, chunk: int = CHUNK) -> list[slice]:
    """The whole of `count` rows as slices of at most `chunk`.

    Example:
        >>> slices(5, 2)
        [slice(0, 2, None), slice(2, 4, None), slice(4, 5, None)]
    """
    return [slice(k, min(k + chunk, count)) for k in range(0, count, chunk)]


def work_through(
    work: Callable[[Item], Part],
    items: Iterable[Item],
    size: Callable[[Item], int],
    *,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Worked[Part]:
    """Work every item; NumPy lets threads run side by side.

    The result does not depend on the number of threads. `progress` is called in the caller's thread.

    Args:
        work: makes a part from an item; it must not change anything shared.
        items: what to work.
        size: rows in an item, for `progress`.
        threads: 1 or more; the cores there are, without it.
        progress: see `Progress`.

    Example:
        >>> work_through(lambda x: x * x, [1, 2, 3], lambda x: 1).parts
        (1, 4, 9)
    """
    items = list(items)
    total = sum(size(item) for item in items)
    threads = max(1, threads if threads is not None else cores())
    done, parts, waiting = 0, [], deque(items)
    under_way: deque[tuple[Item, Future[Part]]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        while waiting or under_way:
            while waiting and len(under_way) < 2 * threads:
                item = waiting.popleft()
                under_way.append((item, pool.submit(work, item)))
            item, part = under_way.popleft()
            parts.append(part.result())
            done += size(item)
            if progress is not None and progress(done, total) is False and done < total:
                for _, later in under_way:
                    later.cancel()
                return Worked(tuple(parts), False)
    return Worked(tuple(parts), True)
