"""The one way from controls to figures: read all values, compute, render; the newest input wins.

A computation of seconds shows how far it is, and can be cancelled.
"""

from __future__ import annotations

import asyncio
import logging
import re
import sys
import time
from collections.abc import Awaitable, Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from contextvars import copy_context
from functools import partial
from html import escape
from typing import Any

import ipywidgets as W

from workbook.errors import InputError
from workbook.quantities import with_words
from workbook.widgets.parts import button
from workbook.widgets.style import Panel

logger = logging.getLogger(__name__)

SHOWN_AFTER_S = 0.5
"""Work that ends sooner shows nothing: a bar that flashes only disturbs."""

WORKING = '<span role="status">… working; what is shown is for the values before.</span>'
"""Shown meanwhile, once it has taken `SHOWN_AFTER_S`."""
WORKING_FIRST = '<span role="status">… working out the first figures.</span>'
"""The same while nothing has been shown yet."""
STOPPED = "You stopped it before it was done; it starts again with the next change of a control."

REPORT_EVERY_S = 0.1

PREVIEWED_S = 0.04
"""A slow computation begins so long after the last move: what `preview` moves is then painted first. Begun at once it
keeps the sending thread waiting, and the first figure of lessons 8 and 13 came 12 ms later."""

THREAD_SWITCH_S = 0.0001
"""How long a thread may keep another waiting, a fiftieth of what Python does by itself: a message is sent by a thread
of its own, which takes its turn several times while this one computes on. With 0.0005 s a figure of the bench came
3 ms later."""

BACKGROUND = ThreadPoolExecutor(thread_name_prefix="beside the page")
"""Where work runs that the page does not wait for; it has no thread before the first piece of work."""

Report = Callable[[int, int], bool]
"""Told how much is done and how much there is; answers False once the reader has cancelled."""


class ProgressBar(Panel):
    """A progress bar with a button to cancel; it also shows work whose progress is not known.

    The work may run in another thread; what it reports is put on the page by the event loop.

    Args:
        room_px: height kept free for it, so that nothing moves when it comes.
        clock: seconds that only rise.

    Attributes:
        cancelled: whether the last piece of work was cancelled.
        abandon: called on a cancel where the work makes no reports, and so cannot see it.

    Example:
        >>> now = iter([0.0, 0.1, 0.7])
        >>> progress = ProgressBar(clock=lambda: next(now))
        >>> with progress.running("flights") as report:
        ...     early = report(10, 100), progress.bar.layout.display
        ...     late = report(50, 100), progress.bar.layout.display, progress.bar.value
        >>> early, late, progress.bar.layout.display
        ((True, 'none'), (True, '', 0.5), 'none')
    """

    def __init__(self, *, room_px: int = 0, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self.cancelled, self._reports = clock, False, False
        self.abandon: Callable[[], None] = lambda: None
        self._began_s = self._reported_s = 0.0
        self._loop = running_loop()
        self.text = W.HTML()
        self.bar = W.FloatProgress(
            value=0.0, min=0.0, max=1.0, layout=W.Layout(width="120px", flex="0 0 auto")
        )
        self.cancel_button = button("cancel", self.cancel, "stop this work", 90)
        self.cancel_button.layout.flex = "0 0 auto"
        row = W.HBox(
            [self.bar, self.cancel_button, self.text], layout=W.Layout(align_items="center")
        )
        super().__init__(row, min_height=f"{room_px}px")
        self.hide()

    def cancel(self) -> None:
        """Ask the work to stop; it does at its next report, and is abandoned where it makes none."""
        self.cancelled = True
        if not self._reports:
            self.abandon()

    def wait(self, *, first: bool = False) -> None:
        """Say that there is work, of which nothing more is known yet.

        Args:
            first: whether nothing has been shown before it.
        """
        if not self.text.value:
            self.text.value = WORKING_FIRST if first else WORKING
            self.cancel_button.layout.display = ""

    @contextmanager
    def running(self, what: str) -> Iterator[Report]:
        """While a piece of work runs: gives the function that it reports to.

        Args:
            what: the work in a word or two.
        """
        self.cancelled, self._reports = False, True
        self._began_s = self._reported_s = self._clock()

        def report(done: int, total: int) -> bool:
            now = self._clock()
            if now - self._began_s > SHOWN_AFTER_S and now - self._reported_s > REPORT_EVERY_S:
                self._reported_s = now
                self._on_page(lambda: self._show(what, done, total))
            return not self.cancelled

        try:
            yield report
        finally:
            self._reports = False
            self._on_page(self.hide)

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

    def hide(self) -> None:
        """Show nothing: there is no work."""
        for part in (self.bar, self.cancel_button):
            part.layout.display = "none"
        self.text.value = ""


def running_loop() -> asyncio.AbstractEventLoop | None:
    """The event loop that the page's messages come by; None where there is none, as at a prompt."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


class Live:
    """Observes controls by name, computes a result from their values and renders it.

    Input that the computation refuses is reported in `status`, and what was rendered last stays. The first result is
    there with the page; where that would keep it waiting for longer than `SHOWN_AFTER_S`, the page comes first, says so,
    and the result follows. Without an event loop everything is computed at once.

    Args:
        controls: argument name of `compute` to the control that holds it.
        compute: a pure function from the values to a result.
        render: puts a result on the page.
        slow: whether the computation takes longer than a drag can wait for (a fifth of a second).
            It then runs beside the event loop, one run at a time, and whatever moves in the meantime
            is one further run with the newest values, never a queue. `progress` says so while it works.
            One that is found to take longer than `SHOWN_AFTER_S`, as with a large pack, is slow until a
            run is quick again: the first one also loads what it uses.
        progress: where the page has a place of its own for it and the computation reports its progress;
            else one of its own, in `status`.
        preview: called with the values before a slow computation begins, to move what needs none.
        rest_s: how long the values must have stood still before a slow computation begins: one that takes a
            second and is read afterwards would only hold up the page while a slider moves.
        mark_stale: called with whether what is shown is of other values than those that are set: refused, or still being
            worked out.
        shown: waits until the page is there, where it comes before the first result.

    Attributes:
        result: the last result that came out; None before the first.
        message: text of `status`.
        status: the widget that says what went wrong; empty when nothing did.

    Example:
        >>> from workbook.widgets.controls import NumberControl
        >>> mass = NumberControl("mass", "g", 500, 0, 1000, 10)
        >>> seen = []
        >>> live = Live({"mass_g": mass}, lambda mass_g: mass_g / 1000, seen.append)
        >>> mass.value = 750
        >>> seen
        [0.5, 0.75]
    """

    def __init__(
        self,
        controls: Mapping[str, Any],
        compute: Callable[..., Any],
        render: Callable[[Any], None],
        *,
        slow: bool = False,
        progress: ProgressBar | None = None,
        preview: Callable[..., None] = lambda **values: None,
        rest_s: float = PREVIEWED_S,
        mark_stale: Callable[[bool], None] = lambda stale: None,
        shown: Callable[[], Awaitable[None]] | None = None,
    ) -> None:
        self.preview, self.mark_stale, self.shown = preview, mark_stale, shown
        self.controls = dict(controls)
        self.compute, self.render, self.slow = compute, render, slow
        self.found_long, self.rest_s = False, rest_s
        self.result: Any = None
        self.problems: tuple[str, ...] = ()
        self._task: asyncio.Task[None] | None = None
        self._values_changed = self._held = False
        self._began_s = 0.0
        self._work: asyncio.Future[Any] | None = None
        self.message = W.HTML()
        self.progress = ProgressBar() if progress is None else progress
        self.progress.abandon = self.stop
        self.status = Panel(self.message, *([self.progress] if progress is None else []))
        for control in self.controls.values():
            control.observe(self._changed, names="value")
        self._run_first()

    def _changed(self, _: object) -> None:
        if self._held:
            return
        if not (self.slow or self.found_long):
            self.run_now()
            return
        self.mark_stale(True)
        try:
            self.preview(**self.values())
        except Exception as error:
            self._report(error)
        loop = running_loop()
        if loop is None:
            self.run_now()
            return
        self._values_changed = True
        if self._task is None or self._task.done():
            self._task = loop.create_task(self._run_in_background())

    @contextmanager
    def held(self) -> Iterator[None]:
        """While several controls are set at once: nothing runs, and at the end it runs once."""
        self._held = True
        try:
            yield
        finally:
            self._held = False
            self._changed(None)

    def values(self) -> dict[str, Any]:
        """The value of every control; of one for whole numbers an `int`."""
        return {
            name: int(control.value) if getattr(control, "whole", False) else control.value
            for name, control in self.controls.items()
        }

    def current(self) -> Any:
        """The result for the values as they stand; None where they cannot be computed."""
        return None if self.problems else self.result

    def run_now(self) -> None:
        """Compute and render from the values as they stand."""
        began = time.perf_counter()
        try:
            result = self.compute(**self.values())
        except Exception as error:
            self._report(error)
            return
        self.found_long = time.perf_counter() - began > SHOWN_AFTER_S
        self._show(result)

    def _run_first(self) -> None:
        """The first result, or, where it takes long, the page before it."""
        loop = running_loop()
        if loop is None:
            self.run_now()
            return
        work = self._submit()
        wait({work}, SHOWN_AFTER_S)
        if work.done():
            self._take(work)
        else:
            self.found_long = True
            self.mark_stale(True)
            self.progress.wait(first=True)
            self._task = loop.create_task(self._run_in_background(work))

    def _submit(self) -> Future[Any]:
        """Compute beside the page, with the values as they stand."""
        self._began_s = time.perf_counter()
        return BACKGROUND.submit(copy_context().run, partial(self.compute, **self.values()))

    async def _run_in_background(self, begun: Future[Any] | None = None) -> None:
        sys.setswitchinterval(THREAD_SWITCH_S)
        if begun is not None:
            if self.shown is not None:
                await self.shown()
            await self._wait_for(begun)
        while self._values_changed:
            self._values_changed = False
            await asyncio.sleep(self.rest_s)
            if not self._values_changed:
                await self._wait_for(self._submit())

    async def _wait_for(self, begun: Future[Any]) -> None:
        """Say that there is work once it is long, and show what comes of it."""
        self._work = work = asyncio.wrap_future(begun)
        left_s = self._began_s + SHOWN_AFTER_S - time.perf_counter()
        _, waiting = await asyncio.wait({work}, timeout=max(0.0, left_s))
        if waiting:
            self.progress.wait(first=self.result is None)
        await asyncio.wait({work})
        self.progress.hide()
        self._take(work)

    def _take(self, work: Future[Any] | asyncio.Future[Any]) -> None:
        """Show what came of work that has ended."""
        self.found_long = time.perf_counter() - self._began_s > SHOWN_AFTER_S
        if work.cancelled():
            self._show_problems((STOPPED,), "Not computed.")
            return
        try:
            result = work.result()
        except Exception as error:
            self._report(error)
            return
        self._show(result)

    def retire(self) -> None:
        """Show nothing any more, since another has taken its place."""
        self.render = self.mark_stale = lambda _: None
        self.stop()

    def stop(self) -> None:
        """Wait no longer for what is being computed; what was rendered last stays."""
        if self._work is not None:
            self._work.cancel()

    async def settled(self) -> None:
        """Wait until nothing is under way."""
        if self._task is not None:
            await self._task

    def _show(self, result: Any) -> None:
        self.mark_stale(self._values_changed)
        try:
            self.render(result)
        except Exception as error:
            self._report(error)
            return
        self.result = result
        self._show_problems(())

    def _report(self, error: Exception) -> None:
        if isinstance(error, InputError):
            self._show_problems(tuple(map(self._with_labels, error.lines)))
            return
        logger.error("a live figure failed", exc_info=error)
        self._show_problems(
            (
                f"There is an internal fault in the workbook ({type(error).__name__}); "
                "please report it with the values that are set here.",
            )
        )

    def _with_labels(self, sentence: str) -> str:
        """A sentence with the controls' labels in place of the computation's names for them."""
        for name, control in self.controls.items():
            if label := getattr(control, "label", ""):
                sentence = re.sub(rf"\b{name}\b", label, sentence) if "_" in name else sentence
        return sentence

    def _show_problems(self, problems: tuple[str, ...], what: str = "Cannot be computed.") -> None:
        self.problems = problems
        if problems:
            self.mark_stale(True)
        if not problems:
            self.message.value = ""
            return
        stays = (
            ""
            if self.result is None
            else " What is shown is still for the last values that worked."
        )
        lines = "".join(f"<li>{escape(with_words(p))}</li>" for p in problems)
        self.message.value = (
            f'<div class="wb-refusal" role="alert"><b>✕ {what}</b>{stays}<ul>{lines}</ul></div>'
        )
