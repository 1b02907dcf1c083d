"""Keys that are pressed in our controls: none edits the notebook around them, and the reply to Enter is seen."""

from __future__ import annotations

from pathlib import Path

import anywidget


class KeyGuard(anywidget.AnyWidget):
    """Takes no room; with one of them on the page, keys pressed in any of our panels stay in it.

    In JupyterLab a letter typed while a button, a list or a slider has the focus is an order to the notebook:
    x takes the cell away. The attribute that keeps such orders off works on the focused element itself, so it is
    set as the focus enters. The reply to an answer is under its box: where that is below the window's edge, as
    when a figure above came late, it is brought into view.

    Source: Lumino, CommandRegistry: `data-lm-suppress-shortcuts`.
    """

    _esm = Path(__file__).with_name("keys.js").read_text("utf-8")
