"""The frame of a live page: controls beside figures, the working under them, at laptop or projector size."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import ipywidgets as W

from workbook.widgets.controls import ChoiceControl, NumberControl
from workbook.widgets.live import Live
from workbook.widgets.one_message import OneMessage
from workbook.widgets.page_width import PageWidth
from workbook.widgets.style import FIGURE_PX, PANEL_PX, Panel, set_big
from workbook.widgets.table import Table
from workbook.widgets.verdict import KeyFigures, Notices, WorkingPanel
from workbook.working import Step

BETWEEN_PX = 20
"""What the columns need beside their widths."""

LEAST_PX = 300
"""Width of either column where the figure stays beside the controls only so, to be seen with them."""

TEXT_PANELS = (KeyFigures, Notices, Table)
"""Parts read beside the controls; at projector size they are under the figures."""


def set_stale(part: W.DOMWidget, stale: bool) -> None:
    """Show a part faint, since it is not of the values that are set; or as usual."""
    (part.add_class if stale else part.remove_class)("wb-stale")


class LiveView(Panel):
    """Controls that compute, and what they compute. A subclass fills in four methods.

    - `build()` makes controls and charts, puts the controls into `self.inputs` (argument name to control)
      and returns the body, `self.side_by_side([controls...], [charts...])`.
    - `compute(**values)` calls the computation and returns its result.
    - `render(result)` puts the result into the charts and the text: the first chart first, for it is then painted first.
    - `working(result)` gives the `Step`s of the working.

    It shows nothing until `arrange` has been called, and is built anew at every further call.

    Attributes:
        live: the `Live` that ties them together.
        result: the result that is shown.
        big: the button for projector size.
        narrowest_px: width down to which the figures stay beside the controls.
        preferred_px: width of the figures for which the controls make room, down to `LEAST_PX`.
    """

    slow = False
    """Whether `compute` takes longer than a fifth of a second; it then runs beside the page (`Live`)."""

    narrowest_px = preferred_px = 480
    live: Live

    def __init__(self, name: str = "") -> None:
        super().__init__(name=name)
        self.inputs: dict[str, Any] = {}
        self.result: Any = None
        self.detached_parts: tuple[W.Widget, ...] = ()
        self.big = W.ToggleButton(description="large text", tooltip="for a projector")
        self.big.observe(lambda change: self.set_big(change["new"]), names="value")
        self.together, self.page_width = OneMessage(), PageWidth()
        self.page_width.observe(lambda _: self._lay_out(self.big.value), names=["width", "short"])

    # what a subclass fills in --------------------------------------------------------------------

    def build(self) -> W.Widget:
        """Make controls and charts; return the body."""
        raise NotImplementedError

    def compute(self, *args: Any, **values: Any) -> Any:
        """Call the computation."""
        raise NotImplementedError

    def render(self, result: Any) -> None:
        """Show a result."""
        raise NotImplementedError

    def working(self, result: Any) -> Iterable[Step]:
        """How the result came about."""
        raise NotImplementedError

    def preview(self, *args: Any, **values: Any) -> None:
        """Move what needs no computing, before a slow computation of the same values begins."""

    # what a subclass uses ------------------------------------------------------------------------

    def arrange(self, *head: W.Widget) -> None:
        """Build all of it and compute once.

        Args:
            head: parts above it.
        """
        if hasattr(self, "live"):
            self.live.retire()
        self.result = None
        body = self.build()
        for control in self.inputs.values():
            if isinstance(control, NumberControl):
                control.held = self.together.held
        self.working_panel = WorkingPanel()
        progress = getattr(self, "progress_bar", None)
        self.live = Live(
            self.inputs,
            self.compute,
            self._show,
            slow=self.slow,
            progress=progress,
            preview=self._preview,
            mark_stale=self.show_stale,
            shown=self.together.shown,
        )
        parts = (*head, self.live.status, body, self.working_panel)
        self.children = [self.together, self.page_width, *parts]

    def side_by_side(
        self, left: Iterable[W.Widget], right: Iterable[W.Widget], *below: W.Widget
    ) -> W.Box:
        """Controls and key figures at the left, charts at the right; at projector size on top of them.

        Args:
            left: controls and the texts read beside them.
            right: charts and pictures.
            below: what takes the whole width under both.
        """
        self._left_parts, self._right_parts = tuple(left), tuple(right)
        self.left, self.right = W.VBox(self._left_parts), W.VBox(self._right_parts)
        self.right.add_class("wb-right")
        self._body = W.HBox([self.left, self.right])
        self._lay_out(self.big.value)
        return W.VBox([self._body, *below]) if below else self._body

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size, of everything in it and of its detached parts."""
        super().set_big(big)
        for box in self.detached_parts:
            set_big(box, big)
        for part in _descendants(self):
            resize = getattr(part, "set_big", None)
            if resize is not None:
                resize(big)
        self._lay_out(big)

    def show_stale(self, stale: bool) -> None:
        """Show figures faint, since they are not, or not yet, of the values that are set; or as usual."""
        set_stale(self, stale)

    # ---------------------------------------------------------------------------------------------

    def _preview(self, **values: Any) -> None:
        if self.result is not None:
            with self.together.held():
                self.preview(**values)

    def _show(self, result: Any) -> None:
        self.result = result
        with self.together.held():
            self.render(result)
            self.working_panel.update(lambda: self.working(result))

    def _lay_out(self, big: bool) -> None:
        """Sizes of what `side_by_side` holds, for the width that the page leaves."""
        width, short = 0 if big else self.page_width.width, self.page_width.short
        figures_px = LEAST_PX if short else self.narrowest_px
        spare = width - self.preferred_px - BETWEEN_PX if width else PANEL_PX
        panel_px = min(PANEL_PX, max(LEAST_PX, spare))
        narrow = 0 < width < panel_px + figures_px + BETWEEN_PX
        if narrow:
            panel_px = PANEL_PX
        self._arrange_columns(big, panel_px)
        (self._body.add_class if narrow else self._body.remove_class)("wb-narrow")
        self._body.layout.flex_flow = "column" if big or narrow else "row wrap"
        self._body.layout.align_items = "stretch" if narrow else "flex-start"
        room = width if narrow else width - panel_px - BETWEEN_PX if width else FIGURE_PX
        columns = ((self.left, panel_px, panel_px), (self.right, room, figures_px))
        for column, widest, basis in columns:
            column.layout.width = f"{PANEL_PX + FIGURE_PX}px" if big else ""
            column.layout.max_width = None if big else f"{width if narrow else widest}px"
            column.layout.flex = "0 0 auto" if big or narrow else f"1 1 {basis}px"
        for box, width_px in (
            (self.right, room),
            *((panel, min(width or FIGURE_PX, FIGURE_PX)) for panel in self.detached_parts),
        ):
            for part in _descendants(box):
                if isinstance(part, Panel):
                    part.fit(width_px)

    def _arrange_columns(self, big: bool, panel_px: int) -> None:
        """Distribute the parts over the columns, and set the width of the controls."""
        narrower_px = PANEL_PX - panel_px
        sizes = (
            (270, 440, 104)
            if big
            else (150 - narrower_px // 3, 306 - 9 * narrower_px // 10, 72 - narrower_px // 10)
        )
        for control in self._left_parts:
            if isinstance(control, NumberControl | ChoiceControl):
                control.size(*sizes)
        text_panels = tuple(part for part in self._left_parts if isinstance(part, TEXT_PANELS))
        other_parts = tuple(part for part in self._left_parts if part not in text_panels)
        self.left.children = other_parts if big else self._left_parts
        self.right.children = (*self._right_parts, *text_panels) if big else self._right_parts
        self.left.layout.flex_flow = "row wrap" if big else "column"
        self.left.layout.grid_gap = "0 24px" if big else ""
        self.left.layout.overflow = "auto" if narrower_px else ""
        self.big.layout.width, self.big.layout.flex = "160px" if big else "110px", "0 0 auto"


class FittedPanel(Panel):
    """A panel without controls beside figures, whose parts take the width that the page leaves.

    Example:
        >>> from workbook.widgets.charts import LineChart
        >>> chart = LineChart("Sag", "charge, Ah", "voltage, V")
        >>> panel = FittedPanel(chart)
        >>> panel.page_width.width = 370
        >>> chart.layout.width
        '370px'
    """

    def __init__(self, *children: W.Widget, name: str = "") -> None:
        self.page_width = PageWidth()
        super().__init__(self.page_width, *children, name=name)
        self.page_width.observe(lambda change: self._fit_parts(change["new"]), names="width")

    def _fit_parts(self, width: int) -> None:
        for part in _descendants(self):
            if isinstance(part, Panel):
                part.fit(min(width, FIGURE_PX))


def _descendants(box: W.Box) -> Iterator[W.Widget]:
    """Everything that a box holds, and what that holds."""
    todo = list(box.children)
    while todo:
        part = todo.pop()
        yield part
        todo += getattr(part, "children", ())
