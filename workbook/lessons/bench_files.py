"""The files of the sizing bench: a design is loaded and saved, a thrust table uploaded or typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from workbook.craft.thrust_table import ThrustTable
from workbook.errors import InputError
from workbook.files.design_file import (
    DesignFile,
    check_design,
    moved_design,
    read_design,
    table_notices,
    write_design,
)
from workbook.files.design_parts import DesignPart
from workbook.files.reach import relative_path
from workbook.files.thrust_table_file import (
    ThrustTableFile,
    read_thrust_tables,
    thrust_table_from_rows,
    write_thrust_table,
)
from workbook.files.writing import SeenFiles, check_writable
from workbook.lessons.learner import design_path, design_suggestions, with_figures
from workbook.lessons.page_to_send import PageToSend
from workbook.widgets.controls import ChoiceControl, ChosenFile, FileControl, RowsGrid
from workbook.widgets.parts import (
    OWN_COPY,
    REPLACE,
    Reply,
    button,
    heading,
    text_box,
    tick,
    wrapped,
)
from workbook.widgets.style import Panel

TYPED_COLUMNS = ("throttle (%)", "thrust (g)", "current (A)", "voltage (V)", "power (W)")
NO_TABLE: dict[str, ThrustTable | None] = {"as in the design": None}


class BenchFiles(Panel):
    """Load and save a design; use another thrust table.

    Args:
        path: the design to start with.
        settings: returns the figures that are set, key of the design file to value.
        opened: called after another design was loaded.
        changed: called after another thrust table is in use.

    Attributes:
        file: the design file in use, with the thrust table in use.

    Raises:
        InputError: the design cannot be used.
    """

    def __init__(
        self,
        path: Path,
        settings: Callable[[], Mapping[str, Any]],
        opened: Callable[[], None],
        changed: Callable[[], None],
    ) -> None:
        self._settings, self._opened, self._changed = settings, opened, changed
        self.seen, self.own_table = SeenFiles(), False
        outside = "let a design take files from other folders"
        self.anywhere = tick(outside, width_px=420)
        self.anywhere.add_class(OWN_COPY)
        self.file = self._read(path)
        self._tables = ThrustTableFile(())
        self.design_path = text_box(str(path), "design", width_px=420)
        self.load_button = button(
            "load", lambda: self.load(self.design_path.value), "load the design from this path"
        )
        self.save_button = button(
            "save", lambda: self.save(self.design_path.value), "save the design to this path"
        )
        self.overwrite, self.reply = tick(REPLACE), Reply()
        self.page = PageToSend(self.current_file, self._target)
        self.table_file = FileControl("A thrust table of your own", ".csv,.txt,.tsv", 5.0)
        self.table_file.observe(lambda change: self.take_table(change["new"]), names="value")
        self.rows = RowsGrid(
            TYPED_COLUMNS,
            label="or typed from a photograph: thrust and current, with voltage or power",
        )
        self.propeller = text_box(
            label="propeller", hint="15x5, if known", tip="diameter x pitch in inches", width_px=230
        )
        self.use_rows = button("use these rows", self.take_rows, width_px=140)
        self.table_choice = ChoiceControl("of the table", NO_TABLE)
        self.table_choice.observe(lambda change: self._use_table(change["new"]), names="value")
        self.table_choice.layout.display = "none"
        super().__init__(
            heading("Load and save"),
            wrapped(
                self.design_path,
                design_suggestions(self.design_path),
                self.load_button,
                self.save_button,
                self.overwrite,
            ),
            self.anywhere,
            self.reply,
            self.page,
            self.table_file,
            self.table_choice,
            self.rows,
            wrapped(self.propeller, self.use_rows),
        )

    def _read(self, path: Path | str) -> DesignFile:
        self.seen.note(Path(path))
        file = read_design(path, anywhere=self.anywhere.value)
        for other in file.inputs[1:]:
            self.seen.note(other)
        return file

    def load(self, path: str) -> None:
        """Put a design from a file on the bench, or say why not and keep the one that is there."""
        with self.reply.trying():
            file = self._read(path)
            before = self.file, self.own_table
            self.file, self.own_table = file, False
            try:
                self._opened()
            except InputError:
                self.file, self.own_table = before
                self._opened()
                raise
            self.reply.done(f"Loaded {file.path.name}.")

    def _part(self) -> DesignPart:
        """The contents of a design file with the figures that are set."""
        figures = self.file.without_rules(self._settings())
        return check_design(with_figures(self.file.part, figures), "bench")

    def _target(self) -> Path:
        return design_path(self.design_path.value)

    def current_file(self) -> DesignFile:
        """The design with the figures that are set.

        Raises:
            InputError: its thrust table is in no file yet.
        """
        if self.own_table:
            raise InputError(
                "Save the design first, above: its thrust table is in no file yet. Then ask for the page again; "
                "nothing that you typed is lost."
            )
        return self.file.with_part(self._part())

    def save(self, path: str) -> None:
        """Save the design with the figures that are set; an existing file is replaced only when that is ticked.

        One that was changed elsewhere since it was read here is left, with a message; the next save replaces it.
        """
        target = design_path(path)
        over, inputs = self.overwrite.value, self.file.inputs[1:]
        with self.reply.trying():
            here, table = self.file.path.parent, target.with_name(f"{target.stem}_thrust.csv")
            part = self._part()
            if self.own_table:
                part = _with_table(part, relative_path(table, here))
            part = moved_design(part, here, target.parent, anywhere=self.anywhere.value)
            check_writable(target, overwrite=over, inputs=inputs)
            self.seen.ask(target)
            if self.own_table:
                own = self.file.design.craft.table
                write_thrust_table(own, table, overwrite=over, seen=self.seen)
            document = self.file.document
            write_design(part, target, document, overwrite=over, inputs=inputs, seen=self.seen)
            if self.own_table:  # which is in a file from now on
                self.file, self.own_table = self._read(target), False
            self.reply.done(f"Saved as {target}.")

    def take_table(self, chosen: ChosenFile) -> None:
        """Use an uploaded thrust table; where it holds several, the first until another is chosen."""
        with self.reply.trying():
            self._offer_tables(read_thrust_tables(chosen.content, chosen.name))

    def take_rows(self) -> None:
        """Use the rows typed in the grid, and the propeller that they were taken with."""
        taken_with = {"propeller": self.propeller.value}
        rows = [dict(zip(TYPED_COLUMNS, row, strict=True)) | taken_with for row in self.rows.value]
        with self.reply.trying():
            self._offer_tables(ThrustTableFile((thrust_table_from_rows(rows),)))

    def _offer_tables(self, tables: ThrustTableFile) -> None:
        self._tables = tables
        self.table_choice.options = [
            (f"{t.motor} {t.propeller} at {np.nanmean(t.voltage_v):.1f} V".strip(), t)
            for t in tables.tables
        ]
        self.table_choice.layout.display = "" if len(tables.tables) > 1 else "none"
        self.table_choice.value = tables.tables[0]
        self._use_table(tables.tables[0])
        self.reply.done(f"Tables read: {len(tables.tables)}; the first is in use.")

    def _use_table(self, table: ThrustTable | None) -> None:
        if table is None or table is self.file.design.craft.table:
            return
        design = self.file.design.changed(table=table)
        noticed = table_notices(self._tables, table)
        self.file = replace(self.file, design=design, table_notices=noticed)
        self.own_table = True
        self._changed()


def _with_table(part: DesignPart, table: str) -> DesignPart:
    """The design with another thrust table, the only one in its file."""
    named = {"thrust_table": table, "motor": None, "propeller": None, "table_voltage_v": None}
    return part.model_copy(update={"craft": part.craft.model_copy(update=named)})
