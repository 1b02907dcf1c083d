"""The width that the page leaves our panels, and whether its window is short, sent to the code that places names on charts."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets


class PageWidth(anywidget.AnyWidget):
    """An invisible widget that reports how many pixels wide the panel around it is.

    Attributes:
        width: of the panel, in px; 0 until the page has reported it.
        short: whether the window is less than 620 px high, as a laptop's is at 150 %.
    """

    width = traitlets.Int(0).tag(sync=True)
    short = traitlets.Bool(False).tag(sync=True)

    _esm = Path(__file__).with_name("page_width.js").read_text("utf-8")
