"""From a key on a slider to the kernel's messages and to the first and last painted figure: every lesson and the bench.

The peer is the least that a live figure can be: a bare slider whose handler gives one bqplot line new
numbers, with nothing computed and nothing checked; in the same run, in JupyterLab and as a page.
What takes longer (lessons 8, 12, 13) is counted to the first that moves; the rest is faint until it comes.

Run: python -m tests.benchmarks.bench_live [--no-browser] [--only sizing_bench] [--where pages]
"""

from __future__ import annotations

import argparse
import asyncio
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from time import perf_counter, thread_time
from typing import Any
from unittest import mock

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
REPEATS = 41
PEER = "bare slider with one bqplot line"

BARE = """
import bqplot as bq, ipywidgets as W, numpy as np
from bqscales import LinearScale
x = np.linspace(0, 30, 301)
slider = W.FloatSlider(value=1450, min=500, max=3000, step=10)
line = bq.Lines(x=x, y=x, scales={"x": LinearScale(), "y": LinearScale(min=0, max=30)})
figure = bq.Figure(marks=[line], axes=[bq.Axis(scale=s) for s in line.scales.values()])
def move(change):
    line.y = x * change["new"] / 3000
slider.observe(move, names="value")
page = W.VBox([slider, figure])
"""

CHART = """
import ipywidgets as W, numpy as np
from workbook.widgets.charts import Level, Line, LineChart, Point
from workbook.widgets.controls import NumberControl
from workbook.widgets.live import Live
x = np.linspace(0, 30, 301)
mass = NumberControl("mass", "g", 1450, 500, 3000, 10)
chart = LineChart("Voltage", "time, min", "voltage, V")
def render(y):
    chart.update([Line("pack", x, y)], levels=[Level("cutoff", 3)], points=[Point("now", 15, y[150])],
        x_range=(0, 30), y_range=(0, 30), finding=f"{y[150]:.2f} V at 15 min")
live = Live({"m": mass}, lambda m: x * m / 3000, render)
slider = mass.slider
page = W.VBox([mass, live.status, chart])
"""

MISSION = "sizing_bench with a mission"
"""Eight phases, flown anew for every move."""

VIEW = """
import os
os.chdir(NOTEBOOKS)
from workbook.lessons.lesson_view import open_page
from workbook.widgets.controls import NumberControl
benches = {"sizing_bench": (), MISSION: ("designs/survey_six_mission.toml",)}
page = open_page("sizing_bench", *benches[SLUG]) if SLUG in benches else open_page(SLUG)
page.together.ready = True
slider = next(c.slider for c in page.inputs.values() if isinstance(c, NumberControl))
"""


@dataclass
class Sent:
    """What one move of the slider costs the kernel: seconds to the message with the first figure, and to the last."""

    first: float
    seconds: float
    messages: int
    bytes: int


def kernel_cost(code: str, slug: str = "") -> Sent:
    """The median over many moves: handler, computation and packing of every message, as the kernel does; its
    own seconds of the processor, which other work on the machine hardly changes.

    With an event loop, as there: what is slow then runs beside, and is not counted.
    """
    import ipywidgets as W
    from jupyter_client.session import Session

    session, sizes, shown = Session(key=b"bench"), [], []

    def send(self: W.Widget, message: dict[str, Any], buffers: Any = None) -> None:
        parts = session.serialize(session.msg("comm_msg", {"comm_id": "0", "data": message}))
        sizes.append(sum(map(len, parts)) + sum(memoryview(b).nbytes for b in buffers or ()))
        if buffers or message["method"] == "custom":  # a figure's; a slider's own value is neither
            shown.append(thread_time())

    async def moves() -> Sent:
        names: dict[str, Any] = {
            "NOTEBOOKS": str(ROOT / "notebooks"),
            "SLUG": slug,
            "MISSION": MISSION,
        }
        exec(code, names)
        slider, times, counts, weights, firsts = names["slider"], [], [], [], []
        live = [getattr(names["page"], name, None) for name in ("live", "looking")]
        middle, step = slider.value, slider.step
        for move in range(REPEATS):
            sizes.clear()
            shown.clear()
            target = min(max(middle + step * (1 + move % 7), slider.min), slider.max)
            target = middle if target == slider.value else target
            start = thread_time()
            slider.value = target
            times.append(thread_time() - start)
            firsts.append(shown[0] - start if shown else times[-1])
            counts.append(len(sizes))
            weights.append(sum(sizes))
            for one in filter(None, live):
                await one.settled()
        median = statistics.median
        return Sent(median(firsts), median(times), int(median(counts)), int(median(weights)))

    with mock.patch.object(W.Widget, "_send", send):
        found = asyncio.run(moves())
        W.Widget.close_all()
    return found


PAINTED = """(handle) => new Promise((done) => {
  const start = performance.now();
  let first = null, last = null;
  const watch = new MutationObserver((changes) => {
    if (!changes.some(c => c.target.closest && c.target.closest('.bqplot, .wb-picture'))) return;
    requestAnimationFrame(() => requestAnimationFrame(() => {
      last = performance.now() - start;
      first ??= last;
    }));
  });
  watch.observe(document.body, {attributes: true, childList: true, subtree: true, attributeFilter: ['d', 'transform']});
  handle.dispatchEvent(new KeyboardEvent('keydown', {key: DIRECTION, bubbles: true}));
  const end = setInterval(() => {
    const now = performance.now() - start;
    if ((last !== null && now - last > SETTLE) || now > 5000) {
      clearInterval(end); watch.disconnect(); done(first === null ? null : [first / 1000, last / 1000]);
    }
  }, 20);
})"""
"""From a key on a slider until the frame after the first change in any figure, and until that after the last one."""


@dataclass
class Painted:
    """Seconds from key to the first figure painted, and to the last; and from the last of a burst of keys to its
    number beside the slider."""

    first: list[float]
    last: list[float]
    burst: float = float("nan")

    @property
    def median(self) -> float:
        return statistics.median(self.first)

    @property
    def p95(self) -> float:
        return statistics.quantiles(self.first, n=20)[-1]

    @property
    def last_median(self) -> float:
        return statistics.median(self.last)

    @property
    def last_p95(self) -> float:
        return statistics.quantiles(self.last, n=20)[-1]


def painted(page: Any, repeats: int = REPEATS) -> Painted:
    """Measure the first slider of a page that is live."""
    knob = first_knob(page)
    found = moves(knob, repeats)
    if len(found.first) < repeats // 2:
        raise RuntimeError("no figure moved with the first slider")
    return replace(found, burst=burst(page, knob))


def first_knob(page: Any) -> Any:
    """The first slider of a page, once the page is live."""
    page.wait_for_selector(".bqplot path, .wb-picture svg", state="attached", timeout=60_000)
    page.wait_for_timeout(2500)
    knob = page.locator(".noUi-handle").first
    knob.scroll_into_view_if_needed()
    knob.focus()
    return knob


def moves(knob: Any, repeats: int) -> Painted:
    """Move a slider to and fro."""
    found = Painted([], [])
    for move in range(repeats):
        key = "'ArrowRight'" if move % 2 == 0 else "'ArrowLeft'"
        took = knob.evaluate(PAINTED.replace("DIRECTION", key).replace("SETTLE", "350"))
        if took is not None:
            found.first.append(took[0])
            found.last.append(took[1])
    return found


def burst(page: Any, knob: Any, keys: int = 30) -> float:
    """Seconds from the last of so many keys, 30 a second, until the box beside the slider shows where it stands."""
    box = page.locator(".wb .widget-text input").first
    if not box.count():
        return float("nan")
    page.keyboard.press("ArrowRight")  # from a value between two steps onto one
    page.wait_for_timeout(1500)
    start = float(box.input_value())
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(1500)
    step = float(box.input_value()) - start
    for _ in range(keys):
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(1000 / 30)
    top, began = float(knob.get_attribute("aria-valuemax")), perf_counter()
    wanted = min(start + step * (keys + 1), top)
    while abs(float(box.input_value()) - wanted) > 1e-6 * max(abs(wanted), 1.0):
        if perf_counter() - began > 10:
            raise RuntimeError(f"a press was lost: {box.input_value()} and not {wanted:g}")
        page.wait_for_timeout(10)
    return perf_counter() - began


def _row(name: str, ours: float, peer: float, note: str) -> dict[str, Any]:
    return {
        "name": name, "ours_s": ours, "peer": PEER, "peer_s": peer, "ratio": ours / peer, "note": note,
    }  # fmt: skip


def views(only: str = "") -> dict[str, str]:
    """Name of each lesson, and of the bench, to its notebook."""
    from workbook.lessons.course import COURSE

    found = {lesson.slug: lesson.notebook for lesson in COURSE} | {
        "sizing_bench": "sizing_bench.ipynb"
    }
    return {slug: book for slug, book in found.items() if only in ("", slug)}


def kernel_rows(only: str = "") -> Iterator[dict[str, Any]]:
    """The kernel's share, for one chart, every lesson and the sizing bench."""
    bare = kernel_cost(BARE)
    with_mission = [MISSION] if only in ("", "sizing_bench") else []
    for slug in ("one live chart", *views(only), *with_mission):
        ours = kernel_cost(CHART if slug == "one live chart" else VIEW, slug)
        note = (
            f"{ours.first * 1e3:.2f} ms to the first figure's message; {ours.messages} messages, "
            f"{ours.bytes / 1e3:.1f} kB; peer {bare.messages}, {bare.bytes / 1e3:.1f} kB"
        )
        yield _row(f"kernel: slider to last message, {slug}", ours.seconds, bare.seconds, note)


@contextmanager
def bare_page(folder: Path) -> Iterator[str]:
    """The bare slider as a page of a plain Voila server: its address."""
    import socket

    import nbformat

    folder.mkdir()
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(c) for c in (BARE, "page")])
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
    nbformat.write(book, folder / "bare.ipynb")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "voila", "bare.ipynb", "--no-browser", f"--port={port}"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    server = subprocess.Popen(command, cwd=folder, **quiet)
    try:
        yield f"http://localhost:{port}/"
    finally:
        server.terminate()
        server.wait(15)


def browser_rows(only: str = "", where: str = "") -> Iterator[dict[str, Any]]:
    """The whole way to the painted figure, in JupyterLab and as pages; the peer before each and after."""
    from tests.browser.desk import running_browser, running_lab, sitting

    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as base,
        running_browser() as browser,
        running_lab(Path(base)) as lab,
        bare_page(Path(base, "bare")) as bare,
    ):

        def at(place: str, book: str) -> Painted:
            with sitting(lab, browser, Path(base)) as desk:
                if place == "pages":
                    address = bare if book == "bare.ipynb" else lab.page_address(book)
                    _go(desk.page, address)
                else:
                    if book == "bare.ipynb":
                        desk.write_notebook(book, [BARE, "page"])
                    desk.open_notebook(book)
                    desk.focus_on_output()
                    desk.run_all_cells()
                return painted(desk.page)

        for place in ("notebooks", "pages"):
            if where not in ("", place):
                continue
            before = at(place, "bare.ipynb")
            for slug, book in views(only).items():
                ours, after = at(place, book), at(place, "bare.ipynb")
                yield from _painted_rows(f"{place}: key to", slug, ours, before, after)
                before = after


def _painted_rows(
    name: str, slug: str, ours: Painted, before: Painted, after: Painted
) -> Iterator[dict[str, Any]]:
    """To the first painted figure and to the last, each beside the peer's one figure."""
    peers = (before.median, after.median)
    peer, tail = min(peers), min(before.p95, after.p95)
    note = (
        f"p95 {ours.p95 * 1e3:.0f} ms ({ours.p95 / tail:.2f} times the peer's); peer "
        f"{' and '.join(f'{one * 1e3:.0f}' for one in peers)} ms before and after; "
        f"30 keys at 30 a second: all there {ours.burst * 1e3:.0f} ms after the last"
    )
    yield _row(f"{name} first painted, {slug}", ours.median, peer, note)
    last_peer = min(before.last_median, after.last_median)
    note = f"p95 {ours.last_p95 * 1e3:.0f} ms"
    yield _row(f"{name} last painted, {slug}", ours.last_median, last_peer, note)


def _go(page: Any, address: str) -> None:
    """Open a page, also where its server has only just begun."""
    for _ in range(60):
        try:
            page.goto(address)
            return
        except Exception as refused:
            if "ERR_CONNECTION_REFUSED" not in str(refused):
                raise
            page.wait_for_timeout(500)


def run(*, browser: bool = True, only: str = "", where: str = "") -> Iterator[dict[str, Any]]:
    """All rows, each as it is measured; without a browser the kernel's only."""
    yield from kernel_rows(only)
    if browser:
        yield from browser_rows(only, where)


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--no-browser", action="store_true")
    options.add_argument("--only", default="", help="a lesson, or sizing_bench")
    options.add_argument("--where", default="", choices=("", "notebooks", "pages"))
    chosen = options.parse_args()
    for row in run(browser=not chosen.no_browser, only=chosen.only, where=chosen.where):
        print(
            f"{row['name']:<52}{row['ours_s'] * 1e3:9.2f} ms{row['peer_s'] * 1e3:9.2f} ms"
            f"{row['ratio']:8.2f}  {row['note']}",
            flush=True,
        )
