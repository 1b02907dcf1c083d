"""How wide the page leaves our panels, and whether its window is short, told to the computation that places names on charts."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets


class PageWidth(anywidget.AnyWidget):
    """Takes no room, and tells how many pixels wide the panel is that it stands in.

    Attributes:
        width: of the panel, in px; 0 until the page has told.
        short: whether the window is less than 620 px high, as a laptop's is at 150 %.
    """

    width = traitlets.Int(0).tag(sync=True)
    short = traitlets.Bool(False).tag(sync=True)

    _esm = Path(__file__).with_name("page_width.js").read_text("utf-8")
