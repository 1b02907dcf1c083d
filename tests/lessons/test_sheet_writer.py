"""The button that writes the build sheet writes what is kept, and never over a file unasked."""

from __future__ import annotations

from workbook.lessons.cell_batch import CellBatch
from workbook.lessons.learner import current_design
from workbook.lessons.sheet_writer import SheetWriter


def test_the_sheet_is_written_once_and_never_over_a_file_unasked(folder) -> None:
    writer = SheetWriter("multirotor", CellBatch(current_design()))
    writer.write()
    path = folder / "build_sheet.html"
    assert path.exists()
    assert "✓ Written: build_sheet.html" in writer.said.value
    assert "(build_sheet.html)" in writer.link.outputs[0]["data"]["text/markdown"]
    first = path.read_bytes()
    assert "A13" in first.decode("utf-8")  # the cells of the log stand on the sheet
    path.write_text("mine", "utf-8")
    writer.write()
    assert "✕" in writer.said.value
    assert writer.link.outputs == ()
    assert path.read_text("utf-8") == "mine"
    writer.over.value = True
    writer.write()
    assert "changed elsewhere" in writer.said.value
    assert path.read_text("utf-8") == "mine"
    writer.write()
    assert path.read_text("utf-8") != "mine"
