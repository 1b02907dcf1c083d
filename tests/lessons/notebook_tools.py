"""What the tests and the refresh command do with notebooks: read, link terms, run, strip."""

from __future__ import annotations

import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

from tests.conftest import PROJECT

NOTEBOOKS = PROJECT / "notebooks"
GLOSSARY = NOTEBOOKS / "glossary.ipynb"
KEPT_METADATA = {
    "kernelspec": {
        "display_name": "Python 3 (ipykernel)",
        "language": "python",
        "name": "python3",
    },
    "language_info": {"name": "python"},
}
_LINK = re.compile(r"\[([^\]]*)\]\(([^)\s]*)\)")
_HIDDEN = re.compile(r"`[^`]*`|\[[^\]]*\]\([^)]*\)|^#.*$|\$[^$]*\$", re.MULTILINE)
"""Where a term is not looked for: code, links, headings, formulas."""


def lesson_notebooks() -> list[Path]:
    """Every lesson notebook, in order."""
    return sorted(NOTEBOOKS.glob("[0-9][0-9]_*.ipynb"))


def read(path: Path) -> Any:
    return nbformat.read(path, as_version=4)


def write(book: Any, path: Path) -> None:
    nbformat.validate(book)
    nbformat.write(book, path)


def anchor(heading: str) -> str:
    """The fragment by which JupyterLab finds a heading."""
    return heading.strip().replace(" ", "-")


def texts(book: Any) -> Iterator[Any]:
    """The cells of a notebook that hold text."""
    return (cell for cell in book.cells if cell.cell_type == "markdown")


def headings(path: Path) -> list[str]:
    """The headings of a notebook as they are written, marks in front."""
    lines = (line for cell in texts(read(path)) for line in cell.source.splitlines())
    return [line for line in lines if re.match(r"#{1,6} ", line)]


def glossary_terms() -> list[str]:
    """Every term of the glossary, longest first, so that a longer term wins over its part."""
    found = [line[3:].strip() for line in headings(GLOSSARY) if line.startswith("## ")]
    return sorted(found, key=lambda t: (-len(t), t))


def anchors(path: Path) -> set[str]:
    """The fragments that a notebook offers."""
    return {anchor(line.lstrip("#")) for line in headings(path)}


def links(book: Any) -> list[tuple[str, str]]:
    """Text and target of every link in the text cells."""
    return [(m[1], m[2]) for cell in texts(book) for m in _LINK.finditer(cell.source)]


def _pattern(term: str) -> re.Pattern[str]:
    body = re.escape(term).replace(r"\ ", r"[\s]+")
    return re.compile(rf"(?<![\w/-]){body}(?:s|es)?(?![\w-])", re.IGNORECASE)


def _masked(source: str, terms: list[str]) -> dict[str, list[tuple[int, int]]]:
    """Where each term stands in a text, a longer term hiding the shorter ones in it."""
    hidden = _HIDDEN.sub(lambda m: "\0" * len(m[0]), source)
    found: dict[str, list[tuple[int, int]]] = {}
    for term in terms:
        found[term] = [m.span() for m in _pattern(term).finditer(hidden)]
        for start, end in found[term]:
            hidden = hidden[:start] + "\0" * (end - start) + hidden[end:]
    return found


def link_terms(book: Any) -> None:
    """Link the first use of every glossary term, and take out links after the first."""
    terms = glossary_terms()
    for cell in texts(book):  # begin from plain text: every link to the glossary is taken out
        cell.source = _LINK.sub(
            lambda m: m[1] if m[2].startswith("glossary.ipynb#") else m[0], cell.source
        )
    done: set[str] = set()
    for cell in texts(book):
        spans = [
            (*places[0], term)
            for term, places in _masked(cell.source, terms).items()
            if places and term not in done
        ]
        for start, end, term in sorted(spans, reverse=True):
            link = f"[{cell.source[start:end]}](glossary.ipynb#{anchor(term)})"
            cell.source = cell.source[:start] + link + cell.source[end:]
            done.add(term)


def glossary_faults(book: Any) -> list[str]:
    """What is wrong with a notebook's links to the glossary, in words."""
    again = deepcopy(book)
    link_terms(again)
    return [
        f"cell {n}: is {cell.source!r}, should be {right.source!r}"
        for n, (cell, right) in enumerate(zip(book.cells, again.cells, strict=True))
        if cell.source != right.source
    ]


def run(book: Any, folder: Path) -> Any:
    """Run a notebook in a folder; an error in it is raised."""
    NotebookClient(
        book, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(folder)}}
    ).execute()
    return book


def strip(book: Any) -> Any:
    """Keep what nbval is to compare, plain printed text, and drop all else."""
    book.metadata = nbformat.from_dict(KEPT_METADATA)
    for number, cell in enumerate(book.cells):
        cell.id = f"c{number:02d}"
        tags = cell.metadata.get("tags")
        cell.metadata = nbformat.from_dict({"tags": tags} if tags else {})
        if cell.cell_type != "code":
            continue
        printed = bool(cell.outputs) and all(
            o.output_type == "stream" and o.name == "stdout" for o in cell.outputs
        )
        if printed:
            text = "".join(o.text for o in cell.outputs)
            cell.outputs = [nbformat.v4.new_output("stream", name="stdout", text=text)]
        else:
            cell.outputs, cell.execution_count = [], None
    return book
