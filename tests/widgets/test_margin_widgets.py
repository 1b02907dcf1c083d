"""The table of allowances, the budget's picture, the shares and the bar for long work."""

from __future__ import annotations

import asyncio
import re

import pytest

from workbook.sizing.budget_lines import STANDARD_LINES
from workbook.widgets.budget_picture import BudgetPicture, Piece
from workbook.widgets.job import Job
from workbook.widgets.share_chart import ShareChart, TwoShares
from workbook.widgets.three_ends import ThreeEnds


def test_a_line_typed_changes_value_once():
    table, seen = ThreeEnds(STANDARD_LINES), []
    table.observe(lambda change: seen.append(change["new"]), names="value")
    table.boxes["wind", "high"].value = "22,5"
    assert len(seen) == 1
    assert table.value[2].high == 22.5
    assert table.boxes["wind", "high"].value == "22.5"
    table.boxes["wind", "high"].value = "lots"
    assert len(seen) == 1
    assert "wind and gusts, high" in table.refusal.text
    table.boxes["wind", "high"].value = "20"
    assert table.refusal.text == ""


def test_rows_are_as_high_as_the_picture_at_either_size():
    table, picture = ThreeEnds(STANDARD_LINES), BudgetPicture()
    pieces = [Piece(30.0, 20.0)] * len(STANDARD_LINES)
    picture.update(35.0, 30.0, pieces, "min", "told")
    for big, height in ((False, 30.0), (True, 46.5)):
        table.set_big(big)
        picture.set_big(big)
        rows = {row.layout.height for row in table._rows.children}
        assert rows == {f"{height:g}px"}
        drawn = float(re.search(r'height="(\d+)"', picture.svg.value)[1])
        # one row more than the table's heading and lines: the key below
        assert drawn == pytest.approx(height * (len(STANDARD_LINES) + 2), abs=1)


def test_bars_of_the_picture_are_to_scale():
    picture = BudgetPicture()
    picture.update(40.0, 30.0, [Piece(36.0, 30.0), Piece(32.0, 20.0)], "min", "told")
    boxes = [
        (float(x), float(w), fill)
        for x, w, fill in re.findall(
            r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="10.0" rx="0" fill="(#\w+)"',
            picture.svg.value,
        )
    ]
    solid = [b for b in boxes if b[2] == "#2b37af"][:2]
    worst = [b for b in boxes if b[2] == "#7e1f0a"][:2]
    # 40 min of axis over 570 - 10 - 110 px: 11.25 px a minute
    assert [w for _, w, _ in solid] == pytest.approx([4 * 11.25] * 2, abs=0.2)
    assert [w for _, w, _ in worst] == pytest.approx([112.5] * 2, abs=0.2)
    assert solid[1][0] == pytest.approx(10 + 32 * 11.25, abs=0.2)
    assert "asked 30" in picture.svg.value
    assert ">4.0 and 10.0<" in picture.svg.value


def test_shares_in_order_with_their_marks():
    chart = ShareChart("spread")
    chart.show([TwoShares("a", 10.0, 9.0), TwoShares("b", 60.0, 55.0)], "b most")
    assert list(chart.names) == ["b", "a"]
    assert list(chart.alone.y) == ["a", "b"]
    assert list(chart.alone.x) == [9.0, 55.0]
    chart.show([], "nothing")
    assert len(chart.alone.x) == 0


def test_a_bar_only_for_long_work_and_the_cancel_is_heard():
    now = [0.0]
    job = Job(clock=lambda: now[0])
    with job.running("flights") as report:
        assert report(1, 10)
        assert job.bar.layout.display == "none"
        now[0] = 0.8
        assert report(4, 10)
        assert job.bar.layout.display == ""
        assert "flights: 4 of 10 (40 %)" in job.text.value
        job.cancel_button.click()
        assert report(5, 10) is False
    assert job.bar.layout.display == "none"
    assert job.text.value == ""
    with job.running("again") as report:
        assert report(1, 2), "a cancel is for one piece of work"


def test_work_in_a_thread_is_shown_by_the_loop():
    async def work():
        now = [0.0]
        job = Job(clock=lambda: now[0])

        def slow():
            with job.running("flights") as report:
                now[0] = 1.0
                report(1, 2)
                shown = job.bar.layout.display
            return shown

        first = await asyncio.to_thread(slow)
        await asyncio.sleep(0.01)
        return first, job.bar.value, job.bar.layout.display

    before, value, after = asyncio.run(work())
    assert value == 0.5
    assert after == "none"
    assert before in ("none", "")
