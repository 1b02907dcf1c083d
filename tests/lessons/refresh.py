"""Run notebooks and store what is compared: `python -m tests.lessons.refresh [NOTEBOOK ...]`.

Glossary terms are linked at their first use, cells get the ids c00, c01, ..., printed text is kept,
every other output is dropped. A notebook that fails is left as it was. It runs in a copy of the notebooks'
folder, so that a design of one's own does not get into the stored text.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.lessons import notebook_tools as tools
from workbook.data.notebooks import copy_notebooks


def refresh(path: Path) -> bool:
    """Refresh one notebook; whether it changed."""
    before = path.read_text("utf-8")
    book = tools.read(path)
    tools.link_terms(book)
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base) / "notebooks"
        copy_notebooks(tools.NOTEBOOKS, folder)
        book = tools.run(book, folder)
    errors = [
        o.get("text", "")
        for cell in book.cells
        if cell.cell_type == "code"
        for o in cell.outputs
        if o.output_type == "stream" and o.name == "stderr"
    ]
    if errors:
        raise SystemExit(f"{path.name} printed to the error stream:\n{''.join(errors)}")
    tools.write(tools.strip(book), path)
    return path.read_text("utf-8") != before


def main() -> None:
    """Refresh the notebooks named, or all lessons."""
    paths = [Path(p) for p in sys.argv[1:]] or tools.lesson_notebooks()
    for path in paths:
        print(f"{path.name}: {'changed' if refresh(path) else 'as it was'}")


if __name__ == "__main__":
    main()
