"""A table beside the picture that it was read from: each doubtful cell marked, the current row framed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape

import ipywidgets as W
import traitlets

from workbook.pictures.doubts import with_doubts
from workbook.pictures.layout import PictureCell, PictureTable
from workbook.pictures.opening import OpenedPicture
from workbook.pictures.table import doubtful
from workbook.widgets.parts import button, wrapped
from workbook.widgets.picture_figure import PictureFigure, place
from workbook.widgets.style import Panel

CELL_PX = 78
MOST_DOUBTS_SHOWN = 6


class PictureGrid(Panel):
    """The picture above, the cells below, the doubts in words between.

    `value` is the current table, with its doubts. A cell that is typed in, or confirmed, is
    doubted no more; `ruler` frames a line of the picture by hand where no row was read.

    Attributes:
        cells: the boxes, headings first.
        message: the doubts that are open, in words.

    Example:
        >>> import numpy as np
        >>> grid = PictureGrid()
        >>> grid.show(
        ...     OpenedPicture("a", np.zeros((90, 90, 3), np.uint8)),
        ...     empty_table(["Thrust (g)", "A"], 2),
        ... )
        >>> grid.cells[1][0].value = "450"
        >>> grid.value.rows[0][0].text
        '450'
    """

    value = traitlets.Instance(PictureTable, ())

    def __init__(self) -> None:
        self._position = (1, 0)
        self.cells: list[list[W.Text]] = []
        self.picture = PictureFigure()
        self._frame = self.picture.lines(closed=True)
        self.notes = W.Textarea(
            description="beside it",
            tooltip="lines beside the table: motor, propeller, voltage",
            continuous_update=False,
            layout=W.Layout(width="620px", height="54px"),
        )
        self.ruler = W.IntSlider(
            0,
            0,
            100,
            description="the line being read",
            continuous_update=True,
            readout=False,
            tooltip="moves the frame over the picture: drag, or use the arrow keys",
            layout=W.Layout(width="420px"),
        )
        self.next_button = button("next doubtful cell", self.go_on, width_px=150)
        self.right_button = button("it is right", self.confirm, width_px=110)
        self.row_button = button("add a row", self.add_row, width_px=110)
        self.without_button = button("leave this row out", self.leave_out, width_px=150)
        self.message, self._body = W.HTML(), W.VBox([])
        self.notes.observe(self._notes_changed, names="value")
        self.ruler.observe(self._ruler_moved, names="value")
        buttons = [self.next_button, self.right_button, self.row_button, self.without_button]
        left = W.VBox([self.picture, self.ruler], layout=W.Layout(max_width="100%"))
        right = W.VBox([self.message, wrapped(*buttons), self.notes, self._body])
        right.layout = W.Layout(flex="1 1 720px", max_width="100%")
        super().__init__(wrapped(left, right, grid_gap="0 20px"), name="picture-grid")

    def show(self, picture: OpenedPicture, table: PictureTable) -> None:
        """Show another picture and its table."""
        self.picture.show(picture)
        self._use_table(table, rebuild=True)
        self.go_on()

    def _use_table(self, table: PictureTable, *, rebuild: bool = False) -> None:
        self.value = with_doubts(table)
        with self.quiet():
            if rebuild:
                self._build()
            self.notes.value = "\n".join(table.notes)
        self._mark()

    def _rows(self) -> list[list[PictureCell]]:
        return [list(row) for row in (self.value.headings, *self.value.rows)]

    def _build(self) -> None:
        self.cells = []
        for r, row in enumerate(self._rows()):
            wide = W.Layout(
                width=f"{CELL_PX * (1.5 if len(row) < 7 else 1.25):.0f}px",
                min_width="60px",
                flex="0 1 auto",
                margin="1px",
            )
            boxes = [W.Text(cell.text, continuous_update=False, layout=wide) for cell in row]
            for k, box in enumerate(boxes):
                box.observe(
                    lambda change, r=r, k=k: self._typed(r, k, change["new"]), names="value"
                )
            self.cells.append(boxes)
        self._body.children = [W.HBox(row) for row in self.cells]

    def _mark(self) -> None:
        """Show every doubt on its cell and in words."""
        for r, (boxes, row) in enumerate(zip(self.cells, self._rows(), strict=True)):
            name = f"row {r}" if r else "heading"
            for k, (box, cell) in enumerate(zip(boxes, row, strict=True)):
                (box.add_class if cell.doubt else box.remove_class)("wb-doubt")
                heading = self.value.headings[k].text or f"column {k + 1}"
                box.tooltip = f"{name}, {heading}" + (f": {cell.doubt}" if cell.doubt else "")
        open_doubts = doubtful(self.value)
        if open_doubts:
            lines = "".join(f"<li>{escape(line)}</li>" for line in open_doubts[:MOST_DOUBTS_SHOWN])
            more = len(open_doubts) - MOST_DOUBTS_SHOWN
            more_line = f"<li>and {more} more</li>" if more > 0 else ""
            text = f"△ {len(open_doubts)} marked: look at each beside the picture.<ul>{lines}{more_line}</ul>"
        elif not any(cell.text for row in self.value.rows for cell in row):
            text = "Type the figures in, or have them read; the headings say what stands where."
        else:
            text = "✓ No cell is marked. Look over the table once more before you use it."
        self.message.value = f'<div class="wb-finding" role="status">{text}</div>'

    def _typed(self, r: int, k: int, text: str) -> None:
        if self.busy:
            return
        rows = self._rows()
        rows[r][k] = replace(rows[r][k], text=text.strip(), confidence=1.0)
        self._position = (r, k)
        self._use_rows(rows)
        self._frame_row(r)

    def _use_rows(self, rows: Sequence[Sequence[PictureCell]], *, rebuild: bool = False) -> None:
        table = replace(self.value, headings=tuple(rows[0]), rows=tuple(map(tuple, rows[1:])))
        self._use_table(table, rebuild=rebuild)

    def _notes_changed(self, change: traitlets.Bunch) -> None:
        if not self.busy:
            lines = tuple(line.strip() for line in change["new"].splitlines() if line.strip())
            self.value = replace(self.value, notes=lines)

    def go_on(self) -> None:
        """Go to the next doubtful cell after the current one, and frame its row in the picture."""
        marked = [
            (r, k) for r, row in enumerate(self._rows()) for k, cell in enumerate(row) if cell.doubt
        ]
        if marked:
            self._position = next(
                (position for position in marked if position > self._position), marked[0]
            )
            self._frame_row(self._position[0])
            self.cells[self._position[0]][self._position[1]].focus()

    def confirm(self) -> None:
        """Accept the current cell: a person has looked at it."""
        r, k = self._position
        rows = self._rows()
        if r < len(rows) and k < len(rows[r]):
            rows[r][k] = replace(rows[r][k], confidence=1.0)
            self._use_rows(rows)
        self.go_on()

    def add_row(self) -> None:
        """One more empty row at the end."""
        width = len(self.value.headings)
        self._use_rows([*self._rows(), [PictureCell() for _ in range(width)]], rebuild=True)

    def leave_out(self) -> None:
        """Take the current row out."""
        rows = self._rows()
        if 0 < self._position[0] < len(rows) and len(rows) > 2:
            del rows[self._position[0]]
            self._use_rows(rows, rebuild=True)

    def _frame_row(self, r: int) -> None:
        """Frame a row in the picture."""
        boxes = [cell.box for cell in self._rows()[r] if cell.box]
        if boxes:
            left, top = (min(box[n] for box in boxes) for n in (0, 1))
            right, bottom = (max(box[n] for box in boxes) for n in (2, 3))
            self._set_frame(left - 6, top - 3, right + 6, bottom + 3)

    def _ruler_moved(self, change: traitlets.Bunch) -> None:
        wide, high = self.picture.size
        pitch = high / max(10, 2 + len(self.cells))
        top = (high - pitch) * change["new"] / 100
        self._set_frame(0, top, wide, top + pitch)

    def _set_frame(self, left: float, top: float, right: float, bottom: float) -> None:
        corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)]
        place(self._frame, corners)


def empty_table(headings: Sequence[str], rows: int) -> PictureTable:
    """A table to type into, beside a picture of which no text is read."""
    line = tuple(PictureCell() for _ in headings)
    return PictureTable((), tuple(map(PictureCell, headings)), (line,) * rows)
