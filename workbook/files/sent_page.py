"""A page that was sent, as a design: its file is in the page, packed, as text that anybody can read."""

from __future__ import annotations

from html import unescape
from pathlib import Path

from workbook.errors import InputError

LARGEST_BYTES = 2_000_000
"""Of a page to send: a mail carries it, and a phone opens it."""

DESIGN_BEGIN, DESIGN_END = '<pre id="design-file">', "</pre>"
"""The markup around the design's file in a page; the text is escaped, so that the first end is its own."""

SUFFIXES = (".html", ".htm")


def is_page(path: Path) -> bool:
    """Whether a file is a page by its name.

    Example:
        >>> is_page(Path("six.HTML")), is_page(Path("six.toml"))
        (True, False)
    """
    return path.suffix.lower() in SUFFIXES


def design_in(page: str, where: str) -> str:
    """The text of the design's file in a page; nothing else in the page is looked at.

    Args:
        page: the page's HTML.
        where: what to call it in a message.

    Raises:
        InputError: it holds no design.

    Example:
        >>> design_in(f"<p>{DESIGN_BEGIN}name = &quot;six&quot;{DESIGN_END}", "six.html")
        'name = "six"'
        >>> design_in("<p>Hello", "six.html")
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: six.html: no design stands in this page; one that workbook page wrote is needed.
    """
    _, begin, rest = page.partition(DESIGN_BEGIN)
    text, end, _ = rest.partition(DESIGN_END)
    if not (begin and end):
        message = "no design stands in this page; one that workbook page wrote is needed."
        raise InputError(message, where)
    return unescape(text)
