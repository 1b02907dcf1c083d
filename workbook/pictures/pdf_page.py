"""One page of a PDF as a PNG, made in a process of its own: `python pdf_page.py PAGE LONGEST_PX < in > out`.

What a PDF holds can be anything, and what draws it is not Python: here it can use up no more than this
process may, and takes nothing with it when it falls. The first line that is written is the number of
pages, or what is wrong; the picture follows. Whether a script is inside is looked at, and none is run.
"""

from __future__ import annotations

import sys

MOST_MEMORY_BYTES = 2_000_000_000
MOST_PAGES = 100


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
        told = "it is locked by a password." if locked else "it is cut short or no PDF."
        sys.stdout.buffer.write(f"{told}\n".encode())
        return
    refusal = _refusal(document, len(document), page, content)
    sys.stdout.buffer.write(f"{refusal or len(document)}\n".encode())
    if not refusal:
        sheet = document[page - 1]
        scale = longest_px / max(1.0, *sheet.get_size())
        sheet.render(scale=scale).to_pil().save(sys.stdout.buffer, "PNG", compress_level=1)


if __name__ == "__main__":
    main()
