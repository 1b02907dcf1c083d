"""A page to print, written from a page on the screen: its file, the paper, and what came of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ipywidgets as W
from IPython.display import Markdown

from workbook.files.writing import SeenFiles
from workbook.sheet.build import PAPERS
from workbook.widgets.parts import REPLACE, Reply, button, text_box, tick, wrapped
from workbook.widgets.style import Panel


class PageWriter(Panel):
    """Writes a page to print; a file that is there is left unless asked.

    Args:
        file: name of the file to begin with.
        words, tip: of the button.
        write: called with the path, and by name `paper`, `overwrite` and `seen`; what it returns, a sentence or
            nothing, is shown with the path.
        more: further controls in the same row.
    """

    def __init__(
        self, file: str, words: str, tip: str, write: Callable[..., str], *more: W.Widget
    ) -> None:
        self.file, self._write, self.seen = file, write, SeenFiles()
        self.name = text_box(file, "file", width_px=280, label_px=60)
        papers = [(paper.css, name) for name, paper in PAPERS.items()]
        self.paper = W.Dropdown(options=papers, description="paper", layout={"width": "150px"})
        self.paper.style.description_width = "60px"
        self.over = tick(REPLACE)
        self.button = button(words, self.write, tip, 170)
        self.reply, self.link = Reply(), W.Output()
        asked = wrapped(self.name, self.paper, *more, self.over, self.button)
        super().__init__(asked, self.reply, self.link, name="page-writer")

    def write(self) -> None:
        """Write the page, or say why not."""
        path = Path(self.name.value.strip() or self.file)
        self.link.outputs = ()
        with self.reply.trying():
            self.reply.done("… writing")
            options = {"paper": self.paper.value, "overwrite": self.over.value, "seen": self.seen}
            message = f"✓ Written: {path}. {self._write(path, **options)}".strip()
            self.reply.done(f"{message} Open it, print it at 100 %.")
            self.link.append_display_data(Markdown(f"[open {path.name}]({path.as_posix()})"))
