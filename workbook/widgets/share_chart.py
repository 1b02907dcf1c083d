"""Two shares a line: a bar for the total, a diamond for what the line makes alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import bqplot as bq
import numpy as np

from workbook.widgets.charts import Bar, BarChart
from workbook.widgets.palette import ALTERNATIVE


@dataclass(frozen=True)
class TwoShares:
    """One line: name, total share and the share that it makes alone, percent."""

    name: str
    total_pct: float
    alone_pct: float


class ShareChart(BarChart):
    """Bars sorted by their total share, each with a diamond at the share made alone.

    Example:
        >>> chart = ShareChart("Spread")
        >>> chart.show([TwoShares("wind", 31.0, 29.0), TwoShares("cold", 42.0, 40.0)], "Cold most.")
        >>> list(chart.names), chart.alone.x.tolist()
        (['cold', 'wind'], [29.0, 40.0])
    """

    def __init__(self, title: str, *, width_px: int = 590, bar_px: int = 30) -> None:
        super().__init__(
            title, "share of the spread, %", width_px=width_px, bar_px=bar_px, name_room_px=250
        )
        self.alone = bq.Scatter(
            x=[], y=[], scales={"x": self._scale, "y": self._names_scale},
            colors=[ALTERNATIVE.colour], marker=ALTERNATIVE.marker, default_size=110, stroke="white",
            stroke_width=1.5, enable_hover=False, apply_clip=False,
        )  # fmt: skip
        self.figure.marks = [*self.figure.marks, self.alone]

    def show(self, shares: Sequence[TwoShares], finding: str) -> None:
        """Show other shares."""
        largest = max([1.0, *(s.total_pct for s in shares), *(s.alone_pct for s in shares)])
        if set(self.names) - {s.name for s in shares}:
            self._place([], [])  # a diamond whose name leaves the scale has no place on the page
        self.update(
            [
                Bar(
                    s.name,
                    max(s.total_pct, 0.0),
                    f"{max(s.total_pct, 0.0):.0f} %, alone {max(s.alone_pct, 0.0):.0f} %",
                )
                for s in shares
            ],
            x_range=(0.0, 1.3 * largest),
            finding=finding,
        )
        alone = {s.name: max(s.alone_pct, 0.0) for s in shares}
        upwards = self.names[::-1]
        self._place([alone[name] for name in upwards], upwards)

    def _place(self, x: Sequence[float], names: Sequence[str]) -> None:
        with self.alone.hold_sync():
            self.alone.y = np.array(names, dtype=object).astype(str)
            self.alone.x = np.array(x, dtype=float)
