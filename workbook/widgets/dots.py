"""A line chart with many measured points in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bqplot as bq
import numpy as np

from workbook.numbers import FloatArray
from workbook.widgets.charts import LineChart
from workbook.widgets.palette import INK


class DotChart(LineChart):
    """A `LineChart` whose measured points are small hollow dots.

    Example:
        >>> chart = DotChart("Curves", "charge taken, Ah", "voltage, V")
        >>> chart.show_dots([0.0, 1.0], [4.1, 3.9])
        >>> chart.update(x_range=(0, 2), y_range=(3, 4.2))
        >>> chart.dots.y
        array([4.1, 3.9])
    """

    def __init__(
        self, title: str, x_label: str, y_label: str, dot_size: int = 26, **sizes: Any
    ) -> None:
        super().__init__(title, x_label, y_label, **sizes)
        self.dots = bq.Scatter(
            x=np.array([]), y=np.array([]), scales=self._scale, default_size=dot_size, colors=["white"], stroke=INK,
            stroke_width=1.3, enable_hover=False, display_names=False,
        )  # fmt: skip
        self.figure.marks = [*self.figure.marks, self.dots]

    def show_dots(self, x: FloatArray | Sequence[float], y: FloatArray | Sequence[float]) -> None:
        """Show other measured points; `update` sets the axes."""
        with self.dots.hold_sync():
            self.dots.x = np.array(x, dtype=float)
            self.dots.y = np.array(y, dtype=float)
