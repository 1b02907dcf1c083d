"""The page of a club's designs: side by side, sorted, one of them opened."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as W

from workbook.errors import InputError, visible
from workbook.files.design_file import read_design
from workbook.files.gallery import ORDERS, FoundDesign, read_gallery, take_design
from workbook.files.packed import packed_text
from workbook.files.sent_page import LARGEST_BYTES, SUFFIXES
from workbook.files.writing import write_text
from workbook.lessons.learner import DESIGNS
from workbook.sheet.text import WORDS, doubt_lines, result_text, sign_of, unchecked_lines
from workbook.sizing.pair import packs_name
from workbook.widgets.controls import ChoiceControl, ChosenFile, FileControl
from workbook.widgets.parts import Reply, button, download_html, finding_html, wrapped
from workbook.widgets.style import Panel
from workbook.widgets.table import Table
from workbook.widgets.verdict import Figure, KeyFigures, LimitsTable, Notices, Verdict

PACKED = Path("packed")
"""Folder of the designs to hand on."""
HEADINGS = ("design", "verdict", "endurance", "all-up", "cells", "what breaks")
WORD_COLUMNS = (1, 4, 5)
"""Columns of words."""


class ClubDesigns(Panel):
    """Every design of a folder in one table, and one of them opened below it.

    Args:
        folder: of the designs.

    Attributes:
        found: the designs as last read.

    Raises:
        InputError: there is no such folder.
    """

    def __init__(self, folder: Path | str = DESIGNS) -> None:
        self.folder, self.found = Path(folder), read_gallery(folder)
        self.order = ChoiceControl("sort by", tuple(ORDERS), label_px=60, width_px=300)
        self.opened = ChoiceControl("open", self._names(), label_px=60, width_px=300)
        self.refresh_button = button("look again", self.look, "read the folder again")
        tip = "with its thrust table and its cell inside"
        self.pack, self.reply = button("make one file of it", self.pack_opened, tip), Reply()
        self.link = W.HTML()
        accept = ",".join((".toml", *SUFFIXES))
        self.sent = FileControl("A design that somebody sent", accept, LARGEST_BYTES / 1e6)
        self.sent.observe(lambda change: self.take(change["new"]), names="value")
        self.order.observe(lambda _: self.show(), names="value")
        self.opened.observe(lambda _: self.show_opened(), names="value")
        self.notice, self.table, self.hint = Notices(), Table(), W.HTML()
        self.verdict, self.figures, self.doubts = Verdict(), KeyFigures(), Notices()
        self.limits = LimitsTable()
        self.table.add_class("wb-cards")
        super().__init__(
            wrapped(self.order, self.opened, self.refresh_button),
            self.notice,
            self.table,
            self.sent,
            self.verdict,
            self.hint,
            self.pack,
            self.reply,
            self.link,
            self.figures,
            self.doubts,
            self.limits,
            name="club-designs",
            max_width="1170px",
        )
        self.show()
        self.show_opened()

    def _names(self) -> dict[str, FoundDesign | None]:
        """What can be opened, by name of file."""
        read = {one.path.name: one for one in self.found.designs if one.answer is not None}
        return dict(read) or {"none": None}

    def look(self) -> None:
        """Read the folder again, and say where it is gone."""
        try:
            self.found = read_gallery(self.folder)
        except InputError as fault:
            self.notice.update(fault.lines)
            return
        name, names = self.opened.label, self._names()
        self.opened.options = list(names.items())
        self.opened.label = name if name in names else next(iter(names))
        self.show()
        self.show_opened()

    def show(self) -> None:
        """The table, in the order chosen."""
        self.notice.update([self.found.notice] if self.found.notice else [])
        rows = [_row(one) for one in self.found.by(self.order.value)]
        self.table.update(HEADINGS, rows, f"{len(rows)} designs", words=WORD_COLUMNS)

    def show_opened(self) -> None:
        """The design that is open: verdict, figures, doubts and every limit."""
        opened: FoundDesign | None = self.opened.value
        answer = None if opened is None else opened.answer
        self.reply.clear()
        self.link.value = ""
        below = (self.verdict, self.hint, self.pack, self.figures, self.doubts, self.limits)
        for part in below:
            part.layout.display = "none" if answer is None else ""
        if opened is None or answer is None:
            return
        figures = answer.figures()
        self.verdict.show(answer)
        self.figures.update([Figure.of(key, figures[key]) for key in answer.craft_type.short_keys])
        hint = f"{answer.design.name}. To change it, load {opened.path.as_posix()} on the sizing bench."
        self.hint.value = finding_html(hint, announced=False)
        self.doubts.update([*doubt_lines(answer), *unchecked_lines(answer)])
        self.limits.show(answer.limits)

    def pack_opened(self) -> None:
        """Write the open design as one file, to hand on; a file that is there stays."""
        path: Path = self.opened.value.path
        target = PACKED / path.name
        with self.reply.trying():
            write_text(target, packed_text(read_design(path)))
            self.link.value = download_html(target)
            self.reply.done(f"Written: {target.as_posix()}. It needs no other file; hand it on.")

    def take(self, sent: ChosenFile) -> None:
        """Put a design that somebody sent beside the others, and open it; one that cannot be used is not kept."""
        with self.sent.reply.trying():
            path = take_design(sent.name, sent.content, self.folder)
            self.look()
            if shown := path.name in self._names():
                self.opened.label = path.name
            is_open = "; it is open below" if shown else ""
            self.sent.reply.done(f"Kept as {path.as_posix()}{is_open}.")


def _row(one: FoundDesign) -> tuple[str, ...]:
    """A design as a line of the table; where it cannot be used, why."""
    answer, name = one.answer, visible(one.path.name)
    if answer is None:
        return (name, "✕ cannot be used", "", "", "", " ".join(InputError(one.faults).lines))
    figures = answer.figures()
    broken = "; ".join(limit.name for limit in answer.broken)
    broken = f"Broken: {broken}." if broken else ""
    return (
        f"{answer.design.name} ({name})",
        f"{sign_of(answer.verdict)} {WORDS[answer.verdict]}",
        *(result_text(key, figures[key]) for key in ("endurance_min", "all_up_mass_g")),
        f"{answer.design.pack.cell.name}, {packs_name(answer.design)}",
        " ".join([*answer.stops, broken]).strip() or " ".join(answer.reasons) or "nothing breaks",
    )
