"""Long work shows a bar, and the cancel is heard; short work shows nothing."""

from __future__ import annotations

import asyncio

from workbook.widgets.progress_bar import ProgressBar


def test_a_bar_only_for_long_work_and_the_cancel_is_heard():
    now = [0.0]
    progress = ProgressBar(clock=lambda: now[0])
    with progress.running("flights") as report:
        assert report(1, 10)
        assert progress.bar.layout.display == "none"
        now[0] = 0.8
        assert report(4, 10)
        assert progress.bar.layout.display == ""
        assert "flights: 4 of 10 (40 %)" in progress.text.value
        progress.cancel_button.click()
        assert report(5, 10) is False
    assert progress.bar.layout.display == "none"
    assert progress.text.value == ""
    with progress.running("again") as report:
        assert report(1, 2), "a cancel is for one piece of work"


def test_work_in_a_thread_is_shown_by_the_loop():
    async def work():
        now = [0.0]
        progress = ProgressBar(clock=lambda: now[0])

        def slow():
            with progress.running("flights") as report:
                now[0] = 1.0
                report(1, 2)
                shown = progress.bar.layout.display
            return shown

        first = await asyncio.to_thread(slow)
        await asyncio.sleep(0.01)
        return first, progress.bar.value, progress.bar.layout.display

    before, value, after = asyncio.run(work())
    assert value == 0.5
    assert after == "none"
    assert before in ("none", "")
