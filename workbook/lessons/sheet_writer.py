"""A button that writes the build sheet, and a link to what it wrote."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as W
from IPython.display import Markdown

from workbook.errors import InputError
from workbook.files.writing import SeenFiles
from workbook.lessons.cell_batch import CellBatch
from workbook.lessons.learner import learners_design
from workbook.sheet.build import PAPERS, write_sheet
from workbook.widgets.style import Panel


class SheetWriter(Panel):
    """Writes the sheet of the design that is kept; a file that is there is left unless asked.

    Args:
        craft_type: as `learners_design` takes it.
        batch: whose cell log goes onto the sheet, where its box is ticked.
    """

    def __init__(self, craft_type: str, batch: CellBatch) -> None:
        self.craft_type, self.batch, self.seen = craft_type, batch, SeenFiles()
        wide = {"description_width": "110px"}
        self.name = W.Text("build_sheet.html", description="file", style=wide)
        self.name.layout.width = "420px"
        papers = [(paper.css, name) for name, paper in PAPERS.items()]
        self.paper = W.Dropdown(options=papers, description="paper", style=wide)
        self.cells = W.Checkbox(True, description="deal the cells of the log above", indent=False)
        self.over = W.Checkbox(False, description="write over a file that is there", indent=False)
        self.button = W.Button(
            description="write the build sheet",
            tooltip="write a page to print, for the design that is kept",
            layout=W.Layout(width="210px"),
        )
        self.button.on_click(lambda _: self.write())
        self.said, self.link = W.HTML(), W.Output()
        super().__init__(
            W.HBox([self.name, self.paper]),
            W.HBox([self.cells, self.over]),
            *(self.button, self.said, self.link),
            name="sheet-writer",
        )

    def write(self) -> None:
        """Write the sheet, or say why not."""
        path = Path(self.name.value.strip() or "build_sheet.html")
        self.link.outputs = ()
        try:
            sheet = write_sheet(
                learners_design(self.craft_type).file,
                path,
                paper=self.paper.value,
                cells=self.batch.path if self.cells.value else None,
                overwrite=self.over.value,
                seen=self.seen,
            )
        except InputError as fault:
            reasons = " ".join(fault.lines)
            self.said.value = f'<div class="wb-refusal" role="alert">✕ {escape(reasons)}</div>'
            return
        word = "Every limit holds." if sheet.holds else "NOT YET: the sheet says what is off."
        self.said.value = (
            f'<div class="wb-finding" role="status">✓ Written: {escape(str(path))}. {word} '
            "Open it, print it at 100 %.</div>"
        )
        self.link.append_display_data(Markdown(f"[open {path.name}]({path.as_posix()})"))
