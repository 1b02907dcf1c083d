"""From nothing to an answer at the prompt, and to a lesson's first live figure: processor time, the least of several.

The peer of a command is a fresh Python that loads NumPy alone. Of what `size` takes beside it about a third is pydantic,
the check of the files, and a quarter is records: Python compiles up to six functions for each. That is why only
records that are stated can be compared, and why a type of craft and missions are loaded when a design has them. A
thrust table with speeds has its motor found with SciPy, which takes as long to load as all else.

The peer of a lesson is a fresh Python that loads the libraries every live figure needs and draws nothing.

Run: python -m tests.benchmarks --only start
"""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path
from typing import Any

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
LIBRARIES = "import numpy, pandas, scipy.optimize, ipywidgets, bqplot, pydantic"
IN_A_LOOP = """
import asyncio
from workbook.lessons.lesson_view import open_page
async def page():
    open_page("{page}")
asyncio.run(page())
"""
"""As in a kernel, where exercises wait until the figure has been sent."""
LESSONS = ("craft_asks", "landing_voltage", "choosing")
REPEATS = 5


def _worked() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _seconds(*command: str) -> float:
    """Processor time of a fresh Python in the notebooks' folder, the least of several; it may exit with 1."""
    times = []
    for _ in range(REPEATS):
        start = _worked()
        done = subprocess.run([sys.executable, *command], cwd=NOTEBOOKS, capture_output=True)
        assert done.returncode in {0, 1}, done.stderr
        times.append(_worked() - start)
    return min(times)


def run() -> list[dict[str, Any]]:
    """Rows for the command line, one for the bench and one for each of a few lessons."""
    numpy_s = _seconds("-c", "import numpy")
    rows = [
        {
            "name": f"workbook {' '.join(command)}",
            "ours_s": _seconds("-m", "workbook.cli", *command),
            "peer": "python -c 'import numpy'",
            "peer_s": numpy_s,
            "note": "processor time of the whole process",
        }
        for command in (
            ("--help",),
            *(
                ("size", f"designs/{name}.toml")
                for name in ("light_quad", "survey_six", "survey_wing")
            ),
        )
    ]
    libraries = _seconds("-c", LIBRARIES)
    starts = {
        "sizing bench": "sizing_bench",
        **{f"lesson {slug}": slug for slug in LESSONS},
    }
    for name, page in starts.items():
        rows.append(
            {
                "name": f"{name}, cold, to its first figure",
                "ours_s": _seconds("-c", IN_A_LOOP.format(page=page)),
                "peer": "the libraries alone",
                "peer_s": libraries,
                "note": "in the kernel; the browser's part is in bench_live",
            }
        )
    return rows
