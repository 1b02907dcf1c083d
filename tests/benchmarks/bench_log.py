"""Reading a log of a million rows, against pandas alone; and what is drawn of it."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from workbook.flightlog.log import reduced
from workbook.flightlog.reading import read_log

ROWS = 1_000_000


def best_of(work: Callable[[], Any], times: int = 3) -> tuple[float, Any]:
    """The shortest time of several, and the last result."""
    spent, found = [], None
    for _ in range(times):
        begin = time.perf_counter()
        found = work()
        spent.append(time.perf_counter() - begin)
    return min(spent), found


def written(path: Path, rows: int = ROWS) -> Path:
    """An invented log at 500 rows a second, ten columns."""
    rng = np.random.default_rng(1)
    time_s = np.arange(rows) * 0.002
    amps = np.where((time_s > 20) & (time_s < 1950), 20.0 + rng.normal(0.0, 1.0, rows), 0.6)
    pd.DataFrame(
        {
            "Time (s)": time_s.round(4),
            "Voltage (V)": (25.0 - time_s / 400.0 - 0.04 * amps).round(2),
            "Current (A)": amps.round(2),
            "Used (mAh)": (np.cumsum(amps) * 0.002 / 3.6).round(0),
            "Throttle (%)": 50 + rng.integers(-5, 5, rows),
            "Altitude (m)": rng.normal(30.0, 1.0, rows).round(2),
            "Speed (m/s)": rng.normal(1.0, 0.1, rows).round(2),
            "Temperature (°C)": rng.normal(25.0, 0.1, rows).round(1),
            "Roll": rng.normal(size=rows).round(3),
            "Pitch": rng.normal(size=rows).round(3),
        }
    ).to_csv(path, index=False)
    return path


def run() -> list[dict[str, Any]]:
    """The rows of this benchmark."""
    with tempfile.TemporaryDirectory() as folder:
        path = written(Path(folder) / "log.csv")
        theirs, _ = best_of(lambda: pd.read_csv(path))
        ours, log = best_of(lambda: read_log(path))
    drawn, rows = best_of(lambda: reduced(log.time_s, log.voltage_v, log.current_a))
    return [
        {
            "name": "a log of 1,000,000 rows read, faults looked for",
            "ours_s": ours,
            "peer": "pandas.read_csv alone",
            "peer_s": theirs,
            "note": "aim: no more than twice it; under 3 s",
        },
        {"name": f"the same reduced to {len(rows)} rows to draw", "ours_s": drawn, "note": ""},
    ]
