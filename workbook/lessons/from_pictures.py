"""The page of pictures: a thrust table read from one, a cell taken from the graph in another."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as W

from workbook.craft.thrust_table import ThrustTable
from workbook.data.notebooks import here_or_shipped
from workbook.errors import InputError
from workbook.files.reading import read_bytes
from workbook.files.thrust_table_file import describe, write_thrust_table
from workbook.lessons.bench_files import TYPED_COLUMNS
from workbook.lessons.datasheet import CellFitter
from workbook.lessons.learner import FILES, keep_table
from workbook.pictures.opening import ENDINGS, MOST_BYTES, OpenedPicture, open_picture
from workbook.pictures.recognise import HOW_TO_ADD, can_read
from workbook.pictures.table import table_in, use_table
from workbook.pictures.trace import HOW_TO_ADD as HOW_TO_FOLLOW
from workbook.pictures.trace import can_follow
from workbook.widgets.controls import ChoiceControl, ChosenFile, FileControl, NumberControl
from workbook.widgets.frame import FittedPanel
from workbook.widgets.graph_tracer import GraphTracer
from workbook.widgets.parts import (
    REPLACE,
    Reply,
    button,
    finding_html,
    heading,
    text_box,
    tick,
    wrapped,
)
from workbook.widgets.picture_grid import PictureGrid, empty_table
from workbook.widgets.style import Panel

PRACTICE_TABLE = Path("pictures", "practice_table.jpg")
PRACTICE_GRAPH = Path("pictures", "practice_graph.png")
TABLES = Path("tables")


class PictureChooser(Panel):
    """A picture or a page of a PDF, chosen by a person; an invented one to start with.

    Args:
        label: what the picture is of.
        practice: the picture to start with.
        use_picture: called with every picture that was opened.

    Attributes:
        opened: the current picture.
    """

    def __init__(
        self, label: str, practice: Path, use_picture: Callable[[OpenedPicture], None]
    ) -> None:
        self._use_picture = use_picture
        self.file = FileControl(f"{label}: a picture, or a PDF", ENDINGS, MOST_BYTES / 1e6)
        self.page = NumberControl("page of the PDF", "", 1, 1, 100, 1, whole=True)
        self.page.size(110, 300, 60)
        self.page.layout.display = "none"
        self.reply = Reply()
        super().__init__(self.file, self.page, self.reply)
        self._chosen = ChosenFile(practice.name, read_bytes(here_or_shipped(practice), MOST_BYTES))
        self.file.chosen.value = "an invented picture to practise on; choose your own"
        self.file.observe(self._file_chosen, names="value")
        self.page.observe(lambda _: self._open(), names="value")
        self._open()

    def _file_chosen(self, change: Any) -> None:
        self._chosen = change["new"]
        if self.page.value != 1:
            self.page.value = 1  # which opens it
        else:
            self._open()

    def _open(self) -> None:
        with self.reply.trying():
            self.opened = open_picture(
                self._chosen.content, self._chosen.name, int(self.page.value)
            )
            self.page.layout.display = "" if self.opened.pages > 1 else "none"
            self._use_picture(self.opened)


class TableFromPicture(FittedPanel):
    """A motor's thrust table from a picture, beside it, to be confirmed and put to use.

    Attributes:
        grid: the table, with the doubts about it.
        table: the thrust table in use; None before there is one.
    """

    def __init__(self) -> None:
        self.table: ThrustTable | None = None
        self.grid = PictureGrid()
        self.read_button = button("read the text", self.read, width_px=150)
        self.craft = ChoiceControl("for my", list(FILES), label_px=50, width_px=210)
        self.name = text_box("my motor", "saved as", width_px=240)
        self.choice = ChoiceControl("of the table", {"the only one": 0}, label_px=90)
        self.choice.layout.display = "none"
        self.use_button = button("use this table in my design", self.use, width_px=230)
        self.overwrite, self.reply = tick(REPLACE), Reply()
        self.chooser = PictureChooser("The table", PRACTICE_TABLE, self._show_picture)
        add = [] if can_read() else [W.HTML(finding_html(HOW_TO_ADD, announced=False))]
        use = wrapped(self.craft, self.name, self.use_button, self.overwrite)
        super().__init__(
            self.chooser,
            self.read_button,
            *add,
            self.grid,
            self.choice,
            use,
            self.reply,
            name="table-from-picture",
        )

    def _show_picture(self, picture: OpenedPicture) -> None:
        self.grid.show(picture, empty_table(TYPED_COLUMNS, 6))
        self.reply.clear()

    def read(self) -> None:
        """Fill the grid with the text of the picture, or say why not and leave it."""
        with self.reply.trying():
            self.reply.done("Reading; this takes some seconds.")
            table = table_in(self.chooser.opened)
            self.grid.show(self.chooser.opened, table)
            self.reply.done(f"{len(table.rows)} rows of {len(table.headings)} columns are read.")

    def use(self) -> None:
        """Save the table and put it into the learner's design, or say why not."""
        with self.reply.trying():
            tables = use_table(self.grid.value, self.chooser.opened.name)
            self._offer(tables.tables)
            self.table = tables.tables[int(self.choice.value)]
            name = re.sub(r"[^a-z0-9]+", "_", self.name.value.casefold()).strip("_") or "motor"
            path = TABLES / f"mine_{name}.csv"
            write_thrust_table(self.table, path, overwrite=self.overwrite.value)
            kept = keep_table(self.craft.value, path)
            notices = " ".join(str(notice) for notice in tables.notices)
            message = f"✓ Saved as {path.as_posix()}: {describe(self.table)}. {kept} {notices}"
            self.reply.done(message.strip())

    def _offer(self, tables: tuple[ThrustTable, ...]) -> None:
        names = {f"{n + 1}: {describe(table)}": n for n, table in enumerate(tables)}
        if [label for label, _ in self.choice.options] == list(names):
            return
        self.choice.options = list(names.items())
        self.choice.value = 0
        self.choice.layout.display = "" if len(tables) > 1 else "none"
        if len(tables) > 1:
            raise InputError(
                f"it holds {len(tables)} tables; choose one above, and press the button again."
            )


class CellFromPicture(FittedPanel):
    """A cell from its datasheet's graph: curves traced, the fit beside them, saved as a cell file.

    Attributes:
        tracer: the picture and its curves.
        fitter: figures, fit and file of the cell.
    """

    def __init__(self) -> None:
        self.tracer = GraphTracer()
        self.fitter = CellFitter()
        self.chooser = PictureChooser("The discharge graph", PRACTICE_GRAPH, self._show_picture)
        self.tracer.observe(self._use_points, names="value")
        add = [] if can_follow() else [W.HTML(finding_html(HOW_TO_FOLLOW, announced=False))]
        title = heading("The cell that these points make")
        super().__init__(
            self.chooser, *add, self.tracer, title, self.fitter, name="cell-from-picture"
        )

    def _show_picture(self, picture: OpenedPicture) -> None:
        self.tracer.show(picture)
        if picture.name != PRACTICE_GRAPH.name:
            self.fitter.points.value = ""  # those of the practice cell are not this one's

    def _use_points(self, change: Any) -> None:
        self.fitter.points.value = change["new"]


class FromPictures:
    """The parts of the page.

    Attributes:
        table: a thrust table from a picture.
        cell: a cell from the picture of its discharge graph.
    """

    def __init__(self) -> None:
        self.table, self.cell = TableFromPicture(), CellFromPicture()
