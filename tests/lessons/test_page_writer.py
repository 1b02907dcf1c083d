"""The page writer: the file and paper asked for, and what came of it."""

from __future__ import annotations

from pathlib import Path

from workbook.errors import InputError
from workbook.lessons.page_writer import PageWriter


def test_it_hands_on_what_is_asked_and_says_where_the_page_is() -> None:
    asked = []

    def write(path: Path, **how: object) -> str:
        asked.append((path, how["paper"], how["overwrite"]))
        return "All holds."

    writer = PageWriter("page.html", "write", "to print", write)
    writer.button.click()
    writer.name.value, writer.paper.value, writer.over.value = " other.pdf ", "letter", True
    writer.button.click()
    assert asked == [(Path("page.html"), "a4", False), (Path("other.pdf"), "letter", True)]
    assert "✓ Written: other.pdf. All holds. Open it, print it at 100 %." in writer.reply.value
    assert "(other.pdf)" in writer.link.outputs[0]["data"]["text/markdown"]


def test_what_cannot_be_written_is_reported_and_there_is_no_link_to_it() -> None:
    def write(path: Path, **how: object) -> str:
        raise InputError(f"{path} is already here.")

    writer = PageWriter("page.html", "write", "to print", write)
    writer.write()
    assert writer.reply.text == "page.html is already here."
    assert writer.link.outputs == ()
