"""Kernels for pages: one is always ready that has loaded what every page needs."""

from __future__ import annotations

import asyncio
import sys
from typing import Any

from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from tornado.ioloop import IOLoop
from traitlets import default

from workbook.pages.forked import PAGES_NEED, ForkedKernelManager, Nursery

WARM_UP = f"import {', '.join(PAGES_NEED)}; del workbook"
REFILL_AFTER_S = 3.0
"""So long after one was taken the next is started: the page that took it comes first."""


class WarmKernels(AsyncMappingKernelManager):
    """The server's kernels, of which one waits, warmed, for the next page or notebook that is opened.

    Attributes:
        spare: the one that waits, or is being started.
        nursery: what kernels are split off; None where they are started one by one.
    """

    @default("kernel_manager_class")
    def _split_off(self) -> str:
        return f"{ForkedKernelManager.__module__}.{ForkedKernelManager.__name__}"

    def __init__(self, *args: Any, **settings: Any) -> None:
        super().__init__(*args, **settings)  # type: ignore[no-untyped-call]
        self.spare: asyncio.Task[str] | None = None
        self.nursery: Nursery | None = Nursery() if sys.platform == "linux" else None
        IOLoop.current().add_callback(self.prepare)

    def prepare(self, after_s: float = 0.0) -> None:
        """Start a kernel for the next page, unless one waits.

        Args:
            after_s: after how many seconds.
        """
        if self.spare is None:
            self.spare = asyncio.get_running_loop().create_task(self._warmed(after_s))

    async def _warmed(self, after_s: float) -> str:
        await asyncio.sleep(after_s)
        starting = asyncio.ensure_future(super()._async_start_kernel())
        try:
            found = await asyncio.shield(starting)
            await self._run(found, WARM_UP)
        except asyncio.CancelledError:  # half started it can be neither found nor ended
            await self._end(await starting)
            raise
        return found

    async def _run(self, kernel_id: str, code: str) -> None:
        client: Any = self.get_kernel(kernel_id).client()
        client.start_channels()
        try:
            await client.wait_for_ready(timeout=60)
            reply = await client.execute(code, silent=True, reply=True, timeout=60)
            if reply["content"]["status"] != "ok":
                raise RuntimeError(
                    f"{reply['content'].get('ename')}: {reply['content'].get('evalue')}"
                )
        finally:
            client.stop_channels()

    async def _async_start_kernel(
        self, *, kernel_id: str | None = None, path: Any = None, **settings: Any
    ) -> str:
        if kernel_id is None and settings.get("kernel_name") in KERNEL_NAMES:
            taken, self.spare = self.spare, None
            self.prepare(REFILL_AFTER_S)
            if taken is not None and (found := await self._moved(taken, path or "")):
                return found
        return await super()._async_start_kernel(kernel_id=kernel_id, path=path, **settings)

    async def _moved(self, waiting: asyncio.Task[str], path: str) -> str:
        """The kernel that waited, in the folder that is asked for; empty where it cannot be used."""
        try:
            found = await waiting
            folder = self.cwd_for_path(path)  # type: ignore[no-untyped-call]
            await self._run(found, f"import os; os.chdir({folder!r}); del os")
        except Exception as problem:  # for any reason: a new one is started instead
            self.log.warning("The kernel that waited cannot be used: %s", problem)
            return ""
        return found

    async def _end(self, kernel_id: str) -> None:
        end: Any = self.shutdown_kernel
        await end(kernel_id, now=True)

    async def _async_shutdown_all(self, now: bool = False) -> None:
        spare, self.spare = self.spare, None
        if spare is not None:
            spare.cancel()
        under_way = filter(None, (spare, *self._pending_kernels.values()))
        await asyncio.gather(*under_way, return_exceptions=True)
        await super()._async_shutdown_all(now=now)
        if self.nursery is not None:
            self.nursery.end()

    shutdown_all = _async_shutdown_all  # type: ignore[assignment]
    start_kernel = _async_start_kernel  # type: ignore[assignment]


KERNEL_NAMES = (None, "", "python3")
"""Names under which a notebook asks for the workbook's own kernel."""
