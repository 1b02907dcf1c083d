"""From a slider's move to the last message of the kernel, and to the painted chart.

The peer is the least that a live figure can be: a bare slider whose handler gives one bqplot line new
numbers, with nothing computed and nothing checked.

Run: python tests/benchmarks/bench_live.py [--no-browser] [--notebook sizing_bench.ipynb]
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
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

BENCH = """
import os
os.chdir(NOTEBOOKS)
from workbook.lessons.sizing_bench import open_bench
page = open_bench()
slider = page.inputs["mass_without_pack_g"].slider
"""


@dataclass
class Sent:
    """What one move of the slider costs the kernel."""

    seconds: float
    messages: int
    bytes: int


def kernel_cost(code: str) -> Sent:
    """The median over many moves: handler, computation and packing of every message, as the kernel does."""
    import ipywidgets as W
    from jupyter_client.session import Session

    session, sizes = Session(key=b"bench"), []

    def send(self: W.Widget, message: dict[str, Any], buffers: Any = None) -> None:
        parts = session.serialize(session.msg("comm_msg", {"comm_id": "0", "data": message}))
        sizes.append(sum(map(len, parts)) + sum(memoryview(b).nbytes for b in buffers or ()))

    names: dict[str, Any] = {"NOTEBOOKS": str(ROOT / "notebooks")}
    exec(code, names)
    slider, times, counts, weights = names["slider"], [], [], []
    low, high = slider.min, slider.max
    middle, step = slider.value, slider.step
    with mock.patch.object(W.Widget, "_send", send):
        for move in range(REPEATS):
            sizes.clear()
            target = min(max(middle + step * (1 + move % 7), low), high)
            if target == slider.value:
                target = middle
            start = perf_counter()
            slider.value = target
            times.append(perf_counter() - start)
            counts.append(len(sizes))
            weights.append(sum(sizes))
    W.Widget.close_all()
    return Sent(
        statistics.median(times), int(statistics.median(counts)), int(statistics.median(weights))
    )


PAINTED = """(handle) => new Promise((done) => {
  const start = performance.now();
  let quiet = null;
  const watch = new MutationObserver((changes) => {
    if (!changes.some(c => c.attributeName === 'd' && c.target.closest('.bqplot'))) return;
    const painted = () => { quiet = performance.now() - start; };
    requestAnimationFrame(() => requestAnimationFrame(painted));
  });
  watch.observe(document.body, {attributes: true, subtree: true, attributeFilter: ['d']});
  handle.dispatchEvent(new KeyboardEvent('keydown', {key: DIRECTION, bubbles: true}));
  const end = setInterval(() => {
    const now = performance.now() - start;
    if ((quiet !== null && now - quiet > 400) || now > 5000) {
      clearInterval(end); watch.disconnect(); done(quiet);
    }
  }, 20);
})"""
"""From a key on the slider until the frame after the last change of a curve in any figure."""


def browser_seconds(desk: Any, notebook: str, handle: str, repeats: int = 15) -> float:
    """The median time from a key on a slider to the last painted curve, in a real page."""
    desk.open_notebook(notebook)
    desk.focus_on_output()
    desk.run_all_cells()
    desk.page.wait_for_selector(".bqplot path.line", state="attached")
    desk.page.wait_for_timeout(1500)
    knob = desk.page.locator(handle).first
    knob.scroll_into_view_if_needed()
    knob.focus()
    times = []
    for move in range(repeats):
        key = "'ArrowRight'" if move % 2 == 0 else "'ArrowLeft'"
        took = knob.evaluate(PAINTED.replace("DIRECTION", key))
        if took is None:
            raise RuntimeError(f"{notebook}: no curve moved with the slider {handle}")
        times.append(took / 1000)
    return statistics.median(times)


def _row(name: str, ours: float, peer: float, note: str) -> dict[str, Any]:
    return {
        "name": name, "ours_s": ours, "peer": PEER, "peer_s": peer, "ratio": ours / peer, "note": note,
    }  # fmt: skip


def kernel_rows() -> list[dict[str, Any]]:
    """The kernel's share, for one chart and for the sizing bench."""
    bare = kernel_cost(BARE)
    rows = []
    for name, code in (("one live chart", CHART), ("sizing bench", BENCH)):
        ours = kernel_cost(code)
        note = (
            f"{ours.messages} messages, {ours.bytes / 1e3:.1f} kB; "
            f"peer {bare.messages}, {bare.bytes / 1e3:.1f} kB"
        )
        rows.append(
            _row(f"kernel: slider to last message, {name}", ours.seconds, bare.seconds, note)
        )
    return rows


def browser_rows(
    notebook: str = "sizing_bench.ipynb",
    handle: str = "div:has(> label:text-matches('^craft without pack')) .noUi-handle",
) -> list[dict[str, Any]]:
    """The whole way, to the painted chart.

    Args:
        notebook: in the notebooks' folder, beside the one chart.
        handle: the slider to move in it, as a selector.
    """
    from tests.browser.desk import running_browser, running_lab, sitting

    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as base,
        running_browser() as browser,
        running_lab(Path(base)) as lab,
    ):

        def seconds(path: str, knob: str, cells: list[str] | None = None) -> float:
            with sitting(lab, browser, Path(base)) as desk:
                if cells:
                    desk.write_notebook(path, cells)
                return browser_seconds(desk, path, knob)

        bare = seconds("bare.ipynb", ".noUi-handle", [BARE, "page"])
        chart = seconds("chart.ipynb", ".noUi-handle", [CHART, "page"])
        rows = [_row("browser: key to painted, one live chart", chart, bare, "301 points")]
        if (lab.folder / notebook).exists():
            ours = seconds(notebook, handle)
            rows.append(_row(f"browser: key to painted, {notebook}", ours, bare, "all its figures"))
    return rows


def run(*, browser: bool = True, notebook: str = "sizing_bench.ipynb") -> list[dict[str, Any]]:
    """All rows; without a browser the kernel's only."""
    parts: list[Callable[[], list[dict[str, Any]]]] = [kernel_rows]
    if browser:
        parts.append(lambda: browser_rows(notebook))
    return [row for part in parts for row in part()]


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--no-browser", action="store_true")
    options.add_argument("--notebook", default="sizing_bench.ipynb")
    chosen = options.parse_args()
    for row in run(browser=not chosen.no_browser, notebook=chosen.notebook):
        print(
            f"{row['name']:<55}{row['ours_s'] * 1e3:9.2f} ms{row['peer_s'] * 1e3:9.2f} ms"
            f"{row['ratio']:8.1f}  {row['note']}"
        )
