"""How cost grows: processor time and memory against cells of a pack, candidates, rows of a log, and visitors.

Every point is a process of its own, so that its peak of memory is its own, and does the least point first, so that
what is loaded once does not count. The exponent
is of the last two points: 1 is twice the work for twice as many.

Run: python -m tests.benchmarks.growth [--long] [--visitors] [--plot growth.svg]
"""

from __future__ import annotations

import argparse
import json
import math
import re
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from time import process_time
from typing import Any

from workbook import svg

POINTS = {
    "cells: arrangements and strips": (1, 16, 144, 576),
    "candidates, all sized, survivors kept": (1_000, 10_000, 100_000, 1_000_000),
    "rows of a log read": (10_000, 100_000, 1_000_000),
}
LONG = {
    "candidates, all sized, survivors kept": (10_000_000,),
    "rows of a log read": (5_000_000,),
}
"""Points that take minutes. A log of ten million rows is refused: `flightlog.reading.MOST_ROWS`."""

VISITORS = (1, 5, 15, 30)


def _cells(count: int, _: Path) -> Callable[[], Any]:
    from tests.bench.arranged import example_pack
    from workbook.bench.layout import layouts
    from workbook.bench.strip_plan import plan_strips

    pack = example_pack(math.isqrt(count), math.isqrt(count))
    return lambda: plan_strips(layouts(pack)[0], 20.0)


def _candidates(count: int, _: Path) -> Callable[[], Any]:
    import dataclasses

    import numpy as np

    from tests.benchmarks.bench_sweep import DESIGN
    from workbook.files.cell_file import catalogue
    from workbook.files.design_file import read_design
    from workbook.sizing.sweep import sweep

    design = dataclasses.replace(read_design(DESIGN).design, mission=())
    cells = tuple(catalogue().values())[:10]
    axes = {"joint_mohm": np.linspace(4.0, 20.0, count // 1000)}
    how: dict[str, Any] = {"screen": False, "only_survivors": True, "threads": 1}
    return lambda: sweep(design, cells, range(4, 14), range(1, 11), axes=axes, **how)


def _rows(count: int, folder: Path) -> Callable[[], Any]:
    from workbook.flightlog.reading import read_log

    path = folder / "log.csv"
    # written by another process, whose memory does not count here
    code = f"from pathlib import Path; from tests.benchmarks.bench_log import written; written(Path({str(path)!r}), {count})"
    subprocess.run([sys.executable, "-c", code], check=True)
    return lambda: read_log(path)


CASES = dict(zip(POINTS, (_cells, _candidates, _rows), strict=True))


def peak_mb() -> float:
    """The most memory that this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def one(case: str, count: int) -> dict[str, float]:
    """Processor time and memory of one point, in this process."""
    with tempfile.TemporaryDirectory() as folder:
        CASES[case](POINTS[case][0], Path(folder))()
        work = CASES[case](count, Path(folder))
        before, start = peak_mb(), process_time()
        work()
        return {"count": count, "s": process_time() - start, "mb": max(peak_mb() - before, 0.1)}


def visitors(count: int) -> dict[str, float]:
    """A move to its answer with so many visitors at once, and memory of their pages."""
    from tests.benchmarks.bench_share import run

    row = run(visitors=count, minutes=0.3)[0]
    found = re.search(r"(\d+) MB a page, server (\d+) MB", row["note"])
    assert found is not None
    page, server = map(float, found.groups())
    return {"count": count, "s": row["ours_s"], "mb": server + count * page}


def exponent(points: list[dict[str, float]], key: str) -> float:
    """Of growth between the last two points."""
    first, last = points[-2:]
    return math.log(last[key] / first[key]) / math.log(last["count"] / first["count"])


def plot(found: dict[str, list[dict[str, float]]]) -> str:
    """Both figures over the number, in logarithms: time as a full line, memory as a dashed one."""
    colours = ("#1b6ca8", "#b3401f", "#3b7d3b", "#7a4fa3")
    left, foot, width, height = 60.0, 340.0, 560.0, 300.0
    shapes = []

    def x(count: float) -> float:
        return left + width * math.log10(count) / 7.0

    def y(value: float) -> float:
        return foot - height * (math.log10(value) + 3.0) / 7.0

    for power in range(8):
        label = f"{10.0 ** (power - 3):g}"
        shapes += [
            svg.line(x(10**power), foot, x(10**power), foot - height, "#ddd", 1),
            svg.line(left, y(10.0 ** (power - 3)), left + width, y(10.0 ** (power - 3)), "#ddd", 1),
            svg.element("text", f"1e{power}", x=x(10**power), y=foot + 16, text_anchor="middle"),
            svg.element("text", label, x=left - 6, y=y(10.0 ** (power - 3)) + 4, text_anchor="end"),
        ]
    for number, ((case, points), colour) in enumerate(zip(found.items(), colours, strict=False)):
        for key, dash in (("s", ""), ("mb", "6 4")):
            at = [(x(p["count"]), y(p[key])) for p in points]
            for (x1, y1), (x2, y2) in pairwise(at):
                shapes.append(svg.line(x1, y1, x2, y2, colour, 2, dash))
        shapes.append(svg.element("text", case, x=left + 8, y=22.0 + 16 * number, fill=colour))
    title = "time in s (full), memory in MB (dashed), over how many"
    shapes.append(svg.element("text", title, x=left + width / 2, y=foot + 36, text_anchor="middle"))
    return svg.element(
        "svg",
        *shapes,
        xmlns="http://www.w3.org/2000/svg",
        viewBox="0 0 660 390",
        font_family="sans-serif",
        font_size=11.0,
    )


def main() -> None:
    """Measure every point and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--long", action="store_true", help="the points that take minutes too")
    parser.add_argument("--visitors", action="store_true", help="with visitors of shared pages")
    parser.add_argument("--plot", type=Path, metavar="SVG")
    parser.add_argument("--one", nargs=2, metavar=("CASE", "COUNT"), help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        print(json.dumps(one(options.one[0], int(options.one[1]))))
        return
    found: dict[str, list[dict[str, float]]] = {}
    for case, counts in POINTS.items():
        for count in (*counts, *(LONG.get(case, ()) if options.long else ())):
            command = [sys.executable, "-m", "tests.benchmarks.growth", "--one", case, str(count)]
            done = subprocess.run(command, capture_output=True, text=True, check=True)
            found.setdefault(case, []).append(json.loads(done.stdout))
    if options.visitors:
        found["visitors at once: a move to its answer"] = [visitors(count) for count in VISITORS]
    print(f"{'what':<42}{'how many':>12}{'time, s':>10}{'memory, MB':>12}")
    for case, points in found.items():
        for p in points:
            print(f"{case:<42}{p['count']:>12,.0f}{p['s']:>10.3g}{p['mb']:>12.3g}")
        told = " ".join(
            f"{name} {exponent(points, key):.2f}" for name, key in (("time", "s"), ("memory", "mb"))
        )
        print(f"{'':<42}exponents: {told}")
    if options.plot:
        options.plot.write_text(plot(found), "utf-8")


if __name__ == "__main__":
    main()
