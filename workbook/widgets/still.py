"""What stays of a panel in a saved notebook: its pictures as they were, and how they become live again."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator
from html import escape
from typing import Any

LIVE_AGAIN = (
    "To use what stands here, open the notebook with the workbook, click on the lines of code above this and "
    "press Shift + Enter."
)
"""The one line of it; it is the panel's plain text too."""
STILL = f"A still picture of the last run. {LIVE_AGAIN}"
STANDALONE_ATTRIBUTES = ' xmlns="http://www.w3.org/2000/svg" font-family="Liberation Sans, Arial, Helvetica, sans-serif"'
"""Attributes that a drawing outside a page needs."""


def shown_parts(widget: Any, opaque: tuple[type, ...] = ()) -> Iterator[Any]:
    """A widget and its descendants, in the order of the page; a hidden one is left out with its descendants.

    Args:
        widget: any.
        opaque: types whose parts are left out.
    """
    if getattr(getattr(widget, "layout", None), "display", None) == "none":
        return
    yield widget
    if not isinstance(widget, opaque):
        for part in getattr(widget, "children", ()):
            yield from shown_parts(part, opaque)


def still_html(panel: Any) -> str:
    """The pictures of a panel as HTML that needs no kernel, no script and no trust.

    Args:
        panel: a `Panel`; each part of it that draws gives its drawing by `as_svg`.

    Example:
        >>> from workbook.widgets.picture import Picture
        >>> picture = Picture("A line", 200, 100)
        >>> picture.draw("<path/>", "A line goes across.")
        >>> still_html(picture).count(
        ...     "<img alt='A line goes across.' src='data:image/svg+xml;base64,"
        ... )
        1
    """
    drawn = [part for part in shown_parts(panel) if getattr(part, "as_svg", None)]
    pictures = "".join(_image(part.as_svg(), part.finding_text) for part in drawn)
    return f"<p><em>{STILL if pictures else LIVE_AGAIN}</em></p>{pictures}"


def _image(svg: str, finding: str) -> str:
    """A drawing as a picture with its words: as such it holds nothing that could run."""
    data = b64encode(svg.replace("<svg", f"<svg{STANDALONE_ATTRIBUTES}", 1).encode()).decode()
    words = escape(finding)
    return (
        f"<p><img alt='{words}' src='data:image/svg+xml;base64,{data}' style='background:#fff'></p>"
        f"<p>{words}</p>"
    )
