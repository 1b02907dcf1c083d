"""A compact table of allowances: each line's low, expected and high in boxes to type in."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial
from html import escape
from typing import Any

import ipywidgets as W
import traitlets

from workbook.errors import InputError
from workbook.parse import parse_number
from workbook.widgets.parts import Reply, button, text_box
from workbook.widgets.picture import BIG_SCALE
from workbook.widgets.style import Panel

ROW_PX = 30
ENDS = ("low", "expected", "high")
LARGEST_FIGURE = 1000.0
"""Of a figure, either side of 0."""
WIDTHS_PX = (276, 76, 76, 76, 48, 34)
"""Name, the three figures, unit, and the button that takes the line out."""
NARROW_PX = (188, 58, 72, 58, 48, 34)
"""The same where a figure beside the table needs the room: longer names take two lines."""


class AllowanceTable(Panel):
    """Lines one below the other, each with its three figures.

    Args:
        lines: frozen records with `key`, `name`, `unit`, `low`, `expected`, `high`.
        fixed: keys of lines that stay; any other has a button that takes it out. All, where not given.

    Attributes:
        value: the current lines; changes once for each figure that is typed.
        reply: says why a figure was not taken.
        narrow: whether it takes less width; see `set_narrow`.

    Example:
        >>> from workbook.sizing.budget_lines import STANDARD_LINES
        >>> table = AllowanceTable(STANDARD_LINES)
        >>> table.type_in("wind", "high", "20")
        >>> table.value[2].high
        20.0
        >>> table.type_in("wind", "low", "12")
        >>> table.value[2].low, table.reply.text
        (0.0, 'wind and gusts: low 12, expected 5, high 20; they must not fall. The line stays as it was.')
    """

    value = traitlets.Tuple()

    def __init__(self, lines: Sequence[Any], fixed: Collection[str] | None = None) -> None:
        self.fixed = {line.key for line in lines} if fixed is None else set(fixed)
        self._big = self.narrow = False
        self._keys: list[str] = []
        self.boxes: dict[tuple[str, str], W.Text] = {}
        self.remove_buttons: dict[str, W.Button] = {}
        self.reply = Reply()
        self._rows = W.VBox([])
        super().__init__(self._rows, self.reply, name="allowances")
        self.value = tuple(lines)

    @traitlets.observe("value")
    def _lines_changed(self, _: object) -> None:
        if self._keys != [line.key for line in self.value]:
            self._build()
        with self.quiet():
            for line in self.value:
                for end in ENDS:
                    self.boxes[line.key, end].value = f"{getattr(line, end):g}"
        self.reply.clear()

    def _build(self) -> None:
        self.boxes, self.remove_buttons = {}, {}
        self._keys = [line.key for line in self.value]
        head = [
            W.HTML(f'<b style="letter-spacing:-0.05em">{text}</b>', layout=W.Layout(margin="0 1px"))
            for text in ("allowance", *ENDS, "")
        ]
        self._rows.children = [W.HBox(head), *(self._row(line) for line in self.value)]
        self._set_sizes()

    def _row(self, line: Any) -> W.HBox:
        why = f' title="{escape(line.why)}"' if getattr(line, "why", "") else ""
        parts: list[W.Widget] = [
            W.HTML(
                f'<div style="line-height:1"{why}>{escape(line.name)}</div>',
                layout=W.Layout(margin="0 1px"),
            )
        ]
        for end in ENDS:
            box = text_box(tip=f"{line.name}, {end}, {line.unit}")
            box.layout.margin = "0 1px"
            box.observe(
                lambda change, key=line.key, end=end: self._typed(key, end, change["new"]),
                names="value",
            )
            self.boxes[line.key, end] = box
            parts.append(box)
        parts.append(W.HTML(escape(line.unit), layout=W.Layout(margin="0 1px")))
        if line.key not in self.fixed:
            take_out = partial(self.remove, line.key)
            parts.append(button("✕", take_out, f"take out {line.name}"))
            self.remove_buttons[line.key] = parts[-1]
        return W.HBox(parts)

    def _typed(self, key: str, end: str, text: str) -> None:
        if not self.busy:
            self.type_in(key, end, text)

    def type_in(self, key: str, end: str, text: str) -> None:
        """Take one figure as typed, or say why not and leave the line as it was."""
        line = next(entry for entry in self.value if entry.key == key)
        try:
            figure = parse_number(text, line.unit, -LARGEST_FIGURE, LARGEST_FIGURE)
        except InputError as fault:
            self.reply.refuse(f"{line.name}, {end}: {fault} {getattr(line, end):g} stays in use.")
            return
        changed = replace(line, **{end: figure})
        if not changed.low <= changed.expected <= changed.high:
            ends = ", ".join(f"{name} {getattr(changed, name):g}" for name in ENDS)
            self.reply.refuse(f"{line.name}: {ends}; they must not fall. The line stays as it was.")
            return
        self.reply.clear()
        self.value = tuple(changed if entry.key == key else entry for entry in self.value)

    def add(self, line: Any) -> None:
        """Put one more line at the end; of a key that is there, in its place."""
        others = tuple(entry for entry in self.value if entry.key != line.key)
        self.value = (*others, line)

    def remove(self, key: str) -> None:
        """Take a line out."""
        self.value = tuple(entry for entry in self.value if entry.key != key)

    @property
    def rows(self) -> tuple[W.HBox, ...]:
        """The heading and a row for each line, in the order of the page."""
        return tuple(self._rows.children)

    def _set_sizes(self) -> None:
        grow = BIG_SCALE if self._big else 1.0
        for row in self._rows.children:
            row.layout.height, row.layout.align_items = f"{grow * ROW_PX:g}px", "center"
            widths = NARROW_PX if self.narrow else WIDTHS_PX
            for part, width in zip(row.children, widths, strict=False):
                part.layout.width = f"{grow * width:g}px"

    def set_narrow(self, narrow: bool) -> None:
        """Take less width, or the usual one."""
        if narrow != self.narrow:
            self.narrow = narrow
            self._set_sizes()

    def set_big(self, big: bool) -> None:
        """Projector size or laptop size."""
        self._big = big
        super().set_big(big)
        self._set_sizes()
