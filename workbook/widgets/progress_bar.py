"""Long work on the page: a bar and a cancel button for whatever takes over half a second."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape

import ipywidgets as W

from workbook.widgets.style import Panel

SHOWN_AFTER_S = 0.5
"""Work that ends sooner shows nothing: a bar that flashes only disturbs."""

SHOWN_EVERY_S = 0.1

Report = Callable[[int, int], bool]
"""Told how much is done and how much there is; answers False once the reader has cancelled."""


class ProgressBar(Panel):
    """How far the work is, and a way to stop it.

    The work may run in another thread; what it tells is put on the page by the event loop.

    Args:
        clock: seconds that only rise.

    Attributes:
        cancelled: whether the last piece of work was told to stop.

    Example:
        >>> now = iter([0.0, 0.1, 0.7])
        >>> progress = ProgressBar(clock=lambda: next(now))
        >>> with progress.running("flights") as report:
        ...     early = report(10, 100), progress.bar.layout.display
        ...     late = report(50, 100), progress.bar.layout.display, progress.bar.value
        >>> early, late, progress.bar.layout.display
        ((True, 'none'), (True, '', 0.5), 'none')
    """

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self.cancelled = clock, False
        self._began = self._told = 0.0
        try:
            self._loop: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            self._loop = None
        self.text = W.HTML()
        self.bar = W.FloatProgress(
            value=0.0, min=0.0, max=1.0, layout=W.Layout(width="120px", flex="0 0 auto")
        )
        self.cancel_button = W.Button(
            description="cancel",
            tooltip="stop this work",
            layout=W.Layout(width="90px", flex="0 0 auto"),
        )
        self.cancel_button.on_click(lambda _: self.cancel())
        row = W.HBox(
            [self.bar, self.cancel_button, self.text], layout=W.Layout(align_items="center")
        )
        super().__init__(row, min_height="34px")
        self._hide()

    def cancel(self) -> None:
        """Ask the work to stop; it does at its next report."""
        self.cancelled = True

    @contextmanager
    def running(self, what: str) -> Iterator[Report]:
        """While a piece of work runs: gives the function that it reports to.

        Args:
            what: the work in a word or two.
        """
        self.cancelled = False
        self._began = self._told = self._clock()

        def report(done: int, total: int) -> bool:
            now = self._clock()
            if now - self._began > SHOWN_AFTER_S and now - self._told > SHOWN_EVERY_S:
                self._told = now
                self._on_page(lambda: self._show(what, done, total))
            return not self.cancelled

        try:
            yield report
        finally:
            self._on_page(self._hide)

    def _on_page(self, act: Callable[[], None]) -> None:
        if self._loop is None or self._loop.is_closed():
            act()
        else:
            self._loop.call_soon_threadsafe(act)

    def _show(self, what: str, done: int, total: int) -> None:
        share = done / total if total else 0.0
        self.bar.value = share
        self.text.value = f'<span role="status">{escape(what)}: {done:,} of {total:,} ({100 * share:.0f} %)</span>'
        for part in (self.bar, self.cancel_button):
            part.layout.display = ""

    def _hide(self) -> None:
        for part in (self.bar, self.cancel_button):
            part.layout.display = "none"
        self.text.value = ""
