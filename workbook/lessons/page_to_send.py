"""A page to send of the design on the screen: a button, a progress bar, and a link to the page."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import ipywidgets as W

from workbook.errors import InputError
from workbook.files.design_file import DesignFile
from workbook.files.writing import free_name
from workbook.sheet.live_page import write_live_page
from workbook.widgets.live import ProgressBar
from workbook.widgets.parts import Reply, button, download_html, wrapped
from workbook.widgets.style import Panel

CANCELLED = "Cancelled; no page was written."


class PageToSend(Panel):
    """Makes the page of a design, under a name that is free.

    Args:
        file: returns the design on the screen.
        path: where the design would be saved; its page goes beside it.
    """

    def __init__(self, file: Callable[[], DesignFile], path: Callable[[], Path]) -> None:
        self._file, self._path = file, path
        self._task: asyncio.Task[None] | None = None
        tip = "one page with answer and sliders, live on any phone, with no network; takes some seconds"
        self.button = button("page to send", self.press, tip, 130)
        self.progress, self.reply, self.link = ProgressBar(), Reply(), W.HTML()
        super().__init__(wrapped(self.button, self.progress), self.reply, self.link)

    def press(self) -> None:
        """Make the page; beside the event loop where there is one, so that everything else stays live."""
        self.link.value, self.button.disabled = "", True
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            asyncio.run(self._written())
        else:
            self._task = loop.create_task(self._written())

    async def _written(self) -> None:
        try:
            with self.reply.trying():
                file, path = self._file(), free_name(self._path().with_suffix(".html"))
                with self.progress.running("places of its sliders") as report:

                    def report_place(done: int, total: int) -> None:
                        if not report(done, total):
                            raise InputError(CANCELLED)

                    answer = await asyncio.to_thread(
                        write_live_page, file, path, progress=report_place
                    )
                self.link.value = download_html(path)
                self.reply.done(
                    f"Written: {path}. It opens in any browser, without a network; the design is inside."
                    + (
                        ""
                        if answer.holds
                        else " It says that the design does not hold as it stands."
                    )
                )
        finally:
            self.button.disabled = False
