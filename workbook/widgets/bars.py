"""Horizontal bars with their figures, the longest on top; with a second figure as a diamond where wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import bqplot as bq
import numpy as np
from bqscales import LinearScale, OrdinalScale

from workbook.numbers import Number
from workbook.widgets.charts import AXIS_LOOK, TEXT_PX, Chart, TickAxis, texts
from workbook.widgets.one_message import figure_update
from workbook.widgets.style import ALTERNATIVE, FAINT, INK, PACK, fitted_px, role
from workbook.widgets.ticks import ticks_for


@dataclass(frozen=True)
class Bar:
    """One bar.

    Attributes:
        name: of the bar.
        value: its length.
        text: printed at its end; the value where not given.
        role: a name of the palette.
        mark: a second value, shown as a diamond.
    """

    name: str
    value: Number
    text: str | None = None
    role: str = "pack"
    mark: Number | None = None


class BarChart(Chart):
    """Horizontal bars, sorted.

    Args:
        title: what the chart shows.
        x_label: what the length means, with unit.
        width_px: of the whole figure.
        bar_px: height that one bar takes.
        name_room_px: room at the left for the names.

    Attributes:
        bars: what is shown, the longest first.

    Example:
        >>> chart = BarChart("Share of the spread", "share, %")
        >>> chart.update([Bar("mass", 12.0), Bar("power", 71.0)])
        >>> [bar.name for bar in chart.bars]
        ['power', 'mass']
    """

    def __init__(
        self,
        title: str,
        x_label: str,
        *,
        width_px: int = 660,
        bar_px: int = 34,
        name_room_px: int = 210,
    ) -> None:
        self._bar_px = bar_px
        self.bars: tuple[Bar, ...] = ()
        self._names = OrdinalScale(domain=[""])
        self._scale = LinearScale(min=0.0, max=1.0)
        look = AXIS_LOOK | {"tick_style": {"font-size": f"{TEXT_PX}px", "fill": INK}}
        names = self._names_axis = bq.Axis(
            scale=self._names, orientation="vertical", grid_lines="none", **look
        )
        self._axis = TickAxis(scale=self._scale, label=x_label, label_offset="38px", **look)
        super().__init__(title, [names, self._axis], width=f"{width_px}px", height="160px")
        self.layout.width, self._usual_px = f"{width_px}px", width_px
        self._name_room_px, self._names_above = name_room_px, False
        self._set_margins()
        across = {"x": self._scale, "y": self._names}
        self._bars = bq.Bars(
            x=[""],
            y=[0.0],
            scales={"x": self._names, "y": self._scale},
            orientation="horizontal",
            padding=0.3,
            colors=[PACK.colour],
            color_mode="group",
            enable_hover=False,
        )
        plain = {"enable_hover": False, "apply_clip": False}
        text = {"default_size": float(TEXT_PX), "font_weight": "normal", "colors": [INK], **plain}
        nothing: dict[str, Any] = {"x": [], "y": [], "scales": across}
        self._texts = bq.Label(text=[], x_offset=8, **nothing, **text)
        self._names_over = bq.Label(text=[], x_offset=2, y_offset=-20, **nothing, **text)
        self._marks = bq.Scatter(
            colors=[ALTERNATIVE.colour],
            marker=ALTERNATIVE.marker,
            default_size=110,
            stroke="white",
            stroke_width=1.5,
            **nothing,
            **plain,
        )
        self.figure.marks = [self._bars, self._texts, self._names_over, self._marks]

    @figure_update()
    def update(
        self,
        bars: Sequence[Bar],
        *,
        x_range: tuple[Number, Number] | None = None,
        finding: str | None = None,
    ) -> None:
        """Show other bars in the same chart.

        Args:
            bars: in any order; names differ from each other.
            x_range: ends of the axis; from zero to the longest bar where not given.
            finding: what the chart shows, in words; None leaves the words as they are.
        """
        known = sorted((b for b in bars if np.isfinite(b.value)), key=lambda b: -b.value)
        self.bars, upwards = tuple(known), known[::-1]
        axis = ticks_for([0.0, *(b.value for b in known)], x_range, 5)
        names, marked = texts([b.name for b in upwards]), [b for b in upwards if b.mark is not None]
        values = np.array([b.value for b in upwards], dtype=float)
        # the page places a mark as soon as it hears of it: no name may ever miss from the scale
        self._names.domain = list(dict.fromkeys([*self._names.domain, *names.tolist()]))
        with self.held():
            self._scale.min, self._scale.max = axis.low, axis.high
            self._axis.tick_values, self._axis.tick_format = axis.values, axis.number_format
            self._bars.x, self._bars.y = names, values
            self._bars.colors = [role(b.role).colour for b in upwards] or [FAINT.colour]
            self._texts.x, self._texts.y = np.maximum(values, 0.0), names
            self._texts.text = texts(
                [f"{b.value:.3g}" if b.text is None else b.text for b in upwards]
            )
            self._marks.x = np.array([float(b.mark or 0.0) for b in marked])
            self._marks.y = texts([b.name for b in marked])
        self._names.domain = names.tolist() or [""]
        self._set_height()
        self._write_names_above()
        self.say(finding)

    def _write_names_above(self) -> None:
        """Names over the bars, where there is no room beside them."""
        names = texts([b.name for b in self.bars[::-1]] if self._names_above else [])
        with self._names_over.hold_sync():
            self._names_over.x, self._names_over.y = np.zeros(len(names)), names
            self._names_over.text = names

    def _set_height(self) -> None:
        bar_px = 48 if self._names_above else self._bar_px
        self.figure.layout.height = f"{bar_px * max(len(self.bars), 1) + 56}px"

    def _set_margins(self) -> None:
        left, right = (14, 124) if self._names_above else (self._name_room_px, 90)
        self.figure.fig_margin = {"top": 6, "bottom": 50, "left": left, "right": right}

    def fit(self, room_px: int) -> None:
        """Take the width of the column."""
        wide_px = fitted_px(self._usual_px, room_px)
        self.layout.width = self.figure.layout.width = f"{wide_px}px"
        names_above = wide_px < 2 * self._name_room_px
        if names_above == self._names_above:
            return
        self._names_above, self._bars.padding = names_above, 0.62 if names_above else 0.3
        self._write_names_above()
        shown = {"font-size": f"{TEXT_PX}px", "fill": "none" if names_above else INK}
        self._names_axis.tick_style = shown
        self._set_margins()
        self._set_height()
