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
"""So long this thread rests once the first figure is told: the one that sends it would else take turns with it, and the
figure come a millisecond later."""

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
        """While much is changed: what widgets tell meanwhile goes out in one message at the end, and in one
        before as soon as the first figure has moved (`a_figure`); the page paints that one first. What is held within
        is held with what is held around it."""
        if not self.ready or _parcels:
            yield
            return
        sys.setswitchinterval(
            THREAD_SWITCH_S
        )  # a message is sent by another thread, while this one computes on
        parcel, send = _Parcel(self), W.Widget._send

        def keep(widget: W.Widget, message: dict[str, Any], buffers: Any = None) -> None:
            if widget.comm is None or message.get("method") != "update":
                send(widget, message, buffers)
            else:
                parcel.add(widget, message, buffers)

        W.Widget._send = keep
        _parcels.append(parcel)
        try:
            yield
        finally:
            _parcels.pop()
            W.Widget._send = send
            parcel.send()


class _Parcel:
    """What widgets have told and the page does not know yet."""

    def __init__(self, carrier: OneMessage) -> None:
        self.carrier, self.first = carrier, True
        self.told: list[dict[str, Any]] = []
        self.buffers: list[Any] = []

    def add(self, widget: W.Widget, message: dict[str, Any], buffers: Any) -> None:
        mine = list(buffers or ())
        self.told.append({"id": widget.model_id, "data": message, "buffers": len(mine)})
        self.buffers.extend(mine)

    def send(self) -> None:
        if self.told:
            self.carrier.send({"told": self.told, "later": not self.first}, self.buffers)
        self.told, self.buffers, self.first = [], [], False


_parcels: list[_Parcel] = []


@contextmanager
def a_figure() -> Iterator[None]:
    """While a figure is changed: where it is the first to move, it is sent, with all that was told before it.

    Example:
        >>> @a_figure()
        ... def update(height: float) -> float:
        ...     return 2 * height
        >>> update(1.5)  # nothing is held: it is as without
        3.0
    """
    parcel = _parcels[-1] if _parcels else None
    before = len(parcel.told) if parcel else 0
    yield
    if parcel and parcel.first and len(parcel.told) > before:
        parcel.send()
        time.sleep(SENDING_S)
