"""Thirty visitors of shared pages, from another process through real sockets, each moving sliders for two minutes.

Each opens a page of its own (the bench, or a lesson), waits a second or two between moves as people do, and looks at
every answer. There is no peer: what is reported is that none was dropped, that all was right, and what it took.

Run: python -m tests.benchmarks.bench_share [--visitors 30] [--minutes 2]
"""

from __future__ import annotations

import argparse
import asyncio
import random
import re
import statistics
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil

from tests.pages.visiting import SLIDERS, Guest, Shared, expected, sharing

PAGES = ("sizing_bench", "02_series_parallel", "01_craft_asks", "07_landing_voltage")
MOVES = 3
"""Places of a slider that are tried, one after another and again."""


@dataclass
class Found:
    """What came of it all."""

    seconds: list[float] = field(default_factory=list)
    opening: list[float] = field(default_factory=list)
    dropped: int = 0
    wrong: int = 0
    server_bytes: int = 0
    page_bytes: float = 0.0
    move_cpu_s: float = 0.0


def places(guest: Guest, slider: str) -> list[float]:
    """Values of a slider beside the one that it opens with."""
    told = guest.states[slider]
    step = max(told["step"], (told["max"] - told["min"]) / 20)
    step = round(step / told["step"]) * told["step"]
    found = [told["value"] + k * step for k in range(1, MOVES + 1)]
    return [value for value in found if value <= told["max"]] or [told["min"]]


async def visitor(
    shared: Shared, page: str, right: dict[str, Any], until: float, found: Found
) -> None:
    """One who opens a page and moves one slider until the time is over."""
    guest, draw = Guest(shared.address), random.Random(page)
    await guest.arrive(shared.club)
    start = time.perf_counter()
    try:
        await guest.page(page)
        await guest.connect()
        found.opening.append(time.perf_counter() - start)
        slider, values = guest.models(SLIDERS)[1], right["values"]
        while time.perf_counter() < until:
            await asyncio.sleep(draw.uniform(0.5, 2.0))
            number = draw.randrange(len(values))
            found.seconds.append(await guest.set(slider, value=values[number]))
            found.wrong += guest.texts() != right["texts"][number]
    except (TimeoutError, OSError):
        found.dropped += 1
    finally:
        await guest.leave()


def worked_s(server: psutil.Process) -> float:
    """Seconds of one core that the server and its kernels have worked."""
    times = [process.cpu_times() for process in (server, *server.children(recursive=True))]
    return sum(time.user + time.system for time in times)


def _own_bytes(process: psutil.Process) -> int:
    """Memory that a process takes: its own, and its share of what it has with others, where the system tells."""
    told = process.memory_full_info()
    return int(getattr(told, "pss", told.uss))


async def whole(shared: Shared, visitors: int, minutes: float) -> Found:
    """All of them at once; what they found."""
    right: dict[str, Any] = {}
    folders = Path(shared.printed(r"visitors keep: (.+)"))
    for page in PAGES:
        guest = Guest(shared.address)
        word = await guest.arrive(shared.club)
        await guest.page(page)
        await guest.connect()
        values = places(guest, guest.models(SLIDERS)[1])
        await guest.leave()
        words = {f.read_text().strip(): f for f in folders.glob("*/.workbook/word.txt")}
        texts = await asyncio.to_thread(expected, page, words[word].parents[1], 1, values)
        right[page] = {"values": values, "texts": texts}
    found = Found()
    until = time.perf_counter() + 60 * minutes + 2.0 * visitors  # all are there for the whole time
    tasks = [
        asyncio.create_task(visitor(shared, page, right[page], until, found))
        for page in (PAGES[number % len(PAGES)] for number in range(visitors))
    ]
    server = psutil.Process(shared.process.pid)
    while len(found.opening) < visitors and time.perf_counter() < until - 40:
        await asyncio.sleep(1)
    await asyncio.sleep(5)
    before, moves = worked_s(server), len(found.seconds)
    while time.perf_counter() < until - 5:
        await asyncio.sleep(1)
    found.move_cpu_s = (worked_s(server) - before) / (len(found.seconds) - moves)
    kernels = [k for k in server.children(recursive=True) if not k.children()]
    found.page_bytes = statistics.median(_own_bytes(kernel) for kernel in kernels)
    found.server_bytes = server.memory_full_info().uss
    await asyncio.gather(*tasks)
    return found


def run(*, visitors: int = 30, minutes: float = 2.0) -> list[dict[str, Any]]:
    """The rows of the benchmark."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as base:
        folder = Path(base) / "club"
        folder.mkdir()
        with sharing(folder, "--visitors", str(visitors + 1), port=8930) as shared:
            found = asyncio.run(whole(shared, visitors, minutes))
            faults = re.findall("Traceback", shared.log.read_text("utf-8"))
    slow = statistics.quantiles(found.seconds, n=20)[-1]
    told = (
        f"{len(found.seconds)} moves, {found.dropped} dropped, {found.wrong} wrong, {len(faults)} faults; "
        f"{found.page_bytes / 1e6:.0f} MB a page, server {found.server_bytes / 1e6:.0f} MB; "
        f"a move takes {found.move_cpu_s * 1e3:.0f} ms of a core: one every 5 s from {5 / found.move_cpu_s:.0f} visitors fill it"
    )
    names = {
        "move to last message, median": statistics.median(found.seconds),
        "move to last message, 95 of 100": slow,
        "opening a page, all at once, median": statistics.median(found.opening),
        "opening a page, all at once, slowest": max(found.opening),
    }
    return [
        {"name": f"{visitors} visitors: {name}", "ours_s": seconds, "note": told}
        for name, seconds in names.items()
    ]


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--visitors", type=int, default=30)
    options.add_argument("--minutes", type=float, default=2.0)
    chosen = options.parse_args()
    for row in run(visitors=chosen.visitors, minutes=chosen.minutes):
        print(f"{row['name']:<60}{row['ours_s'] * 1e3:9.1f} ms  {row['note']}")
