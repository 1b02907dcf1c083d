"""What one change moves reaches the page as one message, so that it is painted at once; or as two.

The first ends with the first figure that moves. What is worked out after it comes when that has been painted.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as W
import traitlets

from workbook.widgets.live import THREAD_SWITCH_S

SENDING_S = 0.0005
"""This thread rests so long once the first figure is sent: it would else take turns with the sending thread, and the
figure come a millisecond later."""

READY_TIMEOUT_S = 10.0
"""Parts that follow the page wait so long for one that does not report that it is there."""


class OneMessage(anywidget.AnyWidget):
    """An invisible widget that sends the updates of many widgets to the page in one message.

    Each message of a widget passes the kernel, the server and the page by itself: twenty of them take longer
    than what they carry. Until the page answers, every widget sends its own.

    Attributes:
        ready: whether the page shows it, and takes such messages.
    """

    ready = traitlets.Bool(False).tag(sync=True)

    _esm = Path(__file__).with_name("one_message.js").read_text("utf-8")

    async def shown(self) -> None:
        """Wait until a page shows it.

        A widget that is made while a page reads from the kernel what there is may be asked for before it is known.
        """
        appeared = asyncio.Event()
        self.observe(lambda _: appeared.set(), names="ready")
        if not self.ready:
            with suppress(TimeoutError):
                await asyncio.wait_for(appeared.wait(), READY_TIMEOUT_S)

    @contextmanager
    def held(self) -> Iterator[None]:
        """While much is changed: the updates of widgets go out in one message at the end, and in one
        before as soon as the first figure has moved (`figure_update`); the page paints that one first. What is held within
        is held with what is held around it."""
        if not self.ready or _batches:
            yield
            return
        # a message is sent by another thread, while this one computes on
        sys.setswitchinterval(THREAD_SWITCH_S)
        batch, send = _Batch(self), W.Widget._send

        def keep(widget: W.Widget, message: dict[str, Any], buffers: Any = None) -> None:
            if widget.comm is None or message.get("method") != "update":
                send(widget, message, buffers)
            else:
                batch.add(widget, message, buffers)

        W.Widget._send = keep
        _batches.append(batch)
        try:
            yield
        finally:
            _batches.pop()
            W.Widget._send = send
            batch.send()


class _Batch:
    """Updates of widgets that the page does not have yet."""

    def __init__(self, sender: OneMessage) -> None:
        self.sender, self.first = sender, True
        self.updates: list[dict[str, Any]] = []
        self.buffers: list[Any] = []

    def add(self, widget: W.Widget, message: dict[str, Any], buffers: Any) -> None:
        mine = list(buffers or ())
        self.updates.append({"id": widget.model_id, "data": message, "buffers": len(mine)})
        self.buffers.extend(mine)

    def send(self) -> None:
        if self.updates:
            self.sender.send({"updates": self.updates, "later": not self.first}, self.buffers)
        self.updates, self.buffers, self.first = [], [], False


_batches: list[_Batch] = []


@contextmanager
def figure_update() -> Iterator[None]:
    """While a figure is changed: where it is the first to move, it is sent, with all updates before it.

    Example:
        >>> @figure_update()
        ... def update(height: float) -> float:
        ...     return 2 * height
        >>> update(1.5)  # nothing is held: it is as without
        3.0
    """
    batch = _batches[-1] if _batches else None
    before = len(batch.updates) if batch else 0
    yield
    if batch and batch.first and len(batch.updates) > before:
        batch.send()
        time.sleep(SENDING_S)
