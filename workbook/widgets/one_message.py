"""What one change moves on the page reaches it as one message, so that it is painted at once."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as W
import traitlets

UNTOLD_S = 10.0
"""So long what comes after the page waits for one that does not tell that it is there."""


class OneMessage(anywidget.AnyWidget):
    """Takes no room; carries what many widgets tell the page in one message.

    Each message of a widget passes the kernel, the server and the page by itself: twenty of them take longer
    than what they say. Until the page answers, every widget tells its own.

    Attributes:
        ready: whether the page shows it, and takes such messages.
    """

    ready = traitlets.Bool(False).tag(sync=True)

    _esm = Path(__file__).with_name("one_message.js").read_text("utf-8")

    async def shown(self) -> None:
        """Wait until a page shows it.

        A widget that is made while a page reads from the kernel what there is may be asked for before it is known.
        """
        told = asyncio.Event()
        self.observe(lambda _: told.set(), names="ready")
        if not self.ready:
            with suppress(TimeoutError):
                await asyncio.wait_for(told.wait(), UNTOLD_S)

    @contextmanager
    def held(self) -> Iterator[None]:
        """While much is changed: what widgets tell meanwhile goes out at the end, in one message."""
        if not self.ready:
            yield
            return
        told: list[dict[str, Any]] = []
        parts: list[Any] = []
        send = W.Widget._send

        def keep(widget: W.Widget, message: dict[str, Any], buffers: Any = None) -> None:
            if widget.comm is None or message.get("method") != "update":
                send(widget, message, buffers)
                return
            mine = list(buffers or ())
            told.append({"id": widget.model_id, "data": message, "buffers": len(mine)})
            parts.extend(mine)

        W.Widget._send = keep
        try:
            yield
        finally:
            W.Widget._send = send
            if told:
                self.send({"told": told}, parts)
