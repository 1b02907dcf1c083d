"""From nothing to a lesson's first live figure, and what `import workbook` takes.

The peer of a lesson is a fresh Python that loads the libraries every live figure needs and draws nothing.

Run: python -m tests.benchmarks --only start
"""

from __future__ import annotations

import statistics
import subprocess
import sys
from pathlib import Path
from time import perf_counter
from typing import Any

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
LIBRARIES = "import numpy, pandas, scipy.optimize, ipywidgets, bqplot, pydantic"
LESSONS = ("craft_asks", "landing_voltage", "choosing")
REPEATS = 5


def _seconds(code: str) -> float:
    """Median time of a fresh Python that runs the code in the notebooks' folder."""
    times = []
    for _ in range(REPEATS):
        start = perf_counter()
        subprocess.run([sys.executable, "-c", code], cwd=NOTEBOOKS, check=True, capture_output=True)
        times.append(perf_counter() - start)
    return statistics.median(times)


def run() -> list[dict[str, Any]]:
    """A row for the bare import, one for the bench and one for each of a few lessons."""
    both = _seconds("import numpy, pandas")
    rows = [
        {
            "name": "import workbook, numpy, pandas",
            "ours_s": _seconds("import numpy, pandas, workbook"),
            "peer": "numpy and pandas alone",
            "peer_s": both,
            "note": "a fresh Python each",
        }
    ]
    libraries = _seconds(LIBRARIES)
    starts = {
        "sizing bench": "from workbook.lessons.sizing_bench import open_bench; open_bench()",
        **{
            f"lesson {slug}": f"from workbook.lessons.lesson_view import open_lesson; open_lesson({slug!r})"
            for slug in LESSONS
        },
    }
    for name, code in starts.items():
        rows.append(
            {
                "name": f"{name}, cold, to its first figure",
                "ours_s": _seconds(code),
                "peer": "the libraries alone",
                "peer_s": libraries,
                "note": "in the kernel; the browser's part is in bench_live",
            }
        )
    return rows
