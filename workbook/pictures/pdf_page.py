"""One page of a PDF as a PNG, and the text that it holds as text, made in a process of its own: `python pdf_page.py PAGE LONGEST_PX < in > out`.

What a PDF holds can be anything, and what draws it is not Python: here it can use up no more than this
process may, and takes nothing with it when it falls. The first line that is written is the number of
pages, or what is wrong; a line of JSON follows with each run of text and its corners in pixels, and the picture. Whether a script is inside is looked at, and none is run.
"""

from __future__ import annotations

import ctypes
import json
import sys
from collections.abc import Iterable, Iterator
from typing import Any

MOST_MEMORY_BYTES = 2_000_000_000
MOST_PAGES = 100
MOST_LETTERS = 20_000
"""Of text on a page: a page full of the smallest print has fewer."""
WIDE_GAP = 0.6
"""Share of the letters' height that parts two cells, where a space is half as wide."""
Box = tuple[float, float, float, float]
"""Left, lower, right and upper edge."""


def _hold_memory() -> None:
    try:
        import resource
    except ImportError:  # not on Windows: there the time alone is held
        return
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))


def _refusal(document: object, pages: int, page: int, content: bytes) -> str:
    from pypdfium2 import raw

    if pages > MOST_PAGES:
        return (
            f"it has {pages} pages; at most {MOST_PAGES} are taken. Save the page with the table or the "
            "graph as a PDF of its own."
        )
    scripts = raw.FPDFDoc_GetJavaScriptActionCount(document)
    if scripts > 0 or b"/JavaScript" in content or b"/JS" in content:
        return (
            "it carries a script, which no datasheet needs. Take a screenshot of the page instead."
        )
    if not 1 <= page <= pages:
        return f"it has {pages} pages; there is no page {page}."
    return ""


def _runs(sheet: Any, wide: int, high: int) -> list[Any]:
    """Runs of text with their corners in pixels; none where text lies unseen under a scan, or too much of it."""
    from pypdfium2 import raw

    for piece in sheet.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
        if raw.FPDFTextObj_GetTextRenderMode(piece) == raw.FPDF_TEXTRENDERMODE_INVISIBLE:
            return []
    text = sheet.get_textpage()
    if text.count_chars() > MOST_LETTERS:
        return []

    def pixel(x: float, y: float) -> tuple[int, int]:
        corner = ctypes.c_int(), ctypes.c_int()
        raw.FPDF_PageToDevice(sheet, 0, 0, wide, high, 0, x, y, *map(ctypes.byref, corner))
        return corner[0].value, corner[1].value

    return [
        [
            letters,
            [pixel(*corner) for corner in ((left, top), (right, top), (right, low), (left, low))],
        ]
        for letters, (left, low, right, top) in _joined(_letters(text))
    ]


def _letters(text: Any) -> Iterator[tuple[str, Box]]:
    """Each letter of a page with its left, lower, right and upper edge."""
    from pypdfium2 import raw

    for place in range(text.count_chars()):
        yield chr(raw.FPDFText_GetUnicode(text, place)), text.get_charbox(place, loose=True)


def _joined(letters: Iterable[tuple[str, Box]]) -> list[tuple[str, Box]]:
    """Letters side by side as one run; a space parts words of a run, a wide gap parts runs."""
    runs: list[tuple[str, Box]] = []
    spaced = True
    for letter, (left, low, right, top) in letters:
        if letter.isspace() or not letter.isprintable():
            spaced = True
            continue
        text, (first, bottom, last, upper) = runs[-1] if runs else ("", (0.0, 0.0, 0.0, 0.0))
        high = top - low
        beside = min(top, upper) - max(low, bottom) > 0.5 * high
        gap = left - last
        if beside and -0.3 * high < gap < (WIDE_GAP if spaced else 0.3) * high:
            box = (first, min(low, bottom), right, max(top, upper))
            runs[-1] = (f"{text} {letter}" if spaced else text + letter, box)
        else:
            runs.append((letter, (left, low, right, top)))
        spaced = False
    return runs


def main() -> None:
    """Draw the page that is asked for."""
    _hold_memory()
    import pypdfium2

    page, longest_px = int(sys.argv[1]), int(sys.argv[2])
    content = sys.stdin.buffer.read()
    try:
        document = pypdfium2.PdfDocument(content)
    except pypdfium2.PdfiumError as fault:
        locked = "password" in str(fault).casefold()
        message = "it is locked by a password." if locked else "it is cut short or no PDF."
        sys.stdout.buffer.write(f"{message}\n".encode())
        return
    refusal = _refusal(document, len(document), page, content)
    sys.stdout.buffer.write(f"{refusal or len(document)}\n".encode())
    if not refusal:
        sheet = document[page - 1]
        scale = longest_px / max(1.0, *sheet.get_size())
        image = sheet.render(scale=scale).to_pil()
        sys.stdout.buffer.write(json.dumps(_runs(sheet, *image.size)).encode() + b"\n")
        image.save(sys.stdout.buffer, "PNG", compress_level=1)


if __name__ == "__main__":
    main()
