"""Packs of many cells: arrangements, the network of their strips, and the whole build sheet.

The peer of the network is the same matrix solved whole by numpy.linalg.solve. Processor time, the least of several.

Run: python -m tests.benchmarks --only layout
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any
from unittest.mock import patch

from tests.bench.arranged import example_pack
from tests.benchmarks.bench_simulate import least
from workbook.bench.layout import layouts
from workbook.bench.strip_plan import solve_strips
from workbook.files.design_file import DesignFile, parse_design
from workbook.sheet.build import write_sheet

DESIGN = Path(__file__).parents[2] / "notebooks" / "designs" / "survey_six.toml"
PACKS = ((6, 3), (14, 20), (24, 24))


def with_cells(series: int, parallel: int) -> DesignFile:
    """The demo's six-rotor with another pack."""
    text = DESIGN.read_text("utf-8").replace("series = 6", f"series = {series}", 1)
    return parse_design(text.replace("parallel = 3", f"parallel = {parallel}", 1), DESIGN)


def run() -> list[dict[str, Any]]:
    """Three rows a pack."""
    rows: list[dict[str, Any]] = []
    for series, parallel in PACKS:
        pack, name = example_pack(series, parallel), f"{series}S{parallel}P"
        rows.append(
            {"name": f"{name}: arrangements", "ours_s": least(lambda p=pack: layouts(p), 3)}
        )  # type: ignore[misc]
        layout = layouts(pack)[0]

        def network(layout: Any = layout) -> Any:
            return solve_strips(layout, 100.0)

        ours_s, joint_mohm = least(network), network().joint_mohm
        with patch("workbook.bench.strip_plan.FEW_NODES", 10_000):
            peer_s = least(network)
            assert abs(network().joint_mohm / joint_mohm - 1.0) < 1e-9
        rows.append(
            {"name": f"{name}: strips' network", "ours_s": ours_s}
            | {"peer": "numpy.linalg.solve", "peer_s": peer_s}
        )
        file = with_cells(series, parallel)
        assert (file.design.pack.series, file.design.pack.parallel) == (series, parallel)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "sheet.html"
            sheet_s = least(lambda f=file, p=path: write_sheet(f, p, overwrite=True), 3)  # type: ignore[misc]
        rows.append({"name": f"{name}: whole build sheet", "ours_s": sheet_s})
    return rows
