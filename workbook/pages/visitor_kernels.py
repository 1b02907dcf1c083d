"""Kernels of shared pages: each knows its visitor, is confined to their folder, and gives way when places are short."""

from __future__ import annotations

import itertools
from contextvars import ContextVar
from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from tornado.web import HTTPError

from workbook.pages.kernels import WarmKernels
from workbook.pages.visitors import Visitor

VISITING: ContextVar[Visitor] = ContextVar("visiting")
"""Whose page is being opened."""

PAGES_EACH = 2
"""Pages that a visitor may have open at once; a further one ends their oldest."""

CONFINE = "from workbook.pages.confined import confine; confine({!r}); del confine"
FULL_TEXT = "All places are taken."
ALLOWED_MESSAGES = frozenset({"comm_open", "comm_msg", "comm_info_request", "kernel_info_request"})
"""Messages that a page may send: those that move a control, and those that ask what is there."""
MOST_PARTS = 64
WIDGET_CHANNEL = "jupyter.widget.control"
"""The one channel that a page may open: it asks which widgets are there."""


class VisitorKernels(WarmKernels):
    """Kernels of visitors' pages.

    Attributes:
        most_visitors: who may be here at once.
        owners: kernel to id of its visitor, in the order in which they were started; a page that is being opened too.
    """

    most_visitors = 30

    def __init__(self, *args: Any, **settings: Any) -> None:
        super().__init__(*args, **settings)
        self.owners: dict[str, str] = {}
        self._opening = itertools.count()

    def cwd_for_path(self, path: Any, **_: Any) -> str:
        """The folder of the visitor who opens the page; of the kernel that waits the server's own."""
        visitor = VISITING.get(None)
        return str(self.root_dir if visitor is None else visitor.folder)

    async def _async_start_kernel(self, **settings: Any) -> str:
        visitor = VISITING.get()
        await self._make_place(visitor.id)
        place = f"opening {next(self._opening)}"
        self.owners[place] = visitor.id
        try:
            found = await super()._async_start_kernel(**{**settings, "path": ""})
            try:
                await self._run(found, CONFINE.format(str(visitor.folder)))
            except BaseException:
                await self._end(found)
                raise
            self.owners[found] = visitor.id
        finally:
            del self.owners[place]
        return found

    start_kernel = _async_start_kernel

    def remove_kernel(self, kernel_id: str) -> Any:
        """Forget a kernel that has ended, and whose it was."""
        self.owners.pop(kernel_id, None)
        return super().remove_kernel(kernel_id)

    def visitors(self) -> set[str]:
        """Ids of those who have a page open."""
        return set(self.owners.values())

    def _left(self, kernel_id: str) -> bool:
        """Whether nobody looks at a page any more."""
        return kernel_id in self and not self._kernel_connections.get(kernel_id)

    async def _make_place(self, visitor_id: str) -> None:
        """End pages until one more may be opened.

        Raises:
            HTTPError: 503, all places are taken by others.
        """
        own = [kernel for kernel, owner in self.owners.items() if owner == visitor_id]
        if len(own) >= PAGES_EACH:
            running = sorted((k for k in own if k in self), key=lambda k: not self._left(k))
            if not running:
                raise HTTPError(429, "Your pages are being opened.")
            await self._end(running[0])
        elif not own and len(self.visitors()) >= self.most_visitors:
            kernels_of: dict[str, list[str]] = {}
            for kernel, owner in self.owners.items():
                kernels_of.setdefault(owner, []).append(kernel)
            unwatched = next((ks for ks in kernels_of.values() if all(map(self._left, ks))), None)
            if unwatched is None:
                raise HTTPError(503, FULL_TEXT)
            for kernel in unwatched:
                await self._end(kernel)


class PageConnection(ZMQChannelsWebsocketConnection):
    """What passes from a page to its kernel: widgets' messages, and nothing that could run code."""

    def handle_incoming_message(self, incoming_msg: Any) -> None:
        """Pass a message on where a page may send it; what is no message ends the connection."""
        try:
            taken = self._may_pass(incoming_msg)
        except Exception:
            self.log.warning("A page sent what is no message; its connection is closed.")
            self.websocket_handler.close(1003)
            return
        if taken:
            super().handle_incoming_message(incoming_msg)

    def _may_pass(self, raw: bytes) -> bool:
        """Whether a message is one that a page may send.

        Raises:
            Exception: it is no message at all.
        """
        count = int.from_bytes(raw[:8], "little")
        if not 6 <= count <= MOST_PARTS:
            raise ValueError(count)
        places = [int.from_bytes(raw[8 * i : 8 * i + 8], "little") for i in range(1, count + 1)]
        if places != sorted(places) or places[-1] > len(raw):
            raise ValueError(places)
        channel, header, _, _, content = (
            raw[start:end] for start, end in itertools.pairwise(places[:6])
        )
        kind = self.session.unpack(header)["msg_type"]
        if channel != b"shell" or kind not in ALLOWED_MESSAGES:
            return False
        return bool(
            kind != "comm_open" or self.session.unpack(content)["target_name"] == WIDGET_CHANNEL
        )
